"""Short items of handbooks and question banks: fuel, time to a beacon, altimetry, wind on a runway.

Sources: FAA-H-8083-25A (2008); the FAA's private and commercial pilot question banks and a civil authority's bank modelled on them, with
their answers as public copies give them; a European national PPL bank. Unless a line says otherwise, inputs and answers were read there.
"""

from __future__ import annotations

import numpy as np
import pytest

from server.errors import OutOfRange
from server.navigation import (
    FuelMeasure,
    FuelUnit,
    density_altitude_ft,
    minutes_to_station,
    pressure_altitude_ft,
    wind_correction,
)
from server.units import HECTOPASCALS_PER_INCH_OF_MERCURY, litres_from_us_gallons


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def test_agrees_with_a_civil_item_on_gallons_and_litres():
    """740 NM at 299 kt on 24.5 US gal/h: 60.6 US gal, 229.5 L. The copy's key, 299 L, is wrong; the answer is arithmetic."""
    gallons = 740 / 299 * 24.5
    assert gallons == pytest.approx(60.635, abs=0.001)
    assert litres_from_us_gallons(gallons) == pytest.approx(229.53, abs=0.01)


@pytest.mark.parametrize(("pounds", "gallons", "exact"), [(110, 18.4, 18.33), (90, 15, 15.0)])
def test_agrees_with_faa_items_on_draining_avgas_by_weight(pounds, gallons, exact):
    """6 lb to the US gallon. Both pounds become kilograms by one factor, 0.45359237, which is exact."""
    density_kg_per_l = 6 * 0.45359237 / litres_from_us_gallons(1)
    litres = FuelMeasure(unit=FuelUnit.KILOGRAM, density_kg_per_l=density_kg_per_l).litres(pounds * 0.45359237)
    assert FuelMeasure(unit=FuelUnit.US_GALLON).amount(litres) == pytest.approx(gallons, abs=0.1)
    assert FuelMeasure(unit=FuelUnit.US_GALLON).amount(litres) == pytest.approx(exact, abs=0.005)


# Minutes between bearings, degrees of change, speed [kt], flow [US gal/h]; minutes to the beacon, NM, US gal. None where not asked.
STATION = [
    (75 / 60, 10, 120, None, 7.5, 15, None),  # FAA-H-8083-25A fig. 15-33
    (6, 5, None, 12, 72, None, 14.4),  # CPL bank
    (7.5, 15, 85, 9.6, 30, 42.5, 4.80),  # commercial bank: inputs and options read, answer computed
    (2, 5, 145, None, 24, 58, None),  # CPL bank: 265 to 260 relative
    (1.5, 5, 115, None, 18, 34.5, None),  # CPL bank: 090 to 095
    (5, 5, 115, None, 60, 115, None),  # commercial bank: inputs read, answer computed
    (7, -10, 120, None, 42, 84, None),  # commercial bank: radial 360 at 1237, 350 at 1244; answer computed
]


@pytest.mark.parametrize(("between_min", "change_deg", "speed_kt", "gal_per_h", "minutes", "distance_nm", "gallons"), STATION)
def test_agrees_with_items_on_time_and_distance_to_a_station(between_min, change_deg, speed_kt, gal_per_h, minutes, distance_nm, gallons):
    told_min = minutes_to_station(between_min, change_deg)
    assert told_min == pytest.approx(minutes, abs=0.01)
    assert distance_nm is None or speed_kt * told_min / 60 == pytest.approx(distance_nm, abs=0.01)
    assert gallons is None or gal_per_h * told_min / 60 == pytest.approx(gallons, abs=0.01)


def test_a_bearing_that_does_not_change_tells_no_distance():
    with pytest.raises(OutOfRange, match=r"Fly across the bearing until it has changed by 10 degrees") as refusal:
        minutes_to_station(5, 0)
    assert refusal.value.code == "bearing-unchanged"
    assert np.isnan(minutes_to_station(5, np.array([0.0, 10.0]))[0])


