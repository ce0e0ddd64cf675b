"""The chart: where things fall, how roses and symbols are turned, and that nothing a user typed gets out of its text."""

from __future__ import annotations

import base64
import io
import math
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image
from pyproj import Proj

from server.navigation import Alignment, AlignmentKind, ConicProjection
from server.radio.beacon import BeaconKind
from server.sheets import cautions
from server.sheets.chart import ChartInput, route_chart_svg
from server.sheets.chart_ground import RELIEF_LIMIT_BYTES
from server.sheets.chart_margin import MAP_HEIGHT, WIDTH
from server.sheets.symbols import beacon_symbol
from tests.sheets.sheet_builders import (
    CHECKPOINTS,
    DEM,
    DEPARTURE,
    DESTINATION,
    KEV,
    OSK,
    TAC,
    TRV,
    YUV,
    FlatGround,
    RidgeGround,
    a_beacon,
    a_hostile_log,
    a_log,
    an_airfield,
)  # fmt: skip

SVG = "{http://www.w3.org/2000/svg}"
PARALLELS = {"lat_1": 42.5, "lat_2": 44.5, "lat_0": 43.5, "lon_0": -38.0}  # off centre, so that the chart's north is not true north


def a_chart(log=None, **changes) -> str:
    given = {
        "log": log or a_log(),
        "projection": ConicProjection(**PARALLELS),
        "ground": RidgeGround(),
        "beacons": (KEV, TRV, OSK, YUV, TAC, DEM),
        "airfields": (DEPARTURE, DESTINATION),
        "checkpoints": CHECKPOINTS,
        "estimated_declination_deg": lambda beacon: -14.0,
    }
    return route_chart_svg(ChartInput(**{**given, **changes}))


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def of_class(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [element for element in root.iter() if name in (element.get("class") or "").split()]


def words_of(root: ElementTree.Element) -> list[str]:
    return ["".join(element.itertext()) for element in root.iter(f"{SVG}text") if element.get("class") != "halo"]


def path_points(element: ElementTree.Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", element.get("d"))]


def chart_bearing_of_zero(rose: ElementTree.Element) -> float:
    return float(re.fullmatch(r"rotate\((-?[\d.]+)\)", rose.get("transform")).group(1))


def with_alignment(alignment: Alignment) -> str:
    log = a_log()
    beacon = replace(KEV, alignment=alignment)
    point = replace(log.legs[0].end, beacon=beacon)
    legs = (replace(log.legs[0], end=point, guidance=(replace(log.legs[0].guidance[0], beacon=beacon),)), log.legs[1], log.legs[2])
    return a_chart(replace(log, legs=legs))


@pytest.mark.parametrize("declination_deg", [-10.0, 0.0, 17.5])
def test_the_rose_points_its_zero_at_the_true_bearing_that_is_the_stations_declination(declination_deg):
    """ICAO Annex 4: the rose is turned to the station's alignment. A point one mile off on that true bearing lies under the rose's zero.

    The chart direction is worked out apart, with PROJ's own Lambert conic and a small step on the sphere's tangent plane.
    """
    alignment = Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=declination_deg)
    rose = next(
        rose for rose in of_class(parsed(with_alignment(alignment)), "rose") if float(rose.get("data-zero-true-deg")) == declination_deg
    )
    plane = Proj(proj="lcc", ellps="WGS84", **PARALLELS)
    lat, lon, small = KEV.position.lat_deg, KEV.position.lon_deg, 1e-4
    # On the ellipsoid a degree of latitude and of longitude differ in length: M and N cos(lat), WGS 84.
    sin2 = math.sin(math.radians(lat)) ** 2
    eccentricity2 = 0.00669437999014
    ratio = (1 - eccentricity2) / (1 - eccentricity2 * sin2)  # M / N
    north, east = small * math.cos(math.radians(declination_deg)), small * math.sin(math.radians(declination_deg))
    x1, y1 = plane(lon, lat)
    x2, y2 = plane(lon + east * ratio / math.cos(math.radians(lat)), lat + north)
    expected = math.degrees(math.atan2(x2 - x1, y2 - y1))
    assert abs(expected - declination_deg) > 0.5  # the chart's north really differs from true north here
    assert chart_bearing_of_zero(rose) == pytest.approx(expected, abs=0.01)


def test_a_true_aligned_station_says_true_and_an_unknown_one_says_estimated():
    assert "TRUE" in words_of(parsed(with_alignment(Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0))))
    assert "14° W est." in words_of(parsed(with_alignment(Alignment(kind=AlignmentKind.UNKNOWN))))
    assert "10° W, 1985" in words_of(parsed(a_chart()))


