"""The ground as the radio models read it: mosaics of posts, finest first, mapped into memory and never changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.radio.ground import UNKNOWN_BELOW_M, GridWindow
from server.terrain.lattice import Lattice, bilinear, span

ROWS_AT_A_TIME = 256


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

    @property
    def fingerprint(self) -> str:
        """Content hash of posts and lattices."""
        return self._fingerprint

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
        finite = np.isfinite(lat_deg) & np.isfinite(lon_deg)
        elevations_m = np.full(lat_deg.shape, np.nan)
        elevations_m[finite] = self._surface_m(lat_deg[finite], lon_deg[finite])
        return elevations_m

    def window(self, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> GridWindow | None:
        """Return the posts that cover a rectangle as far as data exists, or None where there is none.

        One mosaic alone in the rectangle, or the finest where it leaves nothing open, comes as a view of the mapped file. Where several
        meet, the posts of the finest lattice are carried over the whole rectangle and filled with ``elevations_m`` (float32, NaN unknown),
        so both ways of asking agree on every post. The window's longitudes are counted on the turn that ``west_deg`` is given in.
        """
        cuts = [cut for mosaic in self._mosaics for cut in _cuts(mosaic, south_deg, north_deg, west_deg, east_deg)]
        if not cuts:
            return None
        finest = cuts[0]
        if len(cuts) == 1 or (_encloses(finest.lattice, south_deg, north_deg, west_deg, east_deg) and _is_complete(finest.posts)):
            return _grid_window(finest.lattice, finest.posts)
        lattice = _common_lattice([cut.lattice for cut in cuts])
        posts = np.empty((lattice.rows, lattice.columns), dtype=np.float32)
        lon_deg = lattice.west_lon_deg + lattice.step_lon_deg * np.arange(lattice.columns)
        for top in range(0, lattice.rows, ROWS_AT_A_TIME):
            rows = np.arange(top, min(top + ROWS_AT_A_TIME, lattice.rows))
            lat_deg = lattice.north_lat_deg - lattice.step_lat_deg * rows
            posts[rows[0] : rows[-1] + 1] = self._surface_m(lat_deg[:, np.newaxis], lon_deg[np.newaxis, :])
        return _grid_window(lattice, posts)

    def _surface_m(self, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        """Return elevations of finite places whose latitudes and longitudes broadcast together."""
        elevations_m = np.full(np.broadcast_shapes(lat_deg.shape, lon_deg.shape), np.nan)
        for mosaic in self._mosaics:
            found_m = bilinear(mosaic.posts, mosaic.lattice.row_index(lat_deg), mosaic.lattice.column_index(lon_deg))
            elevations_m = np.where(np.isnan(elevations_m), found_m, elevations_m)
        return elevations_m


def _fineness(mosaic: Mosaic) -> tuple:
    lattice = mosaic.lattice
    return (lattice.step_lat_deg * lattice.step_lon_deg, -lattice.north_lat_deg, lattice.west_lon_deg, lattice.rows, lattice.columns)


def _cuts(mosaic: Mosaic, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> list[Mosaic]:
    """Cut the rectangle out of a mosaic: once, twice where it meets both ends of a mosaic that goes round the earth, or never."""
    lattice = mosaic.lattice
    rows = span(
        (lattice.north_lat_deg - north_deg) / lattice.step_lat_deg,
        (lattice.north_lat_deg - south_deg) / lattice.step_lat_deg,
        lattice.rows,
    )
    cuts = []
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
        cuts.append(
            Mosaic(
                lattice=turned.cut(row=top, column=left, rows=bottom - top + 1, columns=right - left + 1),
                posts=mosaic.posts[top : bottom + 1, left : right + 1],
            )
        )
    return cuts


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


def _grid_window(lattice: Lattice, posts: np.ndarray) -> GridWindow:
    return GridWindow(
        posts=posts,
        north_lat_deg=lattice.north_lat_deg,
        west_lon_deg=lattice.west_lon_deg,
        step_lat_deg=lattice.step_lat_deg,
        step_lon_deg=lattice.step_lon_deg,
    )
