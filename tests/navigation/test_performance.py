"""Reading performance tables: between the lines, beyond them, and where something needed is not known. Worked by hand beside each check."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import InputProblem
from server.navigation import (
    Beyond,
    ClimbRow,
    CruiseRow,
    DescentRow,
    FuelMeasure,
    FuelUnit,
    SpeedKind,
    TableAxis,
    climb_between,
    climb_rows_wrong,
    cruise_at,
    cruise_powers,
    cruise_rows_wrong,
    descent_between,
)
from server.units import knots_from_miles_per_hour, miles_per_hour_from_knots
from tests.reference.test_performance_tables import an_aircraft


def cruise_row(altitude_ft, deviation_c, tas_kt, fuel_l_per_h, power="65 %"):
    return CruiseRow(power=power, pressure_altitude_ft=altitude_ft, isa_deviation_c=deviation_c, tas_kt=tas_kt, fuel_l_per_h=fuel_l_per_h)


BLOCKS = (
    cruise_row(4000, 0, 110, 34),
    cruise_row(4000, 20, 114, 33),
    cruise_row(8000, 0, 116, 33),
    cruise_row(8000, 20, 121, 32),
    cruise_row(4000, 0, 118, 39, power="75 %"),
)
CLIMB = tuple(
    ClimbRow(pressure_altitude_ft=altitude, time_min=minutes, fuel_l=litres, air_distance_nm=miles)
    for altitude, minutes, litres, miles in ((2000, 3, 2, 4), (4000, 7, 5, 10), (8000, 17, 11, 24))
)
DESCENT = tuple(
    DescentRow(pressure_altitude_ft=altitude, time_min=minutes, fuel_l=litres, air_distance_nm=miles)
    for altitude, minutes, litres, miles in ((4000, 8, 4, 15), (8000, 16, 8, 31))
)


def cruise(altitude_ft, deviation_c, *, rows=BLOCKS, power="65 %"):
    return cruise_at(an_aircraft(cruise_table=rows), pressure_altitude_ft=altitude_ft, isa_deviation_c=deviation_c, power=power)


def test_between_four_lines_a_cruise_is_interpolated_first_by_temperature_then_by_altitude():
    answer = cruise(5000, 5)
    # 4,000 ft: 110 + 4/4 = 111; 8,000 ft: 116 + 5/4 = 117.25; a quarter of the way up: 112.5625
    assert answer.tas_kt == pytest.approx(112.5625)
    assert answer.fuel_l_per_h == pytest.approx(33.5)  # 33.75 and 32.75
    assert [(step.axis, step.result.tas_kt) for step in answer.steps] == [
        (TableAxis.ISA_DEVIATION, 111.0),
        (TableAxis.ISA_DEVIATION, 117.25),
        (TableAxis.PRESSURE_ALTITUDE, 112.5625),
    ]
    assert answer.rows_used == BLOCKS[:4] and not answer.beyond_table


@given(altitude_ft=st.floats(4000, 8000), deviation_c=st.floats(0, 20))
def test_a_full_grid_reads_alike_in_either_order(altitude_ft, deviation_c):
    up, warm = (altitude_ft - 4000) / 4000, deviation_c / 20
    by_altitude_first = (110 + up * 6) + warm * ((114 + up * 7) - (110 + up * 6))
    assert cruise(altitude_ft, deviation_c).tas_kt == pytest.approx(by_altitude_first)


def test_above_and_below_the_cruise_table_its_edge_is_held_and_said():
    low, high = cruise(1000, 0), cruise(9000, 20)
    assert (low.tas_kt, high.tas_kt) == (110, 121)
    assert low.beyond == (Beyond(axis=TableAxis.PRESSURE_ALTITUDE, asked=1000, lowest=4000, highest=8000),)
    assert high.beyond_table


def test_warmer_than_the_table_its_edge_is_held_and_said_once():
    answer = cruise(6000, 25)
    assert answer.tas_kt == pytest.approx(117.5)
    assert answer.beyond == (Beyond(axis=TableAxis.ISA_DEVIATION, asked=25, lowest=0, highest=20),)


def test_a_table_of_temperatures_needs_the_temperature_and_one_of_a_standard_day_says_that_it_is_not_known():
    assert cruise(4000, None) is None
    standard = cruise(6000, None, rows=(BLOCKS[0], BLOCKS[2]))
    assert standard.tas_kt == 113
    assert standard.beyond == (Beyond(axis=TableAxis.ISA_DEVIATION, asked=None, lowest=0, highest=0),)


def test_the_power_named_first_is_flown_unless_another_is_asked_and_an_unknown_one_is_refused():
    assert cruise_powers(an_aircraft(cruise_table=BLOCKS)) == ("65 %", "75 %")
    assert cruise(4000, 0, power=None).power == "65 %"
    assert cruise(4000, 0, power="75 %").fuel_l_per_h == 39
    with pytest.raises(InputProblem, match=r'X-TABLE has no power "55 %"\. It has 65 %, 75 %') as refusal:
        cruise(4000, 0, power="55 %")
    assert refusal.value.code == "power-unknown"


def test_a_climb_is_the_upper_reading_less_the_lower_one():
    climb = climb_between(an_aircraft(climb_table=CLIMB), from_ft=3000, to_ft=6000, isa_deviation_c=-5)
    # at 3,000 ft: 5 min, 3.5 l, 7 NM; at 6,000 ft: 12 min, 8 l, 17 NM
    assert (climb.time_min, climb.fuel_l, climb.air_distance_nm) == (7, 4.5, 10)
    assert (climb.lower.time_min, climb.upper.time_min) == (5, 12)
    assert [step.result for step in climb.steps] == [climb.lower, climb.upper]
    assert climb.rows_used == CLIMB and not climb.beyond_table


def test_below_its_first_line_a_climb_counts_from_zeros_at_sea_level():
    climb = climb_between(an_aircraft(climb_table=CLIMB), from_ft=0, to_ft=1000, isa_deviation_c=0)
    assert (climb.time_min, climb.fuel_l, climb.air_distance_nm) == (1.5, 1, 2) and not climb.beyond_table


@given(cuts=st.lists(st.floats(0, 8000), min_size=1, max_size=4), deviation_c=st.floats(-30, 30))
def test_a_climb_costs_the_same_in_any_number_of_parts(cuts, deviation_c):
    aircraft = an_aircraft(climb_table=CLIMB, climb_percent_per_warm_c=1.0)

    def climb(low_ft, high_ft):
        return climb_between(aircraft, from_ft=low_ft, to_ft=high_ft, isa_deviation_c=deviation_c)

    stops = [0.0, *sorted(cuts), 8000.0]
    parts = [climb(low, high) for low, high in pairwise(stops)]
    for name in ("time_min", "fuel_l", "air_distance_nm"):
        assert sum(getattr(part, name) for part in parts) == pytest.approx(getattr(climb(0.0, 8000.0), name))


def test_warm_air_makes_a_climb_longer_by_the_manuals_rule_and_cold_air_leaves_it():
    aircraft = an_aircraft(climb_table=CLIMB, climb_percent_per_warm_c=1.0)  # 10 % for 10 degrees
    warm, cold = (climb_between(aircraft, from_ft=2000, to_ft=8000, isa_deviation_c=value) for value in (15, -15))
    assert (warm.time_min, warm.fuel_l, warm.air_distance_nm) == pytest.approx((14 * 1.15, 9 * 1.15, 20 * 1.15))
    assert (cold.time_min, cold.warm_factor) == (14, 1.0)
    assert not warm.beyond_table
    assert climb_between(aircraft, from_ft=2000, to_ft=8000, isa_deviation_c=None) is None


@pytest.mark.parametrize("deviation_c", [15, None])
def test_a_table_without_a_rule_for_warm_air_says_that_it_is_a_standard_days(deviation_c):
    climb = climb_between(an_aircraft(climb_table=CLIMB), from_ft=2000, to_ft=8000, isa_deviation_c=deviation_c)
    assert climb.time_min == 14
    assert climb.beyond == (Beyond(axis=TableAxis.ISA_DEVIATION, asked=deviation_c, lowest=0, highest=0),)


def test_above_its_last_line_a_climb_goes_on_as_between_the_last_two_and_says_so():
    climb = climb_between(an_aircraft(climb_table=CLIMB), from_ft=8000, to_ft=10000, isa_deviation_c=0)
    assert (climb.time_min, climb.fuel_l, climb.air_distance_nm) == (5, 3, 7)  # 10 min, 6 l, 14 NM for the last 4,000 ft
    assert climb.beyond == (Beyond(axis=TableAxis.PRESSURE_ALTITUDE, asked=10000, lowest=0, highest=8000),)
    assert climb.steps[-1].share == 1.5


def test_a_descent_is_read_at_any_temperature():
    for deviation_c in (None, 20):
        descent = descent_between(an_aircraft(descent_table=DESCENT), from_ft=6000, to_ft=2000, isa_deviation_c=deviation_c)
        assert (descent.time_min, descent.fuel_l, descent.air_distance_nm) == (8, 4, 15.5)  # 12, 6, 23 less 4, 2, 7.5
        assert not descent.beyond_table


def test_without_tables_the_simple_figures_serve_and_a_cas_needs_the_temperature():
    plain = an_aircraft()
    climb = climb_between(plain, from_ft=1000, to_ft=4000, isa_deviation_c=None)
    assert (climb.time_min, climb.fuel_l, climb.air_distance_nm) == (6, 4, 8)  # 3,000 ft at 500 ft/min, 40 l/h, 80 kt
    descent = descent_between(plain, from_ft=4000, to_ft=1000, isa_deviation_c=None)
    assert (descent.time_min, descent.fuel_l, descent.air_distance_nm) == (6, 3, 10)  # cruise: 30 l/h, 100 kt
    assert climb.rows_used == descent.rows_used == ()
    calibrated = an_aircraft(cruise_speed_kind=SpeedKind.CALIBRATED)
    assert cruise_at(calibrated, pressure_altitude_ft=4000, isa_deviation_c=None) is None
    assert climb_between(calibrated, from_ft=0, to_ft=4000, isa_deviation_c=None) is None
    assert descent_between(calibrated, from_ft=4000, to_ft=0, isa_deviation_c=None) is None


def test_what_a_table_cannot_hold_is_said_of_its_line():
    assert list(cruise_rows_wrong(BLOCKS)) == []
    assert list(cruise_rows_wrong((*BLOCKS, BLOCKS[1]))) == [(5, "4,000 ft, +20 C, 65 % stands there twice. Keep one of them")]
    assert list(climb_rows_wrong(CLIMB)) == []
    assert [at for at, _ in climb_rows_wrong((CLIMB[2], CLIMB[0], CLIMB[2]))] == [2]
    sea = ClimbRow(pressure_altitude_ft=0, time_min=0, fuel_l=0, air_distance_nm=0)
    assert list(climb_rows_wrong((sea,))) == [(0, "no line stands above sea level. Add those of the altitudes you fly at")]
    ((at, words),) = climb_rows_wrong((*CLIMB, ClimbRow(pressure_altitude_ft=10000, time_min=6, fuel_l=14, air_distance_nm=32)))
    assert at == 3 and words.startswith("the time at 10,000 ft is not more than at 8,000 ft")


def test_fuel_is_measured_in_kilograms_only_with_a_density():
    measure = FuelMeasure(unit=FuelUnit.KILOGRAM, density_kg_per_l=0.72)
    assert (measure.amount(100), measure.litres(72)) == (pytest.approx(72), pytest.approx(100))
    for turn in (FuelMeasure(unit=FuelUnit.KILOGRAM).amount, FuelMeasure(unit=FuelUnit.KILOGRAM).litres):
        with pytest.raises(InputProblem, match=r"needs its density in kg/L") as refusal:
            turn(100)
        assert refusal.value.code == "fuel-density-missing"


def test_knots_and_miles_an_hour():
    assert miles_per_hour_from_knots(20) == pytest.approx(23, abs=0.05)  # FAA-H-8083-25A p. 15-11
    assert knots_from_miles_per_hour(1.150779) == pytest.approx(1, abs=1e-6)
