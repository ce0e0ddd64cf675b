"""The latest turn-back and the equal-time point against worked examples."""

from __future__ import annotations

import pytest

from server.navigation import NorthReference, Position, WindLayer, destination
from server.planning import plan
from server.planning.log import NavigationLog
from tests.planning.planning_builders import a_tourer, at, leg_centred, materials_for

FLOW = 30.0
RESERVE = FLOW / 2.0  # the rule "us-day": 30 min


def flight(track_deg: float, length_nm: float, tas_kt: float, endurance_h: float, wind: tuple[float, float], *points) -> NavigationLog:
    """Level flight from end to end, with fuel for so many hours besides the reserve."""
    start, end = leg_centred(track_deg, length_nm)
    aircraft = a_tourer(cruise_speed_kt=tas_kt, cruise_fuel_l_per_h=FLOW, taxi_fuel_l=0.0, usable_fuel_l=1000.0)
    layer = WindLayer(altitude_ft=0.0, from_deg=wind[0], speed_kt=wind[1], reference=NorthReference.TRUE)
    ends = {"departure": {"elevation_ft": None}, "arrival": {"elevation_ft": None}}
    return plan(
        materials_for(
            *points, start=start, end=end, aircraft=aircraft, winds=(layer,), fuel_on_board_l=endurance_h * FLOW + RESERVE, **ends
        )
    ).log


def test_agrees_with_a_contest_problem_on_the_radius_of_action():
    """US collegiate contest 2011, question 20: 4:20, course 021, wind 240/19, TAS 145: turn back after 116 min and 309 NM (exactly 116.72
    and 309.83). The course of the problem is the same all along, so the leg is short of the arc's turning."""
    turn = flight(21.0, 400.0, 145.0, 4.0 + 20.0 / 60.0, (240.0, 19.0)).turn_back
    assert turn is not None and turn.latest is not None and not turn.at_the_end
    assert turn.latest.time_min == pytest.approx(116.72, abs=0.2)
    assert turn.latest.distance_nm == pytest.approx(309.83, abs=0.5)


# R = E o b / (o + b): radius of action, by the formula of the handbooks.
@pytest.mark.parametrize(
    ("hours", "out_kt", "back_kt", "radius_nm", "time_h"), [(4.0, 120.0, 100.0, 218.18, 1.818), (3.5, 95.0, 125.0, 188.92, 1.989)]
)
def test_radius_of_action_with_a_wind_along_the_track(hours, out_kt, back_kt, radius_nm, time_h):
    tas_kt, along_kt = (out_kt + back_kt) / 2.0, (out_kt - back_kt) / 2.0
    wind = (270.0, along_kt) if along_kt > 0 else (90.0, -along_kt)
    turn = flight(90.0, 260.0, tas_kt, hours, wind).turn_back
    assert turn.latest.distance_nm == pytest.approx(radius_nm, abs=0.3)
    assert turn.latest.time_min == pytest.approx(time_h * 60.0, abs=0.2)


# x = D H / (O + H): equal-time point.
@pytest.mark.parametrize(("length_nm", "on_kt", "home_kt", "x_nm"), [(300.0, 120.0, 100.0, 136.36), (240.0, 90.0, 110.0, 132.0)])
def test_equal_time_point(length_nm, on_kt, home_kt, x_nm):
    tas_kt, along_kt = (on_kt + home_kt) / 2.0, (on_kt - home_kt) / 2.0
    wind = (270.0, along_kt) if along_kt > 0 else (90.0, -along_kt)
    turn = flight(90.0, length_nm, tas_kt, 20.0, wind).turn_back
    assert turn.equal_time.distance_nm == pytest.approx(x_nm, abs=0.3)
    assert turn.equal_time.time_min == pytest.approx(x_nm / on_kt * 60.0, abs=0.2)
    assert turn.at_the_end and turn.latest.distance_nm == pytest.approx(length_nm, abs=0.01)


def test_points_on_the_way_change_nothing():
    whole = flight(90.0, 260.0, 110.0, 4.0, (0.0, 0.0)).turn_back
    start, _ = leg_centred(90.0, 260.0)
    cut = flight(90.0, 260.0, 110.0, 4.0, (0.0, 0.0), at(destination(start, bearing_true_deg=88.9, distance_nm=100.0))).turn_back
    assert cut.latest.distance_nm == pytest.approx(whole.latest.distance_nm, abs=0.1) == pytest.approx(220.0, abs=0.1)
    assert cut.latest.leg_number == 2 and cut.latest.at_nm == pytest.approx(120.0, abs=0.1)


def test_without_fuel_for_the_reserve_there_is_no_place_to_turn():
    turn = flight(90.0, 100.0, 110.0, -0.1, (0.0, 0.0)).turn_back
    assert turn.latest is None and not turn.at_the_end


def test_without_a_wind_or_fuel_nothing_is_told():
    start, end = Position(lat_deg=43.0, lon_deg=-37.0), Position(lat_deg=43.0, lon_deg=-35.0)
    assert plan(materials_for(start=start, end=end, winds=())).log.turn_back is None
    assert plan(materials_for(start=start, end=end, fuel_on_board_l=None)).log.turn_back is None
