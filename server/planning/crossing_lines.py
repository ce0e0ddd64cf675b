"""A line of position that crosses the track at a place: what to tune, what it should read there, and how far it may mislead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from server.errors import OutOfRange
from server.navigation import difference_deg, fold_deg, magnetic_from_true_deg, slant_range_nm
from server.navigation.indicator import relative_bearing_deg
from server.navigation.position_lines import (
    GOOD_CUT_DEG,
    NDB_ERROR_DEG,
    VOR_ERROR_DEG,
    FixError,
    along_track_error_nm,
    dme_error_nm,
    dme_ground_error_nm,
    fix_error,
    radial_error_nm,
)
from server.navigation.radials import declination_used
from server.radio import Beacon, Cause, ComponentKind, ReceptionState
from server.radio.hearing import HeardAlong
from server.radio.limits import ALIGNMENT_DOUBT_DEG


class LineKind(StrEnum):
    RADIAL = "radial"
    BEARING = "bearing"
    DISTANCE = "distance"


@dataclass(frozen=True, kw_only=True, slots=True)
class CrossingLine:
    """One line across the track. Errors are kept to 95 times in a hundred (server/navigation/position_lines.py)."""

    kind: LineKind
    beacon: Beacon
    component: ComponentKind
    state: ReceptionState
    """Received or marginal; nothing else is offered."""
    causes: tuple[Cause, ...]
    """What makes it marginal."""
    margin_ft: float | None
    """How far one flies above the altitude from which the antenna is surely seen; None where not known, and for an NDB. [ft]"""
    distance_nm: float
    """To the part of the station, along the ground. [NM]"""
    radial_deg: float | None
    reference: str
    estimated: bool
    """For a radial: as the station counts it (M, T or G), estimated where its alignment is not published. [deg]"""
    dme_nm: float | None
    """For a distance: what the DME reads, slant, at the planned altitude. [NM]"""
    bearing_magnetic_deg: float | None
    relative_bearing_deg: float | None
    """For an NDB: the bearing to it, and where the pointer stands on the planned heading (None where that is not known). [deg]"""
    cut_deg: float
    """Angle between the line and the track, up to 90. [deg]"""
    error_nm: float
    """Across the line. [NM]"""
    along_track_error_nm: float
    differs_deg: float | None
    differs_nm: float | None
    """A reading that differs by more says that one is not there: degrees of a radial or bearing, NM of a DME."""
    rising: bool | None = None
    """For a distance: whether it grows along the track; a circle round a station crosses a track twice, once on each side of abeam."""
    fix: FixError | None = None
    """Of this line with the guiding radial; None where no VOR guides there."""

    @property
    def weak(self) -> bool:
        """Whether it cuts the track at less than is good."""
        return self.cut_deg < GOOD_CUT_DEG

    @property
    def marginal(self) -> bool:
        return self.state is ReceptionState.MARGINAL

    @property
    def rank(self) -> tuple[int, float]:
        """Surely received lines with a good cut first, then by the error along the track."""
        return int(self.weak) + int(self.marginal), self.along_track_error_nm


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """How a station lies to a place: the true bearing to it from there, and the cut of its line with the track. [deg]"""

    bearing_true_deg: float
    cut_deg: float


def cut_of_radial_deg(*, bearing_true_deg, track_true_deg):
    """Return the angle between the track and a station's radial from its bearing; the circle of its DME cuts at 90 less this. [deg]"""
    from_track_deg = np.abs(difference_deg(bearing_true_deg, track_true_deg))
    return np.minimum(from_track_deg, 180.0 - from_track_deg)


def line_at(
    heard: HeardAlong,
    k: int,
    seen: Seen,
    *,
    altitude_ft: float,
    variation_deg: float,
    heading_magnetic_deg: float | None,
    estimated_declination_deg: float,
    track_true_deg: float,
) -> CrossingLine | None:
    """Make the line that a heard part gives at the k-th of the places it was asked for.

    None where it has no radials (a grid station without its grid angle) or no slant distance (an antenna of unknown altitude).
    """
    ground_nm, component = float(heard.distance_nm[k]), heard.component
    radial_deg, reference, estimated = None, "M", False
    dme_nm = bearing_deg = pointer_deg = differs_deg = differs_nm = None
    if component is ComponentKind.DISTANCE:
        if heard.antenna_altitude_ft is None:
            return None
        kind = LineKind.DISTANCE
        dme_nm = slant_range_nm(ground_nm, altitude_ft - heard.antenna_altitude_ft)
        differs_nm, error_nm = dme_error_nm(dme_nm), dme_ground_error_nm(ground_nm=ground_nm, indicated_nm=dme_nm)
    elif component is ComponentKind.BEARING:
        kind = LineKind.BEARING
        bearing_deg = magnetic_from_true_deg(seen.bearing_true_deg, variation_deg)
        if heading_magnetic_deg is not None:
            pointer_deg = relative_bearing_deg(bearing_deg=bearing_deg, heading_deg=heading_magnetic_deg)
        differs_deg, error_nm = NDB_ERROR_DEG, radial_error_nm(ground_nm, NDB_ERROR_DEG)
    else:
        try:
            used = declination_used(heard.beacon.alignment, estimated_declination_deg)
        except OutOfRange:
            return None
        kind, reference, estimated = LineKind.RADIAL, used.reference, used.estimated
        radial_deg = fold_deg(float(heard.bearing_true_deg[k]) - used.declination_deg)
        differs_deg = math.hypot(VOR_ERROR_DEG, max(ALIGNMENT_DOUBT_DEG, used.contradicted_by_deg)) if estimated else VOR_ERROR_DEG
        error_nm = radial_error_nm(ground_nm, differs_deg)
    return CrossingLine(
        kind=kind,
        beacon=heard.beacon,
        component=component,
        state=heard.states[k],
        causes=heard.causes[k],
        margin_ft=heard.margins_ft[k],
        distance_nm=ground_nm,
        radial_deg=radial_deg,
        reference=reference,
        estimated=estimated,
        dme_nm=dme_nm,
        bearing_magnetic_deg=bearing_deg,
        relative_bearing_deg=pointer_deg,
        cut_deg=seen.cut_deg,
        error_nm=error_nm,
        along_track_error_nm=along_track_error_nm(error_nm, seen.cut_deg),
        differs_deg=differs_deg,
        differs_nm=differs_nm,
        rising=None if dme_nm is None else bool(abs(difference_deg(seen.bearing_true_deg, track_true_deg)) > 90.0),
    )


def fix_with_guide(line: CrossingLine, guide_distance_nm: float) -> FixError:
    """The error of the fix that a line makes with the guiding radial, which runs along the track."""
    return fix_error(line_a_nm=radial_error_nm(guide_distance_nm), line_b_nm=line.error_nm, cut_deg=line.cut_deg)
