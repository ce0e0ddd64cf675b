"""Depths in elevation files: over the sea a ray passes at sea level, land below the sea stays, and what is in doubt is asked."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from server.errors import InputProblem
from server.navigation import Position, destination
from server.radio import place_antenna
from server.radio.crest_table import build_table, look_up
from server.radio.sight import lowest_altitudes
from server.terrain import BelowZero
from server.units import feet_from_metres
from tests.terrain.files import geotiff_bytes, level_tile, write_tile

SEA = shapely.box(-73.5, 43.5, -71.0, 46.5)
MAST = Position(lat_deg=44.1, lon_deg=-72.5)
FLOORS_M = (-5, -60, -400, -2_500, -8_000)


def floor_ground(store, folder, floor_m, **options):
    for name in ("N44W073", "N45W073"):
        write_tile(folder, name, level_tile(floor_m))
    return store.open(store.load([folder], **options).fingerprint)


@pytest.mark.parametrize("floor_m", FLOORS_M)
@pytest.mark.parametrize("how", ["drawn", "said"])
def test_over_any_depth_the_antenna_is_seen_as_over_level_sea(store, tiles, floor_m, how):
    """A 98 ft mast, 70 NM away: 1.23 (sqrt 98 + sqrt h) = 70 gives 2,214 ft, the trade's rounded form of the 4/3 earth."""
    options = {"sea": SEA} if how == "drawn" else {"below_zero": BelowZero.SEA}
    ground = floor_ground(store, tiles, floor_m, **options)
    antenna = place_antenna(position=MAST, published_elevation_ft=0.0, antenna_height_ft=98.0, ground=ground)
    far = destination(MAST, bearing_true_deg=0.0, distance_nm=70.0)
    closed_ft = (70.0 / 1.23 - math.sqrt(98.0)) ** 2
    exact = lowest_altitudes(antenna=antenna, lat_deg=np.array([far.lat_deg]), lon_deg=np.array([far.lon_deg]), ground=ground)
    assert feet_from_metres(exact.lowest_altitude_m[0]) == pytest.approx(closed_ft, rel=0.02)
    table = build_table(antenna=antenna, ground=ground, rays=720, reach_m=140_000.0)
    from_table = look_up(table=table, bearing_true_deg=np.array([0.0]), distance_m=np.array([70.0 * 1852.0]), ground_m=np.array([0.0]))
    assert feet_from_metres(from_table.lowest_altitude_m[0]) == pytest.approx(closed_ft, rel=0.02)


@pytest.mark.parametrize("floor_m", [-60, -400, -2_500])
def test_a_load_of_doubtful_depth_asks_and_keeps_nothing(store, tiles, floor_m):
    with pytest.raises(InputProblem, match=rf"100\.0 % of the posts lie below zero, down to {floor_m:,} m: is that sea floor, or land\?"):
        floor_ground(store, tiles, floor_m)


def bowl(depth_m: float) -> np.ndarray:
    """A closed basin in the middle of land, as deep as that."""
    y, x = np.mgrid[-1.0:1.0:1201j, -1.0:1.0:1201j]
    return np.maximum(300.0 - (300.0 + depth_m) * np.exp(-8.0 * (x**2 + y**2)), -depth_m).astype(np.int16)


@pytest.mark.parametrize("depth_m", [86.0, 154.0, 430.0], ids=["Death Valley", "Turpan", "shore of the Dead Sea"])
@pytest.mark.parametrize("answer", list(BelowZero))
def test_a_closed_basin_no_deeper_than_land_can_be_is_land_whatever_is_said_of_the_sea(store, tiles, depth_m, answer):
    write_tile(tiles, "N44W073", bowl(depth_m))
    load = store.load([tiles], below_zero=answer)
    ground = store.open(load.fingerprint)
    middle_m = ground.elevations_m(lat_deg=np.array([44.5]), lon_deg=np.array([-72.5]))[0]
    assert middle_m == pytest.approx(-depth_m, abs=1.0)
    assert load.below_sea_posts > 1_000 and "below zero kept as land" in load.in_words()


