"""A small invented region for the pages: five beacons, four airfields, two checkpoints, an aircraft, a ridge of ground."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

from server.navigation import (
    Aircraft,
    Airfield,
    Alignment,
    AlignmentKind,
    Checkpoint,
    CompassCardEntry,
    NorthReference,
    Position,
    Route,
    Runway,
    WindLayer,
)
from server.persistence import Library, RegionRecord
from server.radio import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, Outage, ServiceClass, UnusableSector
from server.terrain import TerrainStore

STEP_DEG = 1.0 / 60.0
WEST_DEG, NORTH_DEG = -37.0, 44.0
CREST_LON_DEG = -36.05
CREST_M = 1500.0


@dataclass(frozen=True, kw_only=True)
class SmallRegion:
    """Numbers of what the region holds, by ident or name."""

    region: RegionRecord
    beacons: dict[str, int]
    airfields: dict[str, int]
    checkpoints: dict[str, int]
    aircraft: int


def build_small_region(library: Library, terrain_store: TerrainStore, scratch: Path) -> SmallRegion:
    """Put the region into the library and its ground into the store."""
    fingerprint = terrain_store.load([ridge_tile(scratch)]).fingerprint
    with library.begin() as work:
        region = work.regions.add(
            RegionRecord(
                slug="brinna",
                name="Brinna Banks",
                fictional=True,
                ground_fingerprint=fingerprint,
                south_deg=43.0,
                north_deg=44.0,
                west_deg=-37.0,
                east_deg=-35.0,
            )
        )
        beacons = {beacon.ident: work.beacons.add(beacon).id for beacon in small_beacons(region.id)}
        airfields = {airfield.ident: work.airfields.add(airfield).id for airfield in small_airfields(region.id)}
        checkpoints = {checkpoint.name: work.checkpoints.add(checkpoint).id for checkpoint in small_checkpoints(region.id)}
        aircraft = work.aircraft.add(a_tourer()).id
    return SmallRegion(region=region, beacons=beacons, airfields=airfields, checkpoints=checkpoints, aircraft=aircraft)


def ridge_tile(folder: Path) -> Path:
    """Write a GeoTIFF of 2 x 1 degrees at one minute: rolling ground, and a ridge from north to south along 36 03 W."""
    folder.mkdir(parents=True, exist_ok=True)
    lon = WEST_DEG + STEP_DEG * np.arange(121)
    lat = NORTH_DEG - STEP_DEG * np.arange(61)
    ridge = CREST_M * np.exp(-(((lon - CREST_LON_DEG) / 0.06) ** 2))
    ground = (120 + 60 * np.sin(lat[:, None] * 30) * np.cos(lon[None, :] * 25) + ridge[None, :]).astype("int16")
    file = folder / "ridge.tif"
    profile = {"driver": "GTiff", "width": 121, "height": 61, "count": 1, "dtype": "int16", "crs": "EPSG:4326", "nodata": -32768}
    with warnings.catch_warnings():  # the two libraries below disagree about an operator
        warnings.simplefilter("ignore", PendingDeprecationWarning)
        transform = from_origin(WEST_DEG - STEP_DEG / 2, NORTH_DEG + STEP_DEG / 2, STEP_DEG, STEP_DEG)
        with rasterio.open(file, "w", transform=transform, **profile) as out:
            out.write(ground, 1)
            out.units = ("metre",)
    return file


def a_component(kind: ComponentKind, service_class: ServiceClass | None, **changes) -> Component:
    fields = {"status": ComponentStatus.OPERATING, "last_confirmed": date(2026, 2, 1), "source": "invented"}
    return Component(kind=kind, service_class=service_class, **{**fields, **changes})


def small_beacons(region_id: int) -> tuple[Beacon, ...]:
    azimuth, distance, bearing = ComponentKind.AZIMUTH, ComponentKind.DISTANCE, ComponentKind.BEARING
    magnetic = Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-14.0, year=1998, source="invented")

    def vor(ident, name, lat_deg, lon_deg, khz, channel, **changes):
        parts = (a_component(azimuth, ServiceClass.L), a_component(distance, ServiceClass.DL))
        fields = {
            "kind": BeaconKind.VOR_DME,
            "alignment": magnetic,
            "components": parts,
            "elevation_ft": 500.0,
            "frequency_khz": khz,
            "channel": channel,
        }
        return Beacon(
            region_id=region_id, ident=ident, name=name, position=Position(lat_deg=lat_deg, lon_deg=lon_deg), **{**fields, **changes}
        )

    sector = UnusableSector(from_radial_deg=340.0, to_radial_deg=20.0, beyond_nm=20.0, below_altitude_ft=5000.0, source="invented")
    outage = Outage(first_day=date(2026, 6, 1), last_day=date(2026, 6, 14), reason="mast painting")
    return (
        vor("KEV", "Kevlin", 43.40, -36.60, 113_350, "80Y"),
        vor("DRO", "Drosk", 43.55, -36.30, 114_700, "94X", components=(a_component(azimuth, ServiceClass.L, unusable=(sector,)),)),
        vor("PYL", "Pyle Head", 43.50, -35.60, 115_200, "99X", components=(a_component(azimuth, ServiceClass.L, outages=(outage,)),)),
        vor("OST", "Ostrey", 43.20, -35.30, 112_500, "72X", alignment=Alignment(kind=AlignmentKind.UNKNOWN)),
        Beacon(
            region_id=region_id,
            ident="NB",
            name="Nubb Point",
            kind=BeaconKind.NDB,
            frequency_khz=373,
            position=Position(lat_deg=43.3, lon_deg=-36.9),
            alignment=Alignment(kind=AlignmentKind.UNKNOWN),
            components=(a_component(bearing, ServiceClass.MH),),
        ),
    )


def small_airfields(region_id: int) -> tuple[Airfield, ...]:
    def airfield(ident, name, lat_deg, lon_deg, **changes):
        fields = {
            "elevation_ft": 420.0,
            "time_zone": "Atlantic/Azores",
            "runways": (Runway(designator="09/27", length_m=900.0, surface="grass"),),
        }
        return Airfield(
            region_id=region_id, ident=ident, name=name, position=Position(lat_deg=lat_deg, lon_deg=lon_deg), **{**fields, **changes}
        )

    return (
        airfield("BRWE", "Brinna West", 43.35, -36.85),
        airfield("BREA", "Brinna East", 43.30, -35.20),
        airfield("BRMI", "Midholm", 43.65, -36.10),
        airfield("BRCL", "Closter", 43.10, -36.00, closed=True),
    )


def small_checkpoints(region_id: int) -> tuple[Checkpoint, ...]:
    return (
        Checkpoint(region_id=region_id, name="Long Mere", feature="lake", position=Position(lat_deg=43.45, lon_deg=-36.45)),
        Checkpoint(region_id=region_id, name="Gap of Hask", feature="pass", position=Position(lat_deg=43.52, lon_deg=-36.05)),
    )


def a_tourer() -> Aircraft:
    return Aircraft(
        registration="BX-TRA",
        type_name="four-seat tourer",
        cruise_speed_kt=105.0,
        cruise_fuel_l_per_h=32.0,
        climb_speed_kt=75.0,
        climb_rate_ft_per_min=600.0,
        climb_fuel_l_per_h=42.0,
        taxi_fuel_l=4.0,
        usable_fuel_l=140.0,
        compass_card=(CompassCardEntry(magnetic_deg=0.0, steer_deg=2.0), CompassCardEntry(magnetic_deg=180.0, steer_deg=178.0)),
    )


def a_route(small: SmallRegion, **changes) -> Route:
    """A flight from west to east with all that a complete log needs."""
    fields = {
        "region_id": small.region.id,
        "name": "West to east",
        "departure_airfield_id": small.airfields["BRWE"],
        "destination_airfield_id": small.airfields["BREA"],
        "altitude_ft": 7500.0,
        "departure_utc": datetime(2026, 4, 11, 9, 30, tzinfo=UTC),
        "aircraft_id": small.aircraft,
        "winds": (WindLayer(altitude_ft=6000.0, from_deg=300.0, speed_kt=18.0, reference=NorthReference.TRUE),),
        "isa_deviation_c": 0.0,
        "fuel_on_board_l": 120.0,
        "reserve_rule": "icao-day",
    }
    return Route(**{**fields, **changes})
