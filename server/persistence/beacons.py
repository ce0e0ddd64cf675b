"""The repository of beacons, with their components, sectors and outages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, true

from server.navigation.alignment import Alignment, AlignmentKind
from server.persistence import tables
from server.persistence.place_repository import PlaceRepository, position_columns, position_of
from server.persistence.repository import PartRow
from server.persistence.storable import is_storable_text
from server.radio.beacon import (
    Beacon,
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ServiceClass,
    UnusableSector,
)


class BeaconRepository(PlaceRepository[Beacon]):
    """The beacons of all regions, with their components and what limits those."""

    table = tables.beacon
    part_tables = (tables.beacon_component,)
    word = "beacon"
    searched_fields = ("ident", "name")

    def list(
        self, region_id: int, *, search: str = "", kind: BeaconKind | None = None, limit: int | None = None, offset: int = 0
    ) -> tuple[Beacon, ...]:
        """Return beacons by ident and name; ``search`` matches any part of either, upper or lower case."""
        return self._find(*self._in_region(region_id, search), self._of_kind(kind), limit=limit, offset=offset)

    def count(self, region_id: int, *, search: str = "", kind: BeaconKind | None = None) -> int:
        """Count what ``list`` would return without a limit."""
        return self._count(*self._in_region(region_id, search), self._of_kind(kind))

    def find_by_ident(self, region_id: int, ident: str) -> tuple[Beacon, ...]:
        """Return every beacon with exactly this ident: one ident is often used by several."""
        return self._find(self.table.c.region_id == region_id, self.table.c.ident == ident) if is_storable_text(ident) else ()

    def _of_kind(self, kind: BeaconKind | None) -> ColumnElement[bool]:
        return true() if kind is None else self.table.c.kind == kind.value

    def in_use(self) -> frozenset[int]:
        return self._routes.beacons_in_use()

    def _users(self, number: int) -> tuple[str, ...]:
        return tuple(route.name for route in self._routes.using_beacon(number))

    def _columns(self, value: Beacon) -> dict[str, Any]:
        return {
            **self._shared_columns(value),
            "ident": value.ident,
            "kind": value.kind.value,
            "frequency_khz": value.frequency_khz,
            "channel": value.channel,
            "antenna_height_ft": value.antenna_height_ft,
            "alignment_kind": value.alignment.kind.value,
            "declination_deg": value.alignment.declination_deg,
            "alignment_year": value.alignment.year,
            "alignment_source": value.alignment.source,
            "voice": value.voice,
        }

    def _part_rows(self, number: int, value: Beacon) -> Iterator[PartRow]:
        for at, part in enumerate(value.components):
            key = {"beacon_id": number, "component_number": at}
            yield tables.beacon_component, {"beacon_id": number, "number": at, **_component_columns(part)}
            for order, sector in enumerate(part.coverage):
                yield tables.coverage_sector, {**key, "number": order, **_coverage_columns(sector)}
            for order, barred in enumerate(part.unusable):
                yield tables.unusable_sector, {**key, "number": order, **_unusable_columns(barred)}
            for order, outage in enumerate(part.outages):
                days = {"first_day": outage.first_day, "last_day": outage.last_day, "reason": outage.reason}
                yield tables.outage, {**key, "number": order, **days}

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Beacon]:
        coverage = self._parts(tables.coverage_sector, chosen, _coverage_of)
        unusable = self._parts(tables.unusable_sector, chosen, _unusable_of)
        outages = self._parts(tables.outage, chosen, _outage_of)

        def component_of(row: Row) -> Component:
            key = (row.beacon_id, row.number)
            return Component(
                kind=ComponentKind(row.kind),
                status=ComponentStatus(row.status),
                service_class=None if row.service_class is None else ServiceClass(row.service_class),
                position=None if row.lat_deg is None else position_of(row),
                elevation_ft=row.elevation_ft,
                coverage=coverage.get(key, ()),
                unusable=unusable.get(key, ()),
                outages=outages.get(key, ()),
                power_w=row.power_w,
                restrictions=row.restrictions,
                last_confirmed=row.last_confirmed,
                source=row.source,
            )

        components = self._parts(tables.beacon_component, chosen, component_of)
        return (_beacon_of(row, components.get(row.id, ())) for row in rows)


def _beacon_of(row: Row, components: tuple[Component, ...]) -> Beacon:
    return Beacon(
        id=row.id,
        region_id=row.region_id,
        ident=row.ident,
        name=row.name,
        kind=BeaconKind(row.kind),
        frequency_khz=row.frequency_khz,
        channel=row.channel,
        position=position_of(row),
        elevation_ft=row.elevation_ft,
        antenna_height_ft=row.antenna_height_ft,
        alignment=Alignment(
            kind=AlignmentKind(row.alignment_kind),
            declination_deg=row.declination_deg,
            year=row.alignment_year,
            source=row.alignment_source,
        ),
        components=components,
        voice=row.voice,
        remarks=row.remarks,
        source=row.source,
        external_key=row.external_key,
    )


def _component_columns(part: Component) -> dict[str, Any]:
    return {
        "kind": part.kind.value,
        "status": part.status.value,
        "service_class": None if part.service_class is None else part.service_class.value,
        **position_columns(part.position),
        "elevation_ft": part.elevation_ft,
        "power_w": part.power_w,
        "restrictions": part.restrictions,
        "last_confirmed": part.last_confirmed,
        "source": part.source,
    }


def _coverage_columns(sector: CoverageSector) -> dict[str, Any]:
    return {
        "from_radial_deg": sector.from_radial_deg,
        "to_radial_deg": sector.to_radial_deg,
        "range_nm": sector.range_nm,
        "lowest_altitude_ft": sector.lowest_altitude_ft,
        "highest_altitude_ft": sector.highest_altitude_ft,
    }


def _coverage_of(row: Row) -> CoverageSector:
    return CoverageSector(
        from_radial_deg=row.from_radial_deg,
        to_radial_deg=row.to_radial_deg,
        range_nm=row.range_nm,
        lowest_altitude_ft=row.lowest_altitude_ft,
        highest_altitude_ft=row.highest_altitude_ft,
    )


def _unusable_columns(sector: UnusableSector) -> dict[str, Any]:
    return {
        "from_radial_deg": sector.from_radial_deg,
        "to_radial_deg": sector.to_radial_deg,
        "beyond_nm": sector.beyond_nm,
        "within_nm": sector.within_nm,
        "below_altitude_ft": sector.below_altitude_ft,
        "source": sector.source,
    }


def _unusable_of(row: Row) -> UnusableSector:
    return UnusableSector(
        from_radial_deg=row.from_radial_deg,
        to_radial_deg=row.to_radial_deg,
        beyond_nm=row.beyond_nm,
        within_nm=row.within_nm,
        below_altitude_ft=row.below_altitude_ft,
        source=row.source,
    )


def _outage_of(row: Row) -> Outage:
    return Outage(first_day=row.first_day, last_day=row.last_day, reason=row.reason)
