"""What is known at one place: the same answers as the log of a flight that passes there."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from pyproj import Geod

from server.errors import InputProblem, NotFound
from server.navigation import Alignment, AlignmentKind, Position, Route, destination, distance_nm
from server.navigation.indicator import Flag
from server.navigation.position_lines import dme_error_nm
from server.persistence import RegionRecord
from server.planning import plan, plan_route
from server.planning.probe import Tuned, probe, probe_of
from server.radio import Cause, ComponentKind, Outage, ReceptionState
from tests.builders import flat_ground
from tests.planning.planning_builders import (
    FROM,
    MIDDLE,
    OFF_BLOCKS,
    STILL_AIR,
    TO,
    GroundInHand,
    a_part,
    a_tourer,
    a_vor,
    an_airfield,
    an_ndb,
    level,
    materials_for,
    over,
    quick,
    ridge,
    shelve,
)

GEOD = Geod(ellps="WGS84")
BOTH = (a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE))
NOW = datetime(2026, 8, 1, 12, 0, tzinfo=UTC)


def clock() -> datetime:
    return NOW


def beside(position: Position, bearing_true_deg: float, away_nm: float) -> Position:
    return destination(position, bearing_true_deg=bearing_true_deg, distance_nm=away_nm)


def beacons():
    return (
        a_vor("NOR", beside(MIDDLE, 0.0, 20.0), components=BOTH),
        a_vor("WES", beside(MIDDLE, 270.0, 25.0), alignment=Alignment(kind=AlignmentKind.UNKNOWN)),
        an_ndb("ND", beside(MIDDLE, 120.0, 15.0)),
        a_vor("FAR", beside(MIDDLE, 45.0, 90.0), components=BOTH),
    )


def fields():
    return (an_airfield(1, "QFRO", FROM), an_airfield(2, "QTOO", TO), an_airfield(3, "QMID", beside(MIDDLE, 200.0, 8.0)))


def shelved(shelf, ground):
    region = shelve(shelf, beacons=beacons(), airfields=fields(), aircraft=a_tourer())
    return region, GroundInHand(ground)


def keep_route(shelf, region, **changes) -> Route:
    values = {
        "region_id": region.region.id,
        "name": "There",
        "departure_airfield_id": region.airfields["QFRO"],
        "destination_airfield_id": region.airfields["QTOO"],
        "altitude_ft": 6_500.0,
        "departure_utc": OFF_BLOCKS,
        "aircraft_id": region.aircraft,
        "winds": STILL_AIR,
    } | changes
    with shelf.begin() as work:
        return work.routes.add(Route(**values))


def test_ground_and_variation_are_those_of_the_place(shelf):
    _, store = shelved(shelf, level(250.0))
    told = probe(shelf, store, "skerry", position=MIDDLE, altitude_ft=6_500.0, clock=clock)
    assert told.ground_ft == pytest.approx(250.0 / 0.3048)
    assert told.variation == told.materials.variation_at(MIDDLE)
    assert (told.on, told.position, told.altitude_ft) == (NOW.date(), MIDDLE, 6_500.0)


def test_at_every_check_of_a_flight_needle_flag_and_dme_are_those_the_log_expects():
    """A flight over two beacons: the log's own pictures, asked again at the same places with the same thing tuned and set."""
    first, second = a_vor("AAA", beside(FROM, 80.0, 30.0), components=BOTH), a_vor("BBB", beside(TO, 260.0, 30.0), components=BOTH)
    materials = materials_for(over(first), over(second), beacons=(first, second, *beacons()), ground=ridge(700.0, -36.2))
    checks = [check for leg in plan(materials).log.cross_checks for check in leg if check.picture is not None]
    shown = 0
    for check in checks:
        picture, place = check.picture, check.place
        told = probe_of(
            materials,
            position=place.position,
            altitude_ft=place.altitude_ft,
            tuned=Tuned(beacon_id=picture.beacon.id, selected_course_deg=picture.selected_course_deg),
        )
        assert told.overhead is picture.overhead
        if picture.indication is None:
            assert told.indication is None
        else:
            assert told.indication.flag is picture.indication.flag
            assert told.indication.course_lies_deg == pytest.approx(picture.indication.course_lies_deg, abs=1e-6)
            shown += 1
        part = next(each for each in told.parts if each.beacon == picture.beacon and each.component is picture.component)
        assert part.state is picture.state
        if picture.dme_nm is not None:
            assert told.dme_nm[picture.beacon.id] == pytest.approx(picture.dme_nm, abs=1e-6)
    assert shown >= 4 and any(check.picture.overhead for check in checks)


