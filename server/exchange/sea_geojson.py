"""Read where the sea is: polygons in GeoJSON (RFC 7946), longitude first, as they come from a drawing program or a stranger.

Shapely is planar: only the shape is checked here, nothing is measured.
"""

from __future__ import annotations

import itertools
import json
import math

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.validation import explain_validity

from server.errors import InputProblem

MAX_SEA_BYTES = 64 * 1024 * 1024
MAX_VERTICES = 1_000_000
_LONGITUDE_LATITUDE = ("CRS84", "EPSG::4326", "EPSG:4326")


def read_sea(content: bytes, *, name: str) -> MultiPolygon:
    """Return the polygons of a GeoJSON object: Polygon, MultiPolygon, Feature, FeatureCollection or GeometryCollection of these.

    Heights in the coordinates are dropped; polygons that overlap are joined. Raises InputProblem that names the first thing wrong.
    """
    document = _parsed(content, name=name)
    reader = _PolygonReader(name)
    try:
        reader.read(document, place="the file")
    except RecursionError:
        raise reader.problem("the file", "is nested too deeply") from None
    if not reader.polygons:
        raise reader.problem("the file", "holds no polygon")
    joined = shapely.union_all(reader.polygons)
    return joined if joined.geom_type == "MultiPolygon" else MultiPolygon([joined])


def _parsed(content: bytes, *, name: str):
    def no_number(word: str):
        raise ValueError(f"{word} is not a number in JSON")

    if len(content) > MAX_SEA_BYTES:
        raise InputProblem(
            f"{name} is larger than {MAX_SEA_BYTES // 2**20} MB. Draw the sea more coarsely.", code="file-too-large", place=name
        )
    try:
        return json.loads(content.decode("utf-8-sig"), parse_constant=no_number)
    except UnicodeDecodeError as problem:
        why = f"byte 0x{problem.object[problem.start]:02X} at {problem.start} is not UTF-8"
    except json.JSONDecodeError as problem:
        why = f"line {problem.lineno}: {problem.msg}"
    except ValueError as problem:
        why = str(problem)[:200]
    except RecursionError:
        why = "it is nested too deeply"
    raise InputProblem(f"{name} is not usable as GeoJSON: {why}.", code="sea-unreadable", place=name)


class _PolygonReader:
    """Walks a GeoJSON object and collects its polygons, counting vertices on the way."""

    def __init__(self, name: str):
        self.polygons: list[Polygon] = []
        self._name = name
        self._vertices = 0

    def problem(self, place: str, what: str) -> InputProblem:
        return InputProblem(
            f"{self._name}: {place} {what}. The sea must be polygons of longitude and latitude in degrees (GeoJSON).",
            code="sea-unusable",
            place=self._name,
        )

    def read(self, item, *, place: str) -> None:
        if not isinstance(item, dict):
            raise self.problem(place, "is null or no GeoJSON object")
        self._check_reference(item, place)
        kind = item.get("type")
        if kind == "FeatureCollection":
            self._read_all(item.get("features"), "feature", place)
        elif kind == "Feature":
            self.read(item.get("geometry"), place=f"the geometry of {place}")
        elif kind == "GeometryCollection":
            self._read_all(item.get("geometries"), "geometry", place)
        elif kind == "Polygon":
            self._polygon(item.get("coordinates"), place)
        elif kind == "MultiPolygon":
            for number, rings in enumerate(self._list(item.get("coordinates"), place), 1):
                self._polygon(rings, f"polygon {number} of {place}")
        else:
            raise self.problem(place, f"is of the type {str(kind)[:30]!r}, not polygons")

    def _read_all(self, items, word: str, place: str) -> None:
        for number, item in enumerate(self._list(items, place), 1):
            self.read(item, place=f"{word} {number} of {place}" if place != "the file" else f"{word} {number}")

    def _list(self, items, place: str) -> list:
        if not isinstance(items, list):
            raise self.problem(place, "holds no list where one is needed")
        return items

    def _check_reference(self, item: dict, place: str) -> None:
        if "crs" in item and not any(known in json.dumps(item["crs"]) for known in _LONGITUDE_LATITUDE):
            raise self.problem(place, f"names another coordinate system ({json.dumps(item['crs'])[:80]})")

    def _polygon(self, rings, place: str) -> None:
        rings = [self._ring(ring, f"ring {number} of {place}") for number, ring in enumerate(self._list(rings, place), 1)]
        if not rings:
            raise self.problem(place, "has no rings")
        polygon = Polygon(rings[0], rings[1:])
        if not polygon.is_valid:
            raise self.problem(place, f"crosses itself or has a hole outside ({explain_validity(polygon)[:120]})")
        self.polygons.append(polygon)

    def _ring(self, ring, place: str) -> list[tuple[float, float]]:
        points = self._list(ring, place)
        self._vertices += len(points)
        if self._vertices > MAX_VERTICES:
            raise self.problem("the file", f"has more than {MAX_VERTICES:,} points. Draw the sea more coarsely")
        if len(points) < 4:
            raise self.problem(place, f"has {len(points)} points; a closed ring has at least four")
        corners = [self._point(point, f"point {number} of {place}") for number, point in enumerate(points, 1)]
        if corners[0] != corners[-1]:
            raise self.problem(place, "is not closed: its last point must repeat the first")
        if any(abs(here[0] - there[0]) > 180.0 for here, there in itertools.pairwise(corners)):
            raise self.problem(place, "crosses 180 degrees: cut it there into two polygons, as RFC 7946 asks")
        return corners

    def _point(self, point, place: str) -> tuple[float, float]:
        if not (isinstance(point, list) and len(point) in (2, 3)):
            raise self.problem(place, "is not longitude, latitude")
        if not all(isinstance(number, int | float) and not isinstance(number, bool) and abs(number) <= 1e9 for number in point):
            raise self.problem(place, "holds something that is not an ordinary number")
        lon_deg, lat_deg = float(point[0]), float(point[1])
        if not (math.fabs(lon_deg) <= 180.0 and math.fabs(lat_deg) <= 90.0):
            raise self.problem(place, f"lies off the earth ({lon_deg:g}, {lat_deg:g}); were longitude and latitude swapped?")
        return lon_deg, lat_deg
