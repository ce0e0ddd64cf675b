"""The radials of a station.

A radial belongs to its station: it is the true bearing at the station less the station's own alignment, never less the magnetic model.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import OutOfRange
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.bearings import magnetic_from_true_deg, true_from_magnetic_deg
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


_REFERENCE = {AlignmentKind.MAGNETIC: "M", AlignmentKind.TRUE: "T", AlignmentKind.GRID: "G"}


def declination_used(alignment: Alignment, estimated_declination_deg: float | None) -> Declination:
    """Return the declination to count a station's radials from.

    Parameters
    ----------
    alignment : Alignment
        The station's own.
    estimated_declination_deg : float or None
        Variation by the magnetic model at the station, used only where the alignment is not known. [deg]

    Raises
    ------
    OutOfRange
        The alignment is not known and no estimate is given; or a grid station has no grid angle, which the magnetic model cannot tell.
    """
    declination_deg = alignment.declination_deg
    if alignment.kind is AlignmentKind.TRUE and declination_deg is None:
        declination_deg = 0.0
    if alignment.kind in _REFERENCE and declination_deg is not None:
        return Declination(declination_deg=declination_deg, reference=_REFERENCE[alignment.kind], estimated=False)
    if alignment.kind is AlignmentKind.GRID or estimated_declination_deg is None:
        raise OutOfRange(
            "The station's alignment is not known, so it has no radials. Enter the declination printed for the station.",
            code="alignment-unknown",
        )
    return Declination(declination_deg=estimated_declination_deg, reference="M", estimated=True)


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
