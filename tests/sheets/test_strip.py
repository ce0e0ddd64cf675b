"""The chart strip, read back from the PDF with poppler's tools, which know nothing of how it was drawn."""

from __future__ import annotations

import io
import itertools
import math
import re
import shutil
import subprocess
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pypdf
import pytest
from pyproj import Geod, Proj

from server.errors import InputProblem
from server.navigation import ConicProjection, PointKind, Position
from server.planning.log import NavigationLog
from server.sheets import cautions
from server.sheets.chart import ChartInput
from server.sheets.log_pdf import PAPERS
from server.sheets.strip import route_strip
from server.sheets.strip_cut import INSET_MM, MOST_STRIP_PAGES, OVERLAP_MM, SCALES, cut_strip, pages_needed
from server.sheets.strip_margin import BAR_STROKE
from server.sheets.strip_pdf import strip_as_pdf
from server.units import metres_from_nautical_miles
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
    a_leg,
    a_log,
    a_point,
)  # fmt: skip

GEOD = Geod(ellps="WGS84")
MM_PER_POINT = 25.4 / 72.0
PARALLELS = {"lat_1": 42.5, "lat_2": 44.5, "lat_0": 43.5, "lon_0": -38.0}  # off centre, so that the chart's north is not true north
CONIC = ConicProjection(**PARALLELS)
INK_RGB = (0x2B / 255, 0x26 / 255, 0x22 / 255)
BEACONS = (KEV, TRV, OSK, YUV, TAC, DEM)

needs_poppler = pytest.mark.skipif(shutil.which("pdftocairo") is None, reason="pdftocairo (Debian poppler-utils) is not here")


def an_input(log: NavigationLog | None = None, **changes) -> ChartInput:
    given = {
        "log": log or a_log(),
        "projection": CONIC,
        "ground": RidgeGround(),
        "beacons": BEACONS,
        "airfields": (DEPARTURE, DESTINATION),
        "checkpoints": CHECKPOINTS,
        "estimated_declination_deg": lambda beacon: -14.0,
    }
    return ChartInput(**{**given, **changes})


@lru_cache
def a_strip(scale: int, paper: str) -> bytes:
    return strip_as_pdf(an_input(), scale=scale, paper=paper)


def a_zigzag_log(legs=40) -> NavigationLog:
    """Many short legs to and fro across an eastward way, 9 NM each or less."""
    places = [Position(lat_deg=43.0 + 0.06 * (n % 3), lon_deg=-37.5 + 0.05 * n + 0.02 * (n % 2)) for n in range(legs + 1)]
    points = tuple(a_point(n, PointKind.RADIAL_DISTANCE, f"P{n}", "", place) for n, place in enumerate(places))
    flown, start_nm = [], 0.0
    for number in range(1, legs + 1):
        flown.append(a_leg(number, points[number - 1], points[number], start_nm=start_nm))
        start_nm += flown[-1].distance_nm
    return replace(a_log(), points=points, legs=tuple(flown), gaps=((),) * legs, total_distance_nm=start_nm)


