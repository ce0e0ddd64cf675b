"""Rounding for people. Half-up and 360 for north are common practice of the trade (DESIGN.md, decision 11)."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from server.navigation import Alignment, AlignmentKind, FuelMeasure, FuelUnit, Position
from server.planning.log import LegWind
from server.radio.beacon import BeaconKind
from server.sheets import figures
from tests.sheets.sheet_builders import a_beacon


@pytest.mark.parametrize(
    ("direction_deg", "printed"),
    [
        (0.0, "360"), (0.49, "360"), (0.5, "001"), (1.5, "002"), (2.5, "003"), (92.5, "093"), (92.49, "092"), (92.49999999999999, "093"),
        (359.49, "359"), (359.5, "360"), (359.999, "360"), (360.0, "360"), (360.5, "001"), (180.0, "180"), (-1e-17, "360"),
    ],
)  # fmt: skip
def test_courses_have_three_digits_round_half_up_and_call_north_360(direction_deg, printed):
    assert figures.course(direction_deg) == printed


@pytest.mark.parametrize(("nautical_miles", "printed"), [(0.05, "0.1"), (0.04, "0.0"), (2.25, "2.3"), (37.149, "37.1"), (1000.0, "1000.0")])
def test_distances_are_rounded_half_up_to_a_tenth(nautical_miles, printed):
    assert figures.distance(nautical_miles) == printed


@pytest.mark.parametrize(
    ("minutes", "printed"), [(35.0, "0:35"), (34.5, "0:35"), (59.5, "1:00"), (65.2, "1:05"), (0.0, "0:00"), (1500.0, "25:00")]
)
def test_times_are_whole_minutes_and_carry_into_the_hour(minutes, printed):
    assert figures.duration(minutes) == printed


def test_times_in_a_sentence_name_their_units():
    assert figures.duration_in_words(35.4) == "35 min"
    assert figures.duration_in_words(64.5) == "1 h 05 min"


def test_utc_carries_its_letter_and_the_day_rolls_over_with_the_rounding():
    late = datetime(2026, 12, 31, 23, 59, 40, tzinfo=UTC)
    assert (figures.clock_utc(late), figures.day_utc(late)) == ("00:00Z", "1 Jan 2027")


def test_local_time_carries_the_letters_of_the_airfields_zone_on_that_day():
    # Denver keeps daylight time (UTC-6) in July, Phoenix stays at UTC-7 all year: IANA time zone database.
    moment = datetime(2026, 7, 1, 19, 0, tzinfo=UTC)
    assert figures.clock_local(moment, time_zone="America/Denver") == "13:00 MDT"
    assert figures.clock_local(moment, time_zone="America/Phoenix") == "12:00 MST"


@pytest.mark.parametrize("time_zone", ["", "Nowhere/Land", "../../etc/passwd", "/etc/passwd", "\x00"])
def test_an_unknown_time_zone_gives_no_local_time(time_zone):
    assert figures.clock_local(datetime(2026, 7, 1, tzinfo=UTC), time_zone=time_zone) == figures.MISSING


@pytest.mark.parametrize(
    ("feet", "printed"), [(8500.0, "8,500 ft"), (8504.9, "8,500 ft"), (8505.0, "8,510 ft"), (0.0, "0 ft"), (-1200.0, "-1,200 ft")]
)
def test_altitudes_are_written_to_ten_feet(feet, printed):
    assert figures.altitude(feet) == printed


@pytest.mark.parametrize(("feet", "printed"), [(14701.0, "14,800 ft"), (14800.0, "14,800 ft"), (14800.4, "14,900 ft")])
def test_an_altitude_that_must_be_reached_is_never_rounded_down(feet, printed):
    assert figures.altitude_at_least(feet) == printed


@pytest.mark.parametrize(("east_deg", "printed"), [(-7.2, "7° W"), (7.5, "8° E"), (-0.4, "0°"), (0.0, "0°"), (-12.5, "13° W")])
def test_variation_says_east_or_west_and_never_a_bare_sign(east_deg, printed):
    assert figures.variation(east_deg) == printed


def test_alignment_zero_is_a_value_and_unknown_is_not_zero():
    assert figures.alignment(Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=0.0, year=1965)) == "0°, 1965"
    assert figures.alignment(Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0)) == "true north"
    assert figures.alignment(Alignment(kind=AlignmentKind.UNKNOWN)) == "not known"
    assert figures.alignment(Alignment(kind=AlignmentKind.GRID, declination_deg=12.0)) == "grid north, 12° E"


@pytest.mark.parametrize(("right_deg", "printed"), [(5.4, "5° RIGHT"), (-5.5, "6° LEFT"), (0.3, "0°"), (-0.3, "0°")])
def test_wind_correction_is_told_in_words(right_deg, printed):
    assert figures.correction(right_deg) == printed


def test_wind_says_true_or_magnetic_and_calm():
    wind = LegWind(from_true_deg=310.0, from_magnetic_deg=317.0, speed_kt=14.5)
    assert figures.wind(wind) == "310T/15"
    assert figures.wind_magnetic(wind) == "317M/15"
    assert figures.wind(LegWind(from_true_deg=0.4, from_magnetic_deg=7.4, speed_kt=5.0)) == "360T/05"
    assert figures.wind(LegWind(from_true_deg=310.0, from_magnetic_deg=317.0, speed_kt=0.0)) == "calm"


@pytest.mark.parametrize(
    ("kind", "frequency_khz", "printed"),
    [
        (BeaconKind.VOR_DME, 113350, "113.35 MHz"),
        (BeaconKind.VOR, 114300, "114.30 MHz"),
        (BeaconKind.NDB, 373, "373 kHz"),
        (BeaconKind.NDB, 114, "114 kHz"),
        (BeaconKind.DME, None, "--"),
    ],
)
def test_the_kind_of_beacon_decides_the_unit_of_its_frequency(kind, frequency_khz, printed):
    assert figures.frequency(a_beacon(kind=kind, frequency_khz=frequency_khz)) == printed


def test_fuel_is_shown_in_the_aircrafts_unit():
    # 1 US gallon = 3.785411784 L exactly (231 cubic inches, NIST Handbook 44)
    assert figures.fuel(37.85411784, measure=FuelMeasure(unit=FuelUnit.US_GALLON)) == "10.0 US gal"
    assert figures.fuel(37.85, measure=FuelMeasure()) == "37.9 L"
    assert figures.fuel(100.0, measure=FuelMeasure(unit=FuelUnit.KILOGRAM, density_kg_per_l=0.72)) == "72.0 kg"


def test_positions_carry_minutes_into_degrees_and_say_their_hemisphere():
    assert figures.position(Position(lat_deg=37.99999, lon_deg=-118.95)) == "38°00.0'N 118°57.0'W"
    assert figures.position(Position(lat_deg=-0.5, lon_deg=7.0)) == "00°30.0'S 007°00.0'E"


@pytest.mark.parametrize(
    "write",
    [
        figures.course, figures.variation, figures.correction, figures.distance, figures.distance_nm, figures.duration,
        figures.duration_in_words, figures.altitude, figures.altitude_at_least, figures.elevation, figures.speed,
        lambda value: figures.fuel(value, measure=FuelMeasure()),
    ],
)  # fmt: skip
@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_what_is_not_known_is_never_a_number(write, value):
    assert write(value) == figures.MISSING


@pytest.mark.parametrize(
    ("feet", "printed"), [(1249.0, "+1,240 ft"), (0.0, "+0 ft"), (-1.0, "−10 ft"), (-1080.0, "−1,080 ft"), (None, figures.MISSING)]
)
def test_a_margin_has_its_sign_and_is_never_told_too_great(feet, printed):
    assert figures.margin(feet) == printed


@pytest.mark.parametrize(("value_db", "printed"), [(12.9, "+12 dB"), (-0.2, "−1 dB"), (0.0, "+0 dB"), (math.nan, figures.MISSING)])
def test_a_margin_in_decibels_is_never_told_too_great(value_db, printed):
    assert figures.decibels(value_db) == printed


def test_a_small_height_is_told_to_the_foot():
    assert [figures.height(feet) for feet in (3.4, 44.0, 2394.0)] == ["3 ft", "40 ft", "2,390 ft"]
