"""The sun at both ends of a flight: polar days, arrivals in the dark and near it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.navigation import Airfield, Position
from server.planning import plan
from server.planning.log import NavigationLog, NoteLevel
from server.planning.sun_times import Light, Stays, sun_times
from tests.planning.planning_builders import codes, materials_for, words

# A published case: 35.85 N 97.42 W on 2026-09-23, sunset 18:24:48 and end of civil twilight 18:50:18 at UTC-6 (computed with ephem 4.2.1).
ARRIVAL = Position(lat_deg=35.85, lon_deg=-97.42)
START = Position(lat_deg=35.85, lon_deg=-98.42)
SUNSET_UTC = datetime(2026, 9, 24, 0, 24, 48, tzinfo=UTC)
DUSK_UTC = datetime(2026, 9, 24, 0, 50, 18, tzinfo=UTC)


def over(lat_deg: float, lon_deg: float) -> Airfield:
    return Airfield(id=1, region_id=1, ident="QFLD", name="Field", position=Position(lat_deg=lat_deg, lon_deg=lon_deg))


def flight_arriving(at_utc: datetime, **changes) -> NavigationLog:
    """A flight of 49 NM that arrives at this moment; how long it takes is told by a first plan."""
    given = {"start": START, "end": ARRIVAL, "region": {"level_rule": "US"}, **changes}
    takes_min = plan(materials_for(**given)).log.total_time_min
    return plan(materials_for(**given, departure_utc=at_utc - timedelta(minutes=takes_min))).log


def test_the_sun_that_does_not_set_or_rise_is_told_instead_of_a_time():
    """North of the polar circle; at 70 N the noon of midwinter has civil twilight (sun 3.4 degrees down), at 80 N it has not (13.4)."""
    midsummer, midwinter = datetime(2026, 6, 21, 12, tzinfo=UTC), datetime(2026, 12, 21, 12, tzinfo=UTC)
    high = sun_times(over(70.0, 0.0), midsummer, flight_utc=midsummer)
    assert {event.stays for event in (high.civil_dawn, high.sunrise, high.sunset, high.civil_dusk)} == {Stays.ABOVE}
    assert high.sunset.at_utc is None and high.light is Light.DAY
    low = sun_times(over(70.0, 0.0), midwinter, flight_utc=midwinter)
    assert (low.sunrise.stays, low.sunset.stays) == (Stays.BELOW, Stays.BELOW)
    assert low.civil_dawn.at_utc < low.noon_utc < low.civil_dusk.at_utc and low.light is Light.TWILIGHT
    dark = sun_times(over(80.0, 0.0), midwinter, flight_utc=midwinter)
    assert dark.civil_dusk.stays is Stays.BELOW and dark.light is Light.NIGHT


def test_a_white_night_has_a_sunset_and_no_end_of_twilight():
    """At 62 N the midnight sun of midsummer is 4.6 degrees down: 90 - 62 - 23.4."""
    sun = sun_times(over(62.0, 10.0), datetime(2026, 6, 21, 12, tzinfo=UTC), flight_utc=None)
    assert sun.sunset.at_utc is not None and sun.sunrise.at_utc is not None
    assert sun.civil_dusk.at_utc is None and sun.civil_dusk.stays is Stays.ABOVE


def test_both_ends_of_the_flight_have_their_sun_of_the_day_on_which_it_is_there():
    log = flight_arriving(SUNSET_UTC - timedelta(hours=3))
    assert log.sun.departure.flight_utc == log.departure_utc and log.sun.arrival.flight_utc == log.arrival_utc
    assert abs(log.sun.arrival.sunset.at_utc - SUNSET_UTC) < timedelta(seconds=20)
    later = log.sun.departure.sunset.at_utc - log.sun.arrival.sunset.at_utc  # one degree of longitude west: 4 minutes
    assert later.total_seconds() == pytest.approx(240.0, abs=6.0)
    assert log.sun.arrival.light is Light.DAY
    assert codes(log).isdisjoint({"arrival-after-dark", "arrival-near-dark", "departure-in-dark"})


@pytest.mark.parametrize(("before", "light"), [(20.0, Light.TWILIGHT), (-20.0, Light.NIGHT)])
def test_night_begins_at_the_end_of_evening_civil_twilight(before, light):
    """14 CFR 1.1; twenty seconds are what two theories of the sun may differ by."""
    log = flight_arriving(DUSK_UTC - timedelta(seconds=before + (2 if before > 0 else -2)))
    assert log.sun.arrival.light is light
    assert ("arrival-after-dark" in codes(log)) == (light is Light.NIGHT)
    assert ("arrival-near-dark" in codes(log)) == (light is Light.TWILIGHT)


def test_an_arrival_by_night_is_a_warning_that_names_the_times_and_the_rule():
    log = flight_arriving(DUSK_UTC + timedelta(minutes=40))
    (note,) = [note for note in log.notes if note.code == "arrival-after-dark"]
    assert note.level is NoteLevel.WARNING
    assert "01:30Z is by night (14 CFR 1.1)" in note.message and "ends at 00:50Z" in note.message
    assert "ICAO Annex 2" in words(flight_arriving(DUSK_UTC + timedelta(minutes=40), region={"level_rule": "ICAO"}), "arrival-after-dark")


@pytest.mark.parametrize(("minutes", "told"), [(29.0, True), (31.0, False)])
def test_an_arrival_within_half_an_hour_of_sunset_is_told(minutes, told):
    log = flight_arriving(SUNSET_UTC - timedelta(minutes=minutes))
    assert ("arrival-near-dark" in codes(log)) == told
    if told:
        assert "29 min before sunset" in words(log, "arrival-near-dark")


def test_who_has_chosen_a_reserve_for_the_night_is_not_warned_of_it():
    assert "arrival-after-dark" not in codes(flight_arriving(DUSK_UTC + timedelta(minutes=40), reserve_rule="us-night"))


def test_a_departure_before_the_morning_twilight_is_a_warning():
    assert "departure-in-dark" in codes(flight_arriving(datetime(2026, 9, 23, 11, 30, tzinfo=UTC)))  # 05:30 local, dawn 05:53


def test_without_a_date_there_is_no_sun_and_without_a_time_no_light():
    assert plan(materials_for(departure_utc=None)).log.sun is None
    sun = plan(materials_for(winds=())).log.sun
    assert sun.departure.light is Light.DAY
    assert sun.arrival.flight_utc is None and sun.arrival.light is None and sun.arrival.sunset.at_utc is not None


@given(
    lat_deg=st.floats(-66.0, 66.0),
    lon_deg=st.floats(-180.0, 180.0),
    minutes=st.integers(0, 3 * 366 * 1440),
)
def test_what_light_it_is_follows_from_the_times_of_the_day(lat_deg, lon_deg, minutes):
    """Over three years, wherever the sun rises: dawn, sunrise, noon, sunset, dusk come in this order, and the light agrees."""
    moment = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    sun = sun_times(over(lat_deg, lon_deg), moment, flight_utc=moment)
    assert abs(sun.noon_utc - moment) <= timedelta(hours=12, minutes=1)
    times = [sun.civil_dawn.at_utc, sun.sunrise.at_utc, sun.noon_utc, sun.sunset.at_utc, sun.civil_dusk.at_utc]
    known = [time for time in times if time is not None]
    assert known == sorted(known)
    assert all((event.at_utc is None) != (event.stays is None) for event in (sun.civil_dawn, sun.sunrise, sun.sunset, sun.civil_dusk))
    near_an_event = any(abs(time - moment) < timedelta(minutes=2) for time in known)
    if not near_an_event and sun.sunrise.at_utc is not None and sun.sunset.at_utc is not None:
        assert (sun.light is Light.DAY) == (sun.sunrise.at_utc < moment < sun.sunset.at_utc)
    if not near_an_event and sun.civil_dawn.at_utc is not None and sun.civil_dusk.at_utc is not None:
        assert (sun.light is Light.NIGHT) == (not sun.civil_dawn.at_utc < moment < sun.civil_dusk.at_utc)


@pytest.mark.parametrize("lat_deg", [90.0, -90.0, 89.999])
@pytest.mark.parametrize("lon_deg", [180.0, -180.0, 0.0])
def test_the_poles_and_the_antimeridian_have_a_sun_too(lat_deg, lon_deg):
    """Half a year of day: at the north pole the sun is 23.4 degrees up at midsummer, at the south pole down."""
    midsummer = datetime(2026, 6, 21, 12, tzinfo=UTC)
    sun = sun_times(over(lat_deg, lon_deg), midsummer, flight_utc=midsummer)
    assert sun.light is (Light.DAY if lat_deg > 0.0 else Light.NIGHT)
    assert sun.sunset.stays is (Stays.ABOVE if lat_deg > 0.0 else Stays.BELOW)


@pytest.mark.parametrize("year", [1900, 2200])
def test_the_first_and_last_year_of_a_departure_have_a_sun(year):
    """At the equator the day is 12 h and 7 min long: the disc and the refraction add 50' at both ends."""
    sun = sun_times(over(0.0, 0.0), datetime(year, 6, 1, 12, tzinfo=UTC), flight_utc=None)
    assert (sun.sunset.at_utc - sun.sunrise.at_utc).total_seconds() / 60.0 == pytest.approx(727.0, abs=1.0)
