"""Would a leg be flown on its beacons? One answer for the picker's list and for the builder of whole chains.

A leg between two beacons must be received, by one or the other, all along at the planned altitude. The leg from the departure must be
received from the end of the climb on, but at the latest from half way; the leg to the destination up to the start of the descent, but at
least to half way: near the ground a valley hides every beacon, and the log says so under its legs. Where it still climbs, or descends
already, less than 1,000 ft above the station is enough: nothing better is published there. No leg may be longer than the published
ranges reach, climb and descent included: height does not bring a station nearer.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from server.navigation import Position, distance_nm
from server.planning.flown import Flying, Line
from server.planning.guidance import guiding_component
from server.planning.leg_radio import survey
from server.planning.log import LogPoint
from server.planning.materials import Materials
from server.planning.profile import part_of_profile, vertical_profile
from server.planning.slopes import performance_of
from server.planning.true_height import true_heights
from server.radio import (
    Beacon,
    Cause,
    ComponentKind,
    Finding,
    LegPath,
    ReceptionState,
    Stretch,
    best_of,
    published_reach_nm,
    severity,
    state_apart_from_cone,
    status_findings,
    worst_state,
)

LONGEST_LEG_NM = 260.0
"""Two stations of the greatest published range, 130 NM, reach across no more (AIM 5-1-8 gives the same spacing for H aids)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Stop:
    """A place a leg starts or ends at: an airfield, a fix, or a beacon. ``on_ground`` where the flight itself starts or ends."""

    position: Position
    name: str
    elevation_ft: float | None = None
    beacon: Beacon | None = None
    on_ground: bool = False


def stop_at(point: LogPoint, *, on_ground: bool) -> Stop:
    """A point of a route as an end of a leg to judge."""
    return Stop(position=point.position, name=point.name, elevation_ft=point.elevation_ft, beacon=point.beacon, on_ground=on_ground)


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """What a leg comes to: its worst state where it counts, why, and the altitude from which no terrain would hide it, where that is all
    that is wrong."""

    state: ReceptionState
    reason: str
    curing_altitude_ft: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Judged:
    """The part of a leg that counts, the part of it that is flown level [NM], and its path."""

    path: LegPath
    from_nm: float
    to_nm: float
    level_from_nm: float
    level_to_nm: float
    take_restricted: bool

    def good(self, stretch: Stretch) -> bool:
        """Whether the stretch is received, or, in climb and descent, only not yet 1,000 ft above the station; or, where that is taken,
        only published as restricted."""
        state = state_apart_from_cone(stretch)
        if state is not ReceptionState.MARGINAL:
            return state is ReceptionState.RECEIVED
        level = stretch.to_nm > self.level_from_nm + _EDGE_NM and stretch.from_nm < self.level_to_nm - _EDGE_NM
        enough = {Cause.RESTRICTED} if self.take_restricted else set()
        enough |= set() if level else {Cause.BELOW_VOLUME}
        return all(finding.cause in enough for finding in stretch.findings if finding.state is state)

    def counts(self, stretch: Stretch) -> bool:
        """Whether a stretch reaches into the part; a leg of no length counts as it is."""
        if self.path.distance_nm <= _EDGE_NM:
            return True
        return stretch.to_nm > self.from_nm + _EDGE_NM and stretch.from_nm < self.to_nm - _EDGE_NM


_EDGE_NM = 1e-6


def judge_leg(start: Stop, end: Stop, *, altitude_ft: float, materials: Materials, take_restricted: bool = False) -> Verdict:
    """Judge the leg start -> end at the planned altitude, climb and descent included where it touches the ground.

    ``take_restricted``: a station whose restrictions nobody has entered is good enough where nothing else is against it. A beacon at its
    end must be on the air itself, however well the one at its start is heard all along.
    """
    guides = [
        (stop.beacon, part) for stop in (start, end) if stop.beacon is not None and (part := guiding_component(stop.beacon)) is not None
    ]
    if not guides:
        return Verdict(state=ReceptionState.NOT_RECEIVED, reason="no beacon at either end guides a VOR or NDB receiver")
    if end.beacon is not None:
        against = against_using(end.beacon, materials.on)
        if against is not None:
            return against
    judged = _part_that_counts(start, end, altitude_ft=altitude_ft, materials=materials, take_restricted=take_restricted)
    if judged.path.distance_nm > LONGEST_LEG_NM:
        return Verdict(state=ReceptionState.NOT_PROMISED, reason=f"{judged.path.distance_nm:.0f} NM is beyond any published range")
    if sum(greatest_reach_nm(beacon, part) for beacon, part in guides) < judged.path.distance_nm:
        if not all(_publishes_reach(beacon, part) for beacon, part in guides):
            return Verdict(state=ReceptionState.UNKNOWN, reason=REASONS[Cause.CLASS_UNKNOWN])
        return Verdict(state=ReceptionState.NOT_PROMISED, reason="longer than the published ranges reach")
    return _verdict(judged, [survey(beacon, part, judged.path, materials).stretches for beacon, part in guides])


def against_using(beacon: Beacon, on: date) -> Verdict | None:
    """What a beacon's own records say against being guided by it on a day, whatever the place; None where nothing does."""
    part = guiding_component(beacon)
    if part is None:
        return Verdict(state=ReceptionState.NOT_RECEIVED, reason=REASONS[Cause.NO_SUCH_COMPONENT])
    findings = status_findings(beacon=beacon, kind=part, on=on)
    state = worst_state(findings)
    if state is not ReceptionState.NOT_RECEIVED:  # what is merely not confirmed is told by the survey
        return None
    return Verdict(state=state, reason=f"{beacon.ident}: {_causes(findings, state)}")


