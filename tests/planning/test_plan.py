"""Planning a flight: what is missing is named and never invented, odd routes are survived, fuel and dates are right."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from server.errors import InputProblem, NotFound
from server.navigation import (
    NorthReference,
    PointKind,
    Position,
    RoutePoint,
    SpeedKind,
    WindLayer,
    destination,
    distance_nm,
    inverse,
)
from server.planning import plan
from server.planning.log import NoteLevel
from server.radio import Cause, ComponentKind, Outage
from server.terrain import EmptyTerrain
from tests.builders import flat_ground
from tests.planning.planning_builders import (
    FROM,
    MIDDLE,
    TO,
    a_part,
    a_tourer,
    a_vor,
    an_airfield,
    at,
    codes,
    leg_centred,
    level,
    materials_for,
    over,
    quick,
    ridge,
    words,
)

AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-37.0))
BBB = a_vor("BBB", Position(lat_deg=43.6, lon_deg=-36.0))


def wind(from_deg: float, speed_kt: float) -> tuple[WindLayer, ...]:
    return (WindLayer(altitude_ft=0.0, from_deg=from_deg, speed_kt=speed_kt, reference=NorthReference.TRUE),)


def planned(*points: RoutePoint, beacons=(AAA, BBB), **changes):
    return plan(materials_for(*points, beacons=beacons, **changes)).log


def test_a_flight_with_all_that_is_needed_is_complete():
    log = planned(over(AAA), over(BBB))
    assert log.complete
    assert [leg.number for leg in log.legs] == [1, 2, 3]
    assert {note.level for note in log.notes} == {NoteLevel.ADVICE}
    assert words(log, "not-checked") == "Airspace, obstacles, weather and today's notices are not checked."


# What is missing.


@pytest.mark.parametrize(
    ("missing", "code", "text"),
    [
        ({"winds": ()}, "no-wind", "No wind given: there is no heading, time or fuel."),
        ({"aircraft_id": None}, "no-aircraft", "No aircraft chosen: there is no heading, time or fuel, and no climb or descent."),
        ({"fuel_on_board_l": None}, "no-fuel", "without a fuel plan this log is not complete"),
        ({"reserve_rule": ""}, "no-fuel", "without a fuel plan this log is not complete"),
        ({"departure_utc": None}, "no-date", "variation and outages are those of 2026-08-01"),
    ],
)
def test_what_is_missing_is_named_and_the_log_is_not_complete(missing: dict, code: str, text: str):
    log = planned(over(AAA), over(BBB), **missing)
    assert not log.complete
    assert text in words(log, code)


def test_without_a_wind_no_heading_time_or_fuel_is_invented():
    log = planned(over(AAA), over(BBB), winds=())
    assert {(leg.wind, leg.heading_true_deg, leg.groundspeed_kt, leg.time_min, leg.fuel_l, leg.arrival_utc) for leg in log.legs} == {
        (None,) * 6
    }
    assert (log.total_time_min, log.arrival_utc, log.fuel) == (None, None, None)
    assert all(leg.track_true_deg is not None and leg.stretches for leg in log.legs)  # what does not hang on it is there


def test_without_an_aircraft_the_wind_is_still_told_and_nothing_else_is_invented():
    log = planned(over(AAA), over(BBB), winds=wind(250, 15), aircraft_id=None)
    assert [leg.wind.speed_kt for leg in log.legs] == pytest.approx([15.0] * 3)
    assert {(leg.heading_magnetic_deg, leg.true_airspeed_kt, leg.time_min) for leg in log.legs} == {(None, None, None)}
    assert log.fuel is None and log.climb_min is None and log.descent_min is None


def test_a_calibrated_speed_without_a_temperature_gives_no_true_airspeed():
    fast = a_tourer(cruise_speed_kind=SpeedKind.CALIBRATED)
    log = planned(over(AAA), aircraft=fast)
    assert "give the difference from standard temperature" in words(log, "no-temperature")
    assert "climb-not-modelled" not in codes(log)  # its reason would be a wrong one
    assert log.legs[0].true_airspeed_kt is None and not log.complete


def test_a_calibrated_speed_becomes_a_true_one_with_the_temperature():
    # 100 kt CAS at 5,000 ft in the standard atmosphere is 107.7 kt TAS: incompressible, 1/sqrt(0.8617) of ICAO Doc 7488.
    fast = a_tourer(cruise_speed_kind=SpeedKind.CALIBRATED)
    log = planned(over(AAA), aircraft=fast, altitude_ft=5000.0, isa_deviation_c=0.0)
    assert log.legs[0].true_airspeed_kt == pytest.approx(107.7, abs=0.1)


@pytest.mark.parametrize("altitude_ft", [None, math.nan, math.inf, 1e9, -5000.0])
def test_an_altitude_that_is_missing_or_impossible_is_refused(altitude_ft: float | None):
    with pytest.raises(InputProblem, match="feet above sea level") as caught:
        planned(over(AAA), altitude_ft=altitude_ft)
    assert caught.value.place == "altitude_ft"


@pytest.mark.parametrize("year", [1, 1899, 2201, 9999])
def test_a_year_that_is_a_slip_of_the_pen_is_refused(year: int):
    with pytest.raises(InputProblem, match=f"year {year} .* outside 1900 to 2200"):
        planned(over(AAA), departure_utc=datetime(year, 12, 31, 23, 59, tzinfo=UTC))


def test_a_date_beyond_the_magnetic_model_is_planned_with_a_warning():
    when = datetime(2035, 6, 1, 9, 0, tzinfo=UTC)
    log = planned(over(AAA), departure_utc=when, on=when.date())
    assert not log.magnetic_model_valid
    assert "outside the magnetic model's years" in words(log, "magnetic-model-date")


def test_two_winds_at_one_altitude_are_refused():
    with pytest.raises(InputProblem, match="Two winds are given for one altitude"):
        planned(over(AAA), winds=(*wind(250, 10), *wind(260, 10)))


# Wind that cannot be flown in.


def test_a_wind_stronger_than_the_airspeed_stops_the_log_and_names_the_leg():
    log = planned(over(AAA), over(BBB), winds=wind(0, 120))
    stops = [note.message for note in log.legs[1].notes if note.level is NoteLevel.STOP]
    assert len(stops) == 1
    assert stops[0].startswith("Leg 2, Aaa Hill to Bbb Hill: Track 082 true: the 119 kt crosswind")
    assert (log.legs[1].time_min, log.legs[1].fuel_l, log.legs[1].fuel_remaining_l, log.legs[1].arrival_utc) == (None,) * 4
    assert (log.complete, log.fuel, log.total_time_min) == (False, None, None)


def test_a_headwind_as_fast_as_the_aircraft_stops_the_log():
    start, end = leg_centred(270.0, 60.0)
    log = planned(start=start, end=end, winds=wind(270, 100))
    assert "leaves no groundspeed" in words(log, "no-heading")


def test_a_headwind_that_leaves_a_crawl_stops_the_log_instead_of_arriving_years_later():
    start, end = leg_centred(270.0, 60.0)
    log = planned(start=start, end=end, winds=wind(270, 99.9999999), aircraft=a_tourer(climb_speed_kt=100.0))
    assert "leaves a groundspeed of 0.0 kt" in words(log, "no-heading")
    assert (log.arrival_utc, log.complete) == (None, False)


# Odd routes.


def test_a_field_at_the_beacon_gives_a_leg_of_no_length_and_the_log_is_still_complete():
    log = planned(over(AAA), over(BBB), start=AAA.position)
    first = log.legs[0]
    assert (first.distance_nm, first.track_true_deg, first.heading_magnetic_deg, first.guidance) == (0.0, None, None, ())
    assert (first.time_min, first.fuel_l, first.parts) == (0.0, 0.0, ())
    assert words(log, "leg-without-length") == "Leg 1 has no length: Qfro Field and Aaa Hill are one place. There is nothing to steer."
    assert log.complete and log.total_time_min is not None and log.arrival_utc is not None


def test_the_climb_is_paid_once_whether_or_not_the_first_leg_has_length():
    whole = planned(over(AAA), start=AAA.position)
    plain = planned(start=AAA.position)
    assert whole.total_time_min == pytest.approx(plain.total_time_min)
    assert whole.fuel.trip_l == pytest.approx(plain.fuel.trip_l)


def test_points_in_one_place_are_survived():
    here = at(Position(lat_deg=43.55, lon_deg=-36.4))
    log = planned(here, here, here)
    assert [leg.distance_nm for leg in log.legs[1:3]] == [0.0, 0.0]
    assert log.complete


def test_a_flight_from_a_field_to_itself_with_nothing_between_has_no_length():
    log = planned(end=FROM)
    assert (log.total_distance_nm, log.legs[0].heading_magnetic_deg) == (0.0, None)
    assert "altitude-not-reached" in codes(log)


def test_there_and_back_over_the_same_beacon_is_planned():
    log = planned(over(AAA), over(BBB), over(AAA), end=FROM)
    assert [leg.distance_nm for leg in log.legs] == pytest.approx([leg.distance_nm for leg in reversed(log.legs)])
    assert log.legs[1].guidance[0].sense != log.legs[2].guidance[1].sense
    assert log.complete


def test_a_route_without_points_is_one_leg_that_nothing_guides():
    log = planned()
    assert len(log.legs) == 1
    assert "no-guidance" in codes(log)
    assert log.complete


def test_a_hundred_points_are_planned_and_their_legs_add_up():
    places = [Position(lat_deg=43.4 + 0.2 * (number % 2), lon_deg=-37.45 + 0.0189 * number) for number in range(100)]
    log = planned(*(at(place) for place in places))
    assert len(log.legs) == 101
    assert log.total_distance_nm == pytest.approx(sum(leg.distance_nm for leg in log.legs))
    assert log.legs[-1].start_nm + log.legs[-1].distance_nm == pytest.approx(log.total_distance_nm)


def test_a_route_across_the_antimeridian_is_as_long_as_its_twin_elsewhere():
    ground = quick(flat_ground(0.0, south=-19.0, north=-16.0, west=178.0, east=182.0))
    west, east = Position(lat_deg=-17.5, lon_deg=179.2), Position(lat_deg=-17.5, lon_deg=-179.2)
    beacon = a_vor("FJI", Position(lat_deg=-17.4, lon_deg=179.99))
    materials = materials_for(over(beacon), beacons=(beacon,), start=west, end=east, ground=ground)
    log = plan(materials).log
    twin = distance_nm(Position(lat_deg=-17.5, lon_deg=-36.8), Position(lat_deg=-17.4, lon_deg=-36.01))
    assert log.legs[0].distance_nm == pytest.approx(twin, abs=1e-6)
    assert all(leg.ground_known for leg in log.legs) and log.complete
    # its chart is a strip of a few degrees, not the world the long way round
    x_m, _ = materials.projection.to_plane_m(np.array([-17.5, -17.5]), np.array([179.2, -179.2]))
    assert x_m[1] - x_m[0] == pytest.approx(1852.0 * distance_nm(west, east), rel=0.01)


def test_a_route_past_the_pole_is_planned():
    beacon = a_vor("POL", Position(lat_deg=90.0, lon_deg=0.0))
    start, end = Position(lat_deg=89.5, lon_deg=0.0), Position(lat_deg=89.5, lon_deg=180.0)
    log = planned(over(beacon), beacons=(beacon,), start=start, end=end, ground=EmptyTerrain())
    assert [leg.distance_nm for leg in log.legs] == [pytest.approx(30.2, abs=0.1)] * 2  # a minute of arc there is 1861.6 m
    assert all(leg.guidance[0].selected_course_deg is None for leg in log.legs)  # at the pole every direction is south


def test_a_place_that_was_removed_is_named():
    with pytest.raises(NotFound, match=r"The beacon this route uses \(number 99\) is not in its region any more"):
        planned(RoutePoint(kind=PointKind.BEACON, place_id=99))
    with pytest.raises(NotFound, match="The checkpoint this route uses"):
        planned(RoutePoint(kind=PointKind.CHECKPOINT, place_id=99))


def test_radials_that_do_not_meet_are_refused_with_the_number_of_the_point():
    apart = RoutePoint(kind=PointKind.TWO_RADIALS, beacon_id=AAA.id, radial_deg=270.0, second_beacon_id=BBB.id, second_radial_deg=90.0)
    with pytest.raises(InputProblem, match=r"^Point 1: ") as caught:
        planned(apart)
    assert caught.value.place == "point-1"


@pytest.mark.parametrize(
    ("point", "text"),
    [
        (RoutePoint(kind=PointKind.POSITION), "needs a latitude and a longitude"),
        (RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=AAA.id, radial_deg=10.0), "needs a beacon, a radial and a distance"),
        (RoutePoint(kind=PointKind.TWO_RADIALS, beacon_id=AAA.id, radial_deg=10.0), "needs two beacons and a radial from each"),
    ],
)
def test_a_point_that_lacks_a_part_is_refused(point: RoutePoint, text: str):
    with pytest.raises(InputProblem, match=text):
        planned(point)


def test_a_fix_by_radial_and_distance_is_counted_from_the_stations_own_north():
    # AAA is turned 8 degrees west, so its radial 098 runs true 090.
    fix = RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=AAA.id, radial_deg=98.0, distance_nm=12.0)
    point = planned(fix).points[1]
    assert point.definition == "R-098 AAA, 12.0 NM"
    assert distance_nm(point.position, destination(AAA.position, bearing_true_deg=90.0, distance_nm=12.0)) < 1e-6


def test_a_fix_by_two_radials_lies_on_both_and_says_how_they_cut():
    fix = RoutePoint(kind=PointKind.TWO_RADIALS, beacon_id=AAA.id, radial_deg=58.0, second_beacon_id=BBB.id, second_radial_deg=318.0)
    point = planned(fix).points[1]
    assert point.definition.startswith("R-058 AAA and R-318 BBB, cut ")
    for station, true_deg in ((AAA, 50.0), (BBB, 310.0)):  # both are turned 8 degrees west
        assert inverse(station.position, point.position).initial_true_deg == pytest.approx(true_deg, abs=0.01)
    assert point.name == "R-058 AAA / R-318 BBB"


def test_a_point_given_by_coordinates_is_named_by_them_unless_it_has_a_name():
    place = Position(lat_deg=43.9, lon_deg=-36.5)
    assert planned(at(place)).points[1].name == "43°54.00'N 036°30.00'W"
    assert planned(at(place, "Mill bend")).points[1].name == "Mill bend"


# The ground.


def test_unknown_ground_makes_reception_unknown_and_says_so():
    log = planned(over(AAA), over(BBB), ground=EmptyTerrain())
    assert {stretch.state.value for stretch in log.legs[1].stretches if not stretch.has(Cause.OVERHEAD_CONE)} == {"unknown"}
    assert all(not leg.ground_known and leg.highest_ground_ft is None for leg in log.legs)
    assert "The ground under leg 2 is not wholly known" in words(replace(log, notes=(), legs=log.legs[1:2]), "ground-unknown")


def test_ground_that_ends_under_the_leg_is_partly_unknown_and_its_known_part_counts():
    short = quick(flat_ground(300.0, west=-38.0, east=-36.5))
    leg = planned(over(AAA), over(BBB), ground=short).legs[1]
    assert not leg.ground_known
    assert leg.highest_ground_ft == pytest.approx(300.0 / 0.3048)


def test_a_path_that_runs_into_a_ridge_stops_the_log_where_it_does():
    log = planned(over(AAA), over(BBB), ground=ridge(2500.0, -36.5), altitude_ft=6500.0)
    note = next(note for note in log.legs[1].notes if note.code == "path-meets-ground")
    assert note.level is NoteLevel.STOP and not log.complete
    crest = distance_nm(AAA.position, Position(lat_deg=43.55, lon_deg=-36.5))
    stated_nm = float(note.message.split("ground ")[1].split(" NM")[0])
    assert 0.0 < crest - stated_nm < 0.5  # on the near flank, half a mile wide


def test_a_summit_beside_the_track_is_the_highest_ground_of_the_leg():
    ground = level(100.0)
    row, column = round((45.0 - 43.60) * 120), round((-36.5 + 38.0) * 120)  # a post 3 NM north of the track
    ground.posts[row, column] = 1800.0
    log = planned(over(AAA), over(BBB), ground=ground)
    assert log.legs[1].highest_ground_ft == pytest.approx(1800.0 / 0.3048, rel=0.05)
    note = next(note for note in log.legs[1].notes if note.code == "low-above-ground")
    assert "The ground within 4.3 NM of leg 2 rises to" in note.message


def test_ground_close_below_the_climb_is_told_though_the_planned_altitude_clears_it():
    # 480 ft a mile up: a ridge of 1,640 ft across the way 4.35 NM after take-off (0.1 deg of longitude) is passed at 2,090 ft.
    ground = level(0.0)
    ground.posts[:, round(0.6 * 120) : round(0.65 * 120) + 1] = 500.0
    log = planned(over(AAA), ground=ground)
    note = next(note for note in log.legs[0].notes if note.code == "low-above-ground")
    assert "In the climb or descent leg 1 has less than 1,000 ft over ground within 4.3 NM, first" in note.message
    stated_nm = float(note.message.split("first ")[1].split(" NM")[0])
    assert stated_nm == pytest.approx(4.35, abs=0.4)  # the flank before the ridge is one step of the posts wide, 0.36 NM
    assert "low-above-ground" not in codes(planned(over(AAA)))


def test_a_route_too_short_for_its_altitude_is_measured_at_the_height_it_gets_to():
    start, end = leg_centred(90.0, 10.0)  # climb meets descent at 2,462 ft
    assert "low-above-ground" in codes(planned(start=start, end=end, ground=level(400.0)))
    assert "low-above-ground" not in codes(planned(start=start, end=end, ground=level(0.0)))


def test_ground_beyond_the_corridor_does_not_count():
    ground = level(100.0)
    ground.posts[: round((45.0 - 43.75) * 120), :] = 2500.0  # from 9 NM north of the track on
    assert planned(over(AAA), ground=ground).legs[0].highest_ground_ft == pytest.approx(100.0 / 0.3048)


# Profile, fuel, time.


def test_a_route_too_short_for_its_altitude_says_how_high_it_gets():
    # 600 ft/min at 75 kt is 480 ft a mile up; 500 ft/min at 100 kt is 300 ft a mile down to 1,000 ft: they meet where
    # 480 x = 1000 + 300 (10 - x), at 5.13 NM and 2,462 ft.
    start, end = leg_centred(90.0, 10.0)
    log = planned(start=start, end=end)
    assert [point.distance_nm for point in log.profile] == pytest.approx([0.0, 5.128, 10.0], abs=0.001)
    assert [point.altitude_ft for point in log.profile] == pytest.approx([0.0, 2461.5, 1000.0], abs=0.1)
    assert words(log, "altitude-not-reached") == "The route is too short to reach 6,500 ft: climb meets descent at 2,462 ft."


def test_the_profile_climbs_at_the_climb_speed_and_ends_over_the_field():
    log = planned(over(AAA), over(BBB))
    total_nm = log.total_distance_nm
    assert [point.altitude_ft for point in log.profile] == [0.0, 6500.0, 6500.0, 1000.0]
    assert [point.distance_nm for point in log.profile] == pytest.approx([0.0, 6500 / 480, total_nm - 5500 / 300, total_nm])
    assert (log.climb_min, log.descent_min) == (pytest.approx(6500 / 600), pytest.approx(5500 / 500))


def test_a_field_of_unknown_elevation_gets_no_climb_and_says_so():
    log = planned(over(AAA), departure={"elevation_ft": None}, arrival={"elevation_ft": None})
    assert {"climb-not-modelled", "descent-not-modelled"} <= codes(log)
    assert (log.climb_min, log.descent_min) == (0.0, 0.0)
    assert {point.altitude_ft for point in log.profile} == {6500.0}


def test_an_altitude_below_the_field_stops_the_log():
    log = planned(over(AAA), altitude_ft=2500.0, departure={"elevation_ft": 4000.0}, ground=level(500.0))
    assert words(log, "altitude-below-airfield") == "The planned 2,500 ft is below the departure Qfro Field at 4,000 ft. Fly higher."
    assert not log.complete


def test_a_closed_field_stops_the_log():
    log = planned(over(AAA), arrival={"closed": True})
    assert words(log, "airfield-closed") == "The destination Qtoo Field is marked as closed. Choose another airfield."
    assert not log.complete


def test_fuel_is_counted_down_leg_by_leg_from_what_is_left_after_the_taxi():
    log = planned(over(AAA), over(BBB), fuel_on_board_l=120.0)
    burnt = np.cumsum([leg.fuel_l for leg in log.legs])
    assert [leg.fuel_remaining_l for leg in log.legs] == pytest.approx((116.0 - burnt).tolist())
    assert log.fuel.trip_l == pytest.approx(burnt[-1])
    assert log.fuel.margin_l == pytest.approx(120.0 - 4.0 - burnt[-1] - 15.0)  # 30 min at 30 L/h


def test_more_fuel_than_the_tanks_give_stops_the_log():
    log = planned(over(AAA), fuel_on_board_l=151.0)
    assert words(log, "more-than-usable") == "The fuel on board is more than the aircraft's usable fuel. Plan on usable fuel only."
    assert not log.complete


def test_short_of_the_reserve_stops_the_log_and_says_by_how_much():
    enough = planned(over(AAA)).fuel
    log = planned(over(AAA), fuel_on_board_l=120.0 - enough.margin_l - 5.0)  # 5 L are 10 min
    assert words(log, "fuel-short").startswith("Not enough fuel: 10 min short of the reserve (14 CFR 91.151, VFR by day: 30 min).")
    assert not log.complete


def test_an_unknown_reserve_rule_is_refused_with_the_ones_there_are():
    with pytest.raises(InputProblem, match=r'no reserve rule "half".*us-day, us-night'):
        planned(over(AAA), reserve_rule="half")


@pytest.mark.parametrize(
    ("off_blocks", "arrival"),
    [
        (datetime(2026, 8, 1, 23, 50, tzinfo=UTC), datetime(2026, 8, 2, 0, 15, tzinfo=UTC)),
        (datetime(2026, 8, 31, 23, 50, tzinfo=UTC), datetime(2026, 9, 1, 0, 15, tzinfo=UTC)),
        (datetime(2026, 12, 31, 23, 50, tzinfo=UTC), datetime(2027, 1, 1, 0, 15, tzinfo=UTC)),
        (datetime(2028, 2, 28, 23, 50, tzinfo=UTC), datetime(2028, 2, 29, 0, 15, tzinfo=UTC)),
    ],
)
def test_a_flight_over_midnight_rolls_the_date(off_blocks: datetime, arrival: datetime):
    start, end = leg_centred(90.0, 100.0 * 25 / 60)  # 25 min at 100 kt
    unknown = {"elevation_ft": None}
    log = planned(start=start, end=end, departure_utc=off_blocks, departure=unknown, arrival=unknown)
    assert abs((log.arrival_utc - arrival).total_seconds()) < 0.01


@pytest.mark.parametrize(("out_on", "silent"), [((1, 1), [0, 1]), ((2, 2), [1, 2]), ((3, 3), [])])
def test_an_outage_counts_on_the_day_on_which_the_leg_is_flown(out_on: tuple[int, int], silent: list[int]):
    # Legs of 40 min from 23:00Z on the 1st: the second is flown over midnight, the third on the 2nd.
    outage = Outage(first_day=date(2026, 8, out_on[0]), last_day=date(2026, 8, out_on[1]))
    stations = [
        a_vor(
            ident,
            destination(MIDDLE, bearing_true_deg=90.0, distance_nm=along_nm),
            components=(a_part(ComponentKind.AZIMUTH, outages=(outage,)),),
        )
        for ident, along_nm in (("AAA", 0.0), ("BBB", 66.7))
    ]
    start, end = (destination(MIDDLE, bearing_true_deg=90.0, distance_nm=along_nm) for along_nm in (-66.7, 133.4))
    unknown = {"elevation_ft": None}
    log = planned(
        *map(over, stations),
        beacons=stations,
        start=start,
        end=end,
        departure_utc=datetime(2026, 8, 1, 23, 0, tzinfo=UTC),
        departure=unknown,
        arrival=unknown,
        ground=level(west=-40.0, east=-33.0),
    )
    assert [index for index, leg in enumerate(log.legs) if any(stretch.has(Cause.OUTAGE) for stretch in leg.stretches)] == silent


def test_a_magnetic_wind_is_turned_by_the_local_variation():
    magnetic = (WindLayer(altitude_ft=0.0, from_deg=100.0, speed_kt=20.0, reference=NorthReference.MAGNETIC),)
    leg = planned(over(AAA), winds=magnetic, variation_deg=-11.0).legs[0]
    assert (leg.wind.from_true_deg, leg.wind.from_magnetic_deg) == (pytest.approx(89.0), pytest.approx(100.0))


def test_cruising_levels_are_advised_by_the_regions_rule_over_high_enough_flight():
    log = planned(over(AAA), over(BBB), altitude_ft=6000.0, region={"level_rule": "US"}, variation_deg=0.0)
    note = next(note for note in log.legs[1].notes if note.code == "cruising-level")
    assert note.message == "Magnetic track 082 on leg 2 asks for a cruising level such as 5,500 or 7,500 ft (US 14 CFR 91.159)."


def test_the_days_on_which_the_guiding_parts_were_confirmed_are_told():
    old = replace(AAA, components=(a_part(ComponentKind.AZIMUTH, last_confirmed=None),))
    assert planned(over(AAA), over(BBB)).beacon_data_date == "2026-05-01"
    assert planned(over(old), over(BBB), beacons=(old, BBB)).beacon_data_date == "2026-05-01; not stated for AAA"
    assert planned(over(old), beacons=(old,)).beacon_data_date == "not stated"


def test_points_carry_the_altitude_of_the_profile():
    log = planned(over(AAA), over(BBB))
    assert [point.altitude_ft for point in log.points] == pytest.approx([0.0, 6500.0, 6500.0, 1000.0])


def test_a_region_without_a_projection_of_its_own_is_drawn_round_its_places():
    materials = materials_for(over(AAA), beacons=(AAA,))
    assert materials.projection.lon_0 == pytest.approx((FROM.lon_deg + TO.lon_deg) / 2.0)
    stated = materials_for(
        region={
            "standard_parallel_1_deg": 42.5,
            "standard_parallel_2_deg": 44.5,
            "central_parallel_deg": 43.5,
            "central_meridian_deg": -36.0,
        }
    )
    assert (stated.projection.lat_1, stated.projection.lon_0) == (42.5, -36.0)
    boxed = materials_for(region={"south_deg": 42.0, "north_deg": 45.0, "west_deg": -38.0, "east_deg": -34.0})
    assert (boxed.projection.lat_1, boxed.projection.lat_2, boxed.projection.lon_0) == (42.5, 44.5, -36.0)


def test_an_airfield_on_the_way_is_flown_over_at_the_planned_altitude():
    strip = an_airfield(3, "QMID", Position(lat_deg=43.55, lon_deg=-36.5), elevation_ft=900.0)
    materials = materials_for(RoutePoint(kind=PointKind.AIRFIELD, place_id=3))
    log = plan(replace(materials, airfields={**materials.airfields, 3: strip})).log
    assert (log.points[1].name, log.points[1].altitude_ft) == ("Qmid Field", 6500.0)
