"""Geodesics on the WGS 84 ellipsoid: distance, direction, points along a leg.

Here latitude, longitude turns into the longitude, latitude order of pyproj, and an azimuth into a bearing; else only in
projection.py (charts) and in server/terrain (files).
Straight means the geodesic everywhere; nothing here is spherical, save the step that finds the foot of a perpendicular.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from pyproj import Geod

from server.errors import OutOfRange
from server.navigation.bearings import difference_deg, fold_deg
from server.navigation.position import Position
from server.units import metres_from_nautical_miles, nautical_miles_from_metres

NEAR_M = 10.0
"""Below this distance two points give no direction: the coordinates of beacons and airfields are not known any better."""

MEAN_EARTH_RADIUS_M = 6_371_008.8
"""Mean radius R1 of the WGS 84 ellipsoid (IUGG), for the few answers that a sphere gives well enough."""

_WGS84 = Geod(ellps="WGS84")
_NEAR_POLE_DEG = 90.0 - NEAR_M / 111_694.0  # 10 m of latitude at the pole, WGS 84


@dataclass(frozen=True, kw_only=True, slots=True)
class Geodesic:
    """The shortest line between two points. A direction is None where there is none: points nearer than 10 m, or an end at a pole."""

    distance_m: float
    initial_true_deg: float | None
    final_true_deg: float | None
    """Direction of flight on arrival, not the way back."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Track:
    """Length of a leg [NM] and the true direction of flight [deg] at its start, middle and end; None where there is none."""

    distance_nm: float
    initial_true_deg: float | None
    middle_true_deg: float | None
    final_true_deg: float | None


class OffsetFromLeg(NamedTuple):
    """Where a point lies beside a leg: distance along it to the foot of the perpendicular, and off it, right positive. [NM]"""

    along_nm: float
    off_nm: float


def distance_nm(a: Position, b: Position) -> float:
    """Return the geodesic distance between two points. [NM]"""
    return nautical_miles_from_metres(inverse(a, b).distance_m)


def inverse(a: Position, b: Position) -> Geodesic:
    """Find the geodesic from a to b: its length and the directions of flight at both ends.

    References
    ----------
    C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013), doi:10.1007/s00190-012-0578-z, as built into PROJ.
    Checked: tests/reference/test_geodesics.py.
    """
    initial, final, distance_m = azimuths_and_distance(a, b)
    near = distance_m < NEAR_M
    return Geodesic(
        distance_m=distance_m,
        initial_true_deg=None if near or _at_pole(a) else fold_deg(initial),
        final_true_deg=None if near or _at_pole(b) else fold_deg(final),
    )


def track(a: Position, b: Position) -> Track:
    """Return the length of the leg from a to b and the true direction of flight at its start, middle and end.

    The direction at the middle is what a pilot measures on a chart, and what the heading is computed from.
    """
    line = inverse(a, b)
    middle_true_deg = None
    if line.distance_m >= NEAR_M:
        middle = position_along(a, b, nautical_miles_from_metres(line.distance_m) / 2.0)
        middle_true_deg = inverse(middle, b).initial_true_deg
    return Track(
        distance_nm=nautical_miles_from_metres(line.distance_m),
        initial_true_deg=line.initial_true_deg,
        middle_true_deg=middle_true_deg,
        final_true_deg=line.final_true_deg,
    )


def destination(start: Position, *, bearing_true_deg: float, distance_nm: float) -> Position:
    """Return the point reached from ``start`` on a true bearing [deg] after a distance [NM]."""
    return travel(start, bearing_true_deg, metres_from_nautical_miles(distance_nm))[0]


def destinations(start: Position, *, bearing_true_deg, distance_m) -> tuple[np.ndarray, np.ndarray]:
    """Return latitudes and longitudes reached from ``start`` on true bearings [deg] after distances [m]; NaN where one of them is NaN.

    Shapes (n,) in and out; longitudes in -180 <= lon <= 180.
    """
    distance_m = np.asarray(distance_m, dtype=float)
    same = np.ones_like(distance_m)
    lon_deg, lat_deg, _ = _WGS84.fwd(start.lon_deg * same, start.lat_deg * same, bearing_true_deg * same, distance_m)
    known = np.isfinite(bearing_true_deg * distance_m)
    return np.where(known, lat_deg, np.nan), np.where(known, lon_deg, np.nan)


