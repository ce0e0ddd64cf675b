"""One leg of the log: what to fly, what to tune, whether it is heard, and what the ground does below."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from server.errors import NoHeadingHoldsTrack
from server.navigation import (
    Track,
    WindCorrection,
    compass_heading_deg,
    magnetic_from_true_deg,
    position_along,
    track,
    wind_at,
    wind_correction,
)
from server.planning.clearance import ground_under_leg
from server.planning.leg_radio import LegCurve, radio_of_leg
from server.planning.log import LegWind, LogLeg, LogPoint, Note
from server.planning.materials import Materials
from server.planning.notes import note_no_heading, notes_of_leg
from server.planning.profile import VerticalProfile

SLOWEST_KT = 5.0
"""A leg on which the wind leaves less groundspeed than this is not flown: nobody has fuel for it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Flight:
    """What all legs of one flight share. ``cruise_tas_kt`` is None where it cannot be told."""

    materials: Materials
    altitude_ft: float
    total_nm: float
    profile: VerticalProfile
    cruise_tas_kt: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class FlownSoFar:
    """What the legs before have used up; None once something needed was not given."""

    distance_nm: float = 0.0
    fuel_remaining_l: float | None = None
    time_utc: datetime | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedLeg:
    """A leg of the log, its curves for the section, and what has been used up at its end."""

    leg: LogLeg
    curves: tuple[LegCurve, ...]
    flown: FlownSoFar


@dataclass(frozen=True, kw_only=True, slots=True)
class _Line:
    """The leg on the map: which one, where, and in which direction."""

    number: int
    start: LogPoint
    end: LogPoint
    start_nm: float
    track: Track
    variation_deg: float

    @property
    def track_magnetic_deg(self) -> float | None:
        true_deg = self.track.middle_true_deg
        return magnetic_from_true_deg(true_deg, self.variation_deg) if true_deg is not None else None


def _line(points: tuple[LogPoint, ...], index: int, start_nm: float, materials: Materials) -> _Line:
    start, end = points[index], points[index + 1]
    leg_track = track(start.position, end.position)
    middle = position_along(start.position, end.position, leg_track.distance_nm / 2.0)
    variation_deg = materials.variation_at(middle).deg
    return _Line(number=index + 1, start=start, end=end, start_nm=start_nm, track=leg_track, variation_deg=variation_deg)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Flying:
    """The heading side of a leg; what cannot be computed is None."""

    wind: LegWind | None = None
    correction: WindCorrection | None = None
    heading_magnetic_deg: float | None = None
    heading_compass_deg: float | None = None
    note: Note | None = None


def _heading_side(line: _Line, flight: Flight) -> _Flying:
    materials, tas_kt, track_true_deg = flight.materials, flight.cruise_tas_kt, line.track.middle_true_deg
    if not materials.route.winds:
        return _Flying()
    wind = wind_at(materials.route.winds, flight.altitude_ft, variation_deg=line.variation_deg)
    from_magnetic_deg = magnetic_from_true_deg(wind.from_true_deg, line.variation_deg)
    leg_wind = LegWind(from_true_deg=wind.from_true_deg, from_magnetic_deg=from_magnetic_deg, speed_kt=wind.speed_kt)
    if tas_kt is None or track_true_deg is None:
        return _Flying(wind=leg_wind)
    try:
        correction = wind_correction(
            track_true_deg=track_true_deg, true_airspeed_kt=tas_kt, wind_from_true_deg=wind.from_true_deg, wind_kt=wind.speed_kt
        )
        if correction.groundspeed_kt < SLOWEST_KT:
            raise NoHeadingHoldsTrack(
                f"The wind of {wind.speed_kt:.0f} kt leaves a groundspeed of {correction.groundspeed_kt:.1f} kt. "
                "Try another height, speed or time."
            )
    except NoHeadingHoldsTrack as problem:
        return _Flying(wind=leg_wind, note=note_no_heading(line.number, f"{line.start.name} to {line.end.name}", problem))
    heading_magnetic_deg = magnetic_from_true_deg(correction.heading_true_deg, line.variation_deg)
    card = materials.aircraft.compass_card if materials.aircraft is not None else ()
    return _Flying(
        wind=leg_wind,
        correction=correction,
        heading_magnetic_deg=heading_magnetic_deg,
        heading_compass_deg=compass_heading_deg(card, heading_magnetic_deg),
    )


