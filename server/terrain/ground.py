"""The ground as the radio models read it: mosaics of posts, finest first, mapped into memory and never changed."""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from server.radio.ground import UNKNOWN_BELOW_M, GridWindow
from server.terrain.below_zero import LowGround, doubtful_ground
from server.terrain.lattice import Lattice, bilinear, span
from server.terrain.mixed import ROWS_AT_A_TIME, lay_over

LARGEST_JOINED_POSTS = 64_000_000
"""Mosaics that make up no more posts than these are joined once and kept in memory (256 MB at most), not for every window anew."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Mosaic:
    """Posts [m] on one lattice; unknown where not greater than UNKNOWN_BELOW_M."""

    lattice: Lattice
    posts: np.ndarray


class EmptyTerrain:
    """The ground of a region that has none: unknown everywhere."""

    fingerprint = "no-ground"

    def elevations_m(self, *, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        """Return NaN for every place. Shapes (n,) in and out."""
        return np.full(np.broadcast_shapes(np.shape(lat_deg), np.shape(lon_deg)), np.nan)

    def window(self, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> None:
        """Return None: there are no posts."""
        return None


class Terrain:
    """Ground known from elevation tiles. Implements server.radio.ground.Ground.

    A place takes its elevation from the finest mosaic that knows it, else from the next; each mosaic is a bilinear surface.
    """

    def __init__(self, *, fingerprint: str, mosaics: Sequence[Mosaic]):
        self._fingerprint = fingerprint
        self._mosaics = sorted(mosaics, key=_fineness)
        self._joining = threading.Lock()
        self._joined: Mosaic | None = None

    @property
    def fingerprint(self) -> str:
        """Content hash of posts and lattices."""
        return self._fingerprint

    @property
    def mosaics(self) -> tuple[Mosaic, ...]:
        """The mosaics it is made of, finest first."""
        return tuple(self._mosaics)

    @cached_property
    def doubtful(self) -> LowGround | None:
        """Ground below zero that was loaded as land and may be sea floor; None where there is none. Reads every post once."""
        return doubtful_ground([mosaic.posts for mosaic in self._mosaics])

    def elevations_m(self, *, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        """Return ground elevations.

        Parameters
        ----------
        lat_deg, lon_deg : arrays (n,)
            WGS 84. [deg] Longitudes may run beyond 180.

        Returns
        -------
        array (n,)
            Metres above sea level; NaN where the ground is not known and where an input is not finite.
        """
        lat_deg, lon_deg = np.broadcast_arrays(np.asarray(lat_deg, dtype=np.float64), np.asarray(lon_deg, dtype=np.float64))
        elevations_m = np.full(lat_deg.shape, np.nan)
        missing = np.isfinite(lat_deg) & np.isfinite(lon_deg)
        for mosaic in self._mosaics:
            if not missing.any():
                break
            row, column = mosaic.lattice.row_index(lat_deg[missing]), mosaic.lattice.column_index(lon_deg[missing])
            elevations_m[missing] = bilinear(mosaic.posts, row, column)
            missing = missing & np.isnan(elevations_m)
        if missing.any() and len(self._mosaics) > 1:
            elevations_m[missing] = self._in_seams_m(lat_deg[missing], lon_deg[missing])
        return elevations_m

    def _in_seams_m(self, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        """Return the ground (n,) between two mosaics whose edges stand less than a step apart: the higher of both edges. [m]

        Tiles that leave their last line of posts to the neighbour, and a neighbour of another spacing, leave such a seam. It is no more
        ground than lies between two posts of one mosaic. NaN where a place does not lie between two edges.
        """
        sides = np.full((4, lat_deg.size), np.nan)
        for mosaic in self._mosaics:
            lattice = mosaic.lattice
            row, column = lattice.row_index(lat_deg), lattice.column_index(lon_deg)
            around = 360.0 / lattice.step_lon_deg
            column = np.where(column > around - 1.0, column - around, column)
            last_row, last_column = lattice.rows - 1.0, lattice.columns - 1.0
            edge_m = bilinear(mosaic.posts, np.clip(row, 0.0, last_row), np.clip(column, 0.0, last_column))
            within = (row >= 0.0) & (row <= last_row), (column >= 0.0) & (column <= last_column)
            beyond = (
                within[1] & (row > last_row) & (row < last_row + 1.0),
                within[1] & (row < 0.0) & (row > -1.0),
                within[0] & (column > last_column) & (column < last_column + 1.0),
                within[0] & (column < 0.0) & (column > -1.0),
            )
            for side, here in enumerate(beyond):
                sides[side] = np.where(here, np.fmax(sides[side], edge_m), sides[side])
        north_south, west_east = np.maximum(sides[0], sides[1]), np.maximum(sides[2], sides[3])  # NaN unless both edges are known
        return np.fmax(north_south, west_east)

    def window(self, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> GridWindow | None:
        """Return the posts that cover a rectangle as far as data exists, or None where there is none.

        One mosaic alone in the rectangle, or the finest where it leaves nothing open, comes as a view of the mapped file. Where several
        meet, the posts of the finest lattice are carried over the whole rectangle (float32, NaN unknown), and those taken from another
        mosaic stand as high as its surface within one step (server/terrain/mixed.py): the patches between the window's posts are nowhere
        lower than ``elevations_m``, the surface of the finest mosaic that knows a place. The window's longitudes are counted on the turn
        that ``west_deg`` is given in.
        """
        met = [pair for mosaic in self._mosaics for pair in _meeting(mosaic, south_deg, north_deg, west_deg, east_deg)]
        if not met:
            return None
        cuts = [cut for _, cut in met]
        finest = cuts[0]
        if len(cuts) == 1 or (_encloses(finest.lattice, south_deg, north_deg, west_deg, east_deg) and _is_complete(finest.posts)):
            return _grid_window(finest.lattice, finest.posts)
        if met[0][0].posts is self._mosaics[0].posts and self._joined_is_small():
            joined = _meeting(self._whole(), south_deg, north_deg, west_deg, east_deg)
            if len(joined) == 1:
                return _grid_window(joined[0][1].lattice, joined[0][1].posts)
        lattice = _common_lattice([cut.lattice for cut in cuts])
        posts = np.full((lattice.rows, lattice.columns), np.nan, dtype=np.float32)
        self._lay(posts, lattice, [mosaic for mosaic, _ in met])
        return _grid_window(lattice, posts)

    def _joined_is_small(self) -> bool:
        lattice = _common_lattice([mosaic.lattice for mosaic in self._turned_to_the_finest()])
        return lattice.rows * lattice.columns <= LARGEST_JOINED_POSTS

    def _whole(self) -> Mosaic:
        """Return all mosaics joined on the posts of the finest."""
        with self._joining:
            if self._joined is None:
                mosaics = self._turned_to_the_finest()
                lattice = _common_lattice([mosaic.lattice for mosaic in mosaics])
                posts = np.full((lattice.rows, lattice.columns), np.nan, dtype=np.float32)
                self._lay(posts, lattice, mosaics)
                posts.flags.writeable = False
                self._joined = Mosaic(lattice=lattice, posts=posts)
            return self._joined

    def _lay(self, posts: np.ndarray, lattice: Lattice, mosaics: Sequence[Mosaic]) -> None:
        """Fill the posts of a lattice from mosaics, finest first; then those in the seams between them."""
        for mosaic in mosaics:
            lay_over(posts, lattice, mosaic.lattice, mosaic.posts)
        for rows, columns in _seams(lattice, [mosaic.lattice for mosaic in mosaics]):
            lat_deg = lattice.north_lat_deg - lattice.step_lat_deg * np.arange(rows.start, rows.stop)
            lon_deg = lattice.west_lon_deg + lattice.step_lon_deg * np.arange(columns.start, columns.stop)
            grid = [each.ravel() for each in np.meshgrid(lat_deg, lon_deg, indexing="ij")]
            seam = self.elevations_m(lat_deg=grid[0], lon_deg=grid[1]).reshape(lat_deg.size, lon_deg.size)
            part = posts[rows, columns]
            np.copyto(part, seam, where=np.isnan(part), casting="same_kind")

    def _turned_to_the_finest(self) -> list[Mosaic]:
        """Return the mosaics with their longitudes counted from the turn nearest to that of the finest."""
        west_deg = self._mosaics[0].lattice.west_lon_deg
        return [
            Mosaic(lattice=mosaic.lattice.turned(round((west_deg - mosaic.lattice.west_lon_deg) / 360.0)), posts=mosaic.posts)
            for mosaic in self._mosaics
        ]


def _fineness(mosaic: Mosaic) -> tuple:
    lattice = mosaic.lattice
    return (lattice.step_lat_deg * lattice.step_lon_deg, -lattice.north_lat_deg, lattice.west_lon_deg, lattice.rows, lattice.columns)


def _meeting(mosaic: Mosaic, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> list[tuple[Mosaic, Mosaic]]:
    """Cut the rectangle out of a mosaic: once, twice where it meets both ends of a mosaic that goes round the earth, or never.

    Each cut comes after the whole mosaic, both with their longitudes on the turn of the rectangle.
    """
    lattice = mosaic.lattice
    rows = span(
        (lattice.north_lat_deg - north_deg) / lattice.step_lat_deg,
        (lattice.north_lat_deg - south_deg) / lattice.step_lat_deg,
        lattice.rows,
    )
    met = []
    for turn in range(
        math.ceil((west_deg - lattice.east_lon_deg) / 360.0 - 1e-9), math.floor((east_deg - lattice.west_lon_deg) / 360.0 + 1e-9) + 1
    ):
        turned = lattice.turned(turn)
        columns = span(
            (west_deg - turned.west_lon_deg) / turned.step_lon_deg, (east_deg - turned.west_lon_deg) / turned.step_lon_deg, turned.columns
        )
        if rows is None or columns is None:
            continue
        (top, bottom), (left, right) = rows, columns
        cut = Mosaic(
            lattice=turned.cut(row=top, column=left, rows=bottom - top + 1, columns=right - left + 1),
            posts=mosaic.posts[top : bottom + 1, left : right + 1],
        )
        met.append((Mosaic(lattice=turned, posts=mosaic.posts), cut))
    return met


def _encloses(lattice: Lattice, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> bool:
    slack_lat_deg, slack_lon_deg = 1e-6 * lattice.step_lat_deg, 1e-6 * lattice.step_lon_deg
    return (
        lattice.south_lat_deg <= south_deg + slack_lat_deg
        and lattice.north_lat_deg >= north_deg - slack_lat_deg
        and lattice.west_lon_deg <= west_deg + slack_lon_deg
        and lattice.east_lon_deg >= east_deg - slack_lon_deg
    )


def _is_complete(posts: np.ndarray) -> bool:
    return all(bool(np.all(posts[top : top + ROWS_AT_A_TIME] > UNKNOWN_BELOW_M)) for top in range(0, posts.shape[0], ROWS_AT_A_TIME))


def _common_lattice(cuts: list[Lattice]) -> Lattice:
    """Extend the first (finest) lattice by whole steps until it covers all the others."""
    finest = cuts[0]
    north_deg = max(cut.north_lat_deg for cut in cuts)
    south_deg = min(cut.south_lat_deg for cut in cuts)
    west_deg = min(cut.west_lon_deg for cut in cuts)
    east_deg = max(cut.east_lon_deg for cut in cuts)
    top = math.ceil((finest.north_lat_deg - north_deg) / finest.step_lat_deg - 1e-6)
    bottom = math.floor((finest.north_lat_deg - south_deg) / finest.step_lat_deg + 1e-6)
    left = math.ceil((west_deg - finest.west_lon_deg) / finest.step_lon_deg - 1e-6)
    right = math.floor((east_deg - finest.west_lon_deg) / finest.step_lon_deg + 1e-6)
    return finest.cut(row=top, column=left, rows=bottom - top + 1, columns=right - left + 1)


def _seams(lattice: Lattice, sources: Sequence[Lattice]) -> list[tuple[slice, slice]]:
    """The lines of a lattice that lie less than a step beyond an edge of a source: rows and columns of each strip."""
    strips = []
    for source in sources:
        north = (lattice.north_lat_deg - source.north_lat_deg) / lattice.step_lat_deg
        south = (lattice.north_lat_deg - source.south_lat_deg) / lattice.step_lat_deg
        west = (source.west_lon_deg - lattice.west_lon_deg) / lattice.step_lon_deg
        east = (source.east_lon_deg - lattice.west_lon_deg) / lattice.step_lon_deg
        step_rows, step_columns = source.step_lat_deg / lattice.step_lat_deg, source.step_lon_deg / lattice.step_lon_deg
        rows, columns = _whole_lines(north, south, lattice.rows), _whole_lines(west, east, lattice.columns)
        strips += [(_whole_lines(north - step_rows, north, lattice.rows), columns)]
        strips += [(_whole_lines(south, south + step_rows, lattice.rows), columns)]
        strips += [(rows, _whole_lines(west - step_columns, west, lattice.columns))]
        strips += [(rows, _whole_lines(east, east + step_columns, lattice.columns))]
    return [(rows, columns) for rows, columns in strips if rows.start < rows.stop and columns.start < columns.stop]


def _whole_lines(first: float, last: float, count: int) -> slice:
    return slice(max(0, math.ceil(first - 1e-6)), min(count, math.floor(last + 1e-6) + 1))


def _grid_window(lattice: Lattice, posts: np.ndarray) -> GridWindow:
    return GridWindow(
        posts=posts,
        north_lat_deg=lattice.north_lat_deg,
        west_lon_deg=lattice.west_lon_deg,
        step_lat_deg=lattice.step_lat_deg,
        step_lon_deg=lattice.step_lon_deg,
    )
