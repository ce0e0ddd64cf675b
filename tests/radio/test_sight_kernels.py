"""The compiled walk three ways: compiled, as plain Python, and against slow NumPy and shapely (tests/radio/slow_sight.py)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.radio import _kernels
from server.radio.ground import UNKNOWN_BELOW_M
from tests.radio.slow_sight import cut_by_patches, exact_slope, marched, surface

RADIUS_M = 8_500_000.0  # default equivalent earth of ITU-R P.526
ANTENNA_M = 260.0


def plain(kernel):
    return kernel.py_func


def compiled(kernel):
    return kernel


both_ways = pytest.mark.parametrize("form", [compiled, plain])


def rough_ground(seed, dtype=np.int16, rows=40, columns=50):
    return np.random.default_rng(seed).normal(200.0, 120.0, (rows, columns)).astype(dtype)


def bent_ray(seed):
    """Four nodes that keep inside the ground of rough_ground, 1 km apart."""
    random = np.random.default_rng(seed + 1000)
    start = random.uniform([2.0, 2.0], [37.0, 47.0])
    end = random.uniform([2.0, 2.0], [37.0, 47.0])
    nodes = np.linspace(start, end, 4) + random.uniform(-0.7, 0.7, (4, 2))
    return nodes[:, 0].copy(), nodes[:, 1].copy(), np.arange(4) * 1000.0


def walked(form, posts, row, column, node_distance, start=200.0, antenna_m=ANTENNA_M):
    most = form(_kernels.turning_points_at_most)(row, column)
    distance, elevation = np.empty(most), np.empty(most)
    count = form(_kernels.walk)(posts, UNKNOWN_BELOW_M, row, column, node_distance, start, antenna_m, RADIUS_M, distance, elevation)
    return distance[:count], elevation[:count]


def highest(form, distance, elevation):
    return form(_kernels.highest_point)(distance, elevation, distance.size, ANTENNA_M, RADIUS_M)[0]


@both_ways
def test_slope_is_the_one_plain_trigonometry_gives(form):
    for distance_m, elevation_m in ((250.0, 100.0), (30_000.0, 1_500.0), (240_000.0, -50.0), (900_000.0, 4_000.0)):
        slope = form(_kernels.sight_slope)(distance_m, elevation_m, ANTENNA_M, RADIUS_M)
        assert slope == pytest.approx(exact_slope(distance_m, elevation_m, ANTENNA_M, RADIUS_M), abs=1e-10)


@both_ways
def test_altitude_on_a_slope_undoes_the_slope(form):
    for distance_m, elevation_m in ((250.0, 100.0), (30_000.0, 1_500.0), (240_000.0, -50.0)):
        slope = exact_slope(distance_m, elevation_m, ANTENNA_M, RADIUS_M)
        assert form(_kernels.altitude_on_slope)(distance_m, slope, ANTENNA_M, RADIUS_M) == pytest.approx(elevation_m, abs=1e-6)


@both_ways
def test_a_line_too_steep_for_the_sphere_reaches_no_altitude_there(form):
    # 30 degrees of arc away, a line 70 degrees above the horizontal has its point at infinity nearer: 90 - 70 = 20 degrees.
    assert form(_kernels.altitude_on_slope)(RADIUS_M * math.radians(30.0), math.tan(math.radians(70.0)), 0.0, RADIUS_M) == math.inf
    assert form(_kernels.altitude_on_slope)(0.0, -math.inf, 0.0, RADIUS_M) == -math.inf


@both_ways
def test_altitudes_of_many_slopes_are_those_of_each(form):
    distance, slope, altitude = np.array([1e3, 5e4]), np.array([0.01, -np.inf]), np.empty(2)
    form(_kernels.altitudes_on_slopes)(distance, slope, ANTENNA_M, RADIUS_M, altitude)
    assert altitude[0] == _kernels.altitude_on_slope(1e3, 0.01, ANTENNA_M, RADIUS_M)
    assert altitude[1] == -math.inf


@both_ways
@pytest.mark.parametrize(
    ("start", "change", "t", "place"),
    [
        (0.5, 2.0, 0.0, 0.25),
        (0.5, 2.0, 0.25, 0.75),
        (3.0, -1.0, 0.0, 1.0),
        (3.5, -1.0, 0.0, 0.5),
        (3.0, 0.0, 0.2, math.inf),
        (0.25, 0.5, 0.0, 1.5),
    ],
)
def test_next_line_is_the_first_whole_number_ahead(form, start, change, t, place):
    assert form(_kernels.next_line)(start, change, t) == pytest.approx(place)


@both_ways
def test_a_ray_meets_every_line_once(form):
    for seed in range(20):
        start, change = np.random.default_rng(seed).uniform(-60.0, 60.0, 2)
        met, t = [], 0.0
        while (t := form(_kernels.next_line)(start, change, t)) < 1.0:
            met.append(round(start + change * t))
        low, high = sorted((start, start + change))
        assert sorted(met) == list(range(math.ceil(low), math.floor(high) + 1))


@both_ways
def test_elevations_are_bilinear_and_unknown_where_a_post_with_weight_is(form):
    posts = rough_ground(3)
    posts[10, 10] = -32768
    row = np.array([0.0, 5.25, 10.0, 10.0, 9.0, 9.5, 39.0, 39.1, -0.1, 12.0, np.nan, 8.0])
    column = np.array([0.0, 7.75, 10.0, 11.0, 10.5, 10.5, 49.0, 3.0, 3.0, 49.2, 4.0, np.nan])
    elevation = np.empty(row.size)
    form(_kernels.elevations_at)(posts, UNKNOWN_BELOW_M, row, column, elevation)
    expected = np.full(row.size, np.nan)
    expected[:10] = surface(posts, row[:10], column[:10])
    np.testing.assert_allclose(elevation, expected, atol=1e-9)
    assert np.isnan(elevation[[2, 5, 7, 8, 9]]).all() and np.isfinite(elevation[[0, 1, 3, 4, 6]]).all()


@both_ways
def test_one_line_of_posts_is_no_lattice(form):
    elevation = np.empty(1)
    form(_kernels.elevations_at)(np.zeros((1, 5), np.float32), UNKNOWN_BELOW_M, np.array([0.0]), np.array([2.0]), elevation)
    assert np.isnan(elevation[0])


@both_ways
def test_surface_along_a_piece_is_the_bilinear_surface(form):
    corners = (120.0, 310.0, 95.0, 260.0)
    z_in, rate, bend = form(_kernels.surface_along)(corners, 0.2, 0.9, 0.7, -0.6)
    u = np.linspace(0.0, 1.0, 9)
    expected = surface(np.array([[120.0, 310.0], [95.0, 260.0]]), 0.2 + 0.7 * u, 0.9 - 0.6 * u)
    np.testing.assert_allclose(z_in + rate * u + bend * u * u, expected, atol=1e-9)


@both_ways
def test_slope_over_level_ground_is_level_at_the_tangent_of_the_earth(form):
    # 100 m under the antenna: the tangent lies at sqrt(2 re 100 m) = 41.2 km.
    tangent_m = math.sqrt(2.0 * RADIUS_M * 100.0)
    assert form(_kernels.level_place)(20_000.0, 60_000.0, 160.0, 0.0, 0.0, ANTENNA_M, RADIUS_M) == pytest.approx(tangent_m, rel=1e-9)
    assert math.isnan(form(_kernels.level_place)(20_000.0, 30_000.0, 160.0, 0.0, 0.0, ANTENNA_M, RADIUS_M))
    assert math.isnan(form(_kernels.level_place)(50_000.0, 60_000.0, 160.0, 0.0, 0.0, ANTENNA_M, RADIUS_M))
    assert math.isnan(form(_kernels.level_place)(20_000.0, 60_000.0, 360.0, 0.0, 0.0, ANTENNA_M, RADIUS_M))


@both_ways
def test_slope_over_bent_ground_is_level_where_a_search_finds_it(form):
    u = np.linspace(0.0, 1.0, 200_001)
    for z_in, rate, bend in ((150.0, 60.0, -70.0), (300.0, -90.0, 90.0)):  # a dome below the antenna, a bowl above it
        slope = exact_slope(5_000.0 + 100.0 * u, z_in + rate * u + bend * u * u, ANTENNA_M, RADIUS_M)
        searched = 5_000.0 + 100.0 * u[np.argmax(slope) if bend < 0.0 else np.argmin(slope)]
        assert 5_001.0 < searched < 5_099.0
        found = form(_kernels.level_place)(5_000.0, 5_100.0, z_in, rate, bend, ANTENNA_M, RADIUS_M)
        assert found == pytest.approx(searched, abs=0.01)


@pytest.mark.parametrize("dtype", [np.int16, np.float32])
@pytest.mark.parametrize("seed", range(12))
def test_walk_agrees_with_cutting_every_patch_and_is_never_below_marching(seed, dtype):
    posts = rough_ground(seed, dtype)
    ray = bent_ray(seed)
    slope = highest(compiled, *walked(compiled, posts, *ray))
    by_patches, _ = cut_by_patches(posts, *ray, start=200.0, antenna_m=ANTENNA_M, radius_m=RADIUS_M)
    by_marching, _ = marched(posts, *ray, start=200.0, end=3000.0, step=2.0, antenna_m=ANTENNA_M, radius_m=RADIUS_M)
    assert slope == pytest.approx(by_patches, abs=2e-7)  # 41 x 41 samples of a piece; 2e-7 is 0.2 m at 1,000 km
    assert -1e-9 <= slope - by_marching <= 2e-2  # float noise below; above it, what 2 m steps can miss on slopes of 1 in 1


@pytest.mark.parametrize("seed", range(4))
def test_walk_in_plain_python_is_the_compiled_walk(seed):
    posts = rough_ground(seed)
    posts[np.random.default_rng(seed).random(posts.shape) < 0.01] = -32768
    ray = bent_ray(seed)
    distance, elevation = walked(compiled, posts, *ray)
    plain_distance, plain_elevation = walked(plain, posts, *ray)
    np.testing.assert_array_equal(distance, plain_distance)
    np.testing.assert_array_equal(elevation, plain_elevation)
    assert highest(compiled, distance, elevation) == highest(plain, distance, elevation)


@both_ways
def test_a_chord_gives_the_turning_points_of_a_ray_of_one_chord(form):
    posts = rough_ground(5)
    row, column, node_distance = bent_ray(5)
    distance, elevation = np.empty(200), np.empty(200)
    count = form(_kernels.add_chord)(
        posts, UNKNOWN_BELOW_M, (row[0], row[1]), (column[0], column[1]), 0.0, 1000.0, 200.0, ANTENNA_M, RADIUS_M, distance, elevation, 0
    )
    expected_distance, expected_elevation = walked(compiled, posts, row[:2], column[:2], node_distance[:2])
    np.testing.assert_array_equal(distance[:count], expected_distance)
    np.testing.assert_array_equal(elevation[:count], expected_elevation)


@pytest.mark.parametrize("seed", range(8))
def test_unknown_ground_begins_where_cutting_every_patch_finds_it(seed):
    posts = rough_ground(seed)
    posts[np.random.default_rng(seed).random(posts.shape) < 0.01] = -32768
    ray = bent_ray(seed)
    distance, elevation = walked(compiled, posts, *ray)
    by_patches, unknown_from = cut_by_patches(posts, *ray, start=200.0, antenna_m=ANTENNA_M, radius_m=RADIUS_M)
    for form in (compiled, plain):
        assert form(_kernels.first_unknown)(distance, elevation, distance.size) == pytest.approx(unknown_from, abs=1e-6)
    assert highest(compiled, distance, elevation) == pytest.approx(by_patches, abs=2e-7)


@both_ways
def test_a_ray_along_a_line_of_posts_needs_only_that_line(form):
    posts = rough_ground(7)
    posts[9, :] = posts[11, :] = -32768
    distance, elevation = walked(form, posts, np.array([10.0, 10.0]), np.array([3.0, 40.0]), np.array([0.0, 3700.0]))
    assert np.isfinite(elevation).all()
    np.testing.assert_allclose(elevation[np.isclose(distance % 100.0, 0.0)], posts[10, 5:41])  # entry at 200 m, then each post


@both_ways
def test_the_last_line_of_posts_belongs_to_the_lattice_and_beyond_is_unknown(form):
    posts = rough_ground(8)
    posts[38, :] = -32768  # has no weight on the edge
    _, on_edge = walked(form, posts, np.array([39.0, 39.0]), np.array([3.0, 40.0]), np.array([0.0, 3700.0]))
    assert np.isfinite(on_edge).all()
    posts = rough_ground(8)
    distance, elevation = walked(form, posts, np.array([30.0, 48.0]), np.array([3.0, 3.0]), np.array([0.0, 1800.0]))
    assert form(_kernels.first_unknown)(distance, elevation, distance.size) == pytest.approx(900.0)


@both_ways
def test_nodes_off_every_lattice_make_one_unknown_stretch(form):
    row, column = np.array([5.0, 8.0, np.nan, np.nan]), np.array([5.0, 8.0, np.nan, np.nan])
    distance, elevation = walked(form, rough_ground(9), row, column, np.arange(4) * 1000.0)
    assert np.isnan(elevation).sum() == 1
    assert form(_kernels.first_unknown)(distance, elevation, distance.size) == 1000.0


@both_ways
def test_crests_are_where_the_highest_slope_stops_rising(form):
    distance = np.array([200.0, 300.0, 400.0, 500.0, 600.0, 700.0, 800.0])
    elevation = np.array([250.0, 255.0, 250.0, 270.0, np.nan, 260.0, 300.0])
    slope = np.empty(7)
    crests = form(_kernels.keep_crests)(distance, elevation, 7, ANTENNA_M, RADIUS_M, slope)
    # 300 m is a crest; 500 m rises until the ground is unknown; the flank at 800 m has not stopped rising.
    assert crests == 2
    np.testing.assert_array_equal(distance[:2], [300.0, 500.0])
    np.testing.assert_array_equal(elevation[:2], [255.0, 270.0])
    np.testing.assert_allclose(slope[:2], exact_slope(distance[:2], elevation[:2], ANTENNA_M, RADIUS_M), atol=1e-12)


@both_ways
def test_many_rays_are_each_walked_as_one(form):
    posts = rough_ground(11)
    rays = [bent_ray(seed) for seed in range(3)]
    row, column, node_distance = (np.concatenate([ray[axis] for ray in rays]) for axis in range(3))
    slope, crest, crest_z, lowest_z, unknown_from = (np.empty(3) for _ in range(5))
    form(_kernels.walk_many)(
        posts, UNKNOWN_BELOW_M, row, column, node_distance, np.array([0, 4, 8, 12]), 200.0, ANTENNA_M, RADIUS_M,
        slope, crest, crest_z, lowest_z, unknown_from,
    )  # fmt: skip
    for k, ray in enumerate(rays):
        distance, elevation = walked(compiled, posts, *ray)
        assert (slope[k], crest[k], crest_z[k]) == _kernels.highest_point(distance, elevation, distance.size, ANTENNA_M, RADIUS_M)
        assert lowest_z[k] == elevation.min()
        assert unknown_from[k] == math.inf


@both_ways
def test_room_for_turning_points_always_suffices(form):
    for seed in range(10):
        posts = rough_ground(seed)
        posts[::2, ::2] = -32768
        row, column, node_distance = bent_ray(seed)
        distance, _ = walked(compiled, posts, row, column, node_distance, start=0.0)
        assert distance.size <= form(_kernels.turning_points_at_most)(row, column)
