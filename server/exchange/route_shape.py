"""A route as it comes from elsewhere: named places in order, and nothing that Beaconry knows of them yet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from shapely import LineString

from server.errors import InputProblem
from server.navigation import Position

MOST_BYTES = 10 * 1024 * 1024
MOST_POINTS = 40
"""A recorded track is thinned to so many points: more legs than these nobody flies."""

MOST_READ = 200_000


class ShapeSource(StrEnum):
    ROUTE = "a route"
    TRACK = "a recorded track"
    POINTS = "points"


@dataclass(frozen=True, kw_only=True, slots=True)
class ShapePoint:
    """A place with the name it had there, which may be empty."""

    name: str
    position: Position


@dataclass(frozen=True, kw_only=True, slots=True)
class RouteShape:
    """What a file holds of a route. ``thinned_from`` is how many points a track had before it was thinned, None where it was not."""

    name: str
    source: ShapeSource
    points: tuple[ShapePoint, ...]
    thinned_from: int | None = None


def shape_of(name: str, source: ShapeSource, points: list[ShapePoint], *, file_name: str) -> RouteShape:
    """Make a shape of what was read: neighbours in one place joined, a track thinned.

    Raises InputProblem with fewer than two places (code route-file-unusable).
    """
    kept = [point for at, point in enumerate(points) if at == 0 or point.position != points[at - 1].position]
    if len(kept) < 2:
        raise unusable(file_name, "it holds fewer than two places: a route needs a beginning and an end")
    if source is ShapeSource.TRACK and len(kept) > MOST_POINTS:
        return RouteShape(name=name, source=source, points=_thinned(kept), thinned_from=len(kept))
    if len(kept) > MOST_POINTS + 60:
        raise unusable(file_name, f"it holds {len(kept)} points; a route has at most {MOST_POINTS + 60}")
    return RouteShape(name=name, source=source, points=tuple(kept))


def position_of_numbers(lat_deg: float, lon_deg: float, *, file_name: str, where: str) -> Position:
    """Check a pair of numbers and make a position of it; 180 degrees east is held as 180 west."""
    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg) and -90.0 <= lat_deg <= 90.0 and -180.0 <= lon_deg <= 180.0):
        raise unusable(file_name, f"{where} is at latitude {lat_deg:g}, longitude {lon_deg:g}, which is nowhere on earth")
    return Position(lat_deg=lat_deg, lon_deg=-180.0 if lon_deg == 180.0 else lon_deg)


def unusable(file_name: str, why: str) -> InputProblem:
    """The refusal of a route file."""
    return InputProblem(f"{file_name} cannot be used as a route: {why}.", code="route-file-unusable", place="table")


def check_size(content: bytes, *, file_name: str) -> None:
    """Refuse what is empty or too large."""
    if not content.strip():
        raise unusable(file_name, "it is empty")
    if len(content) > MOST_BYTES:
        raise InputProblem(
            f"{file_name} is larger than {MOST_BYTES // 2**20} MB. Keep only the route in it.", code="file-too-large", place="table"
        )


def _thinned(points: list[ShapePoint]) -> tuple[ShapePoint, ...]:
    """Thin a track by Douglas and Peucker in a plane round it, coarser until few enough points are left. Ends stay."""
    lat_deg = np.array([point.position.lat_deg for point in points])
    lon_deg = np.unwrap([point.position.lon_deg for point in points], period=360.0)
    x_nm = (lon_deg - lon_deg[0]) * 60.0 * math.cos(math.radians(float(lat_deg.mean())))
    line = LineString(np.column_stack([x_nm, lat_deg * 60.0]))
    tolerance_nm = 0.05
    while True:
        kept = line.simplify(tolerance_nm, preserve_topology=False)
        if len(kept.coords) <= MOST_POINTS:
            break
        tolerance_nm *= 1.5
    lookup = {pair: index for index, pair in reversed(list(enumerate(line.coords)))}
    return tuple(replace(points[lookup[pair]]) for pair in kept.coords)
