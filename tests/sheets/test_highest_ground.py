"""The maximum elevation figure of each half degree. Source: the rule of the US chart office for natural ground - highest ground, 100 ft,
200 ft, up to the next hundred - and its examples. Whether a sum that is a whole hundred stays is told both ways there: not asserted."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position
from server.sheets.highest_ground import MOST_QUADRANGLES, Quadrangle, maximum_elevation_figure_ft, quadrangles
from tests.builders import GridGround, flat_ground

STEP_DEG = 1.0 / 120.0
VOID = -32768.0
FT_PER_M = 1.0 / 0.3048  # the international foot


@pytest.mark.parametrize(
    ("ground_ft", "figure_ft"),
    [
        (13_161.0, 13_500),  # the chart guide's example for terrain; from memory
        (9_396.0, 9_700),  # a peak of 9,396 ft on a chart that prints 97; read
        (1_950.0, 2_300),  # the terrain's part of a worked comparison with an obstacle; worked out by hand
    ],
)
def test_agrees_with_the_chart_office_on_natural_ground(ground_ft, figure_ft):
    assert maximum_elevation_figure_ft(ground_ft) == figure_ft


@pytest.mark.parametrize(("peak_ft", "figure_ft"), [(13_161.0, 13_500), (9_396.0, 9_700), (1_950.0, 2_300)])
def test_the_figure_of_a_quadrangle_is_that_of_its_highest_post(peak_ft, figure_ft):
    ground = a_peak(peak_ft / FT_PER_M, lat_deg=43.2, lon_deg=-36.3)
    (told,) = quadrangles(ground, south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0)
    assert told.figure_ft == figure_ft
    assert_at(told, 43.2, -36.3)


def test_the_figure_clears_the_highest_ground_by_300_ft_and_by_no_more_than_400():
    """100 ft and 200 ft are added, and less than 100 by rounding up."""
    over = np.array([maximum_elevation_figure_ft(feet) - feet for feet in np.linspace(1.0, 20_000.0, 7_919)])
    assert over.min() >= 300.0 - 1e-6 and over.max() < 400.0


def a_peak(peak_m: float, *, lat_deg: float, lon_deg: float, south=43.0, north=44.0, west=-37.0, east=-36.0) -> GridGround:
    """Ground of 10 m with one post that stands higher."""
    ground = flat_ground(10.0, south=south, north=north, west=west, east=east, step_deg=STEP_DEG)
    ground.posts[round((north - lat_deg) / STEP_DEG), round((lon_deg - west) / STEP_DEG)] = peak_m
    return GridGround(ground.posts, north, west, STEP_DEG, STEP_DEG)


def by_corner(found: tuple[Quadrangle, ...]) -> dict[tuple[float, float], Quadrangle]:
    return {(each.south_deg, each.west_deg): each for each in found}


def heights(found: tuple[Quadrangle, ...]) -> dict[tuple[float, float], float | None]:
    return {corner: each.highest_m for corner, each in by_corner(found).items()}


def assert_at(told: Quadrangle, lat_deg: float, lon_deg: float) -> None:
    assert told.highest_at is not None
    assert (told.highest_at.lat_deg, told.highest_at.lon_deg) == (pytest.approx(lat_deg, abs=1e-9), pytest.approx(lon_deg, abs=1e-9))


WHOLE = {"south_deg": 43.0, "north_deg": 44.0, "west_deg": -37.0, "east_deg": -36.0}


def test_a_peak_inside_counts_for_its_own_quadrangle_only():
    found = quadrangles(a_peak(900.0, lat_deg=43.25, lon_deg=-36.75), **WHOLE)
    assert heights(found) == {(43.0, -37.0): 900.0, (43.0, -36.5): 10.0, (43.5, -37.0): 10.0, (43.5, -36.5): 10.0}


def test_a_peak_on_the_edge_of_two_quadrangles_counts_for_both():
    found = quadrangles(a_peak(900.0, lat_deg=43.25, lon_deg=-36.5), **WHOLE)
    assert heights(found) == {(43.0, -37.0): 900.0, (43.0, -36.5): 900.0, (43.5, -37.0): 10.0, (43.5, -36.5): 10.0}


def test_a_peak_on_a_corner_counts_for_all_four():
    assert set(heights(quadrangles(a_peak(900.0, lat_deg=43.5, lon_deg=-36.5), **WHOLE)).values()) == {900.0}


def test_a_peak_one_post_beyond_the_edge_does_not_count():
    found = quadrangles(a_peak(900.0, lat_deg=43.25, lon_deg=-36.5 + STEP_DEG), **WHOLE)
    assert heights(found)[(43.0, -37.0)] == 10.0


def test_a_void_makes_the_figure_unknown_where_it_lies_and_nowhere_else():
    ground = a_peak(900.0, lat_deg=43.25, lon_deg=-36.75)
    ground.posts[30, 30] = VOID  # 43.75 N 36.75 W
    found = by_corner(quadrangles(ground, **WHOLE))
    assert {corner for corner, each in found.items() if each.figure_ft is None} == {(43.5, -37.0)}
    assert not found[(43.5, -37.0)].complete
    assert found[(43.0, -37.0)].figure_ft == 3_300  # 900 m are 2,953 ft


def test_a_void_on_an_edge_leaves_both_quadrangles_unknown():
    ground = a_peak(900.0, lat_deg=43.25, lon_deg=-36.75)
    ground.posts[90, 60] = np.nan  # 43.25 N 36.5 W
    found = by_corner(quadrangles(ground, **WHOLE))
    assert {corner for corner, each in found.items() if each.figure_ft is None} == {(43.0, -37.0), (43.0, -36.5)}
    assert found[(43.0, -37.0)].highest_m == 900.0, "the highest that is known is still told"


def test_ground_that_ends_within_a_quadrangle_gives_no_figure_for_it():
    ground = flat_ground(10.0, south=43.0, north=43.75, west=-37.0, east=-36.0, step_deg=STEP_DEG)
    found = by_corner(quadrangles(ground, **WHOLE))
    assert {corner for corner, each in found.items() if each.figure_ft is None} == {(43.5, -37.0), (43.5, -36.5)}


def test_where_nothing_is_known_nothing_is_told():
    ground = flat_ground(10.0, south=43.0, north=44.0, west=-37.0, east=-36.0, step_deg=STEP_DEG)
    found = quadrangles(ground, south_deg=50.0, north_deg=50.5, west_deg=-37.0, east_deg=-36.5)
    assert [(each.highest_m, each.highest_at, each.complete, each.figure_ft) for each in found] == [(None, None, False, None)]


def test_southern_and_western_quadrangles_are_named_by_their_south_western_corner():
    ground = a_peak(900.0, lat_deg=-43.25, lon_deg=-71.75, south=-44.0, north=-43.0, west=-72.0, east=-71.0)
    found = by_corner(quadrangles(ground, south_deg=-44.0, north_deg=-43.0, west_deg=-72.0, east_deg=-71.0))
    assert set(found) == {(-44.0, -72.0), (-44.0, -71.5), (-43.5, -72.0), (-43.5, -71.5)}
    assert [corner for corner, each in found.items() if each.highest_m == 900.0] == [(-43.5, -72.0)]
    assert_at(found[(-43.5, -72.0)], -43.25, -71.75)
    assert all(each.complete for each in found.values())


def test_a_box_that_begins_inside_quadrangles_takes_them_whole():
    ground = a_peak(900.0, lat_deg=43.02, lon_deg=-36.98)
    found = quadrangles(ground, south_deg=43.3, north_deg=43.4, west_deg=-36.7, east_deg=-36.6)
    assert heights(found) == {(43.0, -37.0): 900.0}


def test_quadrangles_go_on_across_the_antimeridian():
    ground = a_peak(900.0, lat_deg=-16.75, lon_deg=180.25, south=-17.0, north=-16.0, west=179.0, east=181.0)
    found = by_corner(quadrangles(ground, south_deg=-17.0, north_deg=-16.5, west_deg=179.0, east_deg=181.0))
    assert list(found) == [(-17.0, 179.0), (-17.0, 179.5), (-17.0, 180.0), (-17.0, 180.5)]
    assert all(each.complete for each in found.values())
    assert [corner for corner, each in found.items() if each.highest_m == 900.0] == [(-17.0, 180.0)]
    assert_at(found[(-17.0, 180.0)], -16.75, -179.75)


def test_a_peak_on_the_antimeridian_itself_counts_for_both_sides():
    ground = a_peak(900.0, lat_deg=-16.75, lon_deg=180.0, south=-17.0, north=-16.0, west=179.0, east=181.0)
    found = by_corner(quadrangles(ground, south_deg=-17.0, north_deg=-16.5, west_deg=179.0, east_deg=181.0))
    assert [corner for corner, each in found.items() if each.highest_m == 900.0] == [(-17.0, 179.5), (-17.0, 180.0)]
    assert abs(found[(-17.0, 180.0)].highest_at.lon_deg) == pytest.approx(180.0)


@pytest.mark.parametrize(("row", "column"), [(30, 43), (30, 82), (68, 60), (30, 60)])
def test_no_place_of_a_quadrangle_stands_above_its_highest_ground_whatever_the_lattice(row, column):
    """Posts that miss the edges by part of a step: the ground on an edge is drawn between a post inside and one just outside."""
    posts = np.full((90, 95), 100.0)
    posts[row, column] = 2000.0
    ground = GridGround(posts, 43.9, -37.07, 0.0131, 0.0131)
    (told,) = quadrangles(ground, south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0)
    along = np.linspace(0.0, 0.5, 151)
    north, east = (each.ravel() for each in np.meshgrid(43.0 + along, -36.5 + along))
    highest_m = ground.elevations_m(lat_deg=north, lon_deg=east).max()
    assert told.complete
    assert highest_m > 500.0, "the case is one where the post matters"
    assert told.highest_m >= highest_m


def test_a_box_of_more_quadrangles_than_a_chart_can_show_has_none():
    ground = flat_ground(10.0)
    side_deg = 0.5 * (int(MOST_QUADRANGLES**0.5) + 1)
    assert quadrangles(ground, south_deg=0.0, north_deg=side_deg, west_deg=0.0, east_deg=side_deg) == ()


def test_the_highest_place_is_a_position_of_the_ground():
    (told,) = quadrangles(a_peak(900.0, lat_deg=43.25, lon_deg=-36.75), south_deg=43.0, north_deg=43.5, west_deg=-37.0, east_deg=-36.5)
    assert isinstance(told.highest_at, Position)
    ground = a_peak(900.0, lat_deg=43.25, lon_deg=-36.75)
    at = told.highest_at
    assert ground.elevations_m(lat_deg=np.array([at.lat_deg]), lon_deg=np.array([at.lon_deg]))[0] == pytest.approx(900.0)
