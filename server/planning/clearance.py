"""The ground under a leg: how high it rises near the track, and whether the planned path runs into it. Advice; obstacles are not known.

Every post of the corridor counts, its ends round: past a turning point the heading is held on for a while, and the outside of the turn is
flown over. The corridor is looked at in short pieces, so that no leg takes more memory than another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from server import units
from server.navigation import Position, points_along
from server.planning.corridor import beside_piece
from server.planning.log_legs import ProfilePoint
from server.radio import Ground

MARGIN_FT = 1000.0
"""Least height above that ground before the log warns: 14 CFR 91.177 outside mountains, used here as advice for VFR."""
MINIMUM_HEIGHT_FT = 500.0
"""Least height away from built-up areas: above ground or water and whatever stands within 500 ft, SERA.5005(f)(2); above the surface, but
over open water and sparsely populated land 500 ft from persons, vessels and structures, 14 CFR 91.119(c)."""
AIRFIELD_NM = 3.0
"""Close to take-off and landing the path must come near the ground; no warning there."""
AIRFIELD_GROUND_FT = 300.0
"""Ground no more than this above an airfield belongs to it: less than the margin over it, in the climb out or the descent in, is simply the
take-off or the landing. Higher ground is warned of."""
PIECE_NM = 5.0
"""Length of the pieces; at 80 degrees of latitude the geodesic leaves the straight line of a piece by less than 20 m."""
_UNDER_NM = units.nautical_miles_from_metres(units.metres_from_feet(500.0))
_STEP_NM = 0.02  # between the places of the track itself


@dataclass(frozen=True, kw_only=True, slots=True)
class GroundUnderLeg:
    """Highest known ground within the corridor [ft], by how much the known ground round it rises and falls within RELIEF_OVER_NM where that
    is most [ft], whether all of it is known, where the planned path first comes within the margin of ground in the corridor, and where it
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
    along_nm: tuple[float, ...] = ()
    """Where the pieces of the leg begin, and its end. [NM from leg start]"""
    highest_along_ft: tuple[float | None, ...] = ()
    """Highest known ground of the corridor beside each piece; None where none is known. [ft]"""

    @property
    def lowest_beside_ft(self) -> float | None:
        """Highest ground of the piece where that is lowest: there the leg is highest above its ground. None where any is unknown. [ft]"""
        known = [highest_ft for highest_ft in self.highest_along_ft if highest_ft is not None]
        return min(known) if known and len(known) == len(self.highest_along_ft) else None


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
    airfields_ft: tuple[float | None, float | None] = (None, None),
) -> GroundUnderLeg:
    """Look along the leg, and ``corridor_nm`` to each side of it and round its ends, at the loaded terrain.

    ``start_nm`` is the distance of the leg's start from departure, ``total_nm`` the whole route. ``airfields_ft``: elevations of departure
    and destination.
    """
    path = _Path(start_nm=start_nm, total_nm=total_nm, profile=profile, airfields_ft=airfields_ft)
    edges_nm = np.linspace(0.0, length_nm, max(1, math.ceil(length_nm / PIECE_NM)) + 1)
    highest: list[float | None] = []
    under: list[float | None] = []
    relief: list[float | None] = []
    close: list[float | None] = []
    low: list[float | None] = []
    known: list[bool] = []
    for from_nm, to_nm in pairwise(edges_nm):
        seen = beside_piece(start, end, float(from_nm), float(to_nm), corridor_nm, ground)  # type: ignore[arg-type]  # a ground is known by being the same one
        known.append(seen.known)
        relief.append(seen.relief_ft)
        posts = seen.posts
        if posts is None:
            highest.append(None)
            continue
        beside = posts.away_nm <= corridor_nm + posts.spacing_nm
        below = posts.away_nm <= _UNDER_NM + posts.spacing_nm
        highest.append(_highest(posts.elevation_ft[beside]))
        under.append(_highest(posts.elevation_ft[below]))
        close.append(path.first_within(MARGIN_FT, posts.elevation_ft[beside], posts.along_nm[beside], airfield_ground=True))
        low.append(path.first_within(MINIMUM_HEIGHT_FT, posts.elevation_ft[below], posts.along_nm[below]))
    return GroundUnderLeg(
        highest_ft=_greatest(highest),
        relief_ft=_greatest(relief),
        all_known=all(known),
        close_nm=_least(close),
        meets_ground_nm=path.first_meeting(start, end, length_nm, ground),
        highest_under_ft=_greatest(under),
        under_minimum_nm=_least(low),
        along_nm=tuple(edges_nm.tolist()),
        highest_along_ft=tuple(highest),
    )


