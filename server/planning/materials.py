"""Everything one plan is made from, gathered in one read of the database, so that planning itself is free of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cached_property
from typing import Protocol

from server.navigation import Aircraft, Airfield, Checkpoint, ConicProjection, Position, Route, Variation, variation
from server.persistence import Library, RegionRecord
from server.radio import Beacon, Ground
from server.terrain import EmptyTerrain, TerrainStore


class Clock(Protocol):
    """Tells the time; a fixed one in tests."""

    def __call__(self) -> datetime: ...


def utc_now() -> datetime:
    """The present moment, UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, kw_only=True)
class Materials:
    """One route, its region's places and beacons by id, its aircraft, the ground, and the day that decides variation and outages."""

    route: Route
    region: RegionRecord
    beacons: Mapping[int, Beacon]
    airfields: Mapping[int, Airfield]
    checkpoints: Mapping[int, Checkpoint]
    aircraft: Aircraft | None
    ground: Ground
    on: date
    _declinations_deg: dict[Position, float] = field(default_factory=dict, repr=False)

    def variation_at(self, position: Position) -> Variation:
        """Local magnetic variation there on the day of the flight."""
        return variation(position, self.on)

    def estimated_declination_deg(self, beacon: Beacon) -> float:
        """What stands in for an alignment nobody published: the magnetic model at the station, on the day."""
        place = beacon.position
        if place not in self._declinations_deg:
            self._declinations_deg[place] = self.variation_at(place).deg
        return self._declinations_deg[place]

    @cached_property
    def projection(self) -> ConicProjection:
        """The region's own chart projection."""
        region = self.region
        given = (
            region.standard_parallel_1_deg,
            region.standard_parallel_2_deg,
            region.central_parallel_deg,
            region.central_meridian_deg,
        )
        if all(value is not None for value in given):
            lat_1, lat_2, lat_0, lon_0 = given
            return ConicProjection(lat_1=lat_1, lat_2=lat_2, lat_0=lat_0, lon_0=lon_0)
        places = [place.position for place in (*self.beacons.values(), *self.airfields.values())]
        south = region.south_deg if region.south_deg is not None else min(place.lat_deg for place in places)
        north = region.north_deg if region.north_deg is not None else max(place.lat_deg for place in places)
        west = region.west_deg if region.west_deg is not None else min(place.lon_deg for place in places)
        east = region.east_deg if region.east_deg is not None else max(place.lon_deg for place in places)
        return ConicProjection.for_bounds(south=south, north=north, west=west, east=east)


def open_ground(terrain_store: TerrainStore, fingerprint: str) -> Ground:
    """The ground of this fingerprint; with none loaded, a ground that knows nothing."""
    return terrain_store.open(fingerprint) if fingerprint else EmptyTerrain()


def gather(library: Library, terrain_store: TerrainStore, route: int | Route, *, clock: Clock = utc_now) -> Materials:
    """Read all that planning this route needs. A route is given by its number, or as a value not yet stored."""
    with library.read() as work:
        route = work.routes.get(route) if isinstance(route, int) else route
        region = work.regions.get(route.region_id)
        beacons = {beacon.id: beacon for beacon in work.beacons.list(region.id)}
        airfields = {airfield.id: airfield for airfield in work.airfields.list(region.id)}
        checkpoints = {checkpoint.id: checkpoint for checkpoint in work.checkpoints.list(region.id)}
        aircraft = work.aircraft.get(route.aircraft_id) if route.aircraft_id is not None else None
    return Materials(
        route=route,
        region=region,
        beacons=beacons,
        airfields=airfields,
        checkpoints=checkpoints,
        aircraft=aircraft,
        ground=open_ground(terrain_store, region.ground_fingerprint),
        on=(route.departure_utc or clock()).date(),
    )
