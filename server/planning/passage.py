"""Overhead a beacon of the route: where needle and flag stop meaning anything, for how long to hold the heading, and what comes after.

The cone is the design value of a VOR's or an NDB's; a flag may begin to waver before it and settle after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from server.navigation import PointKind, cone_radius_nm, difference_deg, inverse, position_along, three_digits
from server.navigation.indicator import Indication, sensing_reversed, vor_indication
from server.planning.expected_picture import antenna_altitude_ft, guidance_at, indicated_dme_nm, radial_at
from server.planning.guidance import guiding_component
from server.planning.leg_times import minutes_at, part_at
from server.planning.log_legs import Guidance, LogLeg, LogPoint, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import altitude_at
from server.radio import Beacon, ComponentKind

CONE_HALF_ANGLE_DEG = {ComponentKind.AZIMUTH: 50.0, ComponentKind.BEARING: 40.0}
"""From the vertical: ICAO Doc 8168 volume II, design values (from memory)."""

_HALVINGS = 40


@dataclass(frozen=True, kw_only=True, slots=True)
class ConeSide:
    """One side of a passage: from the edge of the cone to the beacon, or from there to its other edge. None is what cannot be told."""

    guidance: Guidance | None
    """What guides on this side; None where nothing does, and beyond the end of the flight."""
    reach_nm: float | None
    """How far the cone reaches along the leg on this side. [NM]"""
    minutes: float | None
    heading_magnetic_deg: float | None
    shown: Indication | None
    """At the edge of the cone, on the course selected for this side; None for an NDB."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Passage:
    """A beacon overflown between two legs. What is None cannot be told from what was given."""

    point_number: int
    beacon: Beacon
    component: ComponentKind
    altitude_ft: float
    height_ft: float | None
    """Above the antenna. [ft]"""
    before: ConeSide
    after: ConeSide
    turn_deg: float | None
    """Of the track, right positive. [deg]"""
    shown_if_not_changed: Indication | None
    """Leaving the cone with the course of the leg before still selected on this beacon."""
    dme_overhead_nm: float | None
    """What the DME reads over the beacon: mostly the height. [NM]"""

    @property
    def minutes_in_cone(self) -> float | None:
        """How long the needle means nothing."""
        if self.before.minutes is None or self.after.minutes is None:
            return None
        return self.before.minutes + self.after.minutes

    @property
    def guides_on(self) -> bool:
        """Whether the beacon overflown guides the leg after: then nothing is to be tuned."""
        return self.after.guidance is not None and self.after.guidance.beacon == self.beacon

    @property
    def changes_course(self) -> bool | None:
        """Whether another number is to be selected, as it is printed; None where there is none to compare."""
        before_deg, after_deg = (_selected_deg(side.guidance) for side in (self.before, self.after))
        if before_deg is None or after_deg is None:
            return None
        return three_digits(before_deg) != three_digits(after_deg)

    @property
    def reversed_if_not_changed(self) -> bool | None:
        """Whether the needle points away from the course on the leg after, with the course of the leg before left on the indicator.

        That course is the direction of flight as the station counts it, so what is flown after is that and the turn.
        """
        before_deg = _selected_deg(self.before.guidance)
        if before_deg is None or self.turn_deg is None:
            return None
        return sensing_reversed(heading_deg=before_deg + self.turn_deg, selected_course_deg=before_deg)


def passages_of_legs(legs: Sequence[LogLeg], profile: tuple[ProfilePoint, ...], materials: Materials) -> tuple[Passage, ...]:
    """Tell what happens over each beacon that is a turning point of the flight, in order."""
    return tuple(
        _passage(before, after, before.end.beacon, profile, materials)
        for before, after in pairwise(legs)
        if before.end.kind is PointKind.BEACON and before.end.beacon is not None
    )


