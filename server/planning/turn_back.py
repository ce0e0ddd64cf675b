"""The latest place from which the way back to the departure leaves the reserve, and the place from which both ends are as far in time.

The way back is the route turned round, level at each leg's altitude, at cruise, in the wind there, until over the departure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.errors import NoHeadingHoldsTrack
from server.navigation import reciprocal_deg, wind_at
from server.planning.flown import held
from server.planning.leg_times import fuel_left_at, minutes_at
from server.planning.log_legs import LogLeg
from server.planning.materials import Materials
from server.planning.slopes import performance_of

_HALVINGS = 50


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnPlace:
    """A place of the flight, counted from take-off. [min], [NM]"""

    leg_number: int
    at_nm: float
    """From the start of the leg."""
    distance_nm: float
    time_min: float
    at_utc: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnBack:
    """``latest`` is None where not even the take-off leaves the reserve. ``at_the_end`` where one can still come back from the destination;
    then ``latest`` is the destination."""

    latest: TurnPlace | None
    at_the_end: bool
    reserve_l: float
    equal_time: TurnPlace | None
    """From here the destination and the departure are as far in time."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Back:
    """A leg flown the other way round."""

    groundspeed_kt: float
    fuel_l_per_h: float


def turn_back_of(legs: Sequence[LogLeg], reserve_l: float, materials: Materials) -> TurnBack | None:
    """Find both places; None where a time, the fuel or a way back is not known.

    Fuel used grows and fuel needed to return grows along the way, so there is one latest place; it is looked for by halving.
    """
    backs = [_back(leg, materials) for leg in legs]
    known = [(leg, back) for leg, back in zip(legs, backs, strict=True) if back is not None]
    flown = all(leg.time_min is not None and leg.parts for leg in legs if leg.distance_nm > 0.0)
    if len(known) < len(legs) or not legs or not flown or legs[0].fuel_remaining_l is None or legs[0].fuel_l is None:
        return None

    def to_spare_l(number: int, at_nm: float) -> float:
        left_l = fuel_left_at(legs[number], at_nm)
        return (left_l or 0.0) - _home_l(known, number, at_nm) - reserve_l

    def sooner_home_min(number: int, at_nm: float) -> float:
        """How much nearer in time the destination is; negative while the departure is nearer."""
        on_min = sum(leg.time_min or 0.0 for leg in legs) - _minutes_flown(legs, number, at_nm)
        return _home_min(known, number, at_nm) - on_min

    departure_utc = materials.route.departure_utc
    end = (len(legs) - 1, legs[-1].distance_nm)
    at_the_end = bool(to_spare_l(*end) >= 0.0)
    latest = end if at_the_end else _last_where(legs, lambda number, at_nm: to_spare_l(number, at_nm) >= 0.0)
    equal = _last_where(legs, lambda number, at_nm: sooner_home_min(number, at_nm) <= 0.0)
    return TurnBack(
        latest=None if latest is None else _place(legs, *latest, departure_utc),
        at_the_end=at_the_end,
        reserve_l=reserve_l,
        equal_time=None if equal is None else _place(legs, *equal, departure_utc),
    )


def _back(leg: LogLeg, materials: Materials) -> _Back | None:
    performance, layers = performance_of(materials), materials.route.winds
    level = performance.level(leg.altitude_ft) if performance is not None else None
    if leg.distance_nm <= 0.0 and level is not None:
        return _Back(groundspeed_kt=level.true_airspeed_kt, fuel_l_per_h=level.fuel_l_per_h)
    if level is None or not layers or leg.track_true_deg is None:
        return None
    wind = wind_at(layers, leg.altitude_ft, variation_deg=leg.variation_deg)
    try:
        groundspeed_kt = held(reciprocal_deg(leg.track_true_deg), level.true_airspeed_kt, wind).groundspeed_kt
    except NoHeadingHoldsTrack:
        return None
    return _Back(groundspeed_kt=groundspeed_kt, fuel_l_per_h=level.fuel_l_per_h)


def _home_min(known: Sequence[tuple[LogLeg, _Back]], number: int, at_nm: float) -> float:
    """The time back to the departure from a place of a leg. [min]"""
    whole = sum(leg.distance_nm / back.groundspeed_kt for leg, back in known[:number])
    return (whole + at_nm / known[number][1].groundspeed_kt) * 60.0


def _home_l(known: Sequence[tuple[LogLeg, _Back]], number: int, at_nm: float) -> float:
    whole = sum(leg.distance_nm / back.groundspeed_kt * back.fuel_l_per_h for leg, back in known[:number])
    return whole + at_nm / known[number][1].groundspeed_kt * known[number][1].fuel_l_per_h


def _minutes_flown(legs: Sequence[LogLeg], number: int, at_nm: float) -> float:
    return sum(leg.time_min or 0.0 for leg in legs[:number]) + (minutes_at(legs[number], at_nm) or 0.0)


def _last_where(legs: Sequence[LogLeg], holds) -> tuple[int, float] | None:
    """The last place at which something holds that holds up to there and no more after: leg index and distance along it."""
    if not holds(0, 0.0):
        return None
    for number, leg in enumerate(legs):
        if holds(number, leg.distance_nm):
            continue
        low_nm, high_nm = 0.0, leg.distance_nm
        for _ in range(_HALVINGS):
            middle_nm = (low_nm + high_nm) / 2.0
            low_nm, high_nm = (middle_nm, high_nm) if holds(number, middle_nm) else (low_nm, middle_nm)
        return number, low_nm
    return len(legs) - 1, legs[-1].distance_nm


def _place(legs: Sequence[LogLeg], number: int, at_nm: float, departure_utc: datetime | None) -> TurnPlace:
    time_min = float(_minutes_flown(legs, number, at_nm))
    return TurnPlace(
        leg_number=legs[number].number,
        at_nm=at_nm,
        distance_nm=legs[number].start_nm + at_nm,
        time_min=time_min,
        at_utc=None if departure_utc is None else departure_utc + timedelta(minutes=time_min),
    )
