"""Laws of navigation that hold for any numbers: round trips, inverses, agreement of two ways."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.errors import InputProblem, NoHeadingHoldsTrack
from server.navigation import (
    Alignment,
    AlignmentKind,
    NorthReference,
    Position,
    WindLayer,
    bearings_and_distances,
    calibrated_airspeed_kt,
    destination,
    difference_deg,
    distance_and_offset_from_leg,
    distance_nm,
    fold_deg,
    format_dm,
    inverse,
    magnetic_from_true_deg,
    parse_position,
    points_along,
    position_along,
    radial_distance_fix,
    radial_from,
    reciprocal_deg,
    three_digits,
    track,
    true_airspeed_kt,
    true_bearing_of_radial,
    true_from_magnetic_deg,
    two_radial_fix,
    wind_at,
    wind_correction,
    wind_from_heading,
)

any_direction = st.floats(-1e6, 1e6)
direction = st.floats(0.0, 359.999)
position = st.builds(Position, lat_deg=st.floats(-85, 85), lon_deg=st.floats(-180, 179.999999))
anywhere = st.builds(Position, lat_deg=st.floats(-90, 90), lon_deg=st.floats(-180, 179.999999))
leg_nm = st.floats(0.05, 300.0)
kinds = st.sampled_from([AlignmentKind.MAGNETIC, AlignmentKind.TRUE, AlignmentKind.GRID])


@given(any_direction)
def test_a_folded_direction_stays_folded_and_points_the_same_way(x_deg):
    folded = fold_deg(x_deg)
    assert 0.0 <= folded < 360.0
    assert fold_deg(folded) == folded
    assert math.isclose(math.cos(math.radians(folded)), math.cos(math.radians(x_deg)), abs_tol=1e-7)
    assert fold_deg(np.array([x_deg]))[0] == folded


@given(direction, direction)
def test_a_difference_added_leads_to_the_other_direction(a_deg, b_deg):
    turn = difference_deg(a_deg, b_deg)
    assert -180.0 < turn <= 180.0
    assert abs(difference_deg(b_deg + turn, a_deg)) < 1e-9


@given(direction, st.floats(-180, 180))
def test_magnetic_and_true_are_inverse(true_deg, variation_deg):
    there_and_back = true_from_magnetic_deg(magnetic_from_true_deg(true_deg, variation_deg), variation_deg)
    assert abs(difference_deg(there_and_back, true_deg)) < 1e-9
    assert abs(difference_deg(reciprocal_deg(reciprocal_deg(true_deg)), true_deg)) < 1e-9


@given(any_direction)
def test_three_digits_are_001_to_360(x_deg):
    text = three_digits(x_deg)
    assert len(text) == 3
    assert 1 <= int(text) <= 360
    assert abs(difference_deg(float(text), fold_deg(x_deg))) <= 0.5 + 1e-9


@given(position, direction, st.floats(0.05, 300.0), kinds, st.floats(-60, 60))
def test_a_point_put_on_a_radial_is_found_on_that_radial(station, radial_deg, distance, kind, declination_deg):
    alignment = Alignment(kind=kind, declination_deg=declination_deg)
    bearing_deg = true_bearing_of_radial(radial_deg, alignment, estimated_declination_deg=None)
    point = radial_distance_fix(station, radial_true_deg=bearing_deg, distance_nm=min(distance, 250.0))
    found = radial_from(station, alignment, point, estimated_declination_deg=None)
    assert abs(difference_deg(found.value_deg, radial_deg)) < 1e-6
    assert abs(distance_nm(station, point) - min(distance, 250.0)) < 1e-7


@given(anywhere, anywhere)
def test_a_leg_is_as_long_both_ways_and_its_ends_are_reciprocal(a, b):
    there, back = inverse(a, b), inverse(b, a)
    assert math.isclose(there.distance_m, back.distance_m, abs_tol=1e-6)
    assume(there.distance_m < 19_900_000.0)  # near antipodes many geodesics are almost the shortest
    if there.final_true_deg is not None and there.initial_true_deg is not None:
        assert abs(difference_deg(there.final_true_deg, reciprocal_deg(back.initial_true_deg))) < 1e-5


@given(position, direction, leg_nm)
def test_the_middle_of_a_leg_is_half_way_and_flown_in_the_middle_direction(start, bearing_deg, distance):
    end = destination(start, bearing_true_deg=bearing_deg, distance_nm=distance)
    leg = track(start, end)
    middle = position_along(start, end, leg.distance_nm / 2)
    assert abs(distance_nm(start, middle) - distance_nm(middle, end)) < 1e-7
    assert abs(difference_deg(leg.middle_true_deg, inverse(middle, end).initial_true_deg)) < 1e-5


@given(position, direction, leg_nm, st.floats(0, 1))
def test_points_along_a_leg_split_its_length(start, bearing_deg, distance, part):
    end = destination(start, bearing_true_deg=bearing_deg, distance_nm=distance)
    lat_deg, lon_deg = points_along(start, end, [part * distance])
    point = Position(lat_deg=lat_deg[0], lon_deg=lon_deg[0])
    assert abs(distance_nm(start, point) + distance_nm(point, end) - distance) < 1e-7
    bearing, far = bearings_and_distances(start, lat_deg, lon_deg)
    assert abs(far[0] - part * distance) < 1e-7
    if part * distance > 0.05:
        assert abs(difference_deg(bearing[0], bearing_deg)) < 1e-5


@given(position, direction, st.floats(1.0, 300.0), st.floats(-50, 350), st.floats(-100, 100))
def test_a_point_set_beside_a_leg_is_found_beside_it(start, bearing_deg, distance, along_nm, off_nm):
    end = destination(start, bearing_true_deg=bearing_deg, distance_nm=distance)
    foot = position_along(start, end, along_nm)
    assume(abs(foot.lat_deg) < 87)
    onward_deg = inverse(foot, position_along(start, end, along_nm + 1.0)).initial_true_deg
    point = destination(foot, bearing_true_deg=onward_deg + 90.0, distance_nm=off_nm)
    found = distance_and_offset_from_leg(start, end, point)
    assert abs(found.along_nm - along_nm) < 1e-3
    assert abs(found.off_nm - off_nm) < 1e-4


@given(position, direction, direction, st.floats(1, 240), st.floats(1, 240))
def test_radials_drawn_from_a_point_to_two_stations_fix_that_point(point, to_a_deg, to_b_deg, far_a, far_b):
    assume(5.0 < abs(difference_deg(to_a_deg, to_b_deg)) < 175.0)
    a = destination(point, bearing_true_deg=to_a_deg, distance_nm=far_a)
    b = destination(point, bearing_true_deg=to_b_deg, distance_nm=far_b)
    assume(max(abs(a.lat_deg), abs(b.lat_deg)) < 87 and distance_nm(a, b) > 0.2)
    fix = two_radial_fix(
        a,
        bearing_a_true_deg=inverse(a, point).initial_true_deg,
        station_b=b,
        bearing_b_true_deg=inverse(b, point).initial_true_deg,
    )
    assert distance_nm(fix.position, point) < 1e-4
    assert abs(fix.distance_a_nm - far_a) < 1e-4
    assert abs(fix.distance_b_nm - far_b) < 1e-4


@given(position, direction, st.floats(0.0, 200.0), any_direction, any_direction)
def test_any_two_radials_give_a_fix_on_both_or_a_plain_refusal(a, to_b_deg, apart_nm, bearing_a_deg, bearing_b_deg):
    b = destination(a, bearing_true_deg=to_b_deg, distance_nm=apart_nm)
    try:
        fix = two_radial_fix(a, bearing_a_true_deg=bearing_a_deg, station_b=b, bearing_b_true_deg=bearing_b_deg)
    except InputProblem:
        return
    assert abs(difference_deg(inverse(a, fix.position).initial_true_deg, bearing_a_deg)) < 1e-3
    assert abs(difference_deg(inverse(b, fix.position).initial_true_deg, bearing_b_deg)) < 1e-3


@given(direction, st.floats(30, 300), direction, st.floats(0, 120))
def test_the_wind_triangle_closes_and_gives_back_the_wind(track_deg, airspeed, wind_from_deg, wind_kt):
    try:
        answer = wind_correction(track_true_deg=track_deg, true_airspeed_kt=airspeed, wind_from_true_deg=wind_from_deg, wind_kt=wind_kt)
    except NoHeadingHoldsTrack:
        assert wind_kt >= airspeed * (1 - 1e-9)
        return
    assert abs(answer.wind_correction_deg) <= 90.0
    assert airspeed - wind_kt - 1e-9 <= answer.groundspeed_kt <= airspeed + wind_kt + 1e-9
    found = wind_from_heading(
        heading_true_deg=answer.heading_true_deg,
        true_airspeed_kt=airspeed,
        track_true_deg=track_deg,
        groundspeed_kt=answer.groundspeed_kt,
    )
    assert abs(found.speed_kt - wind_kt) < 1e-6
    if wind_kt > 0.01:
        assert abs(difference_deg(found.from_true_deg, wind_from_deg)) < 1e-3


@given(direction, st.floats(60, 200), direction, st.floats(0, 40))
def test_out_and_back_in_wind_takes_longer_than_in_still_air(track_deg, airspeed, wind_from_deg, wind_kt):
    speeds = [
        wind_correction(track_true_deg=way, true_airspeed_kt=airspeed, wind_from_true_deg=wind_from_deg, wind_kt=wind_kt).groundspeed_kt
        for way in (track_deg, track_deg + 180.0)
    ]
    assert 1 / speeds[0] + 1 / speeds[1] >= 2 / airspeed * (1 - 1e-12)


@given(
    st.lists(st.tuples(st.integers(0, 20), direction, st.floats(0, 100)), min_size=1, max_size=6, unique_by=lambda layer: layer[0]),
    st.floats(-1, 25),
)
def test_an_interpolated_wind_is_never_stronger_than_the_strongest_layer(layers, thousands):
    winds = tuple(
        WindLayer(altitude_ft=height * 1000.0, from_deg=from_deg, speed_kt=speed, reference=NorthReference.TRUE)
        for height, from_deg, speed in layers
    )
    found = wind_at(winds, thousands * 1000.0, variation_deg=0.0)
    assert found.speed_kt <= max(speed for _, _, speed in layers) + 1e-9
    assert found == wind_at(tuple(reversed(winds)), thousands * 1000.0, variation_deg=0.0)


@given(st.floats(0, 300), st.floats(-1000, 25_000), st.floats(-60, 50))
def test_true_and_calibrated_airspeed_are_inverse(calibrated, altitude_ft, temperature_c):
    true_kt = true_airspeed_kt(calibrated, altitude_ft, temperature_c)
    assert math.isclose(calibrated_airspeed_kt(true_kt, altitude_ft, temperature_c), calibrated, abs_tol=1e-4)


@given(anywhere)
def test_a_written_position_is_read_back_to_the_hundredth_of_a_minute(place):
    read = parse_position(format_dm(place))
    assert abs(read.lat_deg - place.lat_deg) <= 0.005 / 60 + 1e-9
    assert abs(difference_deg(read.lon_deg, place.lon_deg)) <= 0.005 / 60 + 1e-9
    assert format_dm(read).replace("180°00.00'E", "180°00.00'W") == format_dm(place).replace("180°00.00'E", "180°00.00'W")


@settings(max_examples=300)
@given(st.text(alphabet="0123456789 .,-+°'\"NSEWnsewº′″:;/xnaif_５²", max_size=30))
def test_any_text_is_read_as_a_position_or_refused_in_words(text):
    try:
        assert isinstance(parse_position(text), Position)
    except InputProblem as problem:
        assert problem.message