def _highest(elevation_ft: np.ndarray) -> float | None:
    return float(elevation_ft.max()) if elevation_ft.size else None


def _greatest(values: list[float | None]) -> float | None:
    return max((value for value in values if value is not None), default=None)


def _least(values: list[float | None]) -> float | None:
    return min((value for value in values if value is not None), default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Path:
    """The planned path over a leg."""

    start_nm: float
    total_nm: float
    profile: tuple[ProfilePoint, ...]
    airfields_ft: tuple[float | None, float | None]

    def planned_ft(self, along_nm: np.ndarray) -> np.ndarray:
        """The planned altitudes (n,) at distances from the leg's start [NM]. [ft]"""
        at = [point.distance_nm for point in self.profile], [point.altitude_ft for point in self.profile]
        return np.interp(self.start_nm + along_nm, *at)

    def _en_route(self, along_nm: np.ndarray) -> np.ndarray:
        flown_nm = self.start_nm + along_nm
        return (flown_nm >= AIRFIELD_NM) & (flown_nm <= self.total_nm - AIRFIELD_NM)

    def first_within(
        self, margin_ft: float, elevation_ft: np.ndarray, along_nm: np.ndarray, *, airfield_ground: bool = False
    ) -> float | None:
        """Where the path first comes nearer than a margin to ground (n,) beside it; ``airfield_ground`` leaves take-off and landing out."""
        planned_ft = self.planned_ft(along_nm)
        hits = self._en_route(along_nm) & (elevation_ft > planned_ft - margin_ft)
        if airfield_ground:
            hits &= ~self._over_an_airfield(elevation_ft, planned_ft, along_nm)
        return float(along_nm[hits].min()) if hits.any() else None

    def _over_an_airfield(self, elevation_ft: np.ndarray, planned_ft: np.ndarray, along_nm: np.ndarray) -> np.ndarray:
        """Whether low ground is passed low only because the flight begins or ends beside it."""
        level_ft = max(point.altitude_ft for point in self.profile)
        top_nm = next(point.distance_nm for point in self.profile if point.altitude_ft >= level_ft)
        climbing = self.start_nm + along_nm < top_nm
        over = np.zeros(elevation_ft.shape, dtype=bool)
        for field_ft, near in zip(self.airfields_ft, (climbing, ~climbing), strict=True):
            if field_ft is not None:
                its_ground_ft = field_ft + AIRFIELD_GROUND_FT
                over |= near & (elevation_ft <= its_ground_ft) & (planned_ft < its_ground_ft + MARGIN_FT)
        return over

    def first_meeting(self, start: Position, end: Position, length_nm: float, ground: Ground) -> float | None:
        """Where the path first runs into the ground under it; unknown ground is no hit: a note of its own tells it."""
        count = max(2, math.ceil(length_nm / _STEP_NM) + 1)
        for first in range(0, count, 50_000):
            along_nm = length_nm * np.arange(first, min(first + 50_000, count)) / (count - 1)
            lat_deg, lon_deg = points_along(start, end, along_nm)
            under_ft = units.feet_from_metres(ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg))
            hits = np.flatnonzero(self._en_route(along_nm) & (under_ft >= self.planned_ft(along_nm)))
            if hits.size:
                return float(along_nm[hits[0]])
        return None
