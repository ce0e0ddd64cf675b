"""What the radio models ask of the ground. Implemented by server.terrain (tiles) and by tests (synthetic ground)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

UNKNOWN_BELOW_M = -32000.0
"""A post is unknown unless it is greater than this: catches the -32768 of integer tiles and NaN alike."""

ON_POST = 1e-7
"""An index this close to a whole number is that number: the miss is rounding (0.01 mm on 3-second posts)."""


def on_post(index):
    """Take an index into posts that misses a whole number only by rounding as that whole number. Scalars or arrays."""
    nearest = np.rint(index)
    return np.where(np.abs(index - nearest) < ON_POST, nearest, index)


@dataclass(frozen=True, kw_only=True, eq=False)
class GridWindow:
    """A rectangular lattice of posts in latitude and longitude. Row 0 is the north edge, column 0 the west edge.

    posts : array (rows, columns) of int16 or float32, metres above sea level; unknown where not > UNKNOWN_BELOW_M.
    The post (r, c) stands at north_lat_deg - r * step_lat_deg, west_lon_deg + c * step_lon_deg. west_lon_deg is not folded: a window that
    crosses the antimeridian runs beyond 180. Between posts the ground is the bilinear patch of the four posts round it; if one of the
    four is unknown the patch is unknown.
    """

    posts: np.ndarray
    north_lat_deg: float
    west_lon_deg: float
    step_lat_deg: float
    step_lon_deg: float


class Ground(Protocol):
    """Elevation data that radio models can use."""

    @property
    def fingerprint(self) -> str:
        """Content hash: two grounds with the same fingerprint give the same answers."""
        ...

    def elevations_m(self, *, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        """Return bilinear ground elevations [m], NaN where the ground is not known. Shapes (n,) in and out."""
        ...

    def window(self, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> GridWindow | None:
        """Return posts that cover the rectangle as far as data exists, or None where there is no data at all.

        ``west_deg`` <= ``east_deg``; both may run beyond +-180 when the rectangle crosses the antimeridian, and the
        window's longitudes are counted on the same turn. The window may be smaller or larger than asked; ground outside it is unknown.
        """
        ...
