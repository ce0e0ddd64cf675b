"""Laws of the indicator and of lines of position that hold for any numbers."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.navigation import fold_deg
from server.navigation.indicator import Flag, relative_bearing_deg, sensing_reversed, vor_indication
from server.navigation.position_lines import along_track_error_nm, dme_ground_error_nm, fix_error, radial_error_nm

whole = st.integers(0, 359)
small_nm = st.floats(0.05, 20.0)
cut = st.floats(1.0, 90.0)
OPPOSITE = {Flag.TO: Flag.FROM, Flag.FROM: Flag.TO, Flag.OFF: Flag.OFF}


@given(whole, whole)
def test_a_selected_course_turned_round_turns_flag_and_needle_round(radial, selected):
    ahead, back = (vor_indication(radial_deg=radial, selected_course_deg=course) for course in (selected, fold_deg(selected + 180)))
    assert back.flag is OPPOSITE[ahead.flag]
    assert back.needle_deg == -ahead.needle_deg


@given(whole, whole, whole)
def test_turning_radial_and_course_alike_changes_nothing(radial, selected, turn):
    turned = vor_indication(radial_deg=fold_deg(radial + turn), selected_course_deg=fold_deg(selected + turn))
    assert turned == vor_indication(radial_deg=radial, selected_course_deg=selected)


@given(whole, st.integers(0, 180))
def test_left_of_the_course_is_the_mirror_of_right_of_it(selected, off):
    left, right = (vor_indication(radial_deg=fold_deg(selected + side * off), selected_course_deg=selected) for side in (-1, 1))
    assert left.flag is right.flag
    assert left.needle_deg == -right.needle_deg or off == 180


@given(st.floats(0.0, 359.9), st.floats(0.0, 359.9))
def test_the_needle_keeps_within_the_dial(radial, selected):
    shown = vor_indication(radial_deg=radial, selected_course_deg=selected)
    assert -10.0 <= shown.needle_deg <= 10.0 and 0.0 <= shown.needle_dots <= 5.0
    assert -90.0 <= shown.course_lies_deg <= 90.0


@given(whole, whole)
def test_one_of_a_course_and_its_reciprocal_reverses_the_needle_or_both_are_flown_across(heading, selected):
    both = [sensing_reversed(heading_deg=heading, selected_course_deg=course) for course in (selected, fold_deg(selected + 180))]
    assert sum(both) == 1 or (sum(both) == 0 and (heading - selected) % 180 == 90)


@given(whole, whole, whole)
def test_turning_the_aircraft_turns_the_pointer_the_other_way(bearing, heading, turn):
    before = relative_bearing_deg(bearing_deg=bearing, heading_deg=heading)
    after = relative_bearing_deg(bearing_deg=bearing, heading_deg=heading + turn)
    assert fold_deg(before - turn) == after


@given(st.floats(0.1, 200.0), st.floats(1.01, 3.0), cut, cut)
def test_the_error_grows_with_distance_and_with_a_smaller_cut(away_nm, factor, one, other):
    assert radial_error_nm(away_nm * factor) > radial_error_nm(away_nm)
    assume(abs(one - other) > 1e-3)
    near = radial_error_nm(away_nm)
    assert along_track_error_nm(near, min(one, other)) > along_track_error_nm(near, max(one, other))


@given(small_nm, small_nm, cut)
def test_an_ellipse_is_the_same_from_both_lines_and_never_smaller_than_its_better_line(a_nm, b_nm, cut_deg):
    one = fix_error(line_a_nm=a_nm, line_b_nm=b_nm, cut_deg=cut_deg)
    other = fix_error(line_a_nm=b_nm, line_b_nm=a_nm, cut_deg=cut_deg)
    assert one.major_nm == pytest.approx(other.major_nm) and one.minor_nm == pytest.approx(other.minor_nm)
    assert 0.0 < one.minor_nm <= one.major_nm * (1.0 + 1e-9)
    assert one.major_nm >= min(a_nm, b_nm)
    # the area of the ellipse is that of the parallelogram of the two errors, in any shape of it
    square = fix_error(line_a_nm=1.0, line_b_nm=1.0, cut_deg=90.0)
    sine = a_nm * b_nm / along_track_error_nm(a_nm * b_nm, cut_deg)
    assert one.minor_nm * one.major_nm * sine == pytest.approx(a_nm * b_nm * square.minor_nm * square.major_nm, rel=1e-6)


@given(st.floats(0.1, 100.0), st.floats(0.0, 8.0), st.floats(0.1, 3.0))
def test_a_dme_tells_less_of_the_ground_the_higher_one_is_over_it(ground_nm, height_nm, more_nm):
    lower, higher = (
        dme_ground_error_nm(ground_nm=ground_nm, indicated_nm=(ground_nm**2 + nm**2) ** 0.5) for nm in (height_nm, height_nm + more_nm)
    )
    assert lower < higher
