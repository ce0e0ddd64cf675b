"""Many points on bearings from one start."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position, destination, destinations
from server.units import nautical_miles_from_metres


def test_many_destinations_are_those_of_each():
    start = Position(lat_deg=43.0, lon_deg=179.5)
    bearings_deg, distances_m = np.array([0.0, 90.0, 261.5]), np.array([1_000.0, 100_000.0, 250_000.0])
    lat_deg, lon_deg = destinations(start, bearing_true_deg=bearings_deg, distance_m=distances_m)
    for k in range(3):
        one = destination(start, bearing_true_deg=bearings_deg[k], distance_nm=nautical_miles_from_metres(distances_m[k]))
        assert lat_deg[k] == pytest.approx(one.lat_deg, abs=1e-12)
        assert lon_deg[k] == pytest.approx(one.lon_deg, abs=1e-12)


def test_a_destination_without_distance_or_bearing_is_not_a_number():
    lat_deg, lon_deg = destinations(
        Position(lat_deg=43.0, lon_deg=-36.0), bearing_true_deg=np.array([np.nan, 10.0]), distance_m=np.array([1_000.0, np.nan])
    )
    assert np.isnan(lat_deg).all() and np.isnan(lon_deg).all()
