"""Which beacons guide a leg, what to set for each, and where to change from one to the other."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from server.errors import OutOfRange
from server.navigation import declination_used, difference_deg, distance_nm, fold_deg, inverse, magnetic_from_true_deg, reciprocal_deg
from server.planning.log import BeaconReception, Guidance, LogPoint, Sense
from server.planning.materials import Materials
from server.radio import (
    Beacon,
    ComponentKind,
    ReceptionState,
    Stretch,
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
    """The nearest beacon of the route behind the leg and the nearest ahead on whose radial the leg lies, in that order."""
    start, end = points[leg_index], points[leg_index + 1]
    guides = []
    for candidates, sense in ((reversed(points[: leg_index + 1]), Sense.FROM), (points[leg_index + 1 :], Sense.TO)):
        for point in candidates:
            component = guiding_component(point.beacon) if point.beacon is not None else None
            if component is not None:
                if _on_one_radial(point, start, end):
                    guides.append(Guide(beacon=point.beacon, component=component, sense=sense))
                break
    return tuple(guides)


def _on_one_radial(station: LogPoint, start: LogPoint, end: LogPoint) -> bool:
    to_start = inverse(station.position, start.position).initial_true_deg
    to_end = inverse(station.position, end.position).initial_true_deg
    if to_start is None or to_end is None:
        return True
    return abs(difference_deg(to_start, to_end)) <= SAME_RADIAL_DEG


def guidance_of(guide: Guide, start: LogPoint, end: LogPoint, *, track_magnetic_deg: float | None, materials: Materials) -> Guidance:
    """What to set on the OBS for this beacon along start -> end, over the whole leg (the changeover cuts it later).

    Outbound the radial is the bearing from the station to the leg's end; inbound to its start, and the selected course is its reciprocal.
    Each is taken against the station's own alignment, never the magnetic model, unless the alignment is unknown.
    """
    far_end = end if guide.sense is Sense.FROM else start
    bearing_true_deg = inverse(guide.beacon.position, far_end.position).initial_true_deg
    radial_deg = selected_course_deg = bearing_magnetic_deg = None
    reference, estimated = "M", False
    if guide.component is ComponentKind.BEARING and track_magnetic_deg is not None:
        bearing_magnetic_deg = fold_deg(track_magnetic_deg) if guide.sense is Sense.TO else reciprocal_deg(track_magnetic_deg)
    elif bearing_true_deg is not None:
        try:
            used = declination_used(guide.beacon.alignment, materials.estimated_declination_deg(guide.beacon))
        except OutOfRange:  # a grid station without its grid angle: no radial, and a note says so
            reference, estimated = "G", True
        else:
            reference, estimated = used.reference, used.estimated
            radial_deg = magnetic_from_true_deg(bearing_true_deg, used.declination_deg)
            selected_course_deg = radial_deg if guide.sense is Sense.FROM else reciprocal_deg(radial_deg)
    return Guidance(
        beacon=guide.beacon,
        component=guide.component,
        sense=guide.sense,
        selected_course_deg=selected_course_deg,
        radial_deg=radial_deg,
        reference=reference,
        estimated=estimated,
        bearing_magnetic_deg=bearing_magnetic_deg,
        from_nm=0.0,
        to_nm=distance_nm(start.position, end.position),
    )


def dependable(stretch: Stretch) -> bool:
    """Whether a pilot may count on the beacon here: received or marginal, or just passing overhead."""
    return state_apart_from_cone(stretch) in (ReceptionState.RECEIVED, ReceptionState.MARGINAL)


def dependable_until_nm(stretches: tuple[Stretch, ...]) -> float:
    """Where the beacon behind is lost: the end of the first unbroken part on which it serves; 0 when it never does. [NM]"""
    reach_nm = 0.0
    for heard, group in groupby(stretches, key=dependable):
        if heard:
            reach_nm = list(group)[-1].to_nm
            break
    return reach_nm


def dependable_from_nm(stretches: tuple[Stretch, ...]) -> float:
    """From where the beacon ahead serves: the start of the last unbroken part; the leg's length when it never does. [NM]"""
    reach_nm = stretches[-1].to_nm
    for heard, group in groupby(reversed(stretches), key=dependable):
        if heard:
            reach_nm = list(group)[-1].from_nm
            break
    return reach_nm


@dataclass(frozen=True, kw_only=True, slots=True)
class Changeover:
    """Where to tune from the beacon behind to the one ahead, and the part of the leg neither covers (empty when equal). [NM]"""

    at_nm: float
    gap_from_nm: float
    gap_to_nm: float
    half_way_nm: float

    @property
    def moved(self) -> bool:
        return abs(self.at_nm - self.half_way_nm) > 0.05


def changeover(behind: tuple[Stretch, ...], ahead: tuple[Stretch, ...]) -> Changeover:
    """Choose the point nearest half way at which both beacons serve; with a gap between them, where the one behind is lost.

    Half way is the rule unless another point is published (14 CFR 95.8001), but not where one of the two is not heard there.
    """
    length_nm = behind[-1].to_nm
    last_nm, heard_nm = dependable_until_nm(behind), dependable_from_nm(ahead)
    half_way_nm = length_nm / 2.0
    if heard_nm <= last_nm:
        at_nm = min(max(half_way_nm, heard_nm), last_nm)
        return Changeover(at_nm=at_nm, gap_from_nm=at_nm, gap_to_nm=at_nm, half_way_nm=half_way_nm)
    return Changeover(at_nm=last_nm, gap_from_nm=last_nm, gap_to_nm=heard_nm, half_way_nm=half_way_nm)


GAP_NM = 0.5
"""A shorter gap is flown in a few seconds and is not worth a line of the log."""


def gaps(stretches: tuple[Stretch, ...]) -> tuple[tuple[float, float], ...]:
    """The parts of a leg, half a mile or longer, where no guiding beacon is dependable. [NM from the start of the leg]"""
    found = []
    for heard, group in groupby(stretches, key=dependable):
        part = list(group)
        if not heard and part[-1].to_nm - part[0].from_nm >= GAP_NM:
            found.append((part[0].from_nm, part[-1].to_nm))
    return tuple(found)


def reception_of(
    beacon: Beacon, component: ComponentKind, stretches: tuple[Stretch, ...], lowest_altitude_whole_leg_ft: float | None
) -> BeaconReception:
    """Sum up one beacon's stretches for the log."""
    return BeaconReception(
        beacon=beacon,
        component=component,
        stretches=stretches,
        first_heard_nm=first_heard_nm(stretches),
        lost_nm=lost_nm(stretches),
        lowest_altitude_whole_leg_ft=lowest_altitude_whole_leg_ft,
    )
