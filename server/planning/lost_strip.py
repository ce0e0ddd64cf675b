"""Lost on a leg: the two beacons whose lines make the best place near its middle, what they read there, and whom to call.

The middle of the leg is the worked example: each line is drawn from its station, and where they cross one is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
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
from server.navigation.position_lines import GOOD_CUT_DEG, NDB_ERROR_DEG, VOR_ERROR_DEG, FixError, fix_error, radial_error_nm
from server.planning.expected_picture import indicated_dme_nm
from server.planning.listening import HEARD, Spot, days_of, hear, parts_within_reach, reach_of_part_nm
from server.planning.log_legs import LogLeg, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import altitude_at
from server.radio import LEAST_CUT_DEG, Beacon, Cause, ComponentKind, ReceptionState, severity
from server.radio.hearing import HeardAlong
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


def lost_strips_of_legs(legs: Sequence[LogLeg], profile: tuple[ProfilePoint, ...], materials: Materials) -> tuple[LostStrip, ...]:
    """Find the two best beacons for each leg: surely received first, two VORs before a VOR and an NDB, then the smallest error.

    Lines that cut at less than 30 degrees make no place.
    """
    middles = [_middle(leg) for leg in legs]
    spots = [
        Spot(position=at, altitude_ft=altitude_at(profile, leg.start_nm + leg.distance_nm / 2.0))
        for leg, at in zip(legs, middles, strict=True)
    ]
    days = days_of(legs, materials)
    lines = _lines_at(spots, days, materials)
    return tuple(_strip(leg, spot, found, days, materials) for leg, spot, found in zip(legs, spots, lines, strict=True))


def _middle(leg: LogLeg) -> Position:
    return position_along(leg.start.position, leg.end.position, leg.distance_nm / 2.0)


def _lines_at(spots: Sequence[Spot], days: Sequence[date], materials: Materials) -> list[list[PlaceLine]]:
    """The lines of the beacons received at each spot, their DME left open."""
    found: list[list[PlaceLine]] = [[] for _ in spots]
    near = parts_within_reach([spot.position for spot in spots], materials)
    parts = [(beacon, part) for beacon, part in near if part.kind is not ComponentKind.DISTANCE]
    if not parts:
        return found
    stations = [beacon.component_position(part.kind) for beacon, part in parts]
    lat_deg, lon_deg = np.array([(at.lat_deg, at.lon_deg) for at in stations]).T
    reach_nm = np.array([reach_of_part_nm(part) for _, part in parts])
    asked: list[list[int]] = [[] for _ in parts]
    for at, spot in enumerate(spots):
        _, away_nm = bearings_and_distances(spot.position, lat_deg, lon_deg)
        within = [int(row) for row in np.argsort(away_nm, kind="stable") if away_nm[row] <= reach_nm[row]]
        for row in within[:_ASKED]:
            asked[row].append(at)
    for (beacon, part), where in zip(parts, asked, strict=True):
        if where:
            heard = hear(beacon, part, [spots[at] for at in where], days=days, materials=materials)
            for k, at in enumerate(where):
                found[at] += _line(heard, k, spots[at], materials)
    return found


def _line(heard: HeardAlong, k: int, spot: Spot, materials: Materials) -> tuple[PlaceLine, ...]:
    """The line of a part through one spot; none where it is not heard there, has no radials, or stands below."""
    line_true_deg, away_nm, beacon = float(heard.bearing_true_deg[k]), float(heard.distance_nm[k]), heard.beacon
    if heard.states[k] not in HEARD or math.isnan(line_true_deg):
        return ()
    radial_deg, reference, estimated, to_deg, error_deg = None, "M", False, None, NDB_ERROR_DEG
    if heard.component is ComponentKind.BEARING:
        to_true_deg = inverse(spot.position, beacon.component_position(heard.component)).initial_true_deg
        to_deg = None if to_true_deg is None else magnetic_from_true_deg(to_true_deg, materials.variation_at(spot.position).deg)
    else:
        try:
            used = declination_used(beacon.alignment, materials.estimated_declination_deg(beacon))
        except OutOfRange:  # a grid station without its grid angle has no radials; a note of the leg says so
            return ()
        radial_deg, reference, estimated = fold_deg(line_true_deg - used.declination_deg), used.reference, used.estimated
        error_deg = math.hypot(VOR_ERROR_DEG, ALIGNMENT_DOUBT_DEG) if estimated else VOR_ERROR_DEG
    line = PlaceLine(
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
    return (line,)


def _strip(leg: LogLeg, spot: Spot, lines: Sequence[PlaceLine], days: Sequence[date], materials: Materials) -> LostStrip:
    pairs = [(a, b, cut) for a, b in combinations(lines, 2) if (cut := _cut_deg(a, b)) >= LEAST_CUT_DEG and a.beacon != b.beacon]
    best = min(pairs, key=lambda pair: _rank_of_pair(*pair), default=None)
    alone = min(lines, key=_rank, default=None)
    chosen = best[:2] if best is not None else () if alone is None else (alone,)
    return LostStrip(
        leg_number=leg.number,
        at_nm=leg.distance_nm / 2.0,
        position=spot.position,
        altitude_ft=spot.altitude_ft,
        lines=tuple(replace(line, dme_nm=_dme_nm(line.beacon, spot, days, materials)) for line in sorted(chosen, key=_rank)),
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


def _dme_nm(beacon: Beacon, spot: Spot, days: Sequence[date], materials: Materials) -> float | None:
    """What the beacon's DME reads at a spot; None where it has none that is received there. [NM]"""
    part = beacon.component(ComponentKind.DISTANCE)
    if part is None or hear(beacon, part, [spot], days=days, materials=materials).states[0] not in HEARD:
        return None
    return indicated_dme_nm(beacon, spot.position, spot.altitude_ft, materials)
