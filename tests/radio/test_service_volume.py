"""Service volumes: exact edges of the bands, the floor, and what is the least height that is covered. Values: FAA AIM 1-1-8."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.radio import ComponentKind, ServiceClass, greatest_range_nm, smallest_class, volume_range_nm, volume_state
from server.radio.service_volume import lowest_covered_height_ft

JUST = 1e-6

# (class, height above the transmitter, range): AIM TBL 1-1-1, at each edge and just beside it.
EDGES = [
    ("T", 1000 - JUST, None),
    ("T", 1000, 25),
    ("T", 12000, 25),
    ("T", 12000 + JUST, None),
    ("L", 1000, 40),
    ("L", 18000, 40),
    ("L", 18000 + JUST, None),
    ("H", 1000, 40),
    ("H", 14500 - JUST, 40),
    ("H", 14500 + JUST, 100),
    ("H", 18000 - JUST, 100),
    ("H", 18000, 130),
    ("H", 45000, 130),
    ("H", 45000 + JUST, 100),
    ("H", 60000, 100),
    ("H", 60000 + JUST, None),
    ("VL", 1000, 40),
    ("VL", 5000 - JUST, 40),
    ("VL", 5000, 70),
    ("VL", 18000 - JUST, 70),
    ("VL", 18000, None),
    ("VH", 5000 - JUST, 40),
    ("VH", 5000, 70),
    ("VH", 14500 - JUST, 70),
    ("VH", 14500, 100),
    ("VH", 18000 - JUST, 100),
    ("VH", 18000, 130),
    ("VH", 45000, 130),
    ("VH", 45000 + JUST, 100),
    ("VH", 60000, 100),
    ("VH", 60000 + JUST, None),
    ("DL", 12900, 130),
    ("DL", 18000 - JUST, 130),
    ("DL", 18000, None),
    ("DH", 12900, 130),
    ("DH", 45000 - JUST, 130),
    ("DH", 45000, 100),
    ("DH", 60000, 100),
    ("DH", 60000 + JUST, None),
]


@pytest.mark.parametrize(("letters", "height_ft", "range_nm"), EDGES)
def test_every_band_ends_exactly_where_it_is_published_to_end(letters, height_ft, range_nm):
    assert volume_range_nm(ServiceClass(letters), height_ft) == range_nm


@pytest.mark.parametrize(("letters", "height_ft", "range_nm"), [edge for edge in EDGES if edge[2] is not None])
def test_the_range_itself_is_inside_and_a_hair_more_is_not(letters, height_ft, range_nm):
    answer = volume_state(
        service_class=ServiceClass(letters), height_ft=np.full(2, height_ft), distance_nm=np.array([range_nm, range_nm + JUST])
    )
    assert answer.inside.tolist() == [True, False]


def test_under_the_floor_the_class_leaves_it_to_the_line_of_sight_out_to_the_range_it_has_at_its_floor():
    height_ft = np.array([999.0, 300.0, 20.0, -200.0, 300.0])
    answer = volume_state(service_class=ServiceClass.L, height_ft=height_ft, distance_nm=np.array([40.0, 40.0, 20.0, 10.0, 40.1]))
    assert answer.below_floor.tolist() == [True, True, True, True, False]
    assert not answer.inside.any()


def test_the_floor_reaches_no_farther_than_the_class_does():
    answer = volume_state(service_class=ServiceClass.T, height_ft=np.array([900.0, 900.0]), distance_nm=np.array([25.0, 25.1]))
    assert answer.below_floor.tolist() == [True, False]


@pytest.mark.parametrize("letters", ["T", "L", "H", "VL", "VH", "DL", "DH"])
def test_below_the_transmitter_a_point_is_under_the_floor_and_not_inside(letters):
    answer = volume_state(service_class=ServiceClass(letters), height_ft=np.array([-1.0]), distance_nm=np.array([0.0]))
    assert not answer.inside[0] and answer.below_floor[0]


@pytest.mark.parametrize("letters", ["DL", "DH"])
def test_the_dme_curve_is_a_parabola_through_its_published_corner_and_marginal_under_it(letters):
    # a quarter of 12,900 ft gives half of 130 NM; whether the signal comes farther at that height is for the line of sight to say
    assert volume_range_nm(ServiceClass(letters), 3225.0) == pytest.approx(65.0)
    answer = volume_state(service_class=ServiceClass(letters), height_ft=np.full(3, 3225.0), distance_nm=np.array([64.9, 65.1, 130.1]))
    assert answer.inside.tolist() == [True, False, False]
    assert answer.below_floor.tolist() == [False, True, False]


@pytest.mark.parametrize(("letters", "range_nm"), [("locator", 15), ("MH", 25), ("NDB H", 50), ("HH", 75)])
@pytest.mark.parametrize("height_ft", [-500.0, 0.0, 300.0, 30000.0])
def test_an_ndb_reaches_equally_far_at_all_heights(letters, range_nm, height_ft):
    assert volume_range_nm(ServiceClass(letters), height_ft) == range_nm


def test_an_unknown_class_is_taken_as_the_smallest():
    assert smallest_class(ComponentKind.AZIMUTH) is ServiceClass.T
    assert smallest_class(ComponentKind.DISTANCE) is ServiceClass.T
    assert smallest_class(ComponentKind.BEARING) is ServiceClass.LOCATOR


def test_the_lowest_covered_height_is_the_floor_of_the_first_band_that_reaches():
    distance_nm = np.array([40.0, 41.0, 100.0, 130.0, 131.0])
    lowest_ft = lowest_covered_height_ft(ServiceClass.VH, distance_nm)
    assert lowest_ft[:4].tolist() == [1000.0, 5000.0, 14500.0, 18000.0]
    assert math.isnan(lowest_ft[4])
    assert greatest_range_nm(ServiceClass.VH) == 130.0


@pytest.mark.parametrize("service_class", list(ServiceClass))
def test_the_scalar_and_the_array_answer_agree(service_class):
    height_ft, distance_nm = (
        grid.ravel() for grid in np.meshgrid(np.arange(-1000.0, 62000.0, 250.0), np.arange(0.5, 140.0, 3.3), indexing="ij")
    )
    answer = volume_state(service_class=service_class, height_ft=height_ft, distance_nm=distance_nm)
    ranges_nm = np.array([volume_range_nm(service_class, height) or -1.0 for height in height_ft])
    assert (answer.inside == (distance_nm <= ranges_nm)).all()
    assert not (answer.inside & answer.below_floor).any()
