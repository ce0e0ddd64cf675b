"""The areas of a coverage as polygons, and as GeoJSON (RFC 7946).

Polygons are shapes in degrees, x east and y north: nothing is measured on them.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any

import numpy as np
from contourpy import FillType, contour_generator
from shapely import MultiPolygon, Polygon, box, make_valid, union_all
from shapely.affinity import translate
from shapely.geometry import mapping

from server.planning.coverage import BeaconCoverage
from server.radio import Coverage, ReceptionState
from server.sheets import cautions
from server.sheets.words import plain_line

DRAWN = (ReceptionState.RECEIVED, ReceptionState.MARGINAL, ReceptionState.UNKNOWN)
"""States whose areas are told; all the rest within range is not received."""


def area_of(coverage: Coverage, state: ReceptionState) -> MultiPolygon:
    """Return the area of a state; its edge runs half-way between cell centres. Longitudes run on across the antimeridian."""
    lon_deg, lat_deg = coverage.lon_deg, coverage.lat_deg[::-1]
    generator = contour_generator(x=lon_deg, y=lat_deg, z=coverage.holds(state)[::-1].astype(float), fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(0.5, 1.5)  # points and cuts between rings, a pair for each polygon
    shapes = [_polygon([points[a:b] for a, b in pairwise(cuts)]) for points, cuts in zip(*filled, strict=True)]
    return _polygons_of(union_all([make_valid(shape) for shape in shapes]))


def _polygon(rings: list[np.ndarray]) -> Polygon:
    """The first ring less the others."""
    return Polygon(rings[0], rings[1:])


def coverage_geojson(found: BeaconCoverage) -> str:
    """Write the areas as GeoJSON, one feature a state, cut at the antimeridian as RFC 7946, 3.1.9, asks."""
    coverage = found.coverage
    features = []
    for state in DRAWN:
        area = _cut_at_antimeridian(area_of(coverage, state))
        if not area.is_empty:
            features.append({"type": "Feature", "geometry": mapping(area), "properties": _properties(found, state)})
    notice = f"{cautions.FICTIONAL_NOTICE} " if found.region.fictional else ""
    return json.dumps({"type": "FeatureCollection", "notice": notice + cautions.CAUTION, "features": features}, allow_nan=False)


def _properties(found: BeaconCoverage, state: ReceptionState) -> dict[str, Any]:
    coverage = found.coverage
    return {
        "ident": plain_line(coverage.beacon.ident),
        "part": coverage.component.value,
        "state": state.value,
        "altitude_ft": coverage.height.feet,
        "above": "ground" if coverage.height.above_ground else "sea",
        "on": found.on.isoformat(),
    }


def _cut_at_antimeridian(area: MultiPolygon) -> MultiPolygon:
    pieces = [
        translate(area.intersection(box(-180.0 + turn_deg, -90.0, 180.0 + turn_deg, 90.0)), xoff=-turn_deg)
        for turn_deg in (-360.0, 0.0, 360.0)
    ]
    return _polygons_of(union_all(pieces))


def _polygons_of(shape) -> MultiPolygon:
    """Keep what has an area."""
    parts = getattr(shape, "geoms", [shape])
    return MultiPolygon([part for part in parts if isinstance(part, Polygon) and not part.is_empty])


def corners_deg(ring) -> tuple[np.ndarray, np.ndarray]:
    """Return latitudes and longitudes of a ring. [deg]"""
    lon_deg, lat_deg = np.asarray(ring.coords)[:, :2].T
    return lat_deg, lon_deg
