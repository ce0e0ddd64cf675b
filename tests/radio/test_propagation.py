"""Laws of free space, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import OutOfRange
from server.radio.propagation import (
    density_from_field_dbw_m2,
    field_dbuv_m,
    free_space_loss_db,
    fresnel_radius_m,
    power_density_dbw_m2,
    wavelength_m,
)

DISTANCE_M = st.floats(1.0, 1e6)
FREQUENCY_MHZ = st.floats(30.0, 3000.0)


@given(DISTANCE_M, FREQUENCY_MHZ)
def test_twice_the_distance_costs_six_decibels(distance_m, frequency_mhz):
    near_db = free_space_loss_db(distance_m=distance_m, frequency_mhz=frequency_mhz)
    far_db = free_space_loss_db(distance_m=2.0 * distance_m, frequency_mhz=frequency_mhz)
    assert far_db - near_db == pytest.approx(6.0206, abs=1e-4)
    drop_db = power_density_dbw_m2(eirp_w=50.0, distance_m=distance_m) - power_density_dbw_m2(eirp_w=50.0, distance_m=2.0 * distance_m)
    assert drop_db == pytest.approx(6.0206, abs=1e-4)


@given(st.floats(0.1, 1e5), DISTANCE_M)
def test_ten_times_the_power_gains_ten_decibels(eirp_w, distance_m):
    gain_db = power_density_dbw_m2(eirp_w=10.0 * eirp_w, distance_m=distance_m) - power_density_dbw_m2(eirp_w=eirp_w, distance_m=distance_m)
    assert gain_db == pytest.approx(10.0, abs=1e-9)


@given(st.floats(-200.0, 100.0))
def test_field_and_density_turn_into_each_other(density_dbw_m2):
    assert density_from_field_dbw_m2(field_dbuv_m(density_dbw_m2)) == pytest.approx(density_dbw_m2, abs=1e-9)


@given(DISTANCE_M, DISTANCE_M, FREQUENCY_MHZ)
def test_fresnel_zone_is_the_same_from_both_ends_and_widest_in_the_middle(one_m, other_m, frequency_mhz):
    radius_m = fresnel_radius_m(to_one_end_m=one_m, to_other_end_m=other_m, frequency_mhz=frequency_mhz)
    assert radius_m == pytest.approx(fresnel_radius_m(to_one_end_m=other_m, to_other_end_m=one_m, frequency_mhz=frequency_mhz))
    middle_m = (one_m + other_m) / 2.0
    widest_m = fresnel_radius_m(to_one_end_m=middle_m, to_other_end_m=middle_m, frequency_mhz=frequency_mhz)
    assert radius_m <= widest_m * (1.0 + 1e-12)


def test_a_scalar_out_of_range_is_refused_in_words():
    with pytest.raises(OutOfRange, match=r"distance of 0 m from an antenna was given. Give more than 0"):
        free_space_loss_db(distance_m=0.0, frequency_mhz=113.0)
    with pytest.raises(OutOfRange, match="frequency of -113 MHz was given"):
        wavelength_m(-113.0)
    with pytest.raises(OutOfRange, match=r"radiated power of 0 W was given. Give more than 0, or leave it out"):
        power_density_dbw_m2(eirp_w=0.0, distance_m=1000.0)


def test_an_array_holds_nan_where_it_is_out_of_range():
    loss_db = free_space_loss_db(distance_m=np.array([0.0, 1000.0, -5.0, np.nan]), frequency_mhz=113.0)
    assert np.isnan(loss_db).tolist() == [True, False, True, True]
