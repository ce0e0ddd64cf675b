"""Over a beacon: how long the needle means nothing, what is shown before and after, and what to change."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from server.navigation import NorthReference, Position, WindLayer, destination
from server.navigation.indicator import Flag
from server.planning import plan
from server.planning.passage import Passage, passages_of_legs
from server.radio import BeaconKind, ComponentKind, ComponentStatus
from tests.planning.planning_builders import a_part, a_vor, an_ndb, at, level, materials_for, over

AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.5))
FEET_PER_NM = 6076.115


def passages(*beacons, turn_deg: float = 0.0, away_nm: float = 45.0, out_nm: float = 45.0, **changes) -> tuple[Passage, ...]:
    """Fly eastward to the first of the beacons from 45 NM away, turn there, and fly 45 NM on; the others lie on the way out."""
    start = destination(beacons[0].position, bearing_true_deg=270.0, distance_nm=away_nm)
    end = destination(beacons[-1].position, bearing_true_deg=90.0 + turn_deg, distance_nm=out_nm)
    materials = materials_for(*(over(beacon) for beacon in beacons), **({"beacons": beacons, "start": start, "end": end} | changes))
    log = plan(materials).log
    return passages_of_legs(log.legs, log.profile, materials)


@pytest.mark.parametrize(("height_ft", "radius_nm", "seconds"), [(2000, 0.4, 28), (5000, 1.0, 71), (8500, 1.7, 120)])
def test_agrees_with_common_figures_of_the_time_in_the_cone(height_ft, radius_nm, seconds):
    """50 degrees from the vertical (ICAO Doc 8168, from memory), 100 kt in still air; figures of common practice, to two digits."""
    (passage,) = passages(AAA, altitude_ft=height_ft + 100.0)
    assert passage.height_ft == pytest.approx(height_ft)
    assert passage.before.reach_nm == pytest.approx(radius_nm, abs=0.05)
    assert passage.after.reach_nm == pytest.approx(passage.before.reach_nm, abs=1e-6)
    assert passage.minutes_in_cone is not None
    assert passage.minutes_in_cone * 60.0 == pytest.approx(seconds, rel=0.025)


def test_the_cone_of_an_ndb_is_narrower():
    """40 degrees from the vertical (ICAO Doc 8168, from memory): 5,000 ft x tan 40 = 0.690 NM."""
    (passage,) = passages(an_ndb("NNN", AAA.position), altitude_ft=5100.0)
    assert passage.component is ComponentKind.BEARING
    assert passage.before.reach_nm == pytest.approx(0.690, abs=0.001)
    assert (passage.before.shown, passage.after.shown, passage.changes_course) == (None, None, None)


def test_straight_on_the_flag_turns_from_to_to_from_and_nothing_is_changed():
    (passage,) = passages(AAA)
    assert passage.before.shown is not None and passage.after.shown is not None
    assert (passage.before.shown.flag, passage.after.shown.flag) == (Flag.TO, Flag.FROM)
    assert abs(passage.before.shown.needle_deg) < 0.1 and abs(passage.after.shown.needle_deg) < 0.1
    assert passage.changes_course is False and passage.guides_on and passage.reversed_if_not_changed is False
    assert abs(passage.turn_deg or 0.0) < 0.1


@pytest.mark.parametrize(("turn_deg", "flag", "lies_deg"), [(25.0, Flag.FROM, -25.0), (-40.0, Flag.FROM, 40.0), (120.0, Flag.TO, -60.0)])
def test_after_a_turn_the_old_course_shows_what_the_truth_table_says(turn_deg, flag, lies_deg):
    """Right turn: one leaves right of the old course, so the needle is left. Beyond 90 degrees the flag stays TO (FAA-H-8083-15)."""
    (passage,) = passages(AAA, turn_deg=turn_deg)
    assert passage.turn_deg == pytest.approx(turn_deg, abs=0.1)
    assert passage.changes_course is True
    assert passage.shown_if_not_changed is not None
    assert passage.shown_if_not_changed.flag is flag
    assert passage.shown_if_not_changed.course_lies_deg == pytest.approx(lies_deg, abs=0.1)
    assert passage.reversed_if_not_changed is (abs(turn_deg) > 90.0)
    assert passage.after.shown is not None and passage.after.shown.flag is Flag.FROM and abs(passage.after.shown.needle_deg) < 0.1


def test_the_course_to_select_is_that_of_the_station():
    """East out of a station turned 8 W is its 098 radial; 25 degrees to the right 123."""
    (passage,) = passages(AAA, turn_deg=25.0)
    assert passage.before.guidance is not None and passage.after.guidance is not None
    assert passage.before.guidance.selected_course_deg == pytest.approx(98.0, abs=0.6)
    assert passage.after.guidance.selected_course_deg == pytest.approx(123.0, abs=0.6)


def test_a_climb_through_the_cone_makes_it_narrower_before_than_after():
    """12 NM at 75 kt and 600 ft/min: 5,760 ft over the beacon, less before and more after it."""
    (passage,) = passages(AAA, away_nm=12.0, altitude_ft=9500.0)
    assert passage.before.reach_nm is not None and passage.after.reach_nm is not None
    assert passage.altitude_ft == pytest.approx(5760.0, abs=20.0)
    for side, reach_nm in ((-1, passage.before.reach_nm), (1, passage.after.reach_nm)):
        height_nm = (passage.altitude_ft + side * reach_nm / 75.0 * 60.0 * 600.0 - 100.0) / FEET_PER_NM
        assert reach_nm == pytest.approx(height_nm * math.tan(math.radians(50.0)), abs=1e-3)
    assert passage.before.reach_nm < passage.after.reach_nm


def test_over_the_beacon_a_dme_reads_the_height_in_miles():
    """6,076 ft over it: 1.0 NM (FAA item). One that stands 1.4 NM off never reads less than that."""
    parts = (a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE))
    (passage,) = passages(replace(AAA, kind=BeaconKind.VOR_DME, components=parts), altitude_ft=6176.0)
    assert passage.dme_overhead_nm == pytest.approx(1.0, abs=0.002)
    apart = replace(parts[1], position=destination(AAA.position, bearing_true_deg=0.0, distance_nm=1.4), elevation_ft=0.0)
    (passage,) = passages(replace(AAA, kind=BeaconKind.VOR_DME, components=(parts[0], apart)), altitude_ft=6176.0)
    assert passage.dme_overhead_nm == pytest.approx(math.hypot(1.0, 1.4), abs=0.002)
    assert passages(AAA)[0].dme_overhead_nm is None


def test_each_beacon_of_the_route_is_passed_and_a_checkpoint_is_not():
    bbb = a_vor("BBB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=50.0))
    assert [passage.beacon.ident for passage in passages(AAA, bbb)] == ["AAA", "BBB"]
    materials = materials_for(at(AAA.position, "Farm"), beacons=(AAA,))
    log = plan(materials).log
    assert passages_of_legs(log.legs, log.profile, materials) == ()


def test_wind_makes_the_time_before_and_after_a_turn_differ_but_not_the_distance():
    west = (WindLayer(altitude_ft=0.0, from_deg=270.0, speed_kt=25.0, reference=NorthReference.TRUE),)
    (passage,) = passages(AAA, turn_deg=179.0, altitude_ft=5100.0, winds=west)
    assert passage.before.reach_nm == pytest.approx(passage.after.reach_nm, abs=1e-6)
    assert passage.before.minutes == pytest.approx(0.981 / 125.0 * 60.0, rel=0.01)
    assert passage.after.minutes == pytest.approx(0.981 / 75.0 * 60.0, rel=0.01)


def test_without_an_aircraft_distances_are_told_and_times_are_not():
    (passage,) = passages(AAA, aircraft_id=None)
    assert passage.before.reach_nm is not None and passage.after.reach_nm is not None
    assert (passage.minutes_in_cone, passage.before.minutes, passage.before.heading_magnetic_deg) == (None, None, None)
    assert passage.before.shown is not None


def test_a_station_of_unknown_elevation_has_no_cone_to_tell():
    unknown = level(0.0, south=10.0, north=11.0, west=10.0, east=11.0)
    (passage,) = passages(replace(AAA, elevation_ft=None), ground=unknown)
    assert (passage.height_ft, passage.before.reach_nm, passage.minutes_in_cone) == (None, None, None)
    assert (passage.before.shown, passage.after.shown) == (None, None)


def test_a_beacon_off_the_air_is_passed_without_anything_to_see():
    dead = replace(AAA, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.OUT_OF_SERVICE),))
    (passage,) = passages(dead)
    assert (passage.before.guidance, passage.after.guidance, passage.guides_on, passage.changes_course) == (None, None, False, None)
    assert passage.before.reach_nm is not None
