"""One antenna's crest table out to 130 NM beside gdal_viewshed on the same posts: time, error against exact rays, size.

Run: python -m tests.benchmarks.crest_table [FOLDER] [--repeats N]
FOLDER holds elevation files (.hgt and their kin); without it mountains are made up. Needs gdal_viewshed (Debian package gdal-bin).

Both run on one thread, from posts in memory or on disk to a file with the answer, by turns; times are of the processor. gdal_viewshed knows
no ellipsoid, so it gets the posts as a lattice in metres, and its errors are measured against exact rays on that lattice; the table's
against exact rays along geodesics. Errors are those of the lowest altitude in sight over 20,000 random points up to 12.5 km. Five antennas:
the highest post in the middle of the ground, and four wherever chance puts them. The last line is one JSON object.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

from server.navigation.geodesy import MEAN_EARTH_RADIUS_M, destinations
from server.navigation.position import Position
from server.radio import _kernels
from server.radio.crest_table import REACH_M, look_up
from server.radio.ground import UNKNOWN_BELOW_M, GridWindow
from server.radio.sight import CLEAR_DISC_M, Antenna, lowest_altitudes, place_antenna
from server.terrain import Terrain
from server.terrain.crest_store import CrestStore
from tests.benchmarks.grounds import from_files, mountains

POINTS = 20_000
HIGHEST_ASKED_M = 12_500.0
RADIUS_M = MEAN_EARTH_RADIUS_M * 4.0 / 3.0
MIDDLE = 0.15
"""Antennas stand within this share of the ground's width and height from its middle."""


@dataclass(frozen=True)
class Site:
    """An antenna on post (row, column) of the window of the whole ground."""

    name: str
    row: int
    column: int
    antenna: Antenna


def sites_on(ground: Terrain, window: GridWindow) -> list[Site]:
    """The highest post in the middle of the ground, and four known posts by chance."""
    rows, columns = window.posts.shape
    top, left = round(rows * (0.5 - MIDDLE / 2)), round(columns * (0.5 - MIDDLE / 2))
    middle = window.posts[top : top + round(rows * MIDDLE), left : left + round(columns * MIDDLE)]
    known = np.flatnonzero(middle.ravel() > UNKNOWN_BELOW_M)
    chosen = [int(known[np.argmax(middle.ravel()[known])]), *np.random.default_rng(1).choice(known, 4, replace=False).tolist()]
    sites = []
    for number, index in enumerate(chosen):
        row, column = (int(part) for part in np.unravel_index(index, middle.shape))
        row, column = row + top, column + left
        position = Position(
            lat_deg=window.north_lat_deg - row * window.step_lat_deg, lon_deg=window.west_lon_deg + column * window.step_lon_deg
        )
        antenna = place_antenna(position=position, published_elevation_ft=None, antenna_height_ft=None, ground=ground)
        assert antenna is not None
        sites.append(Site("highest" if number == 0 else f"chance {number}", row, column, antenna))
    return sites


def table_seconds(site: Site, ground: Terrain, scratch: Path) -> float:
    """Processor time from the ground to a table in its file."""
    shutil.rmtree(scratch, ignore_errors=True)
    begin = time.process_time()
    CrestStore(scratch).get(site.antenna, ground)
    return time.process_time() - begin


