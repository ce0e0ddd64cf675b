"""The line of sight along a 300 NM route of 8 legs, from every beacon of the sample region in reach: tables beside sampled profiles.

Run: python -m tests.benchmarks.survey

Points lie every 0.2 NM along the legs, as a survey first takes them. Warm means that the crest tables are made and open, as they are once
a region is loaded. Beside them: the straightforward way in NumPy, for each point and beacon a profile of samples every 90 m on the
geodesic, bilinear ground under each, and the highest slope; every 20th point of it is worked out, and the time multiplied. Exact rays, one
to a point, are timed too, and a whole survey with volumes, sectors, bands and field strength. Processor times. The last line is one JSON
object.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Callable
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np

from server.navigation import Position, destination, inverse, points_along
from server.navigation.geodesy import MEAN_EARTH_RADIUS_M, bearings_and_distances, destinations
from server.persistence import Library
from server.planning.load_region import load_region
from server.radio import STANDARD_DOUBT, Antenna, Beacon, ComponentKind, LegPath, lowest_altitudes, survey_leg
from server.radio.crest_table import REACH_M
from server.radio.horizon import STANDARD_K
from server.radio.sight import CLEAR_DISC_M
from server.radio.sights import TableSights
from server.radio.survey import antenna_of
from server.settings import PROJECT_ROOT
from server.terrain import Terrain, TerrainStore
from server.terrain.crest_store import CrestStore
from server.units import metres_from_nautical_miles

LEGS, ROUTE_NM, ALTITUDE_FT = 8, 300.0, 7_500.0
MIDDLE = Position(lat_deg=43.6, lon_deg=-36.0)
STEP_NM = 0.2
SAMPLE_M = 90.0
SAMPLED_SHARE = 20
RADIUS_M = STANDARD_K * MEAN_EARTH_RADIUS_M
REPEATS = 7


def sample_region(folder: Path) -> tuple[Terrain, list[Beacon]]:
    """The ground and the beacons of the sample region."""
    library = Library.open(f"sqlite:///{folder / 'region.sqlite3'}")
    library.migrate(PROJECT_ROOT / "migrations")
    store = TerrainStore(folder / "terrain")
    region = load_region(library, store, PROJECT_ROOT / "sample_region").region
    with library.read() as work:
        beacons = list(work.beacons.list(region.id))
    library.close()
    assert region.ground_fingerprint is not None
    return store.open(region.ground_fingerprint), beacons


def route() -> list[LegPath]:
    """Eight legs of 37.5 NM, an octagon round the middle of the region."""
    radius_nm = ROUTE_NM / LEGS / 2.0 / np.sin(np.pi / LEGS)
    turns = [destination(MIDDLE, bearing_true_deg=k * 360.0 / LEGS, distance_nm=radius_nm) for k in range(LEGS + 1)]
    legs = []
    for start, end in pairwise(turns):
        length_nm = inverse(start, end).distance_m / metres_from_nautical_miles(1.0)
        legs.append(LegPath(start=start, end=end, distance_nm=length_nm, profile=((0.0, ALTITUDE_FT), (length_nm, ALTITUDE_FT))))
    return legs


def antennas_in_reach(beacons: list[Beacon], legs: list[LegPath], ground: Terrain) -> dict[Antenna, tuple[Beacon, ComponentKind]]:
    """Antennas that work along the line of sight and are within 130 NM of the start of some leg; one for each beacon."""
    found = {}
    for beacon in beacons:
        for kind in (ComponentKind.AZIMUTH, ComponentKind.DISTANCE):
            component = beacon.component(kind)
            antenna = None if component is None else antenna_of(beacon, component, ground)
            if antenna is not None and any(inverse(antenna.position, leg.start).distance_m <= REACH_M for leg in legs):
                found[antenna] = (beacon, kind)
                break
    return found


def sampled_altitudes_m(antenna: Antenna, lat_deg: np.ndarray, lon_deg: np.ndarray, ground: Terrain) -> np.ndarray:
    """Lowest altitudes in sight by NumPy: samples every 90 m on the geodesic to each point."""
    bearing_true_deg, distance_nm = bearings_and_distances(antenna.position, lat_deg, lon_deg)
    altitude_m = np.empty(lat_deg.size)
    for k, (bearing, end_m) in enumerate(zip(bearing_true_deg, metres_from_nautical_miles(distance_nm), strict=True)):
        d = np.append(np.arange(CLEAR_DISC_M, end_m, SAMPLE_M), end_m)
        lat, lon = destinations(antenna.position, bearing_true_deg=bearing, distance_m=d)
        z = ground.elevations_m(lat_deg=lat, lon_deg=lon)
        slope = np.nanmax((z - antenna.altitude_m) / d - d / (2.0 * RADIUS_M))
        altitude_m[k] = antenna.altitude_m + end_m * (slope + end_m / (2.0 * RADIUS_M))
    return altitude_m


def median_ms(work: Callable[[], object], repeats: int = REPEATS) -> float:
    times = []
    for _ in range(repeats):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return float(np.median(times)) * 1000.0


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        ground, beacons = sample_region(Path(name))
        legs = route()
        antennas = antennas_in_reach(beacons, legs, ground)
        store = CrestStore(Path(name) / "crests")
        begin = time.perf_counter()
        factors = (STANDARD_K, STANDARD_DOUBT.weak_k, STANDARD_DOUBT.strong_k)
        store.build_all(antennas, ground, effective_earth_factors=factors)
        build_s = time.perf_counter() - begin
        print(json.dumps(measure(ground, legs, antennas, TableSights(store.find).lowest_altitudes) | {"build_s": round(build_s, 2)}))


def measure(ground: Terrain, legs: list[LegPath], antennas: dict[Antenna, tuple[Beacon, ComponentKind]], see: Callable) -> dict:
    points = [points_along(leg.start, leg.end, np.arange(0.0, leg.distance_nm, STEP_NM)) for leg in legs]

    def seen_with(way: Callable, every: int = 1) -> list[np.ndarray]:
        return [
            way(antenna=antenna, lat_deg=lat_deg[::every], lon_deg=lon_deg[::every], ground=ground)
            for antenna in antennas
            for lat_deg, lon_deg in points
        ]

    def surveyed(**how) -> list:
        return [
            survey_leg(beacon=beacon, component=kind, path=leg, ground=ground, on=date(2026, 6, 16), estimated_declination_deg=-11.0, **how)
            for beacon, kind in antennas.values()
            for leg in legs
        ]

    def joined(tables: list) -> np.ndarray:
        return np.concatenate([table.lowest_altitude_m for table in tables])

    table_m, exact_m = joined(seen_with(see)), joined(seen_with(lowest_altitudes))
    sampled_m = np.concatenate(seen_with(sampled_altitudes_m, SAMPLED_SHARE))
    every = np.concatenate([np.arange(lat_deg.size) % SAMPLED_SHARE == 0 for _ in antennas for lat_deg, _ in points])
    survey_ms = median_ms(lambda: seen_with(see))
    exact_ms = median_ms(lambda: seen_with(lowest_altitudes), 3)
    sampled_ms = median_ms(lambda: seen_with(sampled_altitudes_m, SAMPLED_SHARE), 3) * every.size / every.sum()
    surveyed(see=see)
    figures = {
        "speedup": round(sampled_ms / survey_ms, 1),
        "survey_ms": round(survey_ms, 1),
        "sampled_ms": round(sampled_ms, 0),
        "exact_rays_ms": round(exact_ms, 0),
        "whole_survey_from_tables_ms": round(median_ms(lambda: surveyed(see=see), 3), 0),
        "whole_survey_from_rays_ms": round(median_ms(surveyed, 3), 0),
        "legs": len(legs),
        "beacons": len(antennas),
        "points": int(every.size),
        "table_error_p95_m": round(float(np.percentile(np.abs(table_m - exact_m)[np.isfinite(exact_m)], 95)), 2),
        "sampled_error_p95_m": round(float(np.percentile(np.abs(sampled_m - exact_m[every])[np.isfinite(exact_m[every])], 95)), 2),
    }
    print(f"{len(legs)} legs of {ROUTE_NM:g} NM in all, {len(antennas)} beacons, {every.size} points and beacons.")
    print(f"tables {survey_ms:.1f} ms, profiles sampled every {SAMPLE_M:g} m {sampled_ms:.0f} ms, exact rays {exact_ms:.0f} ms")
    return figures


if __name__ == "__main__":
    main()
