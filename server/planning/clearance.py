"""The ground under a leg: how high it rises near the track, and whether the planned path runs into it. Advice; obstacles are not known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from server import units
from server.navigation import Position, points_along
from server.planning.log import ProfilePoint
from server.planning.profile import altitude_at
from server.radio import Ground

CORRIDOR_NM = 4.0
"""Ground this far to each side of track counts: the width 14 CFR 91.177 and 95.1 use for a route's obstacle margin."""
MARGIN_FT = 1000.0
"""Least height above that ground before the log warns: 14 CFR 91.177 outside mountains, used here as advice for VFR."""
AIRFIELD_NM = 3.0
"""Close to take-off and landing the path must come near the ground; no warning there."""
_STEP_NM = 0.05  # about one post of 3-second terrain
_SIDE_STEP_NM = 0.25


@dataclass(frozen=True, kw_only=True, slots=True)
class GroundUnderLeg:
    """Highest known ground within the corridor [ft], whether all of it is known, and where the path meets the ground (NM from the leg's
    start; None when it does not)."""

    highest_ft: float | None
    all_known: bool
    meets_ground_nm: float | None


def ground_under_leg(
    *, start: Position, end: Position, length_nm: float, start_nm: float, total_nm: float, profile: tuple[ProfilePoint, ...], ground: Ground
) -> GroundUnderLeg:
    """Look along the leg, and beside it, at the loaded terrain.

    ``start_nm`` is the distance of the leg's start from departure, ``total_nm`` the whole route. The corridor is offset in a plane tangent
    at each point: over 4 NM the error is a few metres.
    """
    distances_nm = np.linspace(0.0, length_nm, max(2, int(np.ceil(length_nm / _STEP_NM)) + 1))
    lat_deg, lon_deg = points_along(start, end, distances_nm)
    below_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)

    coarse = np.arange(0, len(distances_nm), max(1, int(_SIDE_STEP_NM / _STEP_NM)))
    offsets_nm = np.arange(-CORRIDOR_NM, CORRIDOR_NM + 1e-9, _SIDE_STEP_NM)
    side_lat, side_lon = _beside(lat_deg[coarse], lon_deg[coarse], offsets_nm)
    beside_m = ground.elevations_m(lat_deg=side_lat, lon_deg=side_lon)

    everything = np.concatenate((below_m, beside_m))
    known = everything[np.isfinite(everything)]
    highest_ft = float(units.feet_from_metres(known.max())) if known.size else None
    return GroundUnderLeg(
        highest_ft=highest_ft,
        all_known=known.size == everything.size,
        meets_ground_nm=_meets_ground_nm(distances_nm, below_m, start_nm, total_nm, profile),
    )


def _beside(lat_deg: np.ndarray, lon_deg: np.ndarray, offsets_nm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points left and right of a line, (n * m,): each point shifted at right angles by each offset."""
    metres_per_degree = 60.0 * units.METRES_PER_NAUTICAL_MILE
    north_m = np.gradient(lat_deg) * metres_per_degree if len(lat_deg) > 1 else np.array([1.0])
    lon_deg = np.unwrap(lon_deg, period=360.0)
    east_m = np.gradient(lon_deg) * metres_per_degree * np.cos(np.radians(lat_deg)) if len(lat_deg) > 1 else np.array([0.0])
    length = np.hypot(north_m, east_m)
    length[length == 0.0] = 1.0
    shift_lat = np.outer(-east_m / length, offsets_nm / 60.0)
    shift_lon = np.outer(north_m / length / np.maximum(np.cos(np.radians(lat_deg)), 1e-6), offsets_nm / 60.0)
    return np.clip(lat_deg[:, None] + shift_lat, -90.0, 90.0).ravel(), (lon_deg[:, None] + shift_lon).ravel()


def _meets_ground_nm(
    distances_nm: np.ndarray, below_m: np.ndarray, start_nm: float, total_nm: float, profile: tuple[ProfilePoint, ...]
) -> float | None:
    along_nm = start_nm + distances_nm
    planned_ft = np.array([altitude_at(profile, distance) for distance in along_nm])
    inside = (along_nm >= AIRFIELD_NM) & (along_nm <= total_nm - AIRFIELD_NM)
    with np.errstate(invalid="ignore"):
        hits = np.flatnonzero(inside & (units.feet_from_metres(below_m) >= planned_ft))
    return float(distances_nm[hits[0]]) if hits.size else None
