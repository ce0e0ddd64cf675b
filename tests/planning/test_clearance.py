"""The ground of a corridor: every post counts, its ends are round, and no leg takes more memory than another."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from pyproj import Geod

from server.navigation import Position, destination, distance_nm
from server.planning.clearance import ground_under_leg
from server.planning.log_legs import ProfilePoint
from server.terrain import Terrain
from server.terrain.ground import Mosaic
from server.terrain.lattice import Lattice
from server.units import feet_from_metres

GEOD = Geod(ellps="WGS84")
START = Position(lat_deg=43.5, lon_deg=-36.5)
STEP = 1.0 / 1200.0


def looked(ground, end, *, corridor_nm=4.0, altitude_ft=9_500.0, total_nm=None, start_nm=0.0, profile=None, airfields_ft=(None, None)):
    length_nm = distance_nm(START, end)
    total_nm = total_nm or length_nm
    level = (ProfilePoint(distance_nm=0.0, altitude_ft=altitude_ft), ProfilePoint(distance_nm=total_nm, altitude_ft=altitude_ft))
    return ground_under_leg(
        start=START,
        end=end,
        length_nm=length_nm,
        start_nm=start_nm,
        total_nm=total_nm,
        profile=profile or level,
        ground=ground,
        corridor_nm=corridor_nm,
        airfields_ft=airfields_ft,
    )


def on_ground(posts: np.ndarray) -> Terrain:
    lattice = Lattice(north_lat_deg=44.0, west_lon_deg=-37.0, step_lat_deg=STEP, step_lon_deg=STEP, rows=1_201, columns=1_201)
    return Terrain(fingerprint="x", mosaics=[Mosaic(lattice=lattice, posts=posts.astype(np.float32))])


def rough(seed: int) -> np.ndarray:
    return np.random.default_rng(seed).uniform(0.0, 3_000.0, (1_201, 1_201)).astype(np.float32)


def level(elevation_m: float, hill: tuple[Position, float] | None = None) -> Terrain:
    """Level ground, with one post higher."""
    posts = np.full((1_201, 1_201), elevation_m, dtype=np.float32)
    if hill is not None:
        at, hill_m = hill
        posts[round((44.0 - at.lat_deg) / STEP), round((at.lon_deg + 37.0) / STEP)] = hill_m
    return on_ground(posts)


def highest_by_hand_ft(posts: np.ndarray, start: Position, end: Position, corridor_nm: float) -> float:
    """The highest post within the corridor: geodesic distances to places of the leg every 0.05 NM, by PROJ, one post after the other."""
    length_nm = distance_nm(start, end)
    bearing = GEOD.inv(start.lon_deg, start.lat_deg, end.lon_deg, end.lat_deg)[0]
    at_m = np.arange(0.0, length_nm * 1852.0 + 1.0, 92.6)
    lon, lat, _ = GEOD.fwd(np.full(at_m.size, start.lon_deg), np.full(at_m.size, start.lat_deg), np.full(at_m.size, bearing), at_m)
    order = np.argsort(posts, axis=None)[::-1]
    for index in order[:20_000].tolist():
        row, column = divmod(index, posts.shape[1])
        post_lat, post_lon = 44.0 - row * STEP, -37.0 + column * STEP
        _, _, away_m = GEOD.inv(np.full(at_m.size, post_lon), np.full(at_m.size, post_lat), lon, lat)
        if away_m.min() <= corridor_nm * 1852.0:
            return float(feet_from_metres(posts[row, column]))
    raise AssertionError("no post lies in the corridor")


@pytest.mark.parametrize(("seed", "bearing_deg"), [(1, 20.0), (2, 95.0), (3, 200.0), (4, 311.0)])
def test_the_highest_ground_is_that_of_every_post_in_the_corridor(seed, bearing_deg):
    posts, end = rough(seed), destination(START, bearing_true_deg=bearing_deg, distance_nm=12.0)
    found = looked(on_ground(posts), end)
    by_hand_ft = highest_by_hand_ft(posts, START, end, 4.0)
    assert by_hand_ft - 0.01 <= found.highest_ft <= feet_from_metres(3_000.0)
    assert found.highest_ft - by_hand_ft < 20.0  # a patch that reaches into the corridor may hang on a post just outside


def test_ground_beyond_the_end_of_a_leg_counts_where_the_heading_is_held_on():
    end = destination(START, bearing_true_deg=90.0, distance_nm=10.0)
    beyond = destination(end, bearing_true_deg=90.0, distance_nm=3.0)
    assert looked(level(100.0, (beyond, 2_000.0)), end).highest_ft == pytest.approx(feet_from_metres(2_000.0))
    corner = destination(end, bearing_true_deg=45.0, distance_nm=4.5)  # in a square end, not in a round one
    assert looked(level(100.0, (corner, 2_000.0)), end).highest_ft == pytest.approx(feet_from_metres(100.0))


def test_a_short_leg_beside_a_mountain_is_mountainous():
    mountain = destination(START, bearing_true_deg=0.0, distance_nm=7.0)
    found = looked(level(100.0, (mountain, 1_500.0)), destination(START, bearing_true_deg=90.0, distance_nm=0.3))
    assert found.relief_ft == pytest.approx(feet_from_metres(1_400.0), abs=1.0)
    assert found.highest_ft == pytest.approx(feet_from_metres(100.0))


def test_a_leg_across_half_the_earth_takes_little_memory():
    far = Position(lat_deg=-36.5, lon_deg=43.5)  # latitude and longitude swapped
    tracemalloc.start()
    found = looked(level(50.0), far, corridor_nm=20.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert not found.all_known
    assert peak < 200e6


def climb_out(altitude_ft, over_nm, total_nm):
    return (
        ProfilePoint(distance_nm=0.0, altitude_ft=100.0),
        ProfilePoint(distance_nm=over_nm, altitude_ft=altitude_ft),
        ProfilePoint(distance_nm=total_nm, altitude_ft=altitude_ft),
    )


def test_a_climb_out_over_level_ground_is_simply_the_take_off_and_one_towards_a_hill_is_not():
    end = destination(START, bearing_true_deg=90.0, distance_nm=30.0)
    profile = climb_out(6_000.0, 20.0, 60.0)  # 300 ft a mile: 1,000 ft above the field at 3.4 NM
    flat = level(30.0)
    asked = {"profile": profile, "total_nm": 60.0, "airfields_ft": (100.0, 100.0)}
    assert looked(flat, end, **asked).close_nm is None
    hill = level(30.0, (destination(START, bearing_true_deg=90.0, distance_nm=5.0), 300.0))  # 984 ft, passed at 1,600 ft
    assert looked(hill, end, **asked).close_nm == pytest.approx(5.0, abs=0.1)
