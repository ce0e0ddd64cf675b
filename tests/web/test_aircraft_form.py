"""The form and the card of an aircraft: its owner's units, the tables of its manual, its compass card."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.navigation import ClimbRow, CruiseRow, FuelUnit, SpeedUnit
from server.units import LITRES_PER_US_GALLON, METRES_PER_NAUTICAL_MILE, METRES_PER_STATUTE_MILE
from tests.web.reading_pages import read
from tests.web.test_shelf_forms import kept, number_of

AIRCRAFT = {
    "registration": "BX-TWO",
    "speed_unit": "kt",
    "cruise_speed": "95",
    "cruise_speed_kind": "CAS",
    "climb_speed": "70",
    "climb_rate": "500",
    "descent_rate": "500",
    "fuel_unit": "US gal",
    "cruise_fuel": "8.5",
    "climb_fuel": "11",
    "taxi_fuel": "1.1",
    "usable_fuel": "40",
    "card.0.for": "0",
    "card.0.steer": "2",
    "card.3.for": "090",
    "card.3.steer": "089",
}
TABLES = {
    "cruise_table": "6000, +20, 65 %, 161, 11.5\n8000; +20; 65 %; 164 kt; 11.5 gal/h\n\n8,000\t-20\t65 %\t157\t11.5",
    "climb_table": "pressure altitude [ft], min, US gal, NM\n2000, 3, 1.1, 4\n4000, 7, 2.1, 10",
    "descent_table": "4000; 8; 1.2; 15.5",
    "warm_percent": "10",
    "warm_degrees": "7",
}


def add(served, **changes):
    return kept(served, "aircraft", number_of(served.send("/aircraft/new", AIRCRAFT | changes)))


def again(served, aircraft) -> dict[str, str]:
    return dict(served.page(f"/aircraft/{aircraft.id}/edit").forms[0].fields)


def test_fuel_typed_in_gallons_is_kept_in_litres_and_shown_in_gallons(served):
    aircraft = add(served)
    assert aircraft.usable_fuel_l == pytest.approx(40 * LITRES_PER_US_GALLON) and aircraft.fuel_unit is FuelUnit.US_GALLON
    assert "40.0 US gal" in served.page(f"/aircraft/{aircraft.id}").words
    assert again(served, aircraft)["cruise_fuel"] == "8.5"
    assert [entry.steer_deg for entry in aircraft.compass_card] == [2.0, 89.0]


def test_litres_shown_in_gallons_have_no_more_than_two_decimals(served):
    with served.library.begin() as work:
        aircraft = work.aircraft.update(replace(work.aircraft.get(1), fuel_unit=FuelUnit.US_GALLON, cruise_fuel_l_per_h=36.0))
    assert again(served, aircraft)["cruise_fuel"] == "9.51"  # 36 / 3.785411784 = 9.510194


def test_speeds_in_miles_an_hour_are_kept_in_knots_and_shown_in_both(served):
    aircraft = add(served, speed_unit="mph", cruise_speed="115")
    assert aircraft.speed_unit is SpeedUnit.MILE_PER_HOUR
    assert aircraft.cruise_speed_kt == pytest.approx(115 * METRES_PER_STATUTE_MILE / METRES_PER_NAUTICAL_MILE)
    assert "115 mph (100 kt) CAS" in served.page(f"/aircraft/{aircraft.id}").words
    assert again(served, aircraft)["cruise_speed"] == "115"


def test_kilograms_are_kept_in_litres_by_the_density_and_refused_without_one(served):
    aircraft = add(served, fuel_unit="kg", fuel_density="0.72", usable_fuel="108")
    assert aircraft.usable_fuel_l == pytest.approx(150) and aircraft.fuel_density_kg_per_l == 0.72
    assert "108.0 kg" in served.page(f"/aircraft/{aircraft.id}").words
    refused = served.send("/aircraft/new", AIRCRAFT | {"fuel_unit": "kg"})
    assert refused.status_code == 422 and "Fuel density: kilograms need it" in read(refused).words


def test_tables_are_kept_with_commas_semicolons_or_tabs(served):
    aircraft = add(served, **TABLES)
    gallons = [row.fuel_l_per_h / LITRES_PER_US_GALLON for row in aircraft.cruise_table]
    assert gallons == pytest.approx([11.5, 11.5, 11.5])
    assert aircraft.cruise_table[1] == CruiseRow(
        power="65 %",
        pressure_altitude_ft=8000.0,
        isa_deviation_c=20.0,
        tas_kt=164.0,
        fuel_l_per_h=pytest.approx(11.5 * LITRES_PER_US_GALLON),
    )
    assert (aircraft.cruise_table[2].pressure_altitude_ft, aircraft.cruise_table[2].isa_deviation_c) == (8000.0, -20.0)
    assert aircraft.climb_table[0] == ClimbRow(
        pressure_altitude_ft=2000.0, time_min=3.0, fuel_l=pytest.approx(1.1 * LITRES_PER_US_GALLON), air_distance_nm=4.0
    )
    assert len(aircraft.climb_table) == 2  # the heading is not a line
    assert aircraft.descent_table[0].air_distance_nm == 15.5
    assert aircraft.climb_percent_per_warm_c == pytest.approx(10 / 7)


def test_tables_come_back_as_they_were_typed_and_stand_on_the_card(served):
    aircraft = add(served, **TABLES)
    fields = again(served, aircraft)
    assert fields["cruise_table"].splitlines() == [
        "pressure altitude [ft]; above ISA [C]; power; TAS [kt]; fuel each hour [US gal]",
        "6000; +20; 65 %; 161; 11.5",
        "8000; +20; 65 %; 164; 11.5",
        "8000; -20; 65 %; 157; 11.5",
    ]
    assert fields["climb_table"].splitlines()[1:] == ["2000; 3; 1.1; 4", "4000; 7; 2.1; 10"]
    assert served.send(f"/aircraft/{aircraft.id}/edit", fields).status_code == 303
    changed = kept(served, "aircraft", aircraft.id)
    assert changed.cruise_table == aircraft.cruise_table
    words = served.page(f"/aircraft/{aircraft.id}").words
    assert "Cruise, 65 % (planned with, unless another is chosen)" in words
    assert "ISA−20: TAS [kt] ISA−20: [US gal/h] ISA+20: TAS [kt] ISA+20: [US gal/h]" in words
    assert "6,000 – – 161 11.5 8,000 157 11.5 164 11.5" in words
    assert "In warm air 10 % more for each 7 °C above ISA" in words
    assert "cruise, climb, descent" in served.page("/aircraft").words


@pytest.mark.parametrize(
    ("percent", "degrees", "again_as"), [("10", "10", ("10", "10")), ("10", "7", ("10", "7")), ("0", "5", ("0", "10"))]
)
def test_the_rule_for_warm_air_comes_back_as_a_manual_writes_it(served, percent, degrees, again_as):
    aircraft = add(served, warm_percent=percent, warm_degrees=degrees)
    fields = again(served, aircraft)
    assert (fields["warm_percent"], fields["warm_degrees"]) == again_as


def test_distances_of_a_table_in_miles_an_hour_are_statute_miles(served):
    aircraft = add(served, speed_unit="mph", climb_table="4000, 7, 2.1, 11.50779")
    assert aircraft.climb_table[0].air_distance_nm == pytest.approx(10.0, abs=1e-5)  # 1.150779 miles to the nautical mile
    assert "distance [SM]" in served.page(f"/aircraft/{aircraft.id}").words


def test_outside_air_temperatures_become_deviations_from_the_standard_atmosphere(served):
    aircraft = add(served, cruise_temperature="outside air", cruise_table="6000, 23, 65 %, 161, 11.5")
    # ICAO Doc 7488: 3.113 C at 6,000 ft
    assert aircraft.cruise_table[0].isa_deviation_c == pytest.approx(23 - 3.113, abs=1e-3)


def test_a_table_of_outside_air_temperatures_stands_on_the_card_line_by_line(served):
    lines = "\n".join(f"{altitude}, {degrees}, 65 %, 110, 9" for altitude in (2000, 4000, 6000) for degrees in (0, 20))
    words = served.page(f"/aircraft/{add(served, cruise_temperature='outside air', cruise_table=lines).id}").words
    # ICAO Doc 7488: 11.038 C at 2,000 ft and 7.075 C at 4,000 ft
    assert "above ISA [C] TAS [kt] [US gal/h] 2,000 -11.04 110 9 2,000 8.96 110 9 4,000 -7.08 110 9" in words


def test_every_wrong_line_of_a_table_is_named_and_what_was_typed_is_kept(served):
    typed = "6000, +20, 65 %, 161\n6000, +20, 65 %, 161, 11.5\n6000, warm, 65 %, 9999, 11.5\n6000, +20, 65 %, 161, 11.5"
    answer = served.send("/aircraft/new", AIRCRAFT | {"cruise_table": typed})
    page = read(answer)
    assert answer.status_code == 422
    for words in (
        "Cruise table, line 1: 4 columns, and 5 are needed: pressure altitude [ft]; above ISA [C]; power; TAS [kt];",
        "Cruise table, line 3, above ISA: 'warm' is not a plain number",
        "Cruise table, line 3, TAS: 9999 kt is outside 20 to 450 kt.",
        "Cruise table, line 4: 6,000 ft, +20 C, 65 % stands there twice. Keep one of them.",
    ):
        assert words in page.words, words
    assert page.forms[0].fields["cruise_table"] == typed


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"cruise_table": "6000, 20, 65 %, 185 mph, 11.5"}, '"185 mph" is in mph, and this column is in kt'),
        ({"cruise_table": "6000, 20, 65 %, 161, 43 L/h"}, "is in L/h, and this column is in US gal"),
        ({"cruise_table": "ft; C; power; mph; gal/h\n6000; 20; 65 %; 161; 11"}, "line 1: the heading says mph, and this page is in kt"),
        (
            {"climb_table": "ft; min; litres; NM\n4000; 7; 8; 10"},
            "line 1: the heading says L, and this page is in US gal",
        ),
        ({"climb_table": "4000, 7, 2.1, 10 km"}, "is in km, and this column is in NM"),
        ({"cruise_table": "6,000, +20, 65 %, 161, 11.5"}, "6 columns, and 5 are needed"),
        ({"cruise_table": "6000; +20; 65 %; 161; 11,5"}, "line 1, fuel each hour"),
        ({"cruise_table": "6000, +20, , 161, 11.5"}, 'power: write it as the manual names it, in at most 20 characters, such as "65 %"'),
        ({"climb_table": "4000, 7, 2, 10\n6000, 5, 3, 16"}, "Climb table, line 2: the time at 6,000 ft is not more than at 4,000 ft"),
        ({"descent_table": "0, 0, 0, 0"}, "Descent table, line 1: no line stands above sea level"),
        ({"climb_table": "\n".join(["4000, 7, 2, 10"] * 301)}, "301 lines are too many, 300 is the most"),
        ({"warm_percent": "10"}, "Climb in warm air: write both"),
        ({"cruise_fuel": ""}, "Cruise fuel flow: please give a number in US gal"),
        ({"fuel_unit": ""}, "Fuel is given in: please choose one of L, US gal, kg"),
        ({"speed_unit": "furlongs"}, "Speeds are given in"),
        ({"cruise_speed": "0"}, "0 kt is outside 20 to 450 kt"),
        ({"card.3.for": "360", "card.3.steer": "1"}, "stands there twice"),
        ({"card.3.steer": ""}, "Compass card row 4, steer"),
        ({"card.99.for": "10"}, "Compass card row 100, steer"),
        ({"card_column": "correction", "card.3.steer": "89"}, "Compass card row 4, correction: 89 degrees is outside -45 to 45"),
    ],
)
def test_what_is_wrong_is_named(served, changes, words):
    answer = served.send("/aircraft/new", AIRCRAFT | changes)
    assert answer.status_code == 422 and words in read(answer).words


@pytest.mark.parametrize(
    ("column", "north", "east"),
    [("steer", "2", "088"), ("correction", "+2", "-2"), ("deviation", "-2", "+2"), ("deviation", "2 W", "2E")],
)
def test_a_compass_card_is_the_same_in_each_of_its_three_ways(served, column, north, east):
    aircraft = add(served, **{"card_column": column, "card.0.steer": north, "card.3.steer": east})
    assert [(entry.magnetic_deg, entry.steer_deg) for entry in aircraft.compass_card] == [(0, 2), (90, 88)]
    words = served.page(f"/aircraft/{aircraft.id}").words
    assert "Correction to add +2 -2" in words and "Deviation 2 W 2 E" in words


@pytest.mark.parametrize("name", ["card.999999999999.for", "card.-1.for", "card.x.for", "card..for", "card"])
def test_row_that_no_form_has_is_passed_over(served, name):
    assert served.send("/aircraft/new", AIRCRAFT | {name: "5"}).status_code == 303
