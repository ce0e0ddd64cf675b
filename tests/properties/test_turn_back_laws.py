"""Laws of the latest turn-back: what the way back, planned as a flight of its own, leaves in the tank; and still air."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import NorthReference, Position, WindLayer, position_along
from server.planning import plan
from server.planning.leg_times import fuel_left_at
from tests.planning.planning_builders import a_tourer, at, materials_for

START, MIDDLE, END = Position(lat_deg=43.0, lon_deg=-37.0), Position(lat_deg=43.7, lon_deg=-36.2), Position(lat_deg=43.1, lon_deg=-35.4)
FLOW_L_PER_H, SPEED_KT = 30.0, 100.0
RESERVE_L = FLOW_L_PER_H / 2.0  # the rule "us-day": 30 min, 14 CFR 91.151
AIRCRAFT = a_tourer(cruise_speed_kt=SPEED_KT, cruise_fuel_l_per_h=FLOW_L_PER_H, taxi_fuel_l=0.0, usable_fuel_l=1000.0)
LEVEL = {"departure": {"elevation_ft": None}, "arrival": {"elevation_ft": None}}
winds = st.builds(
    WindLayer,
    altitude_ft=st.just(6500.0),
    from_deg=st.floats(0.0, 360.0),
    speed_kt=st.floats(0.0, 50.0),
    reference=st.just(NorthReference.TRUE),
)
hours = st.floats(0.2, 2.5)
CALM = WindLayer(altitude_ft=6500.0, from_deg=0.0, speed_kt=0.0, reference=NorthReference.TRUE)


def flown(*points, start=START, end=END, **changes):
    return plan(materials_for(*points, start=start, end=end, aircraft=AIRCRAFT, **LEVEL, **changes), checks=False).log


def turning_after(fuel_h: float, wind: WindLayer):
    log = flown(at(MIDDLE), winds=(wind,), fuel_on_board_l=fuel_h * FLOW_L_PER_H + RESERVE_L)
    return log, log.turn_back


@settings(max_examples=40, deadline=None)
@given(wind=winds, fuel_h=hours)
def test_the_way_back_planned_as_a_flight_of_its_own_leaves_the_reserve(wind, fuel_h):
    """The track turns by half a degree on a leg, and what is left of it takes that at its own middle: hence the tolerance."""
    log, turn = turning_after(fuel_h, wind)
    leg = log.legs[turn.latest.leg_number - 1]
    here = position_along(leg.start.position, leg.end.position, turn.latest.at_nm)
    before = [at(MIDDLE)] if turn.latest.leg_number == 2 else []
    back = flown(*before, start=here, end=START, winds=(wind,), fuel_on_board_l=1000.0)
    left_l = fuel_left_at(leg, turn.latest.at_nm) - back.fuel.trip_l
    if turn.at_the_end:
        assert left_l >= RESERVE_L - 0.2
    else:
        assert left_l == pytest.approx(RESERVE_L, abs=0.2)


@settings(max_examples=25, deadline=None)
@given(fuel_h=hours)
def test_in_still_air_one_may_fly_out_half_of_what_the_fuel_above_the_reserve_lasts(fuel_h):
    log, turn = turning_after(fuel_h, CALM)
    expected_nm = min(fuel_h / 2.0 * SPEED_KT, log.total_distance_nm)
    assert turn.latest.distance_nm == pytest.approx(expected_nm, abs=1e-3)
    assert turn.latest.time_min == pytest.approx(expected_nm / SPEED_KT * 60.0, abs=1e-3)
    assert turn.equal_time.distance_nm == pytest.approx(log.total_distance_nm / 2.0, abs=1e-3)


@settings(max_examples=25, deadline=None)
@given(wind=winds, fuel_h=hours, more_h=st.floats(0.01, 1.0))
def test_more_fuel_never_turns_one_back_sooner(wind, fuel_h, more_h):
    (_, less), (_, more) = turning_after(fuel_h, wind), turning_after(fuel_h + more_h, wind)
    assert more.latest.distance_nm >= less.latest.distance_nm - 1e-6
    assert more.equal_time.distance_nm == pytest.approx(less.equal_time.distance_nm)


@settings(max_examples=25, deadline=None)
@given(wind=winds)
def test_with_fuel_for_there_and_back_one_may_turn_at_the_destination(wind):
    log, turn = turning_after(24.0, wind)
    assert turn.at_the_end and turn.latest.distance_nm == pytest.approx(log.total_distance_nm)
    assert turn.latest.time_min == pytest.approx(log.total_time_min)
