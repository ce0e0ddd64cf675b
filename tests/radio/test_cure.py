"""From which altitude a whole leg is received: by hand, and by asking the survey again at that altitude."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import Position, destination
from server.radio import STANDARD_DOUBT, Cause, ChangeKind, ReceptionState, ServiceClass, changes_of, state_apart_from_cone
from server.radio.leg_view import line_of_sight_altitude_m
from tests.builders import flat_ground, ridge_ground
from tests.radio.radio_builders import MAST, a_beacon, a_component, a_path, a_survey

EARTH_M = 6_371_008.8


def north(distance_nm: float) -> Position:
    """A place north of the mast."""
    return destination(MAST, bearing_true_deg=0.0, distance_nm=distance_nm)


def a_vor(**part):
    return a_beacon(a_component(**part))


def received_throughout(survey) -> bool:
    return all(state_apart_from_cone(stretch) is ReceptionState.RECEIVED for stretch in survey.stretches)


def test_over_smooth_ground_the_sight_and_the_published_floor_decide_which_is_higher():
    # AIM TBL 1-1-1, class L: 40 NM from 1,000 ft above the transmitter up. Level ground at sea level, antenna 100 ft up: 30 NM away it is
    # in sight, without doubt about the ground, from (d - t)^2 / 2R with t^2 = 2 R h0 at R = 4/3 earth: 1.23 (sqrt(100) + sqrt(h)) = 30 NM.
    beacon = a_vor(service_class=ServiceClass.L, coverage=())
    survey = a_survey(a_path(MAST, north(30.0), 3000.0), flat_ground(0.0), beacon=beacon)
    assert received_throughout(survey)
    in_sight_ft = (30.0 / 1.23 - math.sqrt(100.0)) ** 2
    assert in_sight_ft < 1100.0
    assert survey.received_from.altitude_ft == pytest.approx(1100.0, abs=1.0)


def test_a_place_beyond_the_published_range_is_cured_by_no_altitude():
    beacon = a_vor(service_class=ServiceClass.T, coverage=())  # AIM TBL 1-1-1: 25 NM
    survey = a_survey(a_path(MAST, north(30.0), 3000.0), flat_ground(0.0), beacon=beacon)
    assert (survey.received_from.altitude_ft, survey.received_from.incurable) == (None, Cause.OUTSIDE_VOLUME)
    near, far = survey.stretches[0], survey.stretches[-1]
    assert near.received_from_ft is not None and far.incurable is Cause.OUTSIDE_VOLUME


@settings(max_examples=40, deadline=None)
@given(
    ridge_m=st.floats(0.0, 2500.0),
    length_nm=st.floats(12.0, 60.0),
    altitude_ft=st.floats(500.0, 12_000.0),
    service_class=st.sampled_from((ServiceClass.L, ServiceClass.H, ServiceClass.VL, ServiceClass.VH)),
    doubt=st.sampled_from((STANDARD_DOUBT, None)),
)
def test_at_the_altitude_told_the_leg_is_received_and_below_it_is_not(ridge_m, length_nm, altitude_ft, service_class, doubt):
    beacon = a_vor(service_class=service_class, coverage=())
    ground = ridge_ground(0.0, ridge_m, ridge_lat_deg=43.0 + 6.0 / 60.0)  # 6 NM north of the mast
    how = {"beacon": beacon} | ({"doubt": doubt} if doubt is not None else {})
    told = a_survey(a_path(MAST, north(length_nm), altitude_ft), ground, **how).received_from
    if told.altitude_ft is None:
        assert told.incurable is Cause.OUTSIDE_VOLUME
        return
    # Between the samples, 0.05 NM apart, the edge of sight may stand a little higher than at any of them.
    assert received_throughout(a_survey(a_path(MAST, north(length_nm), told.altitude_ft + 2.0), ground, **how))
    assert not received_throughout(a_survey(a_path(MAST, north(length_nm), told.altitude_ft - 5.0), ground, **how))


def test_the_line_of_sight_between_two_equal_heights_sags_by_the_bulge_of_the_earth():
    # Both ends at h over a sphere of radius R: the straight line is lowest half-way, (R + h) cos(D / 2R) - R, the chord of a circle.
    radius_m, away_m = 4.0 / 3.0 * EARTH_M, 100_000.0
    middle_m = line_of_sight_altitude_m(antenna_m=1000.0, aircraft_m=1000.0, away_m=away_m, at_m=away_m / 2.0)
    assert middle_m == pytest.approx((radius_m + 1000.0) * math.cos(away_m / 2.0 / radius_m) - radius_m, abs=1e-6)
    assert line_of_sight_altitude_m(antenna_m=200.0, aircraft_m=900.0, away_m=away_m, at_m=away_m) == pytest.approx(900.0, abs=1e-6)
    assert line_of_sight_altitude_m(antenna_m=200.0, aircraft_m=900.0, away_m=away_m, at_m=0.0) == pytest.approx(200.0, abs=1e-6)


def test_a_ridge_is_told_by_how_much_it_reaches_into_the_line_of_sight():
    # A ridge of 900 m 6 NM away; antenna 30.48 m, aircraft 304.8 m at 20 NM. By the parabola of small angles the line stands at
    # h0 + (h1 - h0) a / D - a (D - a) / 2R over the ridge: good to a centimetre here.
    survey = a_survey(a_path(MAST, north(20.0), 1000.0), ridge_ground(0.0, 900.0, ridge_lat_deg=43.0 + 6.0 / 60.0))
    (finding,) = [each for each in survey.stretches[-1].findings if each.cause is Cause.TERRAIN]
    away_m, at_m = 20.0 * 1852.0, finding.ridge.distance_from_beacon_nm * 1852.0
    line_m = 30.48 + (304.8 - 30.48) * at_m / away_m - at_m * (away_m - at_m) / (2.0 * 4.0 / 3.0 * EARTH_M)
    assert at_m == pytest.approx(6.0 * 1852.0, abs=60.0)
    assert finding.ridge.above_line_ft == pytest.approx((finding.ridge.elevation_m - line_m) / 0.3048, abs=20.0)


def test_changes_tell_first_heard_lost_and_regained():
    survey = a_survey(a_path(MAST, north(20.0), 300.0, 300.0, 9000.0, 9000.0), ridge_ground(0.0, 400.0, ridge_lat_deg=43.0 + 3.0 / 60.0))
    kinds = [change.kind for change in changes_of(survey.stretches)]
    assert kinds == [ChangeKind.HEARD, ChangeKind.LOST, ChangeKind.REGAINED]
    lost, regained = (change.at_nm for change in changes_of(survey.stretches)[1:])
    assert lost == pytest.approx(3.0, abs=0.5)  # posts stand 0.5 NM apart: the ridge's foot is that wide
    assert 3.0 < regained < 13.4
