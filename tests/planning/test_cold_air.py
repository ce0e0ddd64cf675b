"""In cold air a flight is judged where it really is, and its minimum altitudes are told as the altimeter must show them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.navigation import Position, destination
from server.planning import plan
from server.planning.log_legs import NoteLevel
from server.planning.true_height import true_heights
from server.sheets import log_as_text
from tests.planning.planning_builders import a_vor, level, materials_for, over

AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.8))
BBB = a_vor("BBB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=35.0))
LOW = {"departure": {"elevation_ft": 0.0}, "arrival": {"elevation_ft": 0.0}}


def flown(altitude_ft: float, deviation_c: float | None, ground_m: float = 300.0):
    return plan(
        materials_for(
            over(AAA), over(BBB), beacons=(AAA, BBB), ground=level(ground_m), altitude_ft=altitude_ft, isa_deviation_c=deviation_c, **LOW
        )
    ).log


def test_a_level_that_is_enough_in_standard_air_is_too_low_in_cold_air_and_says_so():
    # Ground 300 m: 984 ft and 1,000 ft above it, 1,984 ft true. At ISA -40 2,000 ft on the altimeter is really 1,720 ft.
    middle = [note.code for note in flown(2_000.0, 0.0).legs[1].notes]
    assert "low-above-ground" not in middle and "below-safe-altitude" not in middle
    cold = flown(2_000.0, -40.0)
    leg = cold.legs[1]
    assert leg.true_altitude_ft == pytest.approx(1_720.0, abs=10.0)  # 14 % of the height, 4 % a 10 degrees with the lapse of cold air
    assert "low-above-ground" in [note.code for note in leg.notes]
    (note,) = [note for note in leg.notes if note.code == "cold-air"]
    assert note.level is NoteLevel.WARNING and "2,000 ft on the altimeter is really 1,7" in note.message


def test_minimum_altitudes_are_told_as_the_altimeter_shows_them():
    standard, cold = flown(6_500.0, 0.0).legs[1].levels, flown(6_500.0, -40.0).legs[1].levels
    assert standard.safe_ft == pytest.approx(1_984.25, abs=1.0)
    heights = true_heights(materials_for(over(AAA), beacons=(AAA,), isa_deviation_c=-40.0, **LOW))
    assert cold.safe_ft > standard.safe_ft + 200.0
    assert heights.true_ft(cold.safe_ft) == pytest.approx(standard.safe_ft, abs=0.5)
    assert heights.true_ft(cold.reception_ft) == pytest.approx(standard.reception_ft, abs=5.0)


def test_the_true_altitude_stands_beside_the_one_that_is_flown():
    assert f"(true {round(flown(6_500.0, -40.0).legs[1].true_altitude_ft, -1):,.0f} ft)" in log_as_text(flown(6_500.0, -40.0))
    assert "(true" not in log_as_text(flown(6_500.0, 0.0))


def test_the_gain_in_warm_air_is_never_leaned_on_and_without_a_temperature_nothing_is_corrected():
    assert flown(6_500.0, 20.0).legs[1].true_altitude_ft == 6_500.0
    silent = flown(6_500.0, None)
    assert silent.legs[1].true_altitude_ft == 6_500.0
    assert "cold-not-counted" in [note.code for note in silent.notes]
    assert "cold-not-counted" not in [note.code for note in flown(6_500.0, 0.0).notes]


def test_the_lower_end_of_the_flight_gives_the_setting_since_most_cold_air_lies_over_it():
    high = {"departure": {"elevation_ft": 4_000.0}, "arrival": {"elevation_ft": 0.0}}
    made = materials_for(over(AAA), beacons=(AAA,), isa_deviation_c=-30.0, **high)
    assert true_heights(made).station_ft == 0.0
    unknown = replace(made, airfields={key: replace(field, elevation_ft=None) for key, field in made.airfields.items()})
    assert true_heights(unknown).station_ft == 0.0
