"""The small forms that add one point to a route: from typed text to a point, and a refusal beside the field that decides it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from server.errors import Conflict, ProjectError
from server.navigation import LegChoice, PointKind, RoutePoint
from server.planning import HIGHEST_PLANNED_FT
from server.planning.plan import LOWEST_PLANNED_FT
from server.planning.route_shelf import Choices
from server.web.forms import FormReader, FormText
from server.web.picking import airfield_label, beacon_label, checkpoint_label, pick

DECIDING_FIELD = {PointKind.RADIAL_DISTANCE: "rd_radial", PointKind.TWO_RADIALS: "second_radial", PointKind.POSITION: "point_lat"}
"""Where a point stands that can be read but not worked out, such as one of radials that do not cross."""


def read_version(form: FormText) -> int:
    """Read which version of the route the page showed. Without it a position could mean another point than the person saw."""
    reader = FormReader(form)
    version = reader.whole_number("version", "Version of the route", lowest=1, highest=2_000_000_000)
    if version is None:
        reader.refuse("", "This form does not say which version of the route it was made from. Open the route again.")
    reader.finish()
    return version or 0


def read_choice(form: FormText) -> LegChoice:
    """Read what was chosen for a leg; empty fields leave it to the planner."""
    reader = FormReader(form)
    choice = LegChoice(
        altitude_ft=reader.number(
            "leg_altitude_ft", "Altitude from here", unit="ft MSL", lowest=LOWEST_PLANNED_FT, highest=HIGHEST_PLANNED_FT
        ),
        changeover_nm=reader.number("changeover_nm", "Changeover", unit="NM from the start of the leg", lowest=0, highest=1_000),
        changeover_reason=reader.text("changeover_reason", "Reason", longest=200),
    )
    reader.finish()
    return choice


def refused_point(form: FormText, refusal: ProjectError) -> FormText:
    """The form with what was refused, each problem beside its field."""
    told = form.with_problems(refusal)
    if refusal.code == "form" or isinstance(refusal, Conflict):
        return told
    place = next((field for kind, field in DECIDING_FIELD.items() if kind == form.text("point_kind")), "")
    return replace(told, problems=tuple(replace(problem, place=place) for problem in told.problems))


def read_point(form: FormText, choices: Choices) -> tuple[RoutePoint, int]:
    """Read one point and the position it goes behind, from whichever of the small forms was sent."""
    reader = FormReader(form)
    after = reader.whole_number("after", "Put it behind point", lowest=0, highest=1_000, required=True) or 0
    kind = reader.required_choice("point_kind", "What kind of point", PointKind)
    point = replace(_POINT_READERS[kind](reader, choices), name=reader.text("point_name", "Name of the point", longest=60))
    reader.finish()
    return point, after


def _airfield_point(reader: FormReader, choices: Choices) -> RoutePoint:
    airfield = pick(reader, "airfield", "Airfield", choices.airfields, airfield_label, required=True)
    return RoutePoint(kind=PointKind.AIRFIELD, place_id=airfield.id if airfield else None)


def _beacon_point(reader: FormReader, choices: Choices) -> RoutePoint:
    beacon = pick(reader, "beacon", "Beacon", choices.beacons, beacon_label, required=True)
    return RoutePoint(kind=PointKind.BEACON, place_id=beacon.id if beacon else None)


def _checkpoint_point(reader: FormReader, choices: Choices) -> RoutePoint:
    checkpoint = pick(reader, "checkpoint", "Checkpoint", choices.checkpoints, checkpoint_label, required=True)
    return RoutePoint(kind=PointKind.CHECKPOINT, place_id=checkpoint.id if checkpoint else None)


def _position_point(reader: FormReader, _choices: Choices) -> RoutePoint:
    return RoutePoint(kind=PointKind.POSITION, position=reader.required_position("point_", "Position"))


def _radial_distance_point(reader: FormReader, choices: Choices) -> RoutePoint:
    beacon = pick(reader, "rd_beacon", "Beacon", choices.beacons, beacon_label, required=True)
    return RoutePoint(
        kind=PointKind.RADIAL_DISTANCE,
        beacon_id=beacon.id if beacon else None,
        radial_deg=reader.required_number("rd_radial", "Radial", unit="degrees", lowest=0, highest=360) % 360.0,
        distance_nm=reader.required_number("rd_distance", "Distance", unit="NM", lowest=0.1, highest=200),
    )


def _two_radials_point(reader: FormReader, choices: Choices) -> RoutePoint:
    first = pick(reader, "first_beacon", "First beacon", choices.beacons, beacon_label, required=True)
    second = pick(reader, "second_beacon", "Second beacon", choices.beacons, beacon_label, required=True)
    if first is not None and second is not None and first.id == second.id:
        reader.refuse("second_beacon", "Second beacon: two radials of one station meet only overhead. Choose another station.")
    return RoutePoint(
        kind=PointKind.TWO_RADIALS,
        beacon_id=first.id if first else None,
        radial_deg=reader.required_number("first_radial", "First radial", unit="degrees", lowest=0, highest=360) % 360.0,
        second_beacon_id=second.id if second else None,
        second_radial_deg=reader.required_number("second_radial", "Second radial", unit="degrees", lowest=0, highest=360) % 360.0,
    )


_POINT_READERS: dict[PointKind, Callable[[FormReader, Choices], RoutePoint]] = {
    PointKind.AIRFIELD: _airfield_point,
    PointKind.BEACON: _beacon_point,
    PointKind.CHECKPOINT: _checkpoint_point,
    PointKind.POSITION: _position_point,
    PointKind.RADIAL_DISTANCE: _radial_distance_point,
    PointKind.TWO_RADIALS: _two_radials_point,
}