def test_the_indicator_shows_which_side_of_the_course_one_is():
    """North of the station on true 000 is its radial 008 (turned 8 W); with 020 set it is FROM and the course lies 12 to the right."""
    station = a_vor("AAA", MIDDLE)
    there = beside(MIDDLE, 0.0, 20.0)
    told = probe_of(
        materials_for(beacons=(station,)), position=there, altitude_ft=5_000.0, tuned=Tuned(beacon_id=station.id, selected_course_deg=20.0)
    )
    assert told.indication.flag is Flag.FROM
    assert told.indication.course_lies_deg == pytest.approx(12.0, abs=0.01)
    assert told.tuned == station and told.selected_course_deg == 20.0


@pytest.mark.parametrize(
    "tuned",
    [None, Tuned(beacon_id=424_242, selected_course_deg=20.0), Tuned(beacon_id=int.from_bytes(b"AAA"))],
    ids=["nothing tuned", "a beacon that is not there", "no course set"],
)
def test_without_a_beacon_or_a_course_there_is_no_picture(tuned):
    told = probe_of(materials_for(beacons=(a_vor("AAA", MIDDLE),)), position=beside(MIDDLE, 0.0, 9.0), altitude_ft=5_000.0, tuned=tuned)
    assert told.indication is None


def test_an_ndb_has_no_needle_and_flag():
    station = an_ndb("ND", MIDDLE)
    tuned = Tuned(beacon_id=station.id, selected_course_deg=20.0)
    told = probe_of(materials_for(beacons=(station,)), position=beside(MIDDLE, 0.0, 9.0), altitude_ft=5_000.0, tuned=tuned)
    assert told.indication is None and told.tuned == station


def test_a_station_whose_grid_angle_is_not_known_shows_nothing():
    station = a_vor("AAA", MIDDLE, alignment=Alignment(kind=AlignmentKind.GRID))
    tuned = Tuned(beacon_id=station.id, selected_course_deg=20.0)
    told = probe_of(materials_for(beacons=(station,)), position=beside(MIDDLE, 0.0, 9.0), altitude_ft=5_000.0, tuned=tuned)
    assert told.indication is None and not told.overhead


@pytest.mark.parametrize(("away_nm", "overhead"), [(0.0, True), (0.9, True), (1.6, False)])
def test_in_the_cone_over_the_station_one_is_overhead_and_the_needle_means_nothing(away_nm, overhead):
    """50 degrees from the vertical, ICAO Doc 8168 (from memory): at 6,500 ft over an antenna at 100 ft 1.25 NM wide."""
    station = a_vor("AAA", MIDDLE)
    tuned = Tuned(beacon_id=station.id, selected_course_deg=20.0)
    told = probe_of(materials_for(beacons=(station,)), position=beside(MIDDLE, 70.0, away_nm), altitude_ft=6_500.0, tuned=tuned)
    assert told.overhead is overhead
    assert (told.indication is None) is overhead
    assert any(Cause.OVERHEAD_CONE in part.causes for part in told.parts) is overhead


def test_overhead_one_beacon_the_picture_of_another_still_holds():
    here, other = a_vor("AAA", MIDDLE), a_vor("BBB", beside(MIDDLE, 90.0, 20.0))
    tuned = Tuned(beacon_id=other.id, selected_course_deg=90.0)
    told = probe_of(materials_for(beacons=(here, other)), position=MIDDLE, altitude_ft=6_500.0, tuned=tuned)
    assert not told.overhead and told.indication is not None


def test_a_dme_reads_the_slant_range():
    """Root of ground squared plus height squared; 6,076.115 ft a mile."""
    station = a_vor("AAA", MIDDLE, components=BOTH)
    told = probe_of(materials_for(beacons=(station,)), position=beside(MIDDLE, 45.0, 3.0), altitude_ft=9_100.0)
    assert told.dme_nm == {station.id: pytest.approx(np.hypot(3.0, 9_000.0 / 6_076.115), abs=0.002)}


