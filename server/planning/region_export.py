"""Write a whole region as one file, to be kept or loaded elsewhere: everything a region folder holds, in open formats.

What is made by hand has no key; in the file it gets one of the source own, so that it is known again. Before anything is given away the
file's tables are read back: what they could not carry is named, not dropped.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import IO, TypeVar

from server.errors import InputProblem, Problem
from server.exchange import (
    OWN_SOURCE,
    Manifest,
    Reading,
    RegionDescription,
    read_aircraft,
    read_airfields,
    read_beacons,
    read_checkpoints,
    read_region,
    read_routes,
    write_aircraft,
    write_airfields,
    write_archive,
    write_beacons,
    write_checkpoints,
    write_region,
    write_routes,
)
from server.navigation import Aircraft, Airfield, Checkpoint, Route
from server.persistence import Library, RegionRecord, stored
from server.planning.load_region import AIRCRAFT_FILE, REGION_FILE, ROUTES_FILE, SEA_FILE, TERRAIN_FOLDER
from server.planning.load_report import Place, changes_between, label_of
from server.planning.materials import open_ground
from server.planning.route_description import PlaceNames, described_route
from server.radio import Beacon
from server.terrain import Terrain, TerrainStore, write_tiles

LONGEST_KEY = 190
Shelved = TypeVar("Shelved", Beacon, Airfield, Checkpoint)


@dataclass(frozen=True, kw_only=True)
class RegionExport:
    """A region that was written, and what its file holds."""

    region: RegionRecord
    manifest: Manifest


@dataclass(frozen=True, kw_only=True)
class _Whole:
    """All that a region is, everything with a key."""

    region: RegionRecord
    beacons: tuple[Beacon, ...]
    airfields: tuple[Airfield, ...]
    checkpoints: tuple[Checkpoint, ...]
    routes: tuple[Route, ...]
    aircraft: tuple[Aircraft, ...]


def export_region(library: Library, terrain_store: TerrainStore, slug: str, stream: IO[bytes]) -> RegionExport:
    """Write a region into a stream; the same region gives the same bytes.

    Raises
    ------
    NotFound
        There is no such region.
    InputProblem
        Something in it cannot be written so that it would be read back (code region-not-exportable); each thing is named.
    TerrainMissing
        Its ground is not in the store, or damaged.
    """
    whole = _gathered(library, slug)
    members: dict[str, bytes | Path] = dict(_tables(whole))
    ground = open_ground(terrain_store, whole.region.ground_fingerprint)
    with tempfile.TemporaryDirectory(prefix="beaconry-") as scratch:
        if isinstance(ground, Terrain):
            folder = Path(scratch) / TERRAIN_FOLDER
            files = write_tiles(ground, folder)
            members |= {file.relative_to(scratch).as_posix(): file for file in files}
        manifest = write_archive(stream, members)
    return RegionExport(region=whole.region, manifest=manifest)


def _gathered(library: Library, slug: str) -> _Whole:
    with library.read() as work:
        region = work.regions.by_slug(slug)
        number = stored(region.id)
        routes = tuple(work.routes.list(number))
        flown = {route.aircraft_id for route in routes}
        return _Whole(
            region=region,
            beacons=_keyed(work.beacons.list(number), lambda beacon: f"{beacon.kind}|{beacon.ident}"),
            airfields=_keyed(work.airfields.list(number), lambda airfield: airfield.ident),
            checkpoints=_keyed(work.checkpoints.list(number), lambda checkpoint: checkpoint.name),
            routes=routes,
            aircraft=tuple(aircraft for aircraft in work.aircraft.list() if aircraft.id in flown),
        )


def _keyed(things: Iterable[Shelved], called: Callable[[Shelved], str]) -> tuple[Shelved, ...]:
    """Give each thing without a key one of its own, in the order of their numbers."""
    things = tuple(things)
    taken = {thing.external_key for thing in things if thing.external_key}
    keys: dict[int, str] = {}
    for thing in sorted((thing for thing in things if not thing.external_key), key=lambda thing: stored(thing.id)):
        base = f"{OWN_SOURCE}:{called(thing)}"[:LONGEST_KEY]
        again = (f"{base}|{count}" for count in range(2, len(things) + 2))
        key = base if base not in taken else next(one for one in again if one not in taken)
        taken.add(key)
        keys[stored(thing.id)] = key
    return tuple(replace(thing, external_key=thing.external_key or keys[stored(thing.id)]) for thing in things)


def _tables(whole: _Whole) -> dict[str, bytes]:
    """Every member but the ground, read back to be sure."""
    names = PlaceNames.of(beacons=whole.beacons, airfields=whole.airfields, checkpoints=whole.checkpoints, aircraft=whole.aircraft)
    members = {
        REGION_FILE: write_region(_described(whole.region)),
        "beacons.csv": write_beacons(whole.beacons),
        "airfields.csv": write_airfields(whole.airfields),
        "checkpoints.csv": write_checkpoints(whole.checkpoints),
    }
    routes = tuple(described_route(route, names, name) for route, name in _named_apart(whole.routes))
    if routes:
        members[ROUTES_FILE] = write_routes(routes)
    if whole.aircraft:
        members[AIRCRAFT_FILE] = write_aircraft(whole.aircraft)
    if whole.region.sea_geojson:
        members[SEA_FILE] = whole.region.sea_geojson.encode("utf-8")
    problems = [
        *_files_not_read(members),
        *_rows_lost(read_beacons, members["beacons.csv"], whole.beacons, "beacons.csv"),
        *_rows_lost(read_airfields, members["airfields.csv"], whole.airfields, "airfields.csv"),
        *_rows_lost(read_checkpoints, members["checkpoints.csv"], whole.checkpoints, "checkpoints.csv"),
    ]
    if problems:
        text = f"{whole.region.name} cannot be written as one file yet. " + " ".join(problem.message for problem in problems[:3])
        raise InputProblem(text, code="region-not-exportable", place=whole.region.slug, problems=tuple(problems))
    return members


def _described(region: RegionRecord) -> RegionDescription:
    values = {field.name: getattr(region, field.name) for field in fields(RegionDescription)}
    values["slug"] = re.sub("-+", "-", region.slug).strip("-")
    if region.fictional and not region.notice:
        values["notice"] = f"{region.name} is invented. Not for navigation."
    return RegionDescription(**values)


def _named_apart(routes: tuple[Route, ...]) -> list[tuple[Route, str]]:
    """Each route with its name; of several with one name the later ones get a number, for a file knows routes by name."""
    taken: set[str] = {route.name for route in routes}
    used: set[str] = set()
    named = []
    for route in routes:
        name = route.name
        if name in used:
            name = next(one for count in range(2, len(routes) + 2) if (one := f"{route.name[:110]} ({count})") not in taken | used)
        used.add(name)
        named.append((route, name))
    return named


def _files_not_read(members: dict[str, bytes]) -> list[Problem]:
    problems: list[Problem] = []
    for name, reader in ((REGION_FILE, read_region), (ROUTES_FILE, read_routes), (AIRCRAFT_FILE, read_aircraft)):
        if name in members:
            try:
                reader(members[name], name=name)
            except InputProblem as problem:
                problems.extend(problem.problems)
    return problems


def _rows_lost(read: Callable[..., Reading], content: bytes, things: tuple[Place, ...], name: str) -> list[Problem]:
    """What would not come back from a table as it went in."""
    if not things:
        return []
    reading = read(content, region_id=things[0].region_id, name=name)
    back = {row.external_key: row for row in reading.rows}
    refused = {row.key: row for row in reading.refused}
    problems = []
    for thing in things:
        row = back.get(thing.external_key)
        if row is None:
            lost = refused.get(thing.external_key)
            reason = lost.reason if lost is not None else "Its row would be lost."
            text = f"{label_of(thing)} would be refused where the file is loaded: {reason} Correct it on its card first."
            problems.append(Problem(place=name, message=text, code=lost.code if lost is not None else "region-not-exportable"))
        elif row != replace(thing, id=None):
            names = ", ".join(change.field for change in changes_between(replace(thing, id=None), row)) or "source"
            text = f"{label_of(thing)} would come back with another {names}. Correct that on its card first."
            problems.append(Problem(place=name, message=text, code="region-not-exportable"))
    return problems
