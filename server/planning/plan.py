"""Plan a route: the walk from what the user drew to the frozen navigation log."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Literal

import numpy as np

from server.errors import InputProblem
from server.navigation import Airfield, Checkpoint, ConicProjection, Route
from server.persistence import Library, RegionRecord
from server.planning.alternate import Alternate, alternate_of
from server.planning.cross_checks import cross_checks_of_legs, places_to_check
from server.planning.diversion import ask_for_diversions, diversion_notes, diversions_of_flight, places_of_flight
from server.planning.flown import Flying
from server.planning.gaps import gaps_of_leg
from server.planning.leg_radio import LegCurve
from server.planning.legs import Flight, FlownSoFar, lines_of, plan_leg, wind_on
from server.planning.listening import Ear
from server.planning.log import FuelPlan, LogLeg, LogPoint, NavigationLog, Note, NoteLevel, PartKind
from server.planning.lost_strip import ask_for_lost_strips, lost_strips_of_legs
from server.planning.materials import Clock, Materials, gather, utc_now
from server.planning.notes import gravest_first, notes_of_flight
from server.planning.passage import passages_of_legs
from server.planning.points import refuse_long_legs, resolve_points
from server.planning.profile import VerticalProfile, altitude_at, vertical_profile
from server.planning.reserves import reserve_rule
from server.planning.slopes import performance_of
from server.planning.station_notes import with_station_notes
from server.planning.sun_times import sun_notes, sun_of_flight
from server.planning.true_height import true_heights
from server.planning.turn_back import turn_back_of
from server.radio import Beacon, Ground
from server.terrain import TerrainStore

HIGHEST_PLANNED_FT = 60_000.0  # top of every published service volume
LOWEST_PLANNED_FT = -1_500.0  # the lowest shores on earth
FIRST_YEAR, LAST_YEAR = 1900, 2200  # a date outside is a slip of the pen
EXACT_L = 1e-6
"""Exactly the reserve is enough ("at least", 14 CFR 91.151); the last bit of a sum must not decide otherwise."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PlannedRoute:
    """The log, and what pictures of it are drawn from. ``curves``: one beacon along one leg, for the section."""

    log: NavigationLog
    materials: Materials
    curves: tuple[LegCurve, ...]

    @property
    def region(self) -> RegionRecord:
        return self.materials.region

    @property
    def ground(self) -> Ground:
        return self.materials.ground

    @property
    def projection(self) -> ConicProjection:
        return self.materials.projection

    @property
    def beacons(self) -> tuple[Beacon, ...]:
        return tuple(self.materials.beacons.values())

    @property
    def airfields(self) -> tuple[Airfield, ...]:
        return tuple(self.materials.airfields.values())

    @property
    def checkpoints(self) -> tuple[Checkpoint, ...]:
        return tuple(self.materials.checkpoints.values())


def plan_route(
    library: Library, terrain_store: TerrainStore, route: int | Route, *, clock: Clock = utc_now, checks: bool = True
) -> PlannedRoute:
    """Plan a stored route (by its number) or one not stored yet. ``checks`` as in ``plan``: a picture needs none.

    Raises
    ------
    InputProblem
        The route has no altitude, an impossible one or an impossible date, or a point or wind that cannot be worked out.
    NotFound
        The route, or something it uses, has been removed.
    """
    return plan(gather(library, terrain_store, route, clock=clock), checks=checks)


def plan(materials: Materials, *, checks: bool = True) -> PlannedRoute:
    """Make the log from materials already gathered. Touches nothing outside them.

    ``checks`` False leaves out what guides a pilot on the way (cross-checks, passages, gaps, diversions, lost strips, sun) and its notes,
    for whoever only compares plans.
    """
    route = materials.route
    levels_ft = planned_levels_ft(route)
    _check_departure(route)
    points = resolve_points(materials)
    refuse_long_legs(points)
    lines = lines_of(points, levels_ft, materials)
    profile = vertical_profile(
        [each.line for each in lines],
        departure_elevation_ft=points[0].elevation_ft,
        destination_elevation_ft=points[-1].elevation_ft,
        flying=flying_of(materials),
    )
    points = _with_altitudes(points, [each.start_nm for each in lines], profile)
    lines = tuple(replace(each, start=points[index], end=points[index + 1]) for index, each in enumerate(lines))
    heights = true_heights(materials)
    flight = Flight(
        materials=materials,
        points=points,
        lines=lines,
        profile=profile,
        heights=heights,
        true_points=heights.profile(profile.points),
    )

    taxi_l = materials.aircraft.taxi_fuel_l if materials.aircraft is not None else 0.0
    fuel_at_start_l = route.fuel_on_board_l - taxi_l if route.fuel_on_board_l is not None and materials.aircraft is not None else None
    flown = FlownSoFar(fuel_remaining_l=fuel_at_start_l, time_utc=route.departure_utc)
    legs: list[LogLeg] = []
    curves: list[LegCurve] = []
    for index in range(len(points) - 1):
        planned = plan_leg(index, flown=flown, flight=flight)
        legs.append(planned.leg)
        curves.extend(planned.curves)
        flown = planned.flown
    log = _assemble(flight, tuple(legs), flown)
    return PlannedRoute(log=_with_checks(log, materials) if checks else log, materials=materials, curves=tuple(curves))


