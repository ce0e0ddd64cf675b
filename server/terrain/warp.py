"""Carries projected or turned sheets over to a lattice of latitude and longitude, once, on loading.

Sheets of one projection are joined first, so that no seam opens between them. The carrying over is bilinear with the rule of the ground
itself: void where one of the four posts round the place is void.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from pyproj import CRS, Geod, Transformer
from pyproj.exceptions import ProjError

from server.radio.ground import on_post
from server.terrain.join import join
from server.terrain.lattice import Lattice, bilinear
from server.terrain.sheet import ROWS_AT_A_TIME, FileRefused, Projection, Scale, Sheet, lay_down

WGS84 = CRS.from_user_input("OGC:CRS84")
GEOD = Geod(ellps="WGS84")
MOST_NORTHERLY_DEG = 89.0
EDGE_POINTS = 101


def carry_over(sheets: Sequence[Sheet], projection: Projection, *, scratch: Path, name: str) -> list[Sheet]:
    """Return sheets of latitude and longitude, in scratch files that begin with ``name``, for all the sheets of one projection.

    Raises
    ------
    FileRefused
        Nothing is left: the ground is smaller than the four posts that a place needs.
    """
    carried = []
    for number, joined in enumerate(join(sheets, scratch=scratch, name=f"{name}-joined")):
        lattice = _lattice_for(joined.lattice, projection)
        if lattice.rows < 2 or lattice.columns < 2:
            raise FileRefused("It is too small to be carried over to latitude and longitude.")
        strips = _strips(joined, projection, lattice)
        posts_file = scratch / f"{name}-carried-{number}.npy"
        carried.append(lay_down(strips, lattice=lattice, scale=Scale(), integers=False, posts_file=posts_file))
    return carried


def check_place(lattice: Lattice, projection: Projection) -> None:
    """Refuse a sheet whose edges do not lie on the earth, or lie round a pole."""
    try:
        lon_deg, lat_deg = _edges_deg(lattice, projection)
    except ProjError as error:
        raise FileRefused("Its coordinate reference system cannot be turned into latitude and longitude.") from error
    if not (np.isfinite(lon_deg).all() and np.isfinite(lat_deg).all()) or np.abs(lat_deg).max() > 90.0 + lattice.step_lat_deg:
        raise FileRefused("Its corners do not lie on the earth: its coordinates do not fit its coordinate reference system.")
    if not CRS.from_wkt(projection.crs_wkt).is_geographic and (np.abs(lat_deg).max() > MOST_NORTHERLY_DEG or np.ptp(lon_deg) > 180.0):
        raise FileRefused("It lies round a pole, where a lattice of latitude and longitude does not hold.")


def distance_from_wgs84_deg(lattice: Lattice, projection: Projection) -> float:
    """Return how far the edges of a geographic sheet move [deg] when its datum is turned into WGS 84."""
    x, y = _edges(lattice)
    lon_deg, lat_deg = _to_wgs84(projection).transform(x, y)
    east_deg = (lon_deg - x + 180.0) % 360.0 - 180.0
    return float(max(np.abs(east_deg).max(), np.abs(lat_deg - y).max()))


def _strips(sheet: Sheet, projection: Projection, lattice: Lattice) -> Iterator[np.ndarray]:
    posts = sheet.posts()
    from_wgs84 = Transformer.from_crs(WGS84, CRS.from_wkt(projection.crs_wkt), always_xy=True)
    lon_deg = lattice.west_lon_deg + lattice.step_lon_deg * np.arange(lattice.columns)
    for top in range(0, lattice.rows, ROWS_AT_A_TIME):
        lat_deg = lattice.north_lat_deg - lattice.step_lat_deg * np.arange(top, min(top + ROWS_AT_A_TIME, lattice.rows))
        x, y = from_wgs84.transform(*np.meshgrid(lon_deg, lat_deg))
        x, y = np.where(np.isfinite(x), x, np.nan), np.where(np.isfinite(y), y, np.nan)  # outside what the projection can show
        if projection.pixel_axes is not None:
            x, y = _pixels(projection.pixel_axes, x, y)
        row = on_post((sheet.lattice.north_lat_deg - y) / sheet.lattice.step_lat_deg)
        column = on_post((x - sheet.lattice.west_lon_deg) / sheet.lattice.step_lon_deg)
        yield bilinear(posts, row, column)


def _pixels(axes: tuple[float, ...], x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return column and minus row of places in a turned raster, by the inverse of its axes."""
    a, b, c, d, e, f = axes
    determinant = a * e - b * d
    column = (e * (x - c) - b * (y - f)) / determinant
    row = (a * (y - f) - d * (x - c)) / determinant
    return column, -row


