"""The ground of a region: from a wish to posts in the store, or only to look at; and the outline of its sea."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from server.errors import InputProblem, Problem
from server.exchange import read_sea
from server.planning.region_wish import Box, GroundFiles, GroundWish
from server.radio import Ground
from server.terrain import (
    EmptyTerrain,
    InventedLand,
    Lattice,
    LieOfTheLand,
    RefusedFile,
    TerrainLoad,
    TerrainStore,
    invent,
    lie_of_the_land,
    unpack_tiles,
)

MADE_FROM_A_SEED = "Ground invented from seed"
LOOKED_AT_ALONG_A_SIDE = 700
SEA_PLACE, FILES_PLACE = "sea_file", "terrain_files"


@dataclass(frozen=True, kw_only=True)
class GroundSeen:
    """Ground that is not kept yet: to draw, and in numbers."""

    ground: Ground
    lie: LieOfTheLand
    files: TerrainLoad | None


@contextmanager
def see_ground(box: Box, ground: GroundWish, *, sea: bytes = b"") -> Iterator[GroundSeen]:
    """Show ground without keeping it; what it needs on the disk is gone when the block ends.

    Raises
    ------
    InputProblem
        None of the elevation files, or the sea outline, can be used.
    """
    outline, problems = read_outline(sea, box)
    if problems:
        raise refused_region(problems)
    if isinstance(ground, InventedLand):
        with tempfile.TemporaryDirectory() as scratch:
            lattice, posts = invent(ground).sketch()
            store = TerrainStore(Path(scratch))
            seen = store.open(store.keep(iter([posts]), lattice=lattice))
            yield GroundSeen(ground=seen, lie=lie_of_the_land(posts.astype(np.float64), lattice), files=None)
    elif ground is None:
        yield GroundSeen(ground=EmptyTerrain(), lie=_lie_in_box(EmptyTerrain(), box), files=None)
    else:
        with tempfile.TemporaryDirectory() as scratch:
            store = TerrainStore(Path(scratch))
            files = _load(store, ground, outline)
            terrain = store.open(files.fingerprint)
            yield GroundSeen(ground=terrain, lie=_lie_in_box(terrain, box), files=files)


def ground_in_words(ground: object) -> str:
    """Say of invented ground how it was made, so that it can be made again; nothing of other ground."""
    if not isinstance(ground, InventedLand):
        return ""
    return (
        f"{MADE_FROM_A_SEED} {ground.seed}: posts every {ground.spacing_s} seconds, sea {ground.sea_share * 100:g} %, "
        f"highest {ground.highest_m:g} m, roughness {ground.roughness * 100:g} %, ridges {ground.ridges_true_deg:g} degrees true."
    )


def keep_ground(terrain_store: TerrainStore, ground: object, outline: shapely.Geometry | None) -> tuple[str, TerrainLoad | None]:
    """Put ground into the store; return its fingerprint, empty for no ground, and what became of files."""
    if isinstance(ground, InventedLand):
        return terrain_store.keep(invent(ground).strips(), lattice=ground.lattice), None
    if isinstance(ground, GroundFiles):
        files = _load(terrain_store, ground, outline)
        return files.fingerprint, files
    return "", None


def _load(terrain_store: TerrainStore, ground: GroundFiles, outline: shapely.Geometry | None) -> TerrainLoad:
    """Load elevation files and those in archives. An archive that cannot be used is refused beside files that can."""
    with tempfile.TemporaryDirectory() as scratch:
        paths: list[Path] = []
        refused: list[RefusedFile] = []
        for number, path in enumerate(ground.paths):
            if path.name.lower().endswith(".zip") and not path.name.lower().endswith(".hgt.zip"):
                unpacked, unusable = unpack_tiles(path, Path(scratch) / str(number))
                paths += unpacked
                refused += unusable
            else:
                paths.append(path)
        if not paths:
            reasons = [f"{file.name}: {file.reason}" for file in refused] or ["Choose one or more elevation files, or one archive of them."]
            raise refused_region([Problem(place=FILES_PLACE, message=reason) for reason in reasons])
        try:
            loaded = terrain_store.load(paths, sea=outline, below_zero=ground.below_zero)
        except InputProblem as problem:
            raise refused_region([*_named(refused), *(_of_a_file(one) for one in problem.problems)]) from problem
    return replace(loaded, refused=(*loaded.refused, *refused))


def _named(refused: Sequence[RefusedFile]) -> list[Problem]:
    return [Problem(place=FILES_PLACE, message=f"{file.name}: {file.reason}") for file in refused]


def _of_a_file(problem: Problem) -> Problem:
    if problem.place == "below_zero":
        return problem
    named = problem.message if problem.place in ("terrain", "sea") else f"{problem.place}: {problem.message}"
    return replace(problem, place=SEA_PLACE if problem.place == "sea" else FILES_PLACE, message=named)


def read_outline(content: bytes, box: Box | None) -> tuple[shapely.Geometry | None, list[Problem]]:
    """Read a sea outline, or tell what is wrong with it; an empty one is none. Without a box it may lie anywhere."""
    if not content:
        return None, []
    try:
        outline = read_sea(content, name="The sea outline")
    except InputProblem as problem:
        return None, [replace(one, place=SEA_PLACE) for one in problem.problems]
    if box is None or box.meets(outline):
        return outline, []
    text = "Sea outline: none of the sea lies in the region's box. Were longitude and latitude swapped?"
    return None, [Problem(place=SEA_PLACE, message=text, code="sea-elsewhere")]


def _lie_in_box(ground: Ground, box: Box) -> LieOfTheLand:
    """Look at the ground on a lattice over the box, its longer side so many posts long."""
    wide_deg, high_deg = box.wide_deg, box.high_deg
    step_deg = max(wide_deg, high_deg) / LOOKED_AT_ALONG_A_SIDE
    rows, columns = max(2, round(high_deg / step_deg) + 1), max(2, round(wide_deg / step_deg) + 1)
    lattice = Lattice(
        north_lat_deg=box.north_deg,
        west_lon_deg=box.west_deg,
        step_lat_deg=high_deg / (rows - 1),
        step_lon_deg=wide_deg / (columns - 1),
        rows=rows,
        columns=columns,
    )
    lat_deg = lattice.north_lat_deg - lattice.step_lat_deg * np.arange(rows)
    lon_deg = lattice.west_lon_deg + lattice.step_lon_deg * np.arange(columns)
    lon, lat = np.meshgrid(lon_deg, lat_deg)
    return lie_of_the_land(ground.elevations_m(lat_deg=lat.ravel(), lon_deg=lon.ravel()).reshape(rows, columns), lattice)


def refused_region(problems: Sequence[Problem]) -> InputProblem:
    """Gather all that is wrong with what is asked of a region."""
    return InputProblem(
        "The region cannot be kept like this. " + " ".join(problem.message for problem in problems[:3]),
        code="region-refused",
        problems=tuple(problems),
    )
