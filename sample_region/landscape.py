"""The invented ground: where the land is, where it rises, what rivers make of it. Heights in metres on one lattice of 3-second posts.

Everything is worked out with exact operations from whole-number noise, so that every machine makes the same posts.
"""

from __future__ import annotations

import numpy as np

from sample_region import sketch
from sample_region.sketch import COS_MIDDLE
from server.terrain._drainage_kernels import NEIGHBOURS, carve, catchment_areas, drain, smooth
from server.terrain.seeded_noise import noise

SOUTH_DEG, NORTH_DEG, WEST_DEG, EAST_DEG = 42, 45, -38, -34
POSTS_PER_DEGREE = 1200
STEPS_S = ((48, 60), (24, 30), (12, 15))  # north and east steps of the lattices on which rivers run: nearly square on the ground
YEARS = (150_000.0, 100_000.0, 50_000.0)
TURNS = (60, 30, 16)
SOFTNESS_PER_YEAR = 1.0e-5
DROWNED_M = 22.0  # the sea rose by this after the rivers had cut their valleys: bays and islets
METRES_PER_NM = 1852.0


def places_nm(steps_s: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Return x east and y north of 43.5 N 36 W [NM] for the nodes of a lattice, row 0 in the north."""
    rows = (NORTH_DEG - SOUTH_DEG) * 3600 // steps_s[0] + 1
    columns = (EAST_DEG - WEST_DEG) * 3600 // steps_s[1] + 1
    y = 90.0 - np.arange(rows, dtype=np.float64) * steps_s[0] / 60.0
    x = (np.arange(columns, dtype=np.float64) * steps_s[1] / 60.0 - 120.0) * COS_MIDDLE
    return np.broadcast_to(x, (rows, columns)), np.broadcast_to(y[:, None], (rows, columns))


def finer(coarse: np.ndarray, times: tuple[int, int]) -> np.ndarray:
    """Part each step of the rows and of the columns into so many, on a uniform cubic B-spline: smooth, never beyond its nodes."""
    for parts in times:
        padded = np.concatenate((coarse[:1], coarse, coarse[-1:]))
        before, here, after = padded[:-2], padded[1:-1], padded[2:]
        later = np.concatenate((after[1:], after[-1:]))
        result = np.empty(((coarse.shape[0] - 1) * parts + 1, coarse.shape[1]))
        for k in range(parts):
            t = k / parts
            s = 1.0 - t
            weights = (s * s * s, 3.0 * t * t * t - 6.0 * t * t + 4.0, 3.0 * s * s * s - 6.0 * s * s + 4.0, t * t * t)
            values = (weights[0] * before + weights[1] * here + weights[2] * after + weights[3] * later) / 6.0
            result[k::parts] = values if k == 0 else values[:-1]
        coarse = result.T
    return coarse


def eroded(steps_s: tuple[int, int], years: float, turns: int, start: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
    """Let rivers carve the land on one lattice; returns heights above the old sea [m] and where land is."""
    x, y = places_nm(steps_s)
    land = sketch.land(x, y)
    heights = start if start is not None else 20.0 * (1.0 + noise(x / 3.0, y / 3.0, seed=11))
    heights = np.ascontiguousarray(np.where(land, heights, 0.0))
    uplift = sketch.uplift_m_per_year(x, y).ravel()
    softness = SOFTNESS_PER_YEAR * sketch.softness(x, y).ravel()
    pull = (1.0 + 0.5 * noise(x / steps_s[0] * 60.0, y / steps_s[0] * 60.0, seed=12)).ravel()
    step_x_m, step_y_m = _steps_m(steps_s)
    for _ in range(turns):
        order, receiver, distance = drain(heights, land, pull, step_x_m, step_y_m, NEIGHBOURS)
        areas = catchment_areas(order, receiver, step_x_m * step_y_m)
        carve(heights.reshape(-1), order, receiver, distance, areas, uplift, softness, years)
        heights = smooth(heights, land, 0.08)
    return heights, land


def with_plateau(heights: np.ndarray, land: np.ndarray, steps_s: tuple[int, int]) -> np.ndarray:
    """Press a part of the land up to a tableland of low relief, then let rivers cut its edges for a while."""
    x, y = places_nm(steps_s)
    share, tableland = sketch.plateau(x, y)
    tableland = tableland + 0.15 * (heights - 500.0)
    heights = np.where(land & (heights < tableland), heights + share * (tableland - heights), heights)
    return eroded(steps_s, 8_000.0, 12, heights)[0]


def lakes(heights: np.ndarray, land: np.ndarray, steps_s: tuple[int, int]) -> np.ndarray:
    """Return the level of the lake that covers each node, or nothing (-1). [m above the old sea]"""
    x, y = places_nm(steps_s)
    step_x_m, step_y_m = _steps_m(steps_s)
    order, receiver, _ = drain(heights, land, np.ones(heights.size), step_x_m, step_y_m, NEIGHBOURS)
    areas = catchment_areas(order, receiver, 1.0)
    flat, levels = heights.reshape(-1), np.full(heights.size, -1.0)
    for lat_deg, lon_deg, depth_m in sketch.LAKES:
        ex, ey = (x - sketch.to_nm(lat_deg, lon_deg)[0]).ravel(), (y - sketch.to_nm(lat_deg, lon_deg)[1]).ravel()
        mouth = int(np.argmax(np.where(ex * ex + ey * ey < 1.5 * 1.5, areas, 0.0)))
        above = np.zeros(heights.size, dtype=bool)
        above[mouth] = True
        for here in order:
            above[here] |= above[receiver[here]]
        level = flat[mouth] + depth_m
        levels[above & (flat < level)] = level
    return levels.reshape(heights.shape)


def _steps_m(steps_s: tuple[int, int]) -> tuple[float, float]:
    """Return the steps of a lattice east and north. [m]"""
    return steps_s[1] / 60.0 * METRES_PER_NM * COS_MIDDLE, steps_s[0] / 60.0 * METRES_PER_NM


def with_lakes(posts: np.ndarray, levels: np.ndarray, times: tuple[int, int]) -> np.ndarray:
    """Fill the posts of lakes up to their level; the shore runs where the ground rises through it."""
    wide = levels
    for shift in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        wide = np.maximum(wide, np.roll(levels, shift, axis=(0, 1)))
    filled = np.repeat(np.repeat(wide, times[0], axis=0), times[1], axis=1)
    filled = filled[times[0] // 2 :, times[1] // 2 :][: posts.shape[0], : posts.shape[1]]
    return np.maximum(posts, filled)


def raw_ground_m() -> np.ndarray:
    """Make the whole ground: heights above the sea of today on 3-second posts, row 0 in the north, before places are built on. [m]"""
    heights = None
    for steps_s, years, turns in zip(STEPS_S, YEARS, TURNS, strict=True):
        heights, land = eroded(steps_s, years, turns, None if heights is None else finer(heights, (2, 2)))
    heights = with_plateau(heights, land, steps_s)
    for _ in range(3):
        heights = smooth(heights, land, 0.2)
    times = (steps_s[0] // 3, steps_s[1] // 3)
    posts = with_lakes(finer(heights, times), lakes(heights, land, steps_s), times)
    return np.maximum(posts - DROWNED_M, 0.0)