def _with_checks(log: NavigationLog, materials: Materials) -> NavigationLog:
    """Add what tells a pilot on the way where he is, what to hold where nothing does, where else to go, and the sun."""
    legs, profile = log.legs, log.true_profile
    ear = Ear(legs, materials)
    ways_out = ask_for_diversions(places_of_flight(legs, places_to_check(legs, profile), profile, materials), ear)
    middles = ask_for_lost_strips(legs, profile, ear)
    cross_checks = cross_checks_of_legs(legs, profile, materials, ear)
    diversions = diversions_of_flight(legs, ways_out, flying_of(materials), ear)
    sun = sun_of_flight(log.arrival_utc, materials)
    checked = replace(
        log,
        cross_checks=cross_checks,
        passages=passages_of_legs(legs, profile, materials),
        gaps=tuple(gaps_of_leg(leg) for leg in legs),
        diversions=diversions,
        lost=lost_strips_of_legs(legs, middles, ear),
        sun=sun,
        notes=gravest_first([*log.notes, *diversion_notes(diversions), *sun_notes(sun, materials)]),
    )
    return with_station_notes(checked, materials)


def planned_altitude_ft(route: Route) -> float:
    """The route's altitude, or InputProblem where it is missing or impossible."""
    if route.altitude_ft is None:
        raise InputProblem("Give the altitude you plan to fly at, in feet above sea level.", code="altitude", place="altitude_ft")
    return _possible_ft(route.altitude_ft, "altitude_ft")


def planned_levels_ft(route: Route) -> tuple[float, ...]:
    """The altitude of each leg: the route's from the departure on, then what was chosen at a point, until another is chosen. [ft]

    Raises InputProblem where one is missing or impossible (code altitude).
    """
    levels_ft = [planned_altitude_ft(route)]
    for number, point in enumerate(route.points, start=1):
        chosen_ft = point.onward.altitude_ft
        levels_ft.append(levels_ft[-1] if chosen_ft is None else _possible_ft(chosen_ft, f"points.{number}.altitude_ft"))
    return tuple(levels_ft)


def _possible_ft(altitude_ft: float, place: str) -> float:
    if not np.isfinite(altitude_ft) or not LOWEST_PLANNED_FT <= altitude_ft <= HIGHEST_PLANNED_FT:
        text = f"{altitude_ft:g} ft is not an altitude to plan at: give feet above sea level, up to {HIGHEST_PLANNED_FT:,.0f}."
        raise InputProblem(text, code="altitude", place=place)
    return altitude_ft


def _check_departure(route: Route) -> None:
    if route.departure_utc is not None and not FIRST_YEAR <= route.departure_utc.year <= LAST_YEAR:
        text = f"The year {route.departure_utc.year} of the departure is outside {FIRST_YEAR} to {LAST_YEAR}. Correct the date."
        raise InputProblem(text, code="departure-date", place="departure_utc")


def flying_of(materials: Materials) -> Flying | None:
    """The aircraft in the wind of the flight; None without an aircraft."""
    performance = performance_of(materials)
    return Flying(performance=performance, wind_on=partial(wind_on, materials=materials)) if performance is not None else None


def _with_altitudes(points: tuple[LogPoint, ...], starts_nm: list[float], profile: VerticalProfile) -> tuple[LogPoint, ...]:
    distances_nm = [*starts_nm, profile.points[-1].distance_nm]
    return tuple(replace(point, altitude_ft=altitude_at(profile.points, at_nm)) for point, at_nm in zip(points, distances_nm, strict=True))