class Viewshed:
    """gdal_viewshed on the posts of a window, taken as a lattice in metres."""

    def __init__(self, window: GridWindow, lat_deg: float, scratch: Path):
        self.posts = window.posts
        self.south_m = np.radians(window.step_lat_deg) * MEAN_EARTH_RADIUS_M
        self.east_m = np.radians(window.step_lon_deg) * MEAN_EARTH_RADIUS_M * np.cos(np.radians(lat_deg))
        self.posts_file, self.answer_file = scratch / "posts.tif", scratch / "answer.tif"

    def set_up(self, site: Site) -> None:
        """Write the posts, those within the clear disc no higher than the antenna's foot: there the table lets nothing hide it."""
        rows, columns = self.posts.shape
        posts = np.where(self.posts > UNKNOWN_BELOW_M, self.posts, 0)
        south_m, east_m = np.arange(rows)[:, np.newaxis] - site.row, np.arange(columns) - site.column
        disc = np.hypot(south_m * self.south_m, east_m * self.east_m) <= CLEAR_DISC_M
        posts[disc] = np.minimum(posts[disc], posts[site.row, site.column])
        with rasterio.open(
            self.posts_file, "w", driver="GTiff", height=rows, width=columns, count=1, dtype=posts.dtype, crs="EPSG:32631",
            transform=from_origin(0.0, rows * self.south_m, self.east_m, self.south_m),
        ) as file:  # fmt: skip
            file.write(posts, 1)

    def seconds(self, site: Site) -> float:
        """Processor time of one run for heights over sea level, with the drop of a 4/3 earth: 0.75 of the real one."""
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        x, y = (site.column + 0.5) * self.east_m, (self.posts.shape[0] - site.row - 0.5) * self.south_m
        height_m = site.antenna.altitude_m - float(self.posts[site.row, site.column])
        subprocess.run(
            ["gdal_viewshed", "-q", "-ox", str(x), "-oy", str(y), "-oz", str(height_m), "-tz", "0", "-md", str(REACH_M), "-cc", "0.75",
             "-om", "DEM", self.posts_file, self.answer_file],
            check=True,
        )  # fmt: skip
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    def errors_m(self, site: Site, random: np.random.Generator) -> np.ndarray:
        """Its last answer less exact rays on the same lattice, over random posts."""
        rows, columns = self.posts.shape
        with rasterio.open(self.answer_file) as file:
            answer = file.read(1)
            left, top = round(file.transform.c / self.east_m), round(rows - file.transform.f / self.south_m)
        row = random.integers(max(0, top), min(rows, top + answer.shape[0]), 2 * POINTS)
        column = random.integers(max(0, left), min(columns, left + answer.shape[1]), 2 * POINTS)
        distance_m = np.hypot((row - site.row) * self.south_m, (column - site.column) * self.east_m)
        asked = np.flatnonzero((distance_m < 0.99 * REACH_M) & (distance_m > CLEAR_DISC_M))[:POINTS]
        row, column, distance_m = row[asked], column[asked], distance_m[asked]
        ends = [np.stack((np.full(row.size, start, float), end.astype(float)), axis=1).ravel() for start, end in
                ((site.row, row), (site.column, column), (0.0, distance_m))]  # fmt: skip
        slope, *others = (np.empty(row.size) for _ in range(5))
        _kernels.walk_many(
            self.posts, UNKNOWN_BELOW_M, *ends, np.arange(row.size + 1) * 2, CLEAR_DISC_M, site.antenna.altitude_m, RADIUS_M, slope, *others
        )
        exact_m = np.empty(row.size)
        _kernels.altitudes_on_slopes(distance_m, slope, site.antenna.altitude_m, RADIUS_M, exact_m)
        counted = (exact_m < HIGHEST_ASKED_M) & np.isinf(others[-1])
        return (answer[row - top, column - left] - exact_m)[counted]