def _passage(before: LogLeg, after: LogLeg, beacon: Beacon, profile: tuple[ProfilePoint, ...], materials: Materials) -> Passage:
    component = guiding_component(beacon) or ComponentKind.DISTANCE
    point: LogPoint = before.end
    antenna_ft = antenna_altitude_ft(beacon, component, materials)
    into, out = inverse(before.start.position, point.position), inverse(point.position, after.end.position)
    side_before = _side(before, component, antenna_ft, profile, materials, inbound=True)
    side_after = _side(after, component, antenna_ft, profile, materials, inbound=False)
    kept_deg = _selected_deg(side_before.guidance)
    on_this = side_before.guidance is not None and side_before.guidance.beacon == beacon
    return Passage(
        point_number=point.number,
        beacon=beacon,
        component=component,
        altitude_ft=point.altitude_ft,
        height_ft=None if antenna_ft is None else point.altitude_ft - antenna_ft,
        before=side_before,
        after=side_after,
        turn_deg=None
        if into.final_true_deg is None or out.initial_true_deg is None
        else difference_deg(out.initial_true_deg, into.final_true_deg),
        shown_if_not_changed=_shown(beacon, kept_deg, after, side_after.reach_nm, materials) if on_this else None,
        dme_overhead_nm=indicated_dme_nm(beacon, point.position, point.altitude_ft, materials),
    )


def _side(
    leg: LogLeg,
    component: ComponentKind,
    antenna_ft: float | None,
    profile: tuple[ProfilePoint, ...],
    materials: Materials,
    *,
    inbound: bool,
) -> ConeSide:
    """The cone along the leg that ends at the beacon (inbound) or begins there."""
    guidance = guidance_at(leg, leg.distance_nm if inbound else 0.0)
    reach_nm = _reach_nm(leg, component, antenna_ft, profile, inbound=inbound)
    edge_nm = None if reach_nm is None else leg.distance_nm - reach_nm if inbound else reach_nm
    minutes = None
    if edge_nm is not None:
        span_min = minutes_at(leg, leg.distance_nm if inbound else edge_nm), minutes_at(leg, edge_nm if inbound else 0.0)
        minutes = None if span_min[0] is None or span_min[1] is None else span_min[0] - span_min[1]
    part = part_at(leg, leg.distance_nm if inbound else 0.0)
    return ConeSide(
        guidance=guidance,
        reach_nm=reach_nm,
        minutes=minutes,
        heading_magnetic_deg=part.heading_magnetic_deg if part is not None else None,
        shown=_shown(guidance.beacon, _selected_deg(guidance), leg, edge_nm, materials) if guidance is not None else None,
    )


def _reach_nm(
    leg: LogLeg, component: ComponentKind, antenna_ft: float | None, profile: tuple[ProfilePoint, ...], *, inbound: bool
) -> float | None:
    """How far from the beacon the cone reaches along a leg that climbs or descends through it; at most the whole leg. [NM]"""
    half_angle_deg = CONE_HALF_ANGLE_DEG.get(component)
    if half_angle_deg is None or antenna_ft is None:
        return None

    def inside(away_nm: float) -> bool:
        at_ft = altitude_at(profile, leg.start_nm + (leg.distance_nm - away_nm if inbound else away_nm))
        return away_nm < cone_radius_nm(at_ft - antenna_ft, half_angle_deg=half_angle_deg)

    if inside(leg.distance_nm):
        return leg.distance_nm
    near_nm, far_nm = 0.0, leg.distance_nm
    for _ in range(_HALVINGS):
        middle_nm = (near_nm + far_nm) / 2.0
        near_nm, far_nm = (middle_nm, far_nm) if inside(middle_nm) else (near_nm, middle_nm)
    return near_nm


def _shown(beacon: Beacon, selected_deg: float | None, leg: LogLeg, at_nm: float | None, materials: Materials) -> Indication | None:
    """Needle and flag at a place of a leg, with a course selected on a beacon."""
    if selected_deg is None or at_nm is None:
        return None
    radial = radial_at(beacon, position_along(leg.start.position, leg.end.position, at_nm), materials)
    return None if radial is None else vor_indication(radial_deg=radial.value_deg, selected_course_deg=selected_deg)


def _selected_deg(guidance: Guidance | None) -> float | None:
    return None if guidance is None else guidance.selected_course_deg
