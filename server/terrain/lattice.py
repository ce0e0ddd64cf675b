"""A lattice of posts in latitude and longitude, and the bilinear surface through it. Numbers in, numbers out: no file here."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from server.radio.ground import ON_POST, UNKNOWN_BELOW_M, on_post

SAME_LATTICE = 0.01
"""Two sheets share a lattice when their posts miss each other by less than this part of a step: file headers are rounded."""

VOID = -32768
"""The unknown post of an int16 sheet; float32 sheets hold NaN."""


@dataclass(frozen=True, kw_only=True)
class Lattice:
    """Where the posts stand: post (r, c) at north_lat_deg - r step_lat_deg, west_lon_deg + c step_lon_deg.

    Sheets that are still in a projection use the same fields for its northing and easting.
    """

    north_lat_deg: float
    west_lon_deg: float
    step_lat_deg: float
    step_lon_deg: float
    rows: int
    columns: int

    @property
    def south_lat_deg(self) -> float:
        return self.north_lat_deg - (self.rows - 1) * self.step_lat_deg

    @property
    def east_lon_deg(self) -> float:
        return self.west_lon_deg + (self.columns - 1) * self.step_lon_deg

    @property
    def columns_per_turn(self) -> int | None:
        """Number of columns once round the earth, or None where the step does not divide 360 degrees."""
        columns = 360.0 / self.step_lon_deg
        return round(columns) if abs(columns - round(columns)) < SAME_LATTICE else None

    def row_index(self, lat_deg: np.ndarray) -> np.ndarray:
        """Return the row, with fraction, at which latitudes [deg] lie."""
        return on_post((self.north_lat_deg - lat_deg) / self.step_lat_deg)

    def column_index(self, lon_deg: np.ndarray) -> np.ndarray:
        """Return the column, with fraction, at which longitudes [deg] lie, folded so that none is west of the first column."""
        east_deg = np.mod(lon_deg - self.west_lon_deg, 360.0)
        return on_post(np.where(360.0 - east_deg < ON_POST * self.step_lon_deg, 0.0, east_deg) / self.step_lon_deg)

    def cut(self, *, row: int, column: int, rows: int, columns: int) -> Lattice:
        """Return the part, or the extension, of this lattice that begins at a row and column of it."""
        return replace(
            self,
            north_lat_deg=self.north_lat_deg - row * self.step_lat_deg,
            west_lon_deg=self.west_lon_deg + column * self.step_lon_deg,
            rows=rows,
            columns=columns,
        )

    def turned(self, turns: int) -> Lattice:
        """Return the same lattice with its longitudes counted from another turn round the earth."""
        return replace(self, west_lon_deg=self.west_lon_deg + 360.0 * turns)

    def shares_posts_with(self, other: Lattice) -> bool:
        """Tell whether both are parts of one endless lattice (longitudes not folded)."""
        drift_lat = abs(self.step_lat_deg - other.step_lat_deg) / self.step_lat_deg * max(self.rows, other.rows)
        drift_lon = abs(self.step_lon_deg - other.step_lon_deg) / self.step_lon_deg * max(self.columns, other.columns)
        miss_lat = (self.north_lat_deg - other.north_lat_deg) / self.step_lat_deg
        miss_lon = (self.west_lon_deg - other.west_lon_deg) / self.step_lon_deg
        misses = (drift_lat, drift_lon, abs(miss_lat - round(miss_lat)), abs(miss_lon - round(miss_lon)))
        return max(misses) < SAME_LATTICE


def span(first: float, last: float, count: int) -> tuple[int, int] | None:
    """Return the first and last whole index that enclose an interval of indices, two or more apart where ``count`` posts allow it.

    None where the interval lies wholly outside 0 to count - 1.
    """
    low = max(0, math.floor(on_post(first)))
    high = min(count - 1, math.ceil(on_post(last)))
    if low > high:
        return None
    if low == high and high < count - 1:
        high += 1
    elif low == high and low > 0:
        low -= 1
    return low, high


def bilinear(posts: np.ndarray, row: np.ndarray, column: np.ndarray) -> np.ndarray:
    """Interpolate between the four posts round each place.

    Parameters
    ----------
    posts : array (rows, columns), int16 or float32
        Elevations [m]; unknown where not greater than UNKNOWN_BELOW_M.
    row, column : arrays of one shape
        Places in units of posts.

    Returns
    -------
    array of that shape
        Elevation [m]; NaN outside the posts and wherever a post with a weight above zero is unknown. On a post, or on the line between
        two, only these count: the far side may be missing.

    Notes
    -----
    z = (1-u)(1-v) z00 + (1-u) v z01 + u (1-v) z10 + u v z11, with u, v the parts of a step south and east of post (0, 0).
    """
    north, south, south_part, row_inside = _between(row, posts.shape[0])
    west, east, east_part, column_inside = _between(column, posts.shape[1])
    total = np.zeros(row.shape)
    known = row_inside & column_inside
    for r, row_weight in ((north, 1.0 - south_part), (south, south_part)):
        for c, column_weight in ((west, 1.0 - east_part), (east, east_part)):
            weight = row_weight * column_weight
            post = posts[r, c].astype(np.float64)
            post_known = post > UNKNOWN_BELOW_M
            known = known & (post_known | (weight == 0.0))
            total += weight * np.where(post_known, post, 0.0)
    return np.where(known, total, np.nan)


def bilinear_lattice(posts: np.ndarray, row: np.ndarray, column: np.ndarray) -> np.ndarray:
    """Do the same as ``bilinear`` for every pair of rows (n,) and columns (m,); return (n, m). Much faster, for two passes do."""
    north, south, south_part, row_inside = _between(row, posts.shape[0])
    west, east, east_part, column_inside = _between(column, posts.shape[1])
    first, last = west.min(), east.max() + 1
    along_rows = _blend(_known(posts[north, first:last]), _known(posts[south, first:last]), south_part[:, np.newaxis])
    elevations_m = _blend(along_rows[:, west - first], along_rows[:, east - first], east_part[np.newaxis, :])
    elevations_m[~row_inside] = np.nan
    elevations_m[:, ~column_inside] = np.nan
    return elevations_m


def _between(index: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return the whole indices before and after, the part of a step past the first, and whether the place is inside at all."""
    inside = (index >= 0) & (index <= count - 1)
    index = np.where(inside, index, 0.0)
    before = np.floor(index).astype(np.intp)
    return before, np.minimum(before + 1, count - 1), index - before, inside


def _known(posts: np.ndarray) -> np.ndarray:
    """Return posts as float64 with NaN where unknown."""
    return np.where(posts > UNKNOWN_BELOW_M, posts, np.nan)


def _blend(before: np.ndarray, after: np.ndarray, part: np.ndarray) -> np.ndarray:
    """Weigh two arrays; where the part is 0 the second does not count, known or not."""
    return np.where(part == 0.0, before, (1.0 - part) * before + part * after)
