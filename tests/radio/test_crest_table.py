"""Crest tables on hand-size grounds: against samples every few metres, against exact rays, and where nothing can be known."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from server.errors import OutOfRange
from server.navigation.position import Position
from server.radio import crest_table
from server.radio.crest_table import build_table, look_up
from server.radio.sight import Antenna, lowest_altitudes, place_antenna, sight_line
from tests.builders import GridGround
from tests.radio.crest_builders import HERE, REACH_M, elevations_m, marched_altitudes_m, places, random_points, rough_posts, square_ground

LONGITUDE_DEGREE_M = sum(a * math.cos(math.radians(k * 43.5)) for k, a in ((1, 111_412.84), (3, -93.5), (5, 0.118)))
"""One degree of longitude at 43.5 N on WGS 84: textbook series (from memory)."""
WALL_M = 160 / 1200 * LONGITUDE_DEGREE_M

ARRAYS = ("first_crest", "distance", "slope", "drift", "unknown_from_m")


def antenna_on(ground, *, position=HERE, height_m=10.0, published_elevation_ft=None) -> Antenna:
    antenna = place_antenna(
        position=position, published_elevation_ft=published_elevation_ft, antenna_height_ft=height_m / 0.3048, ground=ground
    )
    assert antenna is not None
    return antenna


def table_on(ground, antenna=None, **changes):
    return build_table(antenna=antenna or antenna_on(ground), ground=ground, **({"reach_m": REACH_M} | changes))


def seen(table, ground, bearing_true_deg, distance_m):
    lat_deg, lon_deg = places(table.antenna.position, bearing_true_deg, distance_m)
    ground_m = elevations_m(ground, lat_deg, lon_deg)
    return look_up(table=table, bearing_true_deg=bearing_true_deg, distance_m=distance_m, ground_m=ground_m)


def exact(table, ground, bearing_true_deg, distance_m):
    lat_deg, lon_deg = places(table.antenna.position, bearing_true_deg, distance_m)
    return lowest_altitudes(antenna=table.antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)


def plain(south, east):
    return np.zeros(south.shape)


def wall(south, east):
    """A wall of 300 m, level on top, 11 km east."""
    return np.where((east == 160) | (east == 161), 300.0, 0.0)


def pyramid(south, east):
    """A pyramid of 500 m, 16 km to the south-west, 80 posts from its foot to its top."""
    return np.maximum(0.0, 500.0 - 6.25 * np.maximum(abs(south - 120), abs(east + 160)))


def plateau(south, east):
    """High ground to the north from 6 km on, level at 250 m, with a steep face."""
    return np.where(south <= -65, 250.0, 0.0)


def own_hill(south, east):
    """The antenna on a hill that falls away on all sides, and waves all round."""
    return np.maximum(0.0, 400.0 - 5.0 * np.hypot(south, east)) + 20.0 * np.sin(south / 9.0) * np.cos(east / 7.0) + 20.0


@pytest.mark.parametrize("height_m", [plain, wall, pyramid, plateau, own_hill])
def test_agrees_with_samples_every_four_metres(height_m):
    ground = square_ground(height_m)
    table = table_on(ground)
    bearing_true_deg, distance_m, _, _ = random_points(HERE, 60, seed=5)
    found_m = seen(table, ground, bearing_true_deg, distance_m).lowest_altitude_m
    marched_m = marched_altitudes_m(ground, table.antenna, bearing_true_deg, distance_m)
    # Samples miss a crest by up to half their step: a few decimetres on the flanks of the pyramid (6 in 70) times the leverage.
    np.testing.assert_allclose(found_m, marched_m, atol=1.0)


def test_a_wall_throws_its_shadow_by_similar_triangles():
    ground = square_ground(wall)
    table = table_on(ground)
    drop_m = (2 * WALL_M) ** 2 / (2 * 8_494_678.0) - 2 * WALL_M**2 / (2 * 8_494_678.0)  # curve of the 4/3 earth, parabola
    lowest_m = seen(table, ground, np.array([90.0]), np.array([2 * WALL_M])).lowest_altitude_m
    assert lowest_m == pytest.approx(10.0 + 2 * 290.0 + drop_m, abs=0.1)


def test_names_the_crest_that_hides():
    ground = square_ground(wall)
    table = table_on(ground)
    sight = seen(table, ground, np.array([90.0, 90.0]), np.array([5_000.0, 15_000.0]))
    assert np.isnan(sight.crest_distance_m[0])
    assert sight.crest_distance_m[1] == pytest.approx(WALL_M, abs=2.0)
    assert sight.crest_elevation_m[1] == pytest.approx(300.0, abs=0.5)


def test_each_ray_of_a_table_is_the_exact_ray():
    ground = square_ground(lambda south, east: rough_posts(3, south))
    table = table_on(ground)
    distance_m = np.linspace(250.0, REACH_M, 200)
    for k in range(0, table.rays, 1_091):
        bearing_true_deg = k * 360.0 / table.rays
        line = sight_line(antenna=table.antenna, bearing_true_deg=bearing_true_deg, length_m=REACH_M, ground=ground)
        found_m = seen(table, ground, np.full(200, bearing_true_deg), distance_m).lowest_altitude_m
        # 0.1 m for crests left out, and crests are placed to 0.2 m, on slopes of up to 1 in 1.
        np.testing.assert_allclose(found_m, line.lowest_altitude_m(distance_m), atol=0.35)


@pytest.mark.parametrize("middle", [HERE, Position(lat_deg=60.0, lon_deg=20.0), Position(lat_deg=-60.0, lon_deg=-70.0)])
def test_agrees_with_exact_rays_on_rough_ground_at_any_latitude(middle):
    ground = square_ground(lambda south, east: rough_posts(8, south), middle=middle)
    table = table_on(ground, antenna_on(ground, position=middle), reach_m=20_000.0)
    bearing_true_deg, distance_m, _, _ = random_points(middle, 300, seed=6, farthest_m=20_000.0)
    miss_m = seen(table, ground, bearing_true_deg, distance_m).lowest_altitude_m
    miss_m = np.abs(miss_m - exact(table, ground, bearing_true_deg, distance_m).lowest_altitude_m)
    assert np.percentile(miss_m, 95) < 0.5
    assert miss_m.max() < 5.0


def test_crosses_the_antimeridian():
    here = square_ground(lambda south, east: rough_posts(8, south))
    there = GridGround(here.posts, here.north_lat_deg, here.west_lon_deg + 216.0 - 360.0, here.step_lat_deg, here.step_lon_deg)
    on_the_line = Position(lat_deg=43.5, lon_deg=-180.0)
    assert there.west_lon_deg < -180.0
    table, moved = table_on(here), table_on(there, antenna_on(there, position=on_the_line))
    for name in ("first_crest", "distance", "unknown_from_m"):
        np.testing.assert_array_equal(getattr(table, name), getattr(moved, name))
    np.testing.assert_allclose(table.slope, moved.slope, atol=1e-7)


def test_a_ray_that_grazes_the_edge_of_a_ridge_rests_on_its_posts():
    def step_along_the_meridian(south, east):  # high ground that begins with the column of posts under the northward ray
        return np.where((east >= 0) & (south < -60), 200.0, 0.0)

    ground = square_ground(step_along_the_meridian)
    table = table_on(ground)
    line = sight_line(antenna=table.antenna, bearing_true_deg=0.0, length_m=REACH_M, ground=ground)
    distance_m = np.linspace(7_000.0, REACH_M, 50)
    found = seen(table, ground, np.zeros(50), distance_m)
    assert found.lowest_altitude_m[0] > 190.0
    np.testing.assert_allclose(found.lowest_altitude_m, line.lowest_altitude_m(distance_m), atol=0.2)


class TestUnknownGround:
    def test_begins_where_a_void_does_and_leaves_a_lower_bound_behind_it(self):
        def wall_and_void(south, east):
            return np.where(east == 100, 300.0, np.where((east >= 150) & (east <= 152) & (abs(south) < 40), -32768.0, 0.0))

        ground = square_ground(wall_and_void)
        table = table_on(ground)
        bearing_true_deg, distance_m = np.array([90.0, 90.0, 60.0]), np.array([9_000.0, 14_000.0, 14_000.0])
        sight = seen(table, ground, bearing_true_deg, distance_m)
        by_rays = exact(table, ground, bearing_true_deg, distance_m)
        assert (sight.unknown_from_m <= distance_m).tolist() == [False, True, False]
        assert sight.unknown_from_m[1] == pytest.approx(by_rays.unknown_from_m[1], abs=1.0)
        np.testing.assert_allclose(sight.lowest_altitude_m, by_rays.lowest_altitude_m, atol=0.2)

    def test_of_the_point_itself_is_enough(self):
        ground = square_ground(plain)
        table = table_on(ground)
        sight = look_up(table=table, bearing_true_deg=np.array([10.0]), distance_m=np.array([3_000.0]), ground_m=np.array([np.nan]))
        assert sight.unknown_from_m[0] <= 3_000.0

    def test_everywhere_begins_at_the_clear_disc(self):
        ground = square_ground(lambda south, east: np.full(south.shape, -32768.0))
        antenna = antenna_on(ground, published_elevation_ft=100.0)
        table = table_on(ground, antenna)
        assert table.distance.size == 0
        np.testing.assert_allclose(table.unknown_from_m, 200.0, atol=1e-3)

    def test_lies_beyond_the_edge_of_the_data(self):
        ground = square_ground(plain, half_deg=0.1)
        table = table_on(ground)
        edge_m = 0.1 * 111_100.0
        north_m, north_east_m = table.unknown_from_m[0], table.unknown_from_m[table.rays // 8]
        assert north_m == pytest.approx(edge_m, rel=0.002)
        assert north_east_m == pytest.approx(0.1 * LONGITUDE_DEGREE_M * 2**0.5, rel=0.01)  # the east edge is nearer than the north edge

    def test_without_any_data(self):
        class Nowhere:
            fingerprint = "none"

            def window(self, **sides):
                return None

        antenna = Antenna(position=HERE, altitude_m=100.0, ground_m=None, height_assumed=True, elevation_estimated=False)
        table = build_table(antenna=antenna, ground=Nowhere(), reach_m=REACH_M)
        assert (table.unknown_from_m <= 200.0).all()
        assert table.distance.size == 0


def test_an_antenna_below_the_posts_round_it_is_hidden_by_them():
    """Published 60 m, in a pit that posts 93 m apart do not resolve: the ground beyond the clear disc rules."""
    ground = square_ground(lambda south, east: np.full(south.shape, 100.0))
    antenna = replace(antenna_on(ground), altitude_m=70.0)
    table = table_on(ground, antenna)
    bearing_true_deg, distance_m, _, _ = random_points(HERE, 40, seed=9)
    found_m = seen(table, ground, bearing_true_deg, distance_m).lowest_altitude_m
    np.testing.assert_allclose(found_m, exact(table, ground, bearing_true_deg, distance_m).lowest_altitude_m, rtol=1e-5)
    assert (found_m > 70.0 + 30.0 / 200.0 * distance_m * 0.99).all()


def test_nothing_is_in_the_way_within_the_clear_disc():
    ground = square_ground(wall)
    sight = look_up(
        table=table_on(ground), bearing_true_deg=np.array([np.nan, 90.0]), distance_m=np.array([0.0, 199.0]), ground_m=np.zeros(2)
    )
    assert (sight.lowest_altitude_m == -np.inf).all()
    assert (sight.unknown_from_m == np.inf).all()


def test_beyond_its_reach_the_table_says_nothing():
    ground = square_ground(plain)
    sight = look_up(
        table=table_on(ground), bearing_true_deg=np.zeros(2), distance_m=np.array([REACH_M, REACH_M + 1.0]), ground_m=np.zeros(2)
    )
    assert np.isfinite(sight.lowest_altitude_m[0])
    assert np.isnan(sight.lowest_altitude_m[1]) and np.isnan(sight.unknown_from_m[1])


def test_the_last_ray_leads_on_to_the_first():
    ground = square_ground(plateau)
    table = table_on(ground)
    sight = seen(table, ground, np.array([359.99, 0.0, 360.0, 0.01]), np.full(4, 20_000.0))
    np.testing.assert_allclose(sight.lowest_altitude_m, sight.lowest_altitude_m[1], atol=0.1)


def test_many_threads_give_the_same_table():
    ground = square_ground(own_hill)
    alone = table_on(ground)
    with ThreadPoolExecutor(3) as pool:
        together = table_on(ground, map_chunks=pool.map)
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(alone, name), getattr(together, name))


@pytest.mark.parametrize("dtype", [np.int16, np.float32])
def test_skipping_what_cannot_hide_changes_no_bit(monkeypatch, dtype):
    def ground_with_voids(south, east):
        return np.where((south % 97 == 5) & (east % 41 < 3), -32768.0, rough_posts(4, south))

    drawn = square_ground(ground_with_voids)
    ground = GridGround(drawn.posts.astype(dtype), drawn.north_lat_deg, drawn.west_lon_deg, drawn.step_lat_deg, drawn.step_lon_deg)
    skipping = table_on(ground, rays=720)
    bounds_of = crest_table._bounds_of

    def no_bounds(posts):
        return tuple(np.broadcast_to(np.array([np.inf, -np.inf], np.float32), blocks.shape).copy() for blocks in bounds_of(posts))

    monkeypatch.setattr(crest_table, "_bounds_of", no_bounds)
    walking_all = table_on(ground, rays=720)
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(skipping, name), getattr(walking_all, name))


def test_another_refraction_makes_another_table():
    ground = square_ground(plain)
    weak, strong = (table_on(ground, effective_earth_factor=k) for k in (1.2, 1.5))
    weak_m, strong_m = (seen(table, ground, np.array([30.0]), np.array([23_000.0])).lowest_altitude_m for table in (weak, strong))
    assert weak_m > strong_m


def test_near_a_pole_there_is_no_table():
    position = Position(lat_deg=-80.5, lon_deg=0.0)
    ground = square_ground(plain, middle=position, half_deg=0.2, step_deg=0.01)
    with pytest.raises(OutOfRange, match=r"latitude -80\.5.*ask for single rays") as caught:
        build_table(antenna=antenna_on(ground, position=position), ground=ground)
    assert caught.value.code == "no-crest-table"
