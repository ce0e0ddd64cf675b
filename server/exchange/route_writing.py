"""Write routes.toml, the routes that come with a region. The format stands in region_routes, which reads it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from server.exchange.region_routes import PointDescription, RouteDescription
from server.exchange.toml_writing import toml_tables
from server.navigation.route import LegChoice, PointKind, WindLayer


def write_routes(routes: Iterable[RouteDescription]) -> bytes:
    """Write routes.toml, which read_routes reads back without loss; at least one route."""
    return toml_tables("route", (_route_values(route) for route in routes))


def _route_values(route: RouteDescription) -> dict[str, Any]:
    written = {field.name: getattr(route, field.name) for field in fields(route) if field.name not in ("points", "winds", "onward")}
    return {
        **{name: value for name, value in written.items() if value not in ("", None)},
        **_choice_values(route.onward),
        "winds": [_plain(wind) for wind in route.winds] or None,
        "points": [_point_values(point) for point in route.points] or None,
    }


def _point_values(point: PointDescription) -> dict[str, Any]:
    values: dict[str, Any] = {"name": point.name or None}
    if point.kind in (PointKind.AIRFIELD, PointKind.CHECKPOINT):
        values |= {point.kind.value: point.place, "key": point.place_key or None}
    if point.position is not None:
        values |= {"lat_deg": point.position.lat_deg, "lon_deg": point.position.lon_deg}
    for prefix, beacon in (("", point.beacon), ("second_", point.second_beacon)):
        if beacon is not None:
            values |= {f"{prefix}beacon": beacon.ident, f"{prefix}kind": beacon.kind, f"{prefix}key": beacon.key or None}
    numbers = {name: getattr(point, name) for name in ("radial_deg", "distance_nm", "second_radial_deg")}
    return values | numbers | _choice_values(point.onward)


def _choice_values(choice: LegChoice) -> dict[str, Any]:
    return _plain(choice) | {"changeover_reason": choice.changeover_reason or None}


def _plain(value: WindLayer | LegChoice) -> dict[str, Any]:
    return {field.name: getattr(value, field.name) for field in fields(value) if getattr(value, field.name) is not None}
