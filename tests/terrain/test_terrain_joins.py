"""Tiles joined to one ground: edges, voids, mixed steps, the antimeridian and the sea."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from server.errors import InputProblem
from tests.builders import GridGround
from tests.terrain.files import geotiff_bytes, hilly_tile, level_tile, write_tile

VOID = -32768
S3 = 1.0 / 1200.0
S1 = 1.0 / 3600.0


def at(ground, *places):
    lat_deg, lon_deg = np.array(places, dtype=float).T
    return ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg).tolist()


def opened(store, folder, **options):
    return store.open(store.load([folder], **options).fingerprint)


def test_a_place_on_a_whole_degree_reads_the_same_from_either_tile(store, tiles, tmp_path):
    west, east = hilly_tile(1), hilly_tile(2)
    east[:, 0] = west[:, -1]
    write_tile(tiles / "west", "N44W073", west)
    write_tile(tiles / "east", "N44W072", east)
    places = [(44.0, -72.0), (44.5, -72.0), (45.0, -72.0), (44.0 + 0.3 * S3, -72.0)]
    expected = [float(west[r, -1]) for r in (1200, 600, 0)] + [0.7 * west[1200, -1] + 0.3 * west[1199, -1]]
    for folder in (tiles / "west", tiles / "east", tiles):
        assert at(opened(store, folder), *places) == pytest.approx(expected, abs=1e-6)


def test_the_edge_is_known_and_one_step_beyond_is_unknown_where_the_neighbour_is_missing(store, tiles):
    write_tile(tiles, "S01W001", level_tile(250))
    ground = opened(store, tiles)
    assert at(ground, (0.0, -0.5), (-1.0, -1.0), (-0.5, 0.0)) == [250.0, 250.0, 250.0]
    assert np.isnan(at(ground, (0.1 * S3, -0.5), (-0.5, 0.1 * S3), (-1.0 - 0.1 * S3, -0.5), (-0.5, -1.0 - 0.1 * S3))).all()


def test_ground_is_continuous_across_tiles(store, tiles):
    for name in ("N44W073", "N44W072", "N43W073", "N43W072"):
        write_tile(tiles, name, level_tile(400))
    ground = opened(store, tiles)
    window = ground.window(south_deg=43.9, north_deg=44.1, west_deg=-72.1, east_deg=-71.9)
    assert window.posts.shape == (241, 241)
    assert (window.posts == 400).all()


def test_on_a_shared_edge_a_known_post_beats_a_void(store, tiles):
    west, east = level_tile(100), level_tile(200)
    west[:, -1] = VOID
    write_tile(tiles, "N44W073", west)
    write_tile(tiles, "N44W072", east)
    assert at(opened(store, tiles), (44.5, -72.0)) == [200.0]


def test_of_two_known_posts_the_northern_then_the_western_tile_stands(store, tiles):
    for name, elevation_m in (("N44W073", 100), ("N44W072", 200), ("N43W073", 300)):
        write_tile(tiles, name, level_tile(elevation_m))
    ground = opened(store, tiles)
    assert at(ground, (44.5, -72.0), (44.0, -72.5), (44.0, -72.0)) == [100.0, 100.0, 100.0]


def test_a_void_makes_its_whole_patch_unknown_but_not_the_posts_beside_it(store, tiles):
    posts = level_tile(1000)
    posts[600, 600] = VOID
    write_tile(tiles, "N44W072", posts)
    ground = opened(store, tiles)
    lat_deg, lon_deg = 44.5, -71.5
    assert np.isnan(at(ground, (lat_deg, lon_deg), (lat_deg + 0.5 * S3, lon_deg + 0.5 * S3), (lat_deg, lon_deg + 0.01 * S3))).all()
    assert at(ground, (lat_deg + S3, lon_deg), (lat_deg, lon_deg + S3), (lat_deg + S3, lon_deg + 0.5 * S3)) == [1000.0, 1000.0, 1000.0]


def test_tiles_of_one_and_three_seconds_side_by_side(store, tiles):
    write_tile(tiles, "N44W073", level_tile(100))
    write_tile(tiles, "N44W072", level_tile(200, side=3601))
    ground = opened(store, tiles)
    assert at(ground, (44.5, -72.5), (44.5, -71.5), (44.5, -72.0)) == [100.0, 200.0, 200.0]
    window = ground.window(south_deg=44.4, north_deg=44.6, west_deg=-72.1, east_deg=-71.9)
    assert (window.step_lat_deg, window.posts.shape, window.posts.dtype) == (S1, (721, 721), np.float32)
    assert (window.posts[:, :360] == 100).all()
    assert (window.posts[:, 360:] == 200).all()
    alone = ground.window(south_deg=44.4, north_deg=44.6, west_deg=-72.5, east_deg=-72.2)
    assert (alone.step_lat_deg, alone.posts.dtype) == (S3, np.int16)


def test_a_coarser_tile_fills_the_voids_of_a_finer_one(store, tiles):
    fine = level_tile(500, side=3601)
    fine[1000:2000, 1000:2000] = VOID
    write_tile(tiles / "a", "N44W072", fine)
    write_tile(tiles / "b", "N44W072", level_tile(450))
    ground = opened(store, tiles)
    assert at(ground, (44.5833, -71.5833), (44.1, -71.9)) == [450.0, 500.0]
    window = ground.window(south_deg=44.4, north_deg=44.6, west_deg=-71.6, east_deg=-71.4)
    assert not np.isnan(window.posts).any()


def test_ground_across_the_antimeridian_is_one_piece(store, tiles):
    west, east = hilly_tile(3), hilly_tile(4)
    east[:, 0] = west[:, -1]
    write_tile(tiles, "S17E179", west)
    write_tile(tiles, "S17W180", east)
    load = store.load([tiles])
    assert (load.bounds.west_lon_deg, load.bounds.east_lon_deg) == (179.0, pytest.approx(181.0, abs=1e-9))
    ground = store.open(load.fingerprint)
    edge = float(west[600, -1])
    assert at(ground, (-16.5, 180.0), (-16.5, -180.0), (-16.5, 540.0)) == [edge, edge, edge]
    for turn_deg in (0.0, -360.0, 360.0):
        window = ground.window(south_deg=-16.6, north_deg=-16.4, west_deg=179.9 + turn_deg, east_deg=180.1 + turn_deg)
        assert window.posts.shape == (241, 241)
        assert window.west_lon_deg == pytest.approx(179.9 + turn_deg, abs=1e-9)
        assert window.posts[120, 120] == edge
        assert window.posts.dtype == np.int16


def test_a_ring_of_tiles_round_the_earth_has_no_seam_at_the_antimeridian(store, tiles):
    lon_deg = np.arange(-180, 180)
    posts = np.broadcast_to(np.abs(lon_deg).astype(np.int16), (10, 360))
    (tiles / "ring.tif").write_bytes(geotiff_bytes(np.ascontiguousarray(posts), tie=(-180.5, 5.0), step=1.0))
    ground = opened(store, tiles)
    window = ground.window(south_deg=-2.0, north_deg=2.0, west_deg=177.0, east_deg=183.0)
    assert window.posts[0].tolist() == [177, 178, 179, 180, 179, 178, 177]
    assert at(ground, (0.0, 179.5), (0.0, -179.5), (0.0, 180.0)) == [179.5, 179.5, 180.0]


def test_a_lone_tile_far_from_others_is_a_mosaic_of_its_own(store, tiles):
    write_tile(tiles, "N44W072", level_tile(1))
    write_tile(tiles, "N10E100", level_tile(2))
    load = store.load([tiles])
    assert load.known_share == 1.0
    ground = store.open(load.fingerprint)
    assert at(ground, (44.5, -71.5), (10.5, 100.5)) == [1.0, 2.0]
    assert ground.window(south_deg=20, north_deg=21, west_deg=0, east_deg=1) is None


def test_tiles_agree_with_a_second_opinion_everywhere(store, tiles):
    """GridGround of the test builders is written apart from the product, one place at a time."""
    north_west, south_east = hilly_tile(5), hilly_tile(6)
    random = np.random.default_rng(7)
    north_west[random.random(north_west.shape) < 0.05] = VOID
    write_tile(tiles, "N01W001", north_west)
    write_tile(tiles, "N00E000", south_east)
    ground = opened(store, tiles)
    posts = np.full((2401, 2401), VOID, dtype=np.int16)
    posts[1200:, 1200:] = south_east
    posts[:1201, :1201] = np.where(north_west == VOID, posts[:1201, :1201], north_west)
    other = GridGround(posts, 2.0, -1.0, S3, S3)
    lat_deg, lon_deg = random.uniform(-0.1, 2.1, 4000), random.uniform(-1.1, 1.1, 4000)
    lat_deg[:500] = np.round(lat_deg[:500] * 1200) / 1200
    lon_deg[250:750] = np.round(lon_deg[250:750] * 1200) / 1200
    expected = other.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    assert ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg) == pytest.approx(expected, abs=1e-6, nan_ok=True)
    asked = {"south_deg": 0.9, "north_deg": 1.3, "west_deg": -0.35, "east_deg": 0.2}
    ours, theirs = ground.window(**asked), other.window(**asked)
    assert (ours.posts == theirs.posts).all()
    assert (ours.north_lat_deg, ours.west_lon_deg) == pytest.approx((theirs.north_lat_deg, theirs.west_lon_deg), abs=1e-9)


def test_the_sea_is_zero_only_where_it_is_drawn_and_never_over_a_known_post(store, tiles):
    posts = level_tile(VOID)
    posts[:600, :] = 50
    write_tile(tiles, "N44W072", posts)
    sea = shapely.box(-72.0, 44.2, -71.5, 44.8)
    ground = opened(store, tiles, sea=sea)
    assert at(ground, (44.3, -71.8), (44.2, -72.0), (44.7, -71.8)) == [0.0, 0.0, 50.0]
    assert np.isnan(at(ground, (44.1, -71.8), (44.3, -71.4))).all()


def test_absent_tiles_inside_the_sea_are_sea(store, tiles):
    write_tile(tiles, "N44W072", level_tile(300))
    sea = shapely.box(-74.0, 43.0, -70.0, 45.0).difference(shapely.box(-72.0, 44.0, -71.0, 45.0))
    load = store.load([tiles], sea=sea)
    assert (load.bounds.west_lon_deg, load.bounds.east_lon_deg) == (pytest.approx(-74.0, abs=1e-9), pytest.approx(-70.0, abs=1e-9))
    ground = store.open(load.fingerprint)
    assert at(ground, (43.5, -73.5), (44.5, -73.0), (44.5, -71.5), (43.0, -74.0), (44.5, -72.0 - 0.5 * S3)) == pytest.approx(
        [0.0, 0.0, 300.0, 0.0, 150.0]
    )
    assert np.isnan(at(ground, (42.9, -73.0))).all()
    window = ground.window(south_deg=43.5, north_deg=44.5, west_deg=-72.5, east_deg=-71.5)
    assert window.posts.dtype == np.int16
    assert window.posts.min() == 0


def test_a_sea_in_two_parts_at_the_antimeridian_stays_small(store, tiles):
    write_tile(tiles, "S17E179", level_tile(20))
    sea = shapely.MultiPolygon([shapely.box(178.0, -18.0, 180.0, -16.0), shapely.box(-180.0, -18.0, -179.0, -16.0)])
    load = store.load([tiles], sea=sea)
    assert load.bounds.east_lon_deg - load.bounds.west_lon_deg == pytest.approx(3.0, abs=1e-9)
    assert at(store.open(load.fingerprint), (-16.5, -179.5), (-16.5, 179.5), (-17.5, 180.0)) == [0.0, 20.0, 0.0]


@pytest.mark.parametrize(
    ("sea", "words"),
    [
        (shapely.box(-80, 20, -20, 60), "Draw a smaller sea"),
        (shapely.LineString([(0, 0), (1, 1)]), "must be valid polygons"),
        (shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)]), "must be valid polygons"),
        (shapely.box(44, -120, 45, -119), "Give longitude first"),
    ],
)
def test_a_sea_that_cannot_be_used_is_told(store, tiles, sea, words):
    write_tile(tiles, "N44W072", level_tile(1))
    with pytest.raises(InputProblem, match=words):
        store.load([tiles], sea=sea)
