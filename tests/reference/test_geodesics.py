"""Geodesics against Karney's published test set, and against VFR-sized legs computed with another library."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position, destination, difference_deg, inverse, points_along, track
from server.units import nautical_miles_from_metres
from tests.reference.tables import table


@pytest.mark.parametrize("row", table("geodesics_karney.csv"), ids=lambda row: row["row"])
def test_agrees_with_karney_geodtest(row):
    a = Position(lat_deg=float(row["lat1_deg"]), lon_deg=0.0)
    b = Position(lat_deg=float(row["lat2_deg"]), lon_deg=float(row["lon2_deg"]))
    line = inverse(a, b)
    assert line.distance_m == pytest.approx(float(row["s12_m"]), abs=1e-6)
    assert line.initial_true_deg == pytest.approx(float(row["azi1_deg"]), abs=1e-8)
    assert line.final_true_deg == pytest.approx(float(row["azi2_deg"]), abs=1e-8)
    reached = destination(a, bearing_true_deg=float(row["azi1_deg"]), distance_nm=nautical_miles_from_metres(float(row["s12_m"])))
    assert (reached.lat_deg, reached.lon_deg) == pytest.approx((b.lat_deg, b.lon_deg), abs=1e-11)


@pytest.mark.parametrize("row", table("geodesics_vfr_scale.csv"), ids=lambda row: row["leg"])
def test_agrees_with_geographiclib_on_vfr_legs(row):
    a = Position(lat_deg=float(row["lat1_deg"]), lon_deg=float(row["lon1_deg"]))
    b = Position(lat_deg=float(row["lat2_deg"]), lon_deg=float(row["lon2_deg"]))
    leg = track(a, b)
    assert inverse(a, b).distance_m == pytest.approx(float(row["s12_m"]), abs=1e-3)
    assert leg.distance_nm == pytest.approx(float(row["distance_nm"]), abs=1e-5)
    for computed, column in (
        (leg.initial_true_deg, "initial_deg"),
        (leg.middle_true_deg, "middle_deg"),
        (leg.final_true_deg, "final_deg"),
    ):
        assert abs(difference_deg(computed, float(row[column]))) <= 6e-4


def test_agrees_with_the_length_of_a_minute_of_latitude():
    """1 deg of latitude is 59.705 NM at the equator and 60.012 NM at 45 N, 1 deg of longitude at the equator 60.108 NM (WGS 84)."""
    assert track(Position(lat_deg=0, lon_deg=0), Position(lat_deg=1, lon_deg=0)).distance_nm == pytest.approx(59.705, abs=1e-3)
    assert track(Position(lat_deg=45, lon_deg=6), Position(lat_deg=46, lon_deg=6)).distance_nm == pytest.approx(60.012, abs=1e-3)
    assert track(Position(lat_deg=0, lon_deg=0), Position(lat_deg=0, lon_deg=1)).distance_nm == pytest.approx(60.108, abs=1e-3)


def test_points_along_agree_with_geographiclib():
    """An independent implementation of the same algorithms, on a leg over the antimeridian."""
    geodesic = pytest.importorskip("geographiclib.geodesic").Geodesic.WGS84
    line = geodesic.InverseLine(51.0, 179.5, 52.0, -179.0)
    distances_nm = np.array([-5.0, 0.0, 12.3, 41.0, 82.0, 100.0])
    lat_deg, lon_deg = points_along(Position(lat_deg=51, lon_deg=179.5), Position(lat_deg=52, lon_deg=-179), distances_nm)
    for distance_nm, lat, lon in zip(distances_nm, lat_deg, lon_deg, strict=True):
        expected = line.Position(distance_nm * 1852.0)
        assert (lat, lon) == pytest.approx((expected["lat2"], expected["lon2"]), abs=1e-10)
