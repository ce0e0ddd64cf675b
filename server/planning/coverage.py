"""Use cases of reception without a route: where one beacon is received, and what is heard at one place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date

import numpy as np

from server.errors import InputProblem, NotFound
from server.navigation import ConicProjection, Position, variation
from server.persistence import Library, RegionRecord, stored
from server.planning.guidance import guiding_component
from server.planning.materials import Clock, open_ground, projection_of, utc_now
from server.planning.plan import HIGHEST_PLANNED_FT
from server.radio import Beacon, ChosenHeight, ComponentKind, Coverage, Ground, HeardPart, coverage_of, heard_at
from server.terrain import TerrainStore
from server.units import feet_from_metres

LOWEST_FT = -1500.0


@dataclass(frozen=True, kw_only=True, eq=False)
class BeaconCoverage:
    """Where a beacon is received on a day, and what a chart of it is drawn from."""

    region: RegionRecord
    coverage: Coverage
    projection: ConicProjection
    ground: Ground
    on: date


@dataclass(frozen=True, kw_only=True)
class HeardHere:
    """Every part of every beacon of a region asked at one place on a day, best first."""

    region: RegionRecord
    position: Position
    altitude_ft: float
    ground_ft: float | None
    on: date
    parts: tuple[HeardPart, ...]


def beacon_coverage(
    library: Library,
    terrain_store: TerrainStore,
    region_slug: str,
    beacon_id: int,
    *,
    altitude_ft: float,
    above_ground: bool,
    clock: Clock = utc_now,
) -> BeaconCoverage:
    """Find out where a beacon's guiding part is received: its azimuth or bearing, or the only part it has.

    Raises
    ------
    InputProblem
        The height is impossible (code altitude), or the beacon has no part (code no-such-part).
    NotFound
        The region has no such beacon.
    OutOfRange
        Its range comes too near to a pole (code coverage-near-pole).
    """
    _check_height(altitude_ft, above_ground=above_ground)
    with library.read() as work:
        region = work.regions.by_slug(region_slug)
        beacon = work.beacons.get(beacon_id)
    if beacon.region_id != region.id:
        raise NotFound(f"{region.name} has no beacon number {beacon_id}. Choose one from the list.")
    ground, on = open_ground(terrain_store, region.ground_fingerprint), clock().astimezone(UTC).date()
    coverage = coverage_of(
        beacon=beacon,
        component=_part_to_draw(beacon),
        height=ChosenHeight(feet=altitude_ft, above_ground=above_ground),
        ground=ground,
        on=on,
        estimated_declination_deg=_variation_on(on)(beacon),
    )
    return BeaconCoverage(region=region, coverage=coverage, projection=projection_of(region, [beacon.position]), ground=ground, on=on)


def heard_here(
    library: Library, terrain_store: TerrainStore, region_slug: str, position: Position, altitude_ft: float, *, clock: Clock = utc_now
) -> HeardHere:
    """List what is heard of a region's beacons at a place and altitude above sea level.

    Raises
    ------
    InputProblem
        The altitude is impossible (code altitude) or lies below the ground there (code below-ground).
    """
    _check_height(altitude_ft, above_ground=False)
    with library.read() as work:
        region = work.regions.by_slug(region_slug)
        beacons = work.beacons.list(stored(region.id))
    ground, on = open_ground(terrain_store, region.ground_fingerprint), clock().astimezone(UTC).date()
    ground_ft = _ground_ft(ground, position)
    if ground_ft is not None and altitude_ft < ground_ft:
        text = f"{altitude_ft:,.0f} ft is below the ground there, which stands at {ground_ft:,.0f} ft. Give a higher altitude."
        raise InputProblem(text, code="below-ground", place="altitude_ft")
    parts = heard_at(
        beacons=beacons, position=position, altitude_ft=altitude_ft, ground=ground, on=on, estimated_declination_deg=_variation_on(on)
    )
    return HeardHere(region=region, position=position, altitude_ft=altitude_ft, ground_ft=ground_ft, on=on, parts=parts)


def _part_to_draw(beacon: Beacon) -> ComponentKind:
    guiding = guiding_component(beacon)
    if guiding is not None:
        return guiding
    if not beacon.components:
        raise InputProblem(f"{beacon.ident} has no part that sends anything: there is nothing to draw. Add its parts.", code="no-such-part")
    return beacon.components[0].kind


def _check_height(feet: float, *, above_ground: bool) -> None:
    lowest_ft = 0.0 if above_ground else LOWEST_FT
    if not lowest_ft <= feet <= HIGHEST_PLANNED_FT:
        what = "above the ground" if above_ground else "above sea level"
        text = f"{feet:g} ft {what} is not a height to ask for: give {lowest_ft:,.0f} to {HIGHEST_PLANNED_FT:,.0f} ft."
        raise InputProblem(text, code="altitude", place="altitude_ft")


def _variation_on(on: date) -> Callable[[Beacon], float]:
    return lambda beacon: variation(beacon.position, on).deg


def _ground_ft(ground: Ground, position: Position) -> float | None:
    elevation_m = float(ground.elevations_m(lat_deg=np.array([position.lat_deg]), lon_deg=np.array([position.lon_deg]))[0])
    return None if np.isnan(elevation_m) else feet_from_metres(elevation_m)
