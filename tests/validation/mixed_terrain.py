"""Proves that ground of two resolutions hides no less than the finest source that covers each stretch of a ray.

Run: python -m tests.validation.mixed_terrain FOLDER

FOLDER, or terrain/ in it, holds elevation files. Where they are of more than one spacing they are loaded together. Where all are of one, a
companion is made of them: every fourth post everywhere, and all posts on the middle third of latitudes and longitudes.

Random rays are walked by the program, and again here by other means: NumPy alone, a sample every 5 m of the same straight pieces between
points of the geodesic, each sample read from the finest source that knows it. A sampled ray can only be lower than the exact one, so the
program must never be lower than it. The last line of the output is one JSON object: rays, lower_than_truth, worst_ft.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pyproj import Geod

from server.errors import InputProblem, ProjectError
from server.navigation import Position
from server.radio import Antenna
from server.radio.sight import lowest_altitudes
from server.terrain import BelowZero, Terrain, TerrainStore
from server.terrain.ground import Mosaic
from server.terrain.lattice import Lattice

RAYS = 1_000
SEED = 20_261_130
SHORTEST_NM, LONGEST_NM = 3.0, 60.0
ANTENNA_M = 20.0
SAMPLE_M, NODES_M = 5.0, 4_000.0
CLEAR_M = 200.0
RADIUS_M = 6_371_008.8 * 4.0 / 3.0
TOLERANCE_FT = 0.01
FEET = 1.0 / 0.3048
UNKNOWN_M = -32_000.0
COARSER = 4


@dataclass(frozen=True)
class Shot:
    """One ray: how much higher the program's answer is than the sampled one (negative: lower), and whether it meets two sources. [ft]"""

    higher_ft: float
    mixed: bool


