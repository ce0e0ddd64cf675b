"""What a region holds, and the aircraft: browse, find, add, change and remove, each in one transaction.

The three shelves of a region - beacons, airfields, checkpoints - are kept in the same way, so one set of use cases serves them all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any, Literal

from server.errors import Conflict, InputProblem, NotFound, Problem, ProjectError
from server.navigation import Aircraft, Airfield, Checkpoint, Route
from server.persistence import Library, RegionRecord, Work, stored
from server.radio import Beacon, BeaconKind

Shelf = Literal["beacons", "airfields", "checkpoints"]
Thing = Beacon | Airfield | Checkpoint

PER_PAGE = 50
SLUG = r"[a-z0-9][a-z0-9-]{0,39}"
"""What the short name of a region looks like."""
ONE = {"beacons": "beacon", "airfields": "airfield", "checkpoints": "checkpoint"}


@dataclass(frozen=True, kw_only=True)
class Browse:
    """One page of a shelf. ``total`` counts all that match; pages are numbered from 1."""

    region: RegionRecord
    things: tuple[Any, ...]
    total: int
    page: int
    pages: int


def browse(library: Library, slug: str, shelf: Shelf, *, search: str = "", kind: BeaconKind | None = None, page: int = 1) -> Browse:
    """List one page of a shelf; ``kind`` narrows beacons only. A page beyond the last is the last."""
    narrowed = {"search": search} | ({"kind": kind} if shelf == "beacons" else {})
    with library.read() as work:
        region = work.regions.by_slug(slug)
        repository = getattr(work, shelf)
        total = repository.count(stored(region.id), **narrowed)
        pages = max(1, -(-total // PER_PAGE))
        page = min(page, pages)
        things = repository.list(stored(region.id), **narrowed, limit=PER_PAGE, offset=(page - 1) * PER_PAGE)
    return Browse(region=region, things=tuple(things), total=total, page=page, pages=pages)


def add_region(library: Library, *, slug: str, name: str, level_rule: str) -> RegionRecord:
    """Make an empty region of real places, to load tables and terrain into.

    Raises
    ------
    InputProblem
        The short name is not letters, digits and hyphens, or either name is empty.
    Conflict
        The short name is taken.
    """
    problems = []
    if not re.fullmatch(SLUG, slug):
        text = f'"{slug}" cannot be a short name: use up to 40 small letters, digits and hyphens, such as north-coast.'
        problems.append(Problem(place="region", message=text))
    if not name.strip():
        problems.append(Problem(place="name", message="Give the region a name for people."))
    if problems:
        raise InputProblem(problems[0].message, code="region-name", problems=tuple(problems))
    with library.begin() as work:
        if any(region.slug == slug for region in work.regions.list()):
            raise Conflict(f'There is a region "{slug}" already. Choose another short name.', code="region-exists")
        return work.regions.add(RegionRecord(slug=slug, name=name.strip(), fictional=False, level_rule=level_rule))


def find_region(library: Library, slug: str) -> RegionRecord:
    """Return the region of this short name."""
    with library.read() as work:
        return work.regions.by_slug(slug)


def region_at(library: Library, address: str) -> RegionRecord | None:
    """Return the region that an address lies in ("/regions/vessune/routes/7"), None where it lies in none that is there."""
    match = re.match(r"/regions/([^/]+)/", address)
    try:
        return find_region(library, match[1]) if match else None
    except ProjectError:
        return None


def find(library: Library, slug: str, shelf: Shelf, number: int) -> tuple[RegionRecord, Any]:
    """Return one thing of a region's shelf. A thing of another region is not found here."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        thing = getattr(work, shelf).get(number)
    if thing.region_id != region.id:
        raise NotFound(f"{region.name} has no {ONE[shelf]} number {number}. Choose one from the list.")
    return region, thing


def add(library: Library, shelf: Shelf, thing: Thing) -> Any:
    """Put a new thing on its shelf and return it with its number. An ident that means another airfield already is refused."""
    with library.begin() as work:
        if isinstance(thing, Airfield):
            _check_ident_is_free(work, thing)
        return getattr(work, shelf).add(thing)


def change(library: Library, shelf: Shelf, thing: Thing) -> Any:
    """Replace a thing by its changed value. What the form does not show (the key of its source) is kept.

    An ident that means another airfield already is refused, unless a loaded table brought it so.
    """
    with library.begin() as work:
        repository = getattr(work, shelf)
        present = repository.get(thing.id)
        if isinstance(thing, Airfield) and thing.ident != present.ident:
            _check_ident_is_free(work, thing)
        return repository.update(replace(thing, external_key=present.external_key))


def _check_ident_is_free(work: Work, airfield: Airfield) -> None:
    """A flight names its airfields by ident, so one ident means one airfield."""
    for other in work.airfields.find_by_ident(airfield.region_id, airfield.ident):
        text = f"Ident: {airfield.ident} is {other.name} already. A flight names its airfields by ident: choose another."
        raise InputProblem(text, code="ident-taken", place="ident")


def remove(library: Library, slug: str, shelf: Shelf, number: int) -> None:
    """Take a thing off its shelf. While a route uses it, Conflict names the routes and nothing is removed."""
    find(library, slug, shelf, number)
    with library.begin() as work:
        getattr(work, shelf).remove(number)


def list_aircraft(library: Library) -> tuple[Aircraft, ...]:
    """Return every aircraft; they belong to no region."""
    with library.read() as work:
        return tuple(work.aircraft.list())


def find_aircraft(library: Library, number: int) -> Aircraft:
    """Return one aircraft."""
    with library.read() as work:
        return work.aircraft.get(number)


def add_aircraft(library: Library, aircraft: Aircraft) -> Aircraft:
    """Keep a new aircraft and return it with its number."""
    with library.begin() as work:
        return work.aircraft.add(aircraft)


def change_aircraft(library: Library, aircraft: Aircraft) -> Aircraft:
    """Replace an aircraft by its changed value."""
    with library.begin() as work:
        return work.aircraft.update(aircraft)


def remove_aircraft(library: Library, number: int) -> None:
    """Remove an aircraft. While a route uses it, Conflict names the routes and nothing is removed."""
    with library.begin() as work:
        work.aircraft.remove(number)


@dataclass(frozen=True, kw_only=True)
class RegionSummary:
    """One region at a glance."""

    region: RegionRecord
    routes: tuple[Route, ...]
    beacons: int
    airfields: int
    checkpoints: int


def summarise(library: Library) -> tuple[RegionSummary, ...]:
    """Return every region with its routes and how much it holds: first those with routes, then those that hold anything."""
    with library.read() as work:
        summaries = [
            RegionSummary(
                region=region,
                routes=tuple(work.routes.list(stored(region.id))),
                beacons=work.beacons.count(stored(region.id)),
                airfields=work.airfields.count(stored(region.id)),
                checkpoints=work.checkpoints.count(stored(region.id)),
            )
            for region in work.regions.list()
        ]
    return tuple(sorted(summaries, key=lambda one: (not one.routes, not (one.beacons or one.airfields))))  # by name among equals
