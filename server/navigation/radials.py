"""The radials of a station.

A radial belongs to its station: it is the true bearing at the station less the station's own alignment, never less the magnetic model.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import OutOfRange
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.bearings import difference_deg, magnetic_from_true_deg, true_from_magnetic_deg
from server.navigation.geodesy import inverse
from server.navigation.position import Position


@dataclass(frozen=True, kw_only=True, slots=True)
class Radial:
    """A radial as the station reads it. [deg]

    ``reference`` is M, T or G; ``estimated`` when the station's alignment is not known and the magnetic model stood in for it.
    """

    value_deg: float
    reference: str
    estimated: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Declination:
    """What a station's radials are counted from: true bearing of its zero radial, east positive. [deg]"""

    declination_deg: float
    reference: str
    estimated: bool
    contradicted_by_deg: float = 0.0
    """How far the published alignment is from the variation at the station, where that is too much to be true. [deg]"""


CONTRADICTION_DEG = 8.0
"""A magnetic alignment farther than this from today's variation is wrong, or not magnetic. In the FAA's table of January 2026 the farthest
of 984 stations, some last turned in 1965, is 7.7 degrees off."""

_REFERENCE = {AlignmentKind.MAGNETIC: "M", AlignmentKind.TRUE: "T", AlignmentKind.GRID: "G"}


def declination_used(alignment: Alignment, estimated_declination_deg: float | None) -> Declination:
    """Return the declination to count a station's radials from.

    Parameters
    ----------
    alignment : Alignment
        The station's own.
    estimated_declination_deg : float or None
        Variation by the magnetic model at the station. It stands in where the alignment is not known, and where a magnetic alignment
        contradicts it, the radials are marked as estimated. [deg]

    Raises
    ------
    OutOfRange
        The alignment is not known and no estimate is given; or a grid station has no grid angle, which the magnetic model cannot tell.
    """
    declination_deg = alignment.declination_deg
    if alignment.kind is AlignmentKind.TRUE and declination_deg is None:
        declination_deg = 0.0
    if alignment.kind in _REFERENCE and declination_deg is not None:
        apart_deg = contradiction_deg(alignment, estimated_declination_deg)
        return Declination(
            declination_deg=declination_deg,
            reference=_REFERENCE[alignment.kind],
            estimated=apart_deg is not None,
            contradicted_by_deg=apart_deg or 0.0,
        )
    if alignment.kind is AlignmentKind.GRID or estimated_declination_deg is None:
        raise OutOfRange(
            "The station's alignment is not known, so it has no radials. Enter the declination printed for the station.",
            code="alignment-unknown",
        )
    return Declination(declination_deg=estimated_declination_deg, reference="M", estimated=True)


def contradiction_deg(alignment: Alignment, variation_deg: float | None) -> float | None:
    """Return how far a magnetic alignment is from the variation at the station where that is too much to be true, else None. [deg]"""
    if alignment.kind is not AlignmentKind.MAGNETIC or alignment.declination_deg is None or variation_deg is None:
        return None
    apart_deg = abs(difference_deg(alignment.declination_deg, variation_deg))
    return apart_deg if apart_deg > CONTRADICTION_DEG else None


def radial_from(station: Position, alignment: Alignment, point: Position, *, estimated_declination_deg: float | None) -> Radial | None:
    """Return the radial of a station that passes over a point, or None when the point is nearer than 10 m (overhead)."""
    bearing_true_deg = inverse(station, point).initial_true_deg
    if bearing_true_deg is None:
        return None
    used = declination_used(alignment, estimated_declination_deg)
    return Radial(
        value_deg=magnetic_from_true_deg(bearing_true_deg, used.declination_deg),
        reference=used.reference,
        estimated=used.estimated,
    )


def true_bearing_of_radial(radial_deg: float, alignment: Alignment, *, estimated_declination_deg: float | None) -> float:
    """Return the true bearing at the station along which a radial runs. [deg]"""
    return true_from_magnetic_deg(radial_deg, declination_used(alignment, estimated_declination_deg).declination_deg)
