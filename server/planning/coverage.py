"""Use cases of reception without a route: where one beacon is received, and what is heard at one place."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date

import numpy as np

from server.errors import InputProblem, NotFound
from server.navigation import ConicProjection, Position, variation
from server.persistence import Library, RegionRecord, stored
from server.planning.crest_work import FACTORS, MOST_UNASKED, antennas_of
from server.planning.guidance import guiding_component
from server.planning.materials import Clock, open_ground, projection_of, utc_now, west_and_east_deg
from server.planning.plan import HIGHEST_PLANNED_FT
from server.radio import (
    Beacon,
    ChosenHeight,
    ComponentKind,
    Coverage,
    FixCover,
    Ground,
    TableSights,
    coverage_of,
    fix_cover_of,
)
from server.terrain import TerrainStore

LOWEST_FT = -1500.0
MARGIN_DEG = 0.5
"""Room round the places of a region that states no box."""
CELLS_ACROSS = 120
"""Cells along the longer side of a region's chart of fixes."""


@dataclass(frozen=True, kw_only=True, eq=False)
class BeaconCoverage:
    """Where a beacon is received on a day, and what a chart of it is drawn from."""

    region: RegionRecord
    coverage: Coverage
    projection: ConicProjection
    ground: Ground
    on: date
    estimated_declination_deg: float
    """What stands in for the station's alignment where it is not known. [deg]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class RegionFixes:
    """How many beacons are received where in a region on a day, and what a chart of it is drawn from."""

    region: RegionRecord
    cover: FixCover
    beacons: tuple[Beacon, ...]
    """Those that were asked: all that a VOR receiver can use."""
    projection: ConicProjection
    ground: Ground
    on: date


def beacon_coverage(
    library: Library,
    terrain_store: TerrainStore,
    region_slug: str,
    beacon_id: int,
    *,
    altitude_ft: float,
    above_ground: bool,
    component: ComponentKind | None = None,
    clock: Clock = utc_now,
) -> BeaconCoverage:
    """Find out where one part of a beacon is received; without a choice its azimuth or bearing, or the only part it has.

    Raises
    ------
    InputProblem
        The height is impossible (code altitude), or the beacon has no part (code no-such-part).
    NotFound
        The region has no such beacon.
    OutOfRange
        Its range comes too near to a pole (code coverage-near-pole).
    """
    check_height(altitude_ft, above_ground=above_ground)
    with library.read() as work:
        region = work.regions.by_slug(region_slug)
        beacon = work.beacons.get(beacon_id)
    if beacon.region_id != region.id:
        raise NotFound(f"{region.name} has no beacon number {beacon_id}. Choose one from the list.")
    ground, on = open_ground(terrain_store, region.ground_fingerprint), clock().astimezone(UTC).date()
    coverage = coverage_of(
        beacon=beacon,
        component=component or _part_to_draw(beacon),
        height=ChosenHeight(feet=altitude_ft, above_ground=above_ground),
        ground=ground,
        on=on,
        estimated_declination_deg=_variation_on(on)(beacon),
        see=TableSights(terrain_store.crests.get).lowest_altitudes,
    )
    return BeaconCoverage(
        region=region,
        coverage=coverage,
        projection=projection_of(region, [beacon.position]),
        ground=ground,
        on=on,
        estimated_declination_deg=_variation_on(on)(beacon),
    )


def region_fixes(
    library: Library, terrain_store: TerrainStore, region_slug: str, *, altitude_ft: float, above_ground: bool, clock: Clock = utc_now
) -> RegionFixes:
    """Count how many beacons are received where in a region.

    Crest tables that are not at hand are made on the way, a tenth of a second each.

    Raises
    ------
    InputProblem
        The height is impossible (code altitude), the region has no place that a chart could be drawn round (code region-empty), or more
        beacons than crest tables are kept for (code region-too-large).
    """
    check_height(altitude_ft, above_ground=above_ground)
    with library.read() as work:
        region = work.regions.by_slug(region_slug)
        beacons = tuple(beacon for beacon in work.beacons.list(stored(region.id)) if beacon.guides_vor_receiver)
        places = [beacon.position for beacon in beacons] + [field.position for field in work.airfields.list(stored(region.id))]
    if not places:
        raise InputProblem(f"{region.name} holds no beacon and no airfield yet: load or add some first.", code="region-empty")
    if len(beacons) > MOST_UNASKED:
        text = f"{region.name} holds {len(beacons)} beacons; fixes are charted for up to {MOST_UNASKED}. Make a smaller region of it."
        raise InputProblem(text, code="region-too-large")
    ground, on = open_ground(terrain_store, region.ground_fingerprint), clock().astimezone(UTC).date()
    lat_deg, lon_deg = _lattice_over(region, places)
    cover = fix_cover_of(
        beacons=beacons,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        height=ChosenHeight(feet=altitude_ft, above_ground=above_ground),
        ground=ground,
        on=on,
        estimated_declination_deg=_variation_on(on),
        see=TableSights(terrain_store.crests.get).lowest_altitudes,
    )
    return RegionFixes(region=region, cover=cover, beacons=beacons, projection=projection_of(region, places), ground=ground, on=on)


def tables_missing(library: Library, terrain_store: TerrainStore, region_slug: str) -> int:
    """How many crest tables a region's chart of fixes would have to make first."""
    with library.read() as work:
        region = work.regions.by_slug(region_slug)
        beacons = [beacon for beacon in work.beacons.list(stored(region.id)) if beacon.guides_vor_receiver]
    if not region.ground_fingerprint:
        return 0
    ground = open_ground(terrain_store, region.ground_fingerprint)
    return sum(
        not terrain_store.crests.has(antenna, ground, factor)
        for beacon in beacons
        for antenna in antennas_of(beacon, ground)
        for factor in FACTORS
    )