def words_of(pdf: bytes) -> list[str]:
    """The words of each page, blanks folded."""
    return [re.sub(r"\s+", " ", page.extract_text()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def drawn_on(pdf: bytes, page: int, folder) -> str:
    """A page as poppler draws it, in points, and not shrunk by it as for a printer."""
    (folder / "strip.pdf").write_bytes(pdf)
    command = [
        "pdftocairo",
        "-svg",
        "-noshrink",
        "-nocenter",
        "-f",
        str(page),
        "-l",
        str(page),
        str(folder / "strip.pdf"),
        str(folder / "page.svg"),
    ]
    subprocess.run(command, check=True)
    return (folder / "page.svg").read_text(encoding="utf-8")


def bar_length_mm(svg: str) -> float:
    """The length of the one line as thick as the scale bar's."""
    found = re.findall(rf'stroke-width:{BAR_STROKE};[^>]*? d="M ([-\d.]+) ([-\d.]+) L ([-\d.]+) ([-\d.]+) "[^>]*matrix\(([^)]*)\)', svg)
    (bar,) = found
    x1, y1, x2, y2 = map(float, bar[:4])
    a, b, c, d, _, _ = map(float, bar[4].split(","))
    return math.hypot(a * (x2 - x1) + c * (y2 - y1), b * (x2 - x1) + d * (y2 - y1)) * MM_PER_POINT


def dots_mm(svg: str) -> list[tuple[float, float]]:
    """The middles of the dots of ink that stand in the middle of every beacon's symbol, from left to right."""
    found = []
    for rgb, steps in re.findall(r'fill:rgb\(([^)]*)\);[^>]*? d="(M [^"]*)"', svg):
        ink = np.allclose([float(part.strip("%")) / 100.0 for part in rgb.split(",")], INK_RGB, atol=0.01)
        places = np.array(re.findall(r"([-\d.]+) ([-\d.]+)", steps.split("Z")[0]), dtype=float)
        size_mm = np.ptp(places, axis=0) * MM_PER_POINT
        if ink and steps.count("C") == 4 and np.allclose(size_mm, 0.72, atol=0.02):
            found.append(tuple((places.min(axis=0) + places.max(axis=0)) / 2.0 * MM_PER_POINT))
    return sorted(found)


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "a5"])
@pytest.mark.parametrize("scale", SCALES)
def test_the_printed_bar_is_as_long_as_its_nautical_miles_over_the_scale(scale, paper, tmp_path):
    """A nautical mile is 1852 m (ICAO Annex 5, table 3-3)."""
    pdf = a_strip(scale, paper)
    (length_nm,) = {int(figure) for figure in re.findall(r"\b(\d+) NM(?= received)", words_of(pdf)[0])}
    assert bar_length_mm(drawn_on(pdf, 1, tmp_path)) == pytest.approx(length_nm * 1852.0 * 1000.0 / scale, abs=0.2)


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "a5"])
@pytest.mark.parametrize("scale", SCALES)
def test_printed_beacons_are_as_far_apart_as_on_the_earth_within_the_stated_error(scale, paper, tmp_path):
    """Distances on the earth by Karney's geodesic (pyproj), on paper by the dots in the symbols, on every page that shows two or more."""
    near = a_beacon("NEA", "Near", lat=43.04, lon=-36.41)
    beacons = [near, *(beacon for beacon in BEACONS if beacon is not OSK)]  # the dot of an NDB lies among others
    compared = 0
    chart = an_input(beacons=tuple(beacons))
    pdf = strip_as_pdf(chart, scale=scale, paper=paper)
    stated = float(re.search(r"at most ([\d.]+) %", words_of(pdf)[0])[1]) / 100.0
    assert stated < 0.01
    cut = cut_strip(chart.log.legs, CONIC, scale=scale, paper=paper)
    plane = Proj(proj="lcc", ellps="WGS84", **PARALLELS)
    for part in cut.parts:
        placed = [(plane(beacon.position.lon_deg, beacon.position.lat_deg), beacon) for beacon in beacons]
        shown = [
            (x, beacon) for (x, y), beacon in placed if 0.0 <= x - part.west_m <= cut.width_m and 0.0 <= part.north_m - y <= cut.height_m
        ]
        dots = dots_mm(drawn_on(pdf, part.number, tmp_path))
        assert len(dots) == len(shown)
        in_order = [beacon for _, beacon in sorted(shown, key=lambda one: one[0])]
        for (dot, beacon), (other_dot, other) in itertools.combinations(zip(dots, in_order, strict=True), 2):
            start, end = beacon.position, other.position
            earth_m = GEOD.inv(start.lon_deg, start.lat_deg, end.lon_deg, end.lat_deg)[2]
            assert math.dist(dot, other_dot) == pytest.approx(earth_m * 1000.0 / scale, rel=stated, abs=0.02)
            compared += 1
    assert compared


def test_the_stated_error_is_that_of_the_conic_by_proj():
    """The scale factor of PROJ's own Lambert conic at the corners and sides of every page."""
    cut = cut_strip(a_log().legs, CONIC, scale=500_000, paper="a4")
    plane, errors = Proj(proj="lcc", ellps="WGS84", **PARALLELS), []
    for part, right, down in itertools.product(cut.parts, np.linspace(0, 1, 9), np.linspace(0, 1, 9)):
        lon, lat = plane(part.west_m + right * cut.width_m, part.north_m - down * cut.height_m, inverse=True)
        errors.append(abs(plane.get_factors(lon, lat).meridional_scale - 1.0))
    assert cut.scale_error == pytest.approx(max(errors), rel=0.02)


def test_a_region_too_wide_to_be_true_gets_a_projection_fitted_to_the_route_and_says_so():
    whole_ocean = ConicProjection(lat_1=10.0, lat_2=70.0, lat_0=40.0, lon_0=-36.0)
    assert abs(Proj(proj="lcc", ellps="WGS84", lat_1=10, lat_2=70, lat_0=40, lon_0=-36).get_factors(-36, 43).meridional_scale - 1) > 0.05
    strip = route_strip(an_input(projection=whole_ocean), scale=500_000, paper="a4")
    assert "fitted to this route" in strip.true_scale
    assert float(re.search(r"at most ([\d.]+) %", strip.true_scale)[1]) < 0.2
    assert "the region's conic" in route_strip(an_input(), scale=500_000, paper="a4").true_scale


