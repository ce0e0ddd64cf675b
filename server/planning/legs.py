"""One leg of the log: what to fly, what to tune, whether it is heard, and what the ground does below."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

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
from server.planning.clearance import GroundUnderLeg, ground_under_leg
from server.planning.guidance import Guide, changeover, guidance_of, guides_of_leg, reception_of
from server.planning.log import BeaconReception, Guidance, LegWind, LogLeg, LogPoint, Note
from server.planning.materials import Materials
from server.planning.notes import note_no_heading, notes_of_leg
from server.planning.profile import VerticalProfile, part_of_profile
from server.radio import Beacon, ComponentKind, LegPath, LegSurvey, Stretch, best_of, survey_leg


@dataclass(frozen=True, kw_only=True, slots=True)
class FlownSoFar:
    """What the legs before have used up; None once something needed was not given."""

    distance_nm: float = 0.0
    fuel_remaining_l: float | None = None
    time_utc: datetime | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class LegCurve:
    """The lowest altitude at which one beacon is in sight along one leg, for the section: distances from departure [NM], altitudes [ft]."""

    leg_number: int
    beacon: Beacon
    component: ComponentKind
    survey: LegSurvey
    start_nm: float


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedLeg:
    leg: LogLeg
    curves: tuple[LegCurve, ...]
    flown: FlownSoFar


def survey(beacon: Beacon, component: ComponentKind, path: LegPath, materials: Materials) -> LegSurvey:
    """Ask the radio model about one part of one beacon along a path, on the day of the flight."""
    return survey_leg(
        beacon=beacon,
        component=component,
        path=path,
        ground=materials.ground,
        on=materials.on,
        estimated_declination_deg=materials.estimated_declination_deg(beacon),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Radio:
    """The radio side of a leg."""

    guidance: tuple[Guidance, ...]
    changeover_nm: float | None
    stretches: tuple[Stretch, ...]
    receptions: tuple[BeaconReception, ...]
    curves: tuple[LegCurve, ...]


def _radio_side(
    guides: tuple[Guide, ...],
    start: LogPoint,
    end: LogPoint,
    path: LegPath,
    number: int,
    start_nm: float,
    bearing: float | None,
    materials: Materials,
) -> _Radio:
    surveys = [survey(guide.beacon, guide.component, path, materials) for guide in guides]
    guidance = [guidance_of(guide, start, end, track_magnetic_deg=bearing, materials=materials) for guide in guides]
    at_nm = None
    if len(guides) == 2:
        at_nm = changeover(surveys[0].stretches, surveys[1].stretches).at_nm
        guidance = [_cut(guidance[0], 0.0, at_nm), _cut(guidance[1], at_nm, path.distance_nm)]
    distance_parts = [
        survey(guide.beacon, ComponentKind.DISTANCE, path, materials)
        for guide in guides
        if guide.beacon.component(ComponentKind.DISTANCE) is not None
    ]
    return _Radio(
        guidance=tuple(guidance),
        changeover_nm=at_nm,
        stretches=best_of(*(each.stretches for each in surveys)) if surveys else (),
        receptions=tuple(
            reception_of(each.beacon, each.component, each.stretches, each.lowest_altitude_whole_leg_ft)
            for each in surveys + distance_parts
        ),
        curves=tuple(
            LegCurve(leg_number=number, beacon=each.beacon, component=each.component, survey=each, start_nm=start_nm) for each in surveys
        ),
    )


def _cut(guidance: Guidance, from_nm: float, to_nm: float) -> Guidance:
    return replace(guidance, from_nm=from_nm, to_nm=to_nm)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Flying:
    """The heading side of a leg; what cannot be computed is None."""

    wind: LegWind | None = None
    correction: WindCorrection | None = None
    heading_magnetic_deg: float | None = None
    heading_compass_deg: float | None = None
    note: Note | None = None


def _heading_side(
    number: int, names: str, leg_track: Track, variation_deg: float, altitude_ft: float, cruise_tas_kt: float | None, materials: Materials
) -> _Flying:
    if not materials.route.winds:
        return _Flying()
    wind = wind_at(materials.route.winds, altitude_ft, variation_deg=variation_deg)
    leg_wind = LegWind(
        from_true_deg=wind.from_true_deg,
        from_magnetic_deg=magnetic_from_true_deg(wind.from_true_deg, variation_deg),
        speed_kt=wind.speed_kt,
    )
    if cruise_tas_kt is None or leg_track.middle_true_deg is None:
        return _Flying(wind=leg_wind)
    try:
        correction = wind_correction(
            track_true_deg=leg_track.middle_true_deg,
            true_airspeed_kt=cruise_tas_kt,
            wind_from_true_deg=wind.from_true_deg,
            wind_kt=wind.speed_kt,
        )
    except NoHeadingHoldsTrack as problem:
        return _Flying(wind=leg_wind, note=note_no_heading(number, names, problem))
    heading_magnetic_deg = magnetic_from_true_deg(correction.heading_true_deg, variation_deg)
    card = materials.aircraft.compass_card if materials.aircraft is not None else ()
    return _Flying(
        wind=leg_wind,
        correction=correction,
        heading_magnetic_deg=heading_magnetic_deg,
        heading_compass_deg=compass_heading_deg(card, heading_magnetic_deg),
    )


def plan_leg(
    points: tuple[LogPoint, ...],
    index: int,
    *,
    flown: FlownSoFar,
    profile: VerticalProfile,
    total_nm: float,
    cruise_tas_kt: float | None,
    materials: Materials,
) -> PlannedLeg:
    """Plan the leg from points[index] to points[index + 1]; the first leg carries the climb allowance."""
    start, end, number = points[index], points[index + 1], index + 1
    leg_track = track(start.position, end.position)
    middle = position_along(start.position, end.position, leg_track.distance_nm / 2.0)
    variation_deg = materials.variation_at(middle).deg
    direction = leg_track.middle_true_deg
    track_magnetic_deg = magnetic_from_true_deg(direction, variation_deg) if direction is not None else None
    altitude_ft = materials.route.altitude_ft or 0.0

    names = f"{start.name} to {end.name}"
    flying = _heading_side(number, names, leg_track, variation_deg, altitude_ft, cruise_tas_kt, materials)
    path = LegPath(
        start=start.position,
        end=end.position,
        distance_nm=leg_track.distance_nm,
        profile=part_of_profile(profile.points, flown.distance_nm, flown.distance_nm + leg_track.distance_nm),
    )
    guides = guides_of_leg(points, index)
    radio = _radio_side(guides, start, end, path, number, flown.distance_nm, track_magnetic_deg, materials)
    under = ground_under_leg(
        start=start.position,
        end=end.position,
        length_nm=leg_track.distance_nm,
        start_nm=flown.distance_nm,
        total_nm=total_nm,
        profile=profile.points,
        ground=materials.ground,
    )
    groundspeed_kt = flying.correction.groundspeed_kt if flying.correction is not None else None
    time_min, fuel_l = _time_and_fuel(leg_track.distance_nm, groundspeed_kt, profile if index == 0 else None, materials)
    flown_after = _after(flown, leg_track.distance_nm, time_min, fuel_l)
    leg = LogLeg(
        number=number,
        start=start,
        end=end,
        distance_nm=leg_track.distance_nm,
        start_nm=flown.distance_nm,
        track_true_deg=direction,
        track_magnetic_deg=track_magnetic_deg,
        variation_deg=variation_deg,
        altitude_ft=altitude_ft,
        wind=flying.wind,
        wind_correction_deg=flying.correction.wind_correction_deg if flying.correction is not None else None,
        heading_true_deg=flying.correction.heading_true_deg if flying.correction is not None else None,
        heading_magnetic_deg=flying.heading_magnetic_deg,
        heading_compass_deg=flying.heading_compass_deg,
        true_airspeed_kt=cruise_tas_kt,
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
    return PlannedLeg(leg=_with_notes(leg, under, flying.note, materials), curves=radio.curves, flown=flown_after)


def _with_notes(leg: LogLeg, under: GroundUnderLeg, note: Note | None, materials: Materials) -> LogLeg:
    return replace(leg, notes=(*((note,) if note is not None else ()), *notes_of_leg(leg, under, materials)))


def _time_and_fuel(
    distance_nm: float, groundspeed_kt: float | None, climb: VerticalProfile | None, materials: Materials
) -> tuple[float | None, float | None]:
    if groundspeed_kt is None or materials.aircraft is None:
        return None, None
    cruise_min = distance_nm / groundspeed_kt * 60.0
    fuel_l = cruise_min / 60.0 * materials.aircraft.cruise_fuel_l_per_h
    if climb is None:
        return cruise_min, fuel_l
    return cruise_min + climb.climb_allowance_min, fuel_l + climb.climb_allowance_l


def _after(flown: FlownSoFar, distance_nm: float, time_min: float | None, fuel_l: float | None) -> FlownSoFar:
    return FlownSoFar(
        distance_nm=flown.distance_nm + distance_nm,
        fuel_remaining_l=flown.fuel_remaining_l - fuel_l if flown.fuel_remaining_l is not None and fuel_l is not None else None,
        time_utc=flown.time_utc + timedelta(minutes=time_min) if flown.time_utc is not None and time_min is not None else None,
    )
