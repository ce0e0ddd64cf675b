"""Where to go instead: which airfields, how to get there, and the beacon that leads to them. Expected values by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from server.navigation import Airfield, NorthReference, WindLayer, destination, difference_deg, distance_nm, variation
from server.planning import Materials, plan
from server.planning.diversion import Diversion, DiversionsFrom
from server.planning.log_legs import Sense
from server.radio import Beacon, BeaconKind, Cause, ComponentKind, Outage, ReceptionState
from tests.planning.planning_builders import (
    DAY,
    FROM,
    MIDDLE,
    OFF_BLOCKS,
    a_part,
    a_tourer,
    a_vor,
    an_airfield,
    an_ndb,
    card_of,
    codes,
    materials_for,
    ridge,
    words,
)
from tests.planning.planning_builders import at as turning_at

FT_PER_NM = 6076.115
HALF_WAY = "Half Way"


def wind_from(deg: float, speed_kt: float) -> tuple[WindLayer, ...]:
    return (WindLayer(altitude_ft=0.0, from_deg=deg, speed_kt=speed_kt, reference=NorthReference.TRUE),)


def a_field(number: int, ident: str, off_true_deg: float, away_nm: float, **changes) -> Airfield:
    """An airfield seen from half way in this direction, at this distance."""
    return an_airfield(number, ident, destination(MIDDLE, bearing_true_deg=off_true_deg, distance_nm=away_nm), **changes)


def flight(*fields: Airfield, beacons=(), **changes) -> Materials:
    """A flight over 87 NM with a turning point half way, in a region with these airfields besides its two."""
    materials = materials_for(turning_at(MIDDLE, HALF_WAY), beacons=beacons, **changes)
    return replace(materials, airfields={**materials.airfields, **{field.id: field for field in fields}})


def from_half_way(*fields: Airfield, beacons=(), **changes) -> DiversionsFrom:
    return next(each for each in plan(flight(*fields, beacons=beacons, **changes)).log.diversions if each.place.name == HALF_WAY)


def to_field(*fields: Airfield, beacons=(), **changes) -> Diversion:
    """The diversion from half way to the nearest airfield."""
    return from_half_way(*fields, beacons=beacons, **changes).diversions[0]


NORTH = a_field(3, "QNOR", 0.0, 30.0)


def test_the_three_nearest_open_airfields_are_told_the_nearest_first():
    others = [a_field(4, "QFAR", 90.0, 40.0), a_field(5, "QNEA", 180.0, 12.0), a_field(6, "QCLO", 270.0, 5.0, closed=True)]
    told = from_half_way(NORTH, *others).diversions
    assert [each.airfield.ident for each in told] == ["QNEA", "QNOR", "QFAR"]
    assert [each.distance_nm for each in told] == pytest.approx([12.0, 30.0, 40.0], abs=1e-6)


def test_the_alternate_is_always_among_them():
    others = [a_field(4, "QFAR", 90.0, 40.0), a_field(5, "QNEA", 180.0, 12.0), a_field(6, "QALT", 200.0, 70.0)]
    told = from_half_way(NORTH, *others, alternate_airfield_id=6).diversions
    assert [(each.airfield.ident, each.alternate) for each in told] == [("QNEA", False), ("QNOR", False), ("QALT", True)]


def test_every_place_of_the_flight_has_its_diversions_from_the_departure_on():
    log = plan(flight(NORTH)).log
    assert [each.place.name for each in log.diversions if each.place.name] == ["Qfro Field", HALF_WAY, "Qtoo Field"]
    assert [each.place for each in log.diversions[1:]] == [check.place for leg in log.cross_checks for check in leg]
    assert log.diversions_on(log.legs[0])[0].place.altitude_ft == 1000.0  # the field is at sea level
    first, last = log.diversions[0], log.diversions[-1]
    assert "QFRO" not in [each.airfield.ident for each in first.diversions]  # one is there already
    assert "QTOO" not in [each.airfield.ident for each in last.diversions]
    assert "QTOO" in [each.airfield.ident for each in first.diversions]


def test_heading_time_and_fuel_are_flown_in_the_wind():
    """100 kt TAS and 30 L/h. Into a wind of 20 kt: 80 kt, 30 NM in 22.5 min, 11.25 L. Across, 100 sin 10 kt takes 10 degrees and leaves
    100 cos 10."""
    into = to_field(NORTH, winds=wind_from(360.0, 20.0))
    assert (into.groundspeed_kt, into.minutes, into.fuel_l) == pytest.approx((80.0, 22.5, 11.25), abs=1e-3)
    assert into.heading_magnetic_deg == pytest.approx(into.track_magnetic_deg, abs=1e-3)
    across = to_field(NORTH, winds=wind_from(270.0, 100.0 * math.sin(math.radians(10.0))))
    assert across.groundspeed_kt == pytest.approx(100.0 * math.cos(math.radians(10.0)), abs=1e-3)
    assert (across.heading_magnetic_deg - across.track_magnetic_deg) % 360.0 == pytest.approx(350.0, abs=0.01)


def test_the_track_is_magnetic_by_the_variation_on_the_way_and_the_compass_has_its_card():
    way = to_field(NORTH, aircraft=a_tourer(compass_card=card_of(3.0)))
    middle = destination(MIDDLE, bearing_true_deg=0.0, distance_nm=15.0)
    assert abs(difference_deg(way.track_true_deg, 0.0)) < 1e-6
    assert way.track_magnetic_deg == pytest.approx((0.0 - variation(middle, DAY).deg) % 360.0, abs=0.01)
    assert (way.heading_compass_deg - way.heading_magnetic_deg) % 360.0 == pytest.approx(3.0)


def test_fuel_left_is_that_of_the_plan_there_less_the_way():
    """120 L less 4 to taxi; the climb of 10.83 min at 40 L/h over 13.54 NM, then 30 L/h at 100 kt."""
    place = from_half_way(NORTH)
    climb_min, half_nm = 6500.0 / 600.0, distance_nm(FROM, MIDDLE)
    level_min = (half_nm - climb_min / 60.0 * 75.0) / 100.0 * 60.0
    left_l = 116.0 - climb_min / 60.0 * 40.0 - level_min / 60.0 * 30.0
    assert place.fuel_left_l == pytest.approx(left_l, abs=0.01)
    assert place.diversions[0].fuel_left_l == pytest.approx(left_l - 30.0 / 100.0 * 30.0, abs=0.01)


@pytest.mark.parametrize("missing", [{"aircraft_id": None}, {"winds": ()}])
def test_without_an_aircraft_or_a_wind_the_way_is_told_and_the_rest_is_not(missing):
    way = to_field(NORTH, **missing)
    assert way.distance_nm == pytest.approx(30.0) and way.track_magnetic_deg is not None
    assert (way.heading_magnetic_deg, way.minutes, way.fuel_l, way.fuel_left_l) == (None,) * 4


def test_a_wind_nobody_holds_against_leaves_the_heading_open():
    northward = [each for each in from_half_way(NORTH, winds=wind_from(360.0, 98.0)).diversions if each.airfield is NORTH]
    assert northward[0].heading_magnetic_deg is None and northward[0].minutes is None


# The beacon that leads there

BOTH_PARTS = (a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE))


def vor_from_field(ident: str, off_true_deg: float, away_nm: float, **changes) -> Beacon:
    return a_vor(ident, destination(NORTH.position, bearing_true_deg=off_true_deg, distance_nm=away_nm), **changes)


def test_a_vor_beyond_the_airfield_is_flown_to_and_one_behind_from_on_the_radial_over_the_airfield():
    """A station turned 8 W: true 180 is radial 188, true 360 is 008. The aircraft comes from the south."""
    beyond = to_field(NORTH, beacons=(vor_from_field("BYD", 0.0, 10.0),)).aid
    assert beyond.radial_deg == pytest.approx(188.0, abs=0.01)
    assert (beyond.sense, beyond.on_field) == (Sense.TO, False)
    assert beyond.selected_course_deg == pytest.approx(8.0, abs=0.01)
    behind = to_field(NORTH, beacons=(vor_from_field("BHD", 180.0, 10.0),)).aid
    assert behind.radial_deg == pytest.approx(8.0, abs=0.01)
    assert (behind.sense, behind.selected_course_deg) == (Sense.FROM, pytest.approx(8.0, abs=0.01))
    assert (beyond.reference, beyond.estimated, beyond.dme_nm) == ("M", False, None)


def test_a_vor_on_the_airfield_is_flown_to_on_the_course_from_the_place():
    aid = to_field(NORTH, beacons=(vor_from_field("ONF", 90.0, 0.5),)).aid
    assert aid.on_field and aid.sense is Sense.TO
    to_station_deg = math.degrees(math.atan2(0.5, 30.0))  # flat, over 30 NM
    assert aid.selected_course_deg == pytest.approx(8.0 + to_station_deg, abs=0.1)


def test_the_dme_is_what_it_reads_a_thousand_feet_above_the_airfield():
    """The antenna stands 100 ft up, the field at sea level."""
    aid = to_field(NORTH, beacons=(vor_from_field("DIS", 0.0, 2.0, kind=BeaconKind.VOR_DME, components=BOTH_PARTS),)).aid
    assert aid.dme_nm == pytest.approx(math.hypot(2.0, 900.0 / FT_PER_NM), abs=0.002)
    assert aid.distance_nm == pytest.approx(2.0, abs=1e-6)


def test_the_line_that_passes_nearest_to_the_airfield_is_chosen():
    """5 degrees at 10 NM are 0.87 NM."""
    aid = to_field(NORTH, beacons=(vor_from_field("FAR", 45.0, 40.0), vor_from_field("NEA", 90.0, 10.0))).aid
    assert aid.beacon.ident == "NEA"
    assert aid.error_nm == pytest.approx(10.0 * math.tan(math.radians(5.0)), abs=1e-6)


def test_a_beacon_that_is_not_received_at_the_place_is_not_offered():
    """A ridge of 3,000 m across the way hides an antenna 20 ft up; the farther one stands on the near side of it."""
    east = a_field(3, "QEAS", 90.0, 30.0)
    hidden = a_vor("HID", destination(east.position, bearing_true_deg=90.0, distance_nm=2.0), antenna_height_ft=20.0)
    near = a_vor("NEA", destination(MIDDLE, bearing_true_deg=200.0, distance_nm=20.0))
    wall = ridge(3000.0, MIDDLE.lon_deg + 0.35)
    assert to_field(east, beacons=(hidden, near)).aid.beacon.ident == "HID"
    assert to_field(east, beacons=(hidden, near), ground=wall).aid.beacon.ident == "NEA"
    assert to_field(east, beacons=(hidden,), ground=wall).aid is None


def test_a_beacon_that_is_lost_before_the_airfield_comes_after_one_that_is_not():
    """Behind the ridge nothing of the near station is heard at 1,000 ft; the far one beyond the airfield is."""
    east = a_field(3, "QEAS", 90.0, 30.0)
    this_side = a_vor("THS", destination(MIDDLE, bearing_true_deg=90.0, distance_nm=12.0), antenna_height_ft=20.0)
    beyond = a_vor("BYD", destination(east.position, bearing_true_deg=90.0, distance_nm=40.0), elevation_ft=9000.0)
    wall = ridge(1500.0, MIDDLE.lon_deg + 0.45)
    aid = to_field(east, beacons=(this_side, beyond), ground=wall).aid
    assert (aid.beacon.ident, aid.state, aid.state_at_field) == ("BYD", ReceptionState.RECEIVED, ReceptionState.RECEIVED)
    alone = to_field(east, beacons=(this_side,), ground=wall).aid
    assert (alone.state, alone.state_at_field) == (ReceptionState.RECEIVED, ReceptionState.NOT_RECEIVED)


def test_over_the_station_itself_it_still_leads_away():
    """Within 50 degrees of the vertical needle and flag mean nothing yet."""
    aid = to_field(NORTH, beacons=(a_vor("OVR", MIDDLE), vor_from_field("FAR", 0.0, 90.0))).aid
    assert (aid.beacon.ident, aid.state, aid.causes) == ("OVR", ReceptionState.MARGINAL, (Cause.OVERHEAD_CONE,))
    assert (aid.overhead, aid.sense) == (True, Sense.FROM)


def test_an_ndb_on_the_airfield_gives_the_bearing_from_the_place_and_one_beside_it_that_over_the_airfield():
    field = a_field(3, "QNOR", 0.0, 25.0)
    on = to_field(field, beacons=(an_ndb("NNN", field.position),)).aid
    assert on.on_field and on.radial_deg is None and on.selected_course_deg is None
    assert on.bearing_magnetic_deg == pytest.approx(-variation(MIDDLE, DAY).deg % 360.0, abs=0.01)
    near = a_field(3, "QNEA", 0.0, 15.0)
    beside = to_field(near, beacons=(an_ndb("NNN", destination(near.position, bearing_true_deg=90.0, distance_nm=8.0)),)).aid
    assert beside.bearing_magnetic_deg == pytest.approx((90.0 - variation(near.position, DAY).deg) % 360.0, abs=0.01)
    assert not beside.on_field


def test_an_ndb_more_than_30_nm_away_leads_nowhere():
    """Common practice; the place is 31 NM from it."""
    field = a_field(3, "QNOR", 0.0, 31.0)
    assert to_field(field, beacons=(an_ndb("NNN", field.position),)).aid is None


def test_a_beacon_that_is_out_of_service_that_day_is_not_offered():
    off = (Outage(first_day=DAY, last_day=DAY),)
    part = a_part(ComponentKind.AZIMUTH, outages=off)
    station = vor_from_field("OFF", 90.0, 3.0, components=(part,))
    assert to_field(NORTH, beacons=(station,)).aid is None
    day_after = {"departure_utc": OFF_BLOCKS + timedelta(days=1), "on": DAY + timedelta(days=1)}
    assert to_field(NORTH, beacons=(station,), **day_after).aid is not None


def test_an_airfield_of_unknown_elevation_has_no_state_and_no_dme_there():
    field = replace(NORTH, elevation_ft=None)
    aid = to_field(field, beacons=(vor_from_field("DIS", 0.0, 2.0, kind=BeaconKind.VOR_DME, components=BOTH_PARTS),)).aid
    assert (aid.state_at_field, aid.dme_nm) == (None, None)


# Nowhere to go


def test_a_region_without_an_open_airfield_is_told_and_one_over_which_one_flies_is_none_to_divert_to():
    closed = {"departure": {"closed": True}, "arrival": {"closed": True}}
    assert "No other open airfield" in words(plan(flight(**closed)).log, "diversion-none")
    log = plan(flight()).log
    assert "diversion-none" not in codes(log)
    assert [each.here and each.here.ident for each in log.diversions if each.place.name] == ["QFRO", None, "QTOO"]


@pytest.mark.parametrize(("fuel_on_board_l", "told"), [(45.0, False), (30.0, True)])
def test_fuel_that_reaches_no_airfield_from_a_place_is_a_warning(fuel_on_board_l, told):
    """Of 87 NM at 30 L/h and 100 kt: half way 4 L are taxied and 16 flown, and 44 NM either way take 13, so 33 L are needed."""
    log = plan(flight(fuel_on_board_l=fuel_on_board_l)).log
    assert ("diversion-beyond-fuel" in codes(log)) == told
    if told:
        assert "the fuel left does not reach another airfield" in words(log, "diversion-beyond-fuel")
