"""Which line crosses the track best at each place, what it should read there, and the picture of the guiding beacon."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from server.navigation import Alignment, AlignmentKind, Position, destination, distance_nm, inverse
from server.navigation.indicator import Flag
from server.planning import plan
from server.planning.cross_checks import CrossCheck, cross_checks_of_legs
from server.planning.crossing_lines import LineKind
from server.radio import Beacon, BeaconKind, Cause, ComponentKind, ComponentStatus, Outage, ReceptionState, ServiceClass
from tests.planning.planning_builders import a_part, a_vor, an_ndb, materials_for, over, ridge

AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.8))
BBB = a_vor("BBB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=60.0))
ENDS = {"start": Position(lat_deg=43.6, lon_deg=-37.4), "end": Position(lat_deg=43.6, lon_deg=-34.8)}
TRACK_DEG = inverse(AAA.position, BBB.position).initial_true_deg
HALF_WAY = destination(AAA.position, bearing_true_deg=90.0, distance_nm=30.0)
FT_PER_NM = 6076.115
BOTH_PARTS = (a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE))


def beside(ident: str, off_track_deg: float, away_nm: float, **changes) -> Beacon:
    """A VOR seen from half way under this angle right of the track."""
    onward_deg = inverse(HALF_WAY, BBB.position).initial_true_deg
    return a_vor(ident, destination(HALF_WAY, bearing_true_deg=onward_deg + off_track_deg, distance_nm=away_nm), **changes)


def checks_between(*others: Beacon, guides=(AAA, BBB), **changes) -> tuple[CrossCheck, ...]:
    """The cross-checks of the leg of 60 NM between two beacons: with the tourer in still air at 9, 18, 27 and 36 minutes."""
    materials = materials_for(*(over(guide) for guide in guides), beacons=(*guides, *others), **{**ENDS, **changes})
    log = plan(materials).log
    return cross_checks_of_legs(log.legs, log.profile, materials)[1]


def half_way(*others: Beacon, **changes) -> CrossCheck:
    return checks_between(*others, **changes)[1]


def test_places_are_about_ten_minutes_apart_and_the_last_is_the_end_of_the_leg():
    checks = checks_between()
    assert [check.place.minutes for check in checks] == pytest.approx([9.0, 18.0, 27.0, 36.0], abs=0.01)
    assert [check.place.at_nm for check in checks] == pytest.approx([15.0, 30.0, 45.0, 60.0], abs=0.01)
    assert [check.place.name for check in checks] == ["", "", "", "Bbb Hill"]
    assert checks[1].place.altitude_ft == 6500.0
    assert distance_nm(checks[1].place.position, HALF_WAY) < 0.01


def test_without_an_aircraft_places_are_15_nm_apart_and_nothing_is_timed():
    checks = checks_between(an_ndb("NNN", destination(HALF_WAY, bearing_true_deg=0.0, distance_nm=10.0)), aircraft_id=None)
    assert [check.place.at_nm for check in checks] == pytest.approx([15.0, 30.0, 45.0, 60.0], abs=0.01)
    assert {check.place.minutes for check in checks} == {None}
    (line,) = checks[1].lines
    assert line.bearing_magnetic_deg is not None and line.relative_bearing_deg is None


def test_a_radial_square_to_the_track_reads_the_bearing_less_the_stations_own_alignment():
    """By hand: 20 NM to the left of an eastward track, so the aircraft is south: 180 true, 188 at a station turned 8 W; 20 tan 5 = 1.75."""
    check = half_way(beside("CCC", -90.0, 20.0))
    (line,) = check.lines
    assert (line.kind, line.beacon.ident, line.state) == (LineKind.RADIAL, "CCC", ReceptionState.RECEIVED)
    assert line.radial_deg == pytest.approx(188.0, abs=0.5)
    assert line.cut_deg == pytest.approx(90.0, abs=0.05)
    assert line.along_track_error_nm == pytest.approx(1.75, abs=0.01)
    assert (line.differs_deg, line.differs_nm) == (5.0, None)
    assert not line.weak and not line.estimated


@pytest.mark.parametrize(
    ("off_track_deg", "offered", "weak"), [(29.0, False, None), (31.0, True, True), (44.0, True, True), (46.0, True, False)]
)
def test_a_cut_under_30_degrees_is_refused_and_one_under_45_is_weak(off_track_deg, offered, weak):
    for side in (-1, 1):
        for ahead in (0.0, 180.0):
            lines = half_way(beside("CCC", ahead + side * off_track_deg, 25.0)).lines
            assert [line.weak for line in lines] == ([weak] if offered else [])


def test_the_smaller_error_goes_first_and_a_good_cut_before_a_weak_one():
    near_weak, far_good, farther = beside("WEK", 35.0, 8.0), beside("CCC", 80.0, 30.0), beside("DDD", -80.0, 45.0)
    assert [line.beacon.ident for line in half_way(near_weak, farther, far_good).lines] == ["CCC"]
    assert [line.beacon.ident for line in half_way(near_weak, farther).lines] == ["DDD"]
    assert [line.beacon.ident for line in half_way(near_weak).lines] == ["WEK"]


def test_a_beacon_behind_a_ridge_is_never_offered_however_near():
    """A ridge of 3,000 m between 6,500 ft and an antenna 20 ft up cannot be looked over."""
    behind = beside("HID", 35.0, 20.0, antenna_height_ft=20.0)
    far = beside("CCC", 120.0, 60.0)
    ground = ridge(3000.0, HALF_WAY.lon_deg + 0.15)
    assert [line.beacon.ident for line in half_way(behind, far).lines] == ["CCC"]  # 35 degrees is weak
    assert [line.beacon.ident for line in half_way(behind, ground=ground).lines] == []
    assert [line.beacon.ident for line in half_way(behind).lines] == ["HID"]


def test_a_beacon_is_asked_at_the_height_really_flown_and_so_not_offered_low_in_the_climb():
    """An antenna at sea level 60 NM off: the horizon of a 4/3 earth is at 1.2287 sqrt(h), so 2,385 ft is needed. The first leg, 4 NM at
    75 kt and 600 ft/min, ends at 1,920 ft."""
    low = a_vor("LOW", destination(AAA.position, bearing_true_deg=0.0, distance_nm=60.0), antenna_height_ft=0.0)
    near = {"start": destination(AAA.position, bearing_true_deg=270.0, distance_nm=4.0), "end": ENDS["end"]}
    log = plan(materials := materials_for(over(AAA), beacons=(AAA, low), **near)).log
    climbing, cruising = cross_checks_of_legs(log.legs, log.profile, materials)
    assert climbing[-1].place.altitude_ft == pytest.approx(1920.0, abs=5.0)
    assert climbing[-1].lines == ()
    assert [line.beacon.ident for line in cruising[0].lines] == ["LOW"]


def test_a_marginal_beacon_is_flagged_and_goes_after_a_received_one():
    doubtful = beside("DBT", 90.0, 5.0, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.UNKNOWN),))
    (line,) = half_way(doubtful).lines
    assert line.marginal and line.causes == (Cause.STATUS_UNKNOWN,)
    assert [line.beacon.ident for line in half_way(doubtful, beside("CCC", 80.0, 40.0)).lines] == ["CCC"]


def test_what_is_withdrawn_or_for_the_military_only_is_not_offered():
    gone = beside("WDN", 90.0, 5.0, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.WITHDRAWN),))
    tacan = beside("TCN", 90.0, 5.0, kind=BeaconKind.TACAN)
    assert half_way(gone, tacan).lines == ()


def test_the_dme_of_the_guiding_beacon_is_square_to_the_track_and_prints_what_it_shows():
    """Slant range by Pythagoras, the antenna 100 ft up; 0.25 NM + 1.25 % of ICAO Annex 10."""
    guide = replace(AAA, kind=BeaconKind.VOR_DME, components=BOTH_PARTS)
    (line,) = half_way(guides=(guide, BBB)).lines
    slant_nm = math.hypot(30.0, 6400.0 / FT_PER_NM)
    assert (line.kind, line.component) == (LineKind.DISTANCE, ComponentKind.DISTANCE)
    assert line.dme_nm == pytest.approx(slant_nm, abs=0.002)
    assert line.cut_deg == pytest.approx(90.0, abs=0.05)
    assert line.differs_nm == pytest.approx(0.25 + 0.0125 * slant_nm)
    assert line.along_track_error_nm == pytest.approx((0.25 + 0.0125 * slant_nm) * slant_nm / 30.0, rel=1e-3)


def test_a_dme_that_stands_apart_is_measured_to_where_it_stands():
    apart = destination(AAA.position, bearing_true_deg=270.0, distance_nm=1.4)
    guide = replace(AAA, kind=BeaconKind.VOR_DME, components=(BOTH_PARTS[0], replace(BOTH_PARTS[1], position=apart, elevation_ft=0.0)))
    check = half_way(guides=(guide, BBB))
    assert check.lines[0].dme_nm == pytest.approx(math.hypot(31.4, 6400.0 / FT_PER_NM), abs=0.01)
    assert check.picture is not None and check.picture.dme_nm == pytest.approx(check.lines[0].dme_nm, abs=1e-6)


def test_a_direction_is_kept_beside_a_better_distance_for_who_has_no_dme():
    both = beside("CCC", 90.0, 25.0)
    guide = replace(AAA, kind=BeaconKind.VOR_DME, components=BOTH_PARTS)
    lines = half_way(both, guides=(guide, BBB)).lines
    assert [(line.kind, line.beacon.ident) for line in lines] == [(LineKind.DISTANCE, "AAA"), (LineKind.RADIAL, "CCC")]


def test_an_ndb_is_told_by_its_bearing_and_where_the_pointer_stands_and_only_within_30_nm():
    """In still air the heading is the track, so 90 degrees right of the track is 090 from the nose."""
    (line,) = half_way(an_ndb("NNN", beside("X", 90.0, 20.0).position)).lines
    assert line.kind is LineKind.BEARING
    assert line.relative_bearing_deg == pytest.approx(90.0, abs=0.5)
    assert line.error_nm == pytest.approx(20.0 * math.tan(math.radians(6.9)), rel=1e-3)
    assert half_way(an_ndb("NNN", beside("X", 90.0, 31.0).position)).lines == ()


def test_an_alignment_that_is_not_published_makes_the_line_worse():
    """5 degrees of the receiver and 5 of the estimate, independent: 7.07."""
    (line,) = half_way(beside("CCC", 90.0, 20.0, alignment=Alignment(kind=AlignmentKind.UNKNOWN))).lines
    assert line.estimated and line.differs_deg == pytest.approx(math.sqrt(50.0))
    grid = beside("GRD", 90.0, 20.0, alignment=Alignment(kind=AlignmentKind.GRID))
    assert half_way(grid).lines == ()


def test_an_outage_after_midnight_counts_for_a_flight_that_is_under_way_then():
    part = a_part(ComponentKind.AZIMUTH, outages=(Outage(first_day=date(2026, 8, 2), last_day=date(2026, 8, 2)),))
    beacon = beside("CCC", 90.0, 20.0, components=(part,))
    assert half_way(beacon).lines != ()
    assert half_way(beacon, departure_utc=datetime(2026, 8, 1, 23, 30, tzinfo=UTC)).lines == ()


def test_beyond_the_published_class_nothing_is_offered():
    beacon = beside("CCC", 90.0, 41.0, components=(a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),))
    assert half_way(beacon).lines == ()
    assert half_way(replace(beacon, position=beside("X", 90.0, 39.0).position)).lines != ()


def test_the_picture_is_needle_centred_from_behind_and_to_ahead_and_overhead_at_the_turning_point():
    guide = replace(AAA, kind=BeaconKind.VOR_DME, components=BOTH_PARTS)
    first, _, third, last = (check.picture for check in checks_between(guides=(guide, BBB)))
    assert first is not None and first.indication is not None and first.heard
    assert (first.beacon.ident, first.indication.flag) == ("AAA", Flag.FROM)
    assert abs(first.indication.needle_deg) < 0.01
    assert first.dme_nm == pytest.approx(math.hypot(15.0, 6400.0 / FT_PER_NM), abs=0.002)
    assert third is not None and third.indication is not None
    assert (third.beacon.ident, third.indication.flag, third.dme_nm) == ("BBB", Flag.TO, None)
    assert last is not None and last.overhead and last.indication is None and not last.heard


def test_a_fix_with_the_guiding_radial_is_told_where_a_vor_guides():
    """At half way: 30 tan 5 = 2.62 NM across by the guide, 20 tan 5 = 1.75 NM along by the other, square; two dimensions 2.4477/1.96."""
    (line,) = half_way(beside("CCC", 90.0, 20.0)).lines
    assert line.fix is not None
    assert line.fix.major_nm == pytest.approx(2.625 * 2.4477 / 1.96, abs=0.01)
    assert line.fix.minor_nm == pytest.approx(1.750 * 2.4477 / 1.96, abs=0.01)


def test_a_leg_that_nothing_guides_has_no_picture_and_is_checked_all_the_same():
    crossing = a_vor("CCC", Position(lat_deg=43.2, lon_deg=-36.5))
    materials = materials_for(beacons=(crossing,))
    log = plan(materials).log
    (checks,) = cross_checks_of_legs(log.legs, log.profile, materials)
    assert {check.picture for check in checks} == {None}
    assert any(check.lines and check.lines[0].fix is None for check in checks)


def test_a_region_without_beacons_gives_places_and_nothing_to_tune():
    materials = materials_for(beacons=())
    log = plan(materials).log
    (checks,) = cross_checks_of_legs(log.legs, log.profile, materials)
    assert checks and {check.lines for check in checks} == {()}
