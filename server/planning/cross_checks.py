"""Where am I along the leg: for each place worth checking the best crossing radial, bearing or DME distance, and the picture to expect.

A line is offered only where its beacon is received at that place and at the altitude really flown, and where it crosses the track well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from server.navigation import Position, bearings_and_distances, distance_nm, inverse, points_along
from server.planning.crossing_lines import CrossingLine, LineKind, Seen, cut_of_radial_deg, fix_with_guide, line_at
from server.planning.expected_picture import ExpectedPicture, expected_picture
from server.planning.leg_times import distance_at, minutes_at, part_at
from server.planning.listening import HEARD, Ear, Spot, parts_within_reach, reach_of_part_nm
from server.planning.log_legs import LogLeg, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import altitude_at
from server.radio import LEAST_CUT_DEG, Beacon, Component, ComponentKind
from server.radio.hearing import HeardAlong

EVERY_MIN, EVERY_NM = 10.0, 15.0
"""How often a pilot checks where he is between two points (common practice); the distance where no time is known."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckPlace:
    """A place of a leg: the end of it, or one on the way (``name`` empty)."""

    leg_number: int
    name: str
    at_nm: float
    """From the start of the leg. [NM]"""
    minutes: float | None
    """From the start of the leg; None where no groundspeed is known."""
    position: Position
    altitude_ft: float
    track_true_deg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class CrossCheck:
    """What tells, at one place, how far along the leg one is."""

    place: CheckPlace
    lines: tuple[CrossingLine, ...]
    """The best distance and the best radial or bearing, the better of the two first; none where nothing received crosses the track well."""
    picture: ExpectedPicture | None
    """Of the guiding beacon; None where nothing guides."""


def cross_checks_of_legs(
    legs: Sequence[LogLeg], profile: tuple[ProfilePoint, ...], materials: Materials, ear: Ear | None = None
) -> tuple[tuple[CrossCheck, ...], ...]:
    """Find the cross-checks of each leg of a flight: at its end, and about every 10 minutes on the way (15 NM where no time is known).

    On a flight of two days a part that is notified out of service on one of them serves on neither. ``ear`` may have been told already
    what else will be wanted.
    """
    places = places_to_check(legs, profile)
    lines = _lines_at(places, legs, ear or Ear(legs, materials), materials)
    checks = [_check(place, found, _leg_of(legs, place), materials) for place, found in zip(places, lines, strict=True)]
    return tuple(tuple(check for check in checks if check.place.leg_number == leg.number) for leg in legs)


def best_lines(lines: Sequence[CrossingLine]) -> tuple[CrossingLine, ...]:
    """Keep the best distance and the best direction, so that one is left to who has no DME, the better of the two first."""
    ranked = sorted(lines, key=lambda line: line.rank)
    distance = next((line for line in ranked if line.kind is LineKind.DISTANCE), None)
    direction = next((line for line in ranked if line.kind is not LineKind.DISTANCE), None)
    return tuple(line for line in ranked if line is distance or line is direction)


def _leg_of(legs: Sequence[LogLeg], place: CheckPlace) -> LogLeg:
    return next(leg for leg in legs if leg.number == place.leg_number)


def places_to_check(legs: Sequence[LogLeg], profile: tuple[ProfilePoint, ...]) -> list[CheckPlace]:
    """The places of all legs worth checking, in order."""
    return [place for leg in legs for place in _places(leg, profile)]


def _places(leg: LogLeg, profile: tuple[ProfilePoint, ...]) -> list[CheckPlace]:
    """Evenly spaced over the leg in time, or in distance where no time is known; the last is the end of the leg."""
    start, end = leg.start.position, leg.end.position
    if leg.track_true_deg is None:
        return []
    if leg.time_min is not None and leg.parts:
        steps = max(1, round(leg.time_min / EVERY_MIN))
        at_nm = [distance_at(leg, leg.time_min * k / steps) for k in range(1, steps)]
    else:
        steps = max(1, round(leg.distance_nm / EVERY_NM))
        at_nm = [leg.distance_nm * k / steps for k in range(1, steps)]
    along_nm = [each for each in at_nm if each is not None] + [leg.distance_nm]
    lat_deg, lon_deg = points_along(start, end, along_nm)
    places = []
    for k, along in enumerate(along_nm):
        position = Position(lat_deg=float(lat_deg[k]), lon_deg=float(lon_deg[k]))
        track_true_deg = inverse(start, position).final_true_deg
        places.append(
            CheckPlace(
                leg_number=leg.number,
                name=leg.end.name if k == len(along_nm) - 1 else "",
                at_nm=along,
                minutes=minutes_at(leg, along),
                position=position,
                altitude_ft=altitude_at(profile, leg.start_nm + along),
                track_true_deg=leg.track_true_deg if track_true_deg is None else track_true_deg,
            )
        )
    return places


