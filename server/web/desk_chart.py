"""What the chart of the planning desk is drawn from, as plain values for the browser: projection, tiles, places, lines and figures."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

import numpy as np

from server.errors import OutOfRange
from server.navigation import ConicProjection, Position, declination_used, variations_deg
from server.navigation import decimal_year as decimal_year_of
from server.persistence import RegionRecord
from server.planning import region_book
from server.planning.materials import open_ground, projection_of, west_and_east_deg
from server.planning.route_shelf import Choices, route_choices
from server.radio import Beacon, BeaconKind, Ground, off_the_air_on
from server.sheets import beacon_symbol, chart_lines, figures, place_symbols, relief_state, rose_zero, words
from server.sheets.relief_tile import CLOSEST_ZOOM, METRES_AT_ZOOM_0, WIDEST_ZOOM
from server.units import metres_from_feet
from server.web.desk import Desk

ROOM_DEG = 0.5
"""Round the places of a region that states no box."""


def region_ground(desk: Desk, region: RegionRecord) -> Ground:
    """The ground of a region."""
    return open_ground(desk.terrain_store, region.ground_fingerprint)


def region_projection(desk: Desk, slug: str) -> tuple[RegionRecord, ConicProjection]:
    """A region and its chart projection; the places of the region decide where it states neither projection nor box."""
    region = region_book.find_region(desk.library, slug)
    stated = region.south_deg is not None or region.standard_parallel_1_deg is not None
    places = [] if stated else _places(route_choices(desk.library, slug))
    return region, projection_of(region, places or [Position(lat_deg=0.0, lon_deg=0.0)])


def chart_data(desk: Desk, slug: str, *, on: date) -> dict[str, Any]:
    """Everything the chart shows but the route, as values that become JSON."""
    choices = route_choices(desk.library, slug)
    region, projection = region_projection(desk, slug)
    ground = region_ground(desk, region)
    south, north, west, east = box_of(region, _places(choices))
    lines = chart_lines(ground, south_deg=south, north_deg=north, west_deg=west, east_deg=east, on=on)
    return {
        "projection": {"lat1": projection.lat_1, "lat2": projection.lat_2, "lat0": projection.lat_0, "lon0": projection.lon_0},
        "box": {"south": south, "north": north, "west": west, "east": east},
        "tiles": _tiles(region, projection, ground),
        "widest": WIDEST_ZOOM,
        "closest": CLOSEST_ZOOM,
        "metres": METRES_AT_ZOOM_0,
        "symbols": {str(kind): beacon_symbol(kind) for kind in BeaconKind} | place_symbols(),
        "beacons": _beacons(choices.beacons, projection, on),
        "airfields": [
            {
                "id": each.id,
                "ident": each.ident,
                "name": each.name,
                "lat": each.position.lat_deg,
                "lon": each.position.lon_deg,
                "off": each.closed,
            }
            for each in choices.airfields
        ],
        "checkpoints": [
            {"id": each.id, "ident": "", "name": each.name, "lat": each.position.lat_deg, "lon": each.position.lon_deg}
            for each in choices.checkpoints
        ],
        "lines": asdict(lines),
    }


def _tiles(region: RegionRecord, projection: ConicProjection, ground: Ground) -> str | None:
    """The address of the tiles, with places for zoom and numbers; None for a region without ground, which has none."""
    if not region.ground_fingerprint:
        return None
    return f"/regions/{region.slug}/relief/{relief_state(projection, ground)}/{{z}}/{{x}}/{{y}}.webp"


def box_of(region: RegionRecord, places: list[Position]) -> tuple[float, float, float, float]:
    """South, north, west and east of a region, of its places where it states no box; east may run beyond 180. [deg]"""
    south, north, west, east = region.south_deg, region.north_deg, region.west_deg, region.east_deg
    if south is None or north is None or west is None or east is None:
        if not places:
            return -2.0, 2.0, -2.0, 2.0
        west, east = west_and_east_deg([place.lon_deg for place in places])
        latitudes = [place.lat_deg for place in places]
        south, north = max(-89.0, min(latitudes) - ROOM_DEG), min(89.0, max(latitudes) + ROOM_DEG)
        west, east = west - ROOM_DEG, east + ROOM_DEG
    return south, north, west, east if east > west else east + 360.0


def _places(choices: Choices) -> list[Position]:
    groups = (choices.beacons, choices.airfields, choices.checkpoints)
    return [each.position for group in groups for each in group]  # type: ignore[attr-defined]


def _beacons(beacons: tuple[Beacon, ...], projection: ConicProjection, on: date) -> list[dict[str, Any]]:
    if not beacons:
        return []
    lat_deg, lon_deg = np.array([(each.position.lat_deg, each.position.lon_deg) for each in beacons]).T
    feet = np.array([each.elevation_ft or 0.0 for each in beacons])
    variations = variations_deg(lat_deg, lon_deg, decimal_year=decimal_year_of(on), altitude_m=metres_from_feet(feet))
    return [_beacon(each, projection, on, float(deg)) for each, deg in zip(beacons, variations, strict=True)]


def _beacon(beacon: Beacon, projection: ConicProjection, on: date, variation_deg: float) -> dict[str, Any]:
    zero = rose_zero(beacon, variation_deg)
    return {
        "id": beacon.id,
        "ident": beacon.ident,
        "name": beacon.name,
        "kind": str(beacon.kind),
        "tune": figures.frequency(beacon),
        "morse": words.morse_marks(beacon.ident),
        "lat": beacon.position.lat_deg,
        "lon": beacon.position.lon_deg,
        "zero_grid_deg": None if zero is None else round(zero[0] - projection.convergence_deg(beacon.position), 3),
        "zero_true_deg": _zero_true_deg(beacon, variation_deg),
        "north": "" if zero is None else zero[1],
        "off": off_the_air_on(beacon, on),
    }


def _zero_true_deg(beacon: Beacon, variation_deg: float) -> float | None:
    """What its sectors are counted from, estimated where the station does not say; None where that cannot be told. [deg]"""
    try:
        return round(declination_used(beacon.alignment, variation_deg).declination_deg, 3)
    except OutOfRange:
        return None
