"""The repository of routes, with their points and winds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, Table, insert, or_, select, union

from server.errors import Conflict, InputProblem, Problem
from server.navigation.position import Position
from server.navigation.route import LegChoice, NorthReference, PointKind, Route, RoutePoint, WindLayer
from server.persistence import tables
from server.persistence.repository import PartRow, Repository
from server.persistence.storable import check_storable, is_storable_text

PLACE_COLUMNS = {
    PointKind.AIRFIELD: "place_airfield_id",
    PointKind.BEACON: "place_beacon_id",
    PointKind.CHECKPOINT: "place_checkpoint_id",
}
"""Where a point's place_id is kept, by the point's kind."""

NEEDED_FIELDS = {
    PointKind.AIRFIELD: ("place_id",),
    PointKind.BEACON: ("place_id",),
    PointKind.CHECKPOINT: ("place_id",),
    PointKind.RADIAL_DISTANCE: ("beacon_id", "radial_deg", "distance_nm"),
    PointKind.TWO_RADIALS: ("beacon_id", "radial_deg", "second_beacon_id", "second_radial_deg"),
    PointKind.POSITION: ("position",),
}
"""Without these a point is nowhere."""

FLIGHT_COLUMNS = (
    "qnh_hpa",
    "winds_source",
    "winds_from_utc",
    "winds_to_utc",
    "cruise_power",
    "alternate_airfield_id",
    "extra_fuel_l",
    "level_rule",
    "corridor_nm",
)
"""Fields of a route that stand in a column of the same name, as they are."""


class RouteRepository(Repository[Route]):
    """The routes of all regions. A route is changed only by someone who has seen its latest version."""

    table = tables.route
    part_tables = (tables.route_point, tables.wind_layer)
    word = "route"

    def list(self, region_id: int) -> tuple[Route, ...]:
        """Return the region's routes by name."""
        return self._find(self.table.c.region_id == region_id)

    def add(self, value: Route) -> Route:
        """Add a route as its first version, and return it with its number."""
        self._check(value)
        return super().add(replace(value, version=1))

    def begun(self, key: str) -> int | None:
        """Return the number of the route that was begun under a key of its page, None where none was."""
        begun = tables.begun_route
        return self._connection.scalar(select(begun.c.route_id).where(begun.c.key == key)) if is_storable_text(key) else None

    def remember_begun(self, key: str, number: int) -> None:
        """Keep under which key a route was begun. Raises Conflict (code key-twice) where another has it."""
        self._connection.execute(insert(tables.begun_route).values(key=key, route_id=number))

    def update(self, value: Route) -> Route:
        """Put a route in the place of its former version, and return it with the next version number.

        Raises Conflict when somebody else changed the route after this one was read.
        """
        number = self._number(value)
        latest = self._connection.scalar(select(self.table.c.version).where(self.table.c.id == number).with_for_update())
        if latest is None:
            raise self._missing(number)
        if latest != value.version:
            raise Conflict(
                f'The route "{value.name}" was changed in another window or by someone else since you opened it (you have version '
                f"{value.version}, the latest is {latest}). Nothing has been saved: look at it as it is now and repeat your change.",
                code="stale-version",
            )
        self._check(value)
        return super().update(replace(value, version=latest + 1))

    def using_beacon(self, beacon_id: int) -> tuple[Route, ...]:
        """Return the routes that pass over a beacon or have a fix made from it."""
        point = tables.route_point.c
        return self._with_point(or_(point.place_beacon_id == beacon_id, point.beacon_id == beacon_id, point.second_beacon_id == beacon_id))

    def using_airfield(self, airfield_id: int) -> tuple[Route, ...]:
        """Return the routes that start, end or pass at an airfield, or have it as alternate."""
        return self._with_point(
            tables.route_point.c.place_airfield_id == airfield_id,
            self.table.c.departure_airfield_id == airfield_id,
            self.table.c.destination_airfield_id == airfield_id,
            self.table.c.alternate_airfield_id == airfield_id,
        )

    def using_checkpoint(self, checkpoint_id: int) -> tuple[Route, ...]:
        """Return the routes that pass over a checkpoint."""
        return self._with_point(tables.route_point.c.place_checkpoint_id == checkpoint_id)

    def using_aircraft(self, aircraft_id: int) -> tuple[Route, ...]:
        """Return the routes planned for an aircraft."""
        return self._find(self.table.c.aircraft_id == aircraft_id)

    def beacons_in_use(self) -> frozenset[int]:
        """Return the numbers of all beacons for which ``using_beacon`` names a route."""
        point = tables.route_point.c
        return self._numbers(point.place_beacon_id, point.beacon_id, point.second_beacon_id)

    def airfields_in_use(self) -> frozenset[int]:
        """Return the numbers of all airfields for which ``using_airfield`` names a route."""
        return self._numbers(
            tables.route_point.c.place_airfield_id,
            self.table.c.departure_airfield_id,
            self.table.c.destination_airfield_id,
            self.table.c.alternate_airfield_id,
        )

    def checkpoints_in_use(self) -> frozenset[int]:
        """Return the numbers of all checkpoints for which ``using_checkpoint`` names a route."""
        return self._numbers(tables.route_point.c.place_checkpoint_id)

    def _numbers(self, *columns: ColumnElement[int]) -> frozenset[int]:
        return frozenset(self._connection.scalars(union(*(select(column).where(column.is_not(None)) for column in columns))))

    def _with_point(self, point: ColumnElement[bool], *otherwise: ColumnElement[bool]) -> tuple[Route, ...]:
        return self._find(or_(self.table.c.id.in_(select(tables.route_point.c.route_id).where(point)), *otherwise))

    def _check(self, route: Route) -> None:
        """Refuse a point that is nowhere, and a place that is not in the route's region."""
        check_storable(route)
        problems = [problem for at, point in enumerate(route.points, start=1) for problem in _point_problems(at, point)]
        if not problems:
            problems = [
                *self._strangers(route, tables.airfield, "airfield", _airfields_of(route)),
                *self._strangers(route, tables.beacon, "beacon", _beacons_of(route)),
                *self._strangers(route, tables.checkpoint, "checkpoint", _places_of(route, PointKind.CHECKPOINT)),
            ]
        if problems:
            raise InputProblem(
                " ".join(problem.message for problem in problems), code="route-place-missing", place="points", problems=tuple(problems)
            )

    def _strangers(self, route: Route, table: Table, word: str, used: set[int]) -> Iterator[Problem]:
        known = set(self._connection.scalars(select(table.c.id).where(table.c.region_id == route.region_id, table.c.id.in_(used))))
        for number in sorted(used - known):
            yield Problem(
                place="points",
                message=f"There is no {word} with number {number} in the region of this route. Choose another one.",
                code="route-place-missing",
            )

    def _order(self) -> tuple[ColumnElement, ...]:
        return (self.table.c.name, self.table.c.id)

    def _columns(self, value: Route) -> dict[str, Any]:
        return {
            "region_id": value.region_id,
            "name": value.name,
            "departure_airfield_id": value.departure_airfield_id,
            "destination_airfield_id": value.destination_airfield_id,
            "altitude_ft": value.altitude_ft,
            "departure_utc": value.departure_utc,
            "aircraft_id": value.aircraft_id,
            "isa_deviation_c": value.isa_deviation_c,
            "fuel_on_board_l": value.fuel_on_board_l,
            "reserve_rule": value.reserve_rule,
            "remarks": value.remarks,
            "version": value.version,
            **_choice_columns(value.onward),
            **{name: getattr(value, name) for name in FLIGHT_COLUMNS},
        }

    def _part_rows(self, number: int, value: Route) -> Iterator[PartRow]:
        for at, point in enumerate(value.points):
            yield tables.route_point, {"route_id": number, "number": at, **_point_columns(point)}
        for at, wind in enumerate(value.winds):
            yield (
                tables.wind_layer,
                {
                    "route_id": number,
                    "number": at,
                    "altitude_ft": wind.altitude_ft,
                    "from_deg": wind.from_deg,
                    "speed_kt": wind.speed_kt,
                    "reference": wind.reference.value,
                    "temperature_c": wind.temperature_c,
                },
            )

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Route]:
        points = self._parts(tables.route_point, chosen, _point_of)
        winds = self._parts(tables.wind_layer, chosen, _wind_of)
        for row in rows:
            yield Route(
                id=row.id,
                region_id=row.region_id,
                name=row.name,
                departure_airfield_id=row.departure_airfield_id,
                destination_airfield_id=row.destination_airfield_id,
                points=points.get(row.id, ()),
                altitude_ft=row.altitude_ft,
                departure_utc=row.departure_utc,
                aircraft_id=row.aircraft_id,
                winds=winds.get(row.id, ()),
                isa_deviation_c=row.isa_deviation_c,
                fuel_on_board_l=row.fuel_on_board_l,
                reserve_rule=row.reserve_rule,
                remarks=row.remarks,
                version=row.version,
                onward=_choice_of(row),
                **{name: getattr(row, name) for name in FLIGHT_COLUMNS},
            )


