"""Everything one plan is made from, gathered in one read of the database, so that planning itself is free of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property
from typing import Protocol

import numpy as np

from server.navigation import Aircraft, Airfield, Checkpoint, ConicProjection, Position, Route, Variation, variation
from server.persistence import Library, RegionRecord, stored
from server.radio import STANDARD_DOUBT, Beacon, Ground, SightDoubt, SightTable, lowest_altitudes
from server.terrain import EmptyTerrain, TerrainStore
from server.units import feet_from_metres


class Clock(Protocol):
    """Tells the time; a fixed one in tests."""

    def __call__(self) -> datetime: ...


def utc_now() -> datetime:
    """The present moment, UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, kw_only=True)
class Materials:
    """One route, its region's places and beacons by id, its aircraft, the ground and how far it is trusted, and the day that decides
    variation and outages."""

    route: Route
    region: RegionRecord
    beacons: Mapping[int, Beacon]
    airfields: Mapping[int, Airfield]
    checkpoints: Mapping[int, Checkpoint]
    aircraft: Aircraft | None
    ground: Ground
    on: date
    doubt: SightDoubt = STANDARD_DOUBT
    see: Callable[..., SightTable] = lowest_altitudes
    """How the line of sight is found: by exact rays. Whatever is planned is kept or printed, so it has one truth; tables serve maps."""

    def variation_at(self, position: Position) -> Variation:
        """Local magnetic variation there on the day of the flight."""
        return variation(position, self.on)

    def estimated_declination_deg(self, beacon: Beacon) -> float:
        """What stands in for an alignment nobody published: the magnetic model at the station, on the day."""
        return self.variation_at(beacon.position).deg

    @cached_property
    def projection(self) -> ConicProjection:
        """The region's own chart projection, or one that fits its places."""
        positions = [beacon.position for beacon in self.beacons.values()] + [field.position for field in self.airfields.values()]
        return projection_of(self.region, positions)


def projection_of(region: RegionRecord, positions: Sequence[Position]) -> ConicProjection:
    """The region's own chart projection; where it states none, one that fits its box or, without a box, these positions."""
    lat_1, lat_2 = region.standard_parallel_1_deg, region.standard_parallel_2_deg
    lat_0, lon_0 = region.central_parallel_deg, region.central_meridian_deg
    if lat_1 is not None and lat_2 is not None and lat_0 is not None and lon_0 is not None:
        return ConicProjection(lat_1=lat_1, lat_2=lat_2, lat_0=lat_0, lon_0=lon_0)
    south, north, west, east = region.south_deg, region.north_deg, region.west_deg, region.east_deg
    if south is not None and north is not None and west is not None and east is not None:
        return ConicProjection.for_bounds(south=south, north=north, west=west, east=east)
    west, east = west_and_east_deg([position.lon_deg for position in positions])
    latitudes = [position.lat_deg for position in positions]
    return ConicProjection.for_bounds(south=min(latitudes), north=max(latitudes), west=west, east=east)


def west_and_east_deg(longitudes: Sequence[float]) -> tuple[float, float]:
    """Edges of the narrowest strip that holds all longitudes; west > east where it crosses the antimeridian. [deg]"""
    lon = sorted(longitudes)
    gaps_deg = [(after - before) % 360.0 for before, after in zip(lon, lon[1:] + lon[:1], strict=True)]
    before_widest = gaps_deg.index(max(gaps_deg))
    return lon[(before_widest + 1) % len(lon)], lon[before_widest]


NO_GROUND = EmptyTerrain()
"""One for all regions without ground, so that what is remembered of it is found again."""


def open_ground(terrain_store: TerrainStore, fingerprint: str) -> Ground:
    """The ground of this fingerprint; with none loaded, a ground that knows nothing."""
    return terrain_store.open(fingerprint) if fingerprint else NO_GROUND


def ground_ft_at(ground: Ground, position: Position) -> float | None:
    """The elevation of the ground at one place; None where it is not known. [ft]"""
    elevation_m = float(ground.elevations_m(lat_deg=np.array([position.lat_deg]), lon_deg=np.array([position.lon_deg]))[0])
    return None if np.isnan(elevation_m) else float(feet_from_metres(elevation_m))


def gather(library: Library, terrain_store: TerrainStore, route: int | Route, *, clock: Clock = utc_now) -> Materials:
    """Read all that planning this route needs. A route is given by its number, or as a value not yet stored."""
    with library.read() as work:
        route = work.routes.get(route) if isinstance(route, int) else route
        region = work.regions.get(route.region_id)
        beacons = {stored(beacon.id): beacon for beacon in work.beacons.list(route.region_id)}
        airfields = {stored(airfield.id): airfield for airfield in work.airfields.list(route.region_id)}
        checkpoints = {stored(checkpoint.id): checkpoint for checkpoint in work.checkpoints.list(route.region_id)}
        aircraft = work.aircraft.get(route.aircraft_id) if route.aircraft_id is not None else None
    return Materials(
        route=route,
        region=region,
        beacons=beacons,
        airfields=airfields,
        checkpoints=checkpoints,
        aircraft=aircraft,
        ground=open_ground(terrain_store, region.ground_fingerprint),
        on=(route.departure_utc or clock()).astimezone(UTC).date(),
        see=lowest_altitudes,
    )
