"""Coverage as areas, GeoJSON and chart."""

from __future__ import annotations

import json
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
from shapely.geometry import Point, shape

from server.navigation import ConicProjection, Position
from server.planning.coverage import BeaconCoverage
from server.radio import NO_DOUBT, ChosenHeight, ComponentKind, ReceptionState, ServiceClass, coverage_of
from server.sheets import coverage_chart_svg, coverage_geojson
from server.sheets.coverage_areas import area_of
from tests.builders import flat_ground
from tests.radio.radio_builders import DAY, a_beacon, a_component


def found(lon_deg: float = -36.0, **changes) -> BeaconCoverage:
    """A low-class VOR over flat ground of which the east is not known."""
    position = Position(lat_deg=43.0, lon_deg=lon_deg)
    ground = flat_ground(0.0, west=lon_deg - 2.0, east=lon_deg + 0.4, **changes)
    coverage = coverage_of(
        beacon=a_beacon(a_component(coverage=(), service_class=ServiceClass.L), position=position),
        component=ComponentKind.AZIMUTH,
        height=ChosenHeight(feet=6000.0, above_ground=False),
        ground=ground,
        on=DAY,
        estimated_declination_deg=None,
        cells=60,
        doubt=NO_DOUBT,
    )
    projection = ConicProjection.for_bounds(south=42.0, north=44.0, west=lon_deg - 1.0, east=lon_deg + 1.0)
    return BeaconCoverage(region=SimpleNamespace(fictional=True), coverage=coverage, projection=projection, ground=ground, on=DAY)


def test_areas_hold_the_centres_of_their_cells_and_no_others():
    coverage = found().coverage
    for state in (ReceptionState.RECEIVED, ReceptionState.UNKNOWN):
        area, holds = area_of(coverage, state), coverage.holds(state)
        assert area.is_valid and holds.any()
        inside = [[area.contains(Point(lon, lat)) for lon in coverage.lon_deg] for lat in coverage.lat_deg]
        assert (np.array(inside) == holds).all()


@pytest.mark.parametrize("lon_deg", [-36.0, 179.9, -179.9])
def test_geojson_is_valid_and_keeps_to_180_degrees(lon_deg):
    """RFC 7946: longitude first (3.1.1), cut at the antimeridian (3.1.9), exterior rings need not be wound to be read (3.1.6)."""
    told = json.loads(coverage_geojson(found(lon_deg)))
    assert told["type"] == "FeatureCollection" and "FICTIONAL" in told["notice"]
    states = [feature["properties"]["state"] for feature in told["features"]]
    assert "received" in states and "unknown" in states
    for feature in told["features"]:
        area = shape(feature["geometry"])
        assert area.is_valid and not area.is_empty
        west, south, east, north = area.bounds
        assert -180.0 <= west < east <= 180.0 and 42.0 < south < north < 44.0


def test_chart_tells_areas_by_pattern_edge_and_word():
    svg = coverage_chart_svg(found())
    tree = ElementTree.fromstring(svg)
    areas = {one.get("class"): one for one in tree.iter() if (one.get("class") or "").startswith("area ")}
    assert set(areas) >= {"area received", "area unknown"}
    fills = {one.get("fill") for one in areas.values()}
    assert len(fills) == len(areas), "each state has a pattern of its own"
    patterns = {one.get("id") for one in tree.iter() if one.tag.endswith("pattern")}
    assert {fill[5:-1] for fill in fills} <= patterns
    words = " ".join("".join(one.itertext()) for one in tree.iter() if one.tag.endswith("text"))
    for word in ("received", "marginal", "not known", "not received", "6,000 ft above sea level", "FICTIONAL REGION"):
        assert word in words


def test_chart_of_a_beacon_that_is_nowhere_received_is_drawn():
    none = found()
    none.coverage.state[:] = 3
    assert "nowhere received" in coverage_chart_svg(none)
