"""Radio horizon, slant range and the cone over a station."""

from __future__ import annotations

import pytest

from server.navigation import cone_radius_nm, ground_range_nm, slant_range_nm
from server.radio.horizon import radio_horizon_nm
from tests.reference.tables import table


@pytest.mark.parametrize("row", table("radio_horizon.csv"), ids=lambda row: row["height_ft"])
def test_agrees_with_the_four_thirds_earth(row):
    computed_nm = radio_horizon_nm(float(row["height_ft"]))
    assert computed_nm == pytest.approx(float(row["four_thirds_nm"]), abs=0.05)
    assert computed_nm == pytest.approx(float(row["rule_nm"]), abs=0.25)


@pytest.mark.parametrize(("low_ft", "high_ft", "rule_nm"), [(30, 1000, 45.6), (100, 3000, 79.7), (500, 5500, 118.7), (1000, 9500, 158.8)])
def test_agrees_with_the_textbook_rule_for_two_antennas(low_ft, high_ft, rule_nm):
    """1.23 (sqrt h1 + sqrt h2); the rule's coefficient is 0.1 % above 4/3 earth."""
    assert radio_horizon_nm(low_ft, high_ft) == pytest.approx(rule_nm, abs=0.25)


def test_agrees_with_the_geometric_horizon_coefficient():
    """1.06 sqrt(h ft) NM without refraction (common practice)."""
    assert radio_horizon_nm(10_000, k=1.0) == pytest.approx(106.4, abs=0.1)


@pytest.mark.parametrize("row", table("slant_range.csv"), ids=lambda row: f"{row['ground_nm']}-{row['height_ft']}")
def test_agrees_with_the_slant_range_table(row):
    slant_nm = slant_range_nm(float(row["ground_nm"]), float(row["height_ft"]))
    assert slant_nm == pytest.approx(float(row["slant_nm"]), abs=0.002)
    assert ground_range_nm(slant_nm, float(row["height_ft"])) == pytest.approx(float(row["ground_nm"]), abs=1e-6)


def test_slant_error_is_negligible_at_one_mile_for_each_thousand_feet():
    """FAA instrument examination item: negligible at 1 NM or more for each 1,000 ft; that is 1.35 %."""
    for thousands in (1, 5, 10):
        assert slant_range_nm(thousands, thousands * 1000) / thousands - 1 == pytest.approx(0.0135, abs=1e-4)


@pytest.mark.parametrize(("height_ft", "radius_nm"), [(1000, 0.196), (3000, 0.588), (5000, 0.981), (8000, 1.569), (10_000, 1.961)])
def test_agrees_with_the_cone_of_icao_doc_8168(height_ft, radius_nm):
    """Half-angle 50 deg for a VOR (Doc 8168 Vol II, from memory): r = h tan 50."""
    assert cone_radius_nm(height_ft) == pytest.approx(radius_nm, abs=0.002)
