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

from server.planning.coverage import BeaconCoverage, RegionFixes
from server.radio import Coverage, FixCover, ReceptionState
from server.sheets import cautions
from server.sheets.words import plain_line

DRAWN = (ReceptionState.RECEIVED, ReceptionState.MARGINAL, ReceptionState.UNKNOWN, ReceptionState.NOT_PROMISED)
"""States whose areas are told; all the rest is not received, or beyond everything that is published."""


BAND_EDGES_FT = (0.0, 1000.0, 2000.0, 3000.0, 4000.0, 5000.0, 6000.0, 8000.0, 10_000.0, 12_000.0, 15_000.0, 18_000.0)
"""Edges of the bands in which the lowest altitude of reception is told. [ft]"""


def area_of(coverage: Coverage, state: ReceptionState) -> MultiPolygon:
    """Return the area of a state; its edge runs half-way between cell centres. Longitudes run on across the antimeridian."""
    return area_where(coverage.lat_deg, coverage.lon_deg, coverage.holds(state))


def area_where(lat_deg: np.ndarray, lon_deg: np.ndarray, holds: np.ndarray) -> MultiPolygon:
    """Return the area of the cells where something holds; its edge runs half-way between their centres."""
    return _filled(lat_deg, lon_deg, holds.astype(float), 0.5, 1.5)


def band_areas(coverage: Coverage) -> list[tuple[float, float, MultiPolygon]]:
    """Return from which altitude the part is received, as bands: (above, up to, area). [ft], [ft]

    Between cell centres the altitude is taken as straight. What is not received at any altitude, or not known, lies in no band.
    """
    bands = []
    for above_ft, to_ft in pairwise(BAND_EDGES_FT):
        inside = coverage.received_from_ft.copy()
        inside[inside < 0.0] = 0.0
        area = _filled(coverage.lat_deg, coverage.lon_deg, np.ma.masked_invalid(inside), above_ft, to_ft)
        if not area.is_empty:
            bands.append((above_ft, to_ft, area))
    return bands


def _filled(lat_deg: np.ndarray, lon_deg: np.ndarray, values: np.ndarray, lower: float, upper: float) -> MultiPolygon:
    generator = contour_generator(x=lon_deg, y=lat_deg[::-1], z=values[::-1], fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(lower, upper)  # points and cuts between rings, a pair for each polygon
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
    return _collection(features, fictional=found.region.fictional)


def lowest_geojson(found: BeaconCoverage) -> str:
    """Write from which altitude the part is received as GeoJSON, one feature a band."""
    coverage = found.coverage
    features = []
    for above_ft, to_ft, whole in band_areas(coverage):
        area = _cut_at_antimeridian(whole)
        told = {"ident": plain_line(coverage.beacon.ident), "part": coverage.component.value, "on": found.on.isoformat()}
        if not area.is_empty:
            properties = told | {"received_from_above_ft": above_ft, "received_from_to_ft": to_ft}
            features.append({"type": "Feature", "geometry": mapping(area), "properties": properties})
    return _collection(features, fictional=found.region.fictional)


FIX_WORDS = ("no beacon", "one beacon, no fix", "two or more, no fix", "a fix")
"""What each number of fix_classes means."""


def fix_classes(cover: FixCover) -> np.ndarray:
    """Sort the cells: 0 no beacon, 1 one beacon without a distance, 2 more that do not cross well, 3 a fix; -1 where nobody flies. int"""
    classes = np.where(cover.fix, 3, np.minimum(cover.bearings, 2))
    return np.where(cover.flyable, classes, -1)


def fixes_geojson(found: RegionFixes) -> str:
    """Write the classes of a region's fixes as GeoJSON, one feature a class."""
    cover, classes = found.cover, fix_classes(found.cover)
    features = []
    for number, words in enumerate(FIX_WORDS):
        area = _cut_at_antimeridian(area_where(cover.lat_deg, cover.lon_deg, classes == number))
        if not area.is_empty:
            properties = {"class": words, "altitude_ft": cover.height.feet, "above": "ground" if cover.height.above_ground else "sea"}
            features.append({"type": "Feature", "geometry": mapping(area), "properties": properties | {"on": found.on.isoformat()}})
    return _collection(features, fictional=found.region.fictional)


def area_feature(area: MultiPolygon, properties: dict[str, Any]) -> list[dict[str, Any]]:
    """Return an area as a GeoJSON feature, cut at the antimeridian; none where it is empty."""
    cut = _cut_at_antimeridian(area)
    return [] if cut.is_empty else [{"type": "Feature", "geometry": mapping(cut), "properties": properties}]


def _collection(features: list[dict[str, Any]], *, fictional: bool) -> str:
    notice = f"{cautions.FICTIONAL_NOTICE} " if fictional else ""
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
