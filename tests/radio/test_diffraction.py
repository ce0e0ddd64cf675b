"""Diffraction: its laws, its kernels three ways (compiled, as plain Python, against slow code in other units), and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.errors import OutOfRange, TerrainMissing
from server.radio import _diffraction_kernels as kernels
from server.radio.diffraction import (
    LAND,
    SEA,
    Polarisation,
    delta_bullington,
    knife_edge_loss_db,
    knife_edge_parameter,
    spherical_earth_loss_db,
)

RADIUS_M = 8_500_000.0
LIGHT_M_S = 299_792_458.0


def plain(kernel):
    return kernel.py_func


def compiled(kernel):
    return kernel


both_ways = pytest.mark.parametrize("form", [compiled, plain])


def a_loss(distance_m, elevation_m, transmitter_m, receiver_m, **changes):
    values = {"frequency_mhz": 113.0, "polarisation": Polarisation.HORIZONTAL, "effective_earth_radius_m": RADIUS_M, "constants": LAND}
    return delta_bullington(
        distance_m=distance_m, elevation_m=elevation_m, transmitter_m=transmitter_m, receiver_m=receiver_m, **(values | changes)
    )


# ---- slow, obvious code: P.526 in its practical units (km, m, MHz) -----------------------------------------------------------------------


def slow_bullington(d_km, z_m, tx_m, rx_m, ae_km, f_mhz):
    length, inner, z = d_km[-1], d_km[1:-1], z_m[1:-1]
    lam = LIGHT_M_S / 1e6 / f_mhz
    raised = z + 500.0 * inner * (length - inner) / ae_km
    from_tx, direct = np.max((raised - tx_m) / inner), (rx_m - tx_m) / length
    if from_tx < direct:
        over = raised - (tx_m * (length - inner) + rx_m * inner) / length
        v = np.max(over * np.sqrt(0.002 * length / (lam * inner * (length - inner))))
    else:
        from_rx = np.max((raised - rx_m) / (length - inner))
        at = (rx_m - tx_m + from_rx * length) / (from_tx + from_rx)
        over = tx_m + from_tx * at - (tx_m * (length - at) + rx_m * at) / length
        v = over * np.sqrt(0.002 * length / (lam * at * (length - at)))
    edge = 6.9 + 20.0 * np.log10(np.sqrt((v - 0.1) ** 2 + 1.0) + v - 0.1) if v > -0.78 else 0.0
    return edge + (1.0 - np.exp(-edge / 6.0)) * (10.0 + 0.02 * length)


def slow_over_horizon(d_km, h1_m, h2_m, ae_km, f_mhz, eps, sigma, vertical):
    k = 0.36 * (ae_km * f_mhz) ** (-1 / 3) * ((eps - 1.0) ** 2 + (18000.0 * sigma / f_mhz) ** 2) ** -0.25
    k *= np.sqrt(eps**2 + (18000.0 * sigma / f_mhz) ** 2) if vertical else 1.0
    beta = (1.0 + 1.6 * k**2 + 0.67 * k**4) / (1.0 + 4.5 * k**2 + 1.53 * k**4)
    x = 2.188 * beta * f_mhz ** (1 / 3) * ae_km ** (-2 / 3) * d_km
    gain = 11.0 + 10.0 * np.log10(x) - 17.6 * x if x >= 1.6 else -20.0 * np.log10(x) - 5.6488 * x**1.425
    for height_m in (h1_m, h2_m):
        b = beta * 9.575e-3 * beta * f_mhz ** (2 / 3) * ae_km ** (-1 / 3) * height_m
        g = 17.6 * np.sqrt(b - 1.1) - 5.0 * np.log10(b - 1.1) - 8.0 if b > 2.0 else 20.0 * np.log10(b + 0.1 * b**3)
        gain += max(g, 2.0 + 20.0 * np.log10(k))
    return -gain


def slow_clearance_m(d_km, h1_m, h2_m, ae_km):
    """Least height of the straight ray over the curved ground, and where, by trying 200,001 places."""
    along = np.linspace(0.0, d_km, 200_001)
    height = h1_m + (h2_m - h1_m) * along / d_km - 500.0 * along * (d_km - along) / ae_km
    return along, height


def rough_profile(seed, points=60):
    random = np.random.default_rng(seed)
    distance_m = np.concatenate(([0.0], np.cumsum(random.uniform(50.0, 2000.0, points - 1))))
    return distance_m, random.normal(300.0, 200.0, points)


@both_ways
@pytest.mark.parametrize("seed", range(12))
def test_bullington_kernel_agrees_with_slow_code(form, seed):
    distance_m, elevation_m = rough_profile(seed)
    for receiver_m in (elevation_m[-1] + 5.0, 1500.0, 6000.0):
        mine = form(kernels.bullington_loss)(distance_m, elevation_m, elevation_m[0] + 10.0, receiver_m, RADIUS_M, LIGHT_M_S / 113e6)
        slow = slow_bullington(distance_m / 1000.0, elevation_m, elevation_m[0] + 10.0, receiver_m, RADIUS_M / 1000.0, 113.0)
        assert mine == pytest.approx(slow, abs=1e-9)


@both_ways
@pytest.mark.parametrize("vertical", [False, True])
@pytest.mark.parametrize(("eps", "sigma"), [(22.0, 0.003), (80.0, 5.0)])
def test_over_horizon_kernel_agrees_with_slow_code(form, vertical, eps, sigma):
    """The practical constants carry four figures, 0.03 % of up to 300 dB; the 0.36 of the admittance two, 0.07 dB an antenna."""
    for d_km, h1_m, h2_m, f_mhz in (
        (60.0, 10.0, 50.0, 113.0),
        (300.0, 2.0, 1500.0, 113.0),
        (120.0, 8.0, 300.0, 1164.0),
        (20.0, 1.0, 1.0, 30.0),
    ):
        mine = form(kernels.over_horizon_loss)(d_km * 1e3, h1_m, h2_m, RADIUS_M, LIGHT_M_S / (f_mhz * 1e6), eps, sigma, vertical)
        slow = slow_over_horizon(d_km, h1_m, h2_m, RADIUS_M / 1000.0, f_mhz, eps, sigma, vertical)
        assert mine == pytest.approx(slow, abs=0.2)


@both_ways
@pytest.mark.parametrize(("d_km", "h1_m", "h2_m"), [(40.0, 10.0, 900.0), (80.0, 500.0, 500.0), (20.0, 3000.0, 30.0), (100.0, 40.0, 3000.0)])
def test_nearest_ground_is_where_the_clearance_over_the_fresnel_zone_is_least(form, d_km, h1_m, h2_m):
    """P.526 takes the reflection point, where the angles to the ground are equal: check just that, by plain geometry."""
    d1_m, d2_m, clearance_m = form(kernels.nearest_ground)(d_km * 1e3, h1_m, h2_m, RADIUS_M)
    assert d1_m + d2_m == pytest.approx(d_km * 1e3)
    angle_up = (h1_m - d1_m**2 / (2 * RADIUS_M)) / d1_m
    angle_down = (h2_m - d2_m**2 / (2 * RADIUS_M)) / d2_m
    assert angle_up == pytest.approx(angle_down, rel=1e-9)
    along_km, height_m = slow_clearance_m(d_km, h1_m, h2_m, RADIUS_M / 1000.0)
    assert clearance_m == pytest.approx(np.interp(d1_m / 1000.0, along_km, height_m), abs=0.01)


@both_ways
def test_fitted_ground_of_a_slope_is_the_slope(form):
    distance_m = np.array([0.0, 700.0, 900.0, 4000.0, 10_000.0])
    at_start_m, at_end_m = form(kernels.fitted_ground)(distance_m, 100.0 + 0.02 * distance_m)
    assert (at_start_m, at_end_m) == pytest.approx((100.0, 300.0))


@both_ways
def test_whole_kernel_is_the_sum_of_its_parts(form):
    distance_m, elevation_m = rough_profile(3)
    total, actual, smooth, spherical, h1, h2 = form(kernels.delta_bullington)(
        distance_m, elevation_m, elevation_m[0] + 10.0, 1200.0, RADIUS_M, LIGHT_M_S / 113e6, 22.0, 0.003, False
    )
    flat = np.zeros(distance_m.size)
    assert actual == pytest.approx(slow_bullington(distance_m / 1e3, elevation_m, elevation_m[0] + 10.0, 1200.0, 8500.0, 113.0), abs=1e-9)
    assert smooth == pytest.approx(slow_bullington(distance_m / 1e3, flat, h1, h2, 8500.0, 113.0), abs=1e-9)
    assert spherical == pytest.approx(kernels.spherical_earth_loss(distance_m[-1], h1, h2, RADIUS_M, LIGHT_M_S / 113e6, 22.0, 0.003, False))
    assert total == pytest.approx(actual + max(spherical - smooth, 0.0))


@both_ways
def test_small_kernels_are_the_same_both_ways(form):
    assert form(kernels.knife_edge_loss)(0.0) == pytest.approx(6.033, abs=0.001)  # radio_navigation.md 3.3
    assert form(kernels.knife_edge_loss)(-1.0) == 0.0
    assert form(kernels.knife_edge_parameter)(100.0, 10_000.0, 30_000.0, 2.0) == pytest.approx(100.0 * np.sqrt(1e-4 + 1e-4 / 3.0))
    assert form(kernels.distance_term)(1.6) == pytest.approx(11.0 + 10.0 * np.log10(1.6) - 17.6 * 1.6)
    assert form(kernels.height_term)(0.0, 0.01) == pytest.approx(2.0 - 40.0)
    assert form(kernels.height_term)(1.0, 0.01) == pytest.approx(20.0 * np.log10(1.1))
    assert form(kernels.ground_admittance)(RADIUS_M, 2.653, 22.0, 0.003, False) == pytest.approx(
        0.36 * (8500.0 * 113.0) ** (-1 / 3) * (21.0**2 + (54.0 / 113.0) ** 2) ** -0.25, rel=0.01
    )
    profile = np.array([0.0, 1000.0, 2000.0]), np.array([0.0, 50.0, 0.0])
    assert form(kernels.obstruction)(*profile, 10.0, 10.0) == pytest.approx((40.0, 0.04, 0.04))
    assert form(kernels.horizon_slopes)(*profile, 10.0, 10.0, 1e15) == pytest.approx((0.04, 0.04))
    assert form(kernels.highest_parameter)(*profile, 10.0, 10.0, 1e15, 2.0) == pytest.approx(40.0 * np.sqrt(0.002))
    assert form(kernels.effective_heights)(np.array([0.0, 1000.0, 2000.0]), np.array([0.0, 0.0, 0.0]), 10.0, 20.0) == pytest.approx(
        (10.0, 20.0)
    )


# ---- laws --------------------------------------------------------------------------------------------------------------------------------

ELEVATIONS = st.lists(st.floats(0.0, 2000.0), min_size=3, max_size=12)


@given(ELEVATIONS, st.floats(1.0, 100.0), st.floats(1.0, 5000.0), st.sampled_from(Polarisation))
@settings(deadline=None)
def test_a_path_costs_the_same_both_ways(elevations, height_m, other_height_m, polarisation):
    elevation_m = np.array(elevations)
    distance_m = np.arange(elevation_m.size) * 4000.0
    out = a_loss(distance_m, elevation_m, elevation_m[0] + height_m, elevation_m[-1] + other_height_m, polarisation=polarisation)
    back = a_loss(
        distance_m, elevation_m[::-1].copy(), elevation_m[-1] + other_height_m, elevation_m[0] + height_m, polarisation=polarisation
    )
    assert out.total_db == pytest.approx(back.total_db, abs=1e-6)
    assert out.transmitter_effective_height_m == pytest.approx(back.receiver_effective_height_m, abs=1e-6)


@given(ELEVATIONS, st.integers(0, 11), st.floats(0.0, 1500.0))
@settings(deadline=None)
def test_raising_an_edge_never_lowers_bullingtons_loss(elevations, which, by_m):
    elevation_m = np.array(elevations)
    distance_m = np.arange(elevation_m.size) * 4000.0
    raised_m = elevation_m.copy()
    raised_m[1 + which % (elevation_m.size - 2)] += by_m
    before, after = (a_loss(distance_m, z, elevation_m[0] + 10.0, elevation_m[-1] + 800.0) for z in (elevation_m, raised_m))
    assert after.bullington_db >= before.bullington_db - 1e-9


@given(st.floats(5_000.0, 300_000.0), st.floats(0.5, 3000.0), st.floats(0.5, 6000.0))
@settings(deadline=None)
def test_over_smooth_ground_the_loss_is_that_of_the_spherical_earth(distance_m, height_m, other_height_m):
    loss = a_loss(np.linspace(0.0, distance_m, 50), np.zeros(50), height_m, other_height_m)
    assert loss.bullington_db == loss.smooth_bullington_db
    assert (loss.transmitter_effective_height_m, loss.receiver_effective_height_m) == (height_m, other_height_m)
    assert loss.total_db == pytest.approx(max(loss.spherical_db, loss.bullington_db), abs=1e-9)


def test_the_loss_grows_from_clear_to_beyond_the_horizon():
    losses_db = [
        spherical_earth_loss_db(
            distance_m=d_km * 1000.0,
            height_m=10.0,
            other_height_m=1000.0,
            frequency_mhz=113.0,
            polarisation=Polarisation.HORIZONTAL,
            effective_earth_radius_m=RADIUS_M,
            constants=LAND,
        )
        for d_km in range(10, 260, 5)
    ]
    assert losses_db[0] == 0.0
    assert (np.diff(losses_db) >= 0.0).all()
    assert losses_db[-1] > 40.0


def test_polarisation_and_ground_tell_only_where_they_should():
    """Horizontal: P.526 takes beta = 1 on any ground. Vertical over the sea loses less than over land, the lower the frequency the more."""
    distance_m, elevation_m = np.linspace(0.0, 60_000.0, 50), np.zeros(50)

    def loss_db(polarisation, constants, frequency_mhz=113.0):
        return a_loss(
            distance_m, elevation_m, 5.0, 5.0, polarisation=polarisation, constants=constants, frequency_mhz=frequency_mhz
        ).total_db

    horizontal_db = loss_db(Polarisation.HORIZONTAL, LAND)
    assert loss_db(Polarisation.HORIZONTAL, SEA) == pytest.approx(horizontal_db, abs=0.01)
    assert loss_db(Polarisation.VERTICAL, SEA) < loss_db(Polarisation.VERTICAL, LAND) < horizontal_db + 1.0
    spread_db = [loss_db(Polarisation.VERTICAL, LAND, f) - loss_db(Polarisation.VERTICAL, SEA, f) for f in (30.0, 113.0, 1164.0)]
    assert spread_db[0] > spread_db[1] > spread_db[2]


def test_ground_that_just_touches_the_ray_costs_a_knife_edge_at_zero():
    """v = 0: J = 6.033 dB (radio_navigation.md 3.3), and Bullington's correction for the length."""
    loss = a_loss(np.array([0.0, 1000.0, 2000.0]), np.array([0.0, 10.0, 0.0]), 10.0, 10.0, effective_earth_radius_m=1e15)
    assert loss.bullington_db == pytest.approx(6.033 + (1.0 - np.exp(-6.033 / 6.0)) * 10.04, abs=0.002)


