"""True altitude against the ICAO cold temperature table, the 4 % rule, a closed form and an integration by other means."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.navigation import indicated_altitude_ft, true_altitude_ft

# ICAO Doc 8168 volume I, cold temperature correction (the same as FAA AIM 7-3-1, ICAO cold temperature error table), from memory.
# Station at sea level; by its temperature [degC], what is added to a height above it. [ft]
HEIGHTS_FT = (500, 1000, 1500, 2000, 3000, 4000, 5000)
TABLE = {
    0: (30, 60, 90, 120, 170, 230, 280),
    -10: (50, 100, 150, 200, 290, 390, 490),
    -20: (70, 140, 210, 280, 420, 570, 710),
    -30: (100, 190, 280, 380, 570, 760, 950),
    -40: (120, 240, 360, 480, 720, 970, 1210),
    -50: (150, 300, 450, 590, 890, 1190, 1500),
}


@pytest.mark.parametrize("temperature_c", list(TABLE))
def test_agrees_with_the_icao_cold_temperature_error_table(temperature_c):
    for height_ft, correction_ft in zip(HEIGHTS_FT, TABLE[temperature_c], strict=True):
        indicated_ft = indicated_altitude_ft(float(height_ft), station_elevation_ft=0.0, deviation_c=lambda _: temperature_c - 15.0)
        assert indicated_ft - height_ft == pytest.approx(correction_ft, abs=max(10.0, 0.015 * correction_ft)), height_ft


def test_12_500_ft_in_air_25_degrees_colder_than_standard_is_near_11_730_ft():
    """A station at 4,120 ft. 4 % a 10 degrees of the height above it (rule of thumb) gives 11,662; the hydrostatic closed form for one
    deviation, d / L ln(T1 / T2) with L = 1.98 degrees a 1,000 ft, is worked out here."""
    found_ft = true_altitude_ft(12_500.0, station_elevation_ft=4_120.0, deviation_c=lambda _: -25.0)
    lapse = 0.0065 * 0.3048
    below_k, above_k = (288.15 - lapse * altitude_ft for altitude_ft in (4_120.0, 12_500.0))
    assert found_ft == pytest.approx(12_500.0 - 25.0 / lapse * math.log(below_k / above_k), abs=0.5)
    assert found_ft == pytest.approx(11_733.0, abs=10.0)
    assert found_ft == pytest.approx(11_662.0, abs=100.0)


def test_agrees_with_barometric_layers_integrated_by_other_means():
    """Ten thousand layers from p = p0 exp(-g dz / R T): the true height at which the pressure of 9,500 ft in standard air is met, in air
    whose deviation changes with height."""
    g, r, t0, lapse = 9.80665, 287.05287, 288.15, 0.0065

    def deviation_c(altitude_ft: float) -> float:
        return -30.0 + altitude_ft / 1_000.0

    target_m = 9_500.0 * 0.3048
    target = (1.0 - lapse * target_m / t0) ** (g / (r * lapse))
    pressure, true_m, step_m = 1.0, 0.0, 0.2
    while pressure > target:
        standard_m = t0 / lapse * (1.0 - pressure ** (r * lapse / g))
        temperature_k = t0 - lapse * standard_m + deviation_c(standard_m / 0.3048)
        pressure *= math.exp(-g * step_m / (r * temperature_k))
        true_m += step_m
    assert true_altitude_ft(9_500.0, station_elevation_ft=0.0, deviation_c=deviation_c) == pytest.approx(true_m / 0.3048, abs=3.0)


@pytest.mark.parametrize("true_ft", np.arange(500.0, 15_000.0, 2_900.0))
def test_turned_round_it_comes_back(true_ft):
    air = {"station_elevation_ft": 800.0, "deviation_c": lambda altitude_ft: -20.0 - altitude_ft / 2_000.0, "setting_ft": 300.0}
    assert true_altitude_ft(indicated_altitude_ft(true_ft, **air), **air) == pytest.approx(true_ft, abs=0.2)


def test_at_the_station_of_the_qnh_the_altimeter_is_right():
    assert true_altitude_ft(4_000.0, station_elevation_ft=4_000.0, deviation_c=lambda _: -40.0) == 4_000.0
