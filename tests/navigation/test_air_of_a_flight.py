"""The air at an altitude by QNH and forecast. ICAO Doc 7488 (from memory, by formula); items of a European PPL question bank."""

from __future__ import annotations

import pytest

from server.errors import OutOfRange
from server.navigation import NorthReference, WindLayer, density_altitude_ft
from server.navigation.air import air_at, temperature_at

STANDARD_C = {5_000.0: 5.094, 7_000.0: 1.132, 9_000.0: -2.831, 10_000.0: -4.812, 2_000.0: 11.038}
"""ICAO Doc 7488."""


def layer(altitude_ft: float, temperature_c: float | None) -> WindLayer:
    return WindLayer(altitude_ft=altitude_ft, from_deg=270.0, speed_kt=10.0, reference=NorthReference.TRUE, temperature_c=temperature_c)


def test_temperatures_of_standard_air_at_two_heights_give_standard_air_between_below_and_above():
    layers = (layer(9_000.0, STANDARD_C[9_000.0]), layer(5_000.0, STANDARD_C[5_000.0]), layer(7_000.0, None))
    for altitude_ft, temperature_c in STANDARD_C.items():
        assert temperature_at(layers, altitude_ft) == pytest.approx(temperature_c, abs=0.002)


def test_without_a_temperature_none_is_told():
    assert temperature_at((), 5_000.0) is None
    assert temperature_at((layer(5_000.0, None),), 5_000.0) is None
    air = air_at(5_000.0, qnh_hpa=1013.25, layers=(layer(5_000.0, None),), isa_deviation_c=None)
    assert (air.temperature_c, air.isa_deviation_c) == (None, None)


# Elevation or reading [ft], QNH [hPa], temperature [degC], density altitude [ft]: items 125 and 138.
@pytest.mark.parametrize(("altitude_ft", "qnh_hpa", "temperature_c", "density_ft"), [(5_250, 1010, 27, 7_890), (3_850, 1025, -4, 2_050)])
def test_agrees_with_question_bank_items_on_density_altitude(altitude_ft, qnh_hpa, temperature_c, density_ft):
    air = air_at(altitude_ft, qnh_hpa=qnh_hpa, layers=(layer(altitude_ft, temperature_c),), isa_deviation_c=None)
    assert air.temperature_c == temperature_c
    assert density_altitude_ft(air.pressure_altitude_ft, air.temperature_c) == pytest.approx(density_ft, abs=25)


def test_agrees_with_a_question_bank_item_on_pressure_altitude():
    """Item 147: an altimeter on 1010 hPa reads 1,380 ft; by 30 ft for each hPa, rounded, 1,470 ft."""
    air = air_at(1_380.0, qnh_hpa=1010.0, layers=(), isa_deviation_c=None)
    assert air.pressure_altitude_ft == pytest.approx(1_470.0, abs=15.0)
    assert not air.standard_pressure_assumed


def test_without_qnh_the_altitude_is_taken_as_pressure_altitude_and_that_is_said():
    air = air_at(7_000.0, qnh_hpa=None, layers=(), isa_deviation_c=10.0)
    assert (air.pressure_altitude_ft, air.standard_pressure_assumed) == (7_000.0, True)
    assert air.temperature_c == pytest.approx(STANDARD_C[7_000.0] + 10.0, abs=0.001)


def test_a_forecast_temperature_counts_before_the_deviation_given_for_all_heights():
    air = air_at(7_000.0, qnh_hpa=1013.25, layers=(layer(7_000.0, STANDARD_C[7_000.0] + 4.0),), isa_deviation_c=-10.0)
    assert air.isa_deviation_c == pytest.approx(4.0, abs=0.001)


def test_an_impossible_altimeter_setting_is_refused():
    with pytest.raises(OutOfRange, match="altimeter setting of 0 hPa is not possible"):
        air_at(7_000.0, qnh_hpa=0.0, layers=(), isa_deviation_c=None)
