"""What an instructor does to a region on its chart: move a place, look what a moved beacon would be worth, forbid a sector of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC
from typing import Any

from server.errors import InputProblem, NotFound
from server.navigation import Airfield, Checkpoint, Position, Route, destination, distance_nm, inverse, variation
from server.persistence import Library
from server.planning import region_book
from server.planning.coverage import BeaconCoverage, check_height
from server.planning.guidance import guiding_component
from server.planning.materials import Clock, ground_ft_at, open_ground, projection_of, utc_now
from server.planning.region_findings import subject_of
from server.planning.route_users import routes_that_use
from server.radio import Beacon, ChosenHeight, Component, ComponentKind, Ground, UnusableSector, coverage_of
from server.terrain import TerrainStore
from server.units import nautical_miles_from_metres

CELLS = 110
"""Across the coverage of a beacon that is being moved: seen at once rather than to the last mile."""

Sectors = tuple[UnusableSector, ...]


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A place after it was moved."""

    thing: Any
    distance_nm: float
    ground_ft: float | None
    """The ground at the new place; None where it is not known. [ft]"""
    routes: tuple[Route, ...]
    """The routes that use it, and so may have changed."""


def moved_beacon(beacon: Beacon, position: Position, *, ground: Ground, take_ground: bool) -> Beacon:
    """Return a beacon at another place. Its parts keep their distance and direction from it; with ``take_ground`` its elevation becomes
    that of the ground there, where that is known, and a part's own changes by as much."""
    ground_ft = ground_ft_at(ground, position)
    elevation_ft, rise_ft = beacon.elevation_ft, 0.0
    if take_ground and ground_ft is not None:
        elevation_ft = float(round(ground_ft))
        rise_ft = elevation_ft - beacon.elevation_ft if beacon.elevation_ft is not None else 0.0
    parts = tuple(_moved_part(part, beacon.position, position, rise_ft) for part in beacon.components)
    return replace(beacon, position=position, elevation_ft=elevation_ft, components=parts)


def _moved_part(part: Component, before: Position, after: Position, rise_ft: float) -> Component:
    if part.elevation_ft is not None:
        part = replace(part, elevation_ft=part.elevation_ft + rise_ft)
    if part.position is None:
        return part
    way = inverse(before, part.position)
    if way.initial_true_deg is None:
        return replace(part, position=after)
    return replace(
        part, position=destination(after, bearing_true_deg=way.initial_true_deg, distance_nm=nautical_miles_from_metres(way.distance_m))
    )


def try_beacon_at(
    library: Library,
    terrain_store: TerrainStore,
    slug: str,
    number: int,
    position: Position,
    *,
    altitude_ft: float,
    take_ground: bool,
    clock: Clock = utc_now,
) -> tuple[BeaconCoverage, Moved]:
    """Find out where a beacon would be received at an altitude if it stood elsewhere. Nothing is stored.

    Raises
    ------
    InputProblem
        The altitude is impossible (code altitude), or the beacon has no part that sends (code no-such-part).
    NotFound
        The region has no such beacon.
    OutOfRange
        Its range would come too near to a pole.
    """
    check_height(altitude_ft, above_ground=False)
    region, beacon = region_book.find(library, slug, "beacons", number)
    ground, on = open_ground(terrain_store, region.ground_fingerprint), clock().astimezone(UTC).date()
    there = moved_beacon(beacon, position, ground=ground, take_ground=take_ground)
    kind = guiding_component(there) or (there.components[0].kind if there.components else None)
    if kind is None:
        raise InputProblem(f"{beacon.ident} has no part that sends anything: there is nothing to draw. Add its parts.", code="no-such-part")
    estimated_deg = variation(position, on).deg
    coverage = coverage_of(
        beacon=there,
        component=kind,
        height=ChosenHeight(feet=altitude_ft, above_ground=False),
        ground=ground,
        on=on,
        estimated_declination_deg=estimated_deg,
        cells=CELLS,
    )
    found = BeaconCoverage(
        region=region,
        coverage=coverage,
        projection=projection_of(region, [position]),
        ground=ground,
        on=on,
        estimated_declination_deg=estimated_deg,
    )
    return found, _moved(library, slug, beacon, there, ground)


