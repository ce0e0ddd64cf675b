"""The repositories of airfields and checkpoints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Row, Select

from server.navigation.places import Airfield, Checkpoint, Runway
from server.persistence import tables
from server.persistence.place_repository import PlaceRepository, position_of
from server.persistence.repository import PartRow
from server.persistence.storable import is_storable_text


class AirfieldRepository(PlaceRepository[Airfield]):
    """The airfields of all regions, with their runways."""

    table = tables.airfield
    part_tables = (tables.runway,)
    word = "airfield"
    searched_fields = ("ident", "name")

    def find_by_ident(self, region_id: int, ident: str) -> tuple[Airfield, ...]:
        """Return every airfield with exactly this ident."""
        return self._find(self.table.c.region_id == region_id, self.table.c.ident == ident) if is_storable_text(ident) else ()

    def in_use(self) -> frozenset[int]:
        return self._routes.airfields_in_use()

    def _users(self, number: int) -> tuple[str, ...]:
        return tuple(route.name for route in self._routes.using_airfield(number))

    def _columns(self, value: Airfield) -> dict[str, Any]:
        return {**self._shared_columns(value), "ident": value.ident, "time_zone": value.time_zone, "closed": value.closed}

    def _part_rows(self, number: int, value: Airfield) -> Iterator[PartRow]:
        for at, strip in enumerate(value.runways):
            what = {"designator": strip.designator, "length_m": strip.length_m, "surface": strip.surface}
            yield tables.runway, {"airfield_id": number, "number": at, **what}

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Airfield]:
        runways = self._parts(
            tables.runway, chosen, lambda row: Runway(designator=row.designator, length_m=row.length_m, surface=row.surface)
        )
        for row in rows:
            yield Airfield(
                id=row.id,
                region_id=row.region_id,
                ident=row.ident,
                name=row.name,
                position=position_of(row),
                elevation_ft=row.elevation_ft,
                runways=runways.get(row.id, ()),
                time_zone=row.time_zone,
                closed=row.closed,
                remarks=row.remarks,
                source=row.source,
                external_key=row.external_key,
            )


class CheckpointRepository(PlaceRepository[Checkpoint]):
    """The checkpoints of all regions."""

    table = tables.checkpoint
    word = "checkpoint"
    searched_fields = ("name",)

    def in_use(self) -> frozenset[int]:
        return self._routes.checkpoints_in_use()

    def _users(self, number: int) -> tuple[str, ...]:
        return tuple(route.name for route in self._routes.using_checkpoint(number))

    def _columns(self, value: Checkpoint) -> dict[str, Any]:
        return {**self._shared_columns(value), "feature": value.feature}

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Checkpoint]:
        for row in rows:
            yield Checkpoint(
                id=row.id,
                region_id=row.region_id,
                name=row.name,
                feature=row.feature,
                position=position_of(row),
                elevation_ft=row.elevation_ft,
                remarks=row.remarks,
                source=row.source,
                external_key=row.external_key,
            )
