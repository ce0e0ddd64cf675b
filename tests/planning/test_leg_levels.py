"""What a leg asks of its level: ground, margins and cruising levels against the rules, reception against the survey."""

from __future__ import annotations

import pytest

from server.navigation import LevelRule, Position
from server.planning import plan
from server.planning.leg_levels import lowest_legal_ft
from server.planning.log import Decider, LogLeg, NoteLevel
from server.radio import ComponentKind, ServiceClass
from tests.planning.planning_builders import a_part, a_vor, level, materials_for, over

LOW = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),)
AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.9), number=1, components=LOW)
BBB = a_vor("BBB", Position(lat_deg=43.5, lon_deg=-36.3), number=2, components=LOW)


def leg_over(ground=None, **changes) -> LogLeg:
    fields = {"start": Position(lat_deg=43.3, lon_deg=-37.2), "end": Position(lat_deg=43.3, lon_deg=-35.9), "beacons": (AAA, BBB)}
    return plan(materials_for(over(AAA), over(BBB), ground=ground, **(fields | changes))).log.legs[1]


def summit(elevation_m: float, north_nm: float):
    """A flat country of 300 m with one post beside the middle of the leg."""
    ground = level(300.0)
    ground.posts[round((45.0 - 43.5 - north_nm / 60.0) * 120), round((-36.6 + 38.0) * 120)] = elevation_m
    return ground


def test_the_margin_is_that_of_the_instrument_rules():
    """14 CFR 91.177(a)(2); SERA.5015(b) (from memory): 1,000 ft over the highest ground, 2,000 ft where it is mountainous."""
    plain = leg_over(level(300.0)).levels
    assert not plain.mountainous and plain.safe_ft == pytest.approx(300.0 / 0.3048 + 1000.0, abs=1.0)
    high = leg_over(summit(1400.0, 1.0), altitude_ft=9500.0)
    assert high.levels.mountainous and high.levels.safe_ft == high.highest_ground_ft + 2000.0


@pytest.mark.parametrize(("rule", "within_nm"), [("US", 4.0), ("ICAO", 4.32), ("", 4.32)])
def test_the_corridor_is_that_of_the_rule_unless_one_is_chosen(rule, within_nm):
    """14 CFR 91.177: 4 NM; SERA.5015: 8 km (from memory)."""
    assert leg_over(level_rule=rule).levels.corridor_nm == within_nm
    near, far = summit(900.0, 3.0), summit(900.0, 3.0)
    assert leg_over(near, level_rule=rule).highest_ground_ft > 2500.0
    assert leg_over(far, level_rule=rule, corridor_nm=2.0).highest_ground_ft == pytest.approx(300.0 / 0.3048, abs=1.0)


FIELDS = {"departure": {"elevation_ft": 984.0}, "arrival": {"elevation_ft": 0.0}}


@pytest.mark.parametrize(("rule", "name"), [("US", "14 CFR 91.119(c)"), ("ICAO", "SERA.5005(f)")])
def test_less_than_500_ft_above_the_ground_is_under_the_minimum_of_the_rules(rule, name):
    """14 CFR 91.119(c); SERA.5005(f): 500 ft above the surface away from built-up areas. Ground of 300 m is 984 ft: 1,484 ft is least."""
    low = leg_over(level(300.0), altitude_ft=1483.0, level_rule=rule, **FIELDS)
    assert low.levels.minimum_ft == pytest.approx(1484.25, abs=0.1)
    (note,) = [note for note in low.notes if note.code == "below-minimum-height"]
    assert note.level is NoteLevel.WARNING
    assert (
        "Leg 2: 0.0 NM after its start" in note.message
        and f"less than 500 ft above the ground under it, the least height of {name}" in note.message
    )
    enough = leg_over(level(300.0), altitude_ft=1485.0, level_rule=rule, **FIELDS)
    assert "below-minimum-height" not in [note.code for note in enough.notes]


def test_ground_beside_the_track_does_not_count_for_the_least_height_under_it():
    leg = leg_over(summit(900.0, 2.0), altitude_ft=2500.0, **FIELDS)
    assert leg.highest_ground_ft > 2500.0 and leg.levels.minimum_ft == pytest.approx(1484.25, abs=1.0)
    assert "below-minimum-height" not in [note.code for note in leg.notes]


# 14 CFR 91.159(a), as the reference tables give it: magnetic course, floor, lowest level. Whole thousands are no VFR level.
LEGAL = [
    (0.0, 3001.0, 3500.0),
    (90.0, 3501.0, 5500.0),
    (179.9, 4000.0, 5500.0),
    (180.0, 3001.0, 4500.0),
    (270.0, 4501.0, 6500.0),
    (359.9, 6501.0, 8500.0),
    (90.0, 2000.0, 3500.0),
    (90.0, 9600.0, 11_500.0),
    (270.0, 9600.0, 10_500.0),
]


@pytest.mark.parametrize(("course", "floor_ft", "lowest_ft"), LEGAL)
def test_the_lowest_level_is_one_that_the_rule_gives_a_vfr_flight(course, floor_ft, lowest_ft):
    assert lowest_legal_ft(LevelRule.US, course, floor_ft) == lowest_ft


def test_above_the_levels_of_a_rule_there_is_none():
    assert lowest_legal_ft(LevelRule.ICAO, 90.0, 25_000.0) is None


def test_a_level_below_what_the_sheet_asks_for_is_warned_of():
    low = leg_over(summit(1400.0, 1.0), altitude_ft=6000.0)  # 4,593 ft, and 2,000 ft above it in mountains
    (note,) = [note for note in low.notes if note.code == "below-safe-altitude"]
    assert note.level is NoteLevel.WARNING and "6,000 ft, and its ground asks for 6,600 ft" in note.message
    assert "below-safe-altitude" not in [note.code for note in leg_over(summit(1400.0, 1.0), altitude_ft=6600.0).notes]


def test_the_rule_for_levels_is_judged_along_the_leg_and_not_by_its_highest_hill():
    """14 CFR 91.159: above 3,000 ft over the surface. Over one hill of 3,937 ft 5,000 ft is not, over the 984 ft round it it is."""
    leg = leg_over(summit(1200.0, 1.0), altitude_ft=5000.0, level_rule="US", start=Position(lat_deg=43.3, lon_deg=-37.2))
    (note,) = [note for note in leg.notes if note.code == "cruising-level"]
    assert "flown more than 3,000 ft above the ground" in note.message
    assert leg.levels.rule_from_ft == pytest.approx(984.25 + 3000.0, abs=1.0)


def test_reception_asks_for_what_the_survey_found():
    """Of two beacons that guide, at each place the one that is received from lower down counts."""
    leg = leg_over()
    whole_leg = [each.received_from_ft for each in leg.receptions if each.received_from_ft is not None]
    assert leg.levels.guided and leg.levels.reception_ft <= min(whole_leg)
    assert leg.levels.reception_ft >= 1000.0  # the floor of every published class (AIM TBL 1-1-1)


def test_the_higher_of_both_decides():
    low = leg_over(level(-20.0)).levels
    assert low.decides is Decider.RECEPTION and low.reception_ft > low.safe_ft
    high = leg_over(summit(2500.0, 3.9), altitude_ft=12_500.0).levels
    assert high.decides is Decider.GROUND and high.lowest_legal_ft >= high.safe_ft
