"""Free space against the figures of ITU-R P.525 and of ICAO Annex 10, as collected in reference/radio_navigation.md 2.2 and 3.2."""

from __future__ import annotations

import math

import pytest

from server.radio.propagation import (
    density_from_field_dbw_m2,
    field_dbuv_m,
    free_space_loss_db,
    power_density_dbw_m2,
    wavelength_m,
)
from tests.reference.tables import table

FIELD_90_DBUV_M = 20.0 * math.log10(90.0)


@pytest.mark.parametrize("row", table("free_space_loss.csv"), ids=lambda row: f"{row['frequency_mhz']} MHz {row['distance_km']} km")
def test_agrees_with_p525_free_space_loss(row):
    loss_db = free_space_loss_db(distance_m=float(row["distance_km"]) * 1000.0, frequency_mhz=float(row["frequency_mhz"]))
    assert loss_db == pytest.approx(float(row["exact_db"]), abs=0.001)
    assert loss_db == pytest.approx(float(row["rounded_db"]), abs=0.06)


def test_agrees_with_radio_navigation_2_2_ninety_microvolts():
    """90 microvolt/m: 39.08 dB(uV/m), -106.68 dBW/m2; computed beforehand, tolerance 0.01."""
    assert pytest.approx(39.08, abs=0.01) == FIELD_90_DBUV_M
    assert density_from_field_dbw_m2(39.08) == pytest.approx(-106.68, abs=0.01)
    assert field_dbuv_m(-106.68) == pytest.approx(39.08, abs=0.01)


@pytest.mark.parametrize(("frequency_mhz", "received_dbw"), [(108.0, -108.80), (113.0, -109.20), (117.95, -109.57)])
def test_agrees_with_radio_navigation_2_2_power_received_from_ninety_microvolts(frequency_mhz, received_dbw):
    """An isotropic antenna takes the power of wavelength squared / 4 pi; computed beforehand, tolerance 0.01."""
    area_db = 10.0 * math.log10(wavelength_m(frequency_mhz) ** 2 / (4.0 * math.pi))
    assert density_from_field_dbw_m2(FIELD_90_DBUV_M) + area_db == pytest.approx(received_dbw, abs=0.01)


@pytest.mark.parametrize(("frequency_mhz", "metres"), [(108.0, 2.7759), (113.0, 2.6530), (117.95, 2.5417)])
def test_agrees_with_radio_navigation_2_2_wavelength(frequency_mhz, metres):
    assert wavelength_m(frequency_mhz) == pytest.approx(metres, abs=0.0001)


@pytest.mark.parametrize(
    ("eirp_w", "reach_km", "loss_db"),
    [(25.0, 304.3, 123.17), (50.0, 430.3, 126.18), (100.0, 608.6, 129.19), (200.0, 860.7, 132.21)],
)
def test_agrees_with_radio_navigation_3_2_reach_of_ninety_microvolts(eirp_w, reach_km, loss_db):
    """E = sqrt(30 EIRP) / d, computed beforehand. Tolerance: 0.05 km in the distance is 0.0015 dB at most; the losses carry 0.01 dB."""
    assert field_dbuv_m(power_density_dbw_m2(eirp_w=eirp_w, distance_m=reach_km * 1000.0)) == pytest.approx(FIELD_90_DBUV_M, abs=0.0015)
    assert free_space_loss_db(distance_m=reach_km * 1000.0, frequency_mhz=113.0) == pytest.approx(loss_db, abs=0.01)


def test_agrees_with_annex_10_volume_5_distance_ratio_of_14_db():
    """Attachment A: 14 dB between two free-space losses is a ratio of distances of 5.01."""
    near_db, far_db = (free_space_loss_db(distance_m=distance_m, frequency_mhz=113.0) for distance_m in (1000.0, 5010.0))
    assert far_db - near_db == pytest.approx(14.0, abs=0.01)