def test_below_the_ground_is_refused_with_the_ground():
    with pytest.raises(InputProblem, match=r"2,000 ft is below the ground there, which stands at 2,297 ft. Give a higher") as refusal:
        probe_of(materials_for(ground=level(700.0)), position=MIDDLE, altitude_ft=2_000.0)
    assert (refusal.value.code, refusal.value.place) == ("below-ground", "altitude_ft")


@pytest.mark.parametrize("altitude_ft", [-1_501.0, 60_001.0, float("nan"), float("inf")])
def test_an_impossible_altitude_is_refused(altitude_ft):
    with pytest.raises(InputProblem, match=r"is not an altitude to ask for: give -1,500 to 60,000 ft") as refusal:
        probe_of(materials_for(), position=MIDDLE, altitude_ft=altitude_ft)
    assert refusal.value.code == "altitude"


def test_where_the_ground_is_not_known_that_is_said_and_nothing_is_surely_received():
    away = quick(flat_ground(0.0, south=10.0, north=11.0, west=10.0, east=11.0))
    told = probe_of(materials_for(beacons=beacons(), ground=away), position=MIDDLE, altitude_ft=3_000.0)
    assert told.ground_ft is None
    needs_sight = [part for part in told.parts if part.component is not ComponentKind.BEARING]
    assert needs_sight and all(part.state is not ReceptionState.RECEIVED for part in needs_sight)


def test_the_best_fix_is_that_of_two_lines_that_cross_here():
    told = probe_of(materials_for(beacons=beacons()), position=MIDDLE, altitude_ft=6_500.0)
    assert [line.beacon.ident for line in told.place.lines] == ["NOR", "WES"]
    assert told.place.cut_deg == pytest.approx(90.0, abs=0.5)
    for line in told.place.lines:
        from_true_deg = GEOD.inv(line.beacon.position.lon_deg, line.beacon.position.lat_deg, MIDDLE.lon_deg, MIDDLE.lat_deg)[0]
        assert line.line_true_deg == pytest.approx(from_true_deg % 360.0, abs=1e-6)
    assert 0.0 <= told.place.major_axis_true_deg < 180.0


def test_one_station_with_its_dme_places_the_aircraft_by_its_radial_error_and_its_dme_error():
    """Radial and distance cross at right angles: across 20 tan 5 deg = 1.75 NM (common practice), along the DME's own error; the ellipse
    that holds a pair 95 times in a hundred is larger by sqrt(-2 ln 0.05) / 1.96."""
    told = probe_of(materials_for(beacons=beacons()[:1]), position=MIDDLE, altitude_ft=6_500.0).one_station
    larger = math.sqrt(-2.0 * math.log(0.05)) / 1.959964
    assert told.line.beacon.ident == "NOR"
    assert told.fix.major_nm == pytest.approx(20.0 * math.tan(math.radians(5.0)) * larger, rel=0.01)
    assert told.fix.minor_nm == pytest.approx(dme_error_nm(told.line.dme_nm) * larger, rel=0.02)
    assert told.major_axis_true_deg == pytest.approx(90.0, abs=0.5), "across the radial, which runs south"


def test_without_a_dme_that_is_received_one_station_makes_no_fix():
    assert probe_of(materials_for(beacons=beacons()[1:3]), position=MIDDLE, altitude_ft=6_500.0).one_station is None


def test_a_place_outside_the_box_of_the_region_is_told_so():
    materials = materials_for(beacons=beacons())
    boxed = replace(materials, region=replace(materials.region, south_deg=42.0, north_deg=45.0, west_deg=179.0, east_deg=-30.0))
    assert not probe_of(boxed, position=MIDDLE, altitude_ft=6_500.0).outside
    assert probe_of(replace(boxed, region=replace(boxed.region, east_deg=-60.0)), position=MIDDLE, altitude_ft=6_500.0).outside
    assert not probe_of(materials, position=MIDDLE, altitude_ft=6_500.0).outside, "a region without a box has no outside"


def test_with_one_beacon_there_is_a_line_and_no_fix():
    told = probe_of(materials_for(beacons=beacons()[:1]), position=MIDDLE, altitude_ft=6_500.0)
    assert len(told.place.lines) == 1
    assert (told.place.fix, told.place.cut_deg, told.place.major_axis_true_deg) == (None, None, None)


