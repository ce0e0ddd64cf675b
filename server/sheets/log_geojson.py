"""The route of a log as GeoJSON (RFC 7946): a line for each leg and a point for each point, numbers with their units in the names.

Numbers are as computed, as in the log's JSON; a leg over 180 degrees is cut there (3.1.9).
"""

from __future__ import annotations

import json
from typing import Any

from server.navigation import Position, distance_nm, position_along
from server.planning.log import LogLeg, LogPoint, NavigationLog
from server.sheets import cautions, words

_HALVINGS = 40


def log_as_geojson(log: NavigationLog) -> str:
    """Write the legs and the points of a log."""
    document: dict[str, Any] = {
        "type": "FeatureCollection",
        "name": words.plain_line(log.route.name),
        "notice": cautions.in_one_line(fictional=log.region_fictional, notice=words.plain_line(log.region_notice)),
        "features": [*(_leg(leg) for leg in log.legs), *(_point(point) for point in log.points)],
    }
    return json.dumps(document, allow_nan=False, indent=1)


def _leg(leg: LogLeg) -> dict[str, Any]:
    properties = {
        "leg": leg.number,
        "distance_nm": leg.distance_nm,
        "track_true_deg": leg.track_true_deg,
        "track_magnetic_deg": leg.track_magnetic_deg,
        "heading_magnetic_deg": leg.heading_magnetic_deg,
        "altitude_ft": leg.altitude_ft,
        "time_min": leg.time_min,
        "fuel_l": leg.fuel_l,
    }
    plain = {name: None if value is None else float(value) for name, value in properties.items() if name != "leg"}
    return {"type": "Feature", "geometry": _line(leg.start.position, leg.end.position), "properties": {"leg": leg.number, **plain}}


def _point(point: LogPoint) -> dict[str, Any]:
    properties = {
        "number": point.number,
        "kind": point.kind.value,
        "name": words.plain_line(point.name),
        "ident": words.plain_line(point.ident),
        "made_by": words.plain_line(point.definition),
        "altitude_ft": float(point.altitude_ft),
        "elevation_ft": None if point.elevation_ft is None else float(point.elevation_ft),
    }
    return {"type": "Feature", "geometry": {"type": "Point", "coordinates": _pair(point.position)}, "properties": properties}


def _line(start: Position, end: Position) -> dict[str, Any]:
    if abs(end.lon_deg - start.lon_deg) <= 180.0:
        return {"type": "LineString", "coordinates": [_pair(start), _pair(end)]}
    east_first = start.lon_deg > 0.0
    lat_deg = _latitude_at_180(start, end, east_first=east_first)
    near, far = (180.0, -180.0) if east_first else (-180.0, 180.0)
    return {"type": "MultiLineString", "coordinates": [[_pair(start), [near, lat_deg]], [[far, lat_deg], _pair(end)]]}


def _latitude_at_180(start: Position, end: Position, *, east_first: bool) -> float:
    """Where a geodesic crosses 180 degrees, by halving. [deg]"""
    low_nm, high_nm = 0.0, distance_nm(start, end)
    for _ in range(_HALVINGS):
        middle_nm = (low_nm + high_nm) / 2.0
        before = (position_along(start, end, middle_nm).lon_deg > 0.0) == east_first
        low_nm, high_nm = (middle_nm, high_nm) if before else (low_nm, middle_nm)
    return round(position_along(start, end, low_nm).lat_deg, 7)


def _pair(position: Position) -> list[float]:
    """Longitude first."""
    return [round(position.lon_deg, 7), round(position.lat_deg, 7)]
