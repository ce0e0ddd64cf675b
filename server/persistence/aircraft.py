"""The repository of aircraft, with their compass cards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select

from server.errors import Conflict
from server.navigation.aircraft import Aircraft, CompassCardEntry, FuelUnit, SpeedKind
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
    "remarks",
)
"""Kept under the name and in the form they have in the value."""


class AircraftRepository(Repository[Aircraft]):
    """The aircraft. They belong to no region."""

    table = tables.aircraft
    part_tables = (tables.compass_entry,)
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
        return {**plain, "cruise_speed_kind": value.cruise_speed_kind.value, "fuel_unit": value.fuel_unit.value}

    def _part_rows(self, number: int, value: Aircraft) -> Iterator[PartRow]:
        for at, entry in enumerate(value.compass_card):
            headings = {"magnetic_deg": entry.magnetic_deg, "steer_deg": entry.steer_deg}
            yield tables.compass_entry, {"aircraft_id": number, "number": at, **headings}

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Aircraft]:
        cards = self._parts(
            tables.compass_entry, chosen, lambda row: CompassCardEntry(magnetic_deg=row.magnetic_deg, steer_deg=row.steer_deg)
        )
        for row in rows:
            yield Aircraft(
                id=row.id,
                cruise_speed_kind=SpeedKind(row.cruise_speed_kind),
                fuel_unit=FuelUnit(row.fuel_unit),
                compass_card=cards.get(row.id, ()),
                **{name: getattr(row, name) for name in PLAIN_COLUMNS},
            )
