"""What else may be said of a flight, by its form and leg by leg: it is kept, shown again, refused by name where it cannot be."""

from __future__ import annotations

import pytest

from server.navigation import LegChoice, NorthReference, PointKind, RoutePoint
from server.planning.plan import planned_levels_ft
from tests.web.reading_pages import read
from tests.web.test_routes import FLIGHT, kept, make, press

MORE = {
    "qnh": "29.92",
    "alternate": "BRWE Brinna West",
    "extra_fuel": "10",
    "level_rule": "US",
    "corridor_nm": "3",
    "winds_source": "forecast of 0600",
    "winds_from_day": "2026-04-11",
    "winds_from_clock": "06:00",
    "winds_to_day": "2026-04-11",
    "winds_to_clock": "12:00",
    "winds.0.temperature_c": "3",
}


def number_of(path: str) -> int:
    return int(path.rsplit("/", 1)[1])


def test_what_the_form_is_told_is_kept_and_shown_again(served):
    path = make(served, **MORE)
    route = kept(served, number_of(path))
    assert route.qnh_hpa == pytest.approx(1013.2, abs=0.05)  # 29.92 inches of mercury
    assert (route.extra_fuel_l, route.level_rule, route.corridor_nm) == (10.0, "US", 3.0)
    assert route.alternate_airfield_id == served.small.airfields["BRWE"]
    assert route.winds_source == "forecast of 0600" and route.winds_to_utc.isoformat() == "2026-04-11T12:00:00+00:00"
    assert route.winds[0].temperature_c == 3.0
    shown = served.page(f"{path}/edit").form(f"{path}/edit").fields
    for place, typed in MORE.items():
        if place != "qnh":
            assert shown[place] == typed
    assert shown["qnh"].startswith("1013.2")


def test_saving_the_form_again_changes_nothing(served):
    path = make(served, **MORE)
    before = kept(served, number_of(path))
    shown = served.page(f"{path}/edit").form(f"{path}/edit").fields
    assert served.send(f"{path}/edit", shown).status_code == 303
    after = kept(served, number_of(path))
    assert after.qnh_hpa == pytest.approx(before.qnh_hpa, abs=0.05)
    assert (after.winds, after.alternate_airfield_id, after.extra_fuel_l, after.winds_to_utc) == (
        before.winds,
        before.alternate_airfield_id,
        before.extra_fuel_l,
        before.winds_to_utc,
    )


def test_pasted_winds_stand_beside_the_rows(served):
    path = make(served, winds_coded="FT 3000 9000\r\nXYZ 2714 2930-05")
    winds = {wind.altitude_ft: (wind.from_deg, wind.speed_kt, wind.temperature_c) for wind in kept(served, number_of(path)).winds}
    assert winds == {3000.0: (270.0, 14.0, None), 9000.0: (290.0, 30.0, -5.0), 6000.0: (300.0, 18.0, None)}
    assert all(wind.reference is NorthReference.TRUE for wind in kept(served, number_of(path)).winds)


BAD = {
    "qnh": ("10.13", '"10.13" is no altimeter setting'),
    "cruise_power": ("99 %", 'has no "99 %"'),
    "corridor_nm": ("40", "Corridor"),
    "extra_fuel": ("-3", "Extra fuel"),
    "winds_coded": ("XYZ 27X4", "27X4"),
    "level_rule": ("MOON", "Rule for levels"),
    "alternate": ("nowhere", "Alternate"),
    "winds_to_clock": ("9", "Winds hold to"),
    "winds_to_day": ("2026-04-10", "not later than when they begin to hold"),
}


@pytest.mark.parametrize("place", BAD)
def test_what_cannot_be_is_told_beside_its_field_and_nothing_is_lost(served, place):
    typed, told = BAD[place]
    answer = served.send(f"{served.at}/routes/new", FLIGHT | MORE | {place: typed})
    assert answer.status_code == 422
    page = read(answer)
    assert told in page.words
    assert page.form(f"{served.at}/routes/new").fields["winds_source"] == "forecast of 0600"
    assert page.form(f"{served.at}/routes/new").fields[place] == typed or place in ("level_rule", "alternate")


def with_two_beacons(served) -> int:
    points = tuple(RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons[ident]) for ident in ("KEV", "DRO"))
    return served.keep_route(points=points).id


def test_a_level_and_a_changeover_are_chosen_leg_by_leg(served):
    number = with_two_beacons(served)
    answer = press(served, number, "legs/2", {"leg_altitude_ft": "8,500", "changeover_nm": "4", "changeover_reason": "the ridge"})
    assert answer.status_code == 303
    route = kept(served, number)
    assert route.points[0].onward == LegChoice(altitude_ft=8500.0, changeover_nm=4.0, changeover_reason="the ridge")
    page = served.page(f"{served.at}/routes/{number}")
    assert "The changeover of leg 2 was chosen at 4.0 NM: the ridge." in page.words
    assert page.form(f"{served.at}/routes/{number}/legs/2").fields["leg_altitude_ft"].replace(",", "") == "8500"
    assert press(served, number, "legs/2", {"leg_altitude_ft": "", "changeover_nm": ""}).status_code == 303
    assert kept(served, number).points[0].onward == LegChoice()


def test_a_leg_choice_that_cannot_be_is_told_and_a_stale_one_is_refused(served):
    number = with_two_beacons(served)
    assert "Altitude from here" in read(press(served, number, "legs/2", {"leg_altitude_ft": "high"})).words
    assert press(served, number, "legs/9", {"leg_altitude_ft": "8500"}).status_code == 404
    stale = served.send(f"{served.at}/routes/{number}/legs/2", {"version": "77", "leg_altitude_ft": "8500"})
    assert stale.status_code == 409
    assert kept(served, number).points[0].onward == LegChoice()


def test_editing_the_flight_keeps_what_was_chosen_for_its_legs(served):
    number = with_two_beacons(served)
    press(served, number, "legs/1", {"changeover_nm": "3"})
    press(served, number, "legs/2", {"leg_altitude_ft": "8500"})
    at = f"{served.at}/routes/{number}/edit"
    assert served.send(at, served.page(at).form(at).fields).status_code == 303
    route = kept(served, number)
    assert route.onward.changeover_nm == 3.0 and route.points[0].onward.altitude_ft == 8500.0


def test_levels_are_compared_and_one_is_chosen(served):
    number = with_two_beacons(served)
    at = f"{served.at}/routes/{number}/levels"
    page = served.page(at)
    assert "planned now" in page.words and "fly this" in page.words
    levels = page.form(at).fields["levels"]
    assert press(served, number, "levels", {"levels": levels}).status_code == 303
    assert planned_levels_ft(kept(served, number)) == tuple(float(word) for word in levels.split(","))


@pytest.mark.parametrize("levels", ["", "high", "4500", "4500,99999,4500"])
def test_levels_that_cannot_be_are_refused(served, levels):
    number = with_two_beacons(served)
    before = kept(served, number)
    assert press(served, number, "levels", {"levels": levels}).status_code == 422
    assert kept(served, number) == before
