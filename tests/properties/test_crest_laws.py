"""Laws of crest tables, on ground made up by Hypothesis."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from server.navigation.position import Position
from server.radio import crest_table
from server.radio.crest_table import LEAST_STEP_M, build_table, look_up
from server.radio.sight import lowest_altitudes, place_antenna
from tests.builders import GridGround

NORTH, WEST, STEP = 44.0, -37.0, 1 / 240
SIZE = 241  # one degree of posts a side
FAR_M = 20_000.0  # within the ground from every antenna below
RAYS = 720
WGS84 = Geod(ellps="WGS84")

seeds = st.integers(0, 2**32 - 1)
positions = st.builds(Position, lat_deg=st.floats(43.4, 43.6), lon_deg=st.floats(-36.6, -36.4))
heights = st.floats(5.0, 900.0)


def rough_ground(seed, *, voids=False, steepness=4):
    random = np.random.default_rng(seed)
    posts = (random.uniform(0.0, 1.0, (SIZE, SIZE)) ** steepness * 900.0).astype(np.float32)
    if voids:
        posts[random.uniform(size=posts.shape) < 0.001] = np.nan
    return GridGround(posts, NORTH, WEST, STEP, STEP)


def table_at(position, height_m, ground, **changes):
    antenna = place_antenna(position=position, published_elevation_ft=0.0, antenna_height_ft=height_m / 0.3048, ground=ground)
    return build_table(antenna=antenna, ground=ground, **({"rays": RAYS, "reach_m": FAR_M} | changes))


def on_rays(table, seed, count=60):
    """Bearings, distances and ground at random points under the rays of a table, with their latitudes and longitudes."""
    random = np.random.default_rng(seed)
    bearing_true_deg, distance_m = random.integers(0, RAYS, count) * 360.0 / RAYS, random.uniform(300.0, FAR_M, count)
    position, same = table.antenna.position, np.ones(count)
    lon_deg, lat_deg, _ = WGS84.fwd(position.lon_deg * same, position.lat_deg * same, bearing_true_deg, distance_m)
    return bearing_true_deg, distance_m, np.asarray(lat_deg), np.asarray(lon_deg)


def altitudes_m(table, ground, bearing_true_deg, distance_m, lat_deg, lon_deg):
    ground_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    return look_up(table=table, bearing_true_deg=bearing_true_deg, distance_m=distance_m, ground_m=ground_m).lowest_altitude_m


@given(seed=seeds, position=positions, height_m=heights)
@settings(max_examples=25, deadline=None)
def test_under_its_rays_a_table_agrees_with_exact_rays(seed, position, height_m):
    ground = rough_ground(seed)
    table = table_at(position, height_m, ground)
    points = on_rays(table, seed)
    exact_m = lowest_altitudes(antenna=table.antenna, lat_deg=points[2], lon_deg=points[3], ground=ground).lowest_altitude_m
    # Chords of the two rays lie up to 0.2 m apart, and crests are placed to 0.15 m: on flanks of 3 in 1 with leverage up to 60.
    np.testing.assert_allclose(altitudes_m(table, ground, *points), exact_m, rtol=5e-3, atol=1.0)


@given(seed=seeds, position=positions, height_m=heights, voids=st.booleans())
@settings(max_examples=25, deadline=None)
def test_skipping_what_cannot_hide_changes_no_bit(seed, position, height_m, voids):
    ground = rough_ground(seed, voids=voids, steepness=20)
    skipping = table_at(position, height_m, ground)
    bounds_of = crest_table._bounds_of
    try:
        crest_table._bounds_of = lambda posts: tuple(
            np.broadcast_to(np.array([np.inf, -np.inf], np.float32), blocks.shape).copy() for blocks in bounds_of(posts)
        )
        walking_all = table_at(position, height_m, ground)
    finally:
        crest_table._bounds_of = bounds_of
    for name in ("first_crest", "distance", "slope", "drift", "unknown_from_m"):
        np.testing.assert_array_equal(getattr(skipping, name), getattr(walking_all, name))


@given(
    seed=seeds,
    position=positions,
    height_m=heights,
    row=st.integers(0, SIZE - 1),
    column=st.integers(0, SIZE - 1),
    rise_m=st.floats(0.0, 2000.0),
)
@settings(max_examples=25, deadline=None)
def test_higher_ground_never_lets_one_see_from_lower(seed, position, height_m, row, column, rise_m):
    ground = rough_ground(seed)
    table = table_at(position, height_m + 1000.0, ground)
    posts = ground.posts.copy()
    posts[row, column] += rise_m
    raised = GridGround(posts, NORTH, WEST, STEP, STEP)
    same_antenna = build_table(antenna=table.antenna, ground=raised, rays=RAYS, reach_m=FAR_M)
    points = on_rays(table, seed)
    low_m, high_m = altitudes_m(table, ground, *points), altitudes_m(same_antenna, raised, *points)
    assert (high_m >= low_m - LEAST_STEP_M - 0.1).all()  # crests are placed to 0.15 m


@given(seed=seeds, position=positions, height_m=heights)
@settings(max_examples=25, deadline=None)
def test_crests_rise_along_every_ray(seed, position, height_m):
    table = table_at(position, height_m, rough_ground(seed))
    ray = np.repeat(np.arange(RAYS), np.diff(table.first_crest))
    same_ray = ray[1:] == ray[:-1]
    assert (np.diff(table.slope)[same_ray] > 0.0).all()
    assert (np.diff(table.distance.astype(int))[same_ray] > 0).all()