def test_a_grid_station_of_unknown_angle_gets_no_rose():
    idents = [rose.get("data-ident") for rose in of_class(parsed(with_alignment(Alignment(kind=AlignmentKind.GRID))), "rose")]
    assert "TRV" in idents
    assert len(idents) == len(of_class(parsed(a_chart()), "rose"))


def test_the_vor_hexagon_has_its_corners_at_multiples_of_sixty_degrees_from_the_horizontal():
    # ICAO Annex 4, Appendix 2 (from memory): two corners on the horizontal axis, flat top and bottom
    hexagon = of_class(ElementTree.fromstring(beacon_symbol(BeaconKind.VOR)), "hexagon")[0]
    angles = sorted(round(math.degrees(math.atan2(-y, x)) % 360.0) % 360 for x, y in path_points(hexagon))
    assert angles == [0, 60, 120, 180, 240, 300]


def test_the_lobes_of_vortac_and_tacan_stand_at_060_180_and_300():
    blocks = of_class(ElementTree.fromstring(beacon_symbol(BeaconKind.VORTAC)), "block")
    centres = [np.mean(path_points(block), axis=0) for block in blocks]
    assert sorted(round(math.degrees(math.atan2(x, -y)) % 360.0) for x, y in centres) == [60, 180, 300]
    lobes = path_points(of_class(ElementTree.fromstring(beacon_symbol(BeaconKind.TACAN)), "lobes")[0])
    far = [(x, y) for x, y in lobes if math.hypot(x, y) > 13.0]
    assert len(far) == 6
    bearings = sorted(math.degrees(math.atan2(x, -y)) % 360.0 for x, y in far)
    middles = [(first + second) / 2.0 for first, second in zip(bearings[::2], bearings[1::2], strict=True)]
    assert middles == pytest.approx([60.0, 180.0, 300.0], abs=0.5)


@pytest.mark.parametrize("kind", list(BeaconKind))
def test_each_kind_of_beacon_is_built_of_the_shapes_the_standard_asks_for(kind):
    symbol = ElementTree.fromstring(beacon_symbol(kind))
    drawn = {name for name in ("hexagon", "square", "lobes", "block", "stipple") if of_class(symbol, name)}
    assert drawn == {
        BeaconKind.VOR: {"hexagon"}, BeaconKind.DME: {"square"}, BeaconKind.VOR_DME: {"hexagon", "square"}, BeaconKind.TACAN: {"lobes"},
        BeaconKind.VORTAC: {"hexagon", "block"}, BeaconKind.NDB: {"stipple"}, BeaconKind.NDB_DME: {"stipple", "square"},
    }[kind]  # fmt: skip


def test_a_leg_is_very_nearly_a_straight_line_on_the_chart():
    # a property of the conformal conic near its parallels; the sample's 52 NM leg bends by much less than a line's width
    root = parsed(a_chart())
    leg = next(leg for leg in of_class(root, "leg") if leg.get("data-leg") == "2")
    points = [point for line in of_class(leg, "line") for point in path_points(line)]
    (x1, y1), (x2, y2) = points[0], points[-1]
    length = math.hypot(x2 - x1, y2 - y1)
    assert length > 400.0
    assert max(abs((x2 - x1) * (y1 - y) - (x1 - x) * (y2 - y1)) / length for x, y in points) < 0.5


def test_each_state_of_a_leg_has_its_own_pattern_and_its_word_in_the_legend():
    root = parsed(a_chart())
    legs, legend = of_class(root, "leg"), of_class(root, "legend-states")[0]
    drawn = {group.get("class").removeprefix("state ") for leg in legs for group in of_class(leg, "state")}
    assert drawn == {"received", "marginal", "not-received", "unknown"}
    samples = [(line.get("stroke-dasharray"), line.get("stroke-width")) for line in of_class(legend, "line")]
    assert len(set(samples)) == 5
    assert {"received", "marginal", "not known", "not promised", "not received"} <= set(words_of(legend))


