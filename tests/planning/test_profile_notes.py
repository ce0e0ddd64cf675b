"""What the log says of the way up and down, each leg at its own level; figures read by hand from the tables of test_flown_by_tables.

Climb by those tables: 1,000 to 4,000 ft in 6.4 NM, 4,000 to 8,000 ft in 13.6 NM and 9 min. Descent: 250 ft a mile, 500 ft a minute.
"""

from __future__ import annotations

import pytest

from server.navigation import destination
from server.planning.log import NavigationLog
from tests.planning.planning_builders import at, codes, words
from tests.planning.test_flown_by_tables import FROM, _onward, flown


def flown_at(*levels_ft: float) -> NavigationLog:
    """Legs of 30, 30 and 28.1 NM in still air, each at its level."""
    places = [destination(FROM, bearing_true_deg=89.0, distance_nm=miles) for miles in (30.0, 60.0)]
    points = [_onward(at(place), level_ft) for place, level_ft in zip(places, levels_ft[1:], strict=True)]
    return flown(*points, altitude_ft=levels_ft[0])


def test_the_first_climb_ends_at_its_own_level_and_not_at_the_highest_of_the_flight():
    log = flown_at(4000.0, 8000.0, 4000.0)
    assert words(log, "top-of-climb") == "Level at 4,000 ft 6.4 NM into leg 1."


def test_the_last_descent_begins_at_the_last_level():
    """12 NM before the end: 3,000 ft at 250 ft a mile. The 16.1 NM before are 8 min of descent and a moment of level flight."""
    log = flown_at(4000.0, 8000.0, 4000.0)
    assert words(log, "top-of-descent").startswith("Start down from 4,000 ft 16.1 NM into leg 3 (0:08), to be at 1,000 ft")


def test_a_change_of_level_is_told_where_it_begins_and_ends():
    log = flown_at(4000.0, 8000.0, 4000.0)
    told = [note.message for leg in log.legs for note in leg.notes if note.code == "level-change"]
    assert told == [
        "Climb from 4,000 to 8,000 ft where leg 2 begins: level 13.6 NM into it (0:09).",
        "Go down from 8,000 to 4,000 ft where leg 3 begins: level 16.0 NM into it (0:08).",
    ]


def test_a_change_that_its_leg_is_too_short_for_goes_on_over_the_next():
    """From 4,000 to 8,000 ft are 13.6 NM: 3.6 of them after a leg of 10 NM. The last 2,000 ft take 7.6 NM and 5 min, so those take 2.4."""
    places = [destination(FROM, bearing_true_deg=89.0, distance_nm=miles) for miles in (30.0, 40.0)]
    log = flown(_onward(at(places[0]), 8000.0), at(places[1]), altitude_ft=4000.0)
    told = [(note.leg_number, note.message) for leg in log.legs for note in leg.notes if note.code == "level-change"]
    assert told == [
        (2, f"Climb from 4,000 to {8000.0 - 3.6 / 7.6 * 2000.0:,.0f} ft where leg 2 begins: still on the way at its end."),
        (3, "Level at 8,000 ft 3.6 NM into leg 3 (0:02)."),
    ]
    assert "altitude-not-reached" not in codes(log)


def test_one_level_all_the_way_changes_nowhere():
    assert "level-change" not in codes(flown_at(6000.0, 6000.0, 6000.0))


def test_a_level_that_its_leg_is_too_short_for_is_told_though_another_leg_reaches_as_high():
    """Leg 3 climbs from 4,000 ft: x NM at the table's rate until 250 ft a mile lead down to 1,000 ft at its end, short of 8,000 ft, which
    would take 13.6 NM up and 28 NM down."""
    log = flown_at(8000.0, 4000.0, 8000.0)
    assert words(log, "altitude-not-reached").startswith("Leg 3 is planned at 8,000 ft and too short to get there: 6,2")
    assert words(log, "top-of-descent").startswith("Start down from 6,2")


@pytest.mark.parametrize("levels_ft", [(6000.0, 8000.0, 8000.0), (8000.0, 4000.0, 4000.0)])
def test_levels_that_are_reached_need_no_remark(levels_ft):
    assert "altitude-not-reached" not in codes(flown_at(*levels_ft))


def test_the_minutes_to_the_descent_are_those_flown_and_not_the_legs_in_proportion():
    """At 5,000 ft: 9.4 NM of climb in 6.5 min, then 112 kt to 16 NM before the end. The share of the leg's whole time would be 39 min."""
    log = flown(altitude_ft=5000.0)
    minutes = 6.5 + (log.total_distance_nm - 16.0 - 9.4) / 112.0 * 60.0
    assert 39.9 < minutes < 40.4
    assert "(0:40)" in words(log, "top-of-descent")
