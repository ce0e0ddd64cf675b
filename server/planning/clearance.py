"""The ground under a leg: how high it rises near the track, and whether the planned path runs into it. Advice; obstacles are not known.

Every post of the corridor counts, its ends round: past a turning point the heading is held on for a while, and the outside of the turn is
flown over. The corridor is looked at in short pieces, so that no leg takes more memory than another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from server import units
from server.navigation import Position, points_along
from server.planning.log_legs import ProfilePoint
from server.radio import Ground
from server.radio.ground import UNKNOWN_BELOW_M

RELIEF_OVER_NM = 10.0
"""How far the ground's rise and fall is counted together: ICAO Doc 8168's measure of mountains (from memory)."""
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
PIECES_KEPT = 128
"""Pieces whose ground is remembered, at most a megabyte each on 3-second posts: who drags a leg asks again for all the others."""
_UNDER_NM = units.nautical_miles_from_metres(units.metres_from_feet(500.0))
_STEP_NM = 0.02  # between the places of the track itself
_KNOWN_STEP_NM = 0.2  # between the places where the ground of the corridor is asked whether it is known
_CELL_NM = 2.0  # of the lattice on which rise and fall are counted
_NM_A_DEGREE = 60.0
_BEYOND_M = 32_000  # beyond any ground


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


@dataclass(frozen=True, kw_only=True, eq=False)
class _Posts:
    """The known posts near a piece of the leg. arrays (n,)"""

    elevation_ft: np.ndarray
    along_nm: np.ndarray
    """Of the nearest place on the piece, from the start of the leg. [NM]"""
    away_nm: np.ndarray
    """From the piece. [NM]"""
    spacing_nm: float
    """Between two posts, the wider way: a patch reaches that much farther than its posts. [NM]"""


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
        seen = _beside_piece(start, end, float(from_nm), float(to_nm), corridor_nm, ground)  # type: ignore[arg-type]  # a ground is known by being the same one
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


@dataclass(frozen=True, kw_only=True, eq=False)
class _Seen:
    """What lies beside a piece, whatever is flown over it."""

    known: bool
    relief_ft: float | None
    posts: _Posts | None


@lru_cache(maxsize=PIECES_KEPT)
def _beside_piece(start: Position, end: Position, from_nm: float, to_nm: float, corridor_nm: float, ground: Ground) -> _Seen:
    piece = _Piece.between(start, end, from_nm, to_nm)
    return _Seen(
        known=_is_known(piece, corridor_nm, ground),
        relief_ft=_relief_ft(piece, corridor_nm, ground),
        posts=_posts_near(piece, corridor_nm, ground),
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


@dataclass(frozen=True, kw_only=True, slots=True)
class _Piece:
    """A short piece of a leg on a plane of its own: x east, y north of its start, in NM; longitudes run on over the antimeridian."""

    from_nm: float
    length_nm: float
    lat_deg: float
    lon_deg: float
    x_nm: float
    y_nm: float

    @classmethod
    def between(cls, start: Position, end: Position, from_nm: float, to_nm: float) -> _Piece:
        """Cut a piece out of a leg."""
        lat_deg, lon_deg = points_along(start, end, np.array([from_nm, to_nm]))
        lon_deg = np.unwrap(lon_deg, period=360.0)
        east = (lon_deg[1] - lon_deg[0]) * _NM_A_DEGREE * math.cos(math.radians((lat_deg[0] + lat_deg[1]) / 2.0))
        north = (lat_deg[1] - lat_deg[0]) * _NM_A_DEGREE
        return cls(
            from_nm=from_nm,
            length_nm=to_nm - from_nm,
            lat_deg=float(lat_deg[0]),
            lon_deg=float(lon_deg[0]),
            x_nm=float(east),
            y_nm=float(north),
        )

    def box(self, aside_nm: float) -> dict[str, float]:
        """South, north, west and east of all within a distance of the piece. [deg]"""
        end_lat_deg = self.lat_deg + self.y_nm / _NM_A_DEGREE
        aside_deg = (aside_nm + 0.1) * 1.01 / _NM_A_DEGREE  # a minute of latitude is up to 0.6 % longer or shorter than a mile
        south, north = min(self.lat_deg, end_lat_deg) - aside_deg, max(self.lat_deg, end_lat_deg) + aside_deg
        narrow = max(0.01, math.cos(math.radians(min(89.9, max(abs(south), abs(north))))))
        end_lon_deg = self.lon_deg + self.x_nm / _NM_A_DEGREE / narrow
        west = min(self.lon_deg, end_lon_deg) - aside_deg / narrow
        east = max(self.lon_deg, end_lon_deg) + aside_deg / narrow
        return {"south_deg": max(-90.0, south), "north_deg": min(90.0, north), "west_deg": west, "east_deg": east}

    def place(self, lat_deg: np.ndarray, lon_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Lay places, rows (n,) of latitudes and columns (m,) of longitudes, against the piece: along it [NM], and away from it [NM]."""
        y = ((lat_deg - self.lat_deg) * _NM_A_DEGREE)[:, np.newaxis]
        x = np.outer(np.cos(np.radians((lat_deg + self.lat_deg) / 2.0)) * _NM_A_DEGREE, lon_deg - self.lon_deg)
        length_nm = math.hypot(self.x_nm, self.y_nm)
        share = np.clip((x * self.x_nm + y * self.y_nm) / max(length_nm, 1e-9) ** 2, 0.0, 1.0)
        return share * self.length_nm, np.hypot(x - share * self.x_nm, y - share * self.y_nm)


