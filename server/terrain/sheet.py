"""One elevation file, cleaned and laid down as posts in metres: what every reader hands on to be joined."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib.format import open_memmap

from server.errors import InputProblem
from server.terrain.lattice import VOID, Lattice

LOWEST_PLAUSIBLE_M = -12_000.0  # the deepest sea floor lies near -10,930 m; whether it is sea or land is for below_zero.py
HIGHEST_PLAUSIBLE_M = 9000.0  # Mount Everest: 8,849 m
PLAUSIBLE = f"{LOWEST_PLAUSIBLE_M:,.0f} to {HIGHEST_PLAUSIBLE_M:,.0f} m"
VOID_MARKERS = (-32768.0, -32767.0, -9999.0, -99999.0, -999999.0, -9999999.0, 32767.0, 65535.0)
"""Numbers that elevation files use for "not known", whether or not a tag says so; NaN and floats near 3.4e38 are void as well."""

SHY_MARKERS = (-99.0, -999.0)
"""Void in a file in which no height stands next to them, one more or one less: real ground passes through its neighbours."""

HUGE = 1e30
MOST_IMPLAUSIBLE_SHARE = 0.01
"""A file with more implausible posts than this does not hold metres above sea level at all."""

ROWS_AT_A_TIME = 256


class FileRefused(Exception):
    """One file cannot be used; the text is the reason, in the user's words. The others still load."""


