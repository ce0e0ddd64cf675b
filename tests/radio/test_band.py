"""The band of a line of sight: laws on made-up ground, and levers and refractions worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import Position, destinations
from server.radio import place_antenna
from server.radio.band import NO_DOUBT, STANDARD_DOUBT, band_m, lever, sight_band
from server.radio.sight import lowest_altitudes
from tests.builders import GridGround, flat_ground, ridge_ground

MAST = Position(lat_deg=43.0, lon_deg=-36.0)
EARTH_RADIUS_M = 6_371_009.0  # mean radius of WGS 84 (IUGG)
NORTH, WEST, STEP = 44.0, -37.0, 1 / 60
SIZE = 61
MIDDLE = Position(lat_deg=43.5, lon_deg=-36.5)

seeds = st.integers(0, 2**32 - 1)
bearings = st.floats(0.0, 359.9)


def rough_ground(seed: int) -> GridGround:
    posts = np.random.default_rng(seed).uniform(0.0, 1.0, (SIZE, SIZE)) ** 4 * 2500.0
    return GridGround(posts.astype(np.float32), NORTH, WEST, STEP, STEP)


def antenna_on(ground, position: Position = MAST, antenna_height_ft: float | None = None):
    antenna = place_antenna(position=position, published_elevation_ft=None, antenna_height_ft=antenna_height_ft, ground=ground)
    assert antenna is not None
    return antenna


def band_along(
    ground, bearing_true_deg: float, distance_m: np.ndarray, *, position: Position = MAST, antenna_height_ft: float | None = None
):
    lat_deg, lon_deg = destinations(position, bearing_true_deg=bearing_true_deg, distance_m=distance_m)
    return sight_band(
        antenna=antenna_on(ground, position, antenna_height_ft), lat_deg=lat_deg, lon_deg=lon_deg, distance_m=distance_m, ground=ground
    )


@given(seed=seeds, bearing=bearings)
@settings(max_examples=40, deadline=None)
def test_the_middle_lies_in_the_band_with_the_error_of_the_ground_to_spare(seed, bearing):
    band = band_along(rough_ground(seed), bearing, np.linspace(300.0, 35_000.0, 40), position=MIDDLE)
    middle_m = band.table.lowest_altitude_m
    assert np.isfinite(middle_m).all()
    assert (band.surely_hidden_m <= middle_m - STANDARD_DOUBT.ground_error_m).all()
    assert (band.surely_seen_m >= middle_m + STANDARD_DOUBT.ground_error_m).all()


@given(
    distance_m=st.floats(1_000.0, 250_000.0),
    nearer=st.floats(0.01, 1.0),
    further=st.floats(1.0, 10.0),
    assumed=st.booleans(),
)
def test_the_band_widens_with_distance_over_crest_distance(distance_m, nearer, further, assumed):
    def width_m(distance_m: float, crest_m: float) -> float:
        hidden_m, seen_m = band_m(
            weak_m=np.array([900.0]),
            strong_m=np.array([800.0]),
            distance_m=np.array([distance_m]),
            crest_distance_m=np.array([crest_m]),
            antenna_assumed=assumed,
            doubt=STANDARD_DOUBT,
        )
        return float(seen_m[0] - hidden_m[0])

    crest_m = distance_m / 2.0
    width = width_m(distance_m, crest_m)
    assert width_m(distance_m, crest_m * nearer) >= width
    assert width_m(distance_m * further, crest_m) >= width
    assert width >= 100.0 + 2.0 * STANDARD_DOUBT.ground_error_m  # never narrower than refraction and ground ask


@given(
    height_ft=st.floats(10.0, 3000.0),
    k=st.lists(st.floats(1.0, 3.0), min_size=2, max_size=2).map(sorted),
    elevation_m=st.sampled_from([0.0, 400.0, 2500.0]),
    bearing=bearings,
)
@settings(max_examples=40, deadline=None)
def test_raising_k_never_raises_the_lowest_altitude_on_smooth_earth(height_ft, k, elevation_m, bearing):
    ground = flat_ground(elevation_m, south=41.5, north=44.5, west=-38.0, east=-34.0, step_deg=1 / 60)
    lat_deg, lon_deg = destinations(MAST, bearing_true_deg=bearing, distance_m=np.linspace(1_000.0, 150_000.0, 30))
    low_k_m, high_k_m = (
        lowest_altitudes(
            antenna=antenna_on(ground, antenna_height_ft=height_ft),
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            ground=ground,
            effective_earth_factor=each,
        ).lowest_altitude_m
        for each in k
    )
    assert (high_k_m <= low_k_m + 1e-6).all()


def test_a_lever_is_distance_over_crest_distance_and_at_least_one():
    # By similar triangles: a ray over a crest at 20 km that lies 10 m higher lies 25 m higher at 50 km. Just behind the crest: 10 m.
    levers = lever(distance_m=np.array([50_000.0, 20_100.0, 20_000.0, 90_000.0]), crest_distance_m=np.array([20e3, 20_100.0, 25e3, 30e3]))
    np.testing.assert_allclose(levers, [2.5, 1.0, 1.0, 3.0])


@pytest.mark.parametrize(
    ("antenna_height_ft", "error_m"),
    [(None, STANDARD_DOUBT.ground_error_m + STANDARD_DOUBT.antenna_error_m), (100.0, STANDARD_DOUBT.ground_error_m)],
)
def test_the_band_behind_a_ridge_is_what_the_hand_works_out(antenna_height_ft, error_m):
    # A ridge of 2,000 m, 19.97 km north. Heights over a chord (ITU-R P.452): h = h0 + slope D + D^2 / 2ka, slope = (z - h0) / d - d / 2ka,
    # so h = h0 + (z - h0) D/d + D (D - d) / 2ka. For D = 3 d a ground error counts three times.
    crest_lat_deg = 43.0 + 1 / 60 * 10.5 + 1 / 240
    ground = ridge_ground(0.0, 2000.0, ridge_lat_deg=crest_lat_deg, south=42.9, north=44.5, west=-36.5, east=-35.5, step_deg=1 / 240)
    d_m = float(np.interp(crest_lat_deg, [43.0, 44.0], [0.0, 111_096.0]))  # a degree of the meridian at 43.5 N, WGS 84 (textbook series)
    antenna_m = 8.0 if antenna_height_ft is None else antenna_height_ft * 0.3048
    band = band_along(ground, 0.0, np.array([3.0 * d_m]), antenna_height_ft=antenna_height_ft)

    def altitude_m(k: float) -> float:
        return antenna_m + (2000.0 - antenna_m) * 3.0 + 3.0 * d_m * 2.0 * d_m / (2.0 * k * EARTH_RADIUS_M)

    tilt_m = 6.0  # (2,000 m / 20 km)^2 = 1 % of the bulge of the earth (about 150 m), and a few metres in d
    assert band.table.ridge_distance_m[0] == pytest.approx(d_m, abs=20.0)
    assert band.table.lowest_altitude_m[0] == pytest.approx(altitude_m(4.0 / 3.0), abs=tilt_m)
    assert band.surely_hidden_m[0] == pytest.approx(altitude_m(STANDARD_DOUBT.strong_k) - 3.0 * error_m, abs=tilt_m)
    assert band.surely_seen_m[0] == pytest.approx(altitude_m(STANDARD_DOUBT.weak_k) + 3.0 * error_m, abs=tilt_m)


def test_refraction_alone_opens_the_band_far_out_as_the_hand_works_out():
    # The same formula, exact to a part in a hundred: D (D - d) / 2a (1 / 1.2 - 1 / 1.5). For d = 20 km, D = 150 km: 255 m.
    crest_lat_deg = 43.0 + 0.18
    ground = ridge_ground(0.0, 2000.0, ridge_lat_deg=crest_lat_deg, south=42.9, north=44.6, west=-36.5, east=-35.5, step_deg=1 / 100)
    d_m, far_m = 0.18 * 111_096.0, 150_000.0
    band = band_along(ground, 0.0, np.array([far_m]), antenna_height_ft=100.0)
    by_refraction_m = far_m * (far_m - d_m) / (2.0 * EARTH_RADIUS_M) * (1.0 / STANDARD_DOUBT.weak_k - 1.0 / STANDARD_DOUBT.strong_k)
    by_ground_m = 2.0 * STANDARD_DOUBT.ground_error_m * far_m / d_m
    assert by_refraction_m == pytest.approx(255.0, abs=1.0)
    assert band.surely_seen_m[0] - band.surely_hidden_m[0] == pytest.approx(by_refraction_m + by_ground_m, rel=0.02)


def test_an_assumed_antenna_widens_the_band():
    ground = ridge_ground(0.0, 1500.0, ridge_lat_deg=43.2)
    known, assumed = (band_along(ground, 0.0, np.array([60_000.0]), antenna_height_ft=height_ft) for height_ft in (8.0 / 0.3048, None))
    np.testing.assert_allclose(known.table.lowest_altitude_m, assumed.table.lowest_altitude_m, rtol=1e-12)
    assert assumed.surely_hidden_m[0] < known.surely_hidden_m[0]
    assert assumed.surely_seen_m[0] > known.surely_seen_m[0]


def test_without_doubt_the_band_is_the_middle():
    ground = rough_ground(1)
    distance_m = np.linspace(300.0, 35_000.0, 40)
    lat_deg, lon_deg = destinations(MIDDLE, bearing_true_deg=77.0, distance_m=distance_m)
    band = sight_band(
        antenna=antenna_on(ground, MIDDLE), lat_deg=lat_deg, lon_deg=lon_deg, distance_m=distance_m, ground=ground, doubt=NO_DOUBT
    )
    np.testing.assert_array_equal(band.surely_hidden_m, band.table.lowest_altitude_m)
    np.testing.assert_array_equal(band.surely_seen_m, band.table.lowest_altitude_m)


def test_beside_the_antenna_it_is_seen_from_everywhere():
    band = band_along(flat_ground(0.0), 0.0, np.array([0.0, 50.0]))
    assert (band.surely_hidden_m == -np.inf).all() and (band.surely_seen_m == -np.inf).all()


def test_ground_that_is_not_known_is_told_with_the_band():
    ground = ridge_ground(0.0, -32768.0, ridge_lat_deg=43.2)
    band = band_along(ground, 0.0, np.array([10_000.0, 60_000.0]))
    assert np.isinf(band.table.unknown_from_m[0])
    assert band.table.unknown_from_m[1] == pytest.approx(0.2 * 111_090.0, abs=950.0)  # the patch before the line of voids counts
