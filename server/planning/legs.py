"""One leg of the log: track, wind, headings, time and fuel of its parts, ground under it, and its radio side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from server.errors import NoHeadingHoldsTrack
from server.navigation import Track, Wind, compass_heading_deg, magnetic_from_true_deg, position_along, track, wind_at
from server.planning.clearance import ground_under_leg
from server.planning.flown import Line, held
from server.planning.leg_levels import corridor_nm_of, leg_levels
from server.planning.leg_radio import LegCurve, choice_of, radio_of_leg
from server.planning.leg_times import minutes_at
from server.planning.log_legs import FlightPart, LegWind, LogLeg, LogPoint, PartKind, ProfilePoint
from server.planning.materials import Materials
from server.planning.notes import note_no_heading, notes_of_leg
from server.planning.profile import Slopes, VerticalProfile
from server.planning.sun_times import night_between
from server.planning.true_height import TrueHeights, indicated_reception, indicated_stretches


@dataclass(frozen=True, kw_only=True, slots=True)
class LegLine:
    """A leg on the map: its points, its track, and the line the profile is flown along."""

    start: LogPoint
    end: LogPoint
    start_nm: float
    track: Track
    line: Line

    @property
    def track_magnetic_deg(self) -> float | None:
        true_deg = self.track.middle_true_deg
        return magnetic_from_true_deg(true_deg, self.line.variation_deg) if true_deg is not None else None


@dataclass(frozen=True, kw_only=True, slots=True)
class Flight:
    """What all legs of one flight share."""

    materials: Materials
    points: tuple[LogPoint, ...]
    lines: tuple[LegLine, ...]
    profile: VerticalProfile
    heights: TrueHeights
    true_points: tuple[ProfilePoint, ...]
    """The profile as it really is above the sea: what ground and signals are asked for."""

    @property
    def total_nm(self) -> float:
        return sum(each.line.length_nm for each in self.lines)


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


def lines_of(points: tuple[LogPoint, ...], altitudes_ft: tuple[float, ...], materials: Materials) -> tuple[LegLine, ...]:
    """Lay the legs between the points on the map, each at its planned altitude."""
    lines, start_nm = [], 0.0
    for index, altitude_ft in enumerate(altitudes_ft):
        start, end = points[index], points[index + 1]
        leg_track = track(start.position, end.position)
        middle = position_along(start.position, end.position, leg_track.distance_nm / 2.0)
        line = Line(
            number=index + 1,
            length_nm=leg_track.distance_nm,
            track_true_deg=leg_track.middle_true_deg,
            variation_deg=materials.variation_at(middle).deg,
            altitude_ft=altitude_ft,
        )
        lines.append(LegLine(start=start, end=end, start_nm=start_nm, track=leg_track, line=line))
        start_nm += leg_track.distance_nm
    return tuple(lines)


def wind_on(line: Line, altitude_ft: float, materials: Materials) -> Wind | None:
    """The wind on a line at an altitude; None where none is given."""
    layers = materials.route.winds
    return wind_at(layers, altitude_ft, variation_deg=line.variation_deg) if layers else None


def plan_leg(index: int, *, flown: FlownSoFar, flight: Flight) -> PlannedLeg:
    """Plan the leg from points[index] to points[index + 1]."""
    on_map, materials = flight.lines[index], flight.materials
    line = on_map.line
    slopes = flight.profile.parts_of_leg(line.number)
    parts = tuple(_part(slope, on_map, materials) for slope in slopes)
    main = main_part(parts)
    under = ground_under_leg(
        start=on_map.start.position,
        end=on_map.end.position,
        length_nm=line.length_nm,
        start_nm=on_map.start_nm,
        total_nm=flight.total_nm,
        profile=flight.true_points,
        ground=materials.ground,
        corridor_nm=corridor_nm_of(materials),
        airfields_ft=(flight.points[0].elevation_ft, flight.points[-1].elevation_ft),
    )
    time_min, fuel_l = _time_and_fuel(line, parts, materials)
    flown_after = _after(flown, line.length_nm, time_min, fuel_l)
    radio = radio_of_leg(
        flight.points,
        index,
        start_nm=on_map.start_nm,
        track_magnetic_deg=on_map.track_magnetic_deg,
        profile=flight.true_points,
        materials=materials,
        days=_days(flown, flown_after),
        night=night_between(on_map.start.position, on_map.end.position, flown.time_utc, flown_after.time_utc),
        chosen_nm=choice_of(materials.route, index).changeover_nm,
    )
    receptions = tuple(indicated_reception(each, flight.heights) for each in radio.receptions)
    leg = LogLeg(
        number=line.number,
        start=on_map.start,
        end=on_map.end,
        distance_nm=line.length_nm,
        start_nm=on_map.start_nm,
        track_true_deg=line.track_true_deg,
        track_magnetic_deg=on_map.track_magnetic_deg,
        variation_deg=line.variation_deg,
        altitude_ft=line.altitude_ft,
        true_altitude_ft=flight.heights.true_ft(line.altitude_ft),
        wind=main.wind if main is not None else _leg_wind(line, line.altitude_ft, materials),
        wind_correction_deg=main.wind_correction_deg if main is not None else None,
        heading_true_deg=main.heading_true_deg if main is not None else None,
        heading_magnetic_deg=main.heading_magnetic_deg if main is not None else None,
        heading_compass_deg=main.heading_compass_deg if main is not None else None,
        true_airspeed_kt=main.true_airspeed_kt if main is not None else None,
        groundspeed_kt=main.groundspeed_kt if main is not None else None,
        time_min=time_min,
        fuel_l=fuel_l,
        fuel_remaining_l=flown_after.fuel_remaining_l,
        arrival_utc=flown_after.time_utc,
        parts=parts,
        highest_ground_ft=under.highest_ft,
        ground_known=under.all_known,
        levels=leg_levels(
            track_magnetic_deg=on_map.track_magnetic_deg,
            highest_ground_ft=under.highest_ft,
            ground_known=under.all_known,
            relief_ft=under.relief_ft,
            highest_under_ft=under.highest_under_ft,
            lowest_beside_ft=under.lowest_beside_ft,
            guidance=radio.guidance,
            receptions=receptions,
            heights=flight.heights,
            distance_nm=line.length_nm,
            materials=materials,
        ),
        guidance=radio.guidance,
        changeover_nm=radio.changeover_nm,
        changeover_min=None,
        changeover_chosen=radio.changeover_chosen,
        changeover_reason=choice_of(materials.route, index).changeover_reason if radio.changeover_chosen else "",
        stretches=indicated_stretches(radio.stretches, flight.heights),
        receptions=receptions,
        notes=(),
    )
    changeover_min = minutes_at(leg, leg.changeover_nm) if leg.changeover_nm is not None else None
    problem = next((slope.problem for slope in slopes if slope.problem is not None), None)
    no_heading = (note_no_heading(line.number, f"{on_map.start.name} to {on_map.end.name}", problem),) if problem is not None else ()
    notes = (*no_heading, *notes_of_leg(leg, under, flight.profile, flight.true_points, materials))
    return PlannedLeg(leg=replace(leg, notes=notes, changeover_min=changeover_min), curves=radio.curves, flown=flown_after)


def main_part(parts: Iterable[FlightPart]) -> FlightPart | None:
    """The part of a leg whose heading is the leg's: the level one, else the longest; None for no part."""
    return max(parts, key=lambda part: (part.kind is PartKind.LEVEL, part.to_nm - part.from_nm), default=None)


