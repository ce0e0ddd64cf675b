"""Make a region, change it, remove it; and look at its ground before anything is kept.

The terrain store is filled first, since it is named by content and can be filled twice without harm; the region follows in one transaction.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
import shapely

from server.errors import InputProblem, NotFound, Problem
from server.exchange import read_sea
from server.persistence import Library, RegionRecord, stored
from server.planning.region_wish import Box, GroundFiles, GroundWish, RegionWish, invented_ground_problems, name_problems, region_problems
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

KEEP: Literal["keep"] = "keep"
"""Leave the ground, or the sea, as it is."""

MADE_FROM_A_SEED = "Ground invented from seed"
LOOKED_AT_ALONG_A_SIDE = 700
SEA_PLACE, FILES_PLACE = "sea_file", "terrain_files"


@dataclass(frozen=True, kw_only=True)
class MadeRegion:
    """A region as it is now kept. ``files`` tells what became of elevation files; None where none were given."""

    region: RegionRecord
    files: TerrainLoad | None


@dataclass(frozen=True, kw_only=True)
class GroundSeen:
    """Ground that is not kept yet: to draw, and in numbers."""

    ground: Ground
    lie: LieOfTheLand
    files: TerrainLoad | None


def make_region(
    library: Library, terrain_store: TerrainStore, wish: RegionWish, *, ground: GroundWish = None, sea: bytes = b""
) -> MadeRegion:
    """Make a new region with its ground.

    Parameters
    ----------
    ground : InventedLand, GroundFiles or None
        Without any, the ground stays unknown.
    sea : GeoJSON
        The outline of the sea: void posts inside become 0, and coasts are told from it. Empty where none is given.

    Raises
    ------
    InputProblem
        With everything that is wrong, each beside its field; nothing has been stored then.
    """
    problems = [*region_problems(wish, ground)]
    outline, of_the_sea = _read_sea(sea, wish.box)
    problems += [*slug_taken(library, wish.slug), *of_the_sea]
    if problems:
        raise _refused(problems)
    fingerprint, files = _keep_ground(terrain_store, ground, outline)
    region = replace(wish.record(), source=ground_in_words(ground), sea_geojson=sea.decode("utf-8-sig"), ground_fingerprint=fingerprint)
    with library.begin() as work:
        return MadeRegion(region=work.regions.add(region), files=files)


def change_region(
    library: Library,
    terrain_store: TerrainStore,
    slug: str,
    *,
    name: str,
    fictional: bool,
    notice: str,
    level_rule: str,
    ground: GroundWish | Literal["keep"] = KEEP,
    sea: bytes | Literal["keep"] = KEEP,
) -> MadeRegion:
    """Change the words of a region and, where asked, replace its ground or its sea. Its box and its short name stay.

    New elevation files are filled with the sea that the region has then.
    """
    with library.read() as work:
        region = work.regions.by_slug(slug)
    sea_content = region.sea_geojson.encode() if sea == KEEP else sea
    outline, problems = _read_sea(sea_content, box_of(region))
    still_invented = ground if ground != KEEP else None
    problems += name_problems(name=name, fictional=fictional, notice=notice, level_rule=level_rule)
    problems += invented_ground_problems(fictional=fictional, ground=still_invented)
    if ground == KEEP and not fictional and region.source.startswith(MADE_FROM_A_SEED):
        problems.append(Problem(place="fictional", message="Its ground was invented from a seed, so the region must stay fictional."))
    if problems:
        raise _refused(problems)
    fingerprint, files, source = region.ground_fingerprint, None, region.source
    if ground != KEEP:
        fingerprint, files = _keep_ground(terrain_store, ground, outline)
        source = ground_in_words(ground) or ("" if source.startswith(MADE_FROM_A_SEED) else source)
    with library.begin() as work:
        region = replace(
            work.regions.by_slug(slug),
            name=name.strip(),
            fictional=fictional,
            notice=notice.strip(),
            level_rule=level_rule,
            sea_geojson=sea_content.decode("utf-8-sig"),
            ground_fingerprint=fingerprint,
            source=source,
        )
        return MadeRegion(region=work.regions.update(region), files=files)


def slug_taken(library: Library, slug: str) -> tuple[Problem, ...]:
    """Tell whether a region has this short name already."""
    try:
        with library.read() as work:
            present = work.regions.by_slug(slug)
    except NotFound:
        return ()
    text = f'Short name: "{slug}" is that of {present.name} already. Choose another.'
    return (Problem(place="slug", message=text, code="region-exists"),)


def sea_problems(content: bytes) -> tuple[Problem, ...]:
    """Tell what is wrong with a sea outline by itself; an empty one is none."""
    return tuple(_read_sea(content, None)[1])


def holdings_of(library: Library, slug: str) -> tuple[RegionRecord, str]:
    """Return a region and, in words, all that stands in it and would go with it."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        number = stored(region.id)
        counts = {
            "beacon": work.beacons.count(number),
            "airfield": work.airfields.count(number),
            "checkpoint": work.checkpoints.count(number),
            "route": len(work.routes.list(number)),
        }
    held = [f"{count} {what}{'' if count == 1 else 's'}" for what, count in counts.items() if count]
    return region, ", ".join(held[:-1]) + (" and " if len(held) > 1 else "") + held[-1] if held else ""


