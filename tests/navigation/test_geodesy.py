"""Legs in awkward places: poles, antimeridian, coincident and antipodal points."""

from __future__ import annotations

import numpy as np
import pytest

from server.errors import OutOfRange
from server.navigation import (
    Position,
    bearings_and_distances,
    destination,
    distance_and_offset_from_leg,
    distance_nm,
    inverse,
    points_along,
    position_along,
    track,
)


def at(lat_deg: float, lon_deg: float) -> Position:
    return Position(lat_deg=lat_deg, lon_deg=lon_deg)


def test_a_zero_length_leg_has_no_direction():
    leg = track(at(50, 10), at(50, 10))
    assert (leg.distance_nm, leg.initial_true_deg, leg.middle_true_deg, leg.final_true_deg) == (0.0, None, None, None)


def test_points_nearer_than_ten_metres_have_a_distance_but_no_direction():
    near = inverse(at(50, 10), at(50 + 8e-5, 10))  # 8.9 m
    assert (near.initial_true_deg, near.final_true_deg) == (None, None)
    assert near.distance_m == pytest.approx(8.9, abs=0.1)
    assert inverse(at(50, 10), at(50 + 1e-4, 10)).initial_true_deg == 0.0  # 11.1 m


def test_points_a_billionth_of_a_degree_apart_are_not_taken_for_antipodes():
    assert distance_nm(at(50, 10), at(50 + 1e-9, 10 + 1e-9)) < 1e-6


def test_all_longitudes_name_one_pole():
    assert distance_nm(at(90, 0), at(90, 120)) == pytest.approx(0.0, abs=1e-9)


def test_a_leg_from_the_pole_has_no_direction_there_and_one_at_its_other_end():
    leg = track(at(90, 0), at(50, 30))
    assert leg.initial_true_deg is None
    assert leg.middle_true_deg == pytest.approx(180.0)
    assert leg.final_true_deg == pytest.approx(180.0)
    assert track(at(50, 30), at(-90, 0)).final_true_deg is None


def test_a_beacon_beside_the_south_pole_has_bearings():
    assert inverse(at(-89.995, 0), at(-80, 0)).initial_true_deg == pytest.approx(0.0)


def test_a_leg_over_the_pole_turns_from_north_to_south():
    leg = track(at(80, 10), at(80, -170))
    assert leg.initial_true_deg == pytest.approx(0.0, abs=1e-6)
    assert leg.final_true_deg == pytest.approx(180.0, abs=1e-6)
    assert leg.middle_true_deg is None  # the middle is the pole


def test_a_leg_over_the_antimeridian_is_short():
    assert distance_nm(at(0, 179.5), at(0, -179.5)) == pytest.approx(60.108, abs=1e-3)
    lat_deg, lon_deg = points_along(at(51, 179.5), at(52, -179), np.linspace(0, 82, 20))
    assert np.all((lon_deg >= -180.0) & (lon_deg < 180.0))
    assert np.all(np.abs(lon_deg) > 178.9)
    assert np.all(np.diff(lat_deg) > 0)


def test_the_final_direction_is_the_direction_of_flight_not_the_way_back():
    leg = inverse(at(40, -100), at(40, -95))
    assert leg.initial_true_deg == pytest.approx(88.392, abs=1e-3)
    assert leg.final_true_deg == pytest.approx(91.608, abs=1e-3)


def test_antipodes_have_a_length():
    assert distance_nm(at(0, 0), at(0, 180)) == pytest.approx(10_801, abs=1)


def test_points_along_start_and_end_at_the_ends():
    a, b = at(-33.5, 150), at(-35, 147)
    lat_deg, lon_deg = points_along(a, b, [0.0, distance_nm(a, b)])
    assert (lat_deg[0], lon_deg[0]) == pytest.approx((a.lat_deg, a.lon_deg), abs=1e-12)
    assert (lat_deg[1], lon_deg[1]) == pytest.approx((b.lat_deg, b.lon_deg), abs=1e-9)


def test_points_along_a_zero_length_leg_stay_there_or_are_refused():
    lat_deg, lon_deg = points_along(at(50, 10), at(50, 10), [0.0])
    assert (lat_deg[0], lon_deg[0]) == pytest.approx((50.0, 10.0), abs=1e-12)
    with pytest.raises(OutOfRange, match="less than 10 m apart"):
        points_along(at(50, 10), at(50, 10), [0.0, 1.0])
    assert points_along(at(50, 10), at(50, 10), [])[0].shape == (0,)


def test_position_along_agrees_with_destination():
    a, b = at(51, 179.5), at(52, -179)
    assert distance_nm(position_along(a, b, 30.0), destination(a, bearing_true_deg=track(a, b).initial_true_deg, distance_nm=30.0)) < 1e-6


def test_bearings_are_taken_at_the_origin():
    origin = at(50, 0)
    bearing_deg, far_nm = bearings_and_distances(origin, [50.0, 49.0, 50.0], [5.0, 0.0, 0.0])
    assert bearing_deg[0] == pytest.approx(88.085, abs=0.01)  # half the convergence 5 sin 50 under 090
    assert bearing_deg[1] == pytest.approx(180.0)
    assert np.isnan(bearing_deg[2])
    assert far_nm[2] == 0.0


def test_bearings_at_a_pole_are_nan():
    bearing_deg, far_nm = bearings_and_distances(at(90, 0), [80.0], [10.0])
    assert np.isnan(bearing_deg[0])
    assert far_nm[0] == pytest.approx(603, abs=1)


@pytest.mark.parametrize("side_deg", [90.0, -90.0])
@pytest.mark.parametrize("along_nm", [-20.0, 0.0, 35.0, 90.0])
def test_a_point_abeam_is_found_where_it_was_put(along_nm, side_deg):
    a, b = at(60, 179), at(61, -179)
    foot = position_along(a, b, along_nm)
    ahead = position_along(a, b, along_nm + 1.0)
    onward_deg = inverse(foot, ahead).initial_true_deg
    found = distance_and_offset_from_leg(a, b, destination(foot, bearing_true_deg=onward_deg + side_deg, distance_nm=25.0))
    assert found.along_nm == pytest.approx(along_nm, abs=1e-5)
    assert found.off_nm == pytest.approx(25.0 if side_deg > 0 else -25.0, abs=1e-5)


def test_a_point_on_the_leg_is_not_off_it():
    a, b = at(45, 5), at(46, 8)
    found = distance_and_offset_from_leg(a, b, position_along(a, b, 40.0))
    assert (found.along_nm, found.off_nm) == pytest.approx((40.0, 0.0), abs=1e-6)


def test_beside_a_zero_length_leg_there_is_only_distance():
    found = distance_and_offset_from_leg(at(50, 10), at(50, 10), at(51, 10))
    assert found.along_nm == 0.0
    assert found.off_nm == pytest.approx(60.07, abs=0.01)