def test_an_antenna_on_the_ground_has_a_loss_all_the_same():
    assert np.isfinite(a_loss(np.linspace(0.0, 50_000.0, 9), np.zeros(9), 0.0, 2000.0).total_db)
    assert np.isfinite(a_loss(np.linspace(0.0, 50_000.0, 9), np.zeros(9), 0.0, 0.0).total_db)


# ---- what is refused ---------------------------------------------------------------------------------------------------------------------


def test_unknown_ground_is_refused():
    with pytest.raises(TerrainMissing, match="not known all along the path"):
        a_loss(np.array([0.0, 1000.0, 2000.0]), np.array([0.0, np.nan, 0.0]), 10.0, 10.0)


@pytest.mark.parametrize(
    ("distance_m", "elevation_m", "changes", "words"),
    [
        ([0.0], [0.0], {}, "two or more"),
        ([0.0, 1.0], [0.0, 1.0, 2.0], {}, "as many elevations as distances"),
        ([0.0, 2000.0, 1000.0], [0.0, 0.0, 0.0], {}, "begin at 0 and rise"),
        ([10.0, 2000.0], [0.0, 0.0], {}, "begin at 0 and rise"),
        ([0.0, 2000.0], [0.0, 20.0], {}, "10 m below the ground"),
        ([0.0, 2000.0], [0.0, 0.0], {"frequency_mhz": 5.0}, "5 MHz was given. Diffraction is worked out from 10 MHz up"),
        ([0.0, 2000.0], [0.0, 0.0], {"effective_earth_radius_m": 0.0}, "earth radius of 0 m was given"),
    ],
)
def test_a_bad_profile_is_refused_in_words(distance_m, elevation_m, changes, words):
    with pytest.raises(OutOfRange, match=words):
        a_loss(np.array(distance_m), np.array(elevation_m), 10.0, 10.0, **changes)


def test_edges_at_an_antenna_and_antennas_in_the_ground_are_refused():
    with pytest.raises(OutOfRange, match="An edge stands between the antennas"):
        knife_edge_parameter(height_m=10.0, to_one_end_m=0.0, to_other_end_m=1000.0, frequency_mhz=113.0)
    smooth = {"frequency_mhz": 113.0, "polarisation": Polarisation.HORIZONTAL, "effective_earth_radius_m": RADIUS_M, "constants": LAND}
    with pytest.raises(OutOfRange, match="antenna 3 m below the ground"):
        spherical_earth_loss_db(distance_m=1000.0, height_m=10.0, other_height_m=-3.0, **smooth)
    with pytest.raises(OutOfRange, match="A path of 0 m was given"):
        spherical_earth_loss_db(distance_m=0.0, height_m=10.0, other_height_m=10.0, **smooth)


def test_knife_edge_loss_takes_numbers_and_arrays():
    assert isinstance(knife_edge_loss_db(1.0), float)
    assert knife_edge_loss_db(np.array([1.0, 2.0])).shape == (2,)