def _lattice_for(native: Lattice, projection: Projection) -> Lattice:
    """Choose a lattice as fine as the sheet's own, in whole posts per degree and with posts on whole degrees."""
    lon_deg, lat_deg = _edges_deg(native, projection)
    middle_row, middle_column = native.rows // 2, native.columns // 2
    x = native.west_lon_deg + native.step_lon_deg * np.array([middle_column, middle_column - 1, middle_column])
    y = native.north_lat_deg - native.step_lat_deg * np.array([middle_row, middle_row, middle_row - 1])
    near_lon_deg, near_lat_deg = _places(projection, x, y)
    _, _, steps_m = GEOD.inv(near_lon_deg[[0, 0]], near_lat_deg[[0, 0]], near_lon_deg[1:], near_lat_deg[1:])
    _, _, degree_m = GEOD.inv(
        [near_lon_deg[0]] * 2, [near_lat_deg[0]] * 2, [near_lon_deg[0], near_lon_deg[0] + 1e-3], [near_lat_deg[0] + 1e-3, near_lat_deg[0]]
    )
    rows_per_degree = math.ceil(1e3 * degree_m[0] / min(steps_m) - 1e-6)
    columns_per_degree = math.ceil(1e3 * degree_m[1] / min(steps_m) - 1e-6)
    top, bottom = math.floor(lat_deg.max() * rows_per_degree), math.ceil(lat_deg.min() * rows_per_degree)
    left, right = math.ceil(lon_deg.min() * columns_per_degree), math.floor(lon_deg.max() * columns_per_degree)
    return Lattice(
        north_lat_deg=top / rows_per_degree,
        west_lon_deg=left / columns_per_degree,
        step_lat_deg=1.0 / rows_per_degree,
        step_lon_deg=1.0 / columns_per_degree,
        rows=top - bottom + 1,
        columns=right - left + 1,
    )


def _edges(lattice: Lattice) -> tuple[np.ndarray, np.ndarray]:
    """Return x and y of places all round a lattice, in its own numbers."""
    part = np.linspace(0.0, 1.0, EDGE_POINTS)
    none, all_ = np.zeros(EDGE_POINTS), np.ones(EDGE_POINTS)
    x = np.concatenate([part, part, none, all_]) * (lattice.east_lon_deg - lattice.west_lon_deg) + lattice.west_lon_deg
    y = np.concatenate([none, all_, part, part]) * (lattice.north_lat_deg - lattice.south_lat_deg) + lattice.south_lat_deg
    return x, y


def _edges_deg(lattice: Lattice, projection: Projection) -> tuple[np.ndarray, np.ndarray]:
    """Return longitudes, on one turn round the earth, and latitudes of places all round a lattice; NaN off the earth."""
    lon_deg, lat_deg = (np.where(np.isfinite(angles_deg), angles_deg, np.nan) for angles_deg in _places(projection, *_edges(lattice)))
    return lon_deg[0] + (lon_deg - lon_deg[0] + 180.0) % 360.0 - 180.0, lat_deg


def _places(projection: Projection, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return longitudes and latitudes [deg] of places given in a lattice's own numbers."""
    if projection.pixel_axes is not None:
        a, b, c, d, e, f = projection.pixel_axes
        column, row = x, -y
        x, y = a * column + b * row + c, d * column + e * row + f
    return _to_wgs84(projection).transform(x, y)


def _to_wgs84(projection: Projection) -> Transformer:
    return Transformer.from_crs(CRS.from_wkt(projection.crs_wkt), WGS84, always_xy=True)
