"""Works out a minimum altitude of each airway segment as a data office would begin to, and holds it against the published one.

The computed minimum is the higher of the highest post within 4 NM of the segment and 2,000 ft (14 CFR 91.177(a)(2)(i), mountains), and the
lowest altitude at which at every point one of its VORs is surely in sight, rounded up to 100 ft. A published MEA may be higher for reasons
that are not looked at here (communication, obstacles, air traffic), never lower.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from pyproj import Geod

from server.navigation import Position, distance_nm, points_along
from server.radio.ground import UNKNOWN_BELOW_M
from server.terrain import Terrain
from server.terrain.ground import Mosaic
from server.units import feet_from_metres
from tests.validation.airway_folder import Segment
from tests.validation.airway_sight import Point

CORRIDOR_NM = 4.0
MOUNTAIN_MARGIN_FT = 2_000.0
ROUNDED_TO_FT = 100.0
STEP_NM = 0.1
AT_A_TIME = 500
GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, kw_only=True)
class ComputedMinimum:
    """One segment: its published MEA, and what the ground and the line of sight ask for. [ft MSL]"""

    segment: Segment
    mea_ft: float
    ground_ft: float
    reception_ft: float

    @property
    def altitude_ft(self) -> float:
        """The higher of both, up to the next hundred."""
        return math.ceil(max(self.ground_ft, self.reception_ft) / ROUNDED_TO_FT - 1e-9) * ROUNDED_TO_FT


def computed_minima(points: Iterable[Point], ground: Terrain) -> tuple[list[ComputedMinimum], list[str]]:
    """Work out the minimum of each segment; name those where a point hangs on a station that is not known, or no ground is."""
    by_segment: dict[Segment, list[Point]] = defaultdict(list)
    for point in points:
        by_segment[point.segment].append(point)
    found, left_out = [], []
    for segment, group in by_segment.items():
        seen_ft = [point.best.seen_ft if point.best is not None else math.inf for point in group]
        highest_ft = highest_beside_ft(segment.start, segment.end, ground)
        complete = not any(point.doubtful for point in group if point.best is None or point.best.seen_ft > point.mea_ft)
        if highest_ft is None or not math.isfinite(max(seen_ft)) or not complete or segment.missing:
            left_out.append(segment.name)
            continue
        found.append(
            ComputedMinimum(segment=segment, mea_ft=group[0].mea_ft, ground_ft=highest_ft + MOUNTAIN_MARGIN_FT, reception_ft=max(seen_ft))
        )
    return found, left_out


def highest_beside_ft(start: Position, end: Position, ground: Terrain) -> float | None:
    """The highest known post within 4 NM beside a segment, of any source; what lies beyond its ends belongs to its neighbours. [ft MSL]

    Posts are gone through from the highest down, each by its geodesic distance from places of the segment every 0.1 NM.
    """
    places = max(2, math.ceil(distance_nm(start, end) / STEP_NM) + 1)
    lat_deg, lon_deg = points_along(start, end, np.linspace(0.0, distance_nm(start, end), places))
    found = [_highest_post_m(mosaic, lat_deg, lon_deg) for mosaic in ground.mosaics]
    known = [highest_m for highest_m in found if highest_m is not None]
    return float(feet_from_metres(max(known))) if known else None


def _highest_post_m(mosaic: Mosaic, lat_deg: np.ndarray, lon_deg: np.ndarray) -> float | None:
    lattice = mosaic.lattice
    margin_deg = CORRIDOR_NM / 59.0
    wide_deg = margin_deg / math.cos(math.radians(min(85.0, float(np.abs(lat_deg).max()) + margin_deg)))
    rows = np.arange(lattice.rows)[
        np.abs(lattice.north_lat_deg - lattice.step_lat_deg * np.arange(lattice.rows) - (lat_deg.max() + lat_deg.min()) / 2.0)
        <= (lat_deg.max() - lat_deg.min()) / 2.0 + margin_deg
    ]
    columns = np.arange(lattice.columns)[
        np.abs(lattice.west_lon_deg + lattice.step_lon_deg * np.arange(lattice.columns) - (lon_deg.max() + lon_deg.min()) / 2.0)
        <= (lon_deg.max() - lon_deg.min()) / 2.0 + wide_deg
    ]
    if not rows.size or not columns.size:
        return None
    posts = np.asarray(mosaic.posts[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], dtype=float)
    order = np.argsort(np.where(posts > UNKNOWN_BELOW_M, posts, -np.inf), axis=None)[::-1]
    for first in range(0, order.size, AT_A_TIME):
        r, c = np.unravel_index(order[first : first + AT_A_TIME], posts.shape)
        height_m = posts[r, c]
        if not (height_m > UNKNOWN_BELOW_M).any():
            return None
        post_lat, post_lon = (
            lattice.north_lat_deg - lattice.step_lat_deg * (rows[0] + r),
            lattice.west_lon_deg + lattice.step_lon_deg * (columns[0] + c),
        )
        _, _, away_m = GEOD.inv(*np.broadcast_arrays(post_lon[:, None], post_lat[:, None], lon_deg[None, :], lat_deg[None, :]))
        nearest = away_m.argmin(axis=1)
        beside = (nearest > 0) & (nearest < lon_deg.size - 1)
        near = beside & (away_m.min(axis=1) <= CORRIDOR_NM * 1852.0) & (height_m > UNKNOWN_BELOW_M)
        if near.any():
            return float(height_m[near][0])
    return None


def rank_correlation(first: list[float], second: list[float]) -> float | None:
    """Spearman's rank correlation, equal values sharing the mean of their ranks; None for fewer than three pairs or one value only."""
    if len(first) < 3:
        return None
    a, b = _ranks(first), _ranks(second)
    if a.std() == 0.0 or b.std() == 0.0:
        return None
    return float(np.corrcoef(a, b)[0, 1])


def _ranks(values: list[float]) -> np.ndarray:
    array = np.asarray(values)
    below = (array[:, None] > array[None, :]).sum(axis=1)
    equal = (array[:, None] == array[None, :]).sum(axis=1)
    return below + (equal + 1) / 2.0
