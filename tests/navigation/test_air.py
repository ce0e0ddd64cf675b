"""Limits of the standard atmosphere formulas."""

from __future__ import annotations

import numpy as np
import pytest

from server.errors import OutOfRange
from server.navigation import (
    calibrated_airspeed_kt,
    density_altitude_ft,
    isa_pressure_hpa,
    isa_temperature_c,
    pressure_altitude_ft,
    true_airspeed_kt,
)


def test_at_sea_level_in_standard_air_true_and_calibrated_airspeed_are_one():
    assert true_airspeed_kt(100, 0, 15) == pytest.approx(100, abs=1e-9)


@pytest.mark.parametrize("altitude_ft", [-20_000, 70_000])
def test_outside_the_standard_atmosphere_a_scalar_is_refused_and_an_array_holds_nan(altitude_ft):
    with pytest.raises(OutOfRange, match="outside the standard atmosphere"):
        isa_pressure_hpa(altitude_ft)
    assert list(np.isnan(isa_temperature_c(np.array([altitude_ft, 0.0])))) == [True, False]


def test_an_impossible_altimeter_setting_is_refused():
    with pytest.raises(OutOfRange, match="0 hPa is not possible"):
        pressure_altitude_ft(1000, 0)


def test_air_colder_than_absolute_zero_is_refused():
    with pytest.raises(OutOfRange, match="No air is as cold as -300"):
        density_altitude_ft(5000, -300)


@pytest.mark.parametrize("speed_kt", [-1, 700])
def test_an_airspeed_below_zero_or_above_sound_is_refused(speed_kt):
    with pytest.raises(OutOfRange, match="below zero or above the speed of sound"):
        true_airspeed_kt(speed_kt, 5000, 5)
    with pytest.raises(OutOfRange, match="below zero or above the speed of sound"):
        calibrated_airspeed_kt(speed_kt, 0, 15)


def test_arrays_hold_nan_for_impossible_airspeeds():
    assert list(np.isnan(true_airspeed_kt(np.array([-1.0, 100.0, 700.0]), 5000, 5))) == [True, False, True]


def test_density_altitude_of_standard_air_is_the_altitude_also_above_the_tropopause():
    for altitude_ft in (-1000.0, 10_000.0, 36_000.0, 40_000.0, 60_000.0):
        assert density_altitude_ft(altitude_ft, isa_temperature_c(altitude_ft)) == pytest.approx(altitude_ft, abs=0.01)
