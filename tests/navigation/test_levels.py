"""Advice on levels: what is suggested, what is not known, and how near the rule's boundary a track is."""

from __future__ import annotations

import pytest

from server.navigation import LevelRule, cruising_level_advice


def test_the_levels_next_below_and_above_are_suggested():
    assert cruising_level_advice(LevelRule.US, 90, 6000, 0).suggested_ft == (5500, 7500)
    assert cruising_level_advice(LevelRule.US, 270, 5500, 0).suggested_ft == (4500, 6500)


def test_a_level_that_complies_needs_no_suggestion():
    advice = cruising_level_advice(LevelRule.ICAO, 200, 6500, 1000)
    assert (advice.applies, advice.complies, advice.suggested_ft) == (True, True, ())


def test_no_level_is_suggested_so_low_that_the_rule_would_not_reach_it():
    assert cruising_level_advice(LevelRule.US, 90, 5000, 1500).suggested_ft == (5500,)


def test_no_level_is_suggested_above_the_rule():
    assert cruising_level_advice(LevelRule.US, 270, 17_800, 0).suggested_ft == (16_500,)


def test_where_the_rule_does_not_apply_nothing_is_suggested():
    advice = cruising_level_advice(LevelRule.US, 90, 2800, 0)
    assert (advice.applies, advice.suggested_ft) == (False, ())


def test_unknown_ground_leaves_open_whether_the_rule_applies():
    advice = cruising_level_advice(LevelRule.US, 90, 4500, None)
    assert advice.applies is None
    assert not advice.complies
    assert advice.suggested_ft == (3500, 5500)
    assert cruising_level_advice(LevelRule.US, 90, 18_500, None).applies is False


@pytest.mark.parametrize(
    ("track_deg", "near"), [(0, True), (4.9, True), (355.1, True), (175, True), (185, True), (6, False), (90, False), (354, False)]
)
def test_a_track_within_five_degrees_of_north_or_south_is_flagged(track_deg, near):
    assert cruising_level_advice(LevelRule.US, track_deg, 5500, 0).near_boundary is near


def test_a_course_of_003_flown_on_a_heading_of_353_stays_odd():
    """The rule follows the track, not the heading (common practice, often taught wrongly)."""
    assert cruising_level_advice(LevelRule.US, 3, 5500, 0).complies
