"""The large shape of invented land: where coasts and ranges run, and what rivers make of it, on a coarse lattice of nodes.

Only whole numbers, + - * / and square roots are used, so one seed makes the same nodes on every machine. Heights are above the old sea
in metres of no particular scale; invented.py drowns and stretches them to what was asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.terrain.seeded_noise import layered, noise

METRES_PER_NM = 1852.0
NODES_ROUND = 7  # nodes beyond each edge of the box
TURNS, YEARS_A_TURN = 18, 150_000.0
SOFTNESS_PER_YEAR = 1.0e-5
DRY_BEFORE = 0.7  # so much of the sea is there before the rivers cut; the rest drowns their mouths: bays and islets
LEAST_OUTLET = 0.001  # part of the nodes that rivers end in where there is to be no sea


@dataclass(frozen=True, kw_only=True)
class Shape:
    """What decides the large shape: the size of the box [NM], share of sea, roughness 0 to 1, and which way ridges run."""

    seed: int
    across_nm: float
    sea_share: float
    roughness: float
    ridges_true_deg: float


def river_heights(x_nm: np.ndarray, y_nm: np.ndarray, shape: Shape) -> np.ndarray:
    """Return the heights of nodes above the old sea, which is 0. [m]

    Parameters
    ----------
    x_nm, y_nm : arrays (columns,) and (rows,)
        Evenly spaced places east of and north of the middle of the box, row 0 in the north, NODES_ROUND of them beyond each edge. [NM]
    """
    from server.terrain._drainage_kernels import NEIGHBOURS, carve, catchment_areas, drain, smooth  # brings in numba, which loads slowly

    x, y = np.broadcast_to(x_nm, (y_nm.size, x_nm.size)), np.broadcast_to(y_nm[:, None], (y_nm.size, x_nm.size))
    step_x_m, step_y_m = (x_nm[1] - x_nm[0]) * METRES_PER_NM, (y_nm[0] - y_nm[1]) * METRES_PER_NM
    seed, warped = shape.seed * 1_009, _warped(x, y, shape)
    ranges = _ranges(*warped, shape)
    land = _land(*warped, ranges, shape)
    hills = layered(x / 9.0, y / 9.0, seed=seed + 5, layers=2)
    shore = np.minimum(1.0, 0.25 + _inland(land))
    uplift = ((0.5 + 0.35 * hills + 1.8 * ranges) * shore * 1e-3).ravel()
    along, across = _turned(*warped, shape.ridges_true_deg)
    softness = (SOFTNESS_PER_YEAR * (1.0 + 0.6 * layered(across / 5.0, along / 20.0, seed=seed + 6, layers=2))).ravel()
    step_nm = y_nm[0] - y_nm[1]
    pull = (1.0 + 0.5 * noise(x / step_nm, y / step_nm, seed=seed + 7)).ravel()
    heights = np.ascontiguousarray(np.where(land, 20.0 * (1.0 + noise(x / 3.0, y / 3.0, seed=seed + 8)), 0.0))
    for _ in range(TURNS):
        order, receiver, distance = drain(heights, land, pull, step_x_m, step_y_m, NEIGHBOURS)
        areas = catchment_areas(order, receiver, step_x_m * step_y_m)
        carve(heights.reshape(-1), order, receiver, distance, areas, uplift, softness, YEARS_A_TURN)
        heights = smooth(heights, land, 0.08)
    for _ in range(1 + int(5.0 * (1.0 - shape.roughness))):
        heights = smooth(heights, land, 0.3)
    return heights


def _warped(x: np.ndarray, y: np.ndarray, shape: Shape) -> tuple[np.ndarray, np.ndarray]:
    """Push places about, so that coasts and ranges come out crooked. [NM]"""
    nm, seed = 0.07 * shape.across_nm, shape.seed * 1_009
    wide = 0.22 * shape.across_nm
    return x + nm * layered(x / wide, y / wide, seed=seed + 1, layers=3), y + nm * layered(x / wide, y / wide, seed=seed + 2, layers=3)


def _turned(x: np.ndarray, y: np.ndarray, direction_true_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Return how far places lie along a direction and to the right of it."""
    east, north = sine(direction_true_deg), cosine(direction_true_deg)
    return east * x + north * y, north * x - east * y


def _ranges(x: np.ndarray, y: np.ndarray, shape: Shape) -> np.ndarray:
    """Return how much each place belongs to a range, 0 to 1: long ridges the way they are to run, higher here and lower there."""
    along, across = _turned(x, y, shape.ridges_true_deg)
    wide = min(45.0, max(6.0, 0.3 * shape.across_nm))
    crest = layered(across / wide, along / (4.0 * wide), seed=shape.seed * 1_009 + 3, layers=2)
    share = np.maximum(0.0, 1.0 - 2.4 * np.abs(crest))
    return share * share * (0.65 + 0.35 * noise(x / wide, y / wide, seed=shape.seed * 1_009 + 9))


def _land(x: np.ndarray, y: np.ndarray, ranges: np.ndarray, shape: Shape) -> np.ndarray:
    """Tell which nodes are land before the sea rises: the higher part of a broad noise, drawn out along the ridges."""
    along, across = _turned(x, y, shape.ridges_true_deg)
    wide = min(140.0, max(8.0, 0.5 * shape.across_nm))
    height = layered(across / wide, along / (1.5 * wide), seed=shape.seed * 1_009 + 4, layers=4) + 0.35 * ranges
    in_the_box = height[NODES_ROUND:-NODES_ROUND, NODES_ROUND:-NODES_ROUND]
    wet = max(1, int(max(DRY_BEFORE * shape.sea_share, LEAST_OUTLET) * in_the_box.size))
    return height > np.sort(in_the_box, axis=None)[wet - 1]


def _inland(land: np.ndarray) -> np.ndarray:
    """Return how far inland nodes lie, from 0 at the coast to 1 eight nodes from it."""
    inside, depth = land.copy(), np.zeros(land.shape)
    for _ in range(8):
        depth += inside
        wider = np.pad(inside, 1, mode="edge")
        inside = inside & wider[:-2, 1:-1] & wider[2:, 1:-1] & wider[1:-1, :-2] & wider[1:-1, 2:]
    return depth / 8.0


def cosine(angle_deg: float) -> float:
    """Return the cosine from its power series, the same to the last bit everywhere, which no library's own promises."""
    x = (angle_deg % 360.0 - 180.0) * (math.pi / 180.0)
    total = term = 1.0
    for n in range(2, 40, 2):
        term = -term * x * x / (n * (n - 1))
        total += term
    return -total


def sine(angle_deg: float) -> float:
    """Return the sine in the same way."""
    return cosine(angle_deg - 90.0)
