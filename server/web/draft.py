"""A route as the planning desk sends it and gets it back: what may be changed there, and nothing else of the flight."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from pydantic import Field

from server.errors import InputProblem
from server.navigation import AS_PLANNED, LegChoice, PointKind, Position, Route, RoutePoint
from server.persistence import RegionRecord
from server.planning.route_shelf import MOST_POINTS
from server.web.script_answers import Sent

GREATEST_NUMBER = 2_147_483_647

Number = Annotated[int, Field(ge=1, le=GREATEST_NUMBER)]
Bearing = Annotated[float, Field(ge=0.0, le=360.0)]
Words = Annotated[str, Field(max_length=200)]


class DraftChoice(Sent):
    """What was chosen for the leg onward; None leaves it to the planner. [ft], [NM]"""

    altitude_ft: float | None = None
    changeover_nm: Annotated[float, Field(ge=0, le=1_000)] | None = None
    changeover_reason: Words = ""

    def choice(self) -> LegChoice:
        return LegChoice(**self.model_dump())


class DraftPoint(Sent):
    """A point between departure and destination, as server.navigation.RoutePoint has it; its place in degrees."""

    kind: PointKind
    name: Annotated[str, Field(max_length=80)] = ""
    place_id: Number | None = None
    lat_deg: Annotated[float, Field(ge=-90.0, le=90.0)] | None = None
    lon_deg: Annotated[float, Field(ge=-180.0, le=180.0)] | None = None
    beacon_id: Number | None = None
    radial_deg: Bearing | None = None
    distance_nm: Annotated[float, Field(ge=0.0, le=1_000.0)] | None = None
    second_beacon_id: Number | None = None
    second_radial_deg: Bearing | None = None
    onward: DraftChoice = DraftChoice()

    def point(self) -> RoutePoint:
        fields = self.model_dump(exclude={"lat_deg", "lon_deg", "onward"})
        here = None if self.lat_deg is None or self.lon_deg is None else Position(lat_deg=self.lat_deg, lon_deg=self.lon_deg)
        return RoutePoint(**fields, position=here, onward=self.onward.choice())


class Draft(Sent):
    """A route at the desk. ``number`` is None for one that is not kept yet, which has a ``key`` made by its page instead; ``version`` is
    the one it was made from."""

    number: Number | None = None
    key: Annotated[str, Field(max_length=40)] = ""
    version: Annotated[int, Field(ge=1, le=2_000_000_000)] = 1
    name: Annotated[str, Field(max_length=80)] = ""
    departure_id: Number
    destination_id: Number
    altitude_ft: float | None = None
    onward: DraftChoice = DraftChoice()
    points: Annotated[list[DraftPoint], Field(max_length=10 * MOST_POINTS, default_factory=list)]

    def on(self, region: RegionRecord, base: Route | None) -> Route:
        """Return the route it makes of ``base``, or a new one of the region. InputProblem (code too-many-points): it has too many."""
        if len(self.points) > MOST_POINTS:
            raise InputProblem(f"A route may have {MOST_POINTS} points between its ends. Split the flight.", code="too-many-points")
        started = base or Route(
            region_id=region.id or 0, name=self.name, departure_airfield_id=self.departure_id, destination_airfield_id=self.destination_id
        )
        return replace(
            started,
            departure_airfield_id=self.departure_id,
            destination_airfield_id=self.destination_id,
            points=tuple(point.point() for point in self.points),
            altitude_ft=self.altitude_ft,
            onward=replace(self.onward.choice(), altitude_ft=None),
            version=self.version,
        )


def draft_of(route: Route) -> Draft:
    """Return a route as the desk has it."""
    return Draft(
        number=route.id,
        version=route.version,
        name=route.name,
        departure_id=route.departure_airfield_id,
        destination_id=route.destination_airfield_id,
        altitude_ft=route.altitude_ft,
        onward=_choice(route.onward),
        points=[_point(point) for point in route.points],
    )


def _point(point: RoutePoint) -> DraftPoint:
    told = {name: getattr(point, name) for name in DraftPoint.model_fields if hasattr(point, name) and name != "onward"}
    if point.position is not None:
        told |= {"lat_deg": point.position.lat_deg, "lon_deg": point.position.lon_deg}
    return DraftPoint(**told, onward=_choice(point.onward))


def _choice(choice: LegChoice) -> DraftChoice:
    if choice == AS_PLANNED:
        return DraftChoice()
    return DraftChoice(altitude_ft=choice.altitude_ft, changeover_nm=choice.changeover_nm, changeover_reason=choice.changeover_reason)
