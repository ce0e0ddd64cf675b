"""Sun and twilight at both ends of a flight, and whether it ends by daylight.

The sun's height is astral's; when it crosses a height is looked for here. Astral's own times of twilight count the refraction of the
horizon also 6 degrees below it, and it knows no event that falls beyond midnight of the day asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from astral import Observer
from astral.sun import elevation, noon

from server.navigation import Airfield, Position
from server.planning.log_legs import Note, NoteLevel
from server.planning.materials import Materials

SUNSET_DEG = -0.833
"""The sun sets with its centre this high, refraction left out: half its disc (16') and what the air lifts it (34'), so 50' (NOAA)."""

CIVIL_TWILIGHT_DEG = -6.0
"""Civil twilight ends here: 14 CFR 1.1 by the Air Almanac, ICAO Annex 2 definition of night."""

NEAR_DARK_MIN = 30.0
"""An arrival less than this before sunset is told (common practice)."""

NIGHT_RESERVES = frozenset({"us-night", "icao-night", "eu-night"})
"""Reserve rules that are chosen for a flight by night."""

_HALF_DAY = timedelta(hours=12)
_HALVINGS = 17  # of twelve hours: a third of a second


class Light(StrEnum):
    DAY = "day"
    TWILIGHT = "civil twilight"
    NIGHT = "night"


class Stays(StrEnum):
    """Why an event does not come."""

    ABOVE = "the sun stays above"
    BELOW = "the sun stays below"


@dataclass(frozen=True, kw_only=True, slots=True)
class SunEvent:
    """When the sun's centre crosses a height; without a time it stays above or below it from midnight to noon, or from noon to midnight."""

    at_utc: datetime | None
    stays: Stays | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class SunTimes:
    """The sun over one airfield on the solar day, from midnight to midnight, that holds a moment. All UTC, at the surface."""

    airfield: Airfield
    noon_utc: datetime
    civil_dawn: SunEvent
    sunrise: SunEvent
    sunset: SunEvent
    civil_dusk: SunEvent
    flight_utc: datetime | None
    """When the flight is there; None where no time is known: then the day is that of the departure."""
    light: Light | None
    """At that time."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FlightSun:
    departure: SunTimes
    arrival: SunTimes


def sun_of_flight(arrival_utc: datetime | None, materials: Materials) -> FlightSun | None:
    """Tell the sun at the departure and at the destination; None for a flight without a date."""
    route = materials.route
    if route.departure_utc is None:
        return None
    departure, destination = materials.airfields[route.departure_airfield_id], materials.airfields[route.destination_airfield_id]
    return FlightSun(
        departure=sun_times(departure, route.departure_utc, flight_utc=route.departure_utc),
        arrival=sun_times(destination, arrival_utc or route.departure_utc, flight_utc=arrival_utc),
    )


def sun_times(airfield: Airfield, day_of: datetime, *, flight_utc: datetime | None) -> SunTimes:
    """Tell the sun's day at an airfield that holds a moment: the one whose noon is nearest to it."""
    position, moment_utc = airfield.position, day_of.astimezone(UTC)
    noon_utc = _noon_nearest(position, moment_utc)
    return SunTimes(
        airfield=airfield,
        noon_utc=noon_utc,
        civil_dawn=_crossing(position, noon_utc, -_HALF_DAY, CIVIL_TWILIGHT_DEG),
        sunrise=_crossing(position, noon_utc, -_HALF_DAY, SUNSET_DEG),
        sunset=_crossing(position, noon_utc, _HALF_DAY, SUNSET_DEG),
        civil_dusk=_crossing(position, noon_utc, _HALF_DAY, CIVIL_TWILIGHT_DEG),
        flight_utc=flight_utc,
        light=None if flight_utc is None else light_at(position, flight_utc),
    )


def sun_height_deg(position: Position, at: datetime) -> float:
    """The height of the sun's centre over the horizon, refraction left out. [deg]"""
    observer = Observer(latitude=position.lat_deg, longitude=position.lon_deg)
    return elevation(observer, at.astimezone(UTC), with_refraction=False)


def light_at(position: Position, at: datetime) -> Light:
    """Day, civil twilight or night at a place, at the surface."""
    height_deg = sun_height_deg(position, at)
    if height_deg >= SUNSET_DEG:
        return Light.DAY
    return Light.TWILIGHT if height_deg >= CIVIL_TWILIGHT_DEG else Light.NIGHT


def sun_is_down(position: Position, at: datetime) -> bool:
    """Whether the sun has set at a place and time."""
    return sun_height_deg(position, at) < SUNSET_DEG


