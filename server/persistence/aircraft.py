"""The repository of aircraft, with their performance tables and compass cards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from functools import partial
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select

from server.errors import Conflict
from server.navigation.aircraft import Aircraft, ClimbRow, CompassCardEntry, CruiseRow, DescentRow, FuelUnit, SpeedKind, SpeedUnit
from server.persistence import tables
from server.persistence.repository import PartRow, Repository
from server.persistence.routes import RouteRepository, users_in_words

PLAIN_COLUMNS = (
    "registration",
    "type_name",
    "cruise_speed_kt",
    "cruise_fuel_l_per_h",
    "climb_speed_kt",
    "climb_rate_ft_per_min",
    "climb_fuel_l_per_h",
    "descent_rate_ft_per_min",
    "taxi_fuel_l",
    "usable_fuel_l",
    "fuel_density_kg_per_l",
    "climb_percent_per_warm_c",
    "remarks",
)
"""Kept under the name and in the form they have in the value."""

WORDS = {"cruise_speed_kind": SpeedKind, "speed_unit": SpeedUnit, "fuel_unit": FuelUnit}

PARTS = {
    "cruise_table": (tables.cruise_row, CruiseRow),
    "climb_table": (tables.climb_row, ClimbRow),
    "descent_table": (tables.descent_row, DescentRow),
    "compass_card": (tables.compass_entry, CompassCardEntry),
}
"""Lists of the value: the table that keeps each, its columns named as the fields of a line, and what a line is."""


class AircraftRepository(Repository[Aircraft]):
    """The aircraft. They belong to no region."""

    table = tables.aircraft
    part_tables = tuple(table for table, _ in PARTS.values())
    word = "aircraft"

    def __init__(self, connection: Connection, routes: RouteRepository):
        super().__init__(connection)
        self._routes = routes

    def list(self) -> tuple[Aircraft, ...]:
        """Return all aircraft by registration."""
        return self._find()

    def remove(self, number: int) -> None:
        """Remove an aircraft that no route is planned for; raise Conflict that names the routes otherwise."""
        aircraft = self.get(number)
        users = tuple(route.name for route in self._routes.using_aircraft(number))
        if users:
            raise Conflict(
                f"The aircraft {aircraft.registration} cannot be removed: {users_in_words(users)}. Choose another aircraft there first.",
                code="in-use",
            )
        super().remove(number)

    def _order(self) -> tuple[ColumnElement, ...]:
        return (self.table.c.registration, self.table.c.id)

    def _columns(self, value: Aircraft) -> dict[str, Any]:
        plain = {name: getattr(value, name) for name in PLAIN_COLUMNS}
        return plain | {name: getattr(value, name).value for name in WORDS}

    def _part_rows(self, number: int, value: Aircraft) -> Iterator[PartRow]:
        for name, (table, kind) in PARTS.items():
            for at, line in enumerate(getattr(value, name)):
                yield table, {"aircraft_id": number, "number": at} | {field.name: getattr(line, field.name) for field in fields(kind)}

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Aircraft]:
        parts = {name: self._parts(table, chosen, partial(_line, kind)) for name, (table, kind) in PARTS.items()}
        for row in rows:
            value: dict[str, Any] = {name: getattr(row, name) for name in PLAIN_COLUMNS}
            value |= {name: kind(getattr(row, name)) for name, kind in WORDS.items()}
            value |= {name: lines.get(row.id, ()) for name, lines in parts.items()}
            yield Aircraft(id=row.id, **value)


def _line(kind: type, row: Row) -> Any:
    return kind(**{field.name: getattr(row, field.name) for field in fields(kind)})
