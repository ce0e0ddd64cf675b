"""Laws of the line of sight, on ground made up by Hypothesis."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from server.navigation.position import Position
from server.radio.sight import lowest_altitudes, place_antenna, sight_line
from tests.builders import GridGround

NORTH, WEST, STEP = 44.0, -37.0, 1 / 60
SIZE = 61  # one degree of posts a side
MIDDLE = Position(lat_deg=43.5, lon_deg=-36.5)
WGS84 = Geod(ellps="WGS84")

seeds = st.integers(0, 2**32 - 1)
bearings = st.floats(0.0, 359.9)
positions = st.builds(Position, lat_deg=st.floats(43.3, 43.7), lon_deg=st.floats(-36.7, -36.3))
FAR_M = 23_900.0  # within the ground from every one of these positions; well short of six chords of 4 km, so always six
ROUNDING_M = 0.05  # places are rounded to 0.2 mm here (1e-7 of a step of 1.9 km); flanks of 2 in 1 and leverage 100 make it centimetres


def rough_posts(seed):
    random = np.random.default_rng(seed)
    return (random.uniform(0.0, 1.0, (SIZE, SIZE)) ** 4 * 2500.0).astype(np.float32)


def ground_of(posts, *, west=WEST):
    return GridGround(posts, NORTH, west, STEP, STEP)


def antenna_at(position, ground, height_m=600.0):
    return place_antenna(position=position, published_elevation_ft=0.0, antenna_height_ft=height_m / 0.3048, ground=ground)


def along(position, bearing_true_deg, distance_m):
    same = np.ones_like(distance_m)
    lon_deg, lat_deg, _ = WGS84.fwd(position.lon_deg * same, position.lat_deg * same, bearing_true_deg * same, distance_m)
    return np.asarray(lat_deg), np.asarray(lon_deg)


@given(seed=seeds, bearing=bearings, position=positions)
@settings(max_examples=60, deadline=None)
def test_one_ray_and_a_table_of_points_agree(seed, bearing, position):
    ground = ground_of(rough_posts(seed))
    antenna = antenna_at(position, ground)
    line = sight_line(antenna=antenna, bearing_true_deg=bearing, length_m=FAR_M, ground=ground)
    distance_m = np.linspace(300.0, FAR_M, 57)
    lat_deg, lon_deg = along(position, bearing, distance_m)
    table = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
    # The chords of the two lie up to 0.3 m apart, on flanks of up to 2,500 m over 1,350 m, and a crest may be near: metres times leverage.
    np.testing.assert_allclose(line.lowest_altitude_m(distance_m), table.lowest_altitude_m, atol=0.5, rtol=2e-3)
    exact = lowest_altitudes(antenna=antenna, lat_deg=lat_deg[-1:], lon_deg=lon_deg[-1:], ground=ground)  # the same chords
    np.testing.assert_allclose(line.lowest_altitude_m(FAR_M), exact.lowest_altitude_m, atol=ROUNDING_M)


@given(seed=seeds, bearing=bearings, position=positions, share=st.floats(0.05, 1.0))
@settings(max_examples=60, deadline=None)
def test_a_longer_ray_agrees_with_a_shorter_one_on_the_common_part(seed, bearing, position, share):
    ground = ground_of(rough_posts(seed))
    antenna = antenna_at(position, ground)
    chords = max(1, round(share * 6))  # whole chords of 4 km, so that both rays have the same nodes
    long = sight_line(antenna=antenna, bearing_true_deg=bearing, length_m=24_000.0, ground=ground)
    short = sight_line(antenna=antenna, bearing_true_deg=bearing, length_m=chords * 4_000.0, ground=ground)
    distance_m = np.linspace(0.0, chords * 4_000.0, 50)
    np.testing.assert_allclose(long.lowest_altitude_m(distance_m), short.lowest_altitude_m(distance_m), atol=1e-6)


@given(
    seed=seeds,
    bearing=bearings,
    position=positions,
    row=st.integers(0, SIZE - 1),
    column=st.integers(0, SIZE - 1),
    rise=st.floats(0.0, 3000.0),
)
@settings(max_examples=100, deadline=None)
def test_raising_a_post_never_lowers_the_lowest_altitude(seed, bearing, position, row, column, rise):
    posts = rough_posts(seed)
    before = ground_of(posts)
    antenna = antenna_at(position, before)
    lat_deg, lon_deg = along(position, bearing, np.linspace(300.0, FAR_M, 25))
    raised = posts.copy()
    raised[row, column] += rise
    low = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=before).lowest_altitude_m
    high = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground_of(raised)).lowest_altitude_m
    assert (high >= low - 1e-6).all()


@given(seed=seeds, bearing=bearings, position=positions)
@settings(max_examples=60, deadline=None)
def test_lowering_the_aircraft_never_improves_reception(seed, bearing, position):
    """The answer is a threshold: the straight line on the effective sphere to any altitude above it clears the ground, below it does not.

    Checked with that line, not with the walk. Above: marched in steps of 20 m, 1 m of slack for what steps miss. Below: the crest, or the
    ground at the aircraft itself, stands above the line. 0.6 m of slack: a chord lies up to 0.3 m from the geodesic, on flanks of 2 in 1.
    """
    ground = ground_of(rough_posts(seed))
    antenna = antenna_at(position, ground)
    line = sight_line(antenna=antenna, bearing_true_deg=bearing, length_m=FAR_M, ground=ground)
    threshold_m = float(line.lowest_altitude_m(FAR_M)[0])
    d = np.append(np.arange(200.0, FAR_M, 20.0), FAR_M)
    lat_deg, lon_deg = along(position, bearing, d)
    z = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    for more_m in (1.0, 100.0, 500.0):
        assert np.all(z <= straight_line_m(antenna.altitude_m, threshold_m + more_m, d, FAR_M) + 1.0)
    crest = line.crest_before(FAR_M)
    d = np.array([line.crest_distance_m[crest] if crest is not None else FAR_M, FAR_M])
    lat_deg, lon_deg = along(position, bearing, d)
    z = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    for less_m in (1.0, 100.0, 500.0):
        assert np.any(z > straight_line_m(antenna.altitude_m, threshold_m - less_m, d, FAR_M) - 0.6)


def straight_line_m(antenna_m, target_m, d, length_m, radius_m=6_371_008.8 * 4.0 / 3.0):
    """Altitudes of the straight line from the antenna to the target at distances d: cut of two lines in plane polar coordinates."""
    full = length_m / radius_m
    a, b = radius_m + antenna_m, radius_m + target_m
    return a * b * np.sin(full) / (a * np.sin(d / radius_m) + b * np.sin(full - d / radius_m)) - radius_m


@given(seed=seeds, bearing=bearings, position=positions, holes=st.floats(0.001, 0.2))
@settings(max_examples=80, deadline=None)
def test_unknown_posts_only_add_unknown(seed, bearing, position, holes):
    posts = rough_posts(seed)
    antenna = antenna_at(position, ground_of(posts))
    lat_deg, lon_deg = along(position, bearing, np.linspace(300.0, FAR_M, 25))
    holed = posts.copy()
    holed[np.random.default_rng(seed + 1).random(posts.shape) < holes] = np.nan
    whole = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground_of(posts))
    part = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground_of(holed))
    assert (part.unknown_from_m <= whole.unknown_from_m).all()
    assert (part.lowest_altitude_m <= whole.lowest_altitude_m + 1e-9).all()
    known = np.isinf(part.unknown_from_m)
    np.testing.assert_array_equal(part.lowest_altitude_m[known], whole.lowest_altitude_m[known])


@given(seed=seeds, bearing=bearings)
@settings(max_examples=60, deadline=None)
def test_mirrored_ground_gives_the_mirrored_answer(seed, bearing):
    """East and west exchanged about the meridian of the antenna."""
    posts = rough_posts(seed)
    ground, mirrored = ground_of(posts), ground_of(posts[:, ::-1].copy())
    distance_m = np.linspace(300.0, FAR_M, 25)
    answers = []
    for here, way in ((ground, bearing), (mirrored, -bearing)):
        lat_deg, lon_deg = along(MIDDLE, way, distance_m)
        answers.append(lowest_altitudes(antenna=antenna_at(MIDDLE, here), lat_deg=lat_deg, lon_deg=lon_deg, ground=here))
    np.testing.assert_allclose(answers[0].lowest_altitude_m, answers[1].lowest_altitude_m, atol=ROUNDING_M)
    np.testing.assert_allclose(answers[0].ridge_lon_deg - MIDDLE.lon_deg, MIDDLE.lon_deg - answers[1].ridge_lon_deg, atol=1e-6)


@given(seed=seeds, bearing=bearings, position=positions, turn=st.sampled_from([216.4, 216.6, -143.6]))
@settings(max_examples=30, deadline=None)
def test_moving_everything_round_the_earth_changes_nothing(seed, bearing, position, turn):
    """Some of the moves lay the ground across the antimeridian."""
    posts = rough_posts(seed)
    moved = Position(lat_deg=position.lat_deg, lon_deg=position.lon_deg + turn)
    distance_m = np.linspace(300.0, FAR_M, 25)
    answers = []
    for start, ground in ((position, ground_of(posts)), (moved, ground_of(posts, west=WEST + turn))):
        lat_deg, lon_deg = along(start, bearing, distance_m)
        answers.append(lowest_altitudes(antenna=antenna_at(start, ground), lat_deg=lat_deg, lon_deg=lon_deg, ground=ground))
    np.testing.assert_allclose(answers[0].lowest_altitude_m, answers[1].lowest_altitude_m, atol=ROUNDING_M)


@given(seed=seeds, bearing=bearings, position=positions)
@settings(max_examples=60, deadline=None)
def test_a_ridge_stands_on_the_ray_before_the_point_and_the_lowest_line_touches_it(seed, bearing, position):
    ground = ground_of(rough_posts(seed))
    antenna = antenna_at(position, ground)
    distance_m = np.linspace(300.0, FAR_M, 25)
    lat_deg, lon_deg = along(position, bearing, distance_m)
    table = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
    here_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    named = np.isfinite(table.ridge_distance_m)
    for k in np.flatnonzero(named):
        assert 200.0 <= table.ridge_distance_m[k] < distance_m[k] - 0.9
        line_m = straight_line_m(antenna.altitude_m, table.lowest_altitude_m[k], table.ridge_distance_m[k], distance_m[k])
        np.testing.assert_allclose(line_m, table.ridge_elevation_m[k], atol=1e-3)
    on_ground = np.abs(table.lowest_altitude_m - here_m) < 1e-6
    assert not named[on_ground].any()
