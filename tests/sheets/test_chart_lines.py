"""Graticule, lines of equal variation, figures and spots of a chart: held against the magnetic model, against geodesics, and by hand."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from pyproj import Geod

from server.navigation import Position, variation
from server.sheets.chart_lines import (
    LEAST_SPOT_FT,
    MOST_GRATICULE_LINES,
    MOST_VARIATION_LINES,
    SPOTS_APART_NM,
    VARIATION_STEPS_DEG,
    ChartLines,
    chart_lines,
)
from server.terrain import EmptyTerrain
from tests.builders import GridGround, flat_ground

DAY = date(2026, 8, 1)
GEOD = Geod(ellps="WGS84")
STEP_DEG = 1.0 / 120.0
FT_PER_M = 1.0 / 0.3048

ATLANTIC = {"south_deg": 42.0, "north_deg": 45.0, "west_deg": -38.0, "east_deg": -34.0}
FIJI = {"south_deg": -19.0, "north_deg": -15.0, "west_deg": 176.0, "east_deg": 183.0}
NORWAY = {"south_deg": 58.0, "north_deg": 71.0, "west_deg": 4.0, "east_deg": 31.0}
KANSAS = {"south_deg": 37.0, "north_deg": 40.0, "west_deg": -102.0, "east_deg": -94.0}
LAKES = {"south_deg": 40.0, "north_deg": 48.0, "west_deg": -98.0, "east_deg": -82.0}
"""The line of no variation runs through it."""


def lines_of(box: dict[str, float], ground=None, on: date = DAY) -> ChartLines:
    return chart_lines(ground or EmptyTerrain(), **box, on=on)


def at(lat_deg: float, lon_deg: float) -> Position:
    return Position(lat_deg=lat_deg, lon_deg=(lon_deg + 180.0) % 360.0 - 180.0)


def east_of(words: str) -> float:
    """The variation that a label states, east positive. [deg]"""
    return float(words.rstrip("EW").rstrip("°")) * (-1.0 if words.endswith("W") else 1.0)


@pytest.mark.parametrize("box", [ATLANTIC, FIJI, NORWAY, KANSAS, LAKES], ids=["atlantic", "fiji", "norway", "kansas", "lakes"])
def test_everywhere_on_a_line_of_equal_variation_the_magnetic_model_gives_its_label(box):
    """The World Magnetic Model at every corner of the lines; 0.05 degrees is what straight lines between 800 places leave."""
    lines = lines_of(box).variation
    assert lines
    for line in lines:
        assert len(line.places) >= 2
        off = [abs(variation(at(*place), DAY).deg - east_of(line.words)) for place in line.places]
        assert max(off) < 0.05, line.words


@pytest.mark.parametrize("box", [ATLANTIC, FIJI, NORWAY, KANSAS, LAKES], ids=["atlantic", "fiji", "norway", "kansas", "lakes"])
def test_every_step_of_variation_that_the_box_holds_has_its_line(box):
    lat_deg, lon_deg = np.linspace(box["south_deg"], box["north_deg"], 9), np.linspace(box["west_deg"], box["east_deg"], 9)
    inside = [variation(at(lat, lon), DAY).deg for lat in lat_deg for lon in lon_deg]
    labels = sorted({east_of(line.words) for line in lines_of(box).variation})
    step = min(b - a for a, b in pairwise(labels)) if len(labels) > 1 else 0.5
    assert step in VARIATION_STEPS_DEG and len(labels) <= MOST_VARIATION_LINES + 1
    held = np.arange(np.ceil(min(inside) / step), np.floor(max(inside) / step) + 1) * step
    assert set(held.tolist()) <= set(labels)


def test_lines_of_equal_variation_stay_in_the_box():
    for line in lines_of(FIJI).variation:
        lat_deg, lon_deg = np.array(line.places).T
        assert lat_deg.min() >= -19.0 and lat_deg.max() <= -15.0
        assert lon_deg.min() >= 176.0 and lon_deg.max() <= 183.0


def test_the_line_of_no_variation_has_no_letter():
    labels = [line.words for line in lines_of(LAKES).variation]
    assert "0°" in labels
    assert {label[-1] for label in labels if label != "0°"} == {"E", "W"}


def test_lines_of_variation_belong_to_their_day():
    """Variation changes by tenths of a degree in a few years."""
    then, later = (lines_of(ATLANTIC, on=date(year, 8, 1)) for year in (2025, 2029))
    assert (then.variation_day, later.variation_day) == ("2025-08-01", "2029-08-01")
    assert then.variation != later.variation


@pytest.mark.parametrize(
    ("name", "lat_deg", "lon_deg"),
    [("north", 85.8, 139.3), ("south", -63.9, 135.1)],  # NOAA, dip poles of the World Magnetic Model for 2025; from memory
)
def test_near_a_magnetic_pole_there_are_no_lines_of_equal_variation(name, lat_deg, lon_deg):
    box = {"south_deg": lat_deg - 2.0, "north_deg": lat_deg + 2.0, "west_deg": lon_deg - 6.0, "east_deg": lon_deg + 6.0}
    assert lines_of(box).variation == (), name
    assert lines_of(box).graticule


def test_where_true_north_and_magnetic_north_point_apart_there_are_none_either():
    """North of the magnetic pole variation passes from 180 E to 180 W: no line runs along that seam."""
    assert lines_of({"south_deg": 86.0, "north_deg": 89.0, "west_deg": -180.0, "east_deg": 180.0}).variation == ()


def graticule_words(box: dict[str, float]) -> list[str]:
    return [line.words for line in lines_of(box).graticule]


def test_the_graticule_is_labelled_with_degrees_minutes_and_the_letter():
    words = graticule_words({"south_deg": 43.0, "north_deg": 44.0, "west_deg": -37.0, "east_deg": -36.0})
    assert words == ["43°N", "43°30'N", "44°N", "37°W", "36°30'W", "36°W"]


def test_equator_and_greenwich_have_no_letter_and_the_sides_theirs():
    words = graticule_words({"south_deg": -0.5, "north_deg": 0.5, "west_deg": -0.5, "east_deg": 0.5})
    assert words == ["0°30'S", "0°", "0°30'N", "0°30'W", "0°", "0°30'E"]


def test_across_the_antimeridian_east_becomes_west_and_180_is_neither():
    words = graticule_words({"south_deg": -17.0, "north_deg": -16.5, "west_deg": 179.5, "east_deg": 180.5})
    assert words == ["17°S", "16°30'S", "179°30'E", "180°", "179°30'W"]


@pytest.mark.parametrize("box", [ATLANTIC, FIJI, NORWAY, LAKES], ids=["atlantic", "fiji", "norway", "lakes"])
def test_every_line_of_the_graticule_lies_where_its_label_says_and_spans_the_box(box):
    for line in lines_of(box).graticule:
        degrees, _, rest = line.words.partition("°")
        minutes = rest.partition("'")[0] if "'" in rest else "0"
        stated = (int(degrees) + int(minutes) / 60.0) * (-1.0 if line.words[-1] in "SW" else 1.0)
        lat_deg, lon_deg = np.array(line.places).T
        if line.words[-1] in "NS" or lat_deg[0] == lat_deg[-1]:
            assert lat_deg == pytest.approx(np.full(lat_deg.shape, stated))
            assert (lon_deg[0], lon_deg[-1]) == (box["west_deg"], box["east_deg"])
        else:
            assert (lon_deg - stated) % 360.0 == pytest.approx(np.zeros(lon_deg.shape))
            assert (lat_deg[0], lat_deg[-1]) == (box["south_deg"], box["north_deg"])


def test_a_large_box_has_a_coarser_graticule():
    many = lines_of({"south_deg": 20.0, "north_deg": 60.0, "west_deg": -60.0, "east_deg": 10.0}).graticule
    assert len(many) <= 2 * (MOST_GRATICULE_LINES + 1)
    assert "30'" not in "".join(line.words for line in many)


def peaks(*stands: tuple[float, float, float], box=ATLANTIC, floor_m: float = 10.0) -> GridGround:
    """Level ground with single posts that stand higher: (latitude, longitude, metres)."""
    ground = flat_ground(
        floor_m, south=box["south_deg"], north=box["north_deg"], west=box["west_deg"], east=box["east_deg"], step_deg=STEP_DEG
    )
    for lat_deg, lon_deg, elevation_m in stands:
        ground.posts[round((box["north_deg"] - lat_deg) / STEP_DEG), round((lon_deg - box["west_deg"]) / STEP_DEG)] = elevation_m
    return GridGround(ground.posts, box["north_deg"], box["west_deg"], STEP_DEG, STEP_DEG)


def rough(seed: int = 20260801) -> GridGround:
    ground = flat_ground(0.0, south=42.0, north=45.0, west=-38.0, east=-34.0, step_deg=1.0 / 30.0)
    posts = np.random.default_rng(seed).gamma(2.0, 300.0, size=ground.posts.shape)
    return GridGround(posts, 45.0, -38.0, 1.0 / 30.0, 1.0 / 30.0)


def test_spots_are_never_nearer_to_each_other_than_9_nm():
    """On ground whose highest posts of neighbouring quadrangles often stand side by side; distances by pyproj."""
    spots = lines_of(ATLANTIC, rough()).spots
    assert len(spots) > 20
    for index, one in enumerate(spots):
        for other in spots[index + 1 :]:
            _, _, away_m = GEOD.inv(one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg)
            assert away_m / 1852.0 >= SPOTS_APART_NM == 9.0


def test_of_two_peaks_too_near_to_each_other_the_higher_is_told():
    """8 NM apart, on both sides of an edge."""
    spots = lines_of(ATLANTIC, peaks((43.45, -36.25, 800.0), (43.58, -36.25, 900.0))).spots
    assert [spot.words for spot in spots] == [str(round(900.0 * FT_PER_M))]
    far = lines_of(ATLANTIC, peaks((43.40, -36.25, 800.0), (43.60, -36.25, 900.0))).spots
    assert [spot.words for spot in far] == [str(round(each * FT_PER_M)) for each in (900.0, 800.0)]


def test_a_spot_stands_on_its_peak_with_its_height_in_feet():
    (spot,) = lines_of(ATLANTIC, peaks((43.25, -36.75, 1234.0))).spots
    assert (spot.lat_deg, spot.lon_deg) == (pytest.approx(43.25, abs=1e-6), pytest.approx(-36.75, abs=1e-6))
    assert spot.words == "4049"  # 4,048.6 ft; no comma, as charts print it


def test_low_ground_has_no_spots():
    assert lines_of(ATLANTIC, peaks((43.25, -36.75, (LEAST_SPOT_FT - 5.0) / FT_PER_M))).spots == ()
    assert len(lines_of(ATLANTIC, peaks((43.25, -36.75, (LEAST_SPOT_FT + 5.0) / FT_PER_M))).spots) == 1


def test_the_figure_stands_in_the_middle_of_its_quadrangle_in_hundreds_of_feet():
    """9,396 ft: 97 on the chart of the US chart office."""
    found = lines_of(ATLANTIC, peaks((43.2, -36.9, 9_396.0 / FT_PER_M))).quadrangles
    told = {(each.lat_deg, each.lon_deg): each.words for each in found}
    assert told.pop((43.25, -36.75)) == "97"
    assert set(told.values()) == {"4"} and len(told) == 47, "10 m of ground everywhere else: 333 ft, up to 400"


def test_open_sea_and_unknown_ground_have_no_figure():
    sea = flat_ground(0.0, south=42.0, north=45.0, west=-38.0, east=-34.0, step_deg=STEP_DEG)
    assert lines_of(ATLANTIC, sea).quadrangles == ()
    assert lines_of(ATLANTIC).quadrangles == () and lines_of(ATLANTIC).spots == ()


def test_below_the_sea_figures_are_told_as_anywhere():
    """A basin 100 m deep: 28 ft under the sea with the 300 ft added, up to the next hundred: 0."""
    basin = flat_ground(-100.0, south=42.0, north=45.0, west=-38.0, east=-34.0, step_deg=STEP_DEG)
    assert {each.words for each in lines_of(ATLANTIC, basin).quadrangles} == {"0"}


def test_figures_go_on_across_the_antimeridian():
    box = {"south_deg": -17.0, "north_deg": -16.5, "west_deg": 179.0, "east_deg": 181.0}
    found = lines_of(box, peaks((-16.75, 180.25, 900.0), box=box)).quadrangles
    assert [(each.lon_deg, each.words) for each in found] == [(179.25, "4"), (179.75, "4"), (180.25, "33"), (180.75, "4")]
