"""Invented ground: posts of land that exists nowhere, made from a seed. One seed makes the same posts, bit for bit, on every machine.

The whole box is shaped once on a coarse lattice (invented_rivers.py); posts are read from it by a smooth surface with fine noise on top,
any rows and columns at a time, so that tiles cut from one box agree on their common edges.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from server.errors import InputProblem, Problem
from server.terrain.invented_rivers import NODES_ROUND, Shape, cosine, river_heights
from server.terrain.lattice import Lattice
from server.terrain.seeded_noise import lattice_noise
from server.terrain.sheet import HIGHEST_PLAUSIBLE_M, ROWS_AT_A_TIME

SPACINGS_S = (3, 9)
MOST_POSTS = 30_000_000
"""Twenty square degrees at 3 seconds, or 180 at 9 seconds: some seconds of work and 60 MB."""

MOST_SEED = 2_000_000_000
MOST_SEA = 0.95
LEAST_HIGHEST_M, MOST_HIGHEST_M = 10.0, 8_000.0
FARTHEST_NORTH_DEG = 80.0
MOST_NODES = 300_000
FINEST_NODES_S = 18
MOST_LOOKED_AT = 1_200_000  # posts that decide where the sea stands and which is the highest
LEVELS = 1 << 16
DETAIL_LAYERS = 4


@dataclass(frozen=True, kw_only=True)
class InventedLand:
    """What is asked of invented ground; ``west_deg`` > ``east_deg`` crosses the antimeridian. Ridges run both ways along their direction.

    Raises
    ------
    InputProblem
        With everything that cannot be used, each with the name of its field as place.
    """

    seed: int
    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float
    spacing_s: int = 3
    sea_share: float = 0.4
    highest_m: float = 1_800.0
    roughness: float = 0.5
    ridges_true_deg: float = 30.0

    def __post_init__(self):
        problems = tuple(_problems(self))
        if problems:
            raise InputProblem(
                "This ground cannot be invented. " + " ".join(problem.message for problem in problems),
                code="land-refused",
                problems=problems,
            )

    @cached_property
    def lattice(self) -> Lattice:
        """The posts that cover the box, on whole multiples of the spacing."""
        per_degree = 3600 // self.spacing_s
        top, bottom = _up(self.north_deg * per_degree), _down(self.south_deg * per_degree)
        left = _down(self.west_deg * per_degree)
        right = _up((self.east_deg + (360.0 if self.east_deg < self.west_deg else 0.0)) * per_degree)
        return Lattice(
            north_lat_deg=top / per_degree,
            west_lon_deg=left / per_degree,
            step_lat_deg=1.0 / per_degree,
            step_lon_deg=1.0 / per_degree,
            rows=top - bottom + 1,
            columns=right - left + 1,
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class InventedGround:
    """The shape of invented land, ready to be asked for posts. ``sketch`` gives every ``sketch_step``-th post."""

    land: InventedLand
    nodes: np.ndarray
    posts_per_node: int
    highest_node_m: float
    sea_level_m: float
    summit_m: float
    sketch_step: int

    def posts(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Return the posts at these rows and columns of the land's lattice, int16 (rows, columns): the sea 0, land 1 or more. [m]"""
        raw = self._raw(rows, columns)
        stretch = self.land.highest_m / (self.summit_m - self.sea_level_m)
        metres = np.minimum(np.rint((raw - self.sea_level_m) * stretch), np.rint(self.land.highest_m))
        return np.where(raw > self.sea_level_m, np.maximum(metres, 1.0), 0.0).astype(np.int16)

    def strips(self) -> Iterator[np.ndarray]:
        """Yield all posts, some rows at a time, from the north."""
        lattice = self.land.lattice
        for top in range(0, lattice.rows, ROWS_AT_A_TIME):
            yield self.posts(np.arange(top, min(top + ROWS_AT_A_TIME, lattice.rows)), np.arange(lattice.columns))

    def sketch(self) -> tuple[Lattice, np.ndarray]:
        """Return a coarser lattice over the whole box and its posts, each one that ``strips`` gives as well (but beyond the last edge)."""
        lattice, step = self.land.lattice, self.sketch_step
        rows, columns = _every(step, lattice.rows + step - 1), _every(step, lattice.columns + step - 1)
        coarse = Lattice(
            north_lat_deg=lattice.north_lat_deg,
            west_lon_deg=lattice.west_lon_deg,
            step_lat_deg=step * lattice.step_lat_deg,
            step_lon_deg=step * lattice.step_lon_deg,
            rows=rows.size,
            columns=columns.size,
        )
        return coarse, self.posts(rows, columns)

    def _raw(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Return heights above the old sea: a cubic B-spline through the nodes, and noise that grows with the height. [m]"""
        down = sum(weight[:, None] * self.nodes[index] for index, weight in _spline(rows, self.posts_per_node))
        across = sum(weight * down[:, index] for index, weight in _spline(columns, self.posts_per_node))
        x_nm, y_nm = _places_nm(self.land, rows, columns)
        width_nm = 6.0 * self.posts_per_node * self.land.spacing_s / 60.0
        detail, strength = np.zeros(across.shape), 1.0
        for layer in range(DETAIL_LAYERS):
            detail += strength * lattice_noise(x_nm / width_nm, y_nm / width_nm, seed=self.land.seed * 1_009 + 20 + layer)
            width_nm, strength = width_nm * 0.5, strength * 0.45
        share = np.minimum(1.0, across * (2.5 / self.highest_node_m))
        return across + (0.01 + 0.07 * self.land.roughness) * self.highest_node_m * share * detail


@lru_cache(maxsize=4)
def invent(land: InventedLand) -> InventedGround:
    """Shape the land of a seed and find where its sea must stand; asked again for the same land, the answer is at hand."""
    lattice = land.lattice
    posts_per_node = _posts_per_node(land)
    columns, rows = (np.arange(-NODES_ROUND, -(-count // posts_per_node) + NODES_ROUND + 1) for count in (lattice.columns, lattice.rows))
    x_nm, y_nm = _places_nm(land, rows * posts_per_node, columns * posts_per_node)
    across_nm = min(lattice.rows * land.spacing_s / 60.0, lattice.columns * land.spacing_s / 60.0 * _narrowing(land))
    shape = Shape(
        seed=land.seed, across_nm=across_nm, sea_share=land.sea_share, roughness=land.roughness, ridges_true_deg=land.ridges_true_deg
    )
    nodes = river_heights(x_nm, y_nm, shape)
    step = max(1, math.ceil(math.sqrt(lattice.rows * lattice.columns / MOST_LOOKED_AT)))
    dry = InventedGround(
        land=land,
        nodes=nodes,
        posts_per_node=posts_per_node,
        highest_node_m=float(nodes.max()),
        sea_level_m=0.0,
        summit_m=1.0,
        sketch_step=step,
    )
    raw = dry._raw(_every(step, lattice.rows), _every(step, lattice.columns))
    return InventedGround(
        land=land,
        nodes=nodes,
        posts_per_node=posts_per_node,
        highest_node_m=dry.highest_node_m,
        sea_level_m=_level_with(raw, land.sea_share),
        summit_m=float(raw.max()),
        sketch_step=step,
    )


def _level_with(raw: np.ndarray, share: float) -> float:
    """Return the level at or below which a share of the heights lies, to one part in LEVELS of their range."""
    lowest, highest = float(raw.min()), float(raw.max())
    step = (highest - lowest) / LEVELS
    if share == 0.0:
        return lowest - step
    counts = np.bincount(np.minimum(((raw - lowest) / step).astype(np.int64), LEVELS - 1).ravel(), minlength=LEVELS)
    return lowest + step * float(np.searchsorted(np.cumsum(counts), share * raw.size, side="left"))


def _spline(posts: np.ndarray, posts_per_node: int) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return the four nodes round each post and their weights on a uniform cubic B-spline: smooth, never beyond its nodes."""
    node = posts // posts_per_node + NODES_ROUND
    t = (posts % posts_per_node) / posts_per_node
    s = 1.0 - t
    weights = (s * s * s, 3.0 * t * t * t - 6.0 * t * t + 4.0, 3.0 * s * s * s - 6.0 * s * s + 4.0, t * t * t)
    return [(node + k - 1, weight / 6.0) for k, weight in enumerate(weights)]


def _places_nm(land: InventedLand, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return x east and y north of the middle of the box for rows and columns of the lattice. [NM]"""
    lattice = land.lattice
    x_nm = (columns - (lattice.columns - 1) / 2.0) * (land.spacing_s / 60.0) * _narrowing(land)
    return x_nm, ((lattice.rows - 1) / 2.0 - rows) * (land.spacing_s / 60.0)


def _narrowing(land: InventedLand) -> float:
    """Return how much narrower a degree of longitude is than one of latitude in the middle of the box."""
    return cosine((land.south_deg + land.north_deg) / 2.0)


def _posts_per_node(land: InventedLand) -> int:
    """Return the fewest posts from node to node with which the rivers' lattice keeps to its size."""
    rows, columns = land.lattice.rows, land.lattice.columns
    posts = -(-FINEST_NODES_S // land.spacing_s)
    while (rows / posts + 2 * NODES_ROUND) * (columns / posts + 2 * NODES_ROUND) > MOST_NODES:
        posts += 1
    return posts


def _every(step: int, count: int) -> np.ndarray:
    return np.arange(0, count, step)


def _up(posts: float) -> int:
    return math.ceil(posts - 1e-6)


def _down(posts: float) -> int:
    return math.floor(posts + 1e-6)


def _problems(land: InventedLand) -> Iterator[Problem]:
    def outside(place: str, what: str, given: float, lowest: float, highest: float, unit: str = "") -> Iterator[Problem]:
        if not lowest <= given <= highest:
            yield Problem(place=place, message=f"{what}: {given:,g}{unit} is outside what is allowed: {lowest:,g} to {highest:,g}{unit}.")

    yield from outside("seed", "Seed", land.seed, 0, MOST_SEED)
    yield from outside("sea_share", "Share of sea", land.sea_share, 0.0, MOST_SEA)
    yield from outside("highest_m", "Highest ground", land.highest_m, LEAST_HIGHEST_M, min(MOST_HIGHEST_M, HIGHEST_PLAUSIBLE_M), " m")
    yield from outside("roughness", "Roughness", land.roughness, 0.0, 1.0)
    yield from outside("ridges_true_deg", "Ridges run towards", land.ridges_true_deg, 0.0, 360.0, " degrees true")
    edges = (land.south_deg, land.north_deg, land.west_deg, land.east_deg)
    if land.spacing_s not in SPACINGS_S:
        yield Problem(place="spacing_s", message=f"Posts can stand 3 or 9 seconds apart, not {land.spacing_s}.")
    elif not all(map(math.isfinite, edges)) or not land.south_deg < land.north_deg or land.west_deg == land.east_deg:
        yield Problem(
            place="south",
            message="The box of invented ground needs a south edge below its north edge, and a west edge apart from its east edge.",
        )
    elif max(abs(land.south_deg), abs(land.north_deg)) > FARTHEST_NORTH_DEG:
        yield Problem(place="north", message=f"Ground can be invented up to {FARTHEST_NORTH_DEG:g} degrees north or south.")
    elif land.lattice.rows * land.lattice.columns > MOST_POSTS:
        yield Problem(place="spacing_s", message=_too_many(land))


def _too_many(land: InventedLand) -> str:
    posts = land.lattice.rows * land.lattice.columns
    wide_deg, high_deg = (land.east_deg - land.west_deg) % 360.0, land.north_deg - land.south_deg
    advice = "Make the box smaller"
    if land.spacing_s == SPACINGS_S[0] and posts / 9.0 < MOST_POSTS:
        advice += f", or take posts {SPACINGS_S[1]} seconds apart"
    return (
        f"A box of {high_deg:g} by {wide_deg:g} degrees with posts {land.spacing_s} seconds apart holds {posts:,} posts; "
        f"{MOST_POSTS:,} is the most. {advice}."
    )
