"""Read a route out of a GPX file, version 1.1 or 1.0: its first route, else its first track, else its waypoints in order.

GPX 1.1: the schema of topografix.com, an open standard. Entities and outside references are refused before anything is built.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from server.exchange.route_shape import MOST_READ, RouteShape, ShapePoint, ShapeSource, check_size, position_of_numbers, shape_of, unusable

NAMESPACES = ("http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0")
LONGEST_NAME = 80


def read_gpx(content: bytes, *, name: str) -> RouteShape:
    """Return the route of a GPX file, or raise InputProblem that says what is wrong with it."""
    check_size(content, file_name=name)
    root = _parsed(content, name)
    space = next((each for each in NAMESPACES if root.tag == f"{{{each}}}gpx"), None)
    if space is None:
        raise unusable(name, "its outermost element is not that of GPX 1.1 or 1.0")
    reader = _GpxReader(name, space)
    for source, points_of in (
        (ShapeSource.ROUTE, reader.routes),
        (ShapeSource.TRACK, reader.tracks),
        (ShapeSource.POINTS, reader.waypoints),
    ):
        title, points = points_of(root)
        if points:
            return shape_of(title, source, points, file_name=name)
    raise unusable(name, "it holds no route, no track and no waypoint")


def _parsed(content: bytes, name: str) -> Element:
    try:
        return fromstring(content, forbid_dtd=True)
    except DefusedXmlException as problem:
        raise unusable(name, "it declares entities or refers to other files, which a route does not need") from problem
    except ParseError as problem:
        line, column = problem.position
        raise unusable(name, f"it is no XML: line {line}, column {column + 1}") from problem
    except (ValueError, LookupError, RecursionError) as problem:
        raise unusable(name, "its encoding or its nesting cannot be read") from problem


class _GpxReader:
    """Reads points in one namespace."""

    def __init__(self, name: str, space: str):
        self._name, self._space = name, space

    def routes(self, root: Element) -> tuple[str, list[ShapePoint]]:
        route = next(iter(self._all(root, "rte")), None)
        return ("", []) if route is None else (self._text(route, "name"), self._points(self._all(route, "rtept"), "route point"))

    def tracks(self, root: Element) -> tuple[str, list[ShapePoint]]:
        track = next(iter(self._all(root, "trk")), None)
        if track is None:
            return "", []
        points = [point for segment in self._all(track, "trkseg") for point in self._all(segment, "trkpt")]
        return self._text(track, "name"), self._points(points, "track point")

    def waypoints(self, root: Element) -> tuple[str, list[ShapePoint]]:
        return "", self._points(self._all(root, "wpt"), "waypoint")

    def _all(self, parent: Element, tag: str) -> list[Element]:
        return parent.findall(f"{{{self._space}}}{tag}")

    def _text(self, parent: Element, tag: str) -> str:
        text = parent.findtext(f"{{{self._space}}}{tag}") or ""
        return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:LONGEST_NAME]

    def _points(self, elements: list[Element], what: str) -> list[ShapePoint]:
        if len(elements) > MOST_READ:
            raise unusable(self._name, f"it holds {len(elements)} points; {MOST_READ} are read at most")
        return [self._point(element, f"{what} {number}") for number, element in enumerate(elements, start=1)]

    def _point(self, element: Element, where: str) -> ShapePoint:
        numbers = []
        for attribute in ("lat", "lon"):
            text = element.get(attribute, "")
            try:
                numbers.append(float(text))
            except ValueError:
                raise unusable(self._name, f'{where} has {attribute} "{text[:30]}", which is no number') from None
        return ShapePoint(name=self._text(element, "name"), position=position_of_numbers(*numbers, file_name=self._name, where=where))
