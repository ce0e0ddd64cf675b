"""Bring in a route from elsewhere: its ends become airfields of the region, points near its own places become these places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from server.errors import InputProblem
from server.exchange.geojson_route import read_geojson_route
from server.exchange.gpx_file import read_gpx
from server.exchange.route_shape import RouteShape, ShapePoint
from server.exchange.route_text_file import read_route_text
from server.navigation import Airfield, PointKind, Position, Route, RoutePoint, distance_nm
from server.persistence import Library, RegionRecord, stored

END_NM = 2.0
"""An end of the route this near to an airfield is that airfield."""

PLACE_NM = 0.5
"""A point this near to a beacon, an airfield or a checkpoint is that place."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Match:
    """What became of one point of the file."""

    number: int
    name: str
    """Its name in the file."""
    position: Position
    became: str
    """The place of the region in words; empty where it stays a position."""
    off_nm: float
    """How far that place is from the point."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BroughtIn:
    """A route ready to be kept, and what became of each point."""

    region: RegionRecord
    route: Route
    shape: RouteShape
    matches: tuple[Match, ...]


Reader = Callable[..., RouteShape]


def read_route_file(content: bytes, *, name: str) -> RouteShape:
    """Read a route file by what it holds: GPX, GeoJSON or route text. Raises InputProblem."""
    start = content.lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n")[:1]
    readers: dict[bytes, Reader] = {b"<": read_gpx, b"{": read_geojson_route, b"[": read_geojson_route}
    return readers.get(start, read_route_text)(content, name=name)


def bring_in(library: Library, slug: str, content: bytes, *, name: str, altitude_ft: float | None) -> BroughtIn:
    """Read a file and match its points to the region. Nothing is stored.

    Raises
    ------
    InputProblem
        The file cannot be read (codes route-file-unusable, file-too-large), or an end is far from every open airfield (no-airfield-near).
    """
    shape = read_route_file(content, name=name)
    with library.read() as work:
        region = work.regions.by_slug(slug)
        number = stored(region.id)
        fields = [field for field in work.airfields.list(number) if not field.closed]
        places = _Places(
            beacons=tuple((stored(each.id), f"{each.ident} {each.kind.value}", each.position) for each in work.beacons.list(number)),
            airfields=tuple((stored(each.id), f"{each.ident} {each.name}", each.position) for each in fields),
            checkpoints=tuple((stored(each.id), each.name, each.position) for each in work.checkpoints.list(number)),
        )
    first, *middle, last = shape.points
    departure = _end(first, fields, "begins", name)
    destination = _end(last, fields, "ends", name)
    points, matches = [], [_matched(0, first, f"{departure.ident} {departure.name}", departure.position)]
    for at, point in enumerate(middle, start=1):
        made, match = places.match(at, point)
        points.append(made)
        matches.append(match)
    matches.append(_matched(len(middle) + 1, last, f"{destination.ident} {destination.name}", destination.position))
    route = Route(
        region_id=number,
        name=shape.name or f"{departure.ident} to {destination.ident}",
        departure_airfield_id=stored(departure.id),
        destination_airfield_id=stored(destination.id),
        points=tuple(points),
        altitude_ft=altitude_ft,
    )
    return BroughtIn(region=region, route=route, shape=shape, matches=tuple(matches))


Place = tuple[int, str, Position]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Places:
    beacons: tuple[Place, ...]
    airfields: tuple[Place, ...]
    checkpoints: tuple[Place, ...]

    def match(self, number: int, point: ShapePoint) -> tuple[RoutePoint, Match]:
        """The nearest place near enough, of two beacons in one place the one of the point's name first; else the position itself."""
        kinds = ((PointKind.BEACON, self.beacons), (PointKind.AIRFIELD, self.airfields), (PointKind.CHECKPOINT, self.checkpoints))
        near = [
            (words.split()[0] != point.name, distance_nm(point.position, position), kind, place_id, words, position)
            for kind, places in kinds
            for place_id, words, position in places
            if abs(position.lat_deg - point.position.lat_deg) < 0.02 and distance_nm(point.position, position) <= PLACE_NM
        ]
        if not near:
            made = RoutePoint(kind=PointKind.POSITION, name=point.name, position=point.position)
            return made, _matched(number, point, "", point.position)
        _, _, kind, place_id, words, position = min(near, key=lambda each: each[:2])
        return RoutePoint(kind=kind, place_id=place_id), _matched(number, point, words, position)


def _matched(number: int, point: ShapePoint, became: str, place: Position) -> Match:
    return Match(number=number, name=point.name, position=point.position, became=became, off_nm=distance_nm(point.position, place))


def _end(point: ShapePoint, fields: list[Airfield], word: str, name: str) -> Airfield:
    ranked = sorted(fields, key=lambda field: distance_nm(point.position, field.position))
    if ranked and distance_nm(point.position, ranked[0].position) <= END_NM:
        return ranked[0]
    told = ", ".join(f"{field.ident} {field.name} ({distance_nm(point.position, field.position):.1f} NM)" for field in ranked[:3])
    nearest = (
        f"The nearest are {told}. Let the route begin and end at one of the region's airfields" if told else "Load or add airfields first"
    )
    text = f"{name} {word} more than {END_NM:.0f} NM from every open airfield of this region. {nearest}."
    raise InputProblem(text, code="no-airfield-near", place="table")