def greatest_reach_nm(beacon: Beacon, kind: ComponentKind) -> float:
    """The greatest range anything published gives one part of a beacon; the smallest plausible class where none is. [NM]"""
    part = beacon.component(kind)
    return published_reach_nm(part) if part is not None else 0.0


def _publishes_reach(beacon: Beacon, kind: ComponentKind) -> bool:
    part = beacon.component(kind)
    return part is None or bool(part.coverage) or part.service_class is not None


def _part_that_counts(start: Stop, end: Stop, *, altitude_ft: float, materials: Materials, take_restricted: bool) -> _Judged:
    """Fly the leg by itself in still air."""
    length_nm = distance_nm(start.position, end.position)
    performance = performance_of(materials)
    profile = vertical_profile(
        [Line(number=1, length_nm=length_nm, track_true_deg=None, variation_deg=0.0, altitude_ft=altitude_ft)],
        departure_elevation_ft=start.elevation_ft if start.on_ground else None,
        destination_elevation_ft=end.elevation_ft if end.on_ground else None,
        flying=Flying(performance=performance, wind_on=lambda line, altitude_ft: None) if performance is not None else None,
    )
    points = true_heights(materials).profile(profile.points)
    path = LegPath(start=start.position, end=end.position, distance_nm=length_nm, profile=part_of_profile(points, 0.0, length_nm))
    half_nm = length_nm / 2.0
    from_nm = min(profile.climb_nm, half_nm) if start.on_ground else 0.0
    to_nm = length_nm - min(profile.descent_nm, half_nm) if end.on_ground else length_nm
    level_to_nm = length_nm - profile.descent_nm
    return _Judged(
        path=path,
        from_nm=from_nm,
        to_nm=to_nm,
        level_from_nm=profile.climb_nm,
        level_to_nm=level_to_nm,
        take_restricted=take_restricted,
    )


def _verdict(judged: _Judged, surveys: list[tuple[Stretch, ...]]) -> Verdict:
    best = best_of(*surveys)
    failing = [stretch for stretch in best if judged.counts(stretch) and not judged.good(stretch)]
    if not failing:
        silent_nm = sum(stretch.length_nm for stretch in best if not judged.good(stretch))
        reason = f"received once level; {silent_nm:.1f} NM of climb or descent are not" if silent_nm > _EDGE_NM else "received all along"
        return Verdict(state=ReceptionState.RECEIVED, reason=reason)
    worst = max(failing, key=lambda stretch: (severity(state_apart_from_cone(stretch)), stretch.length_nm))
    state = state_apart_from_cone(worst)
    return Verdict(
        state=state,
        reason=f"{state.value} from {worst.from_nm:.1f} to {worst.to_nm:.1f} NM: {_causes(worst.findings, state)}",
        curing_altitude_ft=_curing_altitude_ft(failing, surveys),
    )


def _causes(findings: tuple[Finding, ...], state: ReceptionState) -> str:
    causes = [finding.cause for finding in findings if finding.state is state and finding.cause is not Cause.OVERHEAD_CONE]
    return ", ".join(dict.fromkeys(REASONS[cause] for cause in causes))


def _curing_altitude_ft(failing: list[Stretch], surveys: list[tuple[Stretch, ...]]) -> float | None:
    """The altitude from which one of the beacons would be in sight on every failing stretch, if only terrain is in the way there. [ft]"""
    needed_ft = []
    for stretch in failing:
        cures_ft = [cure_ft for stretches in surveys if (cure_ft := _cure_on(stretch, stretches)) is not None]
        if not cures_ft:
            return None
        needed_ft.append(min(cures_ft))
    return max(needed_ft)


def _cure_on(part: Stretch, stretches: tuple[Stretch, ...]) -> float | None:
    """The altitude that cures one beacon over a part of the leg; None where no height does, or more than terrain is in the way."""
    needed_ft = 0.0
    for stretch in stretches:
        if stretch.to_nm <= part.from_nm or stretch.from_nm >= part.to_nm:
            continue
        for finding in stretch.findings:
            if finding.state is ReceptionState.RECEIVED or finding.cause is Cause.OVERHEAD_CONE:
                continue
            if finding.cause is not Cause.TERRAIN or finding.lowest_altitude_ft is None:
                return None
            needed_ft = max(needed_ft, finding.lowest_altitude_ft)
    return needed_ft


REASONS = {
    Cause.TERRAIN: "hidden by terrain",
    Cause.WEAK_FIELD: "field predicted too weak",
    Cause.TERRAIN_UNKNOWN: "terrain not known",
    Cause.OUTSIDE_VOLUME: "outside the published range",
    Cause.BELOW_VOLUME: "less than 1,000 ft above the station",
    Cause.CLASS_UNKNOWN: "service class not known",
    Cause.UNUSABLE_SECTOR: "unusable sector",
    Cause.OUTAGE: "notified out of service on that day",
    Cause.OUT_OF_SERVICE: "out of service",
    Cause.WITHDRAWN: "withdrawn",
    Cause.STATUS_UNKNOWN: "not confirmed on the air",
    Cause.RESTRICTED: "restricted, and its unusable sectors are not entered",
    Cause.NIGHT: "an NDB by night, more than 30 NM away",
    Cause.OVERHEAD_CONE: "overhead",
    Cause.NO_SUCH_COMPONENT: "no part that guides",
    Cause.NOT_FOR_VOR_RECEIVER: "no azimuth for a VOR receiver",
    Cause.ELEVATION_ESTIMATED: "station elevation estimated",
    Cause.ANTENNA_ASSUMED: "antenna height assumed",
}
