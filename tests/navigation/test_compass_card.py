"""The compass correction card."""

from __future__ import annotations

import pytest

from server.errors import InputProblem
from server.navigation import CompassCardEntry, compass_correction_deg, compass_heading_deg, entry_from_correction, entry_from_deviation


def card(*lines):
    return tuple(CompassCardEntry(magnetic_deg=magnetic, steer_deg=steer) for magnetic, steer in lines)


def test_without_a_card_there_is_no_compass_heading():
    assert compass_heading_deg((), 90.0) is None


def test_a_card_of_one_line_holds_all_round():
    assert compass_heading_deg(card((90, 92)), 270.0) == pytest.approx(272.0)


def test_corrections_are_interpolated_through_north():
    lines = card((330, 334), (30, 28))
    assert compass_heading_deg(lines, 0.0) == pytest.approx(1.0)
    assert compass_heading_deg(lines, 345.0) == pytest.approx(347.5)
    assert compass_heading_deg(lines, 15.0) == pytest.approx(14.5)


def test_a_card_may_write_north_as_360_and_in_any_order():
    lines = card((270, 268), (360, 2), (90, 91), (180, 180))
    assert compass_heading_deg(lines, 0.0) == pytest.approx(2.0)
    assert compass_heading_deg(lines, 315.0) == pytest.approx(315.0)  # half way from -2 to +2


def test_a_steered_heading_across_north_is_a_small_correction():
    assert compass_heading_deg(card((358, 1)), 358.0) == pytest.approx(1.0)


def test_north_written_twice_alike_is_fine_and_twice_differently_is_refused():
    assert compass_heading_deg(card((0, 1), (360, 361)), 0.0) == pytest.approx(1.0)
    with pytest.raises(InputProblem, match="names 360 twice"):
        compass_heading_deg(card((0, 1), (360, 3)), 0.0)


def test_a_correction_is_added_and_a_deviation_east_is_taken_away():
    """FAA-H-8083-25A p. 15-19: magnetic heading 021, printed deviation +2 added: 023. European textbooks: 2 E is taken away (memory)."""
    added, east = entry_from_correction(21.0, 2.0), entry_from_deviation(21.0, 2.0)
    assert compass_heading_deg((added,), 21.0) == pytest.approx(23.0)
    assert compass_heading_deg((east,), 21.0) == pytest.approx(19.0)
    assert (compass_correction_deg(added), compass_correction_deg(east)) == (2.0, -2.0)
    assert entry_from_correction(359.0, 3.0).steer_deg == pytest.approx(2.0)
