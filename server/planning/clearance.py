"""The ground under a leg: how high it rises near the track, and whether the planned path runs into it. Advice; obstacles are not known."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server import units
from server.navigation import Position, points_along
from server.planning.log_legs import ProfilePoint
from server.radio import Ground

RELIEF_OVER_NM = 10.0
"""How far along the leg the ground's rise and fall is counted together: ICAO Doc 8168's measure of mountains (from memory)."""
MARGIN_FT = 1000.0
"""Least height above that ground before the log warns: 14 CFR 91.177 outside mountains, used here as advice for VFR."""
MINIMUM_HEIGHT_FT = 500.0
"""Least height away from built-up areas: above ground or water and whatever stands within 500 ft, SERA.5005(f)(2); above the surface, but
over open water and sparsely populated land 500 ft from persons, vessels and structures, 14 CFR 91.119(c)."""
AIRFIELD_NM = 3.0
"""Close to take-off and landing the path must come near the ground; no warning there."""
_UNDER_NM = units.nautical_miles_from_metres(units.metres_from_feet(500.0))
_STEP_NM = 0.05  # along and across: the posts of 3-second terrain stand so far apart, so no summit is stepped over


@dataclass(frozen=True, kw_only=True, slots=True)
class GroundUnderLeg:
    """Highest known ground within the corridor [ft], by how much the known ground there rises and falls within RELIEF_OVER_NM where that is
    most [ft], whether all of it is known, where the planned path first comes within the margin of ground in the corridor, and where it
    meets the ground under it (NM from the leg's start; None when it does not)."""

    highest_ft: float | None
    relief_ft: float | None
    all_known: bool
    close_nm: float | None
    meets_ground_nm: float | None
    highest_under_ft: float | None
    """Highest known ground within 500 ft of the track. [ft]"""
    under_minimum_nm: float | None
    """Where the planned path first comes lower than MINIMUM_HEIGHT_FT above that ground; None where it does not. [NM from leg start]"""


def ground_under_leg(
    *,
    start: Position,
    end: Position,
    length_nm: float,
    start_nm: float,
    total_nm: float,
    profile: tuple[ProfilePoint, ...],
    ground: Ground,
    corridor_nm: float,
) -> GroundUnderLeg:
    """Look along the leg, and ``corridor_nm`` to each side of it, at the loaded terrain.

    ``start_nm`` is the distance of the leg's start from departure, ``total_nm`` the whole route.
    """
    steps_aside = max(0, round(corridor_nm / _STEP_NM))
    distances_nm = np.linspace(0.0, length_nm, max(2, int(np.ceil(length_nm / _STEP_NM)) + 1))
    lat_deg, lon_deg = _corridor(*points_along(start, end, distances_nm), steps_aside)
    elevations_ft = units.feet_from_metres(ground.elevations_m(lat_deg=lat_deg.ravel(), lon_deg=lon_deg.ravel())).reshape(lat_deg.shape)
    known = elevations_ft[np.isfinite(elevations_ft)]

    along_nm = start_nm + distances_nm
    planned_ft = np.interp(along_nm, [point.distance_nm for point in profile], [point.altitude_ft for point in profile])
    en_route = (along_nm >= AIRFIELD_NM) & (along_nm <= total_nm - AIRFIELD_NM)
    # unknown ground is no hit: a note of its own tells it
    close = np.flatnonzero(en_route & (elevations_ft > planned_ft[:, None] - MARGIN_FT).any(axis=1))
    hits = np.flatnonzero(en_route & (elevations_ft[:, steps_aside] >= planned_ft))
    beside = min(steps_aside, math.ceil(_UNDER_NM / _STEP_NM))
    under_ft = elevations_ft[:, steps_aside - beside : steps_aside + beside + 1]
    known_under = under_ft[np.isfinite(under_ft)]
    too_low = np.flatnonzero(en_route & (under_ft > planned_ft[:, None] - MINIMUM_HEIGHT_FT).any(axis=1))
    return GroundUnderLeg(
        highest_ft=float(known.max()) if known.size else None,
        relief_ft=_relief_ft(elevations_ft),
        all_known=known.size == elevations_ft.size,
        close_nm=float(distances_nm[close[0]]) if close.size else None,
        meets_ground_nm=float(distances_nm[hits[0]]) if hits.size else None,
        highest_under_ft=float(known_under.max()) if known_under.size else None,
        under_minimum_nm=float(distances_nm[too_low[0]]) if too_low.size else None,
    )


def _relief_ft(elevations_ft: np.ndarray) -> float | None:
    """By how much known ground rises and falls within RELIEF_OVER_NM along the leg, where that is most; None where none is known. [ft]"""
    if not np.isfinite(elevations_ft).any():
        return None
    highest_ft, lowest_ft = np.fmax.reduce(elevations_ft, axis=1), np.fmin.reduce(elevations_ft, axis=1)
    rows = min(highest_ft.size, round(RELIEF_OVER_NM / _STEP_NM) + 1)
    highest_ft, lowest_ft = np.nan_to_num(highest_ft, nan=-np.inf), np.nan_to_num(lowest_ft, nan=np.inf)
    windows = np.lib.stride_tricks.sliding_window_view
    return float((windows(highest_ft, rows).max(axis=1) - windows(lowest_ft, rows).min(axis=1)).max())


def _corridor(lat_deg: np.ndarray, lon_deg: np.ndarray, steps_aside: int) -> tuple[np.ndarray, np.ndarray]:
    """Shift each point of a line at right angles to both sides: (n,) -> (n, m), the line itself in the middle column. [deg]

    The shift is made in a plane tangent at each point: over 4 NM the error is a few metres. Longitudes may run beyond 180.
    """
    parallel = np.maximum(np.cos(np.radians(lat_deg)), 1e-6)  # length of a degree of longitude against one of latitude
    north, east = np.gradient(lat_deg), np.gradient(np.unwrap(lon_deg, period=360.0)) * parallel
    length = np.hypot(north, east)
    length[length == 0.0] = 1.0  # a leg of no length has no sides
    aside_deg = np.arange(-steps_aside, steps_aside + 1) * _STEP_NM / 60.0
    shifted_lat = lat_deg[:, None] - np.outer(east / length, aside_deg)
    shifted_lon = lon_deg[:, None] + np.outer(north / length / parallel, aside_deg)
    return np.clip(shifted_lat, -90.0, 90.0), shifted_lon