def _fuel_plan(materials: Materials, legs: tuple[LogLeg, ...], alternate: Alternate | None) -> FuelPlan | None:
    """What the flight needs and what is left; None where something needed for it is not known."""
    aircraft, route, performance = materials.aircraft, materials.route, performance_of(materials)
    burns = [leg.fuel_l for leg in legs]
    given = bool(route.reserve_rule) and None not in burns
    if aircraft is None or performance is None or route.fuel_on_board_l is None or not given:
        return None
    cruise = performance.level(legs[-1].altitude_ft)
    if cruise is None or (alternate is not None and alternate.fuel_l is None):
        return None
    rule = reserve_rule(route.reserve_rule)
    trip_l = float(sum(burn for burn in burns if burn is not None))
    alternate_l = alternate.fuel_l or 0.0 if alternate is not None else 0.0
    extra_l = route.extra_fuel_l or 0.0
    reserve_l = rule.minutes / 60.0 * cruise.fuel_l_per_h
    margin_l = route.fuel_on_board_l - aircraft.taxi_fuel_l - trip_l - alternate_l - extra_l - reserve_l
    return FuelPlan(
        on_board_l=route.fuel_on_board_l,
        taxi_l=aircraft.taxi_fuel_l,
        trip_l=trip_l,
        climb_l=_sum_over(legs, PartKind.CLIMB, "fuel_l"),
        level_l=_sum_over(legs, PartKind.LEVEL, "fuel_l"),
        descent_l=_sum_over(legs, PartKind.DESCENT, "fuel_l"),
        alternate_l=alternate_l,
        extra_l=extra_l,
        reserve_l=reserve_l,
        reserve_minutes=rule.minutes,
        reserve_rule=rule.name,
        margin_l=margin_l if abs(margin_l) > EXACT_L else 0.0,
        endurance_min=(route.fuel_on_board_l - aircraft.taxi_fuel_l) / cruise.fuel_l_per_h * 60.0,
        cruise_l_per_h=cruise.fuel_l_per_h,
    )


def _sum_over(legs: tuple[LogLeg, ...], kind: PartKind, what: Literal["time_min", "fuel_l"]) -> float:
    """Add up what all parts of one kind take."""
    return float(sum(getattr(part, what) for leg in legs for part in leg.parts if part.kind is kind))


def _assemble(flight: Flight, legs: tuple[LogLeg, ...], flown: FlownSoFar) -> NavigationLog:
    materials, profile, points = flight.materials, flight.profile, flight.points
    route, region = materials.route, materials.region
    model = materials.variation_at(points[0].position)
    alternate = alternate_of(materials, legs[-1].altitude_ft)
    fuel = _fuel_plan(materials, legs, alternate)
    notes = notes_of_flight(
        materials=materials,
        profile=profile,
        levels_ft=tuple(leg.altitude_ft for leg in legs),
        arrival_utc=flown.time_utc,
        fuel=fuel,
        model_valid=model.model_valid,
    )
    times = [leg.time_min for leg in legs]
    timed = None not in times and bool(profile.parts)
    return NavigationLog(
        route=route,
        region_name=region.name,
        region_fictional=region.fictional,
        region_notice=region.notice,
        departure=materials.airfields[route.departure_airfield_id],
        destination=materials.airfields[route.destination_airfield_id],
        aircraft=materials.aircraft,
        points=points,
        legs=legs,
        profile=profile.points,
        true_profile=flight.true_points,
        total_distance_nm=flown.distance_nm,
        total_time_min=None if any(time is None for time in times) else float(sum(time for time in times if time is not None)),
        climb_min=_sum_over(legs, PartKind.CLIMB, "time_min") if timed else None,
        descent_min=_sum_over(legs, PartKind.DESCENT, "time_min") if timed else None,
        departure_utc=route.departure_utc,
        arrival_utc=flown.time_utc,
        fuel=fuel,
        alternate=alternate,
        turn_back=turn_back_of(legs, fuel.reserve_l, materials) if fuel is not None else None,
        complete=_complete(route, legs, fuel, notes),
        magnetic_model=model.model,
        magnetic_model_valid=model.model_valid,
        ground_fingerprint=materials.ground.fingerprint,
        beacon_data_date=_data_date(legs),
        notes=notes,
    )


def _complete(route: Route, legs: tuple[LogLeg, ...], fuel: FuelPlan | None, notes: tuple[Note, ...]) -> bool:
    """Whether the log can be flown: fuel, date, a heading on every leg that has a direction, and no stop note."""
    steerable = all(leg.heading_magnetic_deg is not None for leg in legs if leg.track_true_deg is not None)
    stopped = any(note.level is NoteLevel.STOP for note in (*notes, *(note for leg in legs for note in leg.notes)))
    return fuel is not None and route.departure_utc is not None and steerable and not stopped


def _data_date(legs: tuple[LogLeg, ...]) -> str:
    """The oldest and the newest day on which a guiding part was last confirmed, in words."""
    days: set[date] = set()
    unstated: set[str] = set()
    for leg in legs:
        for guidance in leg.guidance:
            part = guidance.beacon.component(guidance.component)
            if part is not None and part.last_confirmed is not None:
                days.add(part.last_confirmed)
            else:
                unstated.add(guidance.beacon.ident)
    stated = "not stated" if not days else min(days).isoformat()
    if days and max(days) != min(days):
        stated = f"{min(days).isoformat()} to {max(days).isoformat()}"
    return f"{stated}; not stated for {', '.join(sorted(unstated))}" if days and unstated else stated
