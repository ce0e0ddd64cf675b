"""Flights to plan, small and overridable: airfields, beacons, an aircraft, ground, and the materials made of them. All invented."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np

from server.navigation import (
    Aircraft,
    Airfield,
    Alignment,
    AlignmentKind,
    Checkpoint,
    CompassCardEntry,
    NorthReference,
    PointKind,
    Position,
    Route,
    RoutePoint,
    Variation,
    WindLayer,
    destination,
)
from server.persistence import Library, RegionRecord
from server.planning import Materials
from server.planning.log import NavigationLog
from server.radio import NO_DOUBT, Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, Ground, ServiceClass
from tests.builders import GridGround, flat_ground, ridge_ground
from tests.radio.radio_builders import EVERYWHERE, STRONG_W

DAY = date(2026, 8, 1)
OFF_BLOCKS = datetime(2026, 8, 1, 9, 0, tzinfo=UTC)
STILL_AIR = (WindLayer(altitude_ft=0.0, from_deg=0.0, speed_kt=0.0, reference=NorthReference.TRUE),)
FROM, TO = Position(lat_deg=43.5, lon_deg=-37.5), Position(lat_deg=43.5, lon_deg=-35.5)
MIDDLE = Position(lat_deg=43.5, lon_deg=-36.5)


class QuickGround(GridGround):
    """The same ground with its heights worked out in one go: a plan asks for a hundred thousand of them."""

    def elevations_m(self, *, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        rows, columns = self.posts.shape
        row, column = (self.north_lat_deg - lat_deg) / self.step_lat_deg, ((lon_deg - self.west_lon_deg) % 360.0) / self.step_lon_deg
        inside = (row >= 0) & (row <= rows - 1) & (column <= columns - 1)
        top, left = (np.clip(np.floor(at), 0, most - 2).astype(int) for at, most in ((row, rows), (column, columns)))
        down, right = row - top, column - left
        upper = self.posts[top, left] * (1 - right) + self.posts[top, left + 1] * right
        lower = self.posts[top + 1, left] * (1 - right) + self.posts[top + 1, left + 1] * right
        return np.where(inside, upper * (1 - down) + lower * down, np.nan)


def quick(ground: GridGround) -> QuickGround:
    return QuickGround(ground.posts, ground.north_lat_deg, ground.west_lon_deg, ground.step_lat_deg, ground.step_lon_deg)


def level(elevation_m: float = 0.0, **box: float) -> QuickGround:
    """Level ground, in the open Atlantic unless a box is given."""
    return quick(flat_ground(elevation_m, **box))


def ridge(ridge_m: float, lon_deg: float) -> QuickGround:
    """Ground at sea level with a ridge from north to south."""
    return quick(ridge_ground(0.0, ridge_m, ridge_lon_deg=lon_deg))


def an_airfield(number: int, ident: str, position: Position, **changes: Any) -> Airfield:
    fields = {"name": f"{ident.title()} Field", "elevation_ft": 0.0} | changes
    return Airfield(id=number, region_id=1, ident=ident, position=position, **fields)


def a_part(kind: ComponentKind, **changes: Any) -> Component:
    return Component(
        kind=kind,
        **(
            {"status": ComponentStatus.OPERATING, "coverage": EVERYWHERE, "power_w": STRONG_W, "last_confirmed": date(2026, 5, 1)} | changes
        ),
    )


def a_vor(ident: str, position: Position, *, number: int = 0, **changes: Any) -> Beacon:
    """A VOR at sea level, heard as far as its line of sight, turned 8 degrees west; numbered by its ident unless told."""
    fields = {
        "name": f"{ident.title()} Hill",
        "kind": BeaconKind.VOR,
        "frequency_khz": 113_000,
        "elevation_ft": 0.0,
        "antenna_height_ft": 100.0,
        "alignment": Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-8.0, year=2020),
        "components": (a_part(ComponentKind.AZIMUTH),),
    } | changes
    return Beacon(id=number or int.from_bytes(ident.encode()), region_id=1, ident=ident, position=position, **fields)


def an_ndb(ident: str, position: Position, **changes: Any) -> Beacon:
    parts = (a_part(ComponentKind.BEARING, coverage=(), service_class=ServiceClass.HH),)
    return a_vor(ident, position, **({"kind": BeaconKind.NDB, "frequency_khz": 373, "components": parts} | changes))


def a_tourer(**changes: Any) -> Aircraft:
    fields = {
        "registration": "QV-ONE",
        "cruise_speed_kt": 100.0,
        "cruise_fuel_l_per_h": 30.0,
        "climb_speed_kt": 75.0,
        "climb_rate_ft_per_min": 600.0,
        "climb_fuel_l_per_h": 40.0,
        "taxi_fuel_l": 4.0,
        "usable_fuel_l": 150.0,
    } | changes
    return Aircraft(id=1, **fields)


def card_of(deviation_deg: float) -> tuple[CompassCardEntry, ...]:
    """A compass card that adds the same to every heading."""
    return tuple(CompassCardEntry(magnetic_deg=heading, steer_deg=(heading + deviation_deg) % 360.0) for heading in (0.0, 180.0))


def over(beacon: Beacon) -> RoutePoint:
    return RoutePoint(kind=PointKind.BEACON, place_id=beacon.id)


def at(position: Position, name: str = "") -> RoutePoint:
    return RoutePoint(kind=PointKind.POSITION, position=position, name=name)


@dataclass(frozen=True, kw_only=True)
class StatedVariation(Materials):
    """Materials whose variation is the one a published example prints, not that of the model."""

    stated_deg: float

    def variation_at(self, position: Position) -> Variation:
        return Variation(
            deg=self.stated_deg, model="printed", model_valid=True, weak_horizontal=False, unreliable_horizontal=False, uncertainty_deg=0.0
        )


def materials_for(
    *points: RoutePoint,
    beacons: Iterable[Beacon] = (),
    start: Position = FROM,
    end: Position = TO,
    aircraft: Aircraft | None = None,
    ground: Ground | None = None,
    checkpoints: Iterable[Checkpoint] = (),
    variation_deg: float | None = None,
    departure: dict[str, Any] | None = None,
    arrival: dict[str, Any] | None = None,
    region: dict[str, Any] | None = None,
    on: date = DAY,
    **flight: Any,
) -> Materials:
    """A complete flight from one airfield to another at 6,500 ft, sight taken as certain; give what matters and change the rest."""
    aircraft_given = aircraft or a_tourer()
    route = Route(
        **{
            "region_id": 1,
            "name": "There",
            "departure_airfield_id": 1,
            "destination_airfield_id": 2,
            "points": points,
            "altitude_ft": 6500.0,
            "departure_utc": OFF_BLOCKS,
            "aircraft_id": 1,
            "winds": STILL_AIR,
            "fuel_on_board_l": 120.0,
            "reserve_rule": "us-day",
            **flight,
        }
    )
    made = Materials if variation_deg is None else StatedVariation
    stated = {} if variation_deg is None else {"stated_deg": variation_deg}
    fields = (an_airfield(1, "QFRO", start, **(departure or {})), an_airfield(2, "QTOO", end, **(arrival or {})))
    return made(
        route=route,
        region=RegionRecord(id=1, slug="skerry", name="Skerry", fictional=True, **(region or {})),
        beacons={beacon.id: beacon for beacon in beacons},
        airfields={field.id: field for field in fields},
        checkpoints={checkpoint.id: checkpoint for checkpoint in checkpoints},
        aircraft=aircraft_given if route.aircraft_id is not None else None,
        ground=ground if ground is not None else level(),
        on=on,
        doubt=NO_DOUBT,
        **stated,
    )


def leg_centred(track_true_deg: float, length_nm: float, middle: Position = MIDDLE) -> tuple[Position, Position]:
    """The ends of a leg of this length whose track at its middle is the one given."""
    half = length_nm / 2.0
    return (
        destination(middle, bearing_true_deg=track_true_deg + 180.0, distance_nm=half),
        destination(middle, bearing_true_deg=track_true_deg, distance_nm=half),
    )


def codes(log: NavigationLog) -> set[str]:
    """The codes of all notes of a log."""
    return {note.code for note in (*log.notes, *(note for leg in log.legs for note in leg.notes))}


def words(log: NavigationLog, code: str) -> str:
    """The words of the only note of this code."""
    (note,) = [note for note in (*log.notes, *(note for leg in log.legs for note in leg.notes)) if note.code == code]
    return note.message


class NoTables:
    """No crest table is ever at hand."""

    def find(self, *_asked) -> None:
        return None


class GroundInHand:
    """Stands in for a terrain store: whatever is asked for, it opens the one ground it holds."""

    def __init__(self, ground: Ground):
        self.ground, self.crests = ground, NoTables()

    def open(self, _fingerprint: str) -> Ground:
        return self.ground


@dataclass(frozen=True, kw_only=True)
class Shelved:
    """A region in a database: the numbers it gave to beacons and airfields, by ident."""

    region: RegionRecord
    beacons: dict[str, int]
    airfields: dict[str, int]
    aircraft: int


def shelve(library: Library, *, beacons: Iterable[Beacon], airfields: Iterable[Airfield], aircraft: Aircraft) -> Shelved:
    """Put a region into a database. What the values call their own numbers is left out of account."""

    with library.begin() as work:
        region = work.regions.add(RegionRecord(slug="skerry", name="Skerry", fictional=True, ground_fingerprint="in hand"))
        kept = [work.beacons.add(replace(beacon, id=None, region_id=region.id)) for beacon in beacons]
        fields = [work.airfields.add(replace(airfield, id=None, region_id=region.id)) for airfield in airfields]
        number = work.aircraft.add(replace(aircraft, id=None)).id
    return Shelved(
        region=region,
        beacons={beacon.ident: beacon.id for beacon in kept},
        airfields={airfield.ident: airfield.id for airfield in fields},
        aircraft=number,
    )
