"""Ground below zero: is it sea floor, over which a ray passes at sea level, or land that really lies below the sea?

A file that also holds depths would let a signal dive under the sea. Inside a drawn sea every post below zero is sea. Elsewhere the posts
below zero are looked at in connected parts, by cells of 16 by 16 posts. A part that is small and shallow stays as it is. A larger one is
doubtful when it is open (it reaches the edge of the data, or ground that is not known) or lies deeper than any land, and then a person must
say what it is. A basin that is closed and no deeper than the lowest land, such as a valley below the sea, is land in any case.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

import numpy as np

from server.errors import InputProblem
from server.terrain.lattice import VOID
from server.terrain.sheet import ROWS_AT_A_TIME, Sheet, new_posts, start_digest

LOWEST_LAND_M = -500.0
"""The shore of the Dead Sea, the lowest land there is, lies near -430 m."""

CELL = 16
SMALL_CELLS, SHALLOW_M = 64, -20.0
"""A part of fewer cells than this that is no deeper is noise of the survey, or a quarry: an error of 20 m at most."""


class BelowZero(StrEnum):
    """What a person says of connected ground below zero."""

    ASK = "ask"
    SEA = "sea"
    LAND = "land"


@dataclass(frozen=True, kw_only=True)
class LowGround:
    """Doubtful ground below zero: how many posts, which share of the known ones, and how deep it goes. [m]"""

    posts: int
    share: float
    lowest_m: float

    def in_words(self) -> str:
        """Tell how much there is of it."""
        return f"{self.share * 100.0:.1f} % of the posts lie below zero, down to {self.lowest_m:,.0f} m"


@dataclass(frozen=True, kw_only=True)
class _Part:
    mosaic: int
    number: int
    posts: int
    lowest_m: float


def settle(mosaics: Sequence[Sheet], answer: BelowZero, *, scratch: Path) -> tuple[list[Sheet], int, int]:
    """Set doubtful ground below zero to sea level where the answer says so.

    Returns
    -------
    (mosaics, int, int)
        The mosaics, how many posts were set to sea level, and how many below zero stay as land.

    Raises
    ------
    InputProblem
        There is doubtful ground and nobody has said what it is (code below-zero).
    """
    labels, parts, below = _all_parts(mosaic.posts() for mosaic in mosaics)
    low = _low_ground(parts, known=sum(mosaic.known for mosaic in mosaics))
    if low is None or answer is BelowZero.LAND:
        return list(mosaics), 0, below
    if answer is BelowZero.ASK:
        raise InputProblem(
            f"{low.in_words()}: is that sea floor, or land? Say which: over sea a signal passes at sea level, and a height counts from "
            "there.",
            code="below-zero",
            place="below_zero",
        )
    made, lifted = [], 0
    for number, (mosaic, label) in enumerate(zip(mosaics, labels, strict=True)):
        wanted = [part.number for part in parts if part.mosaic == number]
        sheet, count = _lifted(mosaic, np.isin(label, wanted), scratch / f"sea-level-{number}.npy") if wanted else (mosaic, 0)
        made.append(sheet)
        lifted += count
    return made, lifted, below - lifted


def doubtful_ground(mosaics: Sequence[np.ndarray]) -> LowGround | None:
    """Return what is doubtful in the posts of mosaics [m] that were loaded as they are; None where nothing is."""
    _, parts, _ = _all_parts(mosaics)
    return _low_ground(parts, known=sum(_known(posts) for posts in mosaics)) if parts else None


def _known(posts: np.ndarray) -> int:
    return sum(int(np.count_nonzero(posts[top : top + ROWS_AT_A_TIME] > VOID)) for top in range(0, len(posts), ROWS_AT_A_TIME))


def _low_ground(parts: Sequence[_Part], *, known: int) -> LowGround | None:
    if not parts:
        return None
    posts = sum(part.posts for part in parts)
    return LowGround(posts=posts, share=posts / max(1, known), lowest_m=min(part.lowest_m for part in parts))


def _all_parts(mosaics: Iterable[np.ndarray]) -> tuple[list[np.ndarray], list[_Part], int]:
    """Return the labels of the cells of each mosaic, the doubtful parts of all, and how many posts lie below zero."""
    labels, parts, below = [], [], 0
    for number, posts in enumerate(mosaics):
        label, found, count = _parts_of(posts, number)
        labels.append(label)
        parts += found
        below += count
    return labels, parts, below


def _parts_of(posts: np.ndarray, number: int) -> tuple[np.ndarray, list[_Part], int]:
    """Number the parts below zero; return the labels of the cells, the doubtful parts, and how many posts lie below zero in all."""
    rows, columns = -(-posts.shape[0] // CELL), -(-posts.shape[1] // CELL)
    lowest_m, count, void = np.zeros((rows, columns)), np.zeros((rows, columns), dtype=np.int64), np.zeros((rows, columns), dtype=bool)
    first_columns = np.arange(0, posts.shape[1], CELL)
    for row in range(rows):
        strip = np.asarray(posts[row * CELL : (row + 1) * CELL], dtype=np.float32)
        unknown = ~(strip > VOID)  # NaN too
        low = np.where(unknown, 0.0, np.minimum(strip, 0.0))
        lowest_m[row] = np.minimum.reduceat(low.min(axis=0), first_columns)
        count[row] = np.add.reduceat((low < 0.0).sum(axis=0), first_columns)
        void[row] = np.logical_or.reduceat(unknown.any(axis=0), first_columns)
    label = np.zeros((rows, columns), dtype=np.int64)
    if not count.any():
        return label, [], 0
    from server.terrain._below_zero_kernels import number_parts

    parts = number_parts(count > 0, label)
    open_cells = void.copy()
    open_cells[[0, -1], :] = True
    open_cells[:, [0, -1]] = True
    cells = np.bincount(label.ravel(), minlength=parts + 1)
    posts_of = np.bincount(label.ravel(), weights=count.ravel(), minlength=parts + 1).astype(np.int64)
    is_open = np.bincount(label.ravel(), weights=open_cells.ravel(), minlength=parts + 1) > 0
    lowest_of = np.zeros(parts + 1)
    np.minimum.at(lowest_of, label.ravel(), lowest_m.ravel())
    doubtful = [
        _Part(mosaic=number, number=part, posts=int(posts_of[part]), lowest_m=float(lowest_of[part]))
        for part in range(1, parts + 1)
        if (cells[part] >= SMALL_CELLS or lowest_of[part] < SHALLOW_M) and (is_open[part] or lowest_of[part] < LOWEST_LAND_M)
    ]
    return label, doubtful, int(count.sum())


def _lifted(mosaic: Sheet, wanted: np.ndarray, posts_file: Path) -> tuple[Sheet, int]:
    """Write a mosaic anew with the posts below zero of some cells at zero."""
    old = mosaic.posts()
    posts = new_posts(posts_file, dtype=old.dtype, shape=old.shape)
    digest = start_digest(old.dtype, old.shape)
    lifted = 0
    for top in range(0, old.shape[0], ROWS_AT_A_TIME):
        strip = np.array(old[top : top + ROWS_AT_A_TIME])
        cells = np.repeat(np.repeat(wanted[top // CELL : -(-(top + len(strip)) // CELL)], CELL, axis=0), CELL, axis=1)
        low = (strip < 0) & (strip > VOID) & cells[: strip.shape[0], : strip.shape[1]]
        strip[low] = 0
        lifted += int(np.count_nonzero(low))
        posts[top : top + len(strip)] = strip
        digest.update(strip.tobytes())
    posts.flush()
    return replace(mosaic, posts_file=posts_file, digest=digest.hexdigest()), lifted