def surface_m(mosaic: Mosaic, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
    """The bilinear surface of one source, NaN where one of the four posts round a place is not known."""
    lattice, posts = mosaic.lattice, mosaic.posts
    row = (lattice.north_lat_deg - lat_deg) / lattice.step_lat_deg
    column = ((lon_deg - lattice.west_lon_deg) % 360.0) / lattice.step_lon_deg
    inside = (row >= 0.0) & (row <= lattice.rows - 1.0) & (column <= lattice.columns - 1.0)
    i = np.clip(np.floor(np.where(inside, row, 0.0)).astype(int), 0, lattice.rows - 2)
    j = np.clip(np.floor(np.where(inside, column, 0.0)).astype(int), 0, lattice.columns - 2)
    down, right = row - i, column - j
    corners = [posts[i + a, j + b].astype(float) for a in (0, 1) for b in (0, 1)]
    corners = [np.where(corner > UNKNOWN_M, corner, np.nan) for corner in corners]
    north = corners[0] * (1.0 - right) + corners[1] * right
    south = corners[2] * (1.0 - right) + corners[3] * right
    return np.where(inside, north * (1.0 - down) + south * down, np.nan)


def finest_m(ground: Terrain, lat_deg: np.ndarray, lon_deg: np.ndarray) -> tuple[np.ndarray, int]:
    """The ground of the finest source that knows each place, and how many sources answered."""
    found, sources = np.full(lat_deg.shape, np.nan), 0
    for mosaic in ground.mosaics:
        own = surface_m(mosaic, lat_deg, lon_deg)
        new = np.isnan(found) & ~np.isnan(own)
        sources += bool(new.any())
        found[new] = own[new]
    return found, sources


def sampled_altitude_ft(ground: Terrain, antenna: Antenna, bearing_deg: float, length_m: float) -> tuple[float, bool]:
    """The lowest altitude from which the antenna is seen at the end of a ray, by samples; NaN where any of the ground is not known."""
    nodes = max(1, int(np.ceil(length_m / NODES_M)))
    at_m = length_m * np.arange(nodes + 1) / nodes
    start = antenna.position
    lon, lat, _ = Geod(ellps="WGS84").fwd(
        np.full(at_m.size, start.lon_deg), np.full(at_m.size, start.lat_deg), np.full(at_m.size, bearing_deg), at_m
    )
    lon = start.lon_deg + (lon - start.lon_deg + 180.0) % 360.0 - 180.0
    distance_m = np.arange(CLEAR_M, length_m, SAMPLE_M)
    elevation_m, sources = finest_m(ground, np.interp(distance_m, at_m, lat), np.interp(distance_m, at_m, lon))
    if np.isnan(elevation_m).any():
        return np.nan, False
    angle = distance_m / RADIUS_M
    rise = (RADIUS_M + elevation_m) * np.cos(angle) - (RADIUS_M + antenna.altitude_m)
    slope = np.max(rise / ((RADIUS_M + elevation_m) * np.sin(angle)))
    end = length_m / RADIUS_M
    return ((RADIUS_M + antenna.altitude_m) / (np.cos(end) - slope * np.sin(end)) - RADIUS_M) * FEET, sources > 1


def shots(ground: Terrain, rays: int) -> Iterator[Shot]:
    """Shoot seeded random rays over known ground."""
    random = np.random.default_rng(SEED)
    lattices = [mosaic.lattice for mosaic in ground.mosaics]
    south, north = min(each.south_lat_deg for each in lattices), max(each.north_lat_deg for each in lattices)
    west, east = min(each.west_lon_deg for each in lattices), max(each.east_lon_deg for each in lattices)
    shot = tries = 0
    while shot < rays:
        tries += 1
        if tries > 200 * rays:
            raise InputProblem("Too little of the ground is known to shoot rays over it. Give files that touch each other.")
        position = Position(lat_deg=random.uniform(south, north), lon_deg=(random.uniform(west, east) + 180.0) % 360.0 - 180.0)
        bearing_deg, length_m = random.uniform(0.0, 360.0), random.uniform(SHORTEST_NM, LONGEST_NM) * 1852.0
        foot_m, _ = finest_m(ground, np.array([position.lat_deg]), np.array([position.lon_deg]))
        if np.isnan(foot_m[0]):
            continue
        antenna = Antenna(
            position=position,
            altitude_m=float(foot_m[0]) + ANTENNA_M,
            ground_m=float(foot_m[0]),
            height_assumed=False,
            elevation_estimated=False,
        )
        truth_ft, mixed = sampled_altitude_ft(ground, antenna, bearing_deg, length_m)
        if not np.isfinite(truth_ft):
            continue
        lon, lat, _ = Geod(ellps="WGS84").fwd(position.lon_deg, position.lat_deg, bearing_deg, length_m)
        table = lowest_altitudes(antenna=antenna, lat_deg=np.array([lat]), lon_deg=np.array([lon]), ground=ground)
        shot += 1
        yield Shot(higher_ft=float(table.lowest_altitude_m[0]) * FEET - truth_ft, mixed=mixed)


def with_companion(ground: Terrain) -> Terrain:
    """Ground of two spacings made of ground of one: the coarser everywhere, the finer in the middle."""
    mosaics = []
    for mosaic in ground.mosaics:
        lattice, posts = mosaic.lattice, mosaic.posts
        coarse = posts[::COARSER, ::COARSER]
        mosaics.append(
            Mosaic(
                lattice=Lattice(
                    north_lat_deg=lattice.north_lat_deg,
                    west_lon_deg=lattice.west_lon_deg,
                    step_lat_deg=lattice.step_lat_deg * COARSER,
                    step_lon_deg=lattice.step_lon_deg * COARSER,
                    rows=coarse.shape[0],
                    columns=coarse.shape[1],
                ),
                posts=np.ascontiguousarray(coarse),
            )
        )
        top, left, rows, columns = lattice.rows // 3, lattice.columns // 3, lattice.rows // 3, lattice.columns // 3
        middle = lattice.cut(row=top, column=left, rows=rows, columns=columns)
        mosaics.append(Mosaic(lattice=middle, posts=np.ascontiguousarray(posts[top : top + rows, left : left + columns])))
    return Terrain(fingerprint="mixed", mosaics=mosaics)


def figures_of(found: list[Shot]) -> dict:
    """Sum up: how many rays came out lower than the truth, and by how much at worst."""
    higher_ft = np.array([each.higher_ft for each in found])
    lower = higher_ft < -TOLERANCE_FT
    return {
        "rays": len(found),
        "lower_than_truth": int(lower.sum()),
        "worst_ft": round(float(-higher_ft[lower].min()), 2) if lower.any() else 0.0,
        "rays_over_two_sources": sum(each.mixed for each in found),
        "median_higher_ft": round(float(np.median(higher_ft)), 2),
        "most_higher_ft": round(float(higher_ft.max()), 1),
    }


def run(folder: Path, report: Callable[[str], None], *, rays: int = RAYS) -> list[str]:
    """Prove a folder and return the lines to print, the JSON object last."""
    files = folder / "terrain" if (folder / "terrain").is_dir() else folder
    with tempfile.TemporaryDirectory() as scratch:
        store = TerrainStore(Path(scratch))
        load = store.load(
            [files], below_zero=BelowZero.SEA, on_progress=lambda progress: report(f"{progress.doing} ({progress.done}/{progress.total})")
        )
        for refused in load.refused:
            report(f"{refused.name} was left out: {refused.reason}")
        ground = store.open(load.fingerprint)
        spacings = {(round(each.lattice.step_lat_deg, 9), round(each.lattice.step_lon_deg, 9)) for each in ground.mosaics}
        lines = [f"{len(ground.mosaics)} sources of {len(spacings)} spacings."]
        if len(spacings) == 1:
            ground = with_companion(ground)
            lines.append(f"Made of them: every post {COARSER} apart, and all posts in the middle.")
        found = []
        for shot in shots(ground, rays):
            found.append(shot)
            if len(found) % 100 == 0:
                report(f"{len(found)} of {rays} rays")
    figures = figures_of(found)
    lines.append(
        f"{figures['rays']} rays, {figures['rays_over_two_sources']} of them over two sources: {figures['lower_than_truth']} lower "
        f"than the sampled truth (worst {figures['worst_ft']} ft); higher by {figures['median_higher_ft']} ft in the median, "
        f"{figures['most_higher_ft']} ft at most."
    )
    return [*lines, json.dumps(figures)]


def main(arguments: list[str] | None = None) -> int:
    """Run from the command line; 0, 1 where a ray came out lower than the truth, 2 where the folder cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.mixed_terrain", description="Prove ground of mixed resolutions.")
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="holds elevation files, or terrain/ with them")
    parser.add_argument("--rays", type=int, default=RAYS, help=f"how many rays to shoot (default {RAYS})")
    asked = parser.parse_args(arguments)
    try:
        lines = run(asked.folder, lambda message: print(message, file=sys.stderr, flush=True), rays=asked.rays)
    except ProjectError as problem:
        print(f"mixed_terrain: {' '.join(problem.message.split())}", file=sys.stderr)
        return 2
    except OSError as error:
        print(f"mixed_terrain: {error.filename or 'The scratch folder'}: {error.strerror or error}.", file=sys.stderr)
        return 2
    print("\n".join(lines))
    return 0 if json.loads(lines[-1])["lower_than_truth"] == 0 else 1


if __name__ == "__main__":
    raise SystemExit(main())
