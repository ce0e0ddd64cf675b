"""The routes of a region: list, find, add, change, copy and remove, and the points between their ends. One transaction each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from server.errors import InputProblem, NotFound
from server.navigation import Aircraft, Airfield, Checkpoint, LegChoice, Route, RoutePoint, distance_nm
from server.persistence import Library, RegionRecord, stored
from server.planning.level_advice import with_levels
from server.planning.log import LogPoint
from server.planning.materials import gather
from server.planning.plan import planned_levels_ft
from server.planning.points import position_of, refuse_long_legs, resolve_points
from server.radio import Beacon
from server.terrain import TerrainStore

MOST_POINTS = 100
"""Between departure and destination. A cross-country flight has a dozen."""

FAR_NM = 500.0

Points = tuple[RoutePoint, ...]


@dataclass(frozen=True, kw_only=True)
class RouteShelf:
    """All routes of a region, with the airfields that name their ends."""

    region: RegionRecord
    routes: tuple[Route, ...]
    airfields: dict[int | None, Airfield]


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What a route of this region can be made of, for the lists in forms."""

    region: RegionRecord
    airfields: tuple[Airfield, ...]
    aircraft: tuple[Aircraft, ...]
    beacons: tuple[Beacon, ...]
    checkpoints: tuple[Checkpoint, ...]

    @property
    def open_airfields(self) -> tuple[Airfield, ...]:
        return tuple(airfield for airfield in self.airfields if not airfield.closed)


def list_routes(library: Library, slug: str) -> RouteShelf:
    """Return the routes of a region in alphabetical order."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        airfields = {airfield.id: airfield for airfield in work.airfields.list(stored(region.id))}
        return RouteShelf(region=region, routes=tuple(work.routes.list(stored(region.id))), airfields=airfields)


def route_choices(library: Library, slug: str) -> Choices:
    """Return airfields, aircraft, beacons and checkpoints of a region."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        return Choices(
            region=region,
            airfields=tuple(work.airfields.list(stored(region.id))),
            aircraft=tuple(work.aircraft.list()),
            beacons=tuple(work.beacons.list(stored(region.id))),
            checkpoints=tuple(work.checkpoints.list(stored(region.id))),
        )


def find_route(library: Library, slug: str, number: int) -> tuple[RegionRecord, Route]:
    """Return one route of a region. A route of another region is not found here."""
    with library.read() as work:
        region, route = work.regions.by_slug(slug), work.routes.get(number)
    if route.region_id != region.id:
        raise NotFound(f"{region.name} has no route number {number}. Choose one from the list.")
    return region, route


def add_route(library: Library, route: Route, *, key: str = "") -> Route:
    """Keep a new route and return it with its number. ``key`` is made by the page that begins it, and begins one route.

    Raises Conflict (code key-twice) where a route was begun under the key already, by this server or another.
    """
    with library.begin() as work:
        kept = work.routes.add(route)
        if key:
            work.routes.remember_begun(key, stored(kept.id))
        return kept


def begun_route(library: Library, key: str) -> Route | None:
    """Return the route that was begun under a key; None where none was, or it was removed."""
    with library.read() as work:
        number = work.routes.begun(key)
        return None if number is None else work.routes.get(number)


def change_route(library: Library, route: Route) -> Route:
    """Replace a route by its changed value. If someone changed it since it was read, Conflict says so."""
    with library.begin() as work:
        return work.routes.update(route)


def copy_route(library: Library, number: int) -> Route:
    """Keep a second route, equal but for its name, and return it."""
    with library.begin() as work:
        route = work.routes.get(number)
        return work.routes.add(replace(route, id=None, name=f"Copy of {route.name}"[:80], version=1))


def remove_route(library: Library, slug: str, number: int) -> None:
    """Remove a route."""
    find_route(library, slug, number)
    with library.begin() as work:
        work.routes.remove(number)


