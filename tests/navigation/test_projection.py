"""The region's chart in awkward regions."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from server.errors import InputProblem
from server.navigation import ConicProjection, Position


@pytest.mark.parametrize(
    "bounds",
    [
        (42.0, 45.0, -38.0, -34.0),
        (-45.0, -42.0, 170.0, -178.0),
        (-2.0, 2.0, 100.0, 104.0),
        (-1.0, 1.5, 0.0, 3.0),
        (75.0, 90.0, -20.0, 20.0),
        (-90.0, 90.0, -180.0, 180.0),
        (50.0, 50.0, 10.0, 10.0),
    ],
)
def test_points_come_back_from_the_plane(bounds):
    south, north, west, east = bounds
    chart = ConicProjection.for_bounds(south=south, north=north, west=west, east=east)
    lat_deg = np.clip(np.array([south + 0.1, (south + north) / 2, north - 0.1]), -89.0, 89.0)
    lon_deg = np.array([west + 0.1, west + 0.2, west + 0.3])
    back_lat_deg, back_lon_deg = chart.from_plane_m(*chart.to_plane_m(lat_deg, lon_deg))
    assert back_lat_deg == pytest.approx(lat_deg, abs=1e-7)
    assert (back_lon_deg - lon_deg + 180) % 360 - 180 == pytest.approx(np.zeros(3), abs=1e-7)


def test_parallels_stand_one_sixth_in_from_the_edges():
    chart = ConicProjection.for_bounds(south=42, north=45, west=-38, east=-34)
    assert (chart.lat_1, chart.lat_2, chart.lat_0, chart.lon_0) == pytest.approx((42.5, 44.5, 43.5, -36.0))


def test_bounds_over_the_antimeridian_are_centred_on_it():
    assert abs(ConicProjection.for_bounds(south=-45, north=-42, west=170, east=-170).lon_0) == pytest.approx(180.0)


def test_both_sides_of_the_antimeridian_lie_beside_each_other():
    chart = ConicProjection.for_bounds(south=50, north=53, west=178, east=-178)
    x_m, _ = chart.to_plane_m(np.array([51.0, 51.0]), np.array([179.9, -179.9]))
    assert x_m[1] - x_m[0] == pytest.approx(14_040, abs=50)  # 0.2 deg of longitude at 51 N


def test_the_plane_is_drawn_to_scale_in_the_middle():
    chart = ConicProjection.for_bounds(south=42, north=45, west=-38, east=-34)
    _, y_m = chart.to_plane_m(np.array([43.4, 43.6]), np.array([-36.0, -36.0]))
    assert y_m[1] - y_m[0] == pytest.approx(0.2 * 111_110, rel=1e-3)


def test_east_of_the_centre_in_the_north_grid_north_lies_east_of_true_north():
    chart = ConicProjection.for_bounds(south=42, north=45, west=-38, east=-34)
    assert chart.convergence_deg(Position(lat_deg=43.5, lon_deg=-36.0)) == pytest.approx(0.0, abs=1e-9)
    assert chart.convergence_deg(Position(lat_deg=43.5, lon_deg=-35.0)) == pytest.approx(np.sin(np.radians(43.5)), abs=1e-3)


@pytest.mark.parametrize("parallels", [(-10.0, 10.0, 0.0), (0.0, 0.0, 0.0), (50.0, 90.0, 60.0), (float("nan"), 10.0, 5.0)])
def test_parallels_that_make_no_cone_are_refused(parallels):
    with pytest.raises(InputProblem, match="standard parallels"):
        ConicProjection(lat_1=parallels[0], lat_2=parallels[1], lat_0=parallels[2], lon_0=0.0)


def test_what_lies_off_the_plane_is_nan():
    chart = ConicProjection.for_bounds(south=42, north=45, west=-38, east=-34)
    x_m, y_m = chart.to_plane_m(np.array([-90.0]), np.array([0.0]))
    assert np.isnan(x_m[0]) and np.isnan(y_m[0])


def test_threads_may_share_a_chart():
    chart = ConicProjection.for_bounds(south=42, north=45, west=-38, east=-34)
    lat_deg, lon_deg = np.linspace(42, 45, 500), np.linspace(-38, -34, 500)
    expected = np.array(chart.to_plane_m(lat_deg, lon_deg))
    with ThreadPoolExecutor(4) as pool:
        for found in pool.map(lambda _: np.array(chart.to_plane_m(lat_deg, lon_deg)), range(40)):
            assert np.array_equal(found, expected)