def plan_leg(points: tuple[LogPoint, ...], index: int, *, flown: FlownSoFar, flight: Flight) -> PlannedLeg:
    """Plan the leg from points[index] to points[index + 1]; the first leg carries the climb allowance."""
    line = _line(points, index, flown.distance_nm, flight.materials)
    flying = _heading_side(line, flight)
    under = ground_under_leg(
        start=line.start.position,
        end=line.end.position,
        length_nm=line.track.distance_nm,
        start_nm=line.start_nm,
        total_nm=flight.total_nm,
        profile=flight.profile.points,
        ground=flight.materials.ground,
    )
    correction = flying.correction
    groundspeed_kt = correction.groundspeed_kt if correction is not None else None
    time_min, fuel_l = _time_and_fuel(line, groundspeed_kt, flight)
    flown_after = _after(flown, line.track.distance_nm, time_min, fuel_l)
    radio = radio_of_leg(
        points,
        index,
        start_nm=line.start_nm,
        track_magnetic_deg=line.track_magnetic_deg,
        profile=flight.profile.points,
        materials=flight.materials,
        days=_days(flown, flown_after),
    )
    leg = LogLeg(
        number=line.number,
        start=line.start,
        end=line.end,
        distance_nm=line.track.distance_nm,
        start_nm=line.start_nm,
        track_true_deg=line.track.middle_true_deg,
        track_magnetic_deg=line.track_magnetic_deg,
        variation_deg=line.variation_deg,
        altitude_ft=flight.altitude_ft,
        wind=flying.wind,
        wind_correction_deg=correction.wind_correction_deg if correction is not None else None,
        heading_true_deg=correction.heading_true_deg if correction is not None else None,
        heading_magnetic_deg=flying.heading_magnetic_deg,
        heading_compass_deg=flying.heading_compass_deg,
        true_airspeed_kt=flight.cruise_tas_kt,
        groundspeed_kt=groundspeed_kt,
        time_min=time_min,
        fuel_l=fuel_l,
        fuel_remaining_l=flown_after.fuel_remaining_l,
        arrival_utc=flown_after.time_utc,
        highest_ground_ft=under.highest_ft,
        ground_known=under.all_known,
        guidance=radio.guidance,
        changeover_nm=radio.changeover_nm,
        stretches=radio.stretches,
        receptions=radio.receptions,
        notes=(),
    )
    no_heading = (flying.note,) if flying.note is not None else ()
    notes = (*no_heading, *notes_of_leg(leg, under, flight.profile, flight.materials))
    return PlannedLeg(leg=replace(leg, notes=notes), curves=radio.curves, flown=flown_after)


def _time_and_fuel(line: _Line, groundspeed_kt: float | None, flight: Flight) -> tuple[float | None, float | None]:
    """Cruise time and fuel, with the climb allowance on the first leg. A leg of no length has no heading and takes no time. [min, L]"""
    aircraft = flight.materials.aircraft
    if aircraft is None or flight.cruise_tas_kt is None:
        return None, None
    if line.track.middle_true_deg is None:
        cruise_min = 0.0
    elif groundspeed_kt is not None:
        cruise_min = line.track.distance_nm / groundspeed_kt * 60.0
    else:
        return None, None
    first = line.number == 1
    climb_min, climb_l = (flight.profile.climb_allowance_min, flight.profile.climb_allowance_l) if first else (0.0, 0.0)
    return cruise_min + climb_min, cruise_min / 60.0 * aircraft.cruise_fuel_l_per_h + climb_l


def _days(flown: FlownSoFar, flown_after: FlownSoFar) -> tuple[date, ...] | None:
    """The UTC days on which a leg is flown; None where its times are not known."""
    if flown.time_utc is None or flown_after.time_utc is None:
        return None
    return flown.time_utc.astimezone(UTC).date(), flown_after.time_utc.astimezone(UTC).date()


def _after(flown: FlownSoFar, distance_nm: float, time_min: float | None, fuel_l: float | None) -> FlownSoFar:
    return FlownSoFar(
        distance_nm=flown.distance_nm + distance_nm,
        fuel_remaining_l=flown.fuel_remaining_l - fuel_l if flown.fuel_remaining_l is not None and fuel_l is not None else None,
        time_utc=flown.time_utc + timedelta(minutes=time_min) if flown.time_utc is not None and time_min is not None else None,
    )