def test_a_basin_and_an_ocean_in_one_load_are_told_apart(store, tiles):
    write_tile(tiles, "N44W073", bowl(86.0))
    ocean = level_tile(300)
    ocean[:, 700:] = -1_200
    write_tile(tiles, "N44W072", ocean)
    with pytest.raises(InputProblem, match=r"down to -1,200 m"):
        store.load([tiles])
    load = store.load([tiles], below_zero=BelowZero.SEA)
    ground = store.open(load.fingerprint)
    basin_m, open_sea_m = ground.elevations_m(lat_deg=np.array([44.5, 44.5]), lon_deg=np.array([-72.5, -71.1]))
    assert basin_m == pytest.approx(-86.0, abs=1.0) and open_sea_m == 0.0
    assert load.sea_posts == 501 * 1201


def test_land_below_the_sea_outside_a_drawn_sea_stays(store, tiles):
    write_tile(tiles, "N44W073", bowl(86.0))
    load = store.load([tiles], sea=shapely.box(-74.5, 43.0, -73.5, 45.0))
    ground = store.open(load.fingerprint)
    assert ground.elevations_m(lat_deg=np.array([44.5]), lon_deg=np.array([-72.5]))[0] == pytest.approx(-86.0, abs=1.0)


def test_said_to_be_land_depths_stay_as_they_are(store, tiles):
    ground = floor_ground(store, tiles, -60, below_zero=BelowZero.LAND)
    assert ground.elevations_m(lat_deg=np.array([44.5]), lon_deg=np.array([-72.5]))[0] == -60.0


def test_a_few_shallow_specks_below_zero_need_no_answer(store, tiles):
    posts = level_tile(3)
    posts[100:110, 0:30] = -4
    write_tile(tiles, "N44W073", posts)
    assert store.load([tiles]).below_sea_posts == 300


@pytest.mark.parametrize("marker", [-99, -999, -9999, -999999])
def test_an_undeclared_void_marker_is_void_and_is_told(store, tmp_path, marker):
    posts = np.full((60, 60), 250, dtype=np.int32)
    posts[10:20, 10:20] = marker
    (tmp_path / "dem.tif").write_bytes(geotiff_bytes(posts.astype(np.float32)))
    load = store.load([tmp_path / "dem.tif"], below_zero=BelowZero.SEA)
    assert load.void_posts == 100 and load.sea_posts == 0
    if marker in (-99, -999):
        assert "100 posts of -99 or -999 were taken as void" in load.taken[0].note


def test_a_depth_of_999_m_among_other_depths_is_no_marker(store, tmp_path):
    posts = np.broadcast_to(np.linspace(200.0, -1_500.0, 60), (60, 60)).astype(np.float32).round()
    posts = np.where(posts < 0, posts, posts) - (posts[0, 0] * 0)
    posts[:, 30:40] = np.arange(-1_004, -994, dtype=np.float32)
    (tmp_path / "dem.tif").write_bytes(geotiff_bytes(posts))
    load = store.load([tmp_path / "dem.tif"], below_zero=BelowZero.SEA)
    assert load.void_posts == 0 and load.sea_posts > 1_000


def test_an_ocean_grid_with_most_posts_far_below_500_m_is_taken(store, tmp_path):
    posts = np.broadcast_to(np.linspace(900.0, -10_900.0, 80), (80, 80)).astype(np.int16)
    (tmp_path / "ocean.tif").write_bytes(geotiff_bytes(posts))
    load = store.load([tmp_path / "ocean.tif"], below_zero=BelowZero.SEA)
    assert not load.refused and load.void_posts == 0
    ground = store.open(load.fingerprint)
    assert min(mosaic.posts.min() for mosaic in ground.mosaics) == 0
