"""The highest ground of each half degree of a region: the figure a chart prints in every quadrangle, and the spot it comes from.

The figure follows the rule for natural ground of the maximum elevation figure on aeronautical charts: highest ground, 100 ft for the
doubt in it, 200 ft for what stands on it and is not known, and up to the next hundred feet. Obstacles are not known here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.navigation import Position
from server.radio.ground import UNKNOWN_BELOW_M, GridWindow, Ground
from server.units import feet_from_metres

QUADRANGLE_DEG = 0.5
ELEVATION_DOUBT_FT, UNKNOWN_OBSTACLE_FT = 100.0, 200.0
MOST_QUADRANGLES = 4_000
_ON_POST_DEG = 1e-9


@dataclass(frozen=True, kw_only=True, slots=True)
class Quadrangle:
    """Half a degree of latitude by half a degree of longitude. What is None is not known."""

    south_deg: float
    west_deg: float
    highest_m: float | None
    highest_at: Position | None
    complete: bool
    """Whether all of its ground is known."""

    @property
    def figure_ft(self) -> int | None:
        """Its maximum elevation figure; None where some of the ground is not known, for the highest may be there. [ft]"""
        return maximum_elevation_figure_ft(feet_from_metres(self.highest_m)) if self.complete and self.highest_m is not None else None


def maximum_elevation_figure_ft(highest_ground_ft: float) -> int:
    """Turn the highest natural ground of a quadrangle into its figure. [ft]

    References
    ----------
    The rule of the US chart office for natural ground; see the module. A sum that is a whole hundred stays. Checked:
    tests/sheets/test_highest_ground.py.
    """
    return math.ceil((highest_ground_ft + ELEVATION_DOUBT_FT + UNKNOWN_OBSTACLE_FT) / 100.0 - 1e-9) * 100


def quadrangles(ground: Ground, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> tuple[Quadrangle, ...]:
    """Look through every quadrangle that a box touches, from the south-west on. ``east_deg`` may run beyond 180. [deg]

    None is told where the box holds more than MOST_QUADRANGLES: such a chart is too large for figures.
    """
    rows = range(math.floor(south_deg / QUADRANGLE_DEG), math.ceil(north_deg / QUADRANGLE_DEG))
    columns = range(math.floor(west_deg / QUADRANGLE_DEG), math.ceil(east_deg / QUADRANGLE_DEG))
    if len(rows) * len(columns) > MOST_QUADRANGLES:
        return ()
    return tuple(
        _quadrangle(ground, south_deg=row * QUADRANGLE_DEG, west_deg=column * QUADRANGLE_DEG) for row in rows for column in columns
    )


def _quadrangle(ground: Ground, *, south_deg: float, west_deg: float) -> Quadrangle:
    box = {"south_deg": south_deg, "north_deg": south_deg + QUADRANGLE_DEG, "west_deg": west_deg, "east_deg": west_deg + QUADRANGLE_DEG}
    window = ground.window(**box)
    inside = _inside(window, **box) if window is not None else None
    if window is None or inside is None:
        return Quadrangle(south_deg=south_deg, west_deg=west_deg, highest_m=None, highest_at=None, complete=False)
    rows, columns, complete = inside
    posts = window.posts[rows, columns]
    known = posts > UNKNOWN_BELOW_M
    if not known.any():
        return Quadrangle(south_deg=south_deg, west_deg=west_deg, highest_m=None, highest_at=None, complete=False)
    row, column = np.unravel_index(int(np.argmax(np.where(known, posts, UNKNOWN_BELOW_M))), posts.shape)
    at = Position(
        lat_deg=float(window.north_lat_deg - (rows.start + row) * window.step_lat_deg),
        lon_deg=float((window.west_lon_deg + (columns.start + column) * window.step_lon_deg + 180.0) % 360.0 - 180.0),
    )
    return Quadrangle(
        south_deg=south_deg, west_deg=west_deg, highest_m=float(posts[row, column]), highest_at=at, complete=complete and bool(known.all())
    )


def _inside(
    window: GridWindow, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float
) -> tuple[slice, slice, bool] | None:
    """The rows and columns of the posts that make the ground of a box, its edges included, and whether they reach all of its edges.

    Where no posts stand on an edge, the ground there hangs on the next ones outside, so these count too.
    """
    rows, columns = window.posts.shape
    top = (window.north_lat_deg - north_deg) / window.step_lat_deg
    bottom = (window.north_lat_deg - south_deg) / window.step_lat_deg
    left = (west_deg - window.west_lon_deg) / window.step_lon_deg
    right = (east_deg - window.west_lon_deg) / window.step_lon_deg
    slack = _ON_POST_DEG / window.step_lat_deg + 1e-6
    reaches = top > -slack and bottom < rows - 1 + slack and left > -slack and right < columns - 1 + slack
    first_row, last_row = max(0, math.floor(top + slack)), min(rows - 1, math.ceil(bottom - slack))
    first_column, last_column = max(0, math.floor(left + slack)), min(columns - 1, math.ceil(right - slack))
    if first_row > last_row or first_column > last_column:
        return None
    return slice(first_row, last_row + 1), slice(first_column, last_column + 1), reaches
