"""A survey of a leg is used again just where everything it depends on is the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from server.navigation import Position
from server.planning.materials import gather
from server.planning.survey_memory import SurveyMemory
from server.radio import ComponentKind, LegPath, lowest_altitudes, survey_leg
from tests.planning.planning_builders import GroundInHand, a_tourer, a_vor, an_airfield, level, shelve
from tests.planning.test_chain import DIRECT, EAST, WEST, route_of

START, END = Position(lat_deg=43.0, lon_deg=-36.5), Position(lat_deg=43.4, lon_deg=-36.1)
LENGTH_NM = 30.0
PATH = LegPath(start=START, end=END, distance_nm=LENGTH_NM, profile=((0.0, 6_500.0), (LENGTH_NM, 6_500.0)))
ON = date(2026, 5, 1)


@pytest.fixture
def asking():
    memory, ground, calls = SurveyMemory(most=3), level(100.0), []

    def make(**asked):
        calls.append(asked)
        return object()

    def ask(**changes):
        asked = {
            "beacon": a_vor("AAA", START),
            "component": ComponentKind.AZIMUTH,
            "on": ON,
            "estimated_declination_deg": -10.0,
            "doubt": 1,
        }
        return memory.survey(make, **({"path": PATH, "ground": ground, "see": None} | asked | changes))

    return ask, calls


def test_the_same_leg_is_surveyed_once(asking):
    ask, calls = asking
    assert ask() is ask()
    assert len(calls) == 1
    assert ask() is not ask(see="another way to see, whose answers may stand a little elsewhere")


def test_a_path_that_differs_by_rounding_only_is_the_same(asking):
    ask, calls = asking
    nearly = replace(PATH, distance_nm=LENGTH_NM + 1e-12, profile=((0.0, 6_500.0), (LENGTH_NM + 1e-12, 6_500.0)))
    assert ask() is ask(path=nearly) and len(calls) == 1


@pytest.mark.parametrize(
    "change",
    [
        {"beacon": a_vor("AAA", START, elevation_ft=1.0)},
        {"component": ComponentKind.DISTANCE},
        {"on": date(2026, 5, 2)},
        {"estimated_declination_deg": -10.1},
        {"doubt": 2},
        {"ground": level(100.0)},
        {"path": replace(PATH, profile=((0.0, 6_500.0), (LENGTH_NM, 6_501.0)))},
        {"path": replace(PATH, end=Position(lat_deg=43.4, lon_deg=-36.100001))},
    ],
    ids=["beacon", "part", "day", "north", "doubt", "ground", "height", "place"],
)
def test_whatever_changes_is_surveyed_anew(asking, change):
    ask, calls = asking
    ask()
    ask(**change)
    assert len(calls) == 2


def test_only_so_many_are_kept_the_latest_ones(asking):
    ask, calls = asking
    for day in (1, 2, 3, 1, 4):
        ask(on=date(2026, 5, day))
    assert len(calls) == 4
    ask(on=date(2026, 5, 1))  # asked for again, so it outlived the second
    ask(on=date(2026, 5, 2))
    assert len(calls) == 5


def test_what_is_kept_is_what_the_radio_model_says():
    ground, beacon = level(100.0), a_vor("AAA", START)
    asked = {"beacon": beacon, "component": ComponentKind.AZIMUTH, "on": ON, "estimated_declination_deg": -10.0}
    kept = SurveyMemory().survey(survey_leg, path=PATH, ground=ground, see=survey_leg.__kwdefaults__["see"], **asked)
    assert kept.stretches == survey_leg(path=PATH, ground=ground, **asked).stretches


def test_what_is_planned_is_found_by_exact_rays_whatever_tables_are_at_hand(shelf):
    """One truth for what is printed: an edge read from a table may stand a tenth of a mile elsewhere."""
    shelved = shelve(shelf, beacons=(DIRECT,), airfields=(an_airfield(1, "QWES", WEST), an_airfield(2, "QEAS", EAST)), aircraft=a_tourer())
    assert gather(shelf, GroundInHand(level()), route_of(shelved)).see is lowest_altitudes
