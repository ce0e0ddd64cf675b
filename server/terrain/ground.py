"""The ground as the radio models read it: mosaics of posts, finest first, mapped into memory and never changed."""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.radio.ground import UNKNOWN_BELOW_M, GridWindow, on_post
from server.terrain.lattice import Lattice, bilinear, bilinear_lattice, span

ROWS_AT_A_TIME = 256

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
        return elevations_m

    def window(self, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> GridWindow | None:
        """Return the posts that cover a rectangle as far as data exists, or None where there is none.

        One mosaic alone in the rectangle, or the finest where it leaves nothing open, comes as a view of the mapped file. Where several
        meet, the posts of the finest lattice are carried over the whole rectangle and filled with ``elevations_m`` (float32, NaN unknown),
        so both ways of asking agree on every post. The window's longitudes are counted on the turn that ``west_deg`` is given in.
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
        for mosaic, _ in met:
            _fill(posts, lattice, mosaic)
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
                for mosaic in mosaics:
                    _fill(posts, lattice, mosaic)
                posts.flags.writeable = False
                self._joined = Mosaic(lattice=lattice, posts=posts)
            return self._joined

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


def _fill(posts: np.ndarray, lattice: Lattice, mosaic: Mosaic) -> None:
    """Give those posts of a lattice that are still unknown the elevations of a mosaic."""
    source = mosaic.lattice
    south_deg = source.north_lat_deg - lattice.north_lat_deg + lattice.step_lat_deg * np.arange(lattice.rows)
    east_deg = lattice.west_lon_deg - source.west_lon_deg + lattice.step_lon_deg * np.arange(lattice.columns)
    row, column = on_post(south_deg / source.step_lat_deg), on_post(east_deg / source.step_lon_deg)
    rows = np.flatnonzero((row >= 0) & (row <= source.rows - 1))
    columns = np.flatnonzero((column >= 0) & (column <= source.columns - 1))
    if rows.size == 0 or columns.size == 0:
        return
    across = slice(columns[0], columns[-1] + 1)
    for first in range(rows[0], rows[-1] + 1, ROWS_AT_A_TIME):
        down = slice(first, min(first + ROWS_AT_A_TIME, rows[-1] + 1))
        target = posts[down, across]
        missing = np.isnan(target)
        if missing.any():
            np.copyto(target, bilinear_lattice(mosaic.posts, row[down], column[across]), where=missing, casting="same_kind")


def _grid_window(lattice: Lattice, posts: np.ndarray) -> GridWindow:
    return GridWindow(
        posts=posts,
        north_lat_deg=lattice.north_lat_deg,
        west_lon_deg=lattice.west_lon_deg,
        step_lat_deg=lattice.step_lat_deg,
        step_lon_deg=lattice.step_lon_deg,
    )
