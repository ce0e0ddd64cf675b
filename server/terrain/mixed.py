"""Several mosaics of other spacings laid on one lattice, so that the surface through it is nowhere lower than the ground it stands for.

Straight interpolation between posts cuts the crests that stand between them. So the posts of a patch that would cut the surface of the
mosaic they are taken from are raised by as much as it would be cut: then every patch of the new lattice lies on or above that surface.
Where a patch is only in part known to the finer mosaic, its other posts are raised to the coarser one, which rules there.
"""

from __future__ import annotations

import math

import numpy as np

from server.radio.ground import on_post
from server.terrain.lattice import Lattice, bilinear_lattice

ROWS_AT_A_TIME = 256


def lay_over(posts: np.ndarray, lattice: Lattice, source: Lattice, source_posts: np.ndarray) -> None:
    """Give the posts (rows, columns) of a lattice that are still unknown (NaN) the elevations of a mosaic, never lower than its surface.

    Posts that are known and stand beside unknown ones are raised where the mosaic's surface is higher there. [m]
    """
    row = _places(source.north_lat_deg - lattice.north_lat_deg, lattice.step_lat_deg, lattice.rows, source.step_lat_deg)
    column = _places(lattice.west_lon_deg - source.west_lon_deg, lattice.step_lon_deg, lattice.columns, source.step_lon_deg)
    rows, columns = _inside(row, source.rows), _inside(column, source.columns)
    if rows.size == 0 or columns.size == 0:
        return
    across = slice(columns[0], columns[-1] + 1)
    open_before = np.isnan(posts[max(0, rows[0] - 1) : rows[0], across])
    for first in range(rows[0], rows[-1] + 1, ROWS_AT_A_TIME):
        down = slice(first, min(first + ROWS_AT_A_TIME, rows[-1] + 1))
        target = posts[down, across]
        unknown = np.isnan(target)
        below = np.isnan(posts[down.stop : down.stop + 1, across])
        beside = _beside(unknown, open_before, below, posts[down], across)
        open_before = unknown[-1:]
        if not unknown.any() and not beside.any():
            continue
        more = slice(max(rows[0], down.start - 1), min(rows[-1] + 1, down.stop + 1))  # a patch belongs to the rows on both its sides
        wanted = slice(down.start - more.start, down.stop - more.start)
        found = _never_lower(source_posts, row[more], column[across], wanted)
        target[unknown] = found[unknown]
        raised = beside & (found > target)
        target[raised] = found[raised]


def _places(first_deg: float, step_deg: float, count: int, source_step_deg: float) -> np.ndarray:
    """Indices into the source at which the lattice's lines lie."""
    return on_post((first_deg + step_deg * np.arange(count)) / source_step_deg)


def _inside(index: np.ndarray, count: int) -> np.ndarray:
    return np.flatnonzero((index >= 0) & (index <= count - 1))


def _beside(unknown: np.ndarray, above: np.ndarray, below: np.ndarray, rows_of_posts: np.ndarray, across: slice) -> np.ndarray:
    """Tell which known posts share a patch with one that is not known, on the rows before and after and the columns beside too."""
    open_ = np.zeros((unknown.shape[0] + 2, unknown.shape[1] + 2), dtype=bool)
    open_[1:-1, 1:-1] = unknown
    open_[0, 1:-1] = above[0] if above.size else False
    open_[-1, 1:-1] = below[0] if below.size else False
    if across.start > 0:
        open_[1:-1, 0] = np.isnan(rows_of_posts[:, across.start - 1])
    if across.stop < rows_of_posts.shape[1]:
        open_[1:-1, -1] = np.isnan(rows_of_posts[:, across.stop])
    near = np.zeros_like(unknown)
    for down in range(3):
        for right in range(3):
            near |= open_[down : down + unknown.shape[0], right : right + unknown.shape[1]]
    return near & ~unknown


def _never_lower(posts: np.ndarray, row: np.ndarray, column: np.ndarray, wanted: slice) -> np.ndarray:
    """Return elevations for each pair of rows[wanted] and columns (m,) whose own surface is nowhere lower than the one through ``posts``.

    In a patch of the new lattice that no line of the source crosses both surfaces are the same. Where one crosses it, the new one may cut
    a crest: by how much at most is seen at the places where the lines of both meet, and the four posts of the patch are raised by that.
    """
    row_lines, row_at = _lines(row, posts.shape[0])
    column_lines, column_at = _lines(column, posts.shape[1])
    surface = bilinear_lattice(posts, row_lines, column_lines)
    plain = surface[np.ix_(row_at, column_at)]
    between = _straight(_straight(plain, row, row_lines).T, column, column_lines).T
    cut = _span_max(_span_max(surface - between, row_at).T, column_at).T  # of each patch: (rows - 1, columns - 1)
    cut = np.pad(np.nan_to_num(np.maximum(cut, 0.0)), 1)
    raised = np.maximum(np.maximum(cut[:-1, :-1], cut[:-1, 1:]), np.maximum(cut[1:, :-1], cut[1:, 1:]))
    return (plain + raised)[wanted]


def _lines(index: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the lines of both lattices along one axis, rising, and where those of the new one stand among them."""
    own = np.arange(max(0, math.ceil(index[0])), min(count - 1, math.floor(index[-1])) + 1, dtype=np.float64)
    lines = np.unique(np.concatenate((index, own)))
    return lines, np.searchsorted(lines, index)


def _straight(values: np.ndarray, at: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Read rows (n, m) given at rising places (n,) in straight lines at other places (k,): (k, m)."""
    if at.size == 1:
        return np.repeat(values, wanted.size, axis=0)
    before = np.clip(np.searchsorted(at, wanted, side="right") - 1, 0, at.size - 2)
    part = ((wanted - at[before]) / (at[before + 1] - at[before]))[:, np.newaxis]
    whole = np.where(part == 0.0, values[before], np.where(part == 1.0, values[before + 1], np.nan))
    return np.where(np.isnan(whole), (1.0 - part) * values[before] + part * values[before + 1], whole)


def _span_max(values: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Return the greatest known value of rows ends[k]..ends[k + 1], both included: (rows, m) -> (n - 1, m)."""
    if ends.size < 2:
        return np.empty((0, values.shape[1]))
    spans = np.column_stack((ends[:-1], ends[1:] + 1)).ravel()
    padded = np.vstack((values, np.full((1, values.shape[1]), np.nan)))
    return np.fmax.reduceat(padded, spans, axis=0)[::2]