def _lattice_over(region: RegionRecord, places: list[Position]) -> tuple[np.ndarray, np.ndarray]:
    """Cell centres over the region's box, or over its places where it has none: square cells, CELLS_ACROSS along the longer side."""
    south, north, west, east = region.south_deg, region.north_deg, region.west_deg, region.east_deg
    if south is None or north is None or west is None or east is None:
        west, east = west_and_east_deg([place.lon_deg for place in places])
        latitudes = [place.lat_deg for place in places]
        south, north = min(latitudes) - MARGIN_DEG, max(latitudes) + MARGIN_DEG
        west, east = west - MARGIN_DEG, east + MARGIN_DEG
    span_lon_deg = (east - west) % 360.0 or 360.0
    wide = span_lon_deg * math.cos(math.radians((south + north) / 2.0))
    cell_deg = max(wide, north - south) / CELLS_ACROSS
    rows, columns = max(1, round((north - south) / cell_deg)), max(1, round(wide / cell_deg))
    lat_deg = north - (np.arange(rows) + 0.5) / rows * (north - south)
    return lat_deg, west + (np.arange(columns) + 0.5) / columns * span_lon_deg


def _part_to_draw(beacon: Beacon) -> ComponentKind:
    guiding = guiding_component(beacon)
    if guiding is not None:
        return guiding
    if not beacon.components:
        raise InputProblem(f"{beacon.ident} has no part that sends anything: there is nothing to draw. Add its parts.", code="no-such-part")
    return beacon.components[0].kind


def check_height(feet: float, *, above_ground: bool) -> None:
    """Raise InputProblem (code altitude) where reception cannot be asked for at a height. [ft]"""
    lowest_ft = 0.0 if above_ground else LOWEST_FT
    if not lowest_ft <= feet <= HIGHEST_PLANNED_FT:
        what = "above the ground" if above_ground else "above sea level"
        text = f"{feet:g} ft {what} is not a height to ask for: give {lowest_ft:,.0f} to {HIGHEST_PLANNED_FT:,.0f} ft."
        raise InputProblem(text, code="altitude", place="altitude_ft")


def _variation_on(on: date) -> Callable[[Beacon], float]:
    return lambda beacon: variation(beacon.position, on).deg
