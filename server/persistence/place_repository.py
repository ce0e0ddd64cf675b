"""What the repositories of beacons, airfields and checkpoints share: a region, a position, words to search, routes that use them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, ClassVar, TypeVar

from sqlalchemy import ColumnElement, Connection, Row, delete, false, or_, select, true

from server.errors import Conflict
from server.navigation.places import Airfield, Checkpoint
from server.navigation.position import Position
from server.persistence.repository import Repository
from server.persistence.routes import RouteRepository, users_in_words
from server.persistence.storable import is_storable_text
from server.radio.beacon import Beacon

Place = TypeVar("Place", Beacon, Airfield, Checkpoint)

REMOVED_AT_ONCE = 1_000
"""Numbers in one statement. SQLite and PostgreSQL both take several times as many."""


class PlaceRepository(Repository[Place]):
    """What beacons, airfields and checkpoints have in common: a region, a position, words to search, and routes that use them."""

    searched_fields: ClassVar[tuple[str, ...]]

    def __init__(self, connection: Connection, routes: RouteRepository):
        super().__init__(connection)
        self._routes = routes

    def list(self, region_id: int, *, search: str = "", limit: int | None = None, offset: int = 0) -> tuple[Place, ...]:
        """Return what the region has, in alphabetical order; ``search`` matches any part of ident or name, upper or lower case."""
        return self._find(*self._in_region(region_id, search), limit=limit, offset=offset)

    def count(self, region_id: int, *, search: str = "") -> int:
        """Count what ``list`` would return without a limit."""
        return self._count(*self._in_region(region_id, search))

    def in_box(self, region_id: int, south: float, north: float, west: float, east: float) -> tuple[Place, ...]:
        """Return what stands inside a box [deg], its edges included. West > east means that it crosses the antimeridian."""
        return self._find(
            self.table.c.region_id == region_id, self.table.c.lat_deg.between(south, north), self._longitude_between(west, east)
        )

    def by_external_keys(self, region_id: int) -> dict[str, Place]:
        """Return everything in the region that came from a file, by the key it has there."""
        found = self._find(self.table.c.region_id == region_id, self.table.c.external_key != "")
        return {place.external_key: place for place in found}

    def remove(self, number: int) -> None:
        """Remove a place that no route uses; raise Conflict that names the routes otherwise."""
        place = self.get(number)
        users = self._users(number)
        if users:
            raise Conflict(
                f"The {self.word} {self._label(place)} cannot be removed: {users_in_words(users)}. Take it out of there first.",
                code="in-use",
            )
        super().remove(number)

    def remove_many(self, numbers: Iterable[int]) -> None:
        """Remove places that no route uses, in a few statements.

        Raises NotFound or Conflict as ``remove`` does, for the first that is not there or in use, and then removes none.
        """
        given = sorted(set(numbers))
        groups = [given[at : at + REMOVED_AT_ONCE] for at in range(0, len(given), REMOVED_AT_ONCE)]
        there = {number for group in groups for number in self._connection.scalars(select(self.table.c.id).where(self._among(group)))}
        for number in given:
            if number not in there:
                raise self._missing(number)
        for number in sorted(self.in_use() & there):
            self.remove(number)  # tells which routes use it
        for group in groups:
            self._connection.execute(delete(self.table).where(self._among(group)))

    def in_use(self) -> frozenset[int]:
        """Return the numbers of all that routes use."""
        raise NotImplementedError

    def _among(self, numbers: Sequence[int]) -> ColumnElement[bool]:
        return self.table.c.id.in_(numbers)

    def _users(self, number: int) -> tuple[str, ...]:
        raise NotImplementedError

    def _label(self, place: Place) -> str:
        return " ".join(getattr(place, field) for field in self.searched_fields)

    def _same(self, value: Place) -> tuple[ColumnElement[bool], ...]:
        return (*super()._same(value), self.table.c.region_id == value.region_id)

    def _order(self) -> tuple[ColumnElement, ...]:
        return (*(self.table.c[field] for field in self.searched_fields), self.table.c.id)

    def _in_region(self, region_id: int, search: str) -> tuple[ColumnElement[bool], ...]:
        sought = search.strip().casefold()
        found = self.table.c.search_text.contains(sought, autoescape=True) if sought else true()
        return (self.table.c.region_id == region_id, found if is_storable_text(sought) else false())

    def _longitude_between(self, west_deg: float, east_deg: float) -> ColumnElement[bool]:
        if east_deg - west_deg >= 360.0:
            return true()
        west, east = _folded(west_deg), _folded(east_deg)
        lon = self.table.c.lon_deg
        return lon.between(west, east) if west <= east else or_(lon >= west, lon <= east)

    def _shared_columns(self, place: Place) -> dict[str, Any]:
        return {
            "region_id": place.region_id,
            "name": place.name,
            **position_columns(place.position),
            "elevation_ft": place.elevation_ft,
            "remarks": place.remarks,
            "source": place.source,
            "external_key": place.external_key,
            "search_text": "\n".join(getattr(place, field) for field in self.searched_fields).casefold(),
        }


def position_columns(position: Position | None) -> dict[str, float | None]:
    return {"lat_deg": position.lat_deg if position else None, "lon_deg": position.lon_deg if position else None}


def position_of(row: Row) -> Position:
    return Position(lat_deg=row.lat_deg, lon_deg=row.lon_deg)


def _folded(lon_deg: float) -> float:
    return lon_deg if -180.0 <= lon_deg < 180.0 else (lon_deg + 180.0) % 360.0 - 180.0
