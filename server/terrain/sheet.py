"""One elevation file, cleaned and laid down as posts in metres: what every reader hands on to be joined."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.lib.format import open_memmap

from server.terrain.lattice import VOID, Lattice

LOWEST_PLAUSIBLE_M = -500.0  # the shore of the Dead Sea lies near -430 m
HIGHEST_PLAUSIBLE_M = 9000.0  # Mount Everest: 8,849 m
PLAUSIBLE = f"{LOWEST_PLAUSIBLE_M:,.0f} to {HIGHEST_PLAUSIBLE_M:,.0f} m"
VOID_MARKERS = (-32768.0, -32767.0, -9999.0, -99999.0, 32767.0, 65535.0)
"""Numbers that elevation files use for "not known", whether or not a tag says so; NaN and floats near 3.4e38 are void as well."""

HUGE = 1e30
MOST_IMPLAUSIBLE_SHARE = 0.01
"""A file with more implausible posts than this does not hold metres above sea level at all."""

ROWS_AT_A_TIME = 256


class FileRefused(Exception):
    """One file cannot be used; the text is the reason, in the user's words. The others still load."""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Posts of one file, or of several joined, in a scratch file of int16 or float32 metres."""

    lattice: Lattice
    posts_file: Path
    whole_metres: bool
    digest: str
    """SHA-256 of the posts."""
    known: int
    implausible: int = 0

    def posts(self) -> np.ndarray:
        """Map the posts, read-only."""
        return np.load(self.posts_file, mmap_mode="r")


@dataclass(frozen=True, kw_only=True)
class Scale:
    """How a file writes elevations: metres = (number * factor + offset) * metres_per_unit; ``nodata`` is its own void number."""

    nodata: float | None = None
    factor: float = 1.0
    offset: float = 0.0
    metres_per_unit: float = 1.0

    @property
    def is_plain(self) -> bool:
        return (self.factor, self.offset, self.metres_per_unit) == (1.0, 0.0, 1.0)


def clean(numbers: np.ndarray, scale: Scale) -> tuple[np.ndarray, int]:
    """Turn the numbers of a file into metres.

    Returns
    -------
    (array of float32, int)
        Elevations [m], NaN where void or implausible; and how many were implausible, void markers not counted.
    """
    values = numbers.astype(np.float64)
    void = ~np.isfinite(values) | (np.abs(values) > HUGE) | np.isin(values, VOID_MARKERS)
    if scale.nodata is not None:
        nodata = np.float64(np.float32(scale.nodata)) if numbers.dtype == np.float32 else scale.nodata
        void |= values == nodata
    values[void] = 0.0
    metres = (values * scale.factor + scale.offset) * scale.metres_per_unit
    implausible = ~void & ((metres < LOWEST_PLAUSIBLE_M) | (metres > HIGHEST_PLAUSIBLE_M))
    return np.where(void | implausible, np.nan, metres).astype(np.float32), int(np.count_nonzero(implausible))


def lay_down(strips: Iterable[np.ndarray], *, lattice: Lattice, scale: Scale, integers: bool, posts_file: Path) -> Sheet:
    """Clean strips of rows, north first, and write them to a scratch file.

    ``integers`` says that the source holds whole numbers; with a plain scale the posts are then int16.

    Raises
    ------
    FileRefused
        Where no post is known, or so many are implausible that the file cannot hold metres above sea level.
    """
    dtype = np.dtype("<i2") if integers and scale.is_plain else np.dtype("<f4")
    posts = open_memmap(posts_file, mode="w+", dtype=dtype, shape=(lattice.rows, lattice.columns))
    digest = hashlib.sha256()
    top = known = implausible = 0
    whole_metres = True
    for strip in strips:
        metres, strip_implausible = clean(strip, scale)
        is_known = ~np.isnan(metres)
        known += int(np.count_nonzero(is_known))
        implausible += strip_implausible
        whole_metres = whole_metres and bool(np.all(np.rint(metres[is_known]) == metres[is_known]))
        written = as_posts(metres, dtype)
        posts[top : top + len(strip)] = written
        digest.update(written.tobytes())
        top += len(strip)
    posts.flush()
    if implausible > MOST_IMPLAUSIBLE_SHARE * max(1, known + implausible):
        raise FileRefused(
            f"{implausible:,} of its {known + implausible:,} heights lie outside {PLAUSIBLE}: "
            "it does not hold elevations in the unit it states. Check its unit and where it came from."
        )
    if known == 0:
        raise FileRefused("Every post in it is void: it holds no ground.")
    return Sheet(
        lattice=lattice,
        posts_file=posts_file,
        whole_metres=whole_metres,
        digest=digest.hexdigest(),
        known=known,
        implausible=implausible,
    )


def as_posts(metres: np.ndarray, dtype: np.dtype) -> np.ndarray:
    """Write elevations [m] as posts of another dtype, void for void. int16 is asked only for whole metres."""
    if dtype.kind == "f":
        if metres.dtype.kind == "f":
            return metres.astype(dtype)
        return np.where(metres == VOID, np.nan, metres).astype(dtype)
    if metres.dtype.kind == "i":
        return metres.astype(dtype)
    return np.where(np.isnan(metres), VOID, metres).astype(dtype)