def add_point(library: Library, terrain_store: TerrainStore, number: int, point: RoutePoint, *, after: int, version: int) -> Route:
    """Put a point behind position ``after`` of the chain, where 0 is the departure.

    Raises
    ------
    InputProblem, OutOfRange
        The point cannot be worked out, such as radials that do not cross; nothing is stored.
    Conflict
        The route is no longer at the version the person saw.
    """
    with library.read() as work:
        route = work.routes.get(number)
    materials = gather(library, terrain_store, route)
    position_of(point, materials)
    longer = replace(route, points=(*route.points[:after], point, *route.points[after:]))
    refuse_long_legs(resolve_points(replace(materials, route=longer)))
    return _with_points(library, number, lambda points: (*points[:after], point, *points[after:]), version=version)


class Way(StrEnum):
    """What can be done to a point where it stands."""

    UP = "up"
    DOWN = "down"
    REMOVE = "remove"


def rearrange(library: Library, number: int, position: int, way: Way, *, version: int) -> Route:
    """Take out the point at this position, counted from 1 behind the departure, or let it change places with its neighbour.

    At an end of the chain nothing changes. Positions are those of ``version``; if the route has moved on, Conflict says so.
    """

    def moved(points: Points) -> Points:
        if not 1 <= position <= len(points):
            return points
        if way is Way.REMOVE:
            return points[: position - 1] + points[position:]
        other = position - 2 if way is Way.UP else position
        if not 0 <= other < len(points):
            return points
        turned = list(points)
        turned[position - 1], turned[other] = turned[other], turned[position - 1]
        return tuple(turned)

    return _with_points(library, number, moved, version=version)


def choose_for_leg(library: Library, number: int, leg: int, choice: LegChoice, *, version: int) -> Route:
    """Keep what was chosen for a leg, counted from 1. The altitude of the first leg is that of the route and is not changed here.

    Raises NotFound where the route has no such leg, Conflict where it is no longer at ``version``.
    """
    with library.begin() as work:
        route = replace(work.routes.get(number), version=version)
        if not 1 <= leg <= len(route.points) + 1:
            raise NotFound(f"This route has no leg {leg}.")
        if leg == 1:
            return work.routes.update(replace(route, onward=replace(choice, altitude_ft=None)))
        points = list(route.points)
        points[leg - 2] = replace(points[leg - 2], onward=choice)
        return work.routes.update(replace(route, points=tuple(points)))


def choose_levels(library: Library, number: int, levels_ft: tuple[float, ...], *, version: int) -> Route:
    """Give every leg its level. [ft]

    Raises InputProblem where there is not one for each leg or one is impossible (code altitude), Conflict where the route has moved on.
    """
    with library.begin() as work:
        route = replace(work.routes.get(number), version=version)
        if len(levels_ft) != len(route.points) + 1:
            text = f"The route has {len(route.points) + 1} legs, and {len(levels_ft)} levels were sent. Open the levels again."
            raise InputProblem(text, code="altitude")
        changed = with_levels(route, levels_ft)
        planned_levels_ft(changed)
        return work.routes.update(changed)


def _with_points(library: Library, number: int, change: Callable[[Points], Points], *, version: int) -> Route:
    with library.begin() as work:
        route = replace(work.routes.get(number), version=version)
        points = change(route.points)
        if len(points) > MOST_POINTS:
            raise InputProblem(f"A route may have {MOST_POINTS} points between its ends. Split the flight.", code="too-many-points")
        return work.routes.update(replace(route, points=points))


def points_far_away(points: tuple[LogPoint, ...]) -> tuple[str, ...]:
    """Say which points lie more than 500 NM from every other: latitude and longitude may be swapped, or a sign lost."""
    warnings = []
    for point in points:
        others = [other for other in points if other is not point]
        nearest_nm = min((float(distance_nm(point.position, other.position)) for other in others), default=0.0)
        if nearest_nm > FAR_NM:
            warnings.append(f"{point.name} lies {nearest_nm:,.0f} NM from the nearest other point. Were latitude and longitude swapped?")
    return tuple(warnings)
