"""The beacon that leads to an airfield: received where one is, and its line passing as near the airfield as can be told.

A beacon on the airfield is flown to. Of any other the radial over the airfield is given, which the aircraft meets there, with the DME
distance at which it does. An NDB elsewhere gives the bearing that its pointer shows over the airfield.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from server.errors import OutOfRange
from server.navigation import (
    Airfield,
    Position,
    bearings_and_distances,
    declination_used,
    difference_deg,
    distance_nm,
    fold_deg,
    inverse,
    magnetic_from_true_deg,
    reciprocal_deg,
)
from server.navigation.position_lines import NDB_ERROR_DEG, VOR_ERROR_DEG, radial_error_nm
from server.planning.expected_picture import indicated_dme_nm
from server.planning.listening import HEARD, Ear, Spot, parts_within_reach, reach_of_part_nm
from server.planning.log_legs import Sense
from server.planning.materials import Materials
from server.planning.profile import CIRCUIT_HEIGHT_FT
from server.radio import Beacon, Cause, Component, ComponentKind, ReceptionState, severity
from server.radio.limits import ALIGNMENT_DOUBT_DEG

ON_FIELD_NM = 1.0
"""A beacon no farther from an airfield leads to it by itself (common practice)."""

_ASKED_FOR_EACH = 4
"""So many beacons are listened to for each airfield: those whose lines pass nearest."""


@dataclass(frozen=True, kw_only=True, slots=True)
class AidQuestion:
    """From this place to this airfield."""

    position: Position
    altitude_ft: float
    airfield: Airfield

    @property
    def spot(self) -> Spot:
        return Spot(position=self.position, altitude_ft=self.altitude_ft)


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldAid:
    """A beacon that leads to an airfield from a place. What is None cannot be told or is not there."""

    beacon: Beacon
    component: ComponentKind
    state: ReceptionState
    """At the place: received or marginal; nothing else is offered. In the cone over the station, which is left at once, marginal."""
    causes: tuple[Cause, ...]
    """What makes it marginal."""
    margin_ft: float | None
    """How far the place is above the altitude from which the antenna is surely seen. [ft]"""
    state_at_field: ReceptionState | None
    """1,000 ft above the airfield; None where its elevation is not known."""
    on_field: bool
    distance_nm: float
    """From the station to the airfield, along the ground. [NM]"""
    radial_deg: float | None
    reference: str
    estimated: bool
    """Over the airfield, as the station counts it (M, T or G); None for an NDB. [deg]"""
    sense: Sense | None
    selected_course_deg: float | None
    """To a beacon on the airfield the course from the place; else along the radial over the airfield, in the sense in which one arrives
    there. None for an NDB. [deg]"""
    dme_nm: float | None
    """What its DME reads 1,000 ft above the airfield, slant; None where it has none that is received at the place. [NM]"""
    bearing_magnetic_deg: float | None
    """For an NDB: to it, from the place where it stands on the airfield, else from over the airfield. [deg]"""
    error_nm: float
    """How far its line may pass from the airfield, 95 times in a hundred. [NM]"""

    @property
    def overhead(self) -> bool:
        """Whether the place is in the cone over the station, where needle and flag mean nothing yet."""
        return Cause.OVERHEAD_CONE in self.causes


@dataclass(frozen=True, kw_only=True, slots=True)
class AidsAsked:
    """What is to be listened to for each question: an ear has been told, and answers when the aids are chosen."""

    questions: tuple[AidQuestion, ...]
    candidates: tuple[tuple[tuple[Beacon, Component], ...], ...]


def ask_for_aids(questions: Sequence[AidQuestion], ear: Ear) -> AidsAsked:
    """Find the beacons that may lead to each airfield, and tell the ear where each will be asked about."""
    fields = {id(each.airfield): each.airfield.position for each in questions}
    near = parts_within_reach(list(fields.values()), ear.materials)
    candidates = _candidates(questions, [each for each in near if each[1].kind is not ComponentKind.DISTANCE])
    for question, parts in zip(questions, candidates, strict=True):
        over = spot_over(question.airfield)
        for beacon, part in parts:
            ear.want(beacon, part, [question.spot] if over is None else [question.spot, over])
    return AidsAsked(questions=tuple(questions), candidates=candidates)


def aids_to_fields(asked: AidsAsked, ear: Ear) -> tuple[FieldAid | None, ...]:
    """Find the best beacon for each question; None where none that may lead there is received."""
    best = [_best(question, parts, ear) for question, parts in zip(asked.questions, asked.candidates, strict=True)]
    for question, aid in zip(asked.questions, best, strict=True):
        part = None if aid is None else aid.beacon.component(ComponentKind.DISTANCE)
        if aid is not None and part is not None:
            ear.want(aid.beacon, part, [question.spot])
    return tuple(None if aid is None else _with_distance(question, aid, ear) for question, aid in zip(asked.questions, best, strict=True))


def _candidates(
    questions: Sequence[AidQuestion], parts: Sequence[tuple[Beacon, Component]]
) -> tuple[tuple[tuple[Beacon, Component], ...], ...]:
    """For each question the parts to listen to: within reach of the place and of the airfield, those whose lines pass nearest to it."""
    if not parts:
        return ((),) * len(questions)
    stations = [beacon.component_position(part.kind) for beacon, part in parts]
    lat_deg, lon_deg = np.array([(at.lat_deg, at.lon_deg) for at in stations]).T
    reach_nm = np.array([reach_of_part_nm(part) for _, part in parts])
    error_deg = np.array([_error_deg(part) for _, part in parts])
    chosen = []
    for question in questions:
        _, from_place_nm = bearings_and_distances(question.position, lat_deg, lon_deg)
        _, from_field_nm = bearings_and_distances(question.airfield.position, lat_deg, lon_deg)
        order = np.argsort(radial_error_nm(from_field_nm, error_deg), kind="stable")
        within = (from_place_nm <= reach_nm) & (from_field_nm <= reach_nm)
        chosen.append(tuple(parts[int(row)] for row in order if within[row])[:_ASKED_FOR_EACH])
    return tuple(chosen)


def _error_deg(part: Component) -> float:
    return NDB_ERROR_DEG if part.kind is ComponentKind.BEARING else VOR_ERROR_DEG


def spot_over(airfield: Airfield) -> Spot | None:
    """The place 1,000 ft above an airfield; None where its elevation is not known."""
    if airfield.elevation_ft is None:
        return None
    return Spot(position=airfield.position, altitude_ft=airfield.elevation_ft + CIRCUIT_HEIGHT_FT)


def _state(beacon: Beacon, part: Component, spot: Spot, ear: Ear) -> ReceptionState:
    """The state at a spot; where only the cone over the station is in the way, marginal."""
    heard, row = ear.at(beacon, part, spot)
    return ReceptionState.MARGINAL if heard.causes[row] == (Cause.OVERHEAD_CONE,) else heard.states[row]


def _best(question: AidQuestion, parts: Sequence[tuple[Beacon, Component]], ear: Ear) -> FieldAid | None:
    aids = [aid for beacon, part in parts if (aid := _aid(question, beacon, part, ear)) is not None]
    return min(aids, key=_rank, default=None)


def _with_distance(question: AidQuestion, aid: FieldAid, ear: Ear) -> FieldAid:
    """Add what its DME will read over the airfield, where that is received at the place."""
    part, over = aid.beacon.component(ComponentKind.DISTANCE), spot_over(question.airfield)
    if part is None or over is None or _state(aid.beacon, part, question.spot, ear) not in HEARD:
        return aid
    return replace(aid, dme_nm=indicated_dme_nm(aid.beacon, over.position, over.altitude_ft, ear.materials))


def _rank(aid: FieldAid) -> tuple[int, int, float]:
    """Surely received here first, then heard at the airfield, then the line that passes nearest to it."""
    here = 0 if aid.overhead else severity(aid.state)
    there = severity(aid.state_at_field or ReceptionState.UNKNOWN)
    return here, max(there, severity(ReceptionState.MARGINAL)), aid.error_nm


def _aid(question: AidQuestion, beacon: Beacon, part: Component, ear: Ear) -> FieldAid | None:
    """What one part tells; None where it is not heard at the place or has no radials."""
    heard, row = ear.at(beacon, part, question.spot)
    state = _state(beacon, part, question.spot, ear)
    if state not in HEARD:
        return None
    over, station = spot_over(question.airfield), beacon.component_position(part.kind)
    away_nm = distance_nm(station, question.airfield.position)
    on_field = away_nm <= ON_FIELD_NM
    line = _line(question, beacon, part, on_field=on_field, place_true_deg=float(heard.bearing_true_deg[row]), materials=ear.materials)
    if line is None:
        return None
    return FieldAid(
        beacon=beacon,
        component=part.kind,
        state=state,
        causes=heard.causes[row],
        margin_ft=heard.margins_ft[row],
        state_at_field=None if over is None else _state(beacon, part, over, ear),
        on_field=on_field,
        distance_nm=away_nm,
        radial_deg=line.radial_deg,
        reference=line.reference,
        estimated=line.estimated,
        sense=line.sense,
        selected_course_deg=line.selected_course_deg,
        dme_nm=None,
        bearing_magnetic_deg=line.bearing_magnetic_deg,
        error_nm=float(radial_error_nm(away_nm, math.hypot(_error_deg(part), ALIGNMENT_DOUBT_DEG if line.estimated else 0.0))),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Line:
    radial_deg: float | None = None
    reference: str = "M"
    estimated: bool = False
    sense: Sense | None = None
    selected_course_deg: float | None = None
    bearing_magnetic_deg: float | None = None


def _line(
    question: AidQuestion, beacon: Beacon, part: Component, *, on_field: bool, place_true_deg: float, materials: Materials
) -> _Line | None:
    """The line of a part that leads to the airfield. ``place_true_deg``: the true bearing of the place from the part, NaN overhead."""
    station, airfield = beacon.component_position(part.kind), question.airfield.position
    if part.kind is ComponentKind.BEARING:
        seen_from = question.position if on_field else airfield
        to_deg = inverse(seen_from, station).initial_true_deg
        return None if to_deg is None else _Line(bearing_magnetic_deg=magnetic_from_true_deg(to_deg, materials.variation_at(seen_from).deg))
    try:
        used = declination_used(beacon.alignment, materials.estimated_declination_deg(beacon))
    except OutOfRange:  # a grid station without its grid angle has no radials; a note of the leg says so
        return None
    over_deg = inverse(station, airfield).initial_true_deg
    radial_deg = None if over_deg is None else fold_deg(over_deg - used.declination_deg)
    sense: Sense | None = Sense.TO
    if on_field:
        selected_deg = None if np.isnan(place_true_deg) else reciprocal_deg(place_true_deg - used.declination_deg)
    elif over_deg is None or radial_deg is None:
        return None
    else:
        arriving_deg = inverse(question.position, airfield).final_true_deg
        outbound = arriving_deg is not None and abs(difference_deg(arriving_deg, over_deg)) <= 90.0
        sense, selected_deg = (Sense.FROM, radial_deg) if outbound else (Sense.TO, reciprocal_deg(radial_deg))
    return _Line(
        radial_deg=radial_deg,
        reference=used.reference,
        estimated=used.estimated,
        sense=None if selected_deg is None else sense,
        selected_course_deg=None if selected_deg is None else float(selected_deg),
    )
