"""From the points a user drew to points with positions: airfields, beacons, checkpoints and fixes made from radials."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

from server.errors import InputProblem, NotFound, OutOfRange
from server.navigation import (
    PointKind,
    Position,
    RoutePoint,
    declination_used,
    distance_nm,
    format_dm,
    radial_distance_fix,
    three_digits,
    true_bearing_of_radial,
    two_radial_fix,
)
from server.planning.log_legs import LogPoint
from server.planning.materials import Materials
from server.radio import Beacon

LONGEST_LEG_NM = 1_000.0
"""Four times what two stations of the greatest published range reach across; ferry flights over open sea stay below."""


def resolve_points(materials: Materials) -> tuple[LogPoint, ...]:
    """Return departure, the points between and destination as LogPoints at the planned altitude, numbered from 0.

    Raises
    ------
    InputProblem
        A fix whose radials do not meet, or a point that lacks what its kind needs; the message names the point.
    NotFound
        A place that has been removed.
    """
    route = materials.route
    ends = (route.departure_airfield_id, route.destination_airfield_id)
    first, last = (RoutePoint(kind=PointKind.AIRFIELD, place_id=place_id) for place_id in ends)
    return tuple(_resolve(number, point, materials) for number, point in enumerate((first, *route.points, last)))


def position_of(point: RoutePoint, materials: Materials) -> Position:
    """Return where one point lies, by itself. Raises as ``resolve_points`` does, without a number."""
    return _MAKERS[point.kind](point, materials).position


def _resolve(number: int, point: RoutePoint, materials: Materials) -> LogPoint:
    try:
        made = _MAKERS[point.kind](point, materials)
    except (InputProblem, OutOfRange) as problem:
        raise InputProblem(f"Point {number}: {problem.message}", code=problem.code, place=f"point-{number}") from problem
    return LogPoint(
        number=number,
        kind=point.kind,
        name=made.name,
        ident=made.ident,
        position=made.position,
        elevation_ft=made.elevation_ft,
        altitude_ft=0.0,  # the profile sets it
        beacon=made.beacon,
        definition=made.definition,
    )


Thing = TypeVar("Thing")


def _find(things: Mapping[int, Thing], number: int | None, what: str) -> Thing:
    if number is None or number not in things:
        raise NotFound(f"The {what} this route uses (number {number}) is not in its region any more. Choose another one.")
    return things[number]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Made:
    """What a point of any kind comes to."""

    name: str
    ident: str
    position: Position
    elevation_ft: float | None = None
    beacon: Beacon | None = None
    definition: str = ""


def _airfield(point: RoutePoint, materials: Materials) -> _Made:
    airfield = _find(materials.airfields, point.place_id, "airfield")
    return _Made(name=airfield.name, ident=airfield.ident, position=airfield.position, elevation_ft=airfield.elevation_ft)


def _beacon(point: RoutePoint, materials: Materials) -> _Made:
    beacon = _find(materials.beacons, point.place_id, "beacon")
    return _Made(name=beacon.name, ident=beacon.ident, position=beacon.position, elevation_ft=beacon.elevation_ft, beacon=beacon)


def _checkpoint(point: RoutePoint, materials: Materials) -> _Made:
    checkpoint = _find(materials.checkpoints, point.place_id, "checkpoint")
    return _Made(name=checkpoint.name, ident="", position=checkpoint.position, elevation_ft=checkpoint.elevation_ft)


def _position(point: RoutePoint, materials: Materials) -> _Made:
    if point.position is None:
        raise InputProblem("a point given by coordinates needs a latitude and a longitude.", code="point-incomplete")
    return _Made(name=point.name or format_dm(point.position), ident="", position=point.position)


def bearing_of_radial(materials: Materials, beacon: Beacon, radial_deg: float) -> tuple[float, str]:
    """Return the true bearing of a station's radial and its label, such as "R-045 ALD" (with T for a station set to true north).

    The label says "est." where the alignment is not published and the magnetic model stood in for it.
    """
    estimated_deg = materials.estimated_declination_deg(beacon)
    used = declination_used(beacon.alignment, estimated_deg)
    mark = "" if used.reference == "M" else used.reference
    label = f"R-{three_digits(radial_deg)}{mark} {beacon.ident}{' est.' if used.estimated else ''}"
    return true_bearing_of_radial(radial_deg, beacon.alignment, estimated_declination_deg=estimated_deg), label


def _radial_distance(point: RoutePoint, materials: Materials) -> _Made:
    if point.radial_deg is None or point.distance_nm is None:
        raise InputProblem("a fix by radial and distance needs a beacon, a radial and a distance.", code="point-incomplete")
    beacon = _find(materials.beacons, point.beacon_id, "beacon")
    bearing_true_deg, label = bearing_of_radial(materials, beacon, point.radial_deg)
    position = radial_distance_fix(beacon.position, radial_true_deg=bearing_true_deg, distance_nm=point.distance_nm)
    definition = f"{label}, {point.distance_nm:.1f} NM"
    return _Made(name=point.name or definition, ident="", position=position, definition=definition)


def _two_radials(point: RoutePoint, materials: Materials) -> _Made:
    if point.radial_deg is None or point.second_radial_deg is None:
        raise InputProblem("a fix by two radials needs two beacons and a radial from each.", code="point-incomplete")
    first = _find(materials.beacons, point.beacon_id, "beacon")
    second = _find(materials.beacons, point.second_beacon_id, "beacon")
    bearing_a, label_a = bearing_of_radial(materials, first, point.radial_deg)
    bearing_b, label_b = bearing_of_radial(materials, second, point.second_radial_deg)
    fix = two_radial_fix(first.position, bearing_a_true_deg=bearing_a, station_b=second.position, bearing_b_true_deg=bearing_b)
    definition = f"{label_a} and {label_b}, cut {fix.cut_deg:.0f}°"
    return _Made(name=point.name or f"{label_a} / {label_b}", ident="", position=fix.position, definition=definition)


_MAKERS: Mapping[PointKind, Callable[[RoutePoint, Materials], _Made]] = {
    PointKind.AIRFIELD: _airfield,
    PointKind.BEACON: _beacon,
    PointKind.CHECKPOINT: _checkpoint,
    PointKind.POSITION: _position,
    PointKind.RADIAL_DISTANCE: _radial_distance,
    PointKind.TWO_RADIALS: _two_radials,
}


def refuse_long_legs(points: Sequence[LogPoint]) -> None:
    """Question a leg that no light aircraft flies and no beacon guides: most often latitude and longitude were swapped.

    Raises InputProblem (code leg-too-long).
    """
    for number, (start, end) in enumerate(pairwise(points), start=1):
        length_nm = distance_nm(start.position, end.position)
        if length_nm > LONGEST_LEG_NM:
            text = (
                f"Leg {number}, {start.name} to {end.name}, is {length_nm:,.0f} NM long; at most {LONGEST_LEG_NM:,.0f} NM can be planned. "
                "Were latitude and longitude swapped, or N and S, or E and W? Correct the point."
            )
            raise InputProblem(text, code="leg-too-long", place=f"points.{number}")
