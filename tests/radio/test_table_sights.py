"""Tables asked as exact rays are: same answers, for points and for whole surveys of a leg."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position
from server.radio import survey_leg
from server.radio.crest_table import build_table
from server.radio.sight import lowest_altitudes, place_antenna
from server.radio.sights import TableSights
from tests.builders import flat_ground, ridge_ground
from tests.radio.crest_builders import places
from tests.radio.radio_builders import DAY, MAST, a_beacon, a_path

RIDGE = ridge_ground(0.0, 1200.0, ridge_lon_deg=-35.5)
FIELDS = ("lowest_altitude_m", "unknown_from_m", "ridge_lat_deg", "ridge_lon_deg", "ridge_elevation_m", "ridge_distance_m")


class Shelf:
    """Makes tables when asked and remembers them."""

    def __init__(self):
        self.tables = {}

    def find(self, antenna, ground, effective_earth_factor):
        key = (antenna, ground.fingerprint, effective_earth_factor)
        if key not in self.tables:
            self.tables[key] = build_table(antenna=antenna, ground=ground, effective_earth_factor=effective_earth_factor, rays=3_600)
        return self.tables[key]


def antenna_on(ground):
    antenna = place_antenna(position=MAST, published_elevation_ft=0.0, antenna_height_ft=100.0, ground=ground)
    assert antenna is not None
    return antenna


def asked(bearing_true_deg, distance_m):
    lat_deg, lon_deg = places(MAST, np.asarray(bearing_true_deg, float), np.asarray(distance_m, float))
    return {"antenna": antenna_on(RIDGE), "lat_deg": lat_deg, "lon_deg": lon_deg, "ground": RIDGE}


def test_altitudes_unknown_ground_and_ridges_are_those_of_exact_rays():
    points = asked([90.0, 80.0, 100.0, 270.0, 200.0, 90.0], [60_000.0, 90_000.0, 30_000.0, 70_000.0, 150_000.0, 0.0])
    from_table = TableSights(Shelf().find).lowest_altitudes(**points)
    exact = lowest_altitudes(**points)
    assert np.isfinite(exact.ridge_distance_m).tolist() == [True, True, False, False, False, False]
    np.testing.assert_allclose(from_table.lowest_altitude_m, exact.lowest_altitude_m, atol=1.0)
    for name in FIELDS[2:5]:
        np.testing.assert_allclose(getattr(from_table, name), getattr(exact, name), atol=2e-3, rtol=1e-3)
    np.testing.assert_allclose(from_table.ridge_distance_m, exact.ridge_distance_m, atol=50.0)
    np.testing.assert_array_equal(
        from_table.unknown_from_m <= [60e3, 90e3, 30e3, 70e3, 150e3, 0.0], exact.unknown_from_m <= [60e3, 90e3, 30e3, 70e3, 150e3, 0.0]
    )


def test_beyond_the_reach_of_the_table_exact_rays_answer():
    points = asked([90.0, 200.0, 190.0], [60_000.0, 300_000.0, 2_000_000.0])
    from_table, exact = TableSights(Shelf().find).lowest_altitudes(**points), lowest_altitudes(**points)
    for name in FIELDS:
        np.testing.assert_array_equal(getattr(from_table, name)[1:], getattr(exact, name)[1:])


def test_without_a_table_exact_rays_answer():
    points = asked([90.0, 200.0], [60_000.0, 100_000.0])
    from_table = TableSights(lambda *_: None).lowest_altitudes(**points)
    for name in FIELDS:
        np.testing.assert_array_equal(getattr(from_table, name), getattr(lowest_altitudes(**points), name))


@pytest.mark.parametrize("altitude_ft", [2_000.0, 6_000.0])
@pytest.mark.parametrize("ground", [RIDGE, flat_ground(100.0)], ids=["ridge", "plain"])
def test_a_survey_from_tables_is_that_from_exact_rays(ground, altitude_ft):
    path = a_path(Position(lat_deg=42.6, lon_deg=-36.4), Position(lat_deg=43.6, lon_deg=-34.9), altitude_ft)
    beacon = a_beacon()
    about = {"beacon": beacon, "component": beacon.components[0].kind, "path": path, "ground": ground, "on": DAY}
    about |= {"estimated_declination_deg": None}
    exact, from_table = survey_leg(**about), survey_leg(**about, see=TableSights(Shelf().find).lowest_altitudes)
    assert [stretch.state for stretch in exact.stretches] == [stretch.state for stretch in from_table.stretches]
    assert [stretch.to_nm for stretch in exact.stretches] == pytest.approx([s.to_nm for s in from_table.stretches], abs=0.1)
    assert len(exact.stretches) > 1 or ground is not RIDGE
