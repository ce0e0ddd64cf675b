"""Stretches without guidance: the heading to hold, for how long, and how far off one may be after it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from server.navigation import NorthReference, Position, WindLayer, destination
from server.planning import plan
from server.planning.gaps import Gap, gaps_of_leg
from server.planning.log import LogLeg, PartKind
from server.radio import ComponentKind, ServiceClass
from tests.planning.planning_builders import a_part, a_tourer, a_vor, materials_for, over

CLASS_L = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),)
AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-37.0), components=CLASS_L)
ENDS = {"start": Position(lat_deg=43.6, lon_deg=-37.4), "end": Position(lat_deg=43.6, lon_deg=-34.6)}
TAN_5 = math.tan(math.radians(5.0))


def leg_between_class_l(apart_nm: float, **changes) -> LogLeg:
    far = a_vor("FAR", destination(AAA.position, bearing_true_deg=90.0, distance_nm=apart_nm), components=CLASS_L)
    return plan(materials_for(over(AAA), over(far), beacons=(AAA, far), **(ENDS | {"altitude_ft": 4500.0} | changes))).log.legs[1]


def gap_between_class_l(apart_nm: float, **changes) -> Gap:
    (gap,) = gaps_of_leg(leg_between_class_l(apart_nm, **changes))
    return gap


def test_agrees_with_two_class_l_stations_89_nm_apart_and_a_hold_of_five_and_a_half_minutes():
    """AIM TBL 1-1-1: 40 NM each, so 9 NM between them; at 98 kt that is 5.5 min. In still air the heading is the magnetic track."""
    leg = leg_between_class_l(89.0, aircraft=a_tourer(cruise_speed_kt=98.0))
    (gap,) = gaps_of_leg(leg)
    assert (gap.from_nm, gap.to_nm) == (pytest.approx(40.0, abs=0.05), pytest.approx(49.0, abs=0.05))
    assert gap.certain
    assert gap.minutes == pytest.approx(5.5, abs=0.05)
    (held,) = gap.hold
    assert held.heading_magnetic_deg == pytest.approx(leg.track_magnetic_deg)
    assert held.minutes == pytest.approx(gap.minutes)


def test_how_far_off_one_may_be_adds_up_from_the_radial_the_heading_and_the_wind():
    """5 degrees of a VOR at 40 NM, 5 degrees of heading over 9 NM, 10 kt for 5.4 min: 3.50, 0.79, 0.90; the root of their squares 3.70."""
    gap = gap_between_class_l(89.0)
    assert gap.off_at_start_nm == pytest.approx(40.0 * TAN_5, abs=0.01)
    assert gap.off_by_heading_nm == pytest.approx(9.0 * TAN_5, abs=0.01)
    assert gap.off_by_wind_nm == pytest.approx(0.90, abs=0.01)
    assert gap.off_at_end_nm == pytest.approx(3.70, abs=0.02)


def test_a_longer_gap_leaves_one_farther_off():
    off = [gap_between_class_l(apart_nm).off_at_end_nm for apart_nm in (82.0, 86.0, 90.0)]
    assert None not in off and off == sorted(off) and off[0] < off[-1]


def test_without_an_aircraft_or_a_wind_the_distance_is_told_and_no_time():
    for missing in ({"aircraft_id": None}, {"winds": ()}):
        gap = gap_between_class_l(89.0, **missing)
        assert gap.length_nm == pytest.approx(9.0, abs=0.1)
        assert (gap.minutes, gap.off_by_wind_nm, gap.off_at_end_nm) == (None, None, None)
        assert {held.heading_magnetic_deg for held in gap.hold} == {None}
        assert gap.off_by_heading_nm == pytest.approx(9.0 * TAN_5, abs=0.02)


def test_a_leg_with_guidance_all_along_has_no_gap():
    assert gaps_of_leg(leg_between_class_l(79.0)) == ()


def test_a_leg_nothing_guides_is_one_gap_with_a_heading_for_each_part_of_it():
    """Climb, level flight and descent have each their own airspeed in the wind, and so their own heading. The field is a known point."""
    north = (WindLayer(altitude_ft=0.0, from_deg=0.0, speed_kt=25.0, reference=NorthReference.TRUE),)
    (leg,) = plan(materials_for(winds=north)).log.legs
    (gap,) = gaps_of_leg(leg)
    assert (gap.from_nm, gap.to_nm, gap.off_at_start_nm) == (0.0, leg.distance_nm, 0.0)
    assert [part.kind for part in leg.parts] == [PartKind.CLIMB, PartKind.LEVEL, PartKind.DESCENT]
    assert [held.heading_magnetic_deg for held in gap.hold] == [part.heading_magnetic_deg for part in leg.parts]
    assert len({round(held.heading_magnetic_deg or 0.0) for held in gap.hold}) >= 2
    assert gap.minutes == pytest.approx(leg.time_min)
    assert sum(held.minutes or 0.0 for held in gap.hold) == pytest.approx(gap.minutes)


def test_a_gap_across_the_top_of_climb_is_held_in_two_headings():
    """A climb of 6,000 ft at 113 ft/min takes 53 min, some 63 NM at 71 kt: its top is about 44 NM from the first station."""
    north = (WindLayer(altitude_ft=0.0, from_deg=0.0, speed_kt=25.0, reference=NorthReference.TRUE),)
    slow = a_tourer(climb_rate_ft_per_min=113.0)
    leg = leg_between_class_l(89.0, aircraft=slow, winds=north, altitude_ft=6000.0)
    gap = gaps_of_leg(leg)[-1]
    top_nm = leg.parts[0].to_nm
    assert gap.from_nm < top_nm < gap.to_nm
    assert [(held.from_nm, held.to_nm) for held in gap.hold] == [(gap.from_nm, top_nm), (top_nm, gap.to_nm)]
    assert sum(held.minutes or 0.0 for held in gap.hold) == pytest.approx(gap.minutes)


def test_a_leg_of_no_length_has_no_gap():
    leg = replace(leg_between_class_l(89.0), track_true_deg=None)
    assert gaps_of_leg(leg) == ()
