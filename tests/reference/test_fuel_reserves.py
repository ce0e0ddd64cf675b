"""Fuel reserves by rule: the minutes that the rules print, and vectors worked from them.

14 CFR 91.151(a) as printed; ICAO Annex 6 Part II 2.2.3.6 (from memory); EU NCO.OP.125 as amended by (EU) 2021/1296 (secondary print).
"""

from __future__ import annotations

import pytest

from server.planning import RESERVE_RULES, plan
from server.units import litres_from_us_gallons, us_gallons_from_litres
from tests.planning.planning_builders import a_tourer, codes, leg_centred, materials_for

MINUTES = {"us-day": 30, "us-night": 45, "icao-day": 30, "icao-night": 45, "eu-day": 30, "eu-night": 45}
ENDS = {"departure": {"elevation_ft": None}, "arrival": {"elevation_ft": None}}


def test_every_rule_asks_for_the_minutes_it_prints():
    assert {rule.key: rule.minutes for rule in RESERVE_RULES if rule.key in MINUTES} == MINUTES
    assert all(f"{rule.minutes:.0f} min" in rule.name for rule in RESERVE_RULES)


# Flow in US gal an hour, and 30 and 45 minutes of it.
@pytest.mark.parametrize(("flow_gal", "day_gal", "night_gal"), [(8.0, 4.0, 6.0), (9.6, 4.8, 7.2)])
def test_the_reserve_is_flow_times_time(flow_gal, day_gal, night_gal):
    aircraft = a_tourer(cruise_fuel_l_per_h=litres_from_us_gallons(flow_gal), usable_fuel_l=1000.0)
    for rule, gallons in (("us-day", day_gal), ("us-night", night_gal)):
        fuel = plan(materials_for(aircraft=aircraft, reserve_rule=rule)).log.fuel
        assert us_gallons_from_litres(fuel.reserve_l) == pytest.approx(gallons)


def test_usable_38_gallons_at_8_an_hour_after_35_minutes_leave_four_hours_ten():
    """38 / 8 h is 4:45, less 0:35; more than either reserve."""
    aircraft = a_tourer(cruise_fuel_l_per_h=litres_from_us_gallons(8.0), taxi_fuel_l=0.0, usable_fuel_l=1000.0)
    start_to_end_nm = 35.0 / 60.0 * 100.0  # at 100 kt in still air
    start, end = leg_centred(90.0, start_to_end_nm)
    fuel_l = litres_from_us_gallons(38.0)
    flight = materials_for(start=start, end=end, aircraft=aircraft, fuel_on_board_l=fuel_l, reserve_rule="us-night", **ENDS)
    log = plan(flight).log
    assert log.total_time_min == pytest.approx(35.0, abs=0.01)
    assert log.fuel.landing_l / log.fuel.cruise_l_per_h * 60.0 == pytest.approx(250.0, abs=0.02)
    assert log.fuel.margin_l > 0.0 and "fuel-short" not in codes(log)


@pytest.mark.parametrize(("spare_l", "enough"), [(0.0, True), (0.01, True), (-0.01, False)])
def test_exactly_the_reserve_is_enough(spare_l, enough):
    """14 CFR 91.151: "at least" so many minutes."""
    needed_l = plan(materials_for()).log.fuel.needed_l
    log = plan(materials_for(fuel_on_board_l=needed_l + spare_l)).log
    assert ("fuel-short" not in codes(log)) is enough
