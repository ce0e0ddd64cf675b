"""The two beacons that make a place near the middle of a leg. Expected values by hand, or by a fix solved on the ellipsoid."""

from __future__ import annotations

import math

import pytest

from server.navigation import Alignment, AlignmentKind, Position, destination, distance_nm, two_radial_fix, variation
from server.planning import plan
from server.planning.lost_strip import DISTRESS, LostStrip
from server.radio import Beacon, BeaconKind, Cause, ComponentKind, ComponentStatus, ReceptionState
from tests.planning.planning_builders import DAY, FROM, TO, a_part, a_vor, an_ndb, materials_for, ridge

FT_PER_NM = 6076.115
LENGTH_NM = distance_nm(FROM, TO)
BOTH_PARTS = (a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE))


def the_middle() -> Position:
    """Half way along the geodesic of the only leg."""
    from pyproj import Geod

    lon_deg, lat_deg = Geod(ellps="WGS84").npts(FROM.lon_deg, FROM.lat_deg, TO.lon_deg, TO.lat_deg, 1)[0]
    return Position(lat_deg=lat_deg, lon_deg=lon_deg)


HALF_WAY = the_middle()


def seen_at(ident: str, off_true_deg: float, away_nm: float, **changes) -> Beacon:
    """A VOR in this direction from half way."""
    return a_vor(ident, destination(HALF_WAY, bearing_true_deg=off_true_deg, distance_nm=away_nm), **changes)


def strip_of(*beacons: Beacon, **changes) -> LostStrip:
    (strip,) = plan(materials_for(beacons=beacons, **changes)).log.lost
    return strip


def idents(strip: LostStrip) -> list[str]:
    return [line.beacon.ident for line in strip.lines]


def test_two_radials_make_the_middle_of_the_leg():
    """North of the aircraft: it is on true 180 from the station, radial 188 of one turned 8 W; west of it on 090, radial 098."""
    strip = strip_of(seen_at("NOR", 0.0, 20.0), seen_at("WES", 270.0, 20.0))
    radials = {line.beacon.ident: line.radial_deg for line in strip.lines}
    assert radials == {"NOR": pytest.approx(188.0, abs=0.01), "WES": pytest.approx(98.0, abs=0.35)}
    assert strip.cut_deg == pytest.approx(90.0, abs=0.5)
    assert (strip.at_nm, strip.altitude_ft) == (pytest.approx(LENGTH_NM / 2.0), 6500.0)
    assert not strip.weak and not any(line.estimated for line in strip.lines)


def test_the_lines_drawn_from_the_stations_cross_where_one_is():
    first, second = (lines := strip_of(seen_at("AAA", 30.0, 35.0), seen_at("BBB", 300.0, 50.0)).lines)
    fix = two_radial_fix(
        first.beacon.position,
        bearing_a_true_deg=first.line_true_deg,
        station_b=second.beacon.position,
        bearing_b_true_deg=second.line_true_deg,
    )
    assert distance_nm(fix.position, HALF_WAY) < 0.01
    assert [line.distance_nm for line in lines] == pytest.approx([35.0, 50.0], abs=1e-3)


def test_the_pair_with_the_smaller_error_is_chosen_not_the_two_nearest():
    """The two nearest cut at 20 degrees, which makes no place."""
    strip = strip_of(seen_at("AAA", 0.0, 10.0), seen_at("BBB", 20.0, 12.0), seen_at("CCC", 85.0, 30.0), seen_at("DDD", 95.0, 60.0))
    assert idents(strip) == ["AAA", "CCC"]


@pytest.mark.parametrize(("cut_deg", "lines", "weak"), [(28.0, 1, False), (32.0, 2, True), (43.0, 2, True), (47.0, 2, False)])
def test_a_cut_under_30_degrees_makes_no_place_and_one_under_45_is_weak(cut_deg, lines, weak):
    for turned_deg in (0.0, 180.0):
        strip = strip_of(seen_at("AAA", 0.0, 20.0), seen_at("BBB", cut_deg + turned_deg, 20.0))
        assert (len(strip.lines), strip.weak) == (lines, weak)
        assert (strip.cut_deg is None) == (strip.fix is None) == (lines == 1)


