"""Find the whole chain of beacons: the shortest from departure to destination whose every leg is received at the planned altitude.

A shortest-path search that judges a leg only when the search is about to use it: most legs are never looked at.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from server.navigation import PointKind, Route, RoutePoint, bearings_and_distances, distance_nm
from server.persistence import Library
from server.planning.guidance import gaps, guiding_component
from server.planning.materials import Clock, Materials, gather, utc_now
from server.planning.plan import plan, planned_altitude_ft
from server.planning.points import resolve_points
from server.planning.reach import LONGEST_LEG_NM, Stop, Verdict, judge_leg, stop_at
from server.radio import Beacon, Cause, ComponentKind, Finding, ReceptionState, restrictions_not_read, status_findings
from server.terrain import TerrainStore

HIGHEST_TRIED_FT = 17_500.0
STEP_FT = 1_000.0
"""When there is no chain, higher altitudes are tried in these steps, so that the answer can say what would help."""

DETOUR_FACTOR, DETOUR_NM = 1.5, 60.0
"""A beacon that makes the way longer than this times the direct way, plus this, is left out: nobody would fly it."""


@dataclass(frozen=True, kw_only=True)
class ChainResult:
    """``route`` carries the chain when ``found``, else the route as it was. ``explanation`` says what was done, or why there is none."""

    found: bool
    route: Route
    explanation: str
    legs_checked: int
    higher_altitude_ft: float | None = None
    """The lowest altitude tried at which a chain exists, when there is none at the planned one."""
    restricted_left_out: bool = False
    """Whether stations were left out for nothing but restrictions that nobody has entered."""


def build_chain(
    library: Library, terrain_store: TerrainStore, route: int | Route, *, clock: Clock = utc_now, take_restricted: bool = False
) -> ChainResult:
    """Build the beacon chain for a route's departure, destination and altitude; what the route holds between them is left out of account.

    Only beacons with an azimuth for a VOR receiver that is on the air that day are used, and only legs whose state is "received"; a
    marginal or unknown leg is a choice a pilot makes by hand. ``take_restricted``: stations that are published as restricted, with the
    sectors not entered, are taken too, and the answer names them.
    """
    materials = gather(library, terrain_store, route, clock=clock)
    altitude_ft = planned_altitude_ft(materials.route)
    stops = _stops(materials, take_restricted)
    away_nm = _distances_nm(stops)
    legs = _Legs(stops, materials, altitude_ft, take_restricted)
    chain = _shortest(legs, away_nm)
    if chain:
        route = replace(materials.route, points=tuple(_as_point(stops[index]) for index in chain[1:-1]))
        names = " - ".join(stops[index].name for index in chain)
        length_nm = sum(away_nm[start, end] for start, end in pairwise(chain))
        text = f"{names}: {length_nm:.1f} NM, {away_nm[0, legs.goal]:.1f} direct. {_as_flown(replace(materials, route=route))}"
        text += _restricted_in(stops[index] for index in chain)
        return ChainResult(found=True, route=route, explanation=text, legs_checked=len(legs.judged))
    higher_ft, checked = _higher(stops, away_nm, materials, altitude_ft, take_restricted)
    return ChainResult(
        found=False,
        route=materials.route,
        explanation=_why_none(legs, away_nm, higher_ft, materials) + _restricted_left_out(materials, stops, take_restricted),
        restricted_left_out=bool(_restricted_left_out(materials, stops, take_restricted)),
        legs_checked=len(legs.judged) + checked,
        higher_altitude_ft=higher_ft,
    )


def _as_flown(materials: Materials) -> str:
    """What the chain comes to when it is flown, climb and descent included."""
    log = plan(materials, checks=False).log
    altitude_ft = planned_altitude_ft(materials.route)
    highest_ft = max(point.altitude_ft for point in log.profile)
    without_nm = sum(to_nm - from_nm for leg in log.legs for from_nm, to_nm in gaps(leg.stretches))
    parts = [f"{'Every leg is received' if without_nm == 0.0 else 'Once level, the legs are received'} at {altitude_ft:,.0f} ft."]
    if highest_ft < altitude_ft - 1.0:
        parts = [f"The way is too short to reach {altitude_ft:,.0f} ft: it is flown up to {highest_ft:,.0f} ft."]
    if without_nm > 0.0:
        parts.append(f"In climb and descent {without_nm:.1f} NM are flown without guidance: the log says where.")
    if materials.aircraft is None:
        parts.append("Climb and descent are not looked at: no aircraft is chosen.")
    return " ".join(parts)


def _as_point(stop: Stop) -> RoutePoint:
    assert stop.beacon is not None, "between its ends a chain holds beacons only"
    return RoutePoint(kind=PointKind.BEACON, place_id=stop.beacon.id)


def _restricted_in(stops: Iterable[Stop]) -> str:
    """Name the stations of a chain whose restrictions nobody has entered."""
    named = [stop.name for stop in stops if stop.beacon is not None and _is_restricted(stop.beacon)]
    if not named:
        return ""
    return (
        f" Published as restricted, with the unusable sectors not entered: {', '.join(named)}. On them the legs are marginal at best: "
        "read the restrictions in current publications first."
    )


def _is_restricted(beacon: Beacon) -> bool:
    part = beacon.component(ComponentKind.AZIMUTH)
    return part is not None and restrictions_not_read(part)


def _restricted_left_out(materials: Materials, stops: tuple[Stop, ...], take_restricted: bool) -> str:
    """Say how many stations were left out because they are restricted."""
    if take_restricted:
        return ""
    near = sum(_is_restricted(beacon) for beacon in _on_the_way(materials, stops[0], stops[-1]) if beacon.guides_vor_receiver)
    if not near:
        return ""
    stations, are = ("station", "is") if near == 1 else ("stations", "are")
    return (
        f" {near} {stations} near the way {are} published as restricted, with the unusable sectors not entered, and {are} left out. "
        "The search can take restricted stations too; it then names them."
    )


def _stops(materials: Materials, take_restricted: bool) -> tuple[Stop, ...]:
    """Departure first, destination last, between them every beacon that a VOR receiver can use that day."""
    ends = resolve_points(replace(materials, route=replace(materials.route, points=())))
    first, last = (stop_at(point, on_ground=True) for point in ends)
    beacons = (
        Stop(position=beacon.position, name=beacon.ident, elevation_ft=beacon.elevation_ft, beacon=beacon)
        for beacon in _on_the_way(materials, first, last)
        if guiding_component(beacon) is ComponentKind.AZIMUTH and not _against(beacon, materials, take_restricted)
    )
    return (first, *beacons, last)


def _against(beacon: Beacon, materials: Materials, take_restricted: bool) -> list[Finding]:
    found = status_findings(beacon=beacon, kind=ComponentKind.AZIMUTH, on=materials.on)
    return [finding for finding in found if not (take_restricted and finding.cause is Cause.RESTRICTED)]


def _on_the_way(materials: Materials, first: Stop, last: Stop) -> list[Beacon]:
    """The beacons that do not lie too far off the way from departure to destination."""
    longest_nm = DETOUR_FACTOR * distance_nm(first.position, last.position) + DETOUR_NM
    return [
        beacon
        for beacon in materials.beacons.values()
        if distance_nm(first.position, beacon.position) + distance_nm(beacon.position, last.position) <= longest_nm
    ]


def _distances_nm(stops: tuple[Stop, ...]) -> np.ndarray:
    """How far every stop is from every other. (n, n) [NM]"""
    lat_deg = np.array([stop.position.lat_deg for stop in stops])
    lon_deg = np.array([stop.position.lon_deg for stop in stops])
    return np.array([bearings_and_distances(stop.position, lat_deg, lon_deg)[1] for stop in stops])


Leg = tuple[int, int]
"""Numbers of two stops, the smaller first: at one altitude a leg between beacons is the same both ways."""


class _Legs:
    """What the legs between the stops come to at one altitude, each judged when it is first asked for."""

    def __init__(self, stops: tuple[Stop, ...], materials: Materials, altitude_ft: float, take_restricted: bool):
        self.stops, self.altitude_ft, self.take_restricted = stops, altitude_ft, take_restricted
        self.judged: dict[Leg, Verdict] = {}
        self._materials = replace(materials, route=replace(materials.route, altitude_ft=altitude_ft))

    @property
    def goal(self) -> int:
        return len(self.stops) - 1

    def received(self, start: int, end: int) -> bool:
        leg = (min(start, end), max(start, end))
        if leg not in self.judged:
            first, second = (self.stops[index] for index in leg)
            self.judged[leg] = judge_leg(
                first, second, altitude_ft=self.altitude_ft, materials=self._materials, take_restricted=self.take_restricted
            )
        return self.judged[leg].state is ReceptionState.RECEIVED


def _shortest(legs: _Legs, away_nm: np.ndarray) -> tuple[int, ...]:
    """A* over the stops, the straight distance to the destination as the bound: the stops of the chain, none where there is no chain.

    A leg is judged when its end is taken from the queue.
    """
    goal = legs.goal
    queue: list[tuple[float, float, tuple[int, ...]]] = [(away_nm[0, goal], 0.0, (0,))]
    settled: set[int] = set()
    while queue:
        _, flown_nm, chain = heapq.heappop(queue)
        here = chain[-1]
        if here in settled or (len(chain) > 1 and not legs.received(chain[-2], here)):
            continue
        settled.add(here)
        if here == goal:
            return chain
        for there in np.flatnonzero(away_nm[here] <= LONGEST_LEG_NM).tolist():
            if there not in settled and (here, there) != (0, goal):  # a leg between two airfields has no beacon
                total_nm = flown_nm + away_nm[here, there]
                heapq.heappush(queue, (total_nm + away_nm[there, goal], total_nm, (*chain, there)))
    return ()


def _higher(
    stops: tuple[Stop, ...], away_nm: np.ndarray, materials: Materials, altitude_ft: float, take_restricted: bool
) -> tuple[float | None, int]:
    """The lowest of the higher altitudes at which there is a chain, None when there is none at any; and how many legs were judged."""
    checked = 0
    for higher_ft in np.arange(altitude_ft + STEP_FT, HIGHEST_TRIED_FT + 1.0, STEP_FT).tolist():
        legs = _Legs(stops, materials, higher_ft, take_restricted)
        found = _shortest(legs, away_nm)
        checked += len(legs.judged)
        if found:
            return higher_ft, checked
    return None, checked


def _why_none(legs: _Legs, away_nm: np.ndarray, higher_ft: float | None, materials: Materials) -> str:
    """Say what would help, and what stops the chain."""
    stops, goal, beacons = legs.stops, legs.goal, range(1, legs.goal)
    by_hand = _ndbs(materials, stops[0], stops[goal])
    if not beacons:
        parts = ["There is no chain: no beacon near the way has an azimuth that is on the air and that a VOR receiver can use."]
        return " ".join((*parts, *by_hand))
    parts = [f"There is no chain at {legs.altitude_ft:,.0f} ft whose every leg is received."]
    if higher_ft is not None:
        parts.append(f"At {higher_ft:,.0f} ft there is one.")
    else:
        parts.append(f"Up to {HIGHEST_TRIED_FT:,.0f} ft there is none: choose the beacons by hand, or fly part of the way by eye.")
    if not materials.region.ground_fingerprint:
        parts.append("No terrain is loaded for this region, so nothing is called received: load its terrain.")
    if not any(legs.received(0, beacon) for beacon in beacons):
        parts.append(f"No beacon is received from {stops[0].name} after the climb.")
        failed = [(0, beacon) for beacon in beacons]
    elif not any(legs.received(beacon, goal) for beacon in beacons):
        parts.append(f"No beacon is received on the way into {stops[goal].name}.")
        failed = [(beacon, goal) for beacon in beacons]
    else:
        parts.append("The chain breaks between the beacons.")
        failed = [leg for leg in legs.judged if not legs.received(*leg)]
    start, end = min(failed, key=lambda leg: away_nm[leg])
    verdict = legs.judged[start, end]
    cure_ft = verdict.curing_altitude_ft
    cure = f"; from {math.ceil(cure_ft / 100.0) * 100:,} ft up no terrain would hide it" if cure_ft is not None else ""
    parts.append(f"Nearest: {stops[start].name} to {stops[end].name}, {verdict.reason}{cure}.")
    return " ".join((*parts, *by_hand))


def _ndbs(materials: Materials, first: Stop, last: Stop) -> list[str]:
    """Chains are made of VORs; name the NDBs a pilot might choose by hand."""
    near = [beacon.ident for beacon in _on_the_way(materials, first, last) if guiding_component(beacon) is ComponentKind.BEARING]
    return [f"The search uses VORs only; NDBs to choose by hand: {', '.join(near)}."] if near else []
