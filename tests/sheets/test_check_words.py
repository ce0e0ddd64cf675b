"""Needle, cross-checks, passage and gaps in words: rounded for people, and never saying more than is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.navigation import NorthReference, Position, WindLayer, destination
from server.navigation.indicator import vor_indication
from server.planning import plan
from server.planning.cross_checks import cross_checks_of_legs
from server.planning.gaps import gaps_of_leg
from server.planning.passage import passages_of_legs
from server.radio import BeaconKind, ComponentKind, ComponentStatus, ServiceClass
from server.sheets.check_words import (
    NO_LINE,
    cross_check_in_words,
    gap_in_words,
    needle_in_words,
    obs_in_words,
    passage_in_words,
    picture_in_words,
)
from tests.planning.planning_builders import a_part, a_vor, an_ndb, materials_for, over

AAA = a_vor(
    "AAA",
    Position(lat_deg=43.5, lon_deg=-36.5),
    kind=BeaconKind.VOR_DME,
    components=(a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE)),
)


@pytest.mark.parametrize(
    ("radial", "selected", "words"),
    [
        (30, 30, "FROM, needle centred"),
        (210, 30, "TO, needle centred"),
        (30.4, 30, "FROM, needle centred"),
        (31, 30, "FROM, needle ½ dot left"),
        (32, 30, "FROM, needle 1 dot left"),
        (25, 30, "FROM, needle 2½ dots right"),
        (215, 30, "TO, needle 2½ dots right"),
        (119, 30, "FROM (or OFF), needle full left"),
        (310, 40, "OFF, needle full right"),
        (60, 253, "TO, needle full left"),
    ],
)
def test_flag_and_needle_are_said_in_half_dots(radial, selected, words):
    assert needle_in_words(vor_indication(radial_deg=radial, selected_course_deg=selected)) == words


def flight(*beacons, turn_deg: float = 0.0, others=(), **changes):
    """Eastward 45 NM to the first beacon, a turn, 45 NM on from the last; 100 kt in still air at 5,100 ft."""
    start = destination(beacons[0].position, bearing_true_deg=270.0, distance_nm=45.0)
    end = destination(beacons[-1].position, bearing_true_deg=90.0 + turn_deg, distance_nm=45.0)
    given = {"beacons": (*beacons, *others), "start": start, "end": end, "altitude_ft": 5100.0, "variation_deg": -10.0} | changes
    materials = materials_for(*(over(beacon) for beacon in beacons), **given)
    return plan(materials).log, materials


def passage_over(*beacons, **changes):
    log, materials = flight(*beacons, **changes)
    return passages_of_legs(log.legs, log.profile, materials)[0]


def test_a_passage_straight_on_is_held_through_and_nothing_is_changed():
    """5,000 ft over the antenna: 0.98 NM to each side, 71 s at 100 kt (common practice)."""
    hold, obs, flag, dme = passage_in_words(passage_over(AAA))
    assert hold.startswith("AAA: the needle means nothing 1.0 NM before and 1.0 NM after. Hold heading 100M for about 70 s.")
    assert obs == "No change (098)."
    assert flag == "Flag TO, then OFF, then FROM: past at the first steady change."
    assert dme == "The DME comes down to 0.8 NM."


def test_a_passage_with_a_turn_says_the_change_and_what_the_old_course_would_show():
    hold, obs, _, left, _ = passage_in_words(passage_over(AAA, turn_deg=120.0))
    assert hold.endswith("Hold heading 100M for about 40 s; past the beacon turn to 220M and hold it for about 40 s.")
    assert obs == "OBS CHANGE to 218."
    assert left == "With the old course left set: TO, needle full left, and the needle points the wrong way."


def test_where_another_beacon_guides_on_it_is_to_be_tuned():
    bbb = a_vor("BBB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=50.0))
    quiet = replace(AAA, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.OUT_OF_SERVICE),))
    assert obs_in_words(passage_over(quiet, bbb)).startswith("tune BBB, set 09")
    assert obs_in_words(passage_over(quiet)) == ""


def test_over_an_ndb_the_pointer_tells():
    hold, past = passage_in_words(passage_over(an_ndb("NNN", AAA.position)))
    assert hold.startswith("NNN NDB: the needle means nothing 0.7 NM before and 0.7 NM after.")
    assert past == "You are past it when the pointer has gone through the wing-tip."


def test_without_an_aircraft_no_heading_and_no_time_is_said():
    hold = passage_in_words(passage_over(AAA, aircraft_id=None))[0]
    assert hold == "AAA: the needle means nothing 1.0 NM before and 1.0 NM after. Hold heading."


def first_leg(**changes):
    log, materials = flight(AAA, **changes)
    return cross_checks_of_legs(log.legs, log.profile, materials)[1]


def test_a_cross_check_says_what_it_should_read_how_good_it_is_and_from_when_one_is_not_there():
    """30 NM out: 0.25 NM + 1.25 % is 0.63, rounded up; a station 20 NM to the left is left on its 180 less 8 W; 20 tan 5 is 1.75 NM."""
    crossing = a_vor(
        "CCC", destination(destination(AAA.position, bearing_true_deg=90.0, distance_nm=30.0), bearing_true_deg=0.0, distance_nm=20.0)
    )
    checks = first_leg(others=(crossing,))
    check = min(checks, key=lambda each: abs(each.place.at_nm - 30.0))
    assert check.picture is not None
    distance, radial = cross_check_in_words(check)
    assert distance == "AAA DME 30.0 NM, rising: cuts at 90°, good to 0.7 NM. If it differs by more than 0.7 NM, you are not there."
    assert radial == "R-188 CCC: cuts at 90°, good to 1.8 NM. If it differs by more than 5°, you are not there."
    assert picture_in_words(check.picture).startswith("AAA set 098: FROM, needle centred, DME ")


def test_where_nothing_serves_it_is_said():
    bare = replace(AAA, components=AAA.components[:1])
    log, materials = flight(bare)
    checks = cross_checks_of_legs(log.legs, log.profile, materials)[1]
    assert {cross_check_in_words(check) for check in checks} == {(NO_LINE,)}


def test_a_weak_or_marginal_line_says_so():
    weak = a_vor(
        "WEK",
        destination(AAA.position, bearing_true_deg=120.0, distance_nm=42.0),
        components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.UNKNOWN),),
    )
    bare = replace(AAA, components=AAA.components[:1])
    log, materials = flight(bare, others=(weak,))
    said = " ".join(words for check in cross_checks_of_legs(log.legs, log.profile, materials)[1] for words in cross_check_in_words(check))
    assert "; a weak cut" in said
    assert "; marginal: not known whether it is on the air" in said


def test_overhead_the_picture_is_that_nothing_is_to_be_believed():
    log, materials = flight(AAA)
    last = cross_checks_of_legs(log.legs, log.profile, materials)[0][-1]
    assert last.picture is not None
    assert picture_in_words(last.picture) == "AAA overhead: needle and flag mean nothing, DME 0.8"


def gap_sentence(**changes) -> str:
    class_l = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),)
    near = replace(AAA, components=class_l, position=Position(lat_deg=43.5, lon_deg=-37.0))
    far = a_vor("FAR", destination(near.position, bearing_true_deg=90.0, distance_nm=89.0), components=class_l)
    log, _ = flight(near, far, **changes)
    (gap,) = gaps_of_leg(log.legs[1])
    return gap_in_words(gap)


def test_a_gap_is_a_heading_a_time_and_how_far_off_one_may_be():
    """40 NM of AIM class L from each end of 89 NM; 9.0 NM at 100 kt; 3.7 NM by hand (see tests/planning/test_gaps.py)."""
    said = gap_sentence()
    assert said.startswith("NO GUIDANCE from 40.0 to 49.0 NM: hold heading 101M for 5.4 min.")
    assert said.endswith("After it you may be 3.7 NM off (a heading 5° out, a wind 10 kt out).")


def test_a_gap_without_wind_says_only_what_is_known():
    assert gap_sentence(winds=()) == "NO GUIDANCE from 40.0 to 49.0 NM: hold your heading."
    wind = (WindLayer(altitude_ft=0.0, from_deg=90.0, speed_kt=40.0, reference=NorthReference.TRUE),)
    assert "for 9.0 min" in gap_sentence(winds=wind)  # 9 NM at 60 kt