def points_along(a: Position, b: Position, distances_nm) -> tuple[np.ndarray, np.ndarray]:
    """Return latitudes and longitudes of points on the geodesic from a to b.

    Parameters
    ----------
    a, b : Position
        Ends of the leg.
    distances_nm : array (n,)
        Distances from a; they may lie before a (negative) or beyond b. [NM]

    Returns
    -------
    (lat_deg, lon_deg) : arrays (n,)
        Longitudes in -180 <= lon < 180. [deg]

    Raises
    ------
    OutOfRange
        The ends are nearer than 10 m and a distance lies outside them: there is no direction to follow.
    """
    distances_m = metres_from_nautical_miles(np.atleast_1d(np.asarray(distances_nm, dtype=float)))
    azimuth, _, length_m = azimuths_and_distance(a, b)
    if length_m < NEAR_M and distances_m.size and (distances_m.min() < -NEAR_M or distances_m.max() > NEAR_M):
        raise OutOfRange(
            "The two ends of the leg are less than 10 m apart, so it has no direction. Remove one of them.", code="no-direction"
        )
    same = np.ones_like(distances_m)
    lon_deg, lat_deg, _ = _WGS84.fwd(a.lon_deg * same, a.lat_deg * same, azimuth * same, distances_m)
    return np.asarray(lat_deg), np.where(np.asarray(lon_deg) >= 180.0, -180.0, lon_deg)


def position_along(a: Position, b: Position, distance_nm: float) -> Position:
    """Return the point on the geodesic from a to b at a distance from a. [NM]"""
    lat_deg, lon_deg = points_along(a, b, [distance_nm])
    return Position(lat_deg=float(lat_deg[0]), lon_deg=float(lon_deg[0]))


def bearings_and_distances(origin: Position, lat_deg, lon_deg) -> tuple[np.ndarray, np.ndarray]:
    """Return true bearings at ``origin`` [deg] and distances [NM] to many points.

    Bearings are NaN for points nearer than 10 m, and everywhere when the origin is a pole. Shapes (n,) in and out.
    """
    lat_deg = np.atleast_1d(np.asarray(lat_deg, dtype=float))
    lon_deg = np.atleast_1d(np.asarray(lon_deg, dtype=float))
    same = np.ones_like(lat_deg)
    azimuth, _, distance_m = _WGS84.inv(origin.lon_deg * same, origin.lat_deg * same, lon_deg, lat_deg)
    distance_m = np.asarray(distance_m)
    without_direction = (distance_m < NEAR_M) | _at_pole(origin)
    return np.where(without_direction, np.nan, fold_deg(np.asarray(azimuth))), nautical_miles_from_metres(distance_m)


def distance_and_offset_from_leg(a: Position, b: Position, p: Position) -> OffsetFromLeg:
    """Find where a point lies beside a leg: how far along, and how far off (right of the direction of flight positive).

    Along is negative before a, and more than the leg's length beyond b. A leg shorter than 10 m counts as its start: along 0, and the
    distance off has no side and is positive.

    Notes
    -----
    The foot of the perpendicular is found by steps along the ellipsoid's geodesic; each step solves the right-angled spherical triangle
    tan(step) = tan(distance) cos(angle). It holds for points less than a quarter of the globe from the leg.
    """
    azimuth, _, length_m = azimuths_and_distance(a, b)
    if length_m < NEAR_M:
        return OffsetFromLeg(0.0, distance_nm(a, p))
    along_m = 0.0
    for _ in range(20):
        foot, onward = travel(a, azimuth, along_m)
        bearing, _, off_m = azimuths_and_distance(foot, p)
        angle = math.radians(difference_deg(bearing, onward))
        arc = off_m / MEAN_EARTH_RADIUS_M
        step_m = MEAN_EARTH_RADIUS_M * math.atan2(math.sin(arc) * math.cos(angle), math.cos(arc))
        along_m += step_m
        if abs(step_m) < 1e-4:
            side = math.copysign(1.0, math.sin(angle)) if off_m > 0.0 else 1.0
            return OffsetFromLeg(nautical_miles_from_metres(along_m), side * nautical_miles_from_metres(off_m))
    raise OutOfRange(
        "The point lies about a quarter of the globe from the leg, where no distance along it can be told.", code="too-far-from-leg"
    )


def azimuths_and_distance(a: Position, b: Position) -> tuple[float, float, float]:
    """Return azimuth at a, azimuth of flight at b [deg, -180 to 180] and distance [m], also where an azimuth means nothing."""
    initial, final, distance_m = _WGS84.inv(a.lon_deg, a.lat_deg, b.lon_deg, b.lat_deg, return_back_azimuth=False)
    return initial, final, distance_m


def travel(start: Position, azimuth_deg: float, distance_m: float) -> tuple[Position, float]:
    """Return the point reached and the azimuth of flight there; a negative distance goes backwards."""
    lon_deg, lat_deg, onward = _WGS84.fwd(start.lon_deg, start.lat_deg, azimuth_deg, distance_m, return_back_azimuth=False)
    return Position(lat_deg=lat_deg, lon_deg=lon_deg), onward


def _at_pole(position: Position) -> bool:
    return abs(position.lat_deg) > _NEAR_POLE_DEG
