"""Coverage as areas, GeoJSON and chart."""

from __future__ import annotations

import json
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
from shapely.geometry import Point, shape

from server.navigation import ConicProjection, Position
from server.planning.coverage import BeaconCoverage, RegionFixes
from server.radio import NO_DOUBT, ChosenHeight, ComponentKind, FixCover, ReceptionState, ServiceClass, coverage_of, severity
from server.sheets import (
    coverage_chart_svg,
    coverage_geojson,
    fix_chart_svg,
    fixes_geojson,
    lowest_chart_svg,
    lowest_geojson,
    shares_in_words,
)
from server.sheets.coverage_areas import FIX_WORDS, area_of, band_areas
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
    return BeaconCoverage(
        region=SimpleNamespace(fictional=True, name="Here"),
        coverage=coverage,
        projection=projection,
        ground=ground,
        on=DAY,
        estimated_declination_deg=-4.0,
    )


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
    none.coverage.state[:] = severity(ReceptionState.NOT_RECEIVED)
    assert "nowhere received" in coverage_chart_svg(none)


def test_bands_of_altitude_hold_the_cells_of_their_altitudes():
    """A low-class station over flat ground is received from 1,000 ft above it (FAA AIM TBL 1-1-1), farther out from higher up."""
    coverage = found().coverage
    bands = band_areas(coverage)
    assert bands[0][0] >= 1000.0 - 1e-9
    for above_ft, to_ft, area in bands:
        assert area.is_valid
        for row, lat in enumerate(coverage.lat_deg[1:-1], 1):
            for column, lon in enumerate(coverage.lon_deg[1:-1], 1):
                feet = coverage.received_from_ft[row, column]
                around = coverage.received_from_ft[row - 1 : row + 2, column - 1 : column + 2]
                if above_ft + 1.0 < feet < to_ft - 1.0 and np.isfinite(around).all():
                    assert area.covers(Point(lon, lat))
                elif feet < above_ft - 1.0 or feet > to_ft + 1.0:
                    assert not area.contains(Point(lon, lat))


def test_chart_of_the_lowest_altitude_words_its_bands():
    chart = lowest_chart_svg(found())
    words = " ".join("".join(one.itertext()) for one in ElementTree.fromstring(chart).iter() if one.tag.endswith("text"))
    assert "2,000 ft" in words and "FICTIONAL REGION" in words
    told = json.loads(lowest_geojson(found(179.9)))
    assert all(shape(one["geometry"]).bounds[0] >= -180.0 for one in told["features"])


def fixes(**changes) -> RegionFixes:
    """Four cells in a row: nothing, one bearing, two that do not cross, a fix; a fifth is below the ground."""
    shape_of = {"bearings": [0, 1, 2, 2, 0], "crossing": [False, False, False, True, False], "flyable": [True] * 4 + [False]}
    cells = {name: np.repeat(np.array([row]), 2, axis=0) for name, row in shape_of.items()}
    cover = FixCover(
        height=ChosenHeight(feet=6000.0, above_ground=False),
        lat_deg=np.array([43.1, 42.9]),
        lon_deg=np.array([-36.4, -36.2, -36.0, -35.8, -35.6]),
        ground_ft=np.zeros((2, 5)),
        with_distance=np.zeros((2, 5), dtype=bool),
        **cells,
    )
    projection = ConicProjection.for_bounds(south=42.0, north=44.0, west=-37.0, east=-35.0)
    ground = flat_ground(0.0, west=-38.0, east=-34.0)
    region = SimpleNamespace(fictional=True, name="Here")
    return RegionFixes(region=region, cover=cover, beacons=(a_beacon(),), projection=projection, ground=ground, on=DAY, **changes)


def test_shares_count_what_can_be_flown():
    assert shares_in_words(fixes()) == tuple((words, "25 %") for words in FIX_WORDS)


def test_classes_of_fixes_are_told_apart_by_pattern_edge_and_word():
    tree = ElementTree.fromstring(fix_chart_svg(fixes()))
    areas = {one.get("class"): one.get("fill") for one in tree.iter() if (one.get("class") or "").startswith("area fix-")}
    assert len(areas) == 4 and len(set(areas.values())) == 4
    words = " ".join("".join(one.itertext()) for one in tree.iter() if one.tag.endswith("text"))
    assert all(told in words for told in FIX_WORDS) and "FICTIONAL REGION" in words
    assert [one["properties"]["class"] for one in json.loads(fixes_geojson(fixes()))["features"]] == list(FIX_WORDS)