@needs_poppler
@pytest.mark.parametrize(("scale", "paper"), [(500_000, "a4"), (250_000, "half-letter")])
def test_no_page_holds_a_picture(scale, paper, tmp_path):
    (tmp_path / "strip.pdf").write_bytes(a_strip(scale, paper))
    listed = subprocess.run(["pdfimages", "-list", str(tmp_path / "strip.pdf")], capture_output=True, text=True, check=True).stdout
    assert listed.splitlines()[2:] == []
    assert all("<image" not in page.drawing for page in route_strip(an_input(), scale=scale, paper=paper).pages)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("scale", SCALES)
def test_pages_have_the_size_of_the_paper_lying_or_standing(scale, paper):
    # ISO 216 and ANSI/ASME Y14.1
    sides_mm = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a5": (148.0, 210.0), "half-letter": (139.7, 215.9)}[paper]
    reader = pypdf.PdfReader(io.BytesIO(a_strip(scale, paper)))
    assert len(reader.pages) == pages_needed(a_log().legs, CONIC, scale=scale, paper=paper) + 1
    for page in reader.pages:
        held = sorted((float(page.mediabox.width) * MM_PER_POINT, float(page.mediabox.height) * MM_PER_POINT))
        assert held == pytest.approx(sides_mm, abs=0.1)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("scale", SCALES)
def test_every_leg_of_a_route_of_forty_legs_is_named(scale, paper):
    printed = " ".join(words_of(strip_as_pdf(an_input(a_zigzag_log(), ground=FlatGround()), scale=scale, paper=paper)))
    for number in range(1, 41):
        assert f"Leg {number}:" in printed


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("log", [a_log, a_zigzag_log])
def test_every_place_of_the_route_lies_well_inside_some_page_and_neighbours_overlap(log, scale, paper):
    legs = log().legs
    cut = cut_strip(legs, CONIC, scale=scale, paper=paper)
    metres_per_mm, plane = scale / 1000.0, Proj(proj="lcc", ellps="WGS84", **PARALLELS)
    for leg in legs:
        for share in np.linspace(0.0, 1.0, 21):
            line = GEOD.inv(leg.start.position.lon_deg, leg.start.position.lat_deg, leg.end.position.lon_deg, leg.end.position.lat_deg)
            lon, lat, _ = GEOD.fwd(leg.start.position.lon_deg, leg.start.position.lat_deg, line[0], line[2] * share)
            x, y = plane(lon, lat)
            room_mm = [
                min(x - part.west_m, part.west_m + cut.width_m - x, part.north_m - y, y - part.north_m + cut.height_m) / metres_per_mm
                for part in cut.parts
            ]
            assert max(room_mm) > INSET_MM - 0.5
    assert cut.parts[0].from_nm == 0.0 and cut.parts[-1].to_nm == pytest.approx(sum(leg.distance_nm for leg in legs))
    for before, after in itertools.pairwise(cut.parts):
        shared_mm = metres_from_nautical_miles(before.to_nm - after.from_nm) / metres_per_mm
        assert shared_mm > OVERLAP_MM * 0.98
        assert after.to_nm > before.to_nm


def test_pages_name_themselves_their_neighbours_and_the_legs_they_are_for():
    pages = words_of(a_strip(250_000, "a5"))
    count = len(pages)
    assert count > 4
    for number, page in enumerate(pages[:-1], start=1):
        assert f"page {number} of {count}" in page
        neighbours = {int(found) for found in re.findall(r"page (\d+)(?! of|\d)", page)}
        assert neighbours == {other for other in (number - 1, number + 1) if 1 <= other < count}
    assert "Leg 1" in pages[0] and "How the pages lie" in pages[-1]


def test_every_page_says_its_scale_what_it_rests_on_the_notice_and_the_caution():
    for page in words_of(a_strip(500_000, "a4")):
        for words in (
            "1:500,000",
            "1 mm is 500 m",
            cautions.FICTIONAL_NOTICE,
            cautions.CAUTION,
            "confirmed between 1 Feb 2026",
            "9f2c51d07ab3",
        ):
            assert words in page


def test_a_page_carries_what_a_pilot_reads_off_it():
    """Idents with frequency and Morse (KEV: -.- . ...-, ITU-R M.1677-1), the hiding ridge, the change of beacon, ends, heights in feet."""
    page = words_of(a_strip(500_000, "a4"))[0]
    for words in (
        "KEV 113.35 MHz",
        "TRV 115.70 MHz",
        "OSK 373 kHz",
        "6,550 ft hides KEV and TRV",
        "XKA Kevholm Meadow",
        "TRV from 28.0 NM",
    ):
        assert words in page
    drawing = route_strip(an_input(), scale=500_000, paper="a4").pages[0].drawing
    for kind in ('class="rose"', 'class="coast"', 'class="contour"', 'class="changeover"', "state not-received", "beacon vortac"):
        assert kind in drawing