def users_in_words(route_names: tuple[str, ...]) -> str:
    """Say which routes use a thing: 'the routes "A" and "B" use it'."""
    named = [f'"{name}"' for name in route_names[:5]]
    if len(route_names) > 5:
        named.append(f"{len(route_names) - 5} more")
    if len(named) == 1:
        return f"the route {named[0]} uses it"
    return f"the routes {', '.join(named[:-1])} and {named[-1]} use it"


def _point_problems(at: int, point: RoutePoint) -> Iterator[Problem]:
    for field in NEEDED_FIELDS[point.kind]:
        if getattr(point, field) is None:
            yield Problem(
                place=f"points {at}: {field}",
                message=f"Point {at} of the route ({point.kind.value}) has no {field}. Give it, or take the point out.",
                code="route-point-incomplete",
            )
    if point.place_id is not None and point.kind not in PLACE_COLUMNS:
        yield Problem(
            place=f"points {at}: place_id",
            message=f"Point {at} of the route ({point.kind.value}) cannot name a place. Leave place_id empty.",
            code="route-point-incomplete",
        )


def _places_of(route: Route, kind: PointKind) -> set[int]:
    return {point.place_id for point in route.points if point.kind is kind and point.place_id is not None}


def _airfields_of(route: Route) -> set[int]:
    alternate = set() if route.alternate_airfield_id is None else {route.alternate_airfield_id}
    return {route.departure_airfield_id, route.destination_airfield_id} | alternate | _places_of(route, PointKind.AIRFIELD)


