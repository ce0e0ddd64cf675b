"""Tiles of shaded ground, read back with pillow and held against places projected by pyproj, pixel by pixel."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image
from pyproj import Proj

from server.navigation import ConicProjection
from server.sheets.relief import SEA_COLOUR, relief_tile, tint_of_m
from server.sheets.relief_tile import CLOSEST_ZOOM, TILE_PIXELS, metres_a_pixel, relief_state, relief_tile_webp
from tests.builders import flat_ground
from tests.planning.planning_builders import quick

CONIC = ConicProjection(lat_1=42.5, lat_2=44.5, lat_0=43.5, lon_0=-36.0)
LOSSY = 6.0
"""How far WebP may leave a plain colour, in levels of 255, at the quality of the tiles."""


class CalledGround:
    """Ground that is a function of the place; it keeps the places it was last asked for."""

    fingerprint = "called"

    def __init__(self, elevation_m):
        self._elevation_m = elevation_m

    def elevations_m(self, *, lat_deg, lon_deg):
        self.lat_deg, self.lon_deg = lat_deg, lon_deg
        return self._elevation_m(lat_deg, lon_deg)

    def window(self, **_box):
        raise AssertionError("a tile asks for places, not for posts")


def shore(lat_deg, lon_deg):
    """Sea west of 36 W, land of 600 m east of it, nothing known north of 44."""
    return np.where(lat_deg > 44.0, np.nan, np.where(lon_deg < -36.0, 0.0, 600.0))


def hills(lat_deg, lon_deg):
    return 900.0 + 500.0 * np.sin(np.radians(lat_deg * 5000.0)) * np.cos(np.radians(lon_deg * 4000.0))


def plane(projection: ConicProjection = CONIC) -> Proj:
    """The projection as pyproj makes it of its five numbers."""
    return Proj(proj="lcc", ellps="WGS84", lat_1=projection.lat_1, lat_2=projection.lat_2, lat_0=projection.lat_0, lon_0=projection.lon_0)


def pixel_of(lat_deg: float, lon_deg: float, zoom: int) -> tuple[tuple[int, int], tuple[int, int]]:
    """Tile (x, y) and pixel (column, row) that show a place."""
    east_m, north_m = plane()(lon_deg, lat_deg)
    across, down = east_m / metres_a_pixel(zoom), -north_m / metres_a_pixel(zoom)
    tile = math.floor(across / TILE_PIXELS), math.floor(down / TILE_PIXELS)
    return tile, (math.floor(across - tile[0] * TILE_PIXELS), math.floor(down - tile[1] * TILE_PIXELS))


def read(tile: bytes, mode: str = "RGBA") -> np.ndarray:
    image = Image.open(io.BytesIO(tile))
    assert image.format == "WEBP"
    return np.asarray(image.convert(mode)).astype(float)


def drawn(ground, zoom: int, x: int, y: int, projection: ConicProjection = CONIC) -> np.ndarray:
    return read(relief_tile_webp(projection, ground, zoom=zoom, x=x, y=y))


def colour_at(lat_deg: float, lon_deg: float, zoom: int) -> np.ndarray:
    (x, y), (column, row) = pixel_of(lat_deg, lon_deg, zoom)
    return drawn(CalledGround(shore), zoom, x, y)[row, column]


@pytest.mark.parametrize("zoom", [0, 4, 8])
def test_a_pixel_is_4096_metres_at_zoom_0_and_half_as_much_at_every_next(zoom):
    assert metres_a_pixel(zoom) == {0: 4096.0, 4: 256.0, 8: 16.0}[zoom]


@pytest.mark.parametrize("zoom", [2, 4, 6, 8])
@pytest.mark.parametrize(("lat_deg", "lon_deg"), [(43.5, -36.9), (42.6, -36.5), (43.9, -37.4)])
def test_a_place_at_sea_is_drawn_in_the_colour_of_the_sea(lat_deg, lon_deg, zoom):
    assert colour_at(lat_deg, lon_deg, zoom) == pytest.approx([*SEA_COLOUR, 255.0], abs=LOSSY)


@pytest.mark.parametrize("zoom", [2, 4, 6, 8])
@pytest.mark.parametrize(("lat_deg", "lon_deg"), [(43.5, -35.1), (42.6, -35.5), (43.9, -34.6)])
def test_a_place_on_level_land_is_drawn_in_the_tint_of_its_height(lat_deg, lon_deg, zoom):
    land = colour_at(lat_deg, lon_deg, zoom)
    assert land == pytest.approx([*tint_of_m(600.0), 255.0], abs=LOSSY + 2.0)  # a step of tint and of shade apart
    assert np.abs(land[:3] - SEA_COLOUR).max() > 30.0


@pytest.mark.parametrize("zoom", [1, 3, 5])
def test_the_shore_and_the_end_of_known_ground_lie_where_pyproj_puts_them(zoom):
    (x, y), _ = pixel_of(43.99, -36.01, zoom)
    picture = drawn(CalledGround(shore), zoom, x, y)
    pixel_m = metres_a_pixel(zoom)
    at = np.arange(TILE_PIXELS) + 0.5
    east_m, north_m = np.meshgrid((x * TILE_PIXELS + at) * pixel_m, -(y * TILE_PIXELS + at) * pixel_m)
    lon_deg, lat_deg = plane()(east_m, north_m, inverse=True)
    sure = np.abs(lat_deg - 44.0) * 111_000.0 > 0.1 * pixel_m
    assert (lat_deg > 44.0).any() and (lat_deg < 44.0).any(), "the tile lies across the edge"
    assert ((picture[..., 3] == 0.0) == (lat_deg > 44.0))[sure].all()
    assert set(np.unique(picture[..., 3])) == {0.0, 255.0}
    known, away = lat_deg < 43.98, np.abs(lon_deg + 36.0) * 80_000.0 > 12.0 * pixel_m  # WebP blurs colours over some pixels
    bluish = picture[..., 2] > picture[..., 0]
    assert (bluish == (lon_deg < -36.0))[known & away].all()


def test_ground_that_is_not_known_is_transparent_and_known_ground_is_not():
    assert (drawn(CalledGround(lambda lat, _lon: np.full(lat.shape, np.nan)), 4, 0, 0)[..., 3] == 0.0).all()
    assert (drawn(CalledGround(hills), 4, 0, 0)[..., 3] == 255.0).all()


def in_one_piece(zoom: int, x: int, y: int, *, across: int, down: int) -> np.ndarray:
    """The same ground drawn over several tiles at once, every pixel projected by pyproj."""
    pixel_m = metres_a_pixel(zoom)
    columns, rows = np.arange(-1, across * TILE_PIXELS + 1) + 0.5, np.arange(-1, down * TILE_PIXELS + 1) + 0.5
    east_m, north_m = np.meshgrid((x * TILE_PIXELS + columns) * pixel_m, -(y * TILE_PIXELS + rows) * pixel_m)
    lon_deg, lat_deg = plane()(east_m, north_m, inverse=True)
    return read(relief_tile(hills(lat_deg, lon_deg), pixel_m=pixel_m, margin=1), "RGB")


@pytest.mark.parametrize("zoom", [3, 5])
def test_neighbouring_tiles_agree_along_their_common_edge(zoom):
    """Both sides of the edge as in a picture that has no edge there, lit by the ground beyond it: WebP leaves a few levels."""
    west, east, south = (drawn(CalledGround(hills), zoom, x, y)[..., :3] for x, y in ((-1, -1), (0, -1), (-1, 0)))
    whole = in_one_piece(zoom, -1, -1, across=2, down=2)
    edge = TILE_PIXELS
    beside = {
        "west of it": (west[:, -1], whole[:edge, edge - 1]),
        "east of it": (east[:, 0], whole[:edge, edge]),
        "north of it": (west[-1], whole[edge - 1, :edge]),
        "south of it": (south[0], whole[edge, :edge]),
    }
    for where, (tile, same) in beside.items():
        assert np.abs(tile - same).mean() < 5.0, where
    assert whole.std() > 10.0, "the hills show"
    jump = np.abs(west[:, -1] - east[:, 0]).mean()
    steps = np.abs(np.diff(whole[:edge, edge - 40 : edge + 40], axis=1)).mean()
    assert jump < 1.25 * steps + 2.0, "the edge is no line in the picture"


@pytest.mark.parametrize("zoom", [0, 4, 8])
@pytest.mark.parametrize(("x", "y"), [(0, 0), (-1, -1), (1, 0), (-2, 1)])
def test_every_pixel_shows_the_place_that_pyproj_projects_to_its_middle(zoom, x, y):
    """Places are projected exactly only every so many pixels; between these they stay within a tenth of a pixel."""
    ground = CalledGround(hills)
    relief_tile_webp(CONIC, ground, zoom=zoom, x=x, y=y)
    side = math.isqrt(ground.lat_deg.size)
    assert side**2 == ground.lat_deg.size and side == TILE_PIXELS + 2, "the tile and one pixel round it"
    east_m, north_m = plane()(ground.lon_deg, ground.lat_deg)
    pixel_m = metres_a_pixel(zoom)
    rows, columns = (each.ravel() for each in np.mgrid[-1 : TILE_PIXELS + 1, -1 : TILE_PIXELS + 1] + 0.5)
    off_east = east_m / pixel_m - (x * TILE_PIXELS + columns)
    off_south = -north_m / pixel_m - (y * TILE_PIXELS + rows)
    assert np.hypot(off_east, off_south).max() < 0.1


def test_a_region_across_the_antimeridian_is_drawn_on_both_sides():
    conic = ConicProjection(lat_1=-18.0, lat_2=-16.0, lat_0=-17.0, lon_0=180.0)
    ground = quick(flat_ground(600.0, south=-19.0, north=-15.0, west=178.0, east=182.0, step_deg=1.0 / 60.0))
    for x in (-1, 0):
        picture = drawn(ground, 4, x, 0, conic)
        assert (picture[..., 3] == 255.0).all()
        assert picture[128, 128] == pytest.approx([*tint_of_m(600.0), 255.0], abs=LOSSY + 2.0)


def test_the_name_of_a_picture_changes_with_ground_and_projection_and_with_nothing_else():
    flat, other = flat_ground(600.0, step_deg=0.1), flat_ground(601.0, step_deg=0.1)
    turned = ConicProjection(lat_1=42.5, lat_2=44.5, lat_0=43.5, lon_0=-36.5)
    names = [relief_state(CONIC, flat), relief_state(CONIC, other), relief_state(turned, flat)]
    assert len(set(names)) == 3
    same = ConicProjection(lat_1=42.5, lat_2=44.5, lat_0=43.5, lon_0=-36.0)
    assert relief_state(same, flat_ground(600.0, step_deg=0.1)) == names[0]


def test_the_closest_zoom_shows_16_metres_a_pixel():
    assert metres_a_pixel(CLOSEST_ZOOM) == 16.0