def _posts_near(piece: _Piece, corridor_nm: float, ground: Ground) -> _Posts | None:
    """The known posts of the corridor beside a piece, and of the patches that reach into it."""
    window = ground.window(**piece.box(corridor_nm))
    if window is None:
        return None
    lat_deg = window.north_lat_deg - window.step_lat_deg * np.arange(window.posts.shape[0])
    lon_deg = window.west_lon_deg + window.step_lon_deg * np.arange(window.posts.shape[1])
    narrow = math.cos(math.radians(piece.lat_deg))
    spacing_nm = _NM_A_DEGREE * max(window.step_lat_deg, window.step_lon_deg * narrow) * math.sqrt(2.0)
    along_nm, away_nm = piece.place(lat_deg, lon_deg)
    near = (away_nm <= corridor_nm * 1.007 + spacing_nm) & (window.posts > UNKNOWN_BELOW_M)
    if not near.any():
        return None
    return _Posts(
        elevation_ft=units.feet_from_metres(window.posts[near].astype(float)),
        along_nm=piece.from_nm + along_nm[near],
        away_nm=away_nm[near] / 1.007,  # a plane of miles of one length: up to 0.7 % wrong, taken to the near side
        spacing_nm=spacing_nm,
    )


def _is_known(piece: _Piece, corridor_nm: float, ground: Ground) -> bool:
    """Whether all ground within the corridor beside a piece, and round its ends, is known."""
    box = piece.box(corridor_nm)
    rows = max(2, math.ceil((box["north_deg"] - box["south_deg"]) * _NM_A_DEGREE / _KNOWN_STEP_NM))
    narrow = max(0.01, math.cos(math.radians(piece.lat_deg)))
    columns = max(2, math.ceil((box["east_deg"] - box["west_deg"]) * narrow * _NM_A_DEGREE / _KNOWN_STEP_NM))
    lat_deg = np.linspace(box["south_deg"], box["north_deg"], rows)
    lon_deg = np.linspace(box["west_deg"], box["east_deg"], columns)
    _, away_nm = piece.place(lat_deg, lon_deg)
    asked = away_nm <= corridor_nm
    grid_lat_deg, grid_lon_deg = (grid[asked] for grid in np.meshgrid(lat_deg, lon_deg, indexing="ij"))
    if np.isnan(ground.elevations_m(lat_deg=grid_lat_deg, lon_deg=grid_lon_deg)).any():
        return False
    window = ground.window(**box)
    if window is None:
        return grid_lat_deg.size == 0
    post_lat_deg = window.north_lat_deg - window.step_lat_deg * np.arange(window.posts.shape[0])
    post_lon_deg = window.west_lon_deg + window.step_lon_deg * np.arange(window.posts.shape[1])
    _, post_away_nm = piece.place(post_lat_deg, post_lon_deg)
    return not ((post_away_nm <= corridor_nm) & ~(window.posts > UNKNOWN_BELOW_M)).any()


def _relief_ft(piece: _Piece, corridor_nm: float, ground: Ground) -> float | None:
    """By how much known ground rises and falls within RELIEF_OVER_NM, where that is most, in the region round a piece's corridor. [ft]"""
    window = ground.window(**piece.box(corridor_nm + RELIEF_OVER_NM / 2.0))
    if window is None:
        return None
    extremes = _cells(window)
    if extremes is None:
        return None
    highest_m, lowest_m = extremes
    width = min(*highest_m.shape, round(RELIEF_OVER_NM / _CELL_NM))
    windows = np.lib.stride_tricks.sliding_window_view
    most_m = windows(highest_m, (width, width)).max(axis=(2, 3)) - windows(lowest_m, (width, width)).min(axis=(2, 3))
    return float(units.feet_from_metres(most_m.max())) if np.isfinite(most_m).any() else None


def _cells(window) -> tuple[np.ndarray, np.ndarray] | None:
    """Highest and lowest known post of cells about _CELL_NM wide; -inf and inf where none is known. None for no known post. [m]"""
    known = window.posts > UNKNOWN_BELOW_M
    if not known.any():
        return None
    narrow = max(0.01, math.cos(math.radians(window.north_lat_deg)))
    rows = max(1, round(_CELL_NM / _NM_A_DEGREE / window.step_lat_deg))
    columns = max(1, round(_CELL_NM / _NM_A_DEGREE / window.step_lon_deg / narrow))
    first_rows, first_columns = np.arange(0, window.posts.shape[0], rows), np.arange(0, window.posts.shape[1], columns)
    beyond = np.array(_BEYOND_M, dtype=window.posts.dtype)
    highest = np.where(known, window.posts, -beyond)
    lowest = np.where(known, window.posts, beyond)
    highest = np.maximum.reduceat(np.maximum.reduceat(highest, first_rows, axis=0), first_columns, axis=1).astype(float)
    lowest = np.minimum.reduceat(np.minimum.reduceat(lowest, first_rows, axis=0), first_columns, axis=1).astype(float)
    return np.where(highest > -_BEYOND_M, highest, -np.inf), np.where(lowest < _BEYOND_M, lowest, np.inf)
