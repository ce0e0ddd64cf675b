"""Load a whole region from its folder, or only its ground.

A region folder holds region.toml, beacons.csv, airfields.csv, checkpoints.csv and, as it likes, sea.geojson, aircraft.toml, routes.toml and
a folder terrain/ of elevation files. The terrain store is filled first, since it is named by content and can be filled twice without harm;
what goes into the database goes in one transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import shapely

from server.errors import Conflict, InputProblem, NotFound, Problem
from server.exchange import (
    Reading,
    RegionDescription,
    RouteDescription,
    read_aircraft,
    read_airfields,
    read_beacons,
    read_checkpoints,
    read_limited,
    read_region,
    read_routes,
    read_sea,
)
from server.navigation.aircraft import Aircraft
from server.persistence import Library, RegionRecord, Work
from server.planning.load import store_table
from server.planning.load_comparison import TableToLoad, What
from server.planning.load_report import LoadReport
from server.planning.region_routes import add_new_routes
from server.terrain import BelowZero, TerrainLoad, TerrainProgress, TerrainStore

TABLES: dict[What, Callable[..., Reading]] = {"beacons": read_beacons, "airfields": read_airfields, "checkpoints": read_checkpoints}
SEA_FILE, AIRCRAFT_FILE, ROUTES_FILE = "sea.geojson", "aircraft.toml", "routes.toml"
REGION_FILE, TERRAIN_FOLDER = "region.toml", "terrain"
Progress = Callable[[TerrainProgress], None]


@dataclass(frozen=True, kw_only=True)
class RegionLoad:
    """What became of a region folder. ``terrain`` is None where the folder has none; ``aircraft_added`` are registrations,
    ``routes_added`` names. ``aircraft_kept`` were there already, are not as the folder has them, and stayed as they were."""

    region: RegionRecord
    beacons: LoadReport
    airfields: LoadReport
    checkpoints: LoadReport
    aircraft_added: tuple[str, ...]
    routes_added: tuple[str, ...]
    terrain: TerrainLoad | None
    aircraft_kept: tuple[str, ...] = ()

    @property
    def reports(self) -> tuple[LoadReport, ...]:
        return (self.beacons, self.airfields, self.checkpoints)


@dataclass(frozen=True, kw_only=True)
class _RegionFiles:
    description: RegionDescription
    tables: dict[What, bytes]
    aircraft: tuple[Aircraft, ...]
    routes: tuple[RouteDescription, ...]
    sea_text: str
    sea: shapely.Geometry | None
    terrain_folder: Path | None


def load_region(
    library: Library,
    terrain_store: TerrainStore,
    folder: Path,
    *,
    accept_shrink: bool = False,
    on_progress: Progress | None = None,
    only_new: bool = False,
    slug: str = "",
    most_posts: int | None = None,
    below_zero: BelowZero = BelowZero.ASK,
) -> RegionLoad:
    """Load a region folder; loading it again changes only what differs.

    Aircraft are added when their registration is new, routes when their name is; one that is already there stays as it is, since its owner
    may have changed it. ``slug`` is another short name than that of the folder. With ``only_new`` the region must not be there yet, and all
    of the folder must be usable. ``most_posts`` limits the ground. ``below_zero`` as for TerrainStore.load.

    Raises
    ------
    InputProblem
        With every file of the folder that cannot be used, and nothing loaded into the database. Single bad rows are in the reports, or with
        ``only_new`` among the problems.
    Conflict
        With ``only_new``, a region of this short name is there.
    """
    files = _read_folder(folder)
    if slug:
        files = replace(files, description=replace(files.description, slug=slug))
    if only_new:
        with library.read() as work:
            _refuse_present(work, files.description.slug)
        _refuse_incomplete(folder.name, _rows_refused(files))
    terrain = None
    if files.terrain_folder is not None:
        terrain = terrain_store.load(
            [files.terrain_folder], sea=files.sea, below_zero=below_zero, on_progress=on_progress, most_posts=most_posts
        )
        if only_new:
            _refuse_incomplete(folder.name, [Problem(place=file.name, message=f"{file.name}: {file.reason}") for file in terrain.refused])
    with library.begin() as work:
        if only_new:
            _refuse_present(work, files.description.slug)
        region = _store_region(work, files, terrain)
        assert region.id is not None
        reports = {
            what: store_table(
                work, _table(what, content, region.id, key_source=region.slug, accept_shrink=accept_shrink), region_id=region.id
            )
            for what, content in files.tables.items()
        }
        known = {aircraft.registration: replace(aircraft, id=None) for aircraft in work.aircraft.list()}
        added = work.aircraft.add_many(aircraft for aircraft in files.aircraft if aircraft.registration not in known)
        routes = add_new_routes(work, files.routes, region_id=region.id, file_name=ROUTES_FILE)
    return RegionLoad(
        region=region,
        beacons=reports["beacons"],
        airfields=reports["airfields"],
        checkpoints=reports["checkpoints"],
        aircraft_added=tuple(aircraft.registration for aircraft in added),
        routes_added=tuple(route.name for route in routes),
        terrain=terrain,
        aircraft_kept=tuple(one.registration for one in files.aircraft if known.get(one.registration, one) != one),
    )


def _refuse_present(work: Work, slug: str) -> None:
    for region in work.regions.list():
        if region.slug == slug:
            text = f'There is a region "{slug}" already, {region.name}. Nothing was loaded: load it under another short name.'
            raise Conflict(text, code="region-exists")


def _rows_refused(files: _RegionFiles) -> list[Problem]:
    readings = (
        (what, TABLES[what](content, region_id=0, name=f"{what}.csv", key_source=REGION_FILE)) for what, content in files.tables.items()
    )
    return [
        Problem(place=f"{what}.csv", message=f"{what}.csv, line {row.line_number}: {row.reason}", code=row.code)
        for what, reading in readings
        for row in reading.refused
    ]


def _refuse_incomplete(name: str, problems: list[Problem]) -> None:
    if problems:
        text = f"{name} cannot be loaded whole, so nothing of it was. " + " ".join(problem.message for problem in problems[:3])
        raise InputProblem(text, code="region-unusable", place=name, problems=tuple(problems))


def load_terrain(
    library: Library,
    terrain_store: TerrainStore,
    *,
    region_slug: str,
    paths: Sequence[Path],
    sea: bytes | None = None,
    below_zero: BelowZero = BelowZero.ASK,
    on_progress: Progress | None = None,
) -> TerrainLoad:
    """Load elevation files as the ground of a region, in place of the ground it had.

    ``sea`` is GeoJSON that becomes the region's sea; without it the region keeps the sea it has. ``below_zero`` as for TerrainStore.load.
    """
    with library.read() as work:
        region = work.regions.by_slug(region_slug)
    content = region.sea_geojson.encode() if sea is None else sea
    outline = read_sea(content, name=f"the sea of {region.name}") if content else None
    loaded = terrain_store.load(paths, sea=outline, below_zero=below_zero, on_progress=on_progress)
    with library.begin() as work:
        region = work.regions.by_slug(region_slug)
        work.regions.update(replace(region, ground_fingerprint=loaded.fingerprint, sea_geojson=content.decode("utf-8-sig")))
    return loaded


def _table(what: What, content: bytes, region_id: int, *, key_source: str, accept_shrink: bool) -> TableToLoad:
    name = f"{what}.csv"
    reading = TABLES[what](content, region_id=region_id, name=name, key_source=key_source)
    return TableToLoad(what=what, reading=reading, content=content, source_name=name, accept_shrink=accept_shrink)


def _read_folder(folder: Path) -> _RegionFiles:
    """Read every file that can be read before anything is stored, and report all that cannot be used at once."""
    problems: list[Problem] = []

    def read(name: str, use: Callable, *, optional: bool = False):
        try:
            path = folder / name
            if optional and not path.exists():
                return None
            if not path.is_file():
                raise InputProblem(f"{name} is missing in the region folder {folder.name}.", code="region-file-missing", place=name)
            with path.open("rb") as stream:
                return use(read_limited(stream, name=name), name=name)
        except InputProblem as problem:
            problems.extend(problem.problems)
        except OSError as problem:
            problems.append(Problem(place=name, message=f"{name} cannot be read: {problem.strerror}.", code="region-file-missing"))
        return None

    if not folder.is_dir():
        raise InputProblem(f"There is no folder {folder}.", code="region-folder-missing", place="region")
    description = read(REGION_FILE, read_region)
    tables = {what: read(f"{what}.csv", _checked(reader)) for what, reader in TABLES.items()}
    aircraft = read(AIRCRAFT_FILE, read_aircraft, optional=True)
    routes = read(ROUTES_FILE, read_routes, optional=True)
    sea_content = read(SEA_FILE, lambda content, name: (read_sea(content, name=name), content.decode("utf-8-sig")), optional=True)
    if description and sea_content:
        problems.extend(_sea_elsewhere(description, sea_content[0]))
    if problems:
        raise InputProblem(
            f"The region folder {folder.name} cannot be loaded. " + " ".join(problem.message for problem in problems[:3]),
            code="region-unusable",
            place=problems[0].place,
            problems=tuple(problems),
        )
    terrain_folder = folder / TERRAIN_FOLDER
    return _RegionFiles(
        description=description,
        tables=tables,
        aircraft=aircraft or (),
        routes=routes or (),
        sea_text=sea_content[1] if sea_content else "",
        sea=sea_content[0] if sea_content else None,
        terrain_folder=terrain_folder if terrain_folder.is_dir() else None,
    )


def _checked(reader: Callable[..., Reading]) -> Callable[..., bytes]:
    """Return the content of a table once it has been read without a problem; the region's number is not known yet."""

    def use(content: bytes, *, name: str) -> bytes:
        reader(content, region_id=0, name=name, key_source=REGION_FILE)  # rows of a region: a table may be empty
        return content

    return use


def _sea_elsewhere(description: RegionDescription, sea: shapely.Geometry) -> list[Problem]:
    south, north, west, east = description.south_deg, description.north_deg, description.west_deg, description.east_deg
    if south is None or north is None or west is None or east is None:
        return []
    spans = [(west, east)] if west <= east else [(west, 180.0), (-180.0, east)]
    if any(sea.intersects(shapely.box(left, south, right, north)) for left, right in spans):
        return []
    message = f"{SEA_FILE}: none of the sea lies in the region's box. Were longitude and latitude swapped?"
    return [Problem(place=SEA_FILE, message=message, code="sea-elsewhere")]


def _store_region(work: Work, files: _RegionFiles, terrain: TerrainLoad | None) -> RegionRecord:
    described = RegionRecord(
        **asdict(files.description), sea_geojson=files.sea_text, ground_fingerprint=terrain.fingerprint if terrain else ""
    )
    try:
        present = work.regions.by_slug(described.slug)
    except NotFound:
        return work.regions.add(described)
    ground = described.ground_fingerprint or present.ground_fingerprint
    wanted = replace(described, id=present.id, ground_fingerprint=ground)
    return present if wanted == present else work.regions.update(wanted)