def test_the_error_of_the_place_is_that_of_two_lines_of_five_degrees():
    """At 20 NM 1.75 NM to each side of each line; square, the worst corner is 1.75 root 2."""
    strip = strip_of(seen_at("NOR", 0.0, 20.0), seen_at("EAS", 90.0, 20.0))
    assert [line.error_nm for line in strip.lines] == pytest.approx([1.75, 1.75], abs=0.001)
    assert strip.fix.corner_nm == pytest.approx(1.75 * math.sqrt(2.0), abs=0.03)


def test_an_alignment_that_is_not_published_is_marked_and_counts_as_less_exact():
    """Variation of the magnetic model stands in; with 5 degrees of doubt more, root 2 times 5."""
    unknown = seen_at("EST", 0.0, 20.0, alignment=Alignment(kind=AlignmentKind.UNKNOWN))
    (line,) = strip_of(unknown).lines
    assert line.estimated
    assert line.radial_deg == pytest.approx((180.0 - variation(unknown.position, DAY).deg) % 360.0, abs=0.01)
    assert line.error_nm == pytest.approx(20.0 * math.tan(math.radians(5.0 * math.sqrt(2.0))), abs=0.01)


def test_a_marginal_beacon_comes_after_received_ones_however_near():
    doubtful = seen_at("DBT", 0.0, 5.0, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.UNKNOWN),))
    assert idents(strip_of(doubtful, seen_at("AAA", 0.0, 40.0), seen_at("BBB", 90.0, 40.0))) == ["AAA", "BBB"]
    strip = strip_of(doubtful, seen_at("BBB", 90.0, 40.0))
    assert [(line.beacon.ident, line.state, line.causes) for line in strip.lines] == [
        ("BBB", ReceptionState.RECEIVED, ()),
        ("DBT", ReceptionState.MARGINAL, (Cause.STATUS_UNKNOWN,)),
    ]


def test_two_vors_come_before_a_vor_and_an_ndb():
    ndb = an_ndb("NNN", destination(HALF_WAY, bearing_true_deg=90.0, distance_nm=3.0))
    assert idents(strip_of(ndb, seen_at("AAA", 0.0, 40.0), seen_at("BBB", 270.0, 40.0))) == ["AAA", "BBB"]
    strip = strip_of(ndb, seen_at("AAA", 0.0, 40.0))
    assert idents(strip) == ["AAA", "NNN"]
    pointer = strip.lines[1]
    assert pointer.radial_deg is None
    assert pointer.bearing_magnetic_deg == pytest.approx((90.0 - variation(HALF_WAY, DAY).deg) % 360.0, abs=0.01)


def test_what_the_ground_hides_is_not_offered():
    """A ridge of 3,000 m close to an antenna 20 ft up."""
    hidden = seen_at("HID", 90.0, 15.0, antenna_height_ft=20.0)
    wall = ridge(3000.0, hidden.position.lon_deg - 0.1)
    assert idents(strip_of(hidden, seen_at("NOR", 0.0, 20.0), ground=wall)) == ["NOR"]
    assert idents(strip_of(hidden, seen_at("NOR", 0.0, 20.0))) == ["HID", "NOR"]


def test_the_dme_of_a_beacon_makes_a_place_alone():
    """Slant range by Pythagoras, the antenna 100 ft up."""
    strip = strip_of(seen_at("DIS", 0.0, 20.0, kind=BeaconKind.VOR_DME, components=BOTH_PARTS))
    assert strip.lines[0].dme_nm == pytest.approx(math.hypot(20.0, 6400.0 / FT_PER_NM), abs=0.002)
    assert strip_of(seen_at("NOR", 0.0, 20.0)).lines[0].dme_nm is None


def test_where_nothing_is_received_there_is_no_line_and_still_somebody_to_call():
    strip = strip_of()
    assert (strip.lines, strip.cut_deg, strip.fix) == ((), None, None)
    assert strip.distress == DISTRESS


def test_agrees_with_icao_on_the_emergency_frequency_and_code():
    """121.5 MHz: ICAO Annex 10 volume V, 4.1.3.1 (from memory). Transponder 7700: ICAO Doc 4444 (from memory)."""
    assert (DISTRESS.frequency_khz / 1000.0, DISTRESS.transponder) == (121.5, "7700")


def test_each_leg_has_its_strip():
    log = plan(materials_for(beacons=(seen_at("AAA", 0.0, 20.0),))).log
    assert [strip.leg_number for strip in log.lost] == [leg.number for leg in log.legs]
    assert log.lost_on(log.legs[0]) is log.lost[0]
