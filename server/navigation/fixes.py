"""Points made by beacons: radial and distance, two radials; and what height does to a DME distance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.errors import InputProblem, OutOfRange
from server.navigation.bearings import difference_deg
from server.navigation.geodesy import NEAR_M, azimuths_and_distance, destination, travel
from server.navigation.position import Position
from server.navigation.validity import checked, plain
from server.units import metres_from_feet, metres_from_nautical_miles, nautical_miles_from_metres

FARTHEST_FIX_NM = 250.0
SMALLEST_CUT_DEG = 2.0
_FARTHEST_FIX_M = metres_from_nautical_miles(FARTHEST_FIX_NM)
_PARALLEL = math.sin(math.radians(SMALLEST_CUT_DEG / 2.0))
_CLOSED_M = 1e-4
_MOST_STEPS = 30


@dataclass(frozen=True, kw_only=True, slots=True)
class TwoRadialFix:
    """Where two radials cross, the angle of the crossing (0 to 90) [deg], and how far it is from each station [NM]."""

    position: Position
    cut_deg: float
    distance_a_nm: float
    distance_b_nm: float


def radial_distance_fix(station: Position, *, radial_true_deg: float, distance_nm: float) -> Position:
    """Return the point on a station's radial, given as a true bearing at the station, at a distance along the ground. [NM]"""
    if not 0.0 <= distance_nm <= FARTHEST_FIX_NM:
        raise InputProblem(
            f"A fix {distance_nm:g} NM from its station cannot be used: give a distance from 0 to {FARTHEST_FIX_NM:.0f} NM.",
            code="fix-too-far",
            place="distance",
        )
    return destination(station, bearing_true_deg=radial_true_deg, distance_nm=distance_nm)


def two_radial_fix(station_a: Position, *, bearing_a_true_deg: float, station_b: Position, bearing_b_true_deg: float) -> TwoRadialFix:
    """Find the point where a radial of station a crosses a radial of station b, on the ellipsoid.

    Parameters
    ----------
    station_a, station_b : Position
        The stations.
    bearing_a_true_deg, bearing_b_true_deg : float
        True bearings of the radials, each at its own station. [deg]

    Raises
    ------
    InputProblem
        The stations stand in one place, the radials are (nearly) parallel, or they do not cross ahead of both stations within 250 NM.

    Notes
    -----
    The plane triangle gives the first guess. Each step then takes the two points reached on the radials, and closes the gap between them in
    the plane that touches the earth there; the gap shrinks quadratically.
    """
    to_b_deg, beyond_b_deg, apart_m = azimuths_and_distance(station_a, station_b)
    if apart_m < NEAR_M:
        raise InputProblem(
            "Both radials come from one place, so they cross only there. Choose two beacons that stand apart.",
            code="fix-stations-coincide",
            place="second beacon",
        )
    angle_a = math.radians(difference_deg(bearing_a_true_deg, to_b_deg))
    angle_b = math.radians(difference_deg(bearing_b_true_deg, beyond_b_deg))
    opening = math.sin(angle_b - angle_a)
    if abs(opening) < _PARALLEL:
        raise _nearly_parallel()
    along_a_m = apart_m * math.sin(angle_b) / opening
    along_b_m = apart_m * math.sin(angle_a) / opening
    for _ in range(_MOST_STEPS):
        if max(abs(along_a_m), abs(along_b_m)) > 2.0 * _FARTHEST_FIX_M:
            raise _not_ahead()
        at_a, onward_a_deg = travel(station_a, bearing_a_true_deg, along_a_m)
        at_b, onward_b_deg = travel(station_b, bearing_b_true_deg, along_b_m)
        gap_deg, _, gap_m = azimuths_and_distance(at_a, at_b)
        cut_rad = math.radians(difference_deg(onward_b_deg, onward_a_deg))
        if abs(math.sin(cut_rad)) < _PARALLEL:
            raise _nearly_parallel()
        if gap_m < _CLOSED_M:
            return _accepted(at_a, math.degrees(math.asin(min(1.0, abs(math.sin(cut_rad))))), along_a_m, along_b_m)
        along_a_m += gap_m * math.sin(math.radians(onward_b_deg - gap_deg)) / math.sin(cut_rad)
        along_b_m += gap_m * math.sin(math.radians(onward_a_deg - gap_deg)) / math.sin(cut_rad)
    raise _not_ahead()


def slant_range_nm(ground_nm, height_ft):
    """Return what a DME reads: the straight distance to a station ``ground_nm`` away and ``height_ft`` below. [NM]"""
    return plain(np.hypot(ground_nm, nautical_miles_from_metres(metres_from_feet(height_ft))))


def ground_range_nm(slant_nm, height_ft):
    """Return the distance along the ground for a DME reading at a height above the station. [NM]

    Raises
    ------
    OutOfRange
        Scalars only: the reading is less than the height, which no position gives. Arrays hold NaN there.
    """
    height_nm = nautical_miles_from_metres(metres_from_feet(np.asarray(height_ft, dtype=float)))
    squared = np.square(slant_nm) - np.square(height_nm)
    return checked(
        np.sqrt(np.maximum(squared, 0.0)),
        valid=squared >= 0.0,
        error=lambda: OutOfRange(
            f"A DME cannot read {slant_nm:g} NM at {height_ft:g} ft above the station: overhead it reads {float(height_nm):.1f} NM.",
            code="slant-below-height",
        ),
    )


def cone_radius_nm(height_ft, half_angle_deg: float = 50.0):
    """Return the radius of the cone of confusion at a height above the station. [NM]

    References
    ----------
    Half-angle from the vertical 50 deg for a VOR, 40 deg for an NDB: ICAO Doc 8168 Vol II (from memory).
    """
    return nautical_miles_from_metres(metres_from_feet(height_ft)) * math.tan(math.radians(half_angle_deg))


def _accepted(fix: Position, cut_deg: float, along_a_m: float, along_b_m: float) -> TwoRadialFix:
    if cut_deg < SMALLEST_CUT_DEG:
        raise _nearly_parallel()
    if not (NEAR_M <= along_a_m <= _FARTHEST_FIX_M and NEAR_M <= along_b_m <= _FARTHEST_FIX_M):
        raise _not_ahead()
    return TwoRadialFix(
        position=fix,
        cut_deg=cut_deg,
        distance_a_nm=nautical_miles_from_metres(along_a_m),
        distance_b_nm=nautical_miles_from_metres(along_b_m),
    )


def _nearly_parallel() -> InputProblem:
    return InputProblem(
        f"The two radials are parallel or nearly so: they must cross at {SMALLEST_CUT_DEG:g} degrees or more. "
        "Choose another beacon or radial.",
        code="fix-radials-parallel",
        place="second radial",
    )


def _not_ahead() -> InputProblem:
    return InputProblem(
        f"The two radials do not cross ahead of both beacons within {FARTHEST_FIX_NM:.0f} NM. "
        "Is one of them the reciprocal of the right one?",
        code="fix-radials-do-not-cross",
        place="second radial",
    )
