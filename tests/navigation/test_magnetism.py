"""Variation outside the happy path: dates, poles, heights, threads."""

from __future__ import annotations

import warnings
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest

from server.errors import InputProblem
from server.navigation import Position, decimal_year, variation, variations_deg

MID_ATLANTIC = Position(lat_deg=43.0, lon_deg=-36.0)


@pytest.mark.parametrize(
    ("day", "valid"),
    [
        (date(2024, 11, 12), False),
        (date(2024, 11, 13), True),
        (date(2024, 12, 10), True),
        (date(2029, 12, 31), True),
        (date(2030, 1, 1), False),
        (date(2031, 6, 1), False),
        (date(1990, 1, 1), False),
    ],
)
def test_a_day_outside_the_model_still_has_a_value_and_says_so(day, valid):
    found = variation(MID_ATLANTIC, day)
    assert found.model_valid is valid
    assert found.model == "WMM2025"
    assert -25.0 < found.deg < 0.0


def test_the_value_goes_on_smoothly_over_the_end_of_the_model():
    last, first = variation(MID_ATLANTIC, date(2029, 12, 31)), variation(MID_ATLANTIC, date(2030, 1, 1))
    assert abs(last.deg - first.deg) < 0.001


@pytest.mark.parametrize("lat_deg", [90.0, -90.0, -89.9999, 89.9999, -89.995])
def test_a_pole_has_a_value_and_a_flag(lat_deg):
    found = variation(Position(lat_deg=lat_deg, lon_deg=0.0), date(2026, 7, 1))
    assert np.isfinite(found.deg)
    assert found.weak_horizontal is (lat_deg > 0)  # the south magnetic pole is 2,800 km from the geographic one, the north one 400 km


def test_the_south_pole_is_not_taken_for_the_north_pole():
    near = variation(Position(lat_deg=-89.99, lon_deg=30.0), date(2026, 7, 1))
    assert variation(Position(lat_deg=-90.0, lon_deg=30.0), date(2026, 7, 1)).deg == pytest.approx(near.deg, abs=0.1)


def test_near_a_magnetic_pole_the_compass_is_flagged_and_nothing_is_printed(capsys):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = variation(Position(lat_deg=86.0, lon_deg=150.0), date(2026, 7, 1))
    assert found.weak_horizontal
    assert found.uncertainty_deg > 1.0
    assert capsys.readouterr() == ("", "")
    assert not variation(MID_ATLANTIC, date(2026, 7, 1)).weak_horizontal


@pytest.mark.parametrize(("lat_deg", "lon_deg"), [(40.0, -100.0), (48.0, -116.0)])
def test_the_uncertainty_is_a_third_of_a_degree_in_mid_latitudes(lat_deg, lon_deg):
    """Standard error 0.33 to 0.43 deg over the contiguous US (model's error model)."""
    assert 0.33 <= variation(Position(lat_deg=lat_deg, lon_deg=lon_deg), date(2026, 7, 1)).uncertainty_deg <= 0.43


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "altitude_m", "year", "expected_deg"),
    [
        # pygeomag 1.1.0, another implementation of the model, at four airfields
        (35.851258, -97.41609, 326, 2026.5, 2.957),
        (48.299528, -116.560139, 650, 2029.5, 13.315),
        (51.4775, -0.4614, 25, 2025.0, 0.798),
        (-33.9461, 151.1772, 6, 2026.5, 12.841),
    ],
)
def test_agrees_with_another_implementation_at_airfields(lat_deg, lon_deg, altitude_m, year, expected_deg):
    assert variations_deg([lat_deg], [lon_deg], decimal_year=year, altitude_m=altitude_m)[0] == pytest.approx(expected_deg, abs=6e-4)


def test_ten_thousand_feet_change_the_variation_by_a_hundredth_of_a_degree_at_most():
    place, day = Position(lat_deg=48.3, lon_deg=-116.56), date(2026, 7, 1)
    assert abs(variation(place, day, altitude_ft=10_000).deg - variation(place, day).deg) <= 0.0105


def test_swapped_latitude_and_longitude_give_quite_another_variation():
    assert abs(variation(Position(lat_deg=53, lon_deg=-5), date(2026, 7, 1)).deg) < 5
    with pytest.raises(InputProblem, match="swapped"):
        Position(lat_deg=-97.4, lon_deg=35.8)


def test_decimal_years_count_days_of_that_year_in_utc():
    assert decimal_year(date(2026, 1, 1)) == 2026.0
    assert decimal_year(datetime(2028, 7, 2, tzinfo=UTC)) == pytest.approx(2028.5, abs=1e-9)  # day 184 of 366
    assert decimal_year(datetime(2026, 1, 1, 1, 0, tzinfo=timezone(timedelta(hours=1)))) == 2026.0
    assert decimal_year(datetime(2026, 7, 2, 12, 0)) == pytest.approx(2026.5, abs=1e-9)


def test_a_local_evening_counts_by_its_utc_day():
    evening = datetime(2029, 12, 31, 20, 0, tzinfo=timezone(timedelta(hours=-6)))
    assert not variation(MID_ATLANTIC, evening).model_valid


def test_threads_do_not_disturb_each_other():
    places = [Position(lat_deg=lat, lon_deg=lon) for lat in range(-60, 61, 20) for lon in range(-150, 151, 50)]
    day = date(2026, 7, 1)
    expected = [variation(place, day).deg for place in places]
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(lambda place: variation(place, day).deg, places)) == expected
