"""Lost on a leg: the two beacons whose lines make the best place near its middle, what they read there, and whom to call.

The middle of the leg is the worked example: each line is drawn from its station, and where they cross one is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from server.errors import OutOfRange
from server.navigation import (
    Position,
    bearings_and_distances,
    declination_used,
    difference_deg,
    fold_deg,
    inverse,
    magnetic_from_true_deg,
    position_along,
)
from server.navigation.position_lines import (
    GOOD_CUT_DEG,
    NDB_ERROR_DEG,
    VOR_ERROR_DEG,
    FixError,
    fix_error,
    major_axis_deg,
    radial_error_nm,
)
from server.planning.expected_picture import indicated_dme_nm
from server.planning.listening import HEARD, Ear, Spot, parts_within_reach, reach_of_part_nm
from server.planning.log_legs import LogLeg, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import altitude_at
from server.radio import LEAST_CUT_DEG, Beacon, Cause, Component, ComponentKind, ReceptionState, severity
from server.radio.limits import ALIGNMENT_DOUBT_DEG

_ASKED = 8
"""So many of the nearest beacons are listened to on each leg."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DistressCall:
    """Whom to call when lost: the emergency frequency and the transponder code."""

    frequency_khz: int
    transponder: str


DISTRESS = DistressCall(frequency_khz=121_500, transponder="7700")
"""121.5 MHz: ICAO Annex 10 volume V, 4.1.3.1. Code 7700: ICAO Doc 4444 (both from memory)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceLine:
    """One beacon's line through the middle of the leg. What is None cannot be told or is not there."""

    beacon: Beacon
    component: ComponentKind
    state: ReceptionState
    """Received or marginal; nothing else is offered."""
    causes: tuple[Cause, ...]
    """What makes it marginal."""
    margin_ft: float | None
    """How far the place is above the altitude from which the antenna is surely seen. [ft]"""
    distance_nm: float
    """From the station. [NM]"""
    line_true_deg: float
    """The line to draw from the station, true. [deg]"""
    radial_deg: float | None
    reference: str
    estimated: bool
    """As the station counts it (M, T or G); None for an NDB. [deg]"""
    bearing_magnetic_deg: float | None
    """For an NDB: the magnetic bearing to it. [deg]"""
    dme_nm: float | None
    """What its DME reads there, slant; None where none is received. [NM]"""
    error_nm: float
    """Across the line, 95 times in a hundred. [NM]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceLines:
    """The best lines of position at a place: two that cross, or one, or none."""

    lines: tuple[PlaceLine, ...]
    cut_deg: float | None
    """Between the two lines, up to 90. [deg]"""
    fix: FixError | None

    @property
    def major_axis_true_deg(self) -> float | None:
        """Which way the long axis of the error ellipse lies; None without a fix. [deg]"""
        if self.fix is None:
            return None
        a, b = self.lines
        return major_axis_deg(line_a_nm=a.error_nm, line_a_deg=a.line_true_deg, line_b_nm=b.error_nm, line_b_deg=b.line_true_deg)


@dataclass(frozen=True, kw_only=True, slots=True)
class LostStrip:
    """Two lines that make a place near the middle of a leg; one where no second crosses it well, none where nothing is received."""

    leg_number: int
    at_nm: float
    """From the start of the leg. [NM]"""
    position: Position
    altitude_ft: float
    lines: tuple[PlaceLine, ...]
    cut_deg: float | None
    """Between the two lines, up to 90. [deg]"""
    fix: FixError | None
    distress: DistressCall = DISTRESS

    @property
    def weak(self) -> bool:
        """Whether the lines cut at less than is good."""
        return self.cut_deg is not None and self.cut_deg < GOOD_CUT_DEG


@dataclass(frozen=True, kw_only=True, slots=True)
class LostAsked:
    """The middle of each leg, and the nearest parts to listen to there, told to an ear."""

    spots: tuple[Spot, ...]
    candidates: tuple[tuple[tuple[Beacon, Component], ...], ...]


def ask_for_lost_strips(legs: Sequence[LogLeg], profile: tuple[ProfilePoint, ...], ear: Ear) -> LostAsked:
    """Choose the parts to listen to at the middle of each leg."""
    spots = tuple(
        Spot(
            position=position_along(leg.start.position, leg.end.position, leg.distance_nm / 2.0),
            altitude_ft=altitude_at(profile, leg.start_nm + leg.distance_nm / 2.0),
        )
        for leg in legs
    )
    candidates = _candidates(spots, ear.materials)
    for spot, parts in zip(spots, candidates, strict=True):
        for beacon, part in parts:
            ear.want(beacon, part, [spot])
    return LostAsked(spots=spots, candidates=candidates)


def lost_strips_of_legs(legs: Sequence[LogLeg], asked: LostAsked, ear: Ear) -> tuple[LostStrip, ...]:
    """Find the two best beacons for each leg: surely received first, two VORs before a VOR and an NDB, then the smallest error.

    Lines that cut at less than 30 degrees make no place.
    """
    strips = []
    for leg, spot, parts in zip(legs, asked.spots, asked.candidates, strict=True):
        lines = [line for beacon, part in parts if (line := _line(beacon, part, spot, ear)) is not None]
        strips.append(_strip(leg, spot, lines, ear))
    return tuple(strips)


def _candidates(spots: Sequence[Spot], materials: Materials) -> tuple[tuple[tuple[Beacon, Component], ...], ...]:
    """For each spot the nearest parts that give a direction and may reach it."""
    near = parts_within_reach([spot.position for spot in spots], materials)
    parts = [(beacon, part) for beacon, part in near if part.kind is not ComponentKind.DISTANCE]
    if not parts:
        return ((),) * len(spots)
    stations = [beacon.component_position(part.kind) for beacon, part in parts]
    lat_deg, lon_deg = np.array([(at.lat_deg, at.lon_deg) for at in stations]).T
    reach_nm = np.array([reach_of_part_nm(part) for _, part in parts])
    chosen = []
    for spot in spots:
        _, away_nm = bearings_and_distances(spot.position, lat_deg, lon_deg)
        order = np.argsort(away_nm, kind="stable")
        chosen.append(tuple(parts[int(row)] for row in order if away_nm[row] <= reach_nm[row])[:_ASKED])
    return tuple(chosen)


def _line(beacon: Beacon, part: Component, spot: Spot, ear: Ear) -> PlaceLine | None:
    """The line of a part through one spot; None where it is not heard there, has no radials, or stands below."""
    (heard, k), materials = ear.at(beacon, part, spot), ear.materials
    line_true_deg, away_nm = float(heard.bearing_true_deg[k]), float(heard.distance_nm[k])
    if heard.states[k] not in HEARD or math.isnan(line_true_deg):
        return None
    radial_deg, reference, estimated, to_deg, error_deg = None, "M", False, None, NDB_ERROR_DEG
    if heard.component is ComponentKind.BEARING:
        to_true_deg = inverse(spot.position, beacon.component_position(heard.component)).initial_true_deg
        to_deg = None if to_true_deg is None else magnetic_from_true_deg(to_true_deg, materials.variation_at(spot.position).deg)
    else:
        try:
            used = declination_used(beacon.alignment, materials.estimated_declination_deg(beacon))
        except OutOfRange:  # a grid station without its grid angle has no radials; a note of the leg says so
            return None
        radial_deg, reference, estimated = fold_deg(line_true_deg - used.declination_deg), used.reference, used.estimated
        error_deg = math.hypot(VOR_ERROR_DEG, max(ALIGNMENT_DOUBT_DEG, used.contradicted_by_deg)) if estimated else VOR_ERROR_DEG
    return PlaceLine(
        beacon=beacon,
        component=heard.component,
        state=heard.states[k],
        causes=heard.causes[k],
        margin_ft=heard.margins_ft[k],
        distance_nm=away_nm,
        line_true_deg=line_true_deg,
        radial_deg=radial_deg,
        reference=reference,
        estimated=estimated,
        bearing_magnetic_deg=to_deg,
        dme_nm=None,
        error_nm=float(radial_error_nm(away_nm, error_deg)),
    )


def _strip(leg: LogLeg, spot: Spot, lines: Sequence[PlaceLine], ear: Ear) -> LostStrip:
    found = _best(spot, lines, ear)
    return LostStrip(
        leg_number=leg.number,
        at_nm=leg.distance_nm / 2.0,
        position=spot.position,
        altitude_ft=spot.altitude_ft,
        lines=found.lines,
        cut_deg=found.cut_deg,
        fix=found.fix,
    )


def lines_at(spot: Spot, ear: Ear) -> tuple[PlaceLine, ...]:
    """Find every line through a spot whose part is received there, each with what its DME reads."""
    return tuple(replace(line, dme_nm=_dme_nm(line.beacon, spot, ear)) for line in _lines_at(spot, ear))


def best_lines_at(spot: Spot, ear: Ear) -> PlaceLines:
    """Find the two lines that make the best place at a spot; one where no second crosses it well, none where nothing is received."""
    return _best(spot, _lines_at(spot, ear), ear)


def _lines_at(spot: Spot, ear: Ear) -> list[PlaceLine]:
    candidates = _candidates([spot], ear.materials)[0]
    for beacon, part in candidates:
        ear.want(beacon, part, [spot])
    return [line for beacon, part in candidates if (line := _line(beacon, part, spot, ear)) is not None]


def _best(spot: Spot, lines: Sequence[PlaceLine], ear: Ear) -> PlaceLines:
    pairs = [(a, b, cut) for a, b in combinations(lines, 2) if (cut := _cut_deg(a, b)) >= LEAST_CUT_DEG and a.beacon != b.beacon]
    best = min(pairs, key=lambda pair: _rank_of_pair(*pair), default=None)
    alone = min(lines, key=_rank, default=None)
    chosen = best[:2] if best is not None else () if alone is None else (alone,)
    return PlaceLines(
        lines=tuple(replace(line, dme_nm=_dme_nm(line.beacon, spot, ear)) for line in sorted(chosen, key=_rank)),
        cut_deg=best[2] if best is not None else None,
        fix=None if best is None else fix_error(line_a_nm=best[0].error_nm, line_b_nm=best[1].error_nm, cut_deg=best[2]),
    )


def _cut_deg(a: PlaceLine, b: PlaceLine) -> float:
    """The angle between two lines, by their directions at the stations: the earth bends them by less than a degree. [deg]"""
    apart_deg = abs(float(difference_deg(a.line_true_deg, b.line_true_deg)))
    return min(apart_deg, 180.0 - apart_deg)


def _rank(line: PlaceLine) -> tuple[int, bool, float]:
    return severity(line.state), line.component is ComponentKind.BEARING, line.error_nm


def _rank_of_pair(a: PlaceLine, b: PlaceLine, cut_deg: float) -> tuple[int, int, float]:
    """Surely received first, then two VORs before a VOR and an NDB, then the smaller fix."""
    unsure = severity(a.state) + severity(b.state)
    pointers = [a.component, b.component].count(ComponentKind.BEARING)
    return unsure, pointers, fix_error(line_a_nm=a.error_nm, line_b_nm=b.error_nm, cut_deg=cut_deg).corner_nm


def _dme_nm(beacon: Beacon, spot: Spot, ear: Ear) -> float | None:
    """What the beacon's DME reads at a spot; None where it has none that is received there. [NM]"""
    part = beacon.component(ComponentKind.DISTANCE)
    if part is None:
        return None
    heard, row = ear.at(beacon, part, spot)
    return indicated_dme_nm(beacon, spot.position, spot.altitude_ft, ear.materials) if heard.states[row] in HEARD else None
