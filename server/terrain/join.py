"""Joins sheets whose posts stand on one lattice into mosaics, and fills the sea.

Where two sheets hold the same post: a known post beats a void; of two known posts the one from the sheet that begins further north, then
further west, then with the lower content hash stands. So the result depends on the sheets alone, never on the order of files.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from server.errors import InputProblem
from server.terrain.lattice import VOID, Lattice
from server.terrain.sea import Sea
from server.terrain.sheet import ROWS_AT_A_TIME, Sheet, as_posts, new_posts, start_digest

MOST_POSTS_IN_A_MOSAIC = 3_000_000_000
"""About 6 GB of int16: forty by twenty degrees at 3 seconds, or fifteen by fifteen at 1 second."""

MOST_POSTS_OF_SEA = 400_000_000
"""Twenty by fourteen degrees at 3 seconds."""


@dataclass(frozen=True, kw_only=True)
class _Rectangle:
    """A part of an endless lattice."""

    row: int
    column: int
    rows: int
    columns: int

    def touches(self, other: _Rectangle) -> bool:
        """Tell whether the rectangles overlap or stand one step apart, so that the ground between them is known."""
        return (
            self.row <= other.row + other.rows
            and other.row <= self.row + self.rows
            and self.column <= other.column + other.columns
            and other.column <= self.column + self.columns
        )


@dataclass(frozen=True, kw_only=True)
class _Placed(_Rectangle):
    """Where a sheet stands on an endless lattice."""

    sheet: Sheet


def join(sheets: Sequence[Sheet], *, scratch: Path, name: str, sea: Sea | None = None) -> list[Sheet]:
    """Join sheets of one projection, or of none, into one mosaic for every group that touches.

    With a sea, the coarsest lattice is carried on over the sea's bounding box, and posts in the sea of every mosaic that are void or lie
    below zero become 0 m: a ray passes over the sea, not over its floor. The
    mosaics are written to scratch files that begin with ``name``.
    """
    in_order = sorted(sheets, key=_order)
    lattices: list[list[Sheet]] = []
    for sheet in in_order:
        for group in lattices:
            if group[0].lattice.shares_posts_with(sheet.lattice):
                group.append(sheet)
                break
        else:
            lattices.append([sheet])

    coarsest = max(lattices, key=lambda group: group[0].lattice.step_lat_deg * group[0].lattice.step_lon_deg)
    mosaics: list[Sheet] = []
    for group in lattices:
        placed = _place(group)
        rectangles: list[_Rectangle] = [*placed]
        if sea is not None and group is coarsest:
            rectangles.append(_place_sea(sea, group[0].lattice, placed))
        for cluster in _clusters(rectangles):
            posts_file = scratch / f"{name}-{len(mosaics)}.npy"
            mosaics.append(_write(cluster, origin=group[0], posts_file=posts_file, sea=sea))
    return mosaics


def _order(sheet: Sheet) -> tuple:
    lattice = sheet.lattice
    return (-lattice.north_lat_deg, lattice.west_lon_deg, sheet.digest, lattice.step_lat_deg, lattice.step_lon_deg, lattice.rows)


def _place(group: list[Sheet]) -> list[_Placed]:
    """Give each sheet its row and column on the lattice of the first; the widest empty gap round the earth becomes the outside."""
    first = group[0].lattice
    turn = first.columns_per_turn if group[0].projection is None else None
    columns = [round((sheet.lattice.west_lon_deg - first.west_lon_deg) / first.step_lon_deg) for sheet in group]
    if turn is not None:
        base, gap = _after_widest_gap([(column % turn, sheet.lattice.columns) for column, sheet in zip(columns, group, strict=True)], turn)
        columns = [base + (column - base) % turn for column in columns]
    placed = [
        _Placed(
            row=round((first.north_lat_deg - sheet.lattice.north_lat_deg) / first.step_lat_deg),
            column=column,
            rows=sheet.lattice.rows,
            columns=sheet.lattice.columns,
            sheet=sheet,
        )
        for column, sheet in zip(columns, group, strict=True)
    ]
    if turn is not None and gap == 0:  # a closed ring: its first column stands again at its end
        placed += [replace(p, column=base + turn, columns=1) for p in placed if p.column == base]
    return placed


def _after_widest_gap(intervals: list[tuple[int, int]], turn: int) -> tuple[int, int]:
    """Return the start column after the widest stretch of the circle that no interval covers, and that stretch's width.

    The width is 0 where the intervals close the ring edge to edge, and negative where they overlap all round.
    """
    in_order = sorted(intervals)
    reach = max(start + length for start, length in in_order) - turn
    widest, base = in_order[0][0] - reach, in_order[0][0]
    for start, length in in_order:
        if start - reach > widest:
            widest, base = start - reach, start
        reach = max(reach, start + length)
    return base, widest


def _place_sea(sea: Sea, lattice: Lattice, placed: list[_Placed]) -> _Rectangle:
    """Return the rectangle of the lattice that encloses the sea, on the turn round the earth nearest to the sheets."""
    middle = sum(p.column + p.columns / 2 for p in placed) / len(placed)
    south_deg, north_deg, west_deg, east_deg = sea.bounds_near(lattice.west_lon_deg + middle * lattice.step_lon_deg)
    top = round(np.floor((lattice.north_lat_deg - north_deg) / lattice.step_lat_deg + 1e-6))
    bottom = round(np.ceil((lattice.north_lat_deg - south_deg) / lattice.step_lat_deg - 1e-6))
    left = round(np.floor((west_deg - lattice.west_lon_deg) / lattice.step_lon_deg + 1e-6))
    right = round(np.ceil((east_deg - lattice.west_lon_deg) / lattice.step_lon_deg - 1e-6))
    rows, columns = bottom - top + 1, right - left + 1
    if rows * columns > MOST_POSTS_OF_SEA:
        raise InputProblem(
            f"The sea reaches over {north_deg - south_deg:.1f} x {east_deg - west_deg:.1f} degrees, {rows:,} x {columns:,} posts on these "
            f"tiles; {MOST_POSTS_OF_SEA:,} are allowed. Draw a smaller sea.",
            code="sea-too-large",
            place="sea",
        )
    return _Rectangle(row=top, column=left, rows=rows, columns=columns)


def _clusters(rectangles: list[_Rectangle]) -> list[list[_Rectangle]]:
    """Part rectangles into groups in which each touches another."""
    waiting = list(rectangles)
    clusters = []
    while waiting:
        cluster = [waiting.pop(0)]
        for member in cluster:  # grows while it is walked
            cluster += [p for p in waiting if member.touches(p)]
            waiting = [p for p in waiting if not member.touches(p)]
        clusters.append(cluster)
    return clusters


def _write(cluster: list[_Rectangle], *, origin: Sheet, posts_file: Path, sea: Sea | None) -> Sheet:
    """Write one cluster, strip by strip, so that memory never holds more than a strip."""
    top = min(p.row for p in cluster)
    left = min(p.column for p in cluster)
    rows = max(p.row + p.rows for p in cluster) - top
    columns = max(p.column + p.columns for p in cluster) - left
    sheets = sorted((p for p in cluster if isinstance(p, _Placed)), key=lambda p: (p.row, p.column, p.sheet.digest))
    whole_metres = all(p.sheet.whole_metres for p in sheets)
    dtype = np.dtype("<i2") if whole_metres else np.dtype("<f4")
    if rows * columns > MOST_POSTS_IN_A_MOSAIC:
        raise InputProblem(
            f"Joined, the ground would be {rows:,} x {columns:,} posts; {MOST_POSTS_IN_A_MOSAIC:,} are allowed. Load fewer tiles at once.",
            code="terrain-too-large",
            place="terrain",
        )
    lattice = _lattice_of(sheets, origin.lattice, top, left, rows, columns)
    if origin.projection is None:
        lattice = _folded(lattice)
    posts = new_posts(posts_file, dtype=dtype, shape=(rows, columns))
    digest = start_digest(dtype, posts.shape)
    void = VOID if whole_metres else np.nan
    known = in_sea = 0
    for strip_top in range(0, rows, ROWS_AT_A_TIME):
        strip = np.full((min(ROWS_AT_A_TIME, rows - strip_top), columns), void, dtype=dtype)
        for p in sheets:
            _fill(strip, top + strip_top, left, p)
        is_void = strip == VOID if whole_metres else np.isnan(strip)
        low = is_void | (strip < 0)
        if sea is not None and low.any():
            r, c = np.nonzero(low)
            lat_deg = lattice.north_lat_deg - (strip_top + r) * lattice.step_lat_deg
            wet = sea.covers(lat_deg=lat_deg, lon_deg=lattice.west_lon_deg + c * lattice.step_lon_deg)
            strip[r[wet], c[wet]] = 0
            is_void[r[wet], c[wet]] = False
            in_sea += int(np.count_nonzero(wet))
        known += int(np.count_nonzero(~is_void))
        posts[strip_top : strip_top + len(strip)] = strip
        digest.update(strip.tobytes())
    posts.flush()
    return Sheet(
        lattice=lattice,
        posts_file=posts_file,
        whole_metres=whole_metres,
        digest=digest.hexdigest(),
        known=known,
        highest_m=max((p.sheet.highest_m for p in sheets), default=0.0),
        sea=in_sea,
        projection=origin.projection,
    )


def _lattice_of(sheets: list[_Placed], origin: Lattice, top: int, left: int, rows: int, columns: int) -> Lattice:
    """Return the lattice of a mosaic; its corner comes from a sheet's own header where one stands there, so that no rounding creeps in."""
    lattice = origin.cut(row=top, column=left, rows=rows, columns=columns)
    for p in sheets:
        if p.row == top:
            lattice = replace(lattice, north_lat_deg=p.sheet.lattice.north_lat_deg)
            break
    for p in sheets:
        if p.column == left:
            lattice = replace(lattice, west_lon_deg=p.sheet.lattice.west_lon_deg)
            break
    return lattice


def _folded(lattice: Lattice) -> Lattice:
    """Count the west edge from -180 up to 180."""
    return lattice.turned(-int(np.floor((lattice.west_lon_deg + 180.0) / 360.0)))


def _fill(strip: np.ndarray, strip_top: int, left: int, placed: _Placed) -> None:
    """Put those posts of a sheet that fall into a strip, and that no earlier sheet knows, into the strip."""
    first = max(strip_top, placed.row)
    last = min(strip_top + len(strip), placed.row + placed.rows)
    if first >= last:
        return
    part = as_posts(placed.sheet.posts()[first - placed.row : last - placed.row, : placed.columns], strip.dtype)
    target = strip[first - strip_top : last - strip_top, placed.column - left : placed.column - left + placed.columns]
    open_posts = target == VOID if strip.dtype.kind == "i" else np.isnan(target)
    target[open_posts] = part[open_posts]
