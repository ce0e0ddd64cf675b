"""What ground is like in a few numbers: its highest place, how much is sea, how long its coast is, into how many lands it falls."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from contourpy import FillType, LineType, contour_generator

from server.terrain.lattice import Lattice

SEA_WITHIN_M = 0.5
MINUTES_PER_DEGREE = 60.0  # of latitude, and so NM near enough
LEAST_LAND_SQ_NM = 1.0
"""Smaller lands are not counted."""


@dataclass(frozen=True, kw_only=True)
class LieOfTheLand:
    """Heights [m], lengths [NM], areas [NM2]; None where no post is known. Shares, 0 to 1: sea of the known posts, known of all.

    ``highest_lon_deg`` lies between -180 and 180. ``lands_sq_nm`` are the areas of lands parted by sea or by the edge, largest first.
    """

    highest_m: float | None
    highest_lat_deg: float | None
    highest_lon_deg: float | None
    lowest_m: float | None
    sea_share: float
    known_share: float
    coast_nm: float
    lands_sq_nm: tuple[float, ...]


def lie_of_the_land(elevations_m: np.ndarray, lattice: Lattice) -> LieOfTheLand:
    """Describe posts [m], NaN unknown, on a lattice. The coast is as long as posts so far apart can tell, and never includes the edge.

    Lengths and areas count a degree as 60 NM, narrowed by the middle latitude.
    """
    known = np.isfinite(elevations_m)
    if not known.any():
        nothing = {"highest_m": None, "highest_lat_deg": None, "highest_lon_deg": None, "lowest_m": None}
        return LieOfTheLand(**nothing, sea_share=0.0, known_share=0.0, coast_nm=0.0, lands_sq_nm=())
    row, column = np.unravel_index(int(np.argmax(np.where(known, elevations_m, -np.inf))), elevations_m.shape)
    coast_nm, lands = _coast(elevations_m, lattice)
    return LieOfTheLand(
        highest_m=float(elevations_m[row, column]),
        highest_lat_deg=float(lattice.north_lat_deg - row * lattice.step_lat_deg),
        highest_lon_deg=float((lattice.west_lon_deg + column * lattice.step_lon_deg + 180.0) % 360.0 - 180.0),
        lowest_m=float(np.min(elevations_m[known])),
        sea_share=float(np.count_nonzero(np.abs(elevations_m[known]) < SEA_WITHIN_M) / np.count_nonzero(known)),
        known_share=float(np.count_nonzero(known) / known.size),
        coast_nm=coast_nm,
        lands_sq_nm=lands,
    )


def _coast(elevations_m: np.ndarray, lattice: Lattice) -> tuple[float, tuple[float, ...]]:
    """Trace the edge between land and sea; return its length and the areas of the lands."""
    if min(elevations_m.shape) < 2:
        return 0.0, ()
    dry = np.ma.masked_invalid(np.where(np.isfinite(elevations_m), np.abs(elevations_m) >= SEA_WITHIN_M, np.nan))
    middle_lat_deg = (lattice.north_lat_deg + lattice.south_lat_deg) / 2.0
    x_nm = np.arange(lattice.columns) * lattice.step_lon_deg * MINUTES_PER_DEGREE * np.cos(np.radians(middle_lat_deg))
    y_nm = -np.arange(lattice.rows) * lattice.step_lat_deg * MINUTES_PER_DEGREE
    traced = contour_generator(x=x_nm, y=y_nm, z=dry, line_type=LineType.Separate, fill_type=FillType.OuterOffset)
    coast_nm = 0.0
    for line in traced.lines(0.5):
        steps_nm = np.diff(np.asarray(line), axis=0)
        coast_nm += float(np.hypot(steps_nm[:, 0], steps_nm[:, 1]).sum())
    areas = []
    for points, offsets in zip(*traced.filled(0.5, 2.0), strict=True):
        rings = [points[start:end] for start, end in pairwise(offsets)]
        areas.append(_area(rings[0]) - sum(_area(ring) for ring in rings[1:]))
    return coast_nm, tuple(sorted((area for area in areas if area >= LEAST_LAND_SQ_NM), reverse=True))


def _area(ring: np.ndarray) -> float:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return float(abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) / 2.0)