def _beacons_of(route: Route) -> set[int]:
    tuned = {number for point in route.points for number in (point.beacon_id, point.second_beacon_id) if number is not None}
    return tuned | _places_of(route, PointKind.BEACON)


def _point_columns(point: RoutePoint) -> dict[str, Any]:
    return {
        "kind": point.kind.value,
        "name": point.name,
        **{column: point.place_id if point.kind is kind else None for kind, column in PLACE_COLUMNS.items()},
        "lat_deg": point.position.lat_deg if point.position else None,
        "lon_deg": point.position.lon_deg if point.position else None,
        "beacon_id": point.beacon_id,
        "radial_deg": point.radial_deg,
        "distance_nm": point.distance_nm,
        "second_beacon_id": point.second_beacon_id,
        "second_radial_deg": point.second_radial_deg,
        **_choice_columns(point.onward),
    }


def _point_of(row: Row) -> RoutePoint:
    kind = PointKind(row.kind)
    return RoutePoint(
        kind=kind,
        name=row.name,
        place_id=getattr(row, PLACE_COLUMNS[kind]) if kind in PLACE_COLUMNS else None,
        position=None if row.lat_deg is None else Position(lat_deg=row.lat_deg, lon_deg=row.lon_deg),
        beacon_id=row.beacon_id,
        radial_deg=row.radial_deg,
        distance_nm=row.distance_nm,
        second_beacon_id=row.second_beacon_id,
        second_radial_deg=row.second_radial_deg,
        onward=_choice_of(row),
    )


def _choice_columns(choice: LegChoice) -> dict[str, Any]:
    return {
        "onward_altitude_ft": choice.altitude_ft,
        "onward_changeover_nm": choice.changeover_nm,
        "onward_changeover_reason": choice.changeover_reason,
    }


def _choice_of(row: Row) -> LegChoice:
    return LegChoice(
        altitude_ft=row.onward_altitude_ft,
        changeover_nm=row.onward_changeover_nm,
        changeover_reason=row.onward_changeover_reason,
    )


def _wind_of(row: Row) -> WindLayer:
    return WindLayer(
        altitude_ft=row.altitude_ft,
        from_deg=row.from_deg,
        speed_kt=row.speed_kt,
        reference=NorthReference(row.reference),
        temperature_c=row.temperature_c,
    )