@pytest.mark.parametrize(
    ("pressure_ft", "from_f", "to_f", "printed_ft"),
    [(5_000, 25, 50, 1_650), (3_000, 30, 50, 1_300)],  # FAA private bank, read off a chart
)
def test_agrees_with_faa_items_on_the_change_of_density_altitude(pressure_ft, from_f, to_f, printed_ft):
    change_ft = density_altitude_ft(pressure_ft, celsius(to_f)) - density_altitude_ft(pressure_ft, celsius(from_f))
    assert change_ft == pytest.approx(printed_ft, abs=50)


def test_agrees_with_an_faa_item_on_a_new_altimeter_setting():
    """From 29.15 to 29.85 inHg the altimeter shows 700 ft more, by the rule of 1,000 ft an inch, which is 7 % long."""
    lower, upper = (pressure_altitude_ft(0, inches * HECTOPASCALS_PER_INCH_OF_MERCURY) for inches in (29.15, 29.85))
    assert lower - upper == pytest.approx(700, rel=0.08)


def test_agrees_with_european_items_on_pressure_and_density_altitude():
    """The bank counts 30 ft a hectopascal, which is 27.4 here: at most 12 ft over the 3 hPa it asks for."""
    assert pressure_altitude_ft(1380, 1010) == pytest.approx(1470, abs=12)
    reads_1300 = pressure_altitude_ft(1300, 1011)
    assert density_altitude_ft(reads_1300, 15 - 1.98 * reads_1300 / 1000) == pytest.approx(1360, abs=12)


@pytest.mark.parametrize(("pressure_ft", "from_c", "to_c", "printed_ft"), [(0, 15, 27, 1440), (3_000, 0, 10, 1200)])
def test_agrees_with_european_items_on_120_feet_a_degree(pressure_ft, from_c, to_c, printed_ft):
    change_ft = density_altitude_ft(pressure_ft, to_c) - density_altitude_ft(pressure_ft, from_c)
    assert change_ft == pytest.approx(printed_ft, rel=0.05)  # a rule of thumb


@pytest.mark.parametrize(
    ("runway_deg", "wind_from_deg", "wind_kt", "head_kt", "cross_kt"),
    [
        (180, 220, 30, 23, 19),  # FAA private and European banks
        (220, 280, 15, 7.5, 13),  # European bank, here and below
        (40, 130, 20, 0, 20),
        (330, 30, 10, 5, 8),
    ],
)
def test_agrees_with_items_on_wind_along_and_across_a_runway(runway_deg, wind_from_deg, wind_kt, head_kt, cross_kt):
    answer = wind_correction(track_true_deg=runway_deg, true_airspeed_kt=90, wind_from_true_deg=wind_from_deg, wind_kt=wind_kt)
    assert answer.headwind_kt == pytest.approx(head_kt, abs=0.5)
    assert abs(answer.crosswind_kt) == pytest.approx(cross_kt, abs=0.7)  # 8.66 is printed as 8


@pytest.mark.parametrize(
    ("angle_deg", "limit_kt", "printed_kt"),
    [(45, 25, 35), (30, 12, 24), (30, 10, 20), (40, 10, 15)],  # FAA private and European banks: the strongest wind at that angle
)
def test_agrees_with_items_on_the_strongest_wind_a_limit_allows(angle_deg, limit_kt, printed_kt):
    answer = wind_correction(track_true_deg=0, true_airspeed_kt=90, wind_from_true_deg=angle_deg, wind_kt=printed_kt)
    assert answer.crosswind_kt == pytest.approx(limit_kt, abs=0.5)


def test_agrees_with_a_european_item_on_choosing_a_runway():
    """South wind 20 kt, at most 13 kt across; of 06, 14, 24 and 32 only 14 will do: 12.9 kt across, the wind ahead."""
    allowed = []
    for runway_deg in (60, 140, 240, 320):
        answer = wind_correction(track_true_deg=runway_deg, true_airspeed_kt=90, wind_from_true_deg=180, wind_kt=20)
        if abs(answer.crosswind_kt) <= 13 and answer.headwind_kt > 0:
            allowed.append(runway_deg)
    assert allowed == [140]