def remove_region(library: Library, slug: str) -> None:
    """Remove a region with all that stands in it. Its ground stays in the terrain store, where others may share it."""
    with library.begin() as work:
        work.regions.remove(stored(work.regions.by_slug(slug).id))


@contextmanager
def see_ground(box: Box, ground: GroundWish, *, sea: bytes = b"") -> Iterator[GroundSeen]:
    """Show ground without keeping it; what it needs on the disk is gone when the block ends.

    Raises
    ------
    InputProblem
        None of the elevation files, or the sea outline, can be used.
    """
    outline, problems = _read_sea(sea, box)
    if problems:
        raise _refused(problems)
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


def box_of(region: RegionRecord) -> Box | None:
    """Return the box of a region; None where it was given none."""
    edges = (region.south_deg, region.north_deg, region.west_deg, region.east_deg)
    if edges[0] is None or edges[1] is None or edges[2] is None or edges[3] is None:
        return None
    return Box(south_deg=edges[0], north_deg=edges[1], west_deg=edges[2], east_deg=edges[3])


def ground_in_words(ground: object) -> str:
    """Say of invented ground how it was made, so that it can be made again; nothing of other ground."""
    if not isinstance(ground, InventedLand):
        return ""
    return (
        f"{MADE_FROM_A_SEED} {ground.seed}: posts every {ground.spacing_s} seconds, sea {ground.sea_share * 100:g} %, "
        f"highest {ground.highest_m:g} m, roughness {ground.roughness * 100:g} %, ridges {ground.ridges_true_deg:g} degrees true."
    )


def _keep_ground(terrain_store: TerrainStore, ground: object, outline: shapely.Geometry | None) -> tuple[str, TerrainLoad | None]:
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
            raise _refused([Problem(place=FILES_PLACE, message=reason) for reason in reasons])
        try:
            loaded = terrain_store.load(paths, sea=outline)
        except InputProblem as problem:
            raise _refused([*_named(refused), *(_of_a_file(one) for one in problem.problems)]) from problem
    return replace(loaded, refused=(*loaded.refused, *refused))


def _named(refused: Sequence[RefusedFile]) -> list[Problem]:
    return [Problem(place=FILES_PLACE, message=f"{file.name}: {file.reason}") for file in refused]


def _of_a_file(problem: Problem) -> Problem:
    named = problem.message if problem.place in ("terrain", "sea") else f"{problem.place}: {problem.message}"
    return replace(problem, place=SEA_PLACE if problem.place == "sea" else FILES_PLACE, message=named)


def _read_sea(content: bytes, box: Box | None) -> tuple[shapely.Geometry | None, list[Problem]]:
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


def _refused(problems: Sequence[Problem]) -> InputProblem:
    return InputProblem(
        "The region cannot be kept like this. " + " ".join(problem.message for problem in problems[:3]),
        code="region-refused",
        problems=tuple(problems),
    )