def test_contours_stand_where_the_ground_has_their_height():
    """Each point of a contour is taken back to the earth with PROJ; the ground there has its height but for the cell it was found in."""
    cut = cut_strip(a_log().legs, CONIC, scale=250_000, paper="a4")
    part = cut.parts[0]
    drawing = route_strip(an_input(), scale=250_000, paper="a4").pages[0].drawing
    plane, off_ft = Proj(proj="lcc", ellps="WGS84", **PARALLELS), []
    for steps, feet in re.findall(r'<path d="(M[^"]*)"[^>]*class="contour" data-ft="(\d+)"', drawing):
        for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", steps):
            lon, lat = plane(part.west_m + float(x) * 0.2 * 250.0, part.north_m - float(y) * 0.2 * 250.0, inverse=True)
            off_ft.append(float(RidgeGround().elevations_m(lat_deg=lat, lon_deg=lon)) / 0.3048 - int(feet))
    assert len(off_ft) > 500
    assert np.percentile(off_ft, 99) < 5.0  # the highest of a cell stands for it: the line errs towards high ground
    assert np.percentile(off_ft, 5) > -60.0


def test_unknown_ground_is_hatched_and_nothing_is_made_up_for_it():
    nowhere = FlatGround(np.nan)
    drawing = route_strip(an_input(ground=nowhere), scale=500_000, paper="a4").pages[0].drawing
    assert "unknown-ground" in drawing
    assert all(f'class="{name}"' not in drawing for name in ("known-ground", "tint", "sea", "coast", "contour"))


def test_labels_of_a_page_stand_clear_of_each_other(tmp_path):
    """By the boxes of poppler's words: of the labels of beacons and places no two touch."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (Debian poppler-utils) is not here")
    (tmp_path / "strip.pdf").write_bytes(a_strip(500_000, "a4"))
    command = ["pdftotext", "-bbox", "-f", "1", "-l", "1", str(tmp_path / "strip.pdf"), "-"]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    wanted = (
        "KEV",
        "113.35",
        "TRV",
        "115.70",
        "OSK",
        "YUV",
        "BRG",
        "DUM",
        "Kevholm",
        "Meadow",
        "Halm",
        "Bridge",
        "Lake",
        "Orrin",
        "Skarn",
        "Pass",
    )
    boxes = {
        (word, tuple(round(float(value), 1) for value in box))
        for *box, word in re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]+)<', told)
        if word in wanted and float(box[1]) > 40.0
    }
    assert {word for word, _ in boxes} == set(wanted)
    for (word, a), (other, b) in itertools.combinations(sorted(boxes), 2):
        apart = a[2] <= b[0] + 0.3 or b[2] <= a[0] + 0.3 or a[3] <= b[1] + 1.5 or b[3] <= a[1] + 1.5
        assert apart or (word == other and np.allclose(a, b, atol=0.6)), (word, other)  # a word and its own halo


def test_hostile_names_are_printed_and_never_obeyed():
    pdf = strip_as_pdf(an_input(a_hostile_log()), scale=500_000, paper="a4")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert '#import "x" <script>alert(1)</script>' in words_of(pdf)[0]
    assert float(reader.pages[0].mediabox.width) * MM_PER_POINT == pytest.approx(297.0, abs=0.1)


def test_one_plan_always_gives_the_same_bytes_and_claims_pdf_ua():
    pdf = strip_as_pdf(an_input(), scale=500_000, paper="a5")
    assert pdf == a_strip(500_000, "a5")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert reader.metadata.title == "Chart strip: Over the Skarn"
    assert b"pdfuaid" in reader.root_object["/Metadata"].get_data()


def test_a_strip_of_too_many_pages_is_refused_with_what_to_do():
    far = Position(lat_deg=43.0, lon_deg=40.0)
    log = a_log()
    long_leg = a_leg(1, log.points[0], replace(log.points[-1], position=far))
    needed = pages_needed((long_leg,), CONIC, scale=250_000, paper="a5")
    assert needed > MOST_STRIP_PAGES
    with pytest.raises(
        InputProblem, match=rf"At 1:250,000 on this paper the route needs {needed} pages; 60 is the most. Choose the smaller scale"
    ) as told:
        cut_strip((long_leg,), CONIC, scale=250_000, paper="a5")
    assert told.value.code == "strip-too-long"


def test_a_leg_of_no_length_makes_one_page():
    log = a_log()
    standing = a_leg(1, log.points[0], log.points[0])
    assert len(cut_strip((standing,), CONIC, scale=500_000, paper="a4").parts) == 1