@dataclass(frozen=True, kw_only=True)
class Projection:
    """What the numbers of a lattice mean while it is not yet in latitude and longitude.

    ``crs_wkt`` is the horizontal reference system. Without ``pixel_axes`` the lattice holds its northing and easting. With them, the six
    numbers (a, b, c, d, e, f) of a turned raster, the lattice counts pixels: x = a column + b row + c, y = d column + e row + f.
    """

    crs_wkt: str
    pixel_axes: tuple[float, float, float, float, float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Posts of one file, or of several joined, in a scratch file of int16 or float32 metres."""

    lattice: Lattice
    posts_file: Path
    whole_metres: bool
    digest: str
    """SHA-256 of the posts and of their type and shape."""
    known: int
    highest_m: float
    implausible: int = 0
    marked_void: int = 0
    """Posts that hold a marker of SHY_MARKERS and were taken as void."""
    sea: int = 0
    """Posts set to sea level inside a drawn sea."""
    projection: Projection | None = None
    """None where the lattice is in latitude and longitude on WGS 84."""

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


def clean(numbers: np.ndarray, scale: Scale, markers: tuple[float, ...] = ()) -> tuple[np.ndarray, int]:
    """Turn the numbers of a file into metres. ``markers`` are void too, beside VOID_MARKERS.

    Returns
    -------
    (array of float32, int)
        Elevations [m], NaN where void or implausible; and how many were implausible, void markers not counted.
    """
    values = numbers.astype(np.float64)
    void = ~np.isfinite(values) | (np.abs(values) > HUGE) | np.isin(values, VOID_MARKERS + markers)
    if scale.nodata is not None:
        nodata = np.float64(np.float32(scale.nodata)) if numbers.dtype == np.float32 else scale.nodata
        void |= values == nodata
    values[void] = 0.0
    metres = (values * scale.factor + scale.offset) * scale.metres_per_unit
    implausible = ~void & ((metres < LOWEST_PLAUSIBLE_M) | (metres > HIGHEST_PLAUSIBLE_M))
    return np.where(void | implausible, np.nan, metres).astype(np.float32), int(np.count_nonzero(implausible))


def new_posts(posts_file: Path, *, dtype: np.dtype, shape: tuple[int, int]) -> np.memmap:
    """Map a new scratch file of posts for writing; its room on the disk is claimed at once, for a mapped file cannot fail gently later."""
    posts = open_memmap(posts_file, mode="w+", dtype=dtype, shape=shape)
    try:
        with posts_file.open("r+b") as stream:
            os.posix_fallocate(stream.fileno(), 0, posts_file.stat().st_size)
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT):
            raise
        raise InputProblem(
            f"The disk of the terrain store has no room for {posts.nbytes / 1e6:,.0f} MB more. Make room and load again.",
            code="disk-full",
            place="terrain",
        ) from error
    return posts


def start_digest(dtype: np.dtype, shape: tuple[int, int]):
    """Begin the hash that names posts by their content; the caller adds the posts, row by row."""
    return hashlib.sha256(f"{dtype.str} {shape[0]} {shape[1]}".encode())


def lay_down(
    strips: Iterable[np.ndarray],
    *,
    lattice: Lattice,
    scale: Scale,
    integers: bool,
    posts_file: Path,
    projection: Projection | None = None,
) -> Sheet:
    """Clean strips of rows, north first, and write them to a scratch file.

    ``integers`` says that the source holds whole numbers; with a plain scale the posts are then int16.

    Raises
    ------
    FileRefused
        Where no post is known, or so many are implausible that the file cannot hold metres above sea level.
    """
    dtype = np.dtype("<i2") if integers and scale.is_plain else np.dtype("<f4")
    posts = new_posts(posts_file, dtype=dtype, shape=(lattice.rows, lattice.columns))
    digest = start_digest(dtype, posts.shape)
    top = known = implausible = 0
    highest_m = LOWEST_PLAUSIBLE_M
    whole_metres = True
    shy = _ShyMarkers()
    for strip in strips:
        shy.look_at(strip)
        metres, strip_implausible = clean(strip, scale)
        is_known = ~np.isnan(metres)
        known += int(np.count_nonzero(is_known))
        implausible += strip_implausible
        highest_m = max(highest_m, float(np.max(metres, initial=LOWEST_PLAUSIBLE_M, where=is_known)))
        whole_metres = whole_metres and bool(np.all(np.rint(metres[is_known]) == metres[is_known]))
        written = as_posts(metres, dtype)
        posts[top : top + len(strip)] = written
        digest.update(written.tobytes())
        top += len(strip)
    posts.flush()
    markers = shy.found()
    marked = 0
    if markers:
        marked, digest = _without(posts, [(marker * scale.factor + scale.offset) * scale.metres_per_unit for marker in markers])
        known -= marked
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
        highest_m=highest_m,
        implausible=implausible,
        marked_void=marked,
        projection=projection,
    )


class _ShyMarkers:
    """Counts the numbers that may be void markers, and their neighbours."""

    def __init__(self) -> None:
        self._counts = dict.fromkeys((marker + by for marker in SHY_MARKERS for by in (-1.0, 0.0, 1.0)), 0)

    def look_at(self, numbers: np.ndarray) -> None:
        """Count in a strip."""
        near = numbers[(numbers >= min(SHY_MARKERS) - 1.0) & (numbers <= max(SHY_MARKERS) + 1.0)]
        for number in self._counts:
            self._counts[number] += int(np.count_nonzero(near == number))

    def found(self) -> tuple[float, ...]:
        """The markers of this file."""
        return tuple(
            marker for marker in SHY_MARKERS if self._counts[marker] and not self._counts[marker - 1.0] and not self._counts[marker + 1.0]
        )


def _without(posts: np.memmap, marked_m: list[float]) -> tuple[int, Any]:
    """Make the posts that hold a marker void; return how many, and the hash of all."""
    digest, marked = start_digest(posts.dtype, posts.shape), 0
    void = VOID if posts.dtype.kind == "i" else np.nan
    for top in range(0, posts.shape[0], ROWS_AT_A_TIME):
        strip = posts[top : top + ROWS_AT_A_TIME]
        holds = np.logical_or.reduce([np.isclose(strip, marker_m, atol=1e-3) for marker_m in marked_m])
        marked += int(np.count_nonzero(holds))
        strip[holds] = void
        digest.update(strip.tobytes())
    posts.flush()
    return marked, digest


def as_posts(metres: np.ndarray, dtype: np.dtype) -> np.ndarray:
    """Write elevations [m] as posts of another dtype, void for void. int16 is asked only for whole metres."""
    if dtype.kind == "f":
        if metres.dtype.kind == "f":
            return metres.astype(dtype)
        return np.where(metres == VOID, np.nan, metres).astype(dtype)
    if metres.dtype.kind == "i":
        return metres.astype(dtype)
    return np.where(np.isnan(metres), VOID, metres).astype(dtype)
