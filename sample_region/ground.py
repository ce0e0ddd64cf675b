"""The posts as they are written: whole metres, with level ground where airfields were built."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_region.landscape import NORTH_DEG, POSTS_PER_DEGREE, WEST_DEG, raw_ground_m
from sample_region.places import FIELDS
from sample_region.sketch import COS_MIDDLE

LEVEL_NM, EASED_NM = 0.3, 0.7  # flat out to here, and joined to the ground around by there
NM_PER_POST = 60.0 / POSTS_PER_DEGREE


@dataclass(frozen=True)
class Ground:
    """Posts (3601, 4801) of whole metres, row 0 in the north."""

    posts: np.ndarray

    def elevation_m(self, lat_deg: float, lon_deg: float) -> float:
        """Return the bilinear elevation at a place. [m]"""
        row, column = _row_column(lat_deg, lon_deg)
        r, c = int(row), int(column)
        south, east = row - r, column - c
        four = self.posts[r : r + 2, c : c + 2].astype(float)
        return float((1 - south) * ((1 - east) * four[0, 0] + east * four[0, 1]) + south * ((1 - east) * four[1, 0] + east * four[1, 1]))


def build_ground() -> Ground:
    """Make the land, level it at the airfields and round it to whole metres."""
    heights = raw_ground_m()
    for field in FIELDS:
        _level(heights, *field.at)
    return Ground(posts=np.rint(heights).astype(np.int16))


def _row_column(lat_deg: float, lon_deg: float) -> tuple[float, float]:
    return (NORTH_DEG - lat_deg) * POSTS_PER_DEGREE, (lon_deg - WEST_DEG) * POSTS_PER_DEGREE


def _level(heights: np.ndarray, lat_deg: float, lon_deg: float) -> None:
    """Level the ground round an airfield at the height of its own post; the sea stays where it is."""
    row, column = _row_column(lat_deg, lon_deg)
    reach_rows, reach_columns = int(EASED_NM / NM_PER_POST) + 2, int(EASED_NM / NM_PER_POST / COS_MIDDLE) + 2
    rows = slice(max(0, int(row) - reach_rows), int(row) + reach_rows + 1)
    columns = slice(max(0, int(column) - reach_columns), int(column) + reach_columns + 1)
    part = heights[rows, columns]
    north = (np.arange(rows.start, rows.start + part.shape[0]) - row)[:, None] * NM_PER_POST
    east = (np.arange(columns.start, columns.start + part.shape[1]) - column)[None, :] * NM_PER_POST * COS_MIDDLE
    away = np.sqrt(north * north + east * east)
    share = np.minimum(1.0, np.maximum(0.0, (EASED_NM - away) / (EASED_NM - LEVEL_NM)))
    share = np.where(part > 0.0, share * share * (3.0 - 2.0 * share), 0.0)
    level = np.rint(np.maximum(heights[int(row + 0.5), int(column + 0.5)], 3.0))
    heights[rows, columns] = part + share * (level - part)
