"""Diffraction against the validation sheet of ITU-R Study Group 3 and the figures of reference/radio_navigation.md 3.3 and 3.4."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from server.radio.diffraction import LAND, Polarisation, delta_bullington, knife_edge_loss_db, knife_edge_parameter
from server.radio.propagation import SPEED_OF_LIGHT_M_S, fresnel_radius_m
from tests.reference.tables import table

P526_EARTH_M = 8_500_000.0
SHEET_LIGHT_M_S = 3.0e8
HORIZONTAL_ON_LAND = {"polarisation": Polarisation.HORIZONTAL, "effective_earth_radius_m": P526_EARTH_M, "constants": LAND}


@cache
def itu_profile(number: str) -> tuple[np.ndarray, np.ndarray]:
    distance_m, elevation_m = [], []
    for row in table("itu_delta_bullington_profiles.csv"):
        if row["profile"] == number:
            heights_m = [float(height_m) for height_m in row["heights_m"].split()]
            distance_m += [float(row["from_km"]) * 1000.0 + 50.0 * k for k in range(len(heights_m))]
            elevation_m += heights_m
    return np.array(distance_m), np.array(elevation_m)


@pytest.mark.parametrize(("number", "points", "length_m"), [("1", 1663, 83080), ("2", 2648, 132315), ("3", 349, 17397), ("4", 812, 40511)])
def test_itu_profiles_are_whole(number, points, length_m):
    distance_m, elevation_m = itu_profile(number)
    assert distance_m.size == elevation_m.size == points
    assert distance_m[-1] == pytest.approx(length_m, abs=0.5)
    assert (np.diff(distance_m) > 0.0).all()


@pytest.mark.parametrize(
    "row", table("itu_delta_bullington.csv"), ids=lambda row: f"path {row['profile']}, {row['transmitter_m']} m, {row['frequency_mhz']} MHz"
)
def test_agrees_with_itu_delta_bullington_sheet(row):
    """All 20 rows. The sheet rounds the speed of light: its wavelength is met by a frequency lower in the same ratio."""
    distance_m, elevation_m = itu_profile(row["profile"])
    loss = delta_bullington(
        distance_m=distance_m,
        elevation_m=elevation_m,
        transmitter_m=elevation_m[0] + float(row["transmitter_m"]),
        receiver_m=elevation_m[-1] + float(row["receiver_m"]),
        frequency_mhz=float(row["frequency_mhz"]) * SPEED_OF_LIGHT_M_S / SHEET_LIGHT_M_S,
        **HORIZONTAL_ON_LAND,
    )
    assert loss.transmitter_effective_height_m == pytest.approx(float(row["transmitter_effective_m"]), abs=1e-6)
    assert loss.receiver_effective_height_m == pytest.approx(float(row["receiver_effective_m"]), abs=1e-6)
    assert loss.bullington_db == pytest.approx(float(row["bullington_db"]), abs=1e-6)
    assert loss.smooth_bullington_db == pytest.approx(float(row["smooth_db"]), abs=1e-4)
    assert loss.spherical_db == pytest.approx(float(row["spherical_db"]), abs=1e-4)
    assert loss.total_db == pytest.approx(float(row["total_db"]), abs=1e-4)


@pytest.mark.parametrize("row", table("diffraction_small_profiles.csv"), ids=lambda row: row["case"])
def test_agrees_with_radio_navigation_3_4_small_profiles(row):
    elevation_m = np.array([float(height_m) for height_m in row["ground_m"].split()])
    loss = delta_bullington(
        distance_m=np.arange(elevation_m.size) * float(row["step_km"]) * 1000.0,
        elevation_m=elevation_m,
        transmitter_m=elevation_m[0] + float(row["transmitter_m"]),
        receiver_m=elevation_m[-1] + float(row["receiver_m"]),
        frequency_mhz=113.0,
        **HORIZONTAL_ON_LAND,
    )
    assert loss.bullington_db == pytest.approx(float(row["bullington_db"]), abs=0.02)
    assert loss.smooth_bullington_db == pytest.approx(float(row["smooth_db"]), abs=0.02)
    assert loss.spherical_db == pytest.approx(float(row["spherical_db"]), abs=0.02)
    assert loss.total_db == pytest.approx(float(row["total_db"]), abs=0.02)


@pytest.mark.parametrize("row", table("knife_edge.csv"), ids=lambda row: f"v {row['v']}")
def test_agrees_with_p526_knife_edge_table(row):
    v = float(row["v"])
    loss_db = knife_edge_loss_db(math.nextafter(v, math.inf))
    assert loss_db == pytest.approx(float(row["approximation_db"]), abs=0.002)
    assert loss_db == pytest.approx(float(row["exact_db"]), abs=0.13)


def test_below_its_range_the_knife_edge_costs_nothing():
    """The formula itself would give -1.36 dB at -1 and -6.02 dB at -2; exact are -1.00 and +0.74 (reference/radio_navigation.md 3.3)."""
    assert knife_edge_loss_db(np.array([-0.78, -1.0, -2.0, -50.0])).tolist() == [0.0, 0.0, 0.0, 0.0]


@pytest.mark.parametrize("row", table("single_edges.csv"), ids=lambda row: f"{row['height_m']} m, {row['to_one_end_km']} km")
def test_agrees_with_radio_navigation_3_3_single_edges(row):
    v = knife_edge_parameter(
        height_m=float(row["height_m"]),
        to_one_end_m=float(row["to_one_end_km"]) * 1000.0,
        to_other_end_m=float(row["to_other_end_km"]) * 1000.0,
        frequency_mhz=113.0,
    )
    assert v == pytest.approx(float(row["v"]), abs=0.0001)
    assert knife_edge_loss_db(v) == pytest.approx(float(row["loss_db"]), abs=0.005)


def test_agrees_with_radio_navigation_3_3_bullington_of_two_edges():
    """12 km, 300 m and 28 km, 350 m of 40 km, ends at 100 and 150 m, heights with the earth's bulge in them: 32.615 dB. Tolerance 0.01."""
    loss = delta_bullington(
        distance_m=np.array([0.0, 12_000.0, 28_000.0, 40_000.0]),
        elevation_m=np.array([0.0, 300.0, 350.0, 0.0]),
        transmitter_m=100.0,
        receiver_m=150.0,
        frequency_mhz=113.0,
        polarisation=Polarisation.HORIZONTAL,
        effective_earth_radius_m=1e15,  # flat: the bulge is in the heights already
        constants=LAND,
    )
    assert loss.bullington_db == pytest.approx(32.615, abs=0.01)


@pytest.mark.parametrize("row", table("fresnel_radius.csv"), ids=lambda row: f"{row['to_one_end_km']} and {row['to_other_end_km']} km")
def test_agrees_with_p526_fresnel_radius(row):
    radius_m = fresnel_radius_m(
        to_one_end_m=float(row["to_one_end_km"]) * 1000.0, to_other_end_m=float(row["to_other_end_km"]) * 1000.0, frequency_mhz=113.0
    )
    assert radius_m == pytest.approx(float(row["exact_m"]), abs=0.01)
    assert radius_m == pytest.approx(float(row["practical_m"]), rel=0.005)


@pytest.mark.parametrize(("one_km", "other_km", "radius_m"), [(5, 5, 27.50), (10, 30, 47.63), (50, 50, 86.96), (1, 49, 17.22)])
def test_agrees_with_p526_fresnel_radius_at_1000_mhz(one_km, other_km, radius_m):
    """Same source, practical units: 0.5 % for the rounded 550."""
    exact_m = fresnel_radius_m(to_one_end_m=one_km * 1000.0, to_other_end_m=other_km * 1000.0, frequency_mhz=1000.0)
    assert exact_m == pytest.approx(radius_m, rel=0.005)
