"""Which routes use a beacon, an airfield or a checkpoint: as a point, as an end or alternate, or as what a fix is made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from server.navigation import PointKind, Route
from server.persistence import Library, RegionRecord, stored
from server.planning.region_findings import SubjectKind

RoutesInUse = dict[tuple[SubjectKind, int], tuple[Route, ...]]
"""For each thing that routes use, by kind and number, those routes in the order given."""

KIND_OF_POINT = {
    PointKind.AIRFIELD: SubjectKind.AIRFIELD,
    PointKind.BEACON: SubjectKind.BEACON,
    PointKind.CHECKPOINT: SubjectKind.CHECKPOINT,
}


def routes_in_use(routes: Iterable[Route]) -> RoutesInUse:
    """Turn routes round: from each thing they use to the routes that use it. A route is named once for each thing."""
    users: dict[tuple[SubjectKind, int], list[Route]] = {}
    for route in routes:
        for thing in dict.fromkeys(_used_by(route)):
            users.setdefault(thing, []).append(route)
    return {thing: tuple(named) for thing, named in users.items()}


def routes_that_use(library: Library, region: RegionRecord) -> RoutesInUse:
    """Tell for each thing of a region which of its routes use it."""
    with library.read() as work:
        return routes_in_use(work.routes.list(stored(region.id)))


def _used_by(route: Route) -> Iterator[tuple[SubjectKind, int]]:
    for airfield in (route.departure_airfield_id, route.destination_airfield_id, route.alternate_airfield_id):
        if airfield is not None:
            yield SubjectKind.AIRFIELD, airfield
    for point in route.points:
        if point.place_id is not None and point.kind in KIND_OF_POINT:
            yield KIND_OF_POINT[point.kind], point.place_id
        for beacon in (point.beacon_id, point.second_beacon_id):
            if beacon is not None:
                yield SubjectKind.BEACON, beacon
