"""The computed minimum of an airway: ground and sight against a published altitude, and ranks against a worked example."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position, destination
from server.terrain import Terrain
from server.terrain.ground import Mosaic
from server.terrain.lattice import Lattice
from server.units import feet_from_metres
from tests.validation.airways import run
from tests.validation.computed_minimum import highest_beside_ft, rank_correlation

STEP = 1.0 / 1200.0


def test_rank_correlation_agrees_with_a_worked_example():
    # Ten pairs of IQ and hours of television a week, rho = -29/165 = -0.1758 (the usual textbook example, from memory)
    iq = [106, 100, 86, 101, 99, 103, 97, 113, 112, 110]
    hours = [7, 27, 2, 50, 28, 29, 20, 12, 6, 17]
    assert rank_correlation(iq, hours) == pytest.approx(-29.0 / 165.0, abs=1e-9)


def test_equal_values_share_the_mean_of_their_ranks():
    # ranks 1, 2.5, 2.5, 4 against 1, 2, 3, 4: 4.5 / sqrt(4.5 x 5), by hand
    assert rank_correlation([10, 20, 20, 30], [1, 2, 3, 4]) == pytest.approx(4.5 / np.sqrt(4.5 * 5.0))
    assert rank_correlation([1, 1, 1], [1, 2, 3]) is None and rank_correlation([1, 2], [1, 2]) is None


def test_the_highest_post_is_looked_for_beside_the_segment_and_not_beyond_its_ends():
    start = Position(lat_deg=43.5, lon_deg=-36.6)
    end = destination(start, bearing_true_deg=90.0, distance_nm=10.0)
    for aside, along, expected_m in ((3.9, 5.0, 2_000.0), (4.1, 5.0, 100.0), (0.0, 12.0, 100.0)):
        posts = np.full((1_201, 1_201), 100, dtype=np.int16)
        place = destination(destination(start, bearing_true_deg=90.0, distance_nm=along), bearing_true_deg=0.0, distance_nm=aside)
        posts[round((44.0 - place.lat_deg) / STEP), round((place.lon_deg + 37.0) / STEP)] = 2_000
        lattice = Lattice(north_lat_deg=44.0, west_lon_deg=-37.0, step_lat_deg=STEP, step_lon_deg=STEP, rows=1_201, columns=1_201)
        ground = Terrain(fingerprint="x", mosaics=[Mosaic(lattice=lattice, posts=posts)])
        assert highest_beside_ft(start, end, ground) == pytest.approx(feet_from_metres(expected_m)), (aside, along)


def test_over_the_sierra_no_computed_minimum_lies_above_the_published_one(open_data):
    import json

    figures = json.loads(run(open_data / "sierra_nevada", lambda message: None)[-1])
    assert figures["not_received"] == 0
    assert figures["computed_segments"] > 20 and figures["computed_above_mea"] == 0
    assert figures["rank_correlation"] > 0.9
