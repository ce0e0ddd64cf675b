"""Read a route out of GeoJSON (RFC 7946): the lines of it, joined in order, else its points in order."""

from __future__ import annotations

import json
from typing import Any

from server.exchange.route_shape import MOST_READ, RouteShape, ShapePoint, ShapeSource, check_size, position_of_numbers, shape_of, unusable
from server.navigation import Position

LONGEST_NAME = 80


def read_geojson_route(content: bytes, *, name: str) -> RouteShape:
    """Return the route of a GeoJSON file, or raise InputProblem that says what is wrong with it.

    Where a line and a point stand in one place the point's ``name`` (or ``ident``) names the place. A line of more than 100 places is
    taken for a recorded track.
    """
    check_size(content, file_name=name)
    reader = _GeoJsonReader(name)
    try:
        document = json.loads(content.decode("utf-8-sig"), parse_constant=reader.no_number)
        reader.walk(document, {}, "the file")
    except UnicodeDecodeError:
        raise unusable(name, "it is not UTF-8, as GeoJSON must be") from None
    except json.JSONDecodeError as problem:
        raise unusable(name, f"line {problem.lineno} is no JSON: {problem.msg}") from None
    except RecursionError:
        raise unusable(name, "it is nested too deeply") from None
    except ValueError as problem:  # a number of thousands of digits
        raise unusable(name, f"it holds a number that cannot be one: {str(problem).split(';')[0]}") from None
    names = {point.position: point.name for point in reader.points if point.name}
    if not reader.line:
        return shape_of(reader.title, ShapeSource.POINTS, reader.points, file_name=name)
    line = [ShapePoint(name=names.get(point.position, ""), position=point.position) for point in reader.line]
    source = ShapeSource.TRACK if len(line) > 100 else ShapeSource.ROUTE
    return shape_of(reader.title, source, line, file_name=name)


class _GeoJsonReader:
    """Walks GeoJSON and gathers places."""

    def __init__(self, name: str):
        self._name = name
        self.title = ""
        self.line: list[ShapePoint] = []
        self.points: list[ShapePoint] = []

    def no_number(self, word: str) -> float:
        raise unusable(self._name, f"{word} is no number in JSON")

    def walk(self, node: Any, properties: dict, where: str) -> None:
        kind = node.get("type") if isinstance(node, dict) else None
        if kind == "FeatureCollection":
            self.title = self.title or _text(node.get("name"))
            self._each(node.get("features"), properties, where, "feature")
        elif kind == "Feature":
            told = node.get("properties")
            self.walk_geometry(node.get("geometry"), told if isinstance(told, dict) else {}, where)
        elif kind == "GeometryCollection":
            self._each(node.get("geometries"), properties, where, "geometry")
        else:
            self.walk_geometry(node, properties, where)

    def _each(self, nodes: Any, properties: dict, where: str, word: str) -> None:
        if not isinstance(nodes, list):
            raise unusable(self._name, f"{where} has no list of {word}s")
        for number, node in enumerate(nodes, start=1):
            self.walk(node, properties, f"{word} {number} of {where}")

    def walk_geometry(self, node: Any, properties: dict, where: str) -> None:
        if node is None:
            return
        kind = node.get("type") if isinstance(node, dict) else None
        coordinates = node.get("coordinates") if isinstance(node, dict) else None
        if kind == "GeometryCollection":
            self._each(node.get("geometries"), properties, where, "geometry")
        elif kind == "Point":
            name = _text(properties.get("name")) or _text(properties.get("ident"))
            self.points.append(ShapePoint(name=name, position=self._position(coordinates, where)))
        elif kind in ("LineString", "MultiLineString") and isinstance(coordinates, list):
            for line in coordinates if kind == "MultiLineString" else [coordinates]:
                self._add_line(line, where)
        elif kind in ("MultiPoint", "Polygon", "MultiPolygon"):
            raise unusable(self._name, f"{where} is a {kind}; a route is made of lines or points")
        else:
            raise unusable(self._name, f"{where} is no GeoJSON geometry")

    def _add_line(self, line: Any, where: str) -> None:
        if not isinstance(line, list):
            raise unusable(self._name, f"{where} has a line without places")
        if len(self.line) + len(line) > MOST_READ:
            raise unusable(self._name, f"it holds more than {MOST_READ} places")
        for number, pair in enumerate(line, start=1):
            place = ShapePoint(name="", position=self._position(pair, f"place {number} of {where}"))
            if not (self.line and self.line[-1].position == place.position):
                self.line.append(place)

    def _position(self, pair: Any, where: str) -> Position:
        if not isinstance(pair, list) or len(pair) < 2 or not all(_is_number(each) for each in pair[:2]):
            raise unusable(self._name, f"{where} has no pair of longitude and latitude")
        return position_of_numbers(float(pair[1]), float(pair[0]), file_name=self._name, where=where)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        return ""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in value).split())[:LONGEST_NAME]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
