"""Would a leg be flown on its beacons? One answer for the picker's list and for the builder of whole chains.

A leg between two beacons must be received, by one or the other, all along at the planned altitude. The leg from the departure must be
received from the end of the climb on, but at the latest from half way; the leg to the destination up to the start of the descent, but at
least to half way: near the ground a valley hides every beacon, and the log says so under its legs.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation import Position, distance_nm
from server.planning.guidance import guiding_component
from server.planning.legs import survey
from server.planning.materials import Materials
from server.planning.profile import vertical_profile
from server.radio import (
    Beacon,
    Cause,
    LegPath,
    ReceptionState,
    Stretch,
    best_of,
    greatest_range_nm,
    severity,
    smallest_class,
    state_apart_from_cone,
)

LONGEST_LEG_NM = 260.0
"""Two stations of the greatest published range, 130 NM, reach across no more (AIM 5-1-8 gives the same spacing for H aids)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Stop:
    """A place a leg starts or ends at: an airfield, a fix, or a beacon."""

    position: Position
    name: str
    elevation_ft: float | None = None
    beacon: Beacon | None = None
    is_airfield: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """What a leg comes to: its worst state where it counts, why, and the altitude that would cure it where terrain is the cause."""

    state: ReceptionState
    reason: str
    curing_altitude_ft: float | None = None


def judge_leg(start: Stop, end: Stop, *, altitude_ft: float, cruise_tas_kt: float | None, materials: Materials) -> Verdict:
    """Judge the leg start -> end at the planned altitude, climb and descent included where it touches an airfield."""
    length_nm = distance_nm(start.position, end.position)
    guides = [stop.beacon for stop in (start, end) if stop.beacon is not None and guiding_component(stop.beacon) is not None]
    if not guides:
        return Verdict(state=ReceptionState.NOT_RECEIVED, reason="no beacon at either end guides a VOR or NDB receiver")
    if length_nm > LONGEST_LEG_NM:
        return Verdict(state=ReceptionState.NOT_RECEIVED, reason=f"{length_nm:.0f} NM is beyond any published range")
    profile = vertical_profile(
        total_nm=length_nm,
        altitude_ft=altitude_ft,
        departure_elevation_ft=start.elevation_ft if start.is_airfield else None,
        destination_elevation_ft=end.elevation_ft if end.is_airfield else None,
        aircraft=materials.aircraft,
        cruise_tas_kt=cruise_tas_kt,
        isa_deviation_c=materials.route.isa_deviation_c,
    )
    vertices = tuple((point.distance_nm, point.altitude_ft) for point in profile.points)
    path = LegPath(start=start.position, end=end.position, distance_nm=length_nm, profile=vertices)
    counts_from_nm = min(profile.climb_nm, length_nm / 2.0) if start.is_airfield else 0.0
    counts_to_nm = length_nm - min(profile.descent_nm, length_nm / 2.0) if end.is_airfield else length_nm
    if sum(greatest_reach_nm(beacon) for beacon in guides) < counts_to_nm - counts_from_nm:
        return Verdict(state=ReceptionState.NOT_RECEIVED, reason="longer than the published ranges reach")
    surveys = [survey(beacon, guiding_component(beacon), path, materials) for beacon in guides]
    stretches = [
        stretch
        for stretch in best_of(*(each.stretches for each in surveys))
        if stretch.to_nm > counts_from_nm + 1e-6 and stretch.from_nm < counts_to_nm - 1e-6
    ]
    return _verdict(stretches)


def greatest_reach_nm(beacon: Beacon) -> float:
    """The greatest range anything published gives this beacon's guiding part; the smallest plausible class where none is. [NM]"""
    kind = guiding_component(beacon)
    part = beacon.component(kind) if kind is not None else None
    if part is None or kind is None:
        return 0.0
    if part.coverage:
        return max(sector.range_nm for sector in part.coverage)
    return greatest_range_nm(part.service_class or smallest_class(kind))


def _verdict(stretches: list[Stretch]) -> Verdict:
    worst = max(stretches, key=lambda stretch: (severity(state_apart_from_cone(stretch)), stretch.length_nm))
    state = state_apart_from_cone(worst)
    if state is ReceptionState.RECEIVED:
        return Verdict(state=state, reason="received all along")
    findings = [finding for finding in worst.findings if finding.state is state and finding.cause is not Cause.OVERHEAD_CONE]
    cures = [
        finding.lowest_altitude_ft for finding in findings if finding.cause is Cause.TERRAIN and finding.lowest_altitude_ft is not None
    ]
    part = f"from {worst.from_nm:.1f} to {worst.to_nm:.1f} NM"
    causes = ", ".join(dict.fromkeys(REASONS[finding.cause] for finding in findings))
    return Verdict(state=state, reason=f"{state.value} {part}: {causes}", curing_altitude_ft=min(cures) if cures else None)


REASONS = {
    Cause.TERRAIN: "hidden by terrain",
    Cause.TERRAIN_UNKNOWN: "terrain not known",
    Cause.OUTSIDE_VOLUME: "outside the published range",
    Cause.BELOW_VOLUME: "less than 1,000 ft above the station",
    Cause.CLASS_UNKNOWN: "service class not known",
    Cause.UNUSABLE_SECTOR: "unusable sector",
    Cause.OUTAGE: "notified out of service on that day",
    Cause.OUT_OF_SERVICE: "out of service",
    Cause.WITHDRAWN: "withdrawn",
    Cause.STATUS_UNKNOWN: "not confirmed on the air",
    Cause.OVERHEAD_CONE: "overhead",
    Cause.NO_SUCH_COMPONENT: "no part that guides",
    Cause.NOT_FOR_VOR_RECEIVER: "no azimuth for a VOR receiver",
    Cause.ELEVATION_ESTIMATED: "station elevation estimated",
    Cause.ANTENNA_ASSUMED: "antenna height assumed",
}
