"""Which beacons guide a leg, what to set for each, and where each is heard."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby

from server.errors import OutOfRange
from server.navigation import difference_deg, distance_nm, inverse, radial_from, reciprocal_deg, track
from server.planning.log_legs import BeaconReception, Guidance, LogPoint, Sense
from server.planning.materials import Materials
from server.radio import (
    Beacon,
    Cause,
    ComponentKind,
    LegSurvey,
    ReceptionState,
    Stretch,
    changes_of,
    first_heard_nm,
    lost_nm,
    state_apart_from_cone,
)

SAME_RADIAL_DEG = 1.0  # both ends of a leg this close to one radial are flown on it; a VOR's own alignment is good to about 1 deg


@dataclass(frozen=True, kw_only=True, slots=True)
class Guide:
    """A beacon that can guide a leg, by which part, seen from which side."""

    beacon: Beacon
    component: ComponentKind
    sense: Sense


def guiding_component(beacon: Beacon) -> ComponentKind | None:
    """The part a light aircraft is guided by: a VOR's azimuth, an NDB's bearing; None for a TACAN or a DME alone."""
    if beacon.guides_vor_receiver:
        return ComponentKind.AZIMUTH
    if beacon.component(ComponentKind.BEARING) is not None:
        return ComponentKind.BEARING
    return None


def guides_of_leg(points: tuple[LogPoint, ...], leg_index: int) -> tuple[Guide, ...]:
    """Find the beacons of the route that guide a leg: at most one to fly from and one to fly to, in that order.

    The nearest beacon behind the leg and the nearest ahead are asked; each guides only where the leg lies on one of its radials. Whether
    it is flown from or to, the ground tells and not the order of the route: a leg back towards the beacon behind is flown TO it.
    """
    start, end = points[leg_index], points[leg_index + 1]
    if track(start.position, end.position).middle_true_deg is None:  # a leg of no length lies on every radial and on none
        return ()
    guides: dict[Sense, Guide] = {}
    for beacon, component in (*_nearest(reversed(points[: leg_index + 1])), *_nearest(points[leg_index + 1 :])):
        sense = _sense_along(beacon, start, end)
        if sense is not None:
            guides.setdefault(sense, Guide(beacon=beacon, component=component, sense=sense))
    return tuple(guides[sense] for sense in (Sense.FROM, Sense.TO) if sense in guides)


def _nearest(points: Iterable[LogPoint]) -> tuple[tuple[Beacon, ComponentKind], ...]:
    """The first of the points that is a beacon which guides, and by which part; none or one."""
    for point in points:
        component = guiding_component(point.beacon) if point.beacon is not None else None
        if point.beacon is not None and component is not None:
            return ((point.beacon, component),)
    return ()


def _sense_along(beacon: Beacon, start: LogPoint, end: LogPoint) -> Sense | None:
    """Whether a leg runs from a station or to it along one of its radials; None where it lies on none."""
    to_start, to_end = inverse(beacon.position, start.position), inverse(beacon.position, end.position)
    directions = (to_start.initial_true_deg, to_end.initial_true_deg)
    if None not in directions and abs(difference_deg(*directions)) > SAME_RADIAL_DEG:  # None: the station stands on that end
        return None
    return Sense.FROM if to_end.distance_m > to_start.distance_m else Sense.TO


def guidance_of(guide: Guide, start: LogPoint, end: LogPoint, *, track_magnetic_deg: float | None, materials: Materials) -> Guidance:
    """What to set on the OBS for this beacon along start -> end, over the whole leg (the changeover cuts it later).

    Outbound the radial is the bearing from the station to the leg's end; inbound to its start, and the selected course is its reciprocal.
    Each is taken against the station's own alignment, never the magnetic model, unless the alignment is unknown. An NDB has no radials:
    what is told is the magnetic bearing to it along the leg.
    """
    outbound = guide.sense is Sense.FROM
    guidance = Guidance(
        beacon=guide.beacon,
        component=guide.component,
        sense=guide.sense,
        selected_course_deg=None,
        radial_deg=None,
        reference="M",
        estimated=False,
        bearing_magnetic_deg=None,
        from_nm=0.0,
        to_nm=distance_nm(start.position, end.position),
    )
    if guide.component is ComponentKind.BEARING:
        if track_magnetic_deg is None:
            return guidance
        return replace(guidance, bearing_magnetic_deg=reciprocal_deg(track_magnetic_deg) if outbound else track_magnetic_deg)
    beacon, far_end = guide.beacon, end if outbound else start
    estimated_deg = materials.estimated_declination_deg(beacon)
    try:
        radial = radial_from(beacon.position, beacon.alignment, far_end.position, estimated_declination_deg=estimated_deg)
    except OutOfRange:  # a grid station without its grid angle: no radial, and a note says so
        return replace(guidance, reference="G", estimated=True)
    if radial is None:
        return guidance
    return replace(
        guidance,
        radial_deg=radial.value_deg,
        selected_course_deg=radial.value_deg if outbound else reciprocal_deg(radial.value_deg),
        reference=radial.reference,
        estimated=radial.estimated,
    )


def dependable(stretch: Stretch) -> bool:
    """Whether a pilot may count on the beacon here: received or marginal, or just passing overhead."""
    return state_apart_from_cone(stretch) in (ReceptionState.RECEIVED, ReceptionState.MARGINAL)


OFF_THE_AIR = (Cause.OUTAGE, Cause.OUT_OF_SERVICE, Cause.WITHDRAWN, Cause.NOT_FOR_VOR_RECEIVER, Cause.NO_SUCH_COMPONENT)


def off_the_air(stretches: tuple[Stretch, ...]) -> bool:
    """Whether the beacon's own records rule it out for the whole leg: then there is nothing to tune, to set or to change over to."""
    return bool(stretches) and all(any(stretch.has(cause) for cause in OFF_THE_AIR) for stretch in stretches)


GAP_NM = 0.5
"""A shorter gap is flown in a few seconds and is not worth a line of the log."""


def gaps(stretches: tuple[Stretch, ...]) -> tuple[tuple[float, float], ...]:
    """The parts of a leg, half a mile or longer, where the beacon or beacons of the stretches are not dependable. [NM from its start]"""
    found = []
    for heard, group in groupby(stretches, key=dependable):
        part = list(group)
        if not heard and part[-1].to_nm - part[0].from_nm >= GAP_NM:
            found.append((part[0].from_nm, part[-1].to_nm))
    return tuple(found)


def heard_after_nm(stretches: tuple[Stretch, ...], at_nm: float) -> float | None:
    """Where a beacon serves from a place on: there, or where it comes in next; None when it does not any more. [NM]"""
    return next((max(at_nm, each.from_nm) for each in stretches if each.to_nm > at_nm and dependable(each)), None)


def reception_of(survey: LegSurvey) -> BeaconReception:
    """Sum up one part of one beacon for the log."""
    return BeaconReception(
        beacon=survey.beacon,
        component=survey.component,
        stretches=survey.stretches,
        first_heard_nm=first_heard_nm(survey.stretches),
        lost_nm=lost_nm(survey.stretches),
        lowest_altitude_whole_leg_ft=survey.lowest_altitude_whole_leg_ft,
        changes=changes_of(survey.stretches),
        received_from_ft=survey.received_from.altitude_ft,
        incurable=survey.received_from.incurable,
    )