def test_the_nearest_airfields_come_first_with_time_in_the_aircraft_of_the_route(shelf):
    region, store = shelved(shelf, level())
    route = keep_route(shelf, region)
    told = probe(shelf, store, "skerry", position=MIDDLE, altitude_ft=6_500.0, route_number=route.id, clock=clock)
    assert [way.airfield.ident for way in told.ways] == sorted(
        region.airfields, key=lambda ident: distance_nm(MIDDLE, {field.ident: field for field in fields()}[ident].position)
    )
    nearest = told.ways[0]
    assert nearest.distance_nm == pytest.approx(8.0, abs=1e-6)
    assert nearest.minutes == pytest.approx(8.0 / 100.0 * 60.0, abs=0.05), "100 kt in still air"
    assert all(way.fuel_left_l is None for way in told.ways), "no fuel left is known at a place that is on no flight"


def test_without_a_route_only_the_way_to_an_airfield_is_told(shelf):
    _, store = shelved(shelf, level())
    told = probe(shelf, store, "skerry", position=MIDDLE, altitude_ft=6_500.0, clock=clock)
    assert all((way.heading_magnetic_deg, way.minutes, way.fuel_l) == (None, None, None) for way in told.ways)
    assert told.ways[0].track_true_deg == pytest.approx(200.0, abs=0.1)


def test_a_route_is_asked_about_on_its_own_day(shelf):
    """Off the air on the day of the flight, on the air today."""
    region, store = shelved(shelf, level())
    day = datetime(2026, 9, 3, 9, 0, tzinfo=UTC)
    with shelf.begin() as work:
        station = work.beacons.get(region.beacons["NOR"])
        parts = tuple(replace(part, outages=(Outage(first_day=day.date(), last_day=day.date()),)) for part in station.components)
        work.beacons.update(replace(station, components=parts))
    route = keep_route(shelf, region, departure_utc=day)

    def states(**changes):
        told = probe(shelf, store, "skerry", position=MIDDLE, altitude_ft=6_500.0, clock=clock, **changes)
        return told.on, {part.state for part in told.parts if part.beacon.ident == "NOR"}

    assert states() == (NOW.date(), {ReceptionState.RECEIVED})
    assert states(route_number=route.id) == (day.date(), {ReceptionState.NOT_RECEIVED})


def test_a_route_of_another_region_is_not_found_here(shelf):
    region, store = shelved(shelf, level())
    route = keep_route(shelf, region)
    with shelf.begin() as work:
        work.regions.add(RegionRecord(slug="elsewhere", name="Elsewhere", fictional=True, ground_fingerprint="in hand"))
    with pytest.raises(NotFound, match=rf"Elsewhere has no route number {route.id}"):
        probe(shelf, store, "elsewhere", position=MIDDLE, altitude_ft=6_500.0, route_number=route.id, clock=clock)
    with pytest.raises(NotFound):
        probe(shelf, store, "skerry", position=MIDDLE, altitude_ft=6_500.0, route_number=route.id + 1, clock=clock)


def test_asking_keeps_nothing(shelf):
    region, store = shelved(shelf, level())
    route = keep_route(shelf, region)
    with shelf.read() as work:
        before = (work.routes.get(route.id), tuple(work.beacons.list(region.region.id)))
    probe(shelf, store, "skerry", position=MIDDLE, altitude_ft=6_500.0, route_number=route.id, clock=clock)
    with shelf.read() as work:
        assert (work.routes.get(route.id), tuple(work.beacons.list(region.region.id))) == before


def test_a_stored_route_is_told_as_its_log_tells_it(shelf):
    """In the middle of its only leg the lines of its lost strip; over the departure the ways out of its plan."""
    region, store = shelved(shelf, level())
    route = keep_route(shelf, region)
    log = plan_route(shelf, store, route.id, clock=clock).log
    (place, *_), strip = [each.place for each in log.diversions], log.lost[0]
    told = probe(shelf, store, "skerry", position=strip.position, altitude_ft=strip.altitude_ft, route_number=route.id, clock=clock)
    assert told.place.lines == strip.lines and told.place.fix == strip.fix
    there = probe(shelf, store, "skerry", position=place.position, altitude_ft=place.altitude_ft, route_number=route.id, clock=clock)
    planned = log.diversions[0].diversions
    assert [(way.airfield, way.minutes, way.heading_magnetic_deg) for way in there.ways] == [
        (way.airfield, way.minutes, way.heading_magnetic_deg) for way in planned
    ]