def _part(slope: Slopes, on_map: LegLine, materials: Materials) -> FlightPart:
    """Solve the wind triangle of a part by its mean airspeed and the wind at its middle altitude."""
    line = on_map.line
    wind = wind_on(line, (slope.from_ft + slope.to_ft) / 2.0, materials)
    correction = None
    if wind is not None and line.track_true_deg is not None and slope.problem is None:
        try:
            correction = held(line.track_true_deg, slope.true_airspeed_kt, wind)
        except NoHeadingHoldsTrack:  # a slice above or below could just be flown, the mean cannot: the leg says so by what is missing
            correction = None
    heading_magnetic_deg = magnetic_from_true_deg(correction.heading_true_deg, line.variation_deg) if correction is not None else None
    card = materials.aircraft.compass_card if materials.aircraft is not None else ()
    return FlightPart(
        kind=slope.kind,
        from_nm=slope.from_nm - on_map.start_nm,
        to_nm=slope.to_nm - on_map.start_nm,
        from_ft=slope.from_ft,
        to_ft=slope.to_ft,
        true_airspeed_kt=slope.true_airspeed_kt,
        wind=_as_leg_wind(wind, line),
        wind_correction_deg=correction.wind_correction_deg if correction is not None else None,
        heading_true_deg=correction.heading_true_deg if correction is not None else None,
        heading_magnetic_deg=heading_magnetic_deg,
        heading_compass_deg=compass_heading_deg(card, heading_magnetic_deg) if heading_magnetic_deg is not None else None,
        groundspeed_kt=(slope.to_nm - slope.from_nm) / slope.time_min * 60.0 if correction is not None else None,
        time_min=slope.time_min if correction is not None else None,
        fuel_l=slope.fuel_l if correction is not None else None,
    )


def _leg_wind(line: Line, altitude_ft: float, materials: Materials) -> LegWind | None:
    return _as_leg_wind(wind_on(line, altitude_ft, materials), line)


def _as_leg_wind(wind: Wind | None, line: Line) -> LegWind | None:
    if wind is None:
        return None
    from_magnetic_deg = magnetic_from_true_deg(wind.from_true_deg, line.variation_deg)
    return LegWind(from_true_deg=wind.from_true_deg, from_magnetic_deg=from_magnetic_deg, speed_kt=wind.speed_kt)


def _time_and_fuel(line: Line, parts: tuple[FlightPart, ...], materials: Materials) -> tuple[float | None, float | None]:
    """Time and fuel of a leg's parts. A leg of no length has no heading and takes no time. [min, L]"""
    if line.track_true_deg is None and materials.aircraft is not None:
        return 0.0, 0.0
    times_min, fuels_l = [part.time_min for part in parts], [part.fuel_l for part in parts]
    if not parts or None in times_min or None in fuels_l:
        return None, None
    return sum(time for time in times_min if time is not None), sum(fuel for fuel in fuels_l if fuel is not None)


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
