"""Small, valid things for tests to build on. Synthetic ground: posts held in memory, read the way server.radio.ground asks.

Written apart from server.terrain on purpose: it is also the second opinion that its tests compare with.
"""

from __future__ import annotations

import hashlib
import math

import numpy as np

from server.radio.ground import UNKNOWN_BELOW_M, GridWindow


class GridGround:
    """A Ground made of one lattice of posts (row 0 north, column 0 west), in metres; a post not above UNKNOWN_BELOW_M is unknown."""

    def __init__(self, posts: np.ndarray, north_lat_deg: float, west_lon_deg: float, step_lat_deg: float, step_lon_deg: float):
        self.posts = posts
        self.north_lat_deg = north_lat_deg
        self.west_lon_deg = west_lon_deg
        self.step_lat_deg = step_lat_deg
        self.step_lon_deg = step_lon_deg
        lattice = repr((posts.shape, posts.dtype.str, north_lat_deg, west_lon_deg, step_lat_deg, step_lon_deg))
        self._fingerprint = hashlib.sha256(lattice.encode() + np.ascontiguousarray(posts).tobytes()).hexdigest()

    @property
    def fingerprint(self) -> str:
        return self._fingerprint

    def elevations_m(self, *, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        return np.array([self._elevation_m(float(lat), float(lon)) for lat, lon in zip(lat_deg, lon_deg, strict=True)])

    def _elevation_m(self, lat_deg: float, lon_deg: float) -> float:
        if not (math.isfinite(lat_deg) and math.isfinite(lon_deg)):
            return math.nan
        east_deg = (lon_deg - self.west_lon_deg) % 360.0
        if 360.0 - east_deg < 1e-9:
            east_deg = 0.0
        row = _on_post((self.north_lat_deg - lat_deg) / self.step_lat_deg)
        column = _on_post(east_deg / self.step_lon_deg)
        total = 0.0
        for r, row_weight in _neighbours(row):
            for c, column_weight in _neighbours(column):
                if not (0 <= r < self.posts.shape[0] and 0 <= c < self.posts.shape[1]):
                    return math.nan
                post = float(self.posts[r, c])
                if not post > UNKNOWN_BELOW_M:
                    return math.nan
                total += row_weight * column_weight * post
        return total

    def window(self, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> GridWindow | None:
        rows, columns = self.posts.shape
        top = max(0, math.floor(_on_post((self.north_lat_deg - north_deg) / self.step_lat_deg)))
        bottom = min(rows - 1, math.ceil(_on_post((self.north_lat_deg - south_deg) / self.step_lat_deg)))
        for turn_deg in (-360.0, 0.0, 360.0):
            grid_west_deg = self.west_lon_deg + turn_deg
            left = max(0, math.floor(_on_post((west_deg - grid_west_deg) / self.step_lon_deg)))
            right = min(columns - 1, math.ceil(_on_post((east_deg - grid_west_deg) / self.step_lon_deg)))
            if top <= bottom and left <= right:
                return GridWindow(
                    posts=self.posts[top : bottom + 1, left : right + 1],
                    north_lat_deg=self.north_lat_deg - top * self.step_lat_deg,
                    west_lon_deg=grid_west_deg + left * self.step_lon_deg,
                    step_lat_deg=self.step_lat_deg,
                    step_lon_deg=self.step_lon_deg,
                )
        return None


def _on_post(index: float) -> float:
    """Take an index that misses a whole number only by rounding as that whole number."""
    nearest = round(index)
    return float(nearest) if abs(index - nearest) < 1e-7 else index


def _neighbours(index: float) -> list[tuple[int, float]]:
    """List the one or two posts that an index lies on or between, with their weights."""
    low = math.floor(index)
    part = index - low
    return [(low, 1.0)] if part == 0.0 else [(low, 1.0 - part), (low + 1, part)]


def flat_ground(
    elevation_m: float,
    *,
    south: float = 42.0,
    north: float = 45.0,
    west: float = -38.0,
    east: float = -34.0,
    step_deg: float = 1.0 / 120.0,
) -> GridGround:
    """Build level ground [m] over a rectangle [deg]; its posts are float32."""
    rows = round((north - south) / step_deg) + 1
    columns = round((east - west) / step_deg) + 1
    return GridGround(np.full((rows, columns), elevation_m, dtype=np.float32), north, west, step_deg, step_deg)


def ridge_ground(
    elevation_m: float,
    ridge_m: float,
    *,
    ridge_lon_deg: float | None = None,
    ridge_lat_deg: float | None = None,
    half_width_deg: float = 0.0,
    south: float = 42.0,
    north: float = 45.0,
    west: float = -38.0,
    east: float = -34.0,
    step_deg: float = 1.0 / 120.0,
) -> GridGround:
    """Build level ground with one ridge line on it.

    Give ``ridge_lon_deg`` for a ridge that runs north-south, or ``ridge_lat_deg`` for one that runs east-west. The line of posts nearest to
    it stands at ``ridge_m``; with a half-width the posts within it stand there too. The flanks fall within one step to either side.
    """
    if (ridge_lon_deg is None) == (ridge_lat_deg is None):
        raise ValueError("Give either ridge_lon_deg or ridge_lat_deg.")
    ground = flat_ground(elevation_m, south=south, north=north, west=west, east=east, step_deg=step_deg)
    extra = round(half_width_deg / step_deg)
    if ridge_lon_deg is not None:
        column = round((ridge_lon_deg - west) / step_deg)
        ground.posts[:, column - extra : column + extra + 1] = ridge_m
    else:
        row = round((north - ridge_lat_deg) / step_deg)
        ground.posts[row - extra : row + extra + 1, :] = ridge_m
    return GridGround(ground.posts, north, west, step_deg, step_deg)
