"""The smooth-earth radio horizon."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.errors import OutOfRange
from server.radio.horizon import radio_horizon_nm


def test_an_antenna_on_the_ground_sees_nothing():
    assert radio_horizon_nm(0.0) == 0.0


def test_two_antennas_see_as_far_as_their_horizons_added():
    assert radio_horizon_nm(1000, 5000) == pytest.approx(radio_horizon_nm(1000) + radio_horizon_nm(5000))


def test_more_refraction_reaches_farther():
    reach_nm = [radio_horizon_nm(5500, k=k) for k in (1.0, 1.2, 4 / 3, 1.5)]
    assert reach_nm == sorted(reach_nm)
    assert reach_nm[2] / reach_nm[0] == pytest.approx(math.sqrt(4 / 3), abs=1e-3)


def test_heights_may_be_arrays():
    assert radio_horizon_nm(np.array([0.0, 1000.0]))[1] == radio_horizon_nm(1000.0)
    assert type(radio_horizon_nm(1000.0)) is float


def test_heights_below_the_ground_have_no_horizon():
    assert np.isnan(radio_horizon_nm(np.array([-10.0]))[0])
    with pytest.raises(OutOfRange, match="has no horizon"):
        radio_horizon_nm(-10.0)