def table_errors_m(site: Site, ground: Terrain, scratch: Path, random: np.random.Generator) -> tuple[np.ndarray, float]:
    """The table's answers less exact rays, over random points; and nanoseconds for a look-up."""
    table = CrestStore(scratch).find(site.antenna, ground)
    assert table is not None
    bearing_true_deg, distance_m = random.uniform(0.0, 360.0, POINTS), REACH_M * np.sqrt(random.uniform(0.0, 1.0, POINTS))
    lat_deg, lon_deg = destinations(site.antenna.position, bearing_true_deg=bearing_true_deg, distance_m=distance_m)
    ground_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    exact = lowest_altitudes(antenna=site.antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
    times = []
    for _ in range(5):
        begin = time.process_time()
        seen = look_up(table=table, bearing_true_deg=bearing_true_deg, distance_m=distance_m, ground_m=ground_m)
        times.append(time.process_time() - begin)
    counted = (exact.lowest_altitude_m < HIGHEST_ASKED_M) & (distance_m > CLEAR_DISC_M) & (exact.unknown_from_m > distance_m)
    return (seen.lowest_altitude_m - exact.lowest_altitude_m)[counted], min(times) / POINTS * 1e9


def compare(ground: Terrain, scratch: Path, repeats: int) -> dict:
    window = ground.window(south_deg=-90.0, north_deg=90.0, west_deg=-180.0, east_deg=180.0)
    assert window is not None
    sites = sites_on(ground, window)
    viewshed = Viewshed(window, sites[0].antenna.position.lat_deg, scratch)
    table_seconds(sites[0], ground, scratch / "crests")  # compiles, or reads what was compiled
    random = np.random.default_rng(7)
    figures: dict[str, list] = {name: [] for name in ("table_s", "gdal_s", "size_mb", "table_errors", "gdal_errors", "look_up_ns")}
    for site in sites:
        viewshed.set_up(site)
        times = [(table_seconds(site, ground, scratch / "crests"), viewshed.seconds(site)) for _ in range(repeats)]
        table_s, gdal_s = (float(np.median(column)) for column in zip(*times, strict=True))
        errors_m, look_up_ns = table_errors_m(site, ground, scratch / "crests", random)
        table = CrestStore(scratch / "crests").find(site.antenna, ground)
        assert table is not None
        gdal_errors_m = viewshed.errors_m(site, random)
        row = (table_s, gdal_s, table.size_bytes / 1e6, errors_m, gdal_errors_m, look_up_ns)
        for name, value in zip(figures, row, strict=True):
            figures[name].append(value)
        print(
            f"{site.name:9s} {site.antenna.altitude_m:6.0f} m: "
            f"table {table_s:.3f} s, gdal_viewshed {gdal_s:.3f} s, ratio {table_s / gdal_s:.2f}; "
            f"{table.size_bytes / 1e6:.2f} MB, {table.distance.size / table.rays:.1f} crests a ray; "
            f"error 95 % {percentile(errors_m, 95):.2f} m, largest {percentile(errors_m, 100):.1f} m "
            f"(gdal_viewshed {percentile(gdal_errors_m, 95):.0f} m, {percentile(gdal_errors_m, 100):.0f} m)"
        )
    return {
        "time_ratio": round(sum(figures["table_s"]) / sum(figures["gdal_s"]), 3),
        "time_ratio_highest_site": round(figures["table_s"][0] / figures["gdal_s"][0], 3),
        "error_p95_m": round(max(percentile(errors_m, 95) for errors_m in figures["table_errors"]), 2),
        "error_max_m": round(max(percentile(errors_m, 100) for errors_m in figures["table_errors"]), 1),
        "size_mb": round(max(figures["size_mb"]), 2),
        "table_s": round(float(np.mean(figures["table_s"])), 3),
        "look_up_ns": round(max(figures["look_up_ns"]), 0),
        "gdal_s": round(float(np.mean(figures["gdal_s"])), 3),
        "gdal_error_p95_m": round(max(percentile(errors_m, 95) for errors_m in figures["gdal_errors"]), 1),
        "gdal_error_max_m": round(max(percentile(errors_m, 100) for errors_m in figures["gdal_errors"]), 1),
        "antennas": len(sites),
    }


def percentile(errors_m: np.ndarray, share: float) -> float:
    return float(np.percentile(np.abs(errors_m), share))


def main() -> int:
    parser = argparse.ArgumentParser(description="Crest tables beside gdal_viewshed.")
    parser.add_argument("folder", nargs="?", type=Path, help="elevation files; without it mountains are made up")
    parser.add_argument("--repeats", type=int, default=5)
    asked = parser.parse_args()
    if shutil.which("gdal_viewshed") is None:
        print("gdal_viewshed is not installed, so there is nothing to compare with. Install the Debian package gdal-bin.", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as folder:
        ground = mountains() if asked.folder is None else from_files(asked.folder, Path(folder) / "terrain")
        print(json.dumps(compare(ground, Path(folder), asked.repeats)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
