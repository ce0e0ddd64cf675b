"""The repositories of regions and of the loads that filled them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, delete

from server.errors import NotFound
from server.persistence import tables
from server.persistence.records import LoadRecord, RegionRecord
from server.persistence.repository import Repository
from server.persistence.storable import is_storable_text


class RegionRepository(Repository[RegionRecord]):
    """The regions. Whatever stands in a region goes with it."""

    table = tables.region
    word = "region"

    def list(self) -> tuple[RegionRecord, ...]:
        """Return all regions by name."""
        return self._find()

    def by_slug(self, slug: str) -> RegionRecord:
        """Return the region with this short name, or raise NotFound."""
        found = self._find(self.table.c.slug == slug) if is_storable_text(slug) else ()
        if not found:
            raise NotFound(f'There is no region called "{slug}" in the database. It may have been removed.')
        return found[0]

    def remove(self, number: int) -> None:
        """Remove a region with all its beacons, airfields, checkpoints, routes and loads."""
        self.get(number)
        # Routes first: they are what keeps a beacon or an airfield from being removed.
        self._connection.execute(delete(tables.route).where(tables.route.c.region_id == number))
        super().remove(number)

    def _order(self) -> tuple[ColumnElement, ...]:
        return (self.table.c.name, self.table.c.id)

    def _columns(self, value: RegionRecord) -> dict[str, Any]:
        return _without_number(value)

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[RegionRecord]:
        return (RegionRecord(**row._mapping) for row in rows)


class LoadRepository(Repository[LoadRecord]):
    """The loads of all regions."""

    table = tables.load
    word = "load"

    def list(self, region_id: int) -> tuple[LoadRecord, ...]:
        """Return the region's loads, the latest first."""
        return self._find(self.table.c.region_id == region_id)

    def _order(self) -> tuple[ColumnElement, ...]:
        return (self.table.c.loaded_at_utc.desc(), self.table.c.id.desc())

    def _columns(self, value: LoadRecord) -> dict[str, Any]:
        return _without_number(value)

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[LoadRecord]:
        return (LoadRecord(**row._mapping) for row in rows)


def _without_number(record: RegionRecord | LoadRecord) -> dict[str, Any]:
    columns = asdict(record)
    del columns["id"]
    return columns
