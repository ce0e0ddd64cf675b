"""Several mosaics joined once give the windows that joining them anew would give; rays and tables run over their edges."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position
from server.radio import place_antenna
from server.radio.crest_table import build_table
from server.terrain import Terrain, ground
from server.terrain.ground import Mosaic
from server.terrain.lattice import Lattice


def a_mosaic(posts, *, north=44.0, west=-37.0, step=1 / 240) -> Mosaic:
    rows, columns = posts.shape
    lattice = Lattice(north_lat_deg=north, west_lon_deg=west, step_lat_deg=step, step_lon_deg=step, rows=rows, columns=columns)
    return Mosaic(lattice=lattice, posts=posts)


def rough(rows, columns, seed):
    return np.random.default_rng(seed).uniform(0.0, 900.0, (rows, columns)).astype(np.float32)


def fine_and_coarse(west):
    """A fine mosaic of half a degree; a coarse one of two degrees all round it, with a void beside it."""
    coarse = rough(121, 121, 2)
    coarse[40:44, 90:95] = np.nan
    mosaics = [a_mosaic(rough(121, 121, 1), west=west), a_mosaic(coarse, north=44.75, west=west - 0.75, step=1 / 60)]
    return Terrain(fingerprint="two", mosaics=mosaics)


@pytest.mark.parametrize("west", [-37.0, 179.9, -180.0])
@pytest.mark.parametrize("turn_deg", [0.0, 360.0])
def test_joined_once_is_joined_anew(monkeypatch, west, turn_deg):
    asked = {"south_deg": 43.1, "north_deg": 44.3, "west_deg": west - 0.4 + turn_deg, "east_deg": west + 0.9 + turn_deg}
    once = fine_and_coarse(west).window(**asked)
    monkeypatch.setattr(ground, "LARGEST_JOINED_POSTS", 0)
    anew = fine_and_coarse(west).window(**asked)
    assert once.posts.shape == anew.posts.shape
    np.testing.assert_allclose(once.posts, anew.posts, atol=1e-3)
    assert (once.north_lat_deg, once.west_lon_deg) == pytest.approx((anew.north_lat_deg, anew.west_lon_deg), abs=1e-9)


def test_a_joined_window_cannot_be_written_to():
    window = fine_and_coarse(-37.0).window(south_deg=43.1, north_deg=44.3, west_deg=-37.4, east_deg=-36.1)
    assert not window.posts.flags.writeable


def test_a_table_does_not_know_where_one_tile_ends():
    """Antenna just west of the meridian where two tiles meet; each tile holds the posts of that meridian, as tiles do."""
    posts = rough(241, 481, 5)
    whole = Terrain(fingerprint="whole", mosaics=[a_mosaic(posts)])
    tiles = Terrain(fingerprint="tiles", mosaics=[a_mosaic(posts[:, :241]), a_mosaic(posts[:, 240:], west=-36.0)])
    position = Position(lat_deg=43.5, lon_deg=-36.01)
    antenna = place_antenna(position=position, published_elevation_ft=None, antenna_height_ft=900.0, ground=whole)
    one, two = (build_table(antenna=antenna, ground=each, rays=720, reach_m=30_000.0) for each in (whole, tiles))
    for name in ("first_crest", "distance", "slope", "drift", "unknown_from_m"):
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))
    assert np.isinf(one.unknown_from_m).all()