def test_the_scale_bar_has_the_length_it_states():
    # EPSG guidance note 7-2: on a conformal conic the scale factor is near 1 between the standard parallels
    root = parsed(a_chart())
    bar = of_class(root, "scale-bar")[0]
    drawn = float(bar.find(f"{SVG}line").get("x2")) - float(bar.find(f"{SVG}line").get("x1"))
    leg = next(leg for leg in of_class(root, "leg") if leg.get("data-leg") == "2")
    points = [point for line in of_class(leg, "line") for point in path_points(line)]
    leg_units = math.dist(points[0], points[-1])
    assert drawn / float(bar.get("data-length-nm")) == pytest.approx(leg_units / a_log().legs[1].distance_nm, rel=0.002)


def test_a_reader_who_sees_nothing_is_told_what_the_chart_shows():
    root = parsed(a_chart())
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == "Chart of the route Over the Skarn"
    told = root.find(f"{SVG}desc").text
    assert cautions.FICTIONAL_NOTICE in told
    assert "Leg 2: marginal from 24.2 to 25.7 NM, not received from 25.7 to 30.8 NM." in told


def test_beacons_carry_ident_frequency_and_morse():
    told = words_of(parsed(a_chart()))
    assert "KEV 113.35 MHz" in told
    assert "−·− · ···−" in told
    assert "OSK 373 kHz" in told


def test_hostile_names_stay_text():
    log = a_hostile_log()
    hostile = a_beacon(ident='"><script>', name="x", lat=43.2, lon=-36.0)
    root = parsed(a_chart(log, beacons=(hostile,)))
    assert not [element for element in root.iter() if element.tag.endswith("script")]
    assert not [name for element in root.iter() for name in element.attrib if name.lower().startswith("on")]
    assert any('"><script>' in words for words in words_of(root))
    assert not re.search(r"https?://(?!www\.w3\.org)", a_chart(log))


def relief_of(root: ElementTree.Element) -> Image.Image:
    uri = next(root.iter(f"{SVG}image")).get("href")
    assert len(uri) <= RELIEF_LIMIT_BYTES
    return Image.open(io.BytesIO(base64.b64decode(uri.removeprefix("data:image/png;base64,")))).convert("RGBA")


