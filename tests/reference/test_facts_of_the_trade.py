"""What every flying school teaches, as numbers. Common practice unless a line names its source."""

from __future__ import annotations

import math

import pytest

from server.navigation import (
    CompassCardEntry,
    NorthReference,
    Position,
    WindLayer,
    compass_heading_deg,
    cone_radius_nm,
    density_altitude_ft,
    destination,
    distance_and_offset_from_leg,
    fold_deg,
    ground_range_nm,
    isa_temperature_c,
    magnetic_from_true_deg,
    pressure_altitude_ft,
    reciprocal_deg,
    slant_range_nm,
    three_digits,
    track,
    wind_at,
    wind_correction,
)


def wind(altitude_ft, from_deg, speed_kt, reference=NorthReference.TRUE):
    return WindLayer(altitude_ft=altitude_ft, from_deg=from_deg, speed_kt=speed_kt, reference=reference)


def test_east_is_least_and_west_is_best_whichever_way_one_flies():
    assert (magnetic_from_true_deg(150, -9), magnetic_from_true_deg(333, -9)) == (159, 342)
    assert magnetic_from_true_deg(5, 8) == 357


@pytest.mark.parametrize(("radial", "inbound"), [(90, "270"), (215, "035"), (180, "360"), (270, "090"), (360, "180")])
def test_inbound_on_a_radial_the_selected_course_is_its_reciprocal(radial, inbound):
    """FAA examination items: inbound on 215 set 035; on 180 set 360; on 270 set 090."""
    assert three_digits(reciprocal_deg(radial)) == inbound


def test_north_is_written_360():
    assert [three_digits(direction) for direction in (0, 360, 359.6, 359.4, 0.4, 0.5, 2.5, 90)] == [
        "360", "360", "360", "359", "360", "001", "003", "090",
    ]  # fmt: skip


@pytest.mark.parametrize(("heading", "relative", "to_station"), [(350, 240, 230), (315, 140, 95), (40, 290, 330)])
def test_magnetic_heading_and_relative_bearing_make_the_magnetic_bearing_to_an_ndb(heading, relative, to_station):
    """FAA examination items (from memory)."""
    assert fold_deg(heading + relative) == to_station


def test_wind_from_the_left_turns_the_nose_left():
    answer = wind_correction(track_true_deg=360, true_airspeed_kt=100, wind_from_true_deg=270, wind_kt=20)
    assert answer.wind_correction_deg == pytest.approx(-11.5, abs=0.05)
    assert three_digits(answer.heading_true_deg) == "348"


def test_a_pure_head_or_tail_wind_adds_and_subtracts():
    """FAA-H-8083-25A, p. 15-10 (from memory): TAS 120, 20 kt: 140 and 100 kt."""
    speeds = [
        wind_correction(track_true_deg=75, true_airspeed_kt=120, wind_from_true_deg=wind_from, wind_kt=20).groundspeed_kt
        for wind_from in (255, 75)
    ]
    assert speeds == pytest.approx([140, 100])


def test_a_true_wind_on_a_magnetic_course_is_wrong_by_degrees():
    """Wind 140 T / 25, true course 090, variation 15 E, TAS 100: magnetic heading 086 and 82 kt; mixed up, 088 and 87 kt."""
    right = wind_correction(track_true_deg=90, true_airspeed_kt=100, wind_from_true_deg=140, wind_kt=25)
    mixed = wind_correction(track_true_deg=75, true_airspeed_kt=100, wind_from_true_deg=140, wind_kt=25)
    assert (round(right.heading_true_deg - 15), round(right.groundspeed_kt)) == (86, 82)
    assert (round(mixed.heading_true_deg), round(mixed.groundspeed_kt)) == (88, 87)


def test_forecast_winds_are_interpolated_by_vectors():
    """A forecast of 320/10, 310/13 and 320/15 at 3, 6 and 9 thousand feet gives 311/12 at 5,500 and 314/11 at 4,500."""
    layers = (wind(3000, 320, 10), wind(6000, 310, 13), wind(9000, 320, 15))
    for altitude_ft, from_deg, speed_kt in ((5500, 311, 12), (4500, 314, 11)):
        found = wind_at(layers, altitude_ft, variation_deg=0.0)
        assert (round(found.from_true_deg), round(found.speed_kt)) == (from_deg, speed_kt)


def test_between_350_and_010_lies_north_not_south():
    found = wind_at((wind(3000, 350, 20), wind(6000, 10, 20)), 4500, variation_deg=0.0)
    assert three_digits(found.from_true_deg) == "360"
    assert found.speed_kt == pytest.approx(19.7, abs=0.05)


def test_one_degree_is_one_mile_in_sixty():
    """The rule says 1.0, the geometry 1.047 NM."""
    start = Position(lat_deg=50, lon_deg=10)
    end = destination(start, bearing_true_deg=70, distance_nm=120)
    aside = distance_and_offset_from_leg(start, end, destination(start, bearing_true_deg=71, distance_nm=60))
    assert aside.off_nm == pytest.approx(1.047, abs=0.002)
    assert aside.along_nm == pytest.approx(60, abs=0.02)


def test_a_track_turns_by_the_change_of_longitude_times_the_sine_of_the_latitude():
    """Meridian convergence; holds to 0.003 deg below 250 NM."""
    leg = track(Position(lat_deg=50, lon_deg=-5), Position(lat_deg=52, lon_deg=0.5))
    assert leg.final_true_deg - leg.initial_true_deg == pytest.approx(5.5 * math.sin(math.radians(51)), abs=0.003)


def test_a_dme_overhead_reads_the_height():
    assert slant_range_nm(0, 6076) == pytest.approx(1.0, abs=1e-4)
    assert slant_range_nm(0, 8500) == pytest.approx(1.4, abs=0.01)
    assert ground_range_nm(5.0, 6000) == pytest.approx(4.9, abs=0.01)


@pytest.mark.parametrize(("height_ft", "radius_nm", "seconds"), [(2000, 0.4, 28), (5000, 1.0, 71), (8500, 1.7, 120)])
def test_the_cone_takes_a_minute_to_cross(height_ft, radius_nm, seconds):
    """At 100 kt, from rim to rim."""
    assert cone_radius_nm(height_ft) == pytest.approx(radius_nm, abs=0.05)
    assert 2 * cone_radius_nm(height_ft) / 100 * 3600 == pytest.approx(seconds, abs=1)


def test_rules_of_thumb_of_the_air():
    """2 deg a thousand feet; 27 ft a hectopascal and 1,000 ft an inch near sea level; 120 ft of density altitude a degree."""
    assert isa_temperature_c(0) - isa_temperature_c(1000) == pytest.approx(1.98, abs=0.005)
    assert pressure_altitude_ft(0, 1012.25) == pytest.approx(27.3, abs=0.1)
    assert pressure_altitude_ft(0, 1013.25 * 28.92 / 29.92) == pytest.approx(1000, abs=100)  # the rule is 7 % long
    assert density_altitude_ft(5000, isa_temperature_c(5000) + 1) - 5000 == pytest.approx(120, abs=3)


def test_the_card_says_what_to_steer_for_a_magnetic_heading():
    """A card that reads FOR 030 STEER 028, FOR 060 STEER 062: half way between, no correction is left."""
    card = (CompassCardEntry(magnetic_deg=30, steer_deg=28), CompassCardEntry(magnetic_deg=60, steer_deg=62))
    assert compass_heading_deg(card, 30) == pytest.approx(28)
    assert compass_heading_deg(card, 45) == pytest.approx(45)
