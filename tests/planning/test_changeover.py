"""Where to tune from the beacon behind to the one ahead: half way, moved by a ridge, or with a gap that neither covers."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from server.navigation import AS_PLANNED, LegChoice, Position, destination, distance_nm
from server.planning import plan
from server.planning.changeover import changeover_nm
from server.planning.guidance import gaps
from server.radio import Cause, ComponentKind, ComponentStatus, ReceptionState, ServiceClass
from server.units import metres_from_feet, metres_from_nautical_miles, nautical_miles_from_metres
from tests.planning.planning_builders import a_part, a_vor, codes, level, materials_for, over, ridge, words
from tests.radio.radio_builders import a_stretch

RECEIVED, MARGINAL, UNKNOWN, NOT = (
    ReceptionState.RECEIVED,
    ReceptionState.MARGINAL,
    ReceptionState.UNKNOWN,
    ReceptionState.NOT_RECEIVED,
)
AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.8))
BBB = a_vor("BBB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=60.0))
ENDS = {"start": Position(lat_deg=43.6, lon_deg=-37.4), "end": Position(lat_deg=43.6, lon_deg=-34.8)}
CLASS_L = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),)


def middle_leg(*beacons, onward=AS_PLANNED, **changes):
    """The leg between the two beacons, with what was chosen for it, and the log cut down to it."""
    first, *rest = (over(beacon) for beacon in beacons)
    log = plan(materials_for(replace(first, onward=onward), *rest, beacons=beacons, **{**ENDS, **changes})).log
    return log.legs[1], replace(log, legs=log.legs[1:2])


def lost_behind_ridge_nm(antenna_ft: float, ridge_m: float, ridge_nm: float, altitude_ft: float) -> float:
    """How far from a station an aircraft leaves the ray that grazes a ridge, on an earth of 4/3 radius (ITU-R P.452: heights above a chord
    follow h(d) = h0 + slope d + d^2 / 2R)."""
    radius_m = 4.0 / 3.0 * 6_371_000.0
    antenna_m, crest_m, altitude_m = metres_from_feet(antenna_ft), metres_from_nautical_miles(ridge_nm), metres_from_feet(altitude_ft)
    slope = (ridge_m - antenna_m - crest_m**2 / (2 * radius_m)) / crest_m
    # d^2 / 2R + slope d + antenna - altitude = 0
    return nautical_miles_from_metres(radius_m * (math.sqrt(slope**2 + 2 * (altitude_m - antenna_m) / radius_m) - slope))


def test_it_is_half_way_where_both_beacons_serve():  # 14 CFR 95.8001
    leg, _ = middle_leg(AAA, BBB)
    assert leg.changeover_nm == pytest.approx(30.0, abs=0.01)
    assert [note.code for note in leg.notes if note.code.startswith("changeover")] == []
    assert leg.changeover_min == pytest.approx(18.0, abs=0.01)  # 30 NM at 100 kt in still air


def test_without_a_wind_there_is_a_place_for_it_and_no_time():
    leg, _ = middle_leg(AAA, BBB, winds=())
    assert (leg.changeover_nm, leg.changeover_min) == (pytest.approx(30.0, abs=0.01), None)


def test_a_ridge_behind_which_the_first_beacon_is_lost_moves_it_to_that_place():
    crest_lon_deg = -36.575  # a line of posts
    crest_nm = distance_nm(AAA.position, Position(lat_deg=43.5, lon_deg=crest_lon_deg))
    lost_nm = lost_behind_ridge_nm(100.0, 1500.0, crest_nm, 6500.0)
    leg, log = middle_leg(AAA, BBB, ground=ridge(1500.0, crest_lon_deg))
    assert 10.0 < lost_nm < 20.0  # well before half way
    assert leg.changeover_nm == pytest.approx(lost_nm, abs=0.1)
    assert words(log, "changeover-moved") == f"Change over at {lost_nm:.1f} NM, not half way at 30.0 NM: AAA is lost at {lost_nm:.1f} NM."
    assert all(stretch.state is RECEIVED or stretch.has(Cause.OVERHEAD_CONE) for stretch in leg.stretches)


def test_a_ridge_in_front_of_the_second_beacon_moves_it_the_other_way():
    crest_lon_deg = -35.65
    crest_nm = distance_nm(BBB.position, Position(lat_deg=43.5, lon_deg=crest_lon_deg))
    heard_nm = 60.0 - lost_behind_ridge_nm(100.0, 1500.0, crest_nm, 6500.0)
    leg, log = middle_leg(AAA, BBB, ground=ridge(1500.0, crest_lon_deg))
    assert leg.changeover_nm == pytest.approx(heard_nm, abs=0.1)
    assert words(log, "changeover-moved").endswith(f"BBB is not heard before {heard_nm:.1f} NM.")


def test_agrees_with_two_class_l_volumes_82_nm_apart_that_40_to_42_nm_is_covered_by_neither():
    # FAA AIM TBL 1-1-1: class L reaches 40 NM. At 4,500 ft over sea-level stations the horizon lies at 1.23 sqrt(4500) = 82 NM and more.
    low = replace(AAA, components=CLASS_L)
    far = a_vor("FAR", destination(AAA.position, bearing_true_deg=90.0, distance_nm=82.0), components=CLASS_L)
    leg, log = middle_leg(low, far, altitude_ft=4500.0)
    gap = next(stretch for stretch in leg.stretches if stretch.state is ReceptionState.NOT_PROMISED)
    assert (gap.from_nm, gap.to_nm) == (pytest.approx(40.0, abs=0.05), pytest.approx(42.0, abs=0.05))
    assert leg.changeover_nm == pytest.approx(40.0, abs=0.05)
    assert words(log, "guidance-gap") == (
        "No guidance from 40.0 to 42.0 NM of leg 2: hold the heading for 1 min and fix your position by eye."
    )


def test_agrees_with_two_class_l_volumes_80_nm_apart_that_they_meet_half_way():
    low = replace(AAA, components=CLASS_L)
    far = a_vor("FAR", destination(AAA.position, bearing_true_deg=90.0, distance_nm=79.99), components=CLASS_L)
    leg, _ = middle_leg(low, far, altitude_ft=4500.0)
    assert leg.changeover_nm == pytest.approx(40.0, abs=0.05)
    assert gaps(leg.stretches) == ()


def test_a_beacon_off_the_air_is_not_tuned():
    silent = replace(AAA, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.WITHDRAWN),))
    leg, _ = middle_leg(silent, BBB)
    assert (leg.changeover_nm, [guidance.beacon.ident for guidance in leg.guidance]) == (None, ["BBB"])
    assert "AAA is withdrawn from service: fly the whole of leg 2 on BBB." in [note.message for note in leg.notes]


def test_a_leg_that_needs_a_beacon_off_the_air_stops_the_flight():
    silent = replace(BBB, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.OUT_OF_SERVICE),))
    short = replace(AAA, components=(a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.T),))
    leg, log = middle_leg(short, silent)
    assert words(log, "off-the-air").startswith("Leg 2 needs BBB, and BBB is out of service.")
    assert not log.complete and [guidance.beacon.ident for guidance in leg.guidance] == ["AAA"]


@pytest.mark.parametrize(
    ("behind", "ahead", "expected"),
    [
        # both all along
        ([(0, 50, RECEIVED)], [(0, 50, RECEIVED)], 25.0),
        # marginal counts as serving, unknown does not
        ([(0, 50, MARGINAL)], [(0, 50, MARGINAL)], 25.0),
        # of two that serve the one surely received is tuned as long as the other is marginal
        ([(0, 30, MARGINAL), (30, 50, NOT)], [(0, 50, RECEIVED)], 0.0),
        ([(0, 20, RECEIVED), (20, 50, MARGINAL)], [(0, 50, RECEIVED)], 20.0),
        ([(0, 50, RECEIVED)], [(0, 30, MARGINAL), (30, 50, RECEIVED)], 30.0),
        ([(0, 20, RECEIVED), (20, 20.3, MARGINAL), (20.3, 50, RECEIVED)], [(0, 50, RECEIVED)], 25.0),
        ([(0, 10, RECEIVED), (10, 50, UNKNOWN)], [(0, 50, RECEIVED)], 10.0),
        # heard late at first, as from a valley: the one ahead serves all along; if it does not, the one behind is kept until it is lost
        ([(0, 2, NOT), (2, 20, RECEIVED), (20, 50, NOT)], [(0, 50, RECEIVED)], 0.0),
        ([(0, 2, NOT), (2, 20, RECEIVED), (20, 50, NOT)], [(0, 10, NOT), (10, 50, RECEIVED)], 20.0),
        ([(0, 30, NOT), (30, 50, RECEIVED)], [(0, 50, RECEIVED)], 0.0),
        # lost again on the way in, as in a descent into a valley
        ([(0, 50, RECEIVED)], [(0, 10, RECEIVED), (10, 50, NOT)], 50.0),
        # what is regained after a loss does not count for the beacon behind
        ([(0, 20, RECEIVED), (20, 22, NOT), (22, 50, RECEIVED)], [(0, 50, RECEIVED)], 20.0),
        # a gap: where the one behind is lost
        ([(0, 20, RECEIVED), (20, 50, NOT)], [(0, 30, NOT), (30, 50, RECEIVED)], 20.0),
        # nobody
        ([(0, 50, NOT)], [(0, 50, NOT)], 0.0),
        # a moment without signal is nothing
        ([(0, 5, RECEIVED), (5, 5.4, NOT), (5.4, 50, RECEIVED)], [(0, 50, RECEIVED)], 25.0),
        # no unbroken hand-over: the beacon behind drops out for a mile and comes back, and only it serves until the one ahead is heard
        ([(0, 5, RECEIVED), (5, 6, NOT), (6, 40, RECEIVED), (40, 50, NOT)], [(0, 15, NOT), (15, 50, RECEIVED)], 25.0),
        ([(0, 5, RECEIVED), (5, 6, NOT), (6, 20, RECEIVED), (20, 50, NOT)], [(0, 15, NOT), (15, 50, RECEIVED)], 20.0),
        ([(0, 35, RECEIVED), (35, 50, NOT)], [(0, 30, NOT), (30, 44, RECEIVED), (44, 45, NOT), (45, 50, RECEIVED)], 30.0),
    ],
)
def test_the_point_nearest_half_way_that_both_serve_is_chosen(behind, ahead, expected: float):
    surveys = [tuple(a_stretch(*part) for part in parts) for parts in (behind, ahead)]
    assert changeover_nm(*surveys) == expected


@pytest.mark.parametrize(
    ("slim_behind", "slim_ahead", "expected"),
    [
        # little to spare from 20 NM on, while the other has more: tune the other
        (((20.0, 50.0),), (), 20.0),
        ((), ((0.0, 31.0),), 31.0),
        # both have little to spare about half way: neither is better
        (((20.0, 50.0),), ((0.0, 30.0),), 25.0),
        # a few seconds are nothing
        (((24.8, 25.2),), (), 25.0),
    ],
)
def test_of_two_received_the_one_with_little_to_spare_is_left(slim_behind, slim_ahead, expected: float):
    whole = (a_stretch(0, 50, RECEIVED),)
    assert changeover_nm(whole, whole, slim_behind, slim_ahead) == expected


def test_what_is_marginal_counts_before_what_is_to_spare():
    behind, ahead = (a_stretch(0, 50, RECEIVED),), (a_stretch(0, 30, MARGINAL), a_stretch(30, 50, RECEIVED))
    assert changeover_nm(behind, ahead, ((20.0, 50.0),), ()) == 30.0


def horizon_nm(altitude_ft: float, antenna_ft: float) -> float:
    """1.23 (sqrt(h1) + sqrt(h2)), h in feet: the radio horizon of the textbooks (ITU-R P.310, k = 4/3)."""
    return 1.23 * (math.sqrt(altitude_ft) + math.sqrt(antenna_ft))


def test_over_the_sea_the_lower_mast_is_tuned_from_where_it_has_200_ft_to_spare():
    """120 NM apart at 2,100 ft: a mast of 25 ft is seen for 62.5 NM, so it serves half way. 200 ft lower, as the practical test allows
    (FAA-S-ACS-6B, VI.B.S7), it is seen for 59.8 NM only, and one of 400 ft for 78.2. At 2,400 ft the lower one has 63.8: half way again."""
    masts = [
        a_vor("MMA", AAA.position, antenna_height_ft=400.0),
        a_vor("MMB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=120.0), antenna_height_ft=25.0),
    ]
    far = {"start": ENDS["start"], "end": destination(masts[1].position, bearing_true_deg=90.0, distance_nm=30.0)}
    leg, log = middle_leg(*masts, altitude_ft=2100.0, ground=level(0.0, west=-39.0, east=-32.0), **far)
    expected_nm = leg.distance_nm - horizon_nm(1900.0, 25.0)
    assert expected_nm > leg.distance_nm / 2.0 + 0.1
    assert leg.changeover_nm == pytest.approx(expected_nm, abs=0.15)
    assert gaps(leg.stretches) == ()
    assert words(log, "changeover-moved").endswith(f"MMB has less than 200 ft to spare before {leg.changeover_nm:.1f} NM.")
    higher, _ = middle_leg(*masts, altitude_ft=2400.0, ground=level(0.0, west=-39.0, east=-32.0), **far)
    assert higher.changeover_nm == pytest.approx(higher.distance_nm / 2.0, abs=0.01)


def test_a_cone_overhead_neither_ends_nor_begins_what_a_beacon_serves():
    cone = (Cause.OVERHEAD_CONE,)
    behind = (a_stretch(0, 1, NOT, *cone), a_stretch(1, 30, RECEIVED), a_stretch(30, 50, NOT, Cause.TERRAIN))
    ahead = (a_stretch(0, 26, NOT, Cause.TERRAIN), a_stretch(26, 49, RECEIVED), a_stretch(49, 50, NOT, *cone))
    assert changeover_nm(behind, ahead) == 26.0


def test_a_gap_shorter_than_half_a_mile_is_no_line_of_the_log():
    stretches = (a_stretch(0, 10, RECEIVED), a_stretch(10, 10.4, NOT), a_stretch(10.4, 20, RECEIVED), a_stretch(20, 20.5, UNKNOWN))
    assert gaps(stretches) == ((20, 20.5),)


def test_neighbouring_parts_without_guidance_are_one_gap():
    assert gaps((a_stretch(0, 2, NOT, Cause.TERRAIN), a_stretch(2, 3, UNKNOWN, Cause.TERRAIN_UNKNOWN), a_stretch(3, 9, RECEIVED))) == (
        (0, 3),
    )


def test_a_changeover_that_the_user_chose_holds_with_its_reason():
    chosen = LegChoice(changeover_nm=5.0, changeover_reason="the valley")
    leg, log = middle_leg(AAA, BBB, onward=chosen)
    assert leg.changeover_nm == 5.0 and leg.changeover_chosen and leg.changeover_reason == "the valley"
    assert [(guidance.from_nm, guidance.to_nm) for guidance in leg.guidance] == [(0.0, 5.0), (5.0, pytest.approx(leg.distance_nm))]
    assert words(log, "changeover-chosen") == "The changeover of leg 2 was chosen at 5.0 NM: the valley."
    assert "changeover-moved" not in codes(log)


def test_a_chosen_changeover_that_leaves_a_silence_is_told_where():
    short = replace(AAA, components=(a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.T),))
    leg, log = middle_leg(short, BBB, onward=LegChoice(changeover_nm=40.0))
    assert leg.changeover_nm == 40.0
    told = words(log, "changeover-not-received")
    assert "AAA is tuned from 25.0 to 40.0 NM and cannot be counted on there" in told  # class T reaches 25 NM: AIM TBL 1-1-1


def test_a_chosen_changeover_beyond_the_leg_is_no_changeover_of_it():
    leg, _ = middle_leg(AAA, BBB, onward=LegChoice(changeover_nm=900.0))
    assert not leg.changeover_chosen and leg.changeover_nm == pytest.approx(leg.distance_nm / 2.0)