def test_unknown_ground_is_left_clear_over_hatching_and_known_ground_is_not():
    root = parsed(a_chart())
    image = relief_of(root)
    right, left = image.getpixel((image.width - 3, image.height // 3)), image.getpixel((image.width // 4, image.height // 3))
    assert right[3] == 0
    assert left[3] == 255
    assert of_class(root, "unknown-ground")
    assert not of_class(parsed(a_chart(ground=FlatGround(100.0))), "unknown-ground")


def test_rough_ground_still_gives_a_small_picture():
    class Rough(FlatGround):
        def elevations_m(self, *, lat_deg, lon_deg):
            return 2000.0 + 1500.0 * np.sin(np.asarray(lat_deg) * 9e5) * np.sin(np.asarray(lon_deg) * 7e5)

    svg = a_chart(ground=Rough())
    relief_of(parsed(svg))
    assert len(svg) < 500_000


def test_tints_are_warm_paper_and_never_green_yellow_or_red_bands():
    for elevation_m in (50.0, 500.0, 1000.0, 2000.0, 3000.0):
        image = relief_of(parsed(a_chart(ground=FlatGround(elevation_m))))
        red, green, blue, _ = image.getpixel((image.width // 2, image.height // 2))
        assert red >= green >= blue  # an ochre or a brown
        assert red - blue < 80  # and a pale one


def test_the_whole_route_lies_inside_the_frame():
    for line in of_class(parsed(a_chart()), "leg"):
        for x, y in (point for part in of_class(line, "line") for point in path_points(part)):
            assert 0.0 < x < WIDTH
            assert 0.0 < y < MAP_HEIGHT


def test_a_route_across_the_antimeridian_is_drawn_in_one_piece():
    def shifted(position):
        return replace(position, lon_deg=position.lon_deg - 144.1)

    log = a_log()
    points = {point.number: replace(point, position=shifted(point.position)) for point in log.points}
    legs = tuple(replace(leg, start=points[leg.number - 1], end=points[leg.number], guidance=(), receptions=()) for leg in log.legs)
    assert points[1].position.lon_deg > 0.0 > points[0].position.lon_deg or points[0].position.lon_deg > 0.0 > points[3].position.lon_deg
    projection = ConicProjection(lat_1=42.5, lat_2=44.5, lat_0=43.5, lon_0=180.0)
    log = replace(
        log,
        points=tuple(replace(point, beacon=None) for point in points.values()),
        legs=tuple(replace(leg, start=replace(leg.start, beacon=None), end=replace(leg.end, beacon=None)) for leg in legs),
        departure=replace(log.departure, position=points[0].position),
        destination=replace(log.destination, position=points[3].position),
    )
    root = parsed(a_chart(log, projection=projection, beacons=(), airfields=(), checkpoints=(), ground=FlatGround()))
    drawn = [point for leg in of_class(root, "leg") for part in of_class(leg, "line") for point in path_points(part)]
    assert max(x for x, _ in drawn) - min(x for x, _ in drawn) > 500.0
    steps = [abs(second[0] - first[0]) for first, second in pairwise(drawn)]
    assert max(steps) < 100.0


def test_a_region_too_large_for_one_north_gets_a_projection_fitted_to_the_route():
    whole_ocean = ConicProjection(lat_1=30.0, lat_2=60.0, lat_0=45.0, lon_0=60.0)  # its north lies some 65 degrees off here
    rose = of_class(parsed(a_chart(projection=whole_ocean)), "rose")[0]
    assert abs(chart_bearing_of_zero(rose) - float(rose.get("data-zero-true-deg"))) < 2.0


def test_many_places_are_thinned_to_those_nearest_the_route_and_closed_fields_are_left_out():
    fields = tuple(an_airfield(f"X{n}", f"Field {n}", lat=42.7 + n * 0.01, lon=-36.4 + n * 0.015, id=n + 10) for n in range(60))
    closed = an_airfield("XCL", "Closed", lat=43.05, lon=-36.0, id=99, closed=True)
    root = parsed(a_chart(airfields=(*fields, closed)))
    assert len(of_class(of_class(root, "places")[0], "airfield")) <= 32
    assert "XCL" not in words_of(root)


def test_one_ridge_that_hides_two_beacons_is_marked_once():
    root = parsed(a_chart())
    assert words_of(of_class(root, "ridges")[0]) == ["6,550 ft hides KEV and TRV"]


def test_each_leg_that_changes_beacons_has_a_bar_where_it_does():
    log = a_log()
    changing = [leg for leg in log.legs if leg.changeover_nm is not None and 0.1 < leg.changeover_nm < leg.distance_nm - 0.1]
    assert changing
    assert len(of_class(parsed(a_chart(log)), "changeover")) == len(changing) + 1  # and one in the legend


def test_a_leg_without_guidance_is_drawn_all_the_same():
    log = a_log()
    first = replace(log.legs[0], stretches=(), guidance=(), receptions=(), changeover_nm=None)
    assert len(of_class(parsed(a_chart(replace(log, legs=(first, *log.legs[1:])))), "unguided")) == 1
    assert of_class(parsed(a_chart(log)), "unguided") == []


def test_the_legend_keeps_within_the_sheet():
    (legend,) = of_class(parsed(a_chart()), "legend")
    words = [element for element in legend.iter(f"{SVG}text") if element.get("class") != "halo" and element.get("text-anchor") is None]
    assert any("".join(element.itertext()) == "change over" for element in words)

    assert (
        max(float(element.get("x")) + 0.6 * float(element.get("font-size")) * len("".join(element.itertext())) for element in words) < WIDTH
    )


def test_a_beacon_off_the_air_is_faint_and_without_its_morse():
    drawn = parsed(a_chart(off_the_air=(TRV,)))
    (faint,) = [each for each in drawn.iter(f"{SVG}g") if each.get("data-ident") == "TRV" and each.get("class") != "rose"]
    assert float(faint.get("opacity")) < 0.6 and "off the air" in "".join(faint.itertext())
    sure = [each for each in parsed(a_chart()).iter(f"{SVG}g") if each.get("data-ident") == "TRV" and each.get("class") != "rose"]
    assert all(each.get("opacity") is None and "off the air" not in "".join(each.itertext()) for each in sure)
