"""The crest table's compiled loops: compiled, as plain Python, and against NumPy."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.radio import _crest_kernels
from tests.radio.slow_sight import exact_slope

RADIUS_M = 8_500_000.0  # default equivalent earth of ITU-R P.526
ANTENNA_M = 260.0

both_ways = pytest.mark.parametrize("form", [lambda kernel: kernel, lambda kernel: kernel.py_func])


@both_ways
def test_slope_by_its_series_is_the_one_plain_trigonometry_gives(form):
    for distance_m, elevation_m in ((200.0, 100.0), (30_000.0, 1_500.0), (240_000.0, -50.0), (400_000.0, 4_000.0)):
        slope = form(_crest_kernels.near_slope)(distance_m, elevation_m, ANTENNA_M, RADIUS_M)
        assert slope == pytest.approx(exact_slope(distance_m, elevation_m, ANTENNA_M, RADIUS_M), abs=1e-10)


@both_ways
@pytest.mark.parametrize("slope", [-0.05, 0.0, 0.02, 0.6])
def test_a_tangent_touches_the_line_of_sight_and_is_nowhere_above_it(form, slope):
    def altitude_m(distance_m):
        angle = distance_m / RADIUS_M
        return (RADIUS_M + ANTENNA_M) / (math.cos(angle) - slope * math.sin(angle)) - RADIUS_M

    at_m = 60_000.0
    line_m, rise = form(_crest_kernels.tangent)(slope, math.sin(at_m / RADIUS_M), math.cos(at_m / RADIUS_M), ANTENNA_M, RADIUS_M)
    assert line_m == pytest.approx(altitude_m(at_m), abs=1e-6)
    for distance_m in (500.0, 50_000.0, 59_000.0, 61_000.0, 240_000.0):
        assert line_m + rise * (distance_m - at_m) <= altitude_m(distance_m)


@both_ways
def test_there_is_no_line_of_sight_before_the_first_crest_and_none_that_falls_back(form):
    assert form(_crest_kernels.tangent)(-math.inf, 0.01, 1.0, ANTENNA_M, RADIUS_M) == (-math.inf, 0.0)
    assert form(_crest_kernels.tangent)(200.0, 0.01, 1.0, ANTENNA_M, RADIUS_M) == (math.inf, 0.0)


@both_ways
@pytest.mark.parametrize(
    ("start", "change", "t", "line"), [(0.5, 2.0, 0.0, 1.0), (0.5, 2.0, 0.25, 2.0), (3.0, -1.0, 0.0, 2.0), (3.5, -1.0, 0.5, 2.0)]
)
def test_the_next_line_lies_ahead(form, start, change, t, line):
    assert form(_crest_kernels.line_after)(start, change, 1.0 / change, t) == line
    assert form(_crest_kernels.line_after)(start, 0.0, math.inf, t) == math.inf


@both_ways
def test_a_ray_enters_a_patch_over_the_last_line_of_either_kind(form):
    entry = form(_crest_kernels.patch_entry)
    # From (0.5, 0.0), 4 rows and 2 columns: rows are met at 1/8, 3/8, 5/8, 7/8, columns at 0, 1/2, 1.
    assert entry(0.5, 4.0, 0.25, 0.0, 2.0, 0.5, 0.55, 0.0) == 0.5
    assert entry(0.5, 4.0, 0.25, 0.0, 2.0, 0.5, 0.70, 0.0) == 0.625
    assert entry(0.5, 4.0, 0.25, 0.0, 2.0, 0.5, 0.70, 0.66) == 0.66
    assert entry(0.5, 0.0, math.inf, 0.3, 0.0, math.inf, 0.70, 0.1) == 0.1


@both_ways
def test_blocks_hold_the_highest_and_the_lowest_of_the_posts_they_stand_for(form):
    random = np.random.default_rng(3)
    posts = random.integers(-50, 900, (23, 37)).astype(np.int16)
    posts[9, 17] = -32768
    small, large = np.empty((5, 7, 2), np.float32), np.empty((3, 4, 2), np.float32)
    form(_crest_kernels.small_blocks)(posts.ravel(), 23, 37, 37, np.float32(-32000.0), small)
    form(_crest_kernels.large_blocks)(small, large)
    form(_crest_kernels.widen_blocks)(small)
    form(_crest_kernels.widen_blocks)(large)
    bordered = np.full((160, 160), -np.inf, np.float32)  # 32 posts of nothing all round
    bordered[32 : 32 + 23, 32 : 32 + 37] = np.where(posts > -32000, posts, -np.inf)
    for blocks, side in ((small, 8), (large, 32)):
        for i in range(blocks.shape[0] - 1):
            for j in range(blocks.shape[1] - 1):
                row, column = 32 + (i - 1) * side, 32 + (j - 1) * side
                stands_for = bordered[row : row + 2 * side, column : column + 2 * side]
                assert blocks[i, j, 0] == stands_for.max()
                assert blocks[i, j, 1] == stands_for.min()


@both_ways
def test_places_off_the_lattice_belong_to_the_border(form):
    block_of = form(_crest_kernels.block_of)
    assert [block_of(place, 4, 8) for place in (-900.0, -0.5, 0.0, 3.99, 4.0, 23.0, 900.0)] == [0, 0, 1, 1, 2, 6, 7]


@both_ways
def test_a_ray_between_knots_is_the_cubic_through_four_of_them(form):
    turn = np.arange(-1.0, 4.0)[:, np.newaxis]
    node = np.arange(3.0)
    row, column, row_turn, column_turn = (np.empty(3) for _ in range(4))
    cubic = 100.0 + node + turn**3 - 2.0 * turn
    form(_crest_kernels.lay_ray)(1.3, cubic, -cubic, row, column, row_turn, column_turn)
    np.testing.assert_allclose(row, 100.0 + node + 1.3**3 - 2.6)
    np.testing.assert_allclose(column, -row)
    np.testing.assert_allclose(row_turn, 3.0 * 1.3**2 - 2.0)
    np.testing.assert_allclose(column_turn, -row_turn)


@both_ways
def test_crests_that_change_little_are_left_out(form):
    distance_m = np.array([1_000.0, 2_000.0, 4_000.0, 8_000.0])
    slope = np.array([0.0, 0.00002, 0.00004, 0.01])
    # Without the second, altitudes before the third are too low by 0.00002 x 4,000 m = 0.08 m; without the third too, by 0.32 m.
    assert form(_crest_kernels.keep_worthwhile)(distance_m, slope, 4, 20_000.0, 0.1) == 3
    assert distance_m[:3].tolist() == [1_000.0, 4_000.0, 8_000.0]
    assert slope[:3].tolist() == [0.0, 0.00004, 0.01]


@both_ways
@pytest.mark.parametrize("part", [0.0, 0.25, 0.5, 0.9, 1.0])
def test_between_two_rays_a_single_bend_is_found_again(form, part):
    bent_up = max(1.0 - 2.0 * part, 3.0 * part - 1.0)  # from 1 down, then up to 2
    bent_down = min(3.0 * part, 2.0 - part)
    assert form(_crest_kernels.slope_between)(1.0, 2.0, -2.0, 3.0, part) == (pytest.approx(bent_up), True)
    assert form(_crest_kernels.slope_between)(0.0, 1.0, 3.0, -1.0, part) == (pytest.approx(bent_down), True)
    assert not form(_crest_kernels.slope_between)(1.0, 9.0, -2.0, 3.0, part)[1]
    assert not form(_crest_kernels.slope_between)(1.0, 9.0, 2.0, 2.0, part)[1]


@both_ways
def test_a_crest_on_a_ridge_line_drifts_along_it(form):
    # A ridge along row 5 that rises 10 m a column; the ray goes due south (row_rate) and turns to the east (column_turn).
    posts = np.zeros((11, 11))
    posts[5] = 100.0 + 10.0 * np.arange(11)
    drift = form(_crest_kernels.crest_drift)(posts, -32000.0, 5.0, 4.5, 1 / 90.0, 0.0, 0.0, 0.01, 10_000.0, 0.02, RADIUS_M)
    assert drift == pytest.approx(0.01 * 10.0 / 10_000.0)
    # Turning brings the same ray 0.9 m nearer to the antenna as well (row_turn): the crest moves out to stay on the ridge.
    drift = form(_crest_kernels.crest_drift)(posts, -32000.0, 5.0, 4.5, 1 / 90.0, 0.0, -0.01, 0.01, 10_000.0, 0.02, RADIUS_M)
    moved = (0.02 + 10_000.0 / (2 * RADIUS_M)) * 10_000.0  # height over the antenna
    expected = (moved + 0.1) / 10_000.9 - 10_000.9 / (2 * RADIUS_M) - 0.02
    assert drift == pytest.approx(expected, rel=1e-3)


@both_ways
def test_a_crest_beside_unknown_posts_does_not_drift(form):
    posts = np.zeros((3, 3))
    posts[2, 2] = -32768.0
    assert form(_crest_kernels.crest_drift)(posts, -32000.0, 1.5, 1.5, 0.01, 0.0, 0.0, 0.01, 9_000.0, 0.0, RADIUS_M) == 0.0


def test_a_walk_as_plain_python_is_the_compiled_walk():
    random = np.random.default_rng(12)
    posts = random.uniform(0.0, 400.0, (60, 60))
    posts[30, 40] = np.nan
    row, column = np.linspace(5.2, 57.3, 4), np.array([3.1, 20.4, 37.2, 61.0])
    small, large = np.empty((10, 10, 2), np.float32), np.empty((4, 4, 2), np.float32)
    _crest_kernels.small_blocks(posts.ravel(), 60, 60, 60, np.float32(-32000.0), small)
    _crest_kernels.large_blocks(small, large)
    _crest_kernels.widen_blocks(small)
    _crest_kernels.widen_blocks(large)
    angle = np.arange(3 * 4) * (1_500.0 / 4 / RADIUS_M)  # pieces of at most 6 steps
    walks = []
    for walk in (_crest_kernels.walk_ray, _crest_kernels.walk_ray.py_func):
        distance_m, slope = np.zeros(900), np.zeros(900)
        count, unknown_m = walk(
            posts, -32000.0, small, large, row, column, 1_500.0, 200.0, 120.0, RADIUS_M, np.sin(angle), np.cos(angle), distance_m, slope
        )
        walks.append((count, unknown_m, distance_m.tolist(), slope.tolist()))
    assert walks[0] == walks[1]
    assert walks[0][0] >= 2
    assert 200.0 < walks[0][1] < 4_500.0  # where the ray leaves the posts, at the latest