def move_place(
    library: Library,
    terrain_store: TerrainStore,
    slug: str,
    shelf: region_book.Shelf,
    number: int,
    position: Position,
    *,
    take_ground: bool,
) -> Moved:
    """Put a beacon, an airfield or a checkpoint somewhere else, and tell which routes use it. Raises NotFound."""
    region, thing = region_book.find(library, slug, shelf, number)
    ground = open_ground(terrain_store, region.ground_fingerprint)
    if isinstance(thing, Beacon):
        there: Any = moved_beacon(thing, position, ground=ground, take_ground=take_ground)
    else:
        there = _moved_plain(thing, position, ground_ft_at(ground, position) if take_ground else None)
    kept = region_book.change(library, shelf, there)
    return _moved(library, slug, thing, kept, ground)


def _moved_plain(thing: Airfield | Checkpoint, position: Position, ground_ft: float | None) -> Airfield | Checkpoint:
    if isinstance(thing, Airfield) and ground_ft is not None:
        return replace(thing, position=position, elevation_ft=float(round(ground_ft)))
    return replace(thing, position=position)


def _moved(library: Library, slug: str, before: Any, after: Any, ground: Ground) -> Moved:
    region = region_book.find_region(library, slug)
    routes = routes_that_use(library, region).get((subject_of(before).kind, before.id or 0), ())
    return Moved(
        thing=after,
        distance_nm=float(distance_nm(before.position, after.position)),
        ground_ft=ground_ft_at(ground, after.position),
        routes=routes,
    )


def forbid_sector(library: Library, slug: str, number: int, kind: ComponentKind, sector: UnusableSector) -> Beacon:
    """Add an unusable sector to a part of a beacon and return the beacon.

    Raises
    ------
    NotFound
        The region has no such beacon, or the beacon has no such part.
    InputProblem
        The sector holds nothing: it ends before it begins (code sector-empty).
    """
    if sector.within_nm is not None and sector.within_nm <= (sector.beyond_nm or 0.0):
        text = f"The sector ends at {sector.within_nm:g} NM, before it begins at {sector.beyond_nm or 0.0:g} NM. Correct one of the two."
        raise InputProblem(text, code="sector-empty", place="within_nm")

    def forbidden(sectors: Sectors) -> Sectors:
        return sectors if sector in sectors else (*sectors, sector)

    return _with_sectors(library, slug, number, kind, forbidden)


def lift_sector(
    library: Library, slug: str, number: int, kind: ComponentKind, *, index: int, is_meant: Callable[[UnusableSector], bool]
) -> Beacon:
    """Take an unusable sector of a part back and return the beacon.

    Of the sectors that are meant it is the one nearest to ``index``, its place in the list from 0 when it was seen. Where none is meant any
    more nothing changes: a second click on one button takes one sector back. Raises NotFound.
    """

    def lifted(sectors: Sectors) -> Sectors:
        meant = [at for at, sector in enumerate(sectors) if is_meant(sector)]
        if not meant:
            return sectors
        taken = min(meant, key=lambda at: abs(at - index))
        return (*sectors[:taken], *sectors[taken + 1 :])

    return _with_sectors(library, slug, number, kind, lifted)


def _with_sectors(library: Library, slug: str, number: int, kind: ComponentKind, change: Callable[[Sectors], Sectors]) -> Beacon:
    """Change the unusable sectors of a part as they stand now, with nobody else's change between the reading and the writing."""
    region_book.find(library, slug, "beacons", number)
    with library.begin() as work:
        work.beacons.lock(number)
        beacon = work.beacons.get(number)
        part = beacon.component(kind)
        if part is None:
            raise NotFound(f"{beacon.ident} has no {kind} part. Open it again.", code="no-such-part")
        changed = replace(part, unusable=change(part.unusable))
        return work.beacons.update(replace(beacon, components=tuple(changed if each is part else each for each in beacon.components)))
