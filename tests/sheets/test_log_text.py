"""The log as text: all that is flown stands in it, in 100 columns."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.planning.log import Note, NoteLevel
from server.sheets import cautions
from server.sheets.log_sheet import log_sheet
from server.sheets.log_text import COLUMNS, log_as_text
from tests.sheets.sheet_builders import HOSTILE, a_hostile_log, a_log, a_long_log


def blocks(text: str) -> list[str]:
    """The text of each leg, from its heading to the next; line breaks folded."""
    parts = text.split("\nLEG ")[1:]
    return [" ".join(part.split()) for part in parts]


def test_each_leg_carries_every_number_that_is_flown_and_its_working():
    log = a_log()
    told = blocks(log_as_text(log))
    assert len(told) == 3
    for block, leg in zip(told, log_sheet(log).legs, strict=True):
        for number in (
            f"STEER {leg.heading_magnetic} magnetic {leg.heading_compass} compass", leg.altitude, f"{leg.distance} NM",
            leg.time, leg.arrival,
            f"track {leg.track_true}T {leg.track_magnetic}M", f"variation {leg.variation}", leg.wind, leg.wind_correction,
            f"heading {leg.heading_true}T", f"TAS {leg.true_airspeed} kt", f"GS {leg.groundspeed} kt", leg.fuel, leg.fuel_remaining,
        ):  # fmt: skip
            assert number in block
        for tune in leg.tune:
            for setting in (f"SET {tune.ident} {tune.frequency}", tune.morse, f"{tune.set_course} {tune.flag}", tune.words):
                assert setting in block
        for finding in (*leg.findings, *leg.notes):
            assert finding in block


def test_the_second_leg_says_where_its_beacon_is_lost_and_the_next_one_heard():
    block = blocks(log_as_text(a_log()))[1]
    assert "KEV lost at 25.7 NM" in block
    assert "hidden by ground of 6,550 ft at 24.3 NM from the station" in block
    assert "TRV first heard at 30.8 NM" in block
    assert "NO GUIDANCE from 25.7 to 30.8 NM" in block
    assert "Change over to TRV at 28.0 NM" in block


@pytest.mark.parametrize("log", [a_log(), a_hostile_log(), a_long_log()], ids=["sample", "hostile", "long"])
def test_no_line_is_wider_than_the_paper(log):
    assert max(len(line) for line in log_as_text(log).splitlines()) <= COLUMNS


def test_a_fictional_region_says_so_at_the_top_and_at_the_end_and_a_real_one_does_not():
    assert log_as_text(a_log()).count(cautions.FICTIONAL_NOTICE) == 2
    assert cautions.FICTIONAL_NOTICE not in log_as_text(a_log(region_fictional=False))


def test_the_caution_the_reserve_rule_and_the_sources_are_always_there():
    told = " ".join(log_as_text(a_log()).split())
    for words in (
        cautions.CAUTION,
        cautions.NOT_CHECKED,
        "14 CFR 91.151",
        "World Magnetic Model 2025",
        "9f2c51d07ab3",
        *cautions.OFF_FLAG_MEANINGS,
    ):
        assert words in told


def test_a_log_without_wind_aircraft_or_fuel_is_not_complete_and_shows_no_invented_number():
    wind = dict.fromkeys(("wind", "wind_correction_deg", "heading_true_deg", "heading_magnetic_deg", "heading_compass_deg"))
    speed = dict.fromkeys(("true_airspeed_kt", "groundspeed_kt", "time_min", "fuel_l", "fuel_remaining_l", "arrival_utc"))
    legs = tuple(replace(leg, **wind, **speed) for leg in a_log().legs)
    bare = {
        "aircraft": None,
        "fuel": None,
        "total_time_min": None,
        "departure_utc": None,
        "arrival_utc": None,
        "climb_min": None,
        "descent_min": None,
    }
    told = log_as_text(a_log(legs=legs, complete=False, **bare))
    assert "NOT COMPLETE: do not fly this log as it stands" in told
    assert "NO FUEL PLAN" in told
    assert "STEER   -- magnetic   -- compass" in told
    assert "None" not in told
    assert "nan" not in told


def test_fuel_below_the_reserve_is_a_stop_in_words():
    fuel = replace(a_log().fuel, margin_l=-4.26)
    assert "NOT ENOUGH FUEL: short of the reserve by 4.3 L. Do not start." in log_as_text(a_log(fuel=fuel))


def test_a_date_outside_the_magnetic_model_is_warned_of():
    assert "WARNING: the flight's date lies outside its span" in " ".join(log_as_text(a_log(magnetic_model_valid=False)).split())


def test_hostile_names_come_through_as_text():
    told = log_as_text(a_hostile_log())
    assert HOSTILE[:60] in told
    assert told.encode("utf-8")


def test_the_planners_note_of_a_gap_is_told_once_as_a_finding():
    leg = replace(a_log().legs[1], notes=(Note(code="guidance-gap", level=NoteLevel.WARNING, message="A gap.", leg_number=2),))
    told = log_as_text(a_log(legs=(a_log().legs[0], leg)))
    assert "A gap." not in told
    assert "NO GUIDANCE from 25.7 to 30.8 NM: hold heading" in told
