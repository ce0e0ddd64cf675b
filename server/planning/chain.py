"""Find the whole chain of beacons: the shortest from departure to destination whose every leg is received at the planned altitude.

A shortest-path search that judges a leg only when the search is about to use it: most legs are never looked at.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import count

from server.navigation import PointKind, Route, RoutePoint, distance_nm
from server.persistence import Library
from server.planning.guidance import guiding_component
from server.planning.materials import Clock, Materials, gather, utc_now
from server.planning.plan import cruise_tas_of, planned_altitude_ft
from server.planning.profile import true_airspeed
from server.planning.reach import LONGEST_LEG_NM, Stop, Verdict, judge_leg
from server.radio import ComponentKind, ReceptionState
from server.terrain import TerrainStore

HIGHEST_TRIED_FT = 17_500.0
STEP_FT = 1_000.0
"""When there is no chain, higher altitudes are tried in these steps, so that the answer can say what would help."""

DETOUR_FACTOR, DETOUR_NM = 1.5, 60.0
"""A beacon that makes the way longer than this times the direct way, plus this, is left out: nobody would fly it."""

Judge = Callable[[int, int], Verdict]


@dataclass(frozen=True, kw_only=True)
class ChainResult:
    """``route`` carries the chain when ``found``, else the route as it was. ``explanation`` says what was done, or why there is none."""

    found: bool
    route: Route
    explanation: str
    legs_checked: int
    higher_altitude_ft: float | None = None
    """The lowest altitude tried at which a chain exists, when there is none at the planned one."""


@dataclass(frozen=True, kw_only=True)
class _Search:
    """What one search found: the stops of the chain (indices), and every leg that was judged."""

    chain: tuple[int, ...] | None
    length_nm: float = 0.0
    judged: dict[tuple[int, int], Verdict] = field(default_factory=dict)


def build_chain(library: Library, terrain_store: TerrainStore, route: int | Route, *, clock: Clock = utc_now) -> ChainResult:
    """Build the beacon chain for a route's departure, destination and altitude; what the route holds between them is left out of account.

    Only beacons with a working azimuth for a VOR receiver are used, and only legs whose state is "received"; a marginal or unknown leg is
    a choice a pilot makes by hand.
    """
    materials = gather(library, terrain_store, route, clock=clock)
    altitude_ft = planned_altitude_ft(materials.route)
    stops = _stops(materials)
    found = _search(stops, materials, altitude_ft)
    if found.chain is not None:
        points = tuple(RoutePoint(kind=PointKind.BEACON, place_id=stops[index].beacon.id) for index in found.chain[1:-1])
        names = " - ".join(stops[index].name for index in found.chain)
        text = f"{names}: {found.length_nm:.1f} NM, every leg received at {altitude_ft:,.0f} ft. {len(found.judged)} legs were checked."
        return ChainResult(found=True, route=replace(materials.route, points=points), explanation=text, legs_checked=len(found.judged))
    higher_ft, checked = _higher(stops, materials, altitude_ft)
    return ChainResult(
        found=False,
        route=materials.route,
        explanation=_why_none(stops, found, altitude_ft, higher_ft),
        legs_checked=len(found.judged) + checked,
        higher_altitude_ft=higher_ft,
    )


def _stops(materials: Materials) -> tuple[Stop, ...]:
    """Departure first, destination last, every beacon a VOR receiver can use between."""
    ends = [materials.airfields[number] for number in (materials.route.departure_airfield_id, materials.route.destination_airfield_id)]
    first, last = (Stop(position=field.position, name=field.name, elevation_ft=field.elevation_ft, is_airfield=True) for field in ends)
    longest_nm = DETOUR_FACTOR * distance_nm(first.position, last.position) + DETOUR_NM
    beacons = (
        Stop(position=beacon.position, name=beacon.ident, elevation_ft=beacon.elevation_ft, beacon=beacon)
        for beacon in materials.beacons.values()
        if guiding_component(beacon) is ComponentKind.AZIMUTH
        and distance_nm(first.position, beacon.position) + distance_nm(beacon.position, last.position) <= longest_nm
    )
    return (first, *beacons, last)


def _search(stops: tuple[Stop, ...], materials: Materials, altitude_ft: float) -> _Search:
    cruise_tas_kt = _tas_at(materials, altitude_ft)
    judged: dict[tuple[int, int], Verdict] = {}

    def judge(start: int, end: int) -> Verdict:
        key = (start, end)
        if key not in judged:
            judged[key] = judge_leg(stops[start], stops[end], altitude_ft=altitude_ft, cruise_tas_kt=cruise_tas_kt, materials=materials)
        return judged[key]

    return _shortest(stops, judge, judged)


def _tas_at(materials: Materials, altitude_ft: float) -> float | None:
    if altitude_ft == materials.route.altitude_ft:
        return cruise_tas_of(materials)
    aircraft = materials.aircraft
    if aircraft is None:
        return None
    deviation_c = materials.route.isa_deviation_c
    return true_airspeed(aircraft.cruise_speed_kt, aircraft.cruise_speed_kind, altitude_ft=altitude_ft, isa_deviation_c=deviation_c)


def _shortest(stops: tuple[Stop, ...], judge: Judge, judged: dict[tuple[int, int], Verdict]) -> _Search:
    """A* over the stops; the straight distance to the destination is the bound. A leg is judged when its end is taken from the queue."""
    goal = len(stops) - 1
    to_goal_nm = [distance_nm(stop.position, stops[goal].position) for stop in stops]
    order = count()
    queue: list[tuple[float, int, float, int, tuple[int, ...]]] = [(to_goal_nm[0], next(order), 0.0, 0, (0,))]
    settled: set[int] = set()
    while queue:
        _, _, flown_nm, here, chain = heapq.heappop(queue)
        if here in settled:
            continue
        if len(chain) > 1 and judge(chain[-2], here).state is not ReceptionState.RECEIVED:
            continue
        settled.add(here)
        if here == goal:
            return _Search(chain=chain, length_nm=flown_nm, judged=judged)
        for there in range(1, len(stops)):
            if there in settled or (here == 0 and there == goal):
                continue
            leg_nm = distance_nm(stops[here].position, stops[there].position)
            if leg_nm <= LONGEST_LEG_NM:
                total_nm = flown_nm + leg_nm
                heapq.heappush(queue, (total_nm + to_goal_nm[there], next(order), total_nm, there, (*chain, there)))
    return _Search(chain=None, judged=judged)


def _higher(stops: tuple[Stop, ...], materials: Materials, altitude_ft: float) -> tuple[float | None, int]:
    checked = 0
    higher_ft = altitude_ft + STEP_FT
    while higher_ft <= HIGHEST_TRIED_FT:
        tried = _search(stops, materials, higher_ft)
        checked += len(tried.judged)
        if tried.chain is not None:
            return higher_ft, checked
        higher_ft += STEP_FT
    return None, checked


def _why_none(stops: tuple[Stop, ...], found: _Search, altitude_ft: float, higher_ft: float | None) -> str:
    """Say how far the chain gets, what stops it, and what would help."""
    if len(stops) == 2:
        return "There is no chain: no beacon near the way has an azimuth that a VOR receiver can use."
    goal = len(stops) - 1
    received = {key for key, verdict in found.judged.items() if verdict.state is ReceptionState.RECEIVED}
    from_departure = [key for key in found.judged if key[0] == 0]
    into_goal = [key for key in found.judged if key[1] == goal]
    parts = [f"There is no chain at {altitude_ft:,.0f} ft whose every leg is received."]
    if not any(key in received for key in from_departure):
        parts.append(f"No beacon is received from {stops[0].name} after the climb. {_nearest_miss(stops, from_departure, found)}")
    elif not any(key in received for key in into_goal):
        parts.append(f"No beacon is received on the way into {stops[goal].name}. {_nearest_miss(stops, into_goal, found)}")
    else:
        failed = [key for key in found.judged if key not in received]
        parts.append(f"The chain breaks between the beacons. {_nearest_miss(stops, failed, found)}")
    if higher_ft is not None:
        parts.append(f"At {higher_ft:,.0f} ft there is one.")
    else:
        parts.append(f"Up to {HIGHEST_TRIED_FT:,.0f} ft there is none: choose the beacons by hand, or fly part of the way by eye.")
    return " ".join(parts)


def _nearest_miss(stops: tuple[Stop, ...], legs: list[tuple[int, int]], found: _Search) -> str:
    failed = [key for key in legs if found.judged[key].state is not ReceptionState.RECEIVED]
    if not failed:
        return ""
    start, end = min(failed, key=lambda key: distance_nm(stops[key[0]].position, stops[key[1]].position))
    verdict = found.judged[start, end]
    cure = f"; {verdict.curing_altitude_ft:,.0f} ft would cure it" if verdict.curing_altitude_ft is not None else ""
    return f"Nearest: {stops[start].name} to {stops[end].name}, {verdict.reason}{cure}."