def night_between(start: Position, end: Position, start_utc: datetime | None, end_utc: datetime | None) -> str:
    """Say why a leg is to be taken as flown by night: the sun is down at one of its ends, or its time is not known. Empty by day."""
    if start_utc is None or end_utc is None:
        return "its time is not known, so perhaps by night"
    return "by night" if sun_is_down(start, start_utc) or sun_is_down(end, end_utc) else ""


def _noon_nearest(position: Position, moment_utc: datetime) -> datetime:
    observer = Observer(latitude=position.lat_deg, longitude=position.lon_deg)
    noons = [noon(observer, (moment_utc + timedelta(days=days)).date()) for days in (-1, 0, 1)]
    return min(noons, key=lambda each: abs(each - moment_utc))


def _crossing(position: Position, noon_utc: datetime, half_day: timedelta, height_deg: float) -> SunEvent:
    """When the sun crosses a height between noon and the midnight half a day before or after it."""
    low_utc, high_utc = noon_utc + half_day, noon_utc
    if sun_height_deg(position, high_utc) < height_deg:
        return SunEvent(at_utc=None, stays=Stays.BELOW)
    if sun_height_deg(position, low_utc) >= height_deg:
        return SunEvent(at_utc=None, stays=Stays.ABOVE)
    for _ in range(_HALVINGS):
        middle_utc = low_utc + (high_utc - low_utc) / 2
        low_utc, high_utc = (low_utc, middle_utc) if sun_height_deg(position, middle_utc) >= height_deg else (middle_utc, high_utc)
    return SunEvent(at_utc=high_utc)


def sun_notes(sun: FlightSun | None, materials: Materials) -> list[Note]:
    """Warn of a departure or an arrival in the dark, and tell one near it. A flight with a reserve for the night is planned for that."""
    if sun is None or materials.route.reserve_rule in NIGHT_RESERVES:
        return []
    return [*_departure_notes(sun.departure, _rule_name(materials)), *_arrival_notes(sun.arrival, _rule_name(materials))]


def _rule_name(materials: Materials) -> str:
    """Where night begins, by the rules of the route or else of its region: both say the end of evening civil twilight."""
    return "14 CFR 1.1" if (materials.route.level_rule or materials.region.level_rule) == "US" else "ICAO Annex 2"


def _departure_notes(there: SunTimes, rule: str) -> list[Note]:
    if there.light is not Light.NIGHT or there.flight_utc is None:
        return []
    text = (
        f"The departure from {there.airfield.name} at {_clock(there.flight_utc)} is by night ({rule}): "
        f"{_day_in_words(there)} Leave by day, or choose a reserve for the night."
    )
    return [Note(code="departure-in-dark", level=NoteLevel.WARNING, message=text)]


def _arrival_notes(there: SunTimes, rule: str) -> list[Note]:
    if there.flight_utc is None or there.light is None:
        return []
    arrival = f"The arrival at {there.airfield.name} at {_clock(there.flight_utc)}"
    if there.light is Light.NIGHT:
        text = f"{arrival} is by night ({rule}): {_day_in_words(there)} Arrive by day, or choose a reserve for the night."
        return [Note(code="arrival-after-dark", level=NoteLevel.WARNING, message=text)]
    if there.light is Light.TWILIGHT:
        text = f"{arrival} is with the sun below the horizon: {_day_in_words(there)}"
    elif there.sunset.at_utc is not None and there.sunset.at_utc - there.flight_utc <= timedelta(minutes=NEAR_DARK_MIN):
        left_min = (there.sunset.at_utc - there.flight_utc).total_seconds() / 60.0
        text = f"{arrival} is {left_min:.0f} min before sunset: {_day_in_words(there)}"
    else:
        return []
    return [Note(code="arrival-near-dark", level=NoteLevel.ADVICE, message=text)]


def _day_in_words(there: SunTimes) -> str:
    dawn, dusk = there.civil_dawn, there.civil_dusk
    if dawn.at_utc is None and dusk.at_utc is None and dusk.stays is Stays.BELOW:
        return "there is not even twilight that day."
    begins = f"begins at {_clock(dawn.at_utc)}" if dawn.at_utc is not None else "lasts from the night before"
    ends = f"ends at {_clock(dusk.at_utc)}" if dusk.at_utc is not None else "lasts all night"
    return f"civil twilight {begins} and {ends}."


def _clock(at_utc: datetime) -> str:
    """Hours and minutes as on a clock, cut: an evening is not made longer by rounding."""
    return f"{at_utc.astimezone(UTC):%H:%M}Z"
