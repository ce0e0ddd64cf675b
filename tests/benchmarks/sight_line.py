"""How fast the exact walk is beside NumPy that samples every 90 m, on the same rays in the same run.

Run: python -m tests.benchmarks.sight_line

Synthetic mountains, 3 arc-seconds, int16. The sampling is not only slower or faster, it also misses crests: how much too low its answers
are is printed too. The last line is one JSON object.
"""

from __future__ import annotations

import json
import time

import numpy as np

from server.navigation.geodesy import MEAN_EARTH_RADIUS_M, bearings_and_distances
from server.navigation.position import Position
from server.radio.rays import Rays, rays_on_lattice
from server.radio.sight import CLEAR_DISC_M, lowest_altitudes, place_antenna
from server.units import metres_from_nautical_miles
from tests.builders import GridGround

STATION = Position(lat_deg=43.5, lon_deg=-36.0)
RAYS = 1000
SAMPLE_M = 90.0
REPEATS = 7
POSTS_A_DEGREE = 1200
NORTH, WEST, ROWS, COLUMNS = 45.0, -38.0, 3 * POSTS_A_DEGREE + 1, 4 * POSTS_A_DEGREE + 1
RADIUS_M = MEAN_EARTH_RADIUS_M * 4.0 / 3.0


def mountains() -> GridGround:
    """Fractal hills of about 0 to 2,500 m: noise of ever finer grain and ever less height."""
    random = np.random.default_rng(2026)
    rows, columns = np.linspace(0.0, 1.0, ROWS), np.linspace(0.0, 1.0, COLUMNS)
    height = np.zeros((ROWS, COLUMNS))
    for octave in range(2, 11):
        grain = random.normal(size=(2**octave + 1, 2**octave + 1)) * 0.55**octave
        along = np.array([np.interp(columns, np.linspace(0.0, 1.0, grain.shape[1]), line) for line in grain])
        place = rows * (grain.shape[0] - 1)
        low = np.minimum(place.astype(int), grain.shape[0] - 2)
        part = (place - low)[:, np.newaxis]
        height += along[low] * (1.0 - part) + along[low + 1] * part
    height = (height - height.min()) / (height.max() - height.min())
    return GridGround((2500.0 * height**1.5).astype(np.int16), NORTH, WEST, 1.0 / POSTS_A_DEGREE, 1.0 / POSTS_A_DEGREE)


def sampled_altitudes_m(rays: Rays, distance_m: np.ndarray, antenna_m: float) -> np.ndarray:
    """Lowest altitudes by NumPy: each ray sampled every 90 m, all samples of a ray at once, parabola for the curve of the earth."""
    altitude_m = np.empty(distance_m.size)
    for k in range(distance_m.size):
        nodes = slice(rays.first_node[k], rays.first_node[k + 1])
        d = np.arange(CLEAR_DISC_M, distance_m[k], SAMPLE_M)
        row = np.interp(d, rays.distance_m[nodes], rays.row[nodes])
        column = np.interp(d, rays.distance_m[nodes], rays.column[nodes])
        i, j = row.astype(int), column.astype(int)
        down, across = row - i, column - j
        north = rays.posts[i, j] * (1.0 - across) + rays.posts[i, j + 1] * across
        south = rays.posts[i + 1, j] * (1.0 - across) + rays.posts[i + 1, j + 1] * across
        slope = np.max((north + (south - north) * down - antenna_m) / d - d / (2.0 * RADIUS_M))
        altitude_m[k] = antenna_m + distance_m[k] * (slope + distance_m[k] / (2.0 * RADIUS_M))
    return altitude_m


def best_of(repeats: int, work) -> float:
    """Shortest of several runs [s of processor time]: the one that the machine disturbed least. Both ways run on one thread."""
    times = []
    for _ in range(repeats):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def main() -> None:
    ground = mountains()
    antenna = place_antenna(position=STATION, published_elevation_ft=None, antenna_height_ft=None, ground=ground)
    assert antenna is not None
    random = np.random.default_rng(7)
    lat_deg, lon_deg = random.uniform(42.1, 44.9, RAYS), random.uniform(-37.9, -34.1, RAYS)
    bearing_true_deg, distance_nm = bearings_and_distances(STATION, lat_deg, lon_deg)
    distance_m = metres_from_nautical_miles(distance_nm)

    begin = time.perf_counter()
    table = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
    first_s = time.perf_counter() - begin
    walk_s = best_of(REPEATS, lambda: lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground))

    def sampled():
        return sampled_altitudes_m(rays_on_lattice(STATION, bearing_true_deg, distance_m, ground), distance_m, antenna.altitude_m)

    sampled_s = best_of(REPEATS, sampled)
    too_low_m = table.lowest_altitude_m - sampled()
    samples = float(np.sum(np.ceil((distance_m - CLEAR_DISC_M) / SAMPLE_M)))
    figures = {
        "rays": RAYS,
        "mean_length_km": round(float(distance_m.mean()) / 1000.0, 1),
        "first_call_s": round(first_s, 3),
        "exact_walk_ms": round(walk_s * 1000.0, 1),
        "numpy_90_m_samples_ms": round(sampled_s * 1000.0, 1),
        "exact_walk_ns_per_90_m": round(walk_s / samples * 1e9, 1),
        "numpy_ns_per_90_m": round(sampled_s / samples * 1e9, 1),
        "numpy_time_over_walk_time": round(sampled_s / walk_s, 2),
        "samples_too_low_median_m": round(float(np.median(too_low_m)), 1),
        "samples_too_low_95_percent_m": round(float(np.percentile(too_low_m, 95.0)), 1),
        "samples_too_low_worst_m": round(float(too_low_m.max()), 1),
    }
    print(f"{RAYS} rays of {figures['mean_length_km']} km on average, best of {REPEATS} runs.")
    print(f"First call, with compiling or its cache: {first_s:.2f} s")
    print(f"exact walk of every patch   {figures['exact_walk_ms']:8.1f} ms")
    print(f"NumPy, samples every 90 m   {figures['numpy_90_m_samples_ms']:8.1f} ms: {figures['numpy_time_over_walk_time']} times the walk,")
    print(
        f"and too low by {figures['samples_too_low_median_m']} m (median), {figures['samples_too_low_95_percent_m']} m (95 %), "
        f"{figures['samples_too_low_worst_m']} m (worst)"
    )
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
