"""Fixes made by radials, and the ways they fail."""

from __future__ import annotations

import numpy as np
import pytest

from server.errors import InputProblem, OutOfRange
from server.navigation import (
    Position,
    cone_radius_nm,
    destination,
    distance_nm,
    ground_range_nm,
    inverse,
    radial_distance_fix,
    slant_range_nm,
    two_radial_fix,
)

A = Position(lat_deg=43.0, lon_deg=-36.0)
B = Position(lat_deg=43.0, lon_deg=-35.0)


def fix(bearing_a, bearing_b, a=A, b=B):
    return two_radial_fix(a, bearing_a_true_deg=bearing_a, station_b=b, bearing_b_true_deg=bearing_b)


@pytest.mark.parametrize("place", [(44.0, -35.3), (42.2, -37.0), (43.02, -35.5), (45.5, -33.0)])
@pytest.mark.parametrize("lon_shift", [0.0, -144.5])
def test_two_radials_to_a_point_cross_at_that_point(place, lon_shift):
    shift = lambda p: Position(lat_deg=p.lat_deg, lon_deg=p.lon_deg + lon_shift)  # noqa: E731
    a, b, point = shift(A), shift(B), shift(Position(lat_deg=place[0], lon_deg=place[1]))
    from_a, from_b = inverse(a, point), inverse(b, point)
    found = fix(from_a.initial_true_deg, from_b.initial_true_deg, a, b)
    assert distance_nm(found.position, point) < 1e-5
    assert found.distance_a_nm == pytest.approx(from_a.distance_m / 1852.0, abs=1e-5)
    assert found.distance_b_nm == pytest.approx(from_b.distance_m / 1852.0, abs=1e-5)
    turn = abs((from_a.final_true_deg - from_b.final_true_deg + 90) % 180 - 90)
    assert found.cut_deg == pytest.approx(turn, abs=1e-6)


def test_the_cut_is_between_0_and_90():
    assert fix(45, 315).cut_deg == pytest.approx(90, abs=1.0)
    assert fix(80, 60).cut_deg == pytest.approx(20, abs=1.0)


@pytest.mark.parametrize(
    ("bearing_a", "bearing_b", "words"),
    [
        (0, 0, "parallel"),
        (45, 45.5, "parallel"),
        (90, 270, "parallel"),
        (90.34, 90.34, "parallel"),
        (45, 135, "do not cross ahead"),
        (225, 315, "do not cross ahead"),
        (225, 135, "do not cross ahead"),
        (355, 353, "within 250 NM|parallel"),
        (0, 352, "within 250 NM"),
    ],
)
def test_radials_that_make_no_fix_are_refused_in_words(bearing_a, bearing_b, words):
    with pytest.raises(InputProblem, match=words):
        fix(bearing_a, bearing_b)


def test_two_stations_in_one_place_make_no_fix():
    with pytest.raises(InputProblem, match="two beacons that stand apart"):
        fix(10, 100, A, Position(lat_deg=43.00001, lon_deg=-36.0))


def test_a_radial_over_the_other_station_makes_no_fix_there():
    with pytest.raises(InputProblem, match="do not cross ahead"):
        fix(inverse(A, B).initial_true_deg, 0)


def test_antipodal_stations_make_no_fix():
    with pytest.raises(InputProblem):
        fix(10, 20, Position(lat_deg=10, lon_deg=0), Position(lat_deg=-10, lon_deg=180))


def test_a_radial_distance_fix_lies_where_it_says():
    point = radial_distance_fix(A, radial_true_deg=359.0, distance_nm=12.0)
    assert distance_nm(A, point) == pytest.approx(12.0, abs=1e-9)
    assert inverse(A, point).initial_true_deg == pytest.approx(359.0, abs=1e-9)


@pytest.mark.parametrize("distance", [-1.0, 250.1, float("nan"), float("inf")])
def test_a_radial_distance_fix_far_away_or_behind_is_refused(distance):
    with pytest.raises(InputProblem, match="from 0 to 250 NM"):
        radial_distance_fix(A, radial_true_deg=10.0, distance_nm=distance)


def test_a_dme_cannot_read_less_than_the_height():
    with pytest.raises(OutOfRange, match="cannot read 1 NM at 12000 ft"):
        ground_range_nm(1.0, 12_000)
    ranges_nm = ground_range_nm(np.array([1.0, 5.0]), 12_000)
    assert np.isnan(ranges_nm[0])
    assert ranges_nm[1] == pytest.approx(4.594, abs=0.001)


def test_single_numbers_give_plain_floats():
    assert type(slant_range_nm(5, 6000)) is float
    assert type(ground_range_nm(5, 6000)) is float
    assert type(cone_radius_nm(6000)) is float


def test_the_cone_grows_with_height_and_is_narrower_for_an_ndb():
    assert list(cone_radius_nm(np.array([0.0, 6076.115]), half_angle_deg=45.0)) == pytest.approx([0.0, 1.0], abs=1e-6)
    assert cone_radius_nm(5000, half_angle_deg=40.0) < cone_radius_nm(5000)


def test_a_fix_on_the_antimeridian_is_folded():
    station = Position(lat_deg=0, lon_deg=179.9)
    assert destination(station, bearing_true_deg=90, distance_nm=60).lon_deg == pytest.approx(-179.1018, abs=1e-3)


@pytest.mark.parametrize(("cut_deg", "accepted"), [(1.5, False), (2.5, True)])
def test_a_cut_below_two_degrees_is_refused(cut_deg, accepted):
    point = Position(lat_deg=44.0, lon_deg=-34.0)
    a, b = (destination(point, bearing_true_deg=bearing, distance_nm=100.0) for bearing in (200.0, 200.0 + cut_deg))
    bearings = inverse(a, point).initial_true_deg, inverse(b, point).initial_true_deg
    if accepted:
        assert fix(*bearings, a, b).cut_deg == pytest.approx(cut_deg, abs=1e-6)
    else:
        with pytest.raises(InputProblem, match="must cross at 2 degrees or more"):
            fix(*bearings, a, b)
