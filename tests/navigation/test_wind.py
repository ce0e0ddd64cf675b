"""Winds at a height, and refusals of the wind triangle."""

from __future__ import annotations

import json

import numpy as np
import pytest

from server.errors import InputProblem, NoHeadingHoldsTrack
from server.navigation import NorthReference, WindLayer, wind_at, wind_correction, wind_from_heading


def layer(altitude_ft, from_deg, speed_kt, reference=NorthReference.TRUE):
    return WindLayer(altitude_ft=altitude_ft, from_deg=from_deg, speed_kt=speed_kt, reference=reference)


def test_a_single_layer_holds_at_every_height():
    for altitude_ft in (-500, 3000, 40_000):
        found = wind_at((layer(3000, 240, 18),), altitude_ft, variation_deg=-10)
        assert (found.from_true_deg, found.speed_kt) == pytest.approx((240, 18))


def test_beyond_the_layers_the_nearest_one_holds():
    layers = (layer(9000, 270, 30), layer(3000, 180, 10))
    assert wind_at(layers, 1000, variation_deg=0).from_true_deg == pytest.approx(180)
    assert wind_at(layers, 12_000, variation_deg=0).speed_kt == pytest.approx(30)


def test_a_magnetic_wind_is_turned_to_true_before_anything_else():
    layers = (layer(3000, 100, 20, NorthReference.MAGNETIC), layer(6000, 90, 20))
    assert wind_at(layers, 3000, variation_deg=-10).from_true_deg == pytest.approx(90)
    assert wind_at(layers, 4500, variation_deg=-10).speed_kt == pytest.approx(20)


def test_opposite_winds_cancel_to_a_calm():
    found = wind_at((layer(3000, 90, 20), layer(6000, 270, 20)), 4500, variation_deg=0)
    assert (found.from_true_deg, found.speed_kt) == (0.0, 0.0)


def test_no_wind_given_is_not_a_calm():
    with pytest.raises(InputProblem, match="No wind is given"):
        wind_at((), 4500, variation_deg=0)


def test_two_winds_at_one_height_are_refused():
    with pytest.raises(InputProblem, match="Two winds are given for one altitude"):
        wind_at((layer(3000, 90, 20), layer(3000, 91, 20)), 4500, variation_deg=0)


@pytest.mark.parametrize("bad", [(3000, 90, -1), (3000, float("nan"), 10), (float("inf"), 90, 10), (3000, 90, float("nan"))])
def test_what_is_not_a_wind_is_refused(bad):
    with pytest.raises(InputProblem, match="is not a wind"):
        wind_at((layer(*bad),), 4500, variation_deg=0)


def test_a_crosswind_above_the_airspeed_is_told_in_numbers():
    with pytest.raises(
        NoHeadingHoldsTrack, match=r"Track 090 true: the 62 kt crosswind \(wind 360 true at 62 kt\) exceeds the 55 kt"
    ) as caught:
        wind_correction(track_true_deg=90, true_airspeed_kt=55, wind_from_true_deg=359.9, wind_kt=62)
    assert caught.value.code == "no-heading-holds-track"


def test_a_headwind_above_the_airspeed_is_told_in_numbers():
    with pytest.raises(NoHeadingHoldsTrack, match=r"the 90 kt headwind.*leaves no groundspeed at 80 kt"):
        wind_correction(track_true_deg=270, true_airspeed_kt=80, wind_from_true_deg=270, wind_kt=90)


@pytest.mark.parametrize("airspeed", [0.0, -10.0, float("nan")])
def test_without_airspeed_nothing_holds_a_track(airspeed):
    with pytest.raises(NoHeadingHoldsTrack):
        wind_correction(track_true_deg=90, true_airspeed_kt=airspeed, wind_from_true_deg=0, wind_kt=0)


def test_arrays_and_scalars_may_be_mixed():
    answer = wind_correction(
        track_true_deg=np.array([0.0, 90.0]), true_airspeed_kt=100, wind_from_true_deg=0, wind_kt=np.array([20.0, 200.0])
    )
    assert answer.groundspeed_kt[0] == pytest.approx(80)
    assert np.isnan(answer.groundspeed_kt[1])
    assert answer.headwind_kt.shape == (2,)


def test_scalar_answers_are_plain_floats_that_json_can_write():
    answer = wind_correction(track_true_deg=0, true_airspeed_kt=100, wind_from_true_deg=90, wind_kt=20)
    assert json.loads(json.dumps([answer.heading_true_deg, answer.groundspeed_kt]))[1] == pytest.approx(97.980, abs=1e-3)
    assert type(answer.groundspeed_kt) is float


def test_flying_what_was_planned_means_a_calm():
    found = wind_from_heading(heading_true_deg=75, true_airspeed_kt=100, track_true_deg=75, groundspeed_kt=100)
    assert (found.from_true_deg, found.speed_kt) == (0.0, 0.0)
