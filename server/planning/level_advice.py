"""The levels a route could be flown at: for each set of legal levels the time, the fuel, and whether the beacons are received all along.

Each is planned in full, so that what is told is what the log would say. Advice: weather, airspace and oxygen are not looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.navigation import AS_PLANNED, Route
from server.navigation.performance_table import TableAxis
from server.planning.guidance import gaps
from server.planning.leg_levels import level_rule_of, lowest_legal_ft
from server.planning.log import LogLeg, NavigationLog
from server.planning.materials import Materials
from server.planning.plan import plan, planned_levels_ft
from server.planning.profile_notes import LevelMissed, levels_missed
from server.planning.slopes import performance_of
from server.radio import ReceptionState, Stretch, state_apart_from_cone

STEP_FT = 1000.0
HIGHEST_FT = 18_000.0
"""No VFR cruise is planned above the highest level of either rule (14 CFR 91.159; ICAO Annex 2, 4.4, from memory)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelChoice:
    """One set of levels. What is None cannot be told from what was given."""

    levels_ft: tuple[float, ...]
    """Of each leg."""
    as_planned: bool
    """Whether it is what the route is planned at now."""
    reached_ft: float
    """The highest altitude the flight gets to; less than its levels where the route is too short."""
    time_min: float | None
    fuel_l: float | None
    without_guidance_nm: float
    """Along the legs, climb and descent included."""
    marginal_nm: float
    """Flown on a beacon that is only marginal. Where both are 0 the beacons are received all along, overhead apart."""
    missed: tuple[LevelMissed, ...]
    """Levels that the legs are too short to get to."""
    above_tables: bool
    """Whether a level lies above what the aircraft's tables hold: then time and fuel are carried on beyond them."""
    low_legs: tuple[int, ...]
    """Legs lower than the margin over their ground asks for."""
    unknown_legs: tuple[int, ...]
    """Legs over ground that is not wholly known."""


def advise_levels(materials: Materials, *, most: int = 8) -> tuple[LevelChoice, ...]:
    """Plan the route at the lowest legal levels above its ground, and on upward; what is planned now stands first.

    Each leg flies the lowest level of the rule that is not below a floor, and the floor rises in steps of 1,000 ft, up to what the
    aircraft's tables hold. An aircraft without tables states no such limit.
    """
    now = plan(materials, checks=False).log
    levels_now_ft = planned_levels_ft(materials.route)
    choices = [_choice(now, levels_now_ft, materials, as_planned=True)]
    seen = {levels_now_ft}
    floor_ft = _lowest_floor_ft(now)
    while floor_ft <= HIGHEST_FT and len(choices) < most + 1:
        levels_ft = _legal(now.legs, floor_ft, materials)
        if levels_ft is not None and levels_ft not in seen:
            seen.add(levels_ft)
            planned = replace(materials, route=with_levels(materials.route, levels_ft))
            choice = _choice(plan(planned, checks=False).log, levels_ft, planned, as_planned=False)
            if choice.above_tables:
                break
            choices.append(choice)
        floor_ft += STEP_FT
    return tuple(choices)


def with_levels(route: Route, levels_ft: tuple[float, ...]) -> Route:
    """The route with a level for each of its legs; a level that goes on is not said again.

    Raises ValueError where the number of levels is not that of the legs.
    """
    points = []
    for point, level_ft, before_ft in zip(route.points, levels_ft[1:], levels_ft[:-1], strict=True):
        chosen_ft = None if level_ft == before_ft else level_ft
        points.append(replace(point, onward=replace(point.onward, altitude_ft=chosen_ft)))
    return replace(route, altitude_ft=levels_ft[0], points=tuple(points), onward=route.onward or AS_PLANNED)


def _lowest_floor_ft(log: NavigationLog) -> float:
    """The lowest whole thousand above all known ground under the route, and above both airfields. [ft]"""
    heights_ft = [leg.highest_ground_ft for leg in log.legs if leg.highest_ground_ft is not None]
    heights_ft += [field.elevation_ft for field in (log.departure, log.destination) if field.elevation_ft is not None]
    return (max(heights_ft, default=0.0) // STEP_FT + 1.0) * STEP_FT


def _legal(legs: tuple[LogLeg, ...], floor_ft: float, materials: Materials) -> tuple[float, ...] | None:
    rule = level_rule_of(materials)
    levels_ft = [lowest_legal_ft(rule, leg.track_magnetic_deg, floor_ft) for leg in legs]
    known = tuple(level_ft for level_ft in levels_ft if level_ft is not None)
    return known if len(known) == len(levels_ft) else None


def _choice(log: NavigationLog, levels_ft: tuple[float, ...], materials: Materials, *, as_planned: bool) -> LevelChoice:
    fuels_l = [leg.fuel_l for leg in log.legs]
    return LevelChoice(
        levels_ft=levels_ft,
        as_planned=as_planned,
        reached_ft=max(point.altitude_ft for point in log.profile),
        time_min=log.total_time_min,
        fuel_l=None if None in fuels_l else sum(fuel for fuel in fuels_l if fuel is not None),
        without_guidance_nm=sum(to_nm - from_nm for leg in log.legs for from_nm, to_nm in _silent(leg)),
        marginal_nm=sum(stretch.length_nm for leg in log.legs for stretch in leg.stretches if _marginal(stretch)),
        missed=levels_missed(levels_ft, [leg.parts for leg in log.legs]),
        above_tables=_above_tables(levels_ft, materials),
        low_legs=tuple(
            leg.number for leg in log.legs if leg.levels and leg.levels.safe_ft is not None and leg.altitude_ft < leg.levels.safe_ft
        ),
        unknown_legs=tuple(leg.number for leg in log.legs if not leg.ground_known),
    )


def _silent(leg: LogLeg) -> tuple[tuple[float, float], ...]:
    if leg.track_true_deg is None:
        return ()
    return gaps(leg.stretches) if leg.stretches else ((0.0, leg.distance_nm),)


def _marginal(stretch: Stretch) -> bool:
    return state_apart_from_cone(stretch) is ReceptionState.MARGINAL


def _above_tables(levels_ft: tuple[float, ...], materials: Materials) -> bool:
    """Whether a level lies above the highest line of the cruise or climb table; False for an aircraft without them."""
    performance = performance_of(materials)
    if performance is None:
        return False
    left = performance.left_tables(levels_ft, min(levels_ft), max(levels_ft))
    beyond = [each.beyond for each in left if each.beyond.axis is TableAxis.PRESSURE_ALTITUDE]
    return any(each.asked is not None and each.asked > each.highest for each in beyond)
