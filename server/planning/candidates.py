"""The list a pilot picks the next beacon from: how far, which way, and whether the leg would be received."""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import InputProblem
from server.navigation import distance_nm, magnetic_from_true_deg, position_along, track
from server.persistence import Library
from server.planning.guidance import guiding_component
from server.planning.log import LogPoint
from server.planning.materials import Clock, Materials, gather, utc_now
from server.planning.plan import planned_altitude_ft
from server.planning.points import resolve_points
from server.planning.reach import Stop, judge_leg, stop_at
from server.radio import Beacon, ReceptionState, severity
from server.terrain import TerrainStore

WITHIN_NM = 140.0
"""A beacon farther away than this is not listed: the greatest published range is 130 NM."""
MOST_CANDIDATES = 60


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """One beacon that could come next. ``verdict`` is the reception state of the leg to it, ``reason`` why."""

    beacon: Beacon
    distance_nm: float
    track_true_deg: float | None
    track_magnetic_deg: float | None
    verdict: str
    reason: str
    curing_altitude_ft: float | None
    distance_to_destination_nm: float


def leg_candidates(
    library: Library, terrain_store: TerrainStore, route_id: int, *, after: int, clock: Clock = utc_now
) -> tuple[Candidate, ...]:
    """List the beacons that could follow point ``after`` of the route (0 is the departure), best first.

    Received comes before marginal, unknown and not received, and among equals the one that leaves the shortest way to the destination.
    """
    materials = gather(library, terrain_store, route_id, clock=clock)
    points = resolve_points(materials)
    if not 0 <= after < len(points) - 1:
        raise InputProblem(
            f"The route has no point {after} to go on from: its points before the destination are 0 to {len(points) - 2}.",
            code="no-such-point",
            place="after",
        )
    here, goal = points[after], points[-1]
    near = [
        beacon
        for beacon in materials.beacons.values()
        if guiding_component(beacon) is not None
        and (here.beacon is None or beacon.id != here.beacon.id)
        and distance_nm(here.position, beacon.position) <= WITHIN_NM
    ]
    near.sort(key=lambda beacon: distance_nm(here.position, beacon.position) + distance_nm(beacon.position, goal.position))
    found = [_candidate(stop_at(here, on_ground=after == 0), beacon, goal, materials) for beacon in near[:MOST_CANDIDATES]]
    return tuple(sorted(found, key=lambda each: severity(ReceptionState(each.verdict))))  # sorting keeps the order of equals


def _candidate(here: Stop, beacon: Beacon, goal: LogPoint, materials: Materials) -> Candidate:
    there = Stop(position=beacon.position, name=beacon.name, elevation_ft=beacon.elevation_ft, beacon=beacon)
    leg = track(here.position, beacon.position)
    middle = position_along(here.position, beacon.position, leg.distance_nm / 2.0)
    verdict = judge_leg(here, there, altitude_ft=planned_altitude_ft(materials.route), materials=materials)
    direction = leg.middle_true_deg
    return Candidate(
        beacon=beacon,
        distance_nm=leg.distance_nm,
        track_true_deg=direction,
        track_magnetic_deg=magnetic_from_true_deg(direction, materials.variation_at(middle).deg) if direction is not None else None,
        verdict=verdict.state.value,
        reason=verdict.reason,
        curing_altitude_ft=verdict.curing_altitude_ft,
        distance_to_destination_nm=distance_nm(beacon.position, goal.position),
    )