def _lines_at(places: list[CheckPlace], legs: Sequence[LogLeg], ear: Ear, materials: Materials) -> list[list[CrossingLine]]:
    """The lines that serve at each place, in no order."""
    found: list[list[CrossingLine]] = [[] for _ in places]
    parts = parts_within_reach([place.position for place in places], materials)
    if not parts:
        return found
    spots = [Spot(position=place.position, altitude_ft=place.altitude_ft) for place in places]
    bearings_deg, cuts_deg = _bearings_and_cuts(places, parts)
    for row, (beacon, part) in enumerate(parts):
        where = np.flatnonzero(cuts_deg[row] >= LEAST_CUT_DEG).tolist()
        ear.want(beacon, part, [spots[at] for at in where])
        for at in where:
            heard, k = ear.at(beacon, part, spots[at])
            if heard.states[k] in HEARD:
                seen = Seen(bearing_true_deg=float(bearings_deg[row, at]), cut_deg=float(cuts_deg[row, at]))
                found[at] += _line(heard, k, seen, places[at], _leg_of(legs, places[at]), materials)
    return found


def _line(heard: HeardAlong, k: int, seen: Seen, place: CheckPlace, leg: LogLeg, materials: Materials) -> tuple[CrossingLine, ...]:
    """The line of a heard part at one place; none or one."""
    flown = part_at(leg, place.at_nm)
    line = line_at(
        heard,
        k,
        seen,
        altitude_ft=place.altitude_ft,
        variation_deg=leg.variation_deg,
        heading_magnetic_deg=flown.heading_magnetic_deg if flown is not None else None,
        estimated_declination_deg=materials.estimated_declination_deg(heard.beacon),
        track_true_deg=place.track_true_deg,
    )
    return () if line is None else (line,)


def _bearings_and_cuts(places: list[CheckPlace], parts: list[tuple[Beacon, Component]]) -> tuple[np.ndarray, np.ndarray]:
    """True bearings from each place to each part, and the cuts of their lines with the track; NaN beyond reach. (parts, places) [deg]"""
    stations = [beacon.component_position(part.kind) for beacon, part in parts]
    station_lat_deg, station_lon_deg = np.array([(at.lat_deg, at.lon_deg) for at in stations]).T
    reach_nm = np.array([reach_of_part_nm(part) for _, part in parts])
    is_circle = np.array([part.kind is ComponentKind.DISTANCE for _, part in parts])
    bearings_deg, cuts_deg = np.full((2, len(parts), len(places)), np.nan)
    for at, place in enumerate(places):
        bearing_deg, away_nm = bearings_and_distances(place.position, station_lat_deg, station_lon_deg)
        bearing_deg = np.where(away_nm <= reach_nm, bearing_deg, np.nan)
        radial_cut_deg = cut_of_radial_deg(bearing_true_deg=bearing_deg, track_true_deg=place.track_true_deg)
        bearings_deg[:, at], cuts_deg[:, at] = bearing_deg, np.where(is_circle, 90.0 - radial_cut_deg, radial_cut_deg)
    return bearings_deg, cuts_deg


def _check(place: CheckPlace, lines: Sequence[CrossingLine], leg: LogLeg, materials: Materials) -> CrossCheck:
    picture = expected_picture(leg, place.at_nm, place.position, place.altitude_ft, materials)
    best = best_lines(lines)
    if picture is not None and picture.heard and picture.indication is not None:
        away_nm = distance_nm(picture.beacon.component_position(picture.component), place.position)
        best = tuple(replace(line, fix=fix_with_guide(line, away_nm)) for line in best)
    return CrossCheck(place=place, lines=best, picture=picture)
