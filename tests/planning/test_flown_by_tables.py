"""Flights by a manual's tables, with a level for each leg, an alternate and extra fuel; expected figures worked out by hand beside them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from server.errors import InputProblem
from server.navigation import ClimbRow, CruiseRow, DescentRow, LegChoice, NorthReference, Position, WindLayer, destination
from server.planning import plan
from server.planning.log import NavigationLog, PartKind
from server.planning.profile import altitude_at
from tests.planning.planning_builders import OFF_BLOCKS, a_tourer, an_airfield, at, codes, materials_for, words

FROM, TO = Position(lat_deg=43.0, lon_deg=-37.0), Position(lat_deg=43.0, lon_deg=-35.0)
CRUISE = tuple(
    CruiseRow(power=power, pressure_altitude_ft=feet, isa_deviation_c=deviation, tas_kt=tas, fuel_l_per_h=flow)
    for power, feet, deviation, tas, flow in (
        ("65 %", 4000.0, 0.0, 110.0, 30.0),
        ("65 %", 8000.0, 0.0, 118.0, 32.0),
        ("65 %", 4000.0, 20.0, 112.0, 30.0),
        ("65 %", 8000.0, 20.0, 120.0, 32.0),
        ("75 %", 4000.0, 0.0, 120.0, 38.0),
        ("75 %", 4000.0, 20.0, 122.0, 38.0),
    )
)
CLIMB = tuple(
    ClimbRow(pressure_altitude_ft=feet, time_min=minutes, fuel_l=fuel, air_distance_nm=miles)
    for feet, minutes, fuel, miles in (
        (2000.0, 3.0, 2.0, 4.0),
        (4000.0, 6.0, 4.4, 8.4),
        (6000.0, 10.0, 7.4, 14.4),
        (8000.0, 15.0, 11.0, 22.0),
    )
)
DESCENT = tuple(
    DescentRow(pressure_altitude_ft=feet, time_min=feet / 500.0, fuel_l=feet / 1000.0, air_distance_nm=feet / 250.0)
    for feet in (4000.0, 8000.0)
)
TABLES = {"cruise_table": CRUISE, "climb_table": CLIMB, "descent_table": DESCENT}
STANDARD = {"isa_deviation_c": 0.0, "qnh_hpa": 1013.25, "cruise_power": "65 %"}


def flown(*points, aircraft: dict | None = None, **changes) -> NavigationLog:
    tables = TABLES if aircraft is None else aircraft
    fields = {
        "start": FROM,
        "end": TO,
        "aircraft": a_tourer(**tables),
        "departure": {"elevation_ft": 1000.0},
        "arrival": {"elevation_ft": 0.0},
    }
    return plan(materials_for(*points, **(fields | STANDARD | changes))).log


def parts(log: NavigationLog, kind: PartKind):
    return [part for leg in log.legs for part in leg.parts if part.kind is kind]


def test_a_climb_takes_the_upper_reading_less_the_lower():
    """At 5,000 ft half way from 6.0 to 10.0 min is 8.0, at 1,000 ft half of 3.0 is 1.5; fuel 5.9 - 1.0 L; 11.4 - 2.0 NM of air."""
    (climb,) = parts(flown(altitude_ft=5000.0), PartKind.CLIMB)
    assert climb.time_min == pytest.approx(6.5, abs=1e-6)
    assert climb.fuel_l == pytest.approx(4.9, abs=1e-6)
    assert climb.to_nm - climb.from_nm == pytest.approx(9.4, abs=1e-6)  # in still air


def test_level_flight_reads_between_altitudes_and_temperatures():
    """At 6,000 ft half way from 110 to 118 kt is 114, and 10 of 20 degrees warm adds half of 2 kt; fuel half way is 31 L/h."""
    log = flown(altitude_ft=6000.0, isa_deviation_c=10.0)
    (level,) = parts(log, PartKind.LEVEL)
    assert level.true_airspeed_kt == pytest.approx(115.0, abs=1e-6)
    assert level.fuel_l / level.time_min * 60.0 == pytest.approx(31.0, abs=1e-6)
    assert log.fuel.cruise_l_per_h == pytest.approx(31.0)
    assert log.fuel.reserve_l == pytest.approx(15.5)  # 30 min of it


def test_a_temperature_given_with_the_winds_rules_before_the_deviation():
    """Standard at 6,000 ft is 15 - 1.98 x 6 = 3.1 degrees (ICAO Doc 7488); 13.1 there is 10 degrees warm."""
    winds = (WindLayer(altitude_ft=6000.0, from_deg=0.0, speed_kt=0.0, reference=NorthReference.TRUE, temperature_c=13.11),)
    (level,) = parts(flown(altitude_ft=6000.0, isa_deviation_c=-20.0, winds=winds), PartKind.LEVEL)
    assert level.true_airspeed_kt == pytest.approx(115.0, abs=0.01)


def test_a_low_qnh_reads_the_tables_higher():
    """ICAO Doc 7488: 983.25 hPa is 30 hPa low, 831 ft of pressure altitude near sea level (about 27.7 ft a hPa)."""
    (level,) = parts(flown(altitude_ft=5000.0, qnh_hpa=983.25), PartKind.LEVEL)
    assert level.true_airspeed_kt == pytest.approx(110.0 + 8.0 * (5000.0 + 831.0 - 4000.0) / 4000.0, abs=0.02)


def test_the_power_chosen_is_flown_and_none_chosen_is_said():
    fast = flown(altitude_ft=4000.0, cruise_power="75 %")
    assert parts(fast, PartKind.LEVEL)[0].true_airspeed_kt == pytest.approx(120.0)
    assert "power-not-chosen" not in codes(fast)
    silent = flown(altitude_ft=4000.0, cruise_power="")
    assert silent.legs[0].true_airspeed_kt is None and silent.total_time_min is None and silent.fuel is None and not silent.complete
    assert "65 %, 75 %" in words(silent, "power-not-chosen") and "no-temperature" not in codes(silent)


def test_a_power_the_table_does_not_have_is_refused():
    with pytest.raises(InputProblem) as refused:
        flown(cruise_power="99 %")
    assert refused.value.code == "power-unknown"


def test_what_lies_beyond_a_table_is_said():
    log = flown(altitude_ft=9500.0)
    told = [note.message for note in log.notes if note.code == "beyond-table"]
    assert any("cruise table holds for 4,000 to 8,000 ft" in each and "9,500 was asked" in each for each in told)
    assert any("climb table" in each for each in told)
    assert "beyond-table" not in codes(flown(altitude_ft=6000.0))


def test_without_a_temperature_a_table_of_temperatures_tells_nothing():
    log = flown(isa_deviation_c=None)
    assert "no-temperature" in codes(log) and log.legs[0].time_min is None and log.fuel is None and not log.complete


def test_each_leg_flies_its_own_level_from_its_start_on():
    one, two = (destination(FROM, bearing_true_deg=89.0, distance_nm=miles) for miles in (30.0, 60.0))
    up = [at(one, "one"), at(two, "two")]
    up[0] = _onward(up[0], 8000.0)
    log = flown(*up, altitude_ft=4000.0)
    assert [leg.altitude_ft for leg in log.legs] == [4000.0, 8000.0, 8000.0]
    assert altitude_at(log.profile, log.legs[1].start_nm) == pytest.approx(4000.0)
    first = log.legs[1].parts[0]
    assert (first.kind, first.from_nm, first.from_ft, first.to_ft) == (PartKind.CLIMB, 0.0, 4000.0, 8000.0)
    assert first.time_min == pytest.approx(15.0 - 6.0)
    down = [_onward(up[0], 8000.0), _onward(up[1], 4000.0)]
    log = flown(*down, altitude_ft=4000.0)
    third = log.legs[2].parts[0]
    assert (third.kind, third.from_ft, third.to_ft) == (PartKind.DESCENT, 8000.0, 4000.0)
    assert third.time_min == pytest.approx(8.0)


def _onward(point, altitude_ft: float):
    return replace(point, onward=LegChoice(altitude_ft=altitude_ft))


def test_an_impossible_level_of_a_leg_is_refused_by_name():
    with pytest.raises(InputProblem) as refused:
        flown(_onward(at(destination(FROM, bearing_true_deg=89.0, distance_nm=30.0)), 90_000.0))
    assert refused.value.code == "altitude" and refused.value.problems[0].place == "points.1.altitude_ft"


def test_the_alternate_and_the_extra_fuel_are_needed_too():
    """Still air, 100 kt and 30 L/h: 20 NM on are 12 min and 6 L."""
    beyond = destination(TO, bearing_true_deg=0.0, distance_nm=20.0)
    materials = materials_for(start=FROM, end=TO, alternate_airfield_id=3, extra_fuel_l=5.0)
    with_alternate = plan(_with_field(materials, an_airfield(3, "QALT", beyond))).log
    plain = plan(materials_for(start=FROM, end=TO)).log
    assert with_alternate.alternate.distance_nm == pytest.approx(20.0)
    assert with_alternate.alternate.time_min == pytest.approx(12.0)
    assert with_alternate.fuel.alternate_l == pytest.approx(6.0) and with_alternate.fuel.extra_l == 5.0
    assert with_alternate.fuel.margin_l == pytest.approx(plain.fuel.margin_l - 11.0)
    assert with_alternate.fuel.on_board_l - with_alternate.fuel.needed_l == pytest.approx(with_alternate.fuel.margin_l)


@pytest.mark.parametrize("closed", [True, False])
def test_an_alternate_that_is_closed_or_the_destination_is_refused(closed):
    number = 3 if closed else 2
    materials = materials_for(start=FROM, end=TO, alternate_airfield_id=number)
    field = an_airfield(3, "QALT", destination(TO, bearing_true_deg=0.0, distance_nm=20.0), closed=True)
    with pytest.raises(InputProblem) as refused:
        plan(_with_field(materials, field))
    assert refused.value.code == "alternate-unusable"


def _with_field(materials, airfield):
    return replace(materials, airfields={**materials.airfields, airfield.id: airfield})


@pytest.mark.parametrize(
    ("from_h", "to_h", "old"), [(-1.0, 6.0, False), (1.0, 6.0, True), (-6.0, 0.5, True), (None, None, False), (None, 9.0, False)]
)
def test_winds_that_do_not_hold_for_the_flight_are_told(from_h, to_h, old):
    def moment(hours):
        return None if hours is None else OFF_BLOCKS + timedelta(hours=hours)

    log = flown(winds_from_utc=moment(from_h), winds_to_utc=moment(to_h))
    assert ("winds-out-of-date" in codes(log)) is old


def test_without_a_qnh_the_tables_say_what_they_take_for_it():
    assert "no-qnh" in codes(flown(qnh_hpa=None)) and "no-qnh" not in codes(flown())
    assert "no-qnh" not in codes(flown(aircraft={}, qnh_hpa=None))
