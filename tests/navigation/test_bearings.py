"""Directions: folding, differences, digits."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import difference_deg, fold_deg, reciprocal_deg, three_digits, true_from_magnetic_deg


@pytest.mark.parametrize(("given", "folded"), [(-1e-17, 0.0), (360.0, 0.0), (-90, 270.0), (720.5, 0.5), (-0.0, 0.0), (359.999, 359.999)])
def test_directions_fold_into_0_to_less_than_360(given, folded):
    assert fold_deg(given) == pytest.approx(folded, abs=1e-12)
    assert type(fold_deg(given)) is float
    assert fold_deg(np.array([given]))[0] == pytest.approx(folded, abs=1e-12)


def test_a_direction_that_is_not_known_stays_nan():
    assert np.isnan(fold_deg(float("nan")))


@pytest.mark.parametrize(("a", "b", "turn"), [(10, 350, 20), (350, 10, -20), (180, 0, 180), (0, 180, 180), (5, 5, 0), (359, 0, -1)])
def test_differences_take_the_short_way_round(a, b, turn):
    assert difference_deg(a, b) == pytest.approx(turn)


def test_functions_of_directions_take_arrays():
    assert list(reciprocal_deg(np.array([0.0, 90.0, 270.0]))) == [180.0, 270.0, 90.0]
    assert list(difference_deg(np.array([10.0, 350.0]), 0.0)) == [10.0, -10.0]
    assert list(true_from_magnetic_deg(np.array([355.0]), 10.0)) == [5.0]


def test_three_digits_round_half_up():
    """Python's own round() goes to the even digit: 0.5 would be 000 and 2.5 would be 002."""
    assert [three_digits(direction) for direction in (0.5, 1.5, 2.5, 359.5)] == ["001", "002", "003", "360"]
    assert three_digits(92.49999999999999) == "093"  # 92.5 but for the last bit of a sum
