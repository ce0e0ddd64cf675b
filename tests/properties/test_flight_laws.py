"""Laws of a planned flight: what a point on the way may not change, and what a wind does there and back."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import NorthReference, Position, WindLayer, position_along
from server.planning import plan
from server.sheets import figures
from tests.planning.planning_builders import a_tourer, at, materials_for

START, END = Position(lat_deg=43.0, lon_deg=-37.0), Position(lat_deg=43.6, lon_deg=-35.6)
LENGTH_NM = 71.0  # a little less than the whole way
LEVEL = {"departure": {"elevation_ft": None}, "arrival": {"elevation_ft": None}}
winds = st.builds(
    WindLayer,
    altitude_ft=st.just(6500.0),
    from_deg=st.floats(0.0, 360.0),
    speed_kt=st.floats(0.0, 50.0),
    reference=st.just(NorthReference.TRUE),
)


def flown(*points, **changes):
    return plan(materials_for(*points, **({"start": START, "end": END} | changes)), checks=False).log


@settings(max_examples=25, deadline=None)
@given(wind=winds, cuts=st.lists(st.floats(1.0, LENGTH_NM), min_size=1, max_size=4, unique=True))
def test_time_and_fuel_add_up_over_any_split_of_a_leg(wind, cuts):
    """The track turns by a degree on the way, and each piece takes that at its own middle: hence the tolerance."""
    whole = flown(winds=(wind,))
    split = flown(*(at(position_along(START, END, cut)) for cut in sorted(cuts)), winds=(wind,))
    assert split.total_distance_nm == pytest.approx(whole.total_distance_nm, abs=1e-4)
    assert split.total_time_min == pytest.approx(whole.total_time_min, rel=2e-3)
    assert split.fuel.trip_l == pytest.approx(whole.fuel.trip_l, rel=2e-3)
    assert sum(leg.time_min for leg in split.legs) == pytest.approx(split.total_time_min)
    assert split.fuel.climb_l + split.fuel.level_l + split.fuel.descent_l == pytest.approx(split.fuel.trip_l)
    assert split.legs[-1].fuel_remaining_l == pytest.approx(split.fuel.landing_l)


@settings(max_examples=25, deadline=None)
@given(wind=winds)
def test_out_and_back_in_a_steady_wind_is_never_faster_than_in_still_air(wind):
    """In any steady wind a level flight out and back takes at least as long as in still air."""
    calm = WindLayer(altitude_ft=6500.0, from_deg=0.0, speed_kt=0.0, reference=NorthReference.TRUE)
    both = [
        sum(flown(start=one, end=other, winds=(layer,), **LEVEL).total_time_min for one, other in ((START, END), (END, START)))
        for layer in (wind, calm)
    ]
    assert both[0] >= both[1] - 1e-3


@settings(max_examples=25, deadline=None)
@given(wind=winds)
def test_the_wind_turned_round_on_the_way_back_is_the_same_flight(wind):
    """A tailwind out is a tailwind back once the wind has turned round too: the same time, and the headings are opposite."""
    turned = WindLayer(altitude_ft=6500.0, from_deg=(wind.from_deg + 180.0) % 360.0, speed_kt=wind.speed_kt, reference=NorthReference.TRUE)
    out = flown(winds=(wind,), **LEVEL)
    back = flown(start=END, end=START, winds=(turned,), **LEVEL)
    assert back.total_time_min == pytest.approx(out.total_time_min, rel=1e-6)
    assert (back.legs[0].heading_true_deg - out.legs[0].heading_true_deg) % 360.0 == pytest.approx(180.0, abs=1e-6)


@settings(max_examples=10, deadline=None)
@given(speed_kt=st.floats(60.0, 200.0))
def test_a_faster_aircraft_is_sooner_there_on_the_same_headings_in_still_air(speed_kt):
    aircraft = a_tourer(cruise_speed_kt=speed_kt)
    log = flown(aircraft=aircraft, **LEVEL)
    assert log.total_time_min == pytest.approx(log.total_distance_nm / speed_kt * 60.0)


def test_rounding_is_left_to_the_views():
    assert [figures.course(deg) for deg in (359.6, 0.4, 359.4, 89.5)] == ["360", "360", "359", "090"]
    log = flown()
    assert log.legs[0].distance_nm != round(log.legs[0].distance_nm, 1) and log.legs[0].time_min != round(log.legs[0].time_min)
