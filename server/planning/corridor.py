"""The ground of a corridor, piece by piece: its known posts, whether all of it is known, and by how much it rises and falls."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from server import units
from server.navigation import Position, points_along
from server.radio import Ground
from server.radio.ground import UNKNOWN_BELOW_M, GridWindow

RELIEF_OVER_NM = 10.0
"""How far the ground's rise and fall is counted together: ICAO Doc 8168's measure of mountains (from memory)."""
PIECES_KEPT = 128
"""Pieces whose ground is remembered, at most a megabyte each on 3-second posts: who drags a leg asks again for all the others."""
_KNOWN_STEP_NM = 0.2  # between the places where the ground of the corridor is asked whether it is known
_CELL_NM = 2.0  # of the lattice on which rise and fall are counted
_NM_A_DEGREE = 60.0
_BEYOND_M = 32_000  # beyond any ground


@dataclass(frozen=True, kw_only=True, eq=False)
class PostsBeside:
    """The known posts near a piece of the leg. arrays (n,)"""

    elevation_ft: np.ndarray
    along_nm: np.ndarray
    """Of the nearest place on the piece, from the start of the leg. [NM]"""
    away_nm: np.ndarray
    """From the piece. [NM]"""
    spacing_nm: float
    """Between two posts, the wider way: a patch reaches that much farther than its posts. [NM]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class BesidePiece:
    """What lies beside a piece, whatever is flown over it."""

    known: bool
    relief_ft: float | None
    posts: PostsBeside | None


@lru_cache(maxsize=PIECES_KEPT)
def beside_piece(start: Position, end: Position, from_nm: float, to_nm: float, corridor_nm: float, ground: Ground) -> BesidePiece:
    """Look at the corridor beside a piece of the leg from ``start`` to ``end``, its ends round. Distances from the start. [NM]"""
    piece = _Piece.between(start, end, from_nm, to_nm)
    return BesidePiece(
        known=_is_known(piece, corridor_nm, ground),
        relief_ft=_relief_ft(piece, corridor_nm, ground),
        posts=_posts_near(piece, corridor_nm, ground),
    )


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


def _posts_near(piece: _Piece, corridor_nm: float, ground: Ground) -> PostsBeside | None:
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
    return PostsBeside(
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


def _cells(window: GridWindow) -> tuple[np.ndarray, np.ndarray] | None:
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
