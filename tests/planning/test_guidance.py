"""Which beacons guide a leg, and what is set for each at both ends."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.navigation import (
    Alignment,
    AlignmentKind,
    Checkpoint,
    PointKind,
    Position,
    RoutePoint,
    destination,
    distance_nm,
    position_along,
)
from server.planning import plan
from server.planning.log import LogLeg, Sense
from server.radio import BeaconKind, ComponentKind
from tests.planning.planning_builders import a_part, a_vor, an_ndb, at, codes, level, materials_for, over, words

HERE = Position(lat_deg=43.5, lon_deg=-36.8)
AAA = a_vor("AAA", HERE)
BBB = a_vor("BBB", destination(HERE, bearing_true_deg=80.0, distance_nm=50.0))


def legs(*points: RoutePoint, beacons=(AAA, BBB), **changes) -> tuple[LogLeg, ...]:
    return plan(materials_for(*points, beacons=beacons, **changes)).log.legs


def guides(leg: LogLeg) -> list[tuple[str, Sense]]:
    return [(guidance.beacon.ident, guidance.sense) for guidance in leg.guidance]


# Monroeville VORTAC and Enterprise VOR, Alabama: the open beacon table of OurAirports (public domain), August 2026.
MVC = a_vor(
    "MVC",
    Position(lat_deg=31.460399627685547, lon_deg=-87.35279846191406),
    kind=BeaconKind.VORTAC,
    elevation_ft=417.0,
    alignment=Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=4.001),
)
EDN = a_vor(
    "EDN",
    Position(lat_deg=31.29599952697754, lon_deg=-85.9032974243164),
    elevation_ft=369.0,
    alignment=Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-3.001),
)
ALABAMA = {
    "start": Position(lat_deg=31.4, lon_deg=-87.8),
    "end": Position(lat_deg=31.2, lon_deg=-85.6),
    "ground": level(90.0, south=30.5, north=32.5, west=-88.5, east=-85.0),
}


def test_agrees_with_the_open_table_that_mvc_to_edn_is_flown_out_on_093_and_in_on_101():
    # Worked out from the stations' published places and alignments: radial out 093.2, inbound course 100.9, 75 NM.
    log = plan(materials_for(over(MVC), over(EDN), beacons=(MVC, EDN), **ALABAMA)).log
    leg = log.legs[1]
    out, into = leg.guidance
    assert leg.distance_nm == pytest.approx(75.0, abs=0.5)
    assert (out.sense, out.selected_course_deg, out.radial_deg) == (
        Sense.FROM,
        pytest.approx(93.2, abs=0.05),
        pytest.approx(93.2, abs=0.05),
    )
    assert (into.sense, into.selected_course_deg, into.radial_deg) == (
        Sense.TO,
        pytest.approx(100.9, abs=0.05),
        pytest.approx(280.9, abs=0.05),
    )
    assert words(replace(log, legs=(leg,)), "obs-change") == (
        "At the changeover the OBS goes from 093 FROM to 101 TO: each station keeps its own north. The heading stays."
    )


def test_the_magnetic_model_makes_no_radial_of_a_station_that_has_an_alignment():
    plain = plan(materials_for(over(MVC), over(EDN), beacons=(MVC, EDN), **ALABAMA)).log.legs[1]
    turned = plan(materials_for(over(MVC), over(EDN), beacons=(MVC, EDN), variation_deg=50.0, **ALABAMA)).log.legs[1]
    assert [each.selected_course_deg for each in turned.guidance] == [each.selected_course_deg for each in plain.guidance]
    assert all(each.estimated for each in turned.guidance)  # so far from the variation it cannot be true: a value, but no sure one
    assert turned.track_magnetic_deg == pytest.approx((turned.track_true_deg - 50.0) % 360.0)  # while the track follows it


def test_an_unknown_alignment_is_estimated_from_the_magnetic_model_and_says_so():
    unknown = replace(AAA, alignment=Alignment(kind=AlignmentKind.UNKNOWN))
    log = plan(materials_for(over(unknown), over(BBB), beacons=(unknown, BBB), variation_deg=-10.0)).log
    out, into = log.legs[1].guidance
    assert (out.estimated, into.estimated) == (True, False)
    assert out.radial_deg == pytest.approx(80.0 + 10.0, abs=0.01)
    assert "AAA: its alignment is not published; the radial is estimated" in words(replace(log, legs=log.legs[1:2]), "alignment-estimated")


def test_a_station_aligned_to_true_north_is_set_to_the_true_course():
    true = replace(AAA, alignment=Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0))
    log = plan(materials_for(over(true), over(BBB), beacons=(true, BBB))).log
    out = log.legs[1].guidance[0]
    assert (out.reference, out.selected_course_deg) == ("T", pytest.approx(80.0, abs=0.01))
    assert words(replace(log, legs=log.legs[1:2]), "true-aligned") == "AAA is aligned to true north: set the true course 080T on the OBS."


def test_a_station_aligned_to_grid_north_counts_from_its_grid_angle():
    grid = replace(AAA, alignment=Alignment(kind=AlignmentKind.GRID, declination_deg=36.0))
    out = legs(over(grid), over(BBB), beacons=(grid, BBB))[1].guidance[0]
    assert (out.reference, out.selected_course_deg) == ("G", pytest.approx(80.0 - 36.0, abs=0.01))


def test_a_grid_station_without_its_grid_angle_gets_no_course_and_a_note():
    grid = replace(AAA, alignment=Alignment(kind=AlignmentKind.GRID))
    log = plan(materials_for(over(grid), over(BBB), beacons=(grid, BBB))).log
    assert log.legs[1].guidance[0].selected_course_deg is None
    note = words(replace(log, legs=log.legs[1:2]), "grid-angle-unknown")
    assert note == "AAA is aligned to grid north and its grid angle is not known: there is no course to set."


def test_from_an_airfield_the_first_beacon_is_flown_to_and_the_last_one_from():
    first, middle, last = legs(over(AAA), over(BBB))
    assert guides(first) == [("AAA", Sense.TO)]
    assert guides(middle) == [("AAA", Sense.FROM), ("BBB", Sense.TO)]
    assert guides(last) == [("BBB", Sense.FROM)]
    assert first.changeover_nm is None and middle.changeover_nm == pytest.approx(25.0, abs=0.01)


def test_a_checkpoint_on_the_line_between_two_beacons_keeps_both_guides():
    on_line = Checkpoint(id=7, region_id=1, name="Long Mere", feature="lake", position=position_along(AAA.position, BBB.position, 20.0))
    by_way = RoutePoint(kind=PointKind.CHECKPOINT, place_id=7)
    _, before, after, _ = legs(over(AAA), by_way, over(BBB), checkpoints=(on_line,))
    assert guides(before) == guides(after) == [("AAA", Sense.FROM), ("BBB", Sense.TO)]
    assert after.guidance[0].selected_course_deg == pytest.approx(80.0 + 8.0, abs=0.5)


def test_a_leg_on_no_radial_says_that_nothing_guides_it():
    aside = [destination(AAA.position, bearing_true_deg=bearing, distance_nm=20.0) for bearing in (10.0, 50.0)]
    log = plan(materials_for(over(AAA), at(aside[0]), at(aside[1]), beacons=(AAA,))).log
    assert guides(log.legs[2]) == []
    note = words(replace(log, legs=log.legs[2:3]), "no-guidance")
    assert note == "No beacon of the route guides leg 3: it lies on no radial. Fly heading and time, and look out."


def test_out_to_a_point_and_back_over_the_same_beacon_is_flown_from_it_and_then_to_it():
    out = destination(AAA.position, bearing_true_deg=30.0, distance_nm=25.0)
    _, away, back, _ = legs(over(AAA), at(out), over(AAA), beacons=(AAA,))
    assert guides(away) == [("AAA", Sense.FROM)]
    assert guides(back) == [("AAA", Sense.TO)]
    assert away.guidance[0].selected_course_deg == pytest.approx(38.0, abs=0.01)
    assert back.guidance[0].selected_course_deg == pytest.approx(218.0, abs=0.01)


def test_turning_back_short_of_the_beacon_behind_is_flown_to_it():
    out, back = (destination(AAA.position, bearing_true_deg=30.0, distance_nm=away) for away in (30.0, 12.0))
    leg = legs(over(AAA), at(out), at(back), beacons=(AAA,))[2]
    assert guides(leg) == [("AAA", Sense.TO)]
    assert leg.guidance[0].selected_course_deg == pytest.approx(218.0, abs=0.01)


def test_an_ndb_gives_a_bearing_along_the_leg_and_no_course():
    ndb, onward = an_ndb("NDB", HERE), BBB
    log = plan(materials_for(over(ndb), over(onward), beacons=(ndb, onward), variation_deg=-10.0)).log
    inbound, outbound = log.legs[0].guidance[0], log.legs[1].guidance[0]
    assert (inbound.component, inbound.sense, inbound.selected_course_deg) == (ComponentKind.BEARING, Sense.TO, None)
    assert inbound.bearing_magnetic_deg == pytest.approx(log.legs[0].track_magnetic_deg)
    assert outbound.bearing_magnetic_deg == pytest.approx((log.legs[1].track_magnetic_deg + 180.0) % 360.0)
    assert {"ndb-no-flag"} <= codes(log)


@pytest.mark.parametrize(
    ("kind", "parts"),
    [
        (BeaconKind.TACAN, (ComponentKind.AZIMUTH, ComponentKind.DISTANCE)),
        (BeaconKind.DME, (ComponentKind.DISTANCE,)),
    ],
)
def test_a_tacan_or_a_dme_alone_guides_no_leg(kind: BeaconKind, parts: tuple[ComponentKind, ...]):
    mute = a_vor("MUT", HERE, kind=kind, components=tuple(a_part(part) for part in parts))
    log = plan(materials_for(over(mute), beacons=(mute,))).log
    assert [leg.guidance for leg in log.legs] == [(), ()]
    assert [leg.receptions for leg in log.legs] == [(), ()]


def test_a_tacan_on_the_line_does_not_hide_the_vor_behind_it():
    mute = a_vor("MUT", position_along(AAA.position, BBB.position, 25.0), kind=BeaconKind.TACAN)
    leg = legs(over(AAA), over(mute), over(BBB), beacons=(AAA, mute, BBB))[2]
    assert guides(leg) == [("AAA", Sense.FROM), ("BBB", Sense.TO)]


def test_the_distance_part_of_a_guide_is_surveyed_after_the_guiding_parts():
    paired = replace(AAA, kind=BeaconKind.VOR_DME, components=(a_part(ComponentKind.AZIMUTH), a_part(ComponentKind.DISTANCE)))
    leg = legs(over(paired), over(BBB), beacons=(paired, BBB))[1]
    assert [(each.beacon.ident, each.component.value) for each in leg.receptions] == [
        ("AAA", "azimuth"),
        ("BBB", "azimuth"),
        ("AAA", "distance"),
    ]


def test_guidance_covers_the_leg_from_end_to_end():
    leg = legs(over(AAA), over(BBB))[1]
    assert (leg.guidance[0].from_nm, leg.guidance[1].to_nm) == (0.0, pytest.approx(distance_nm(AAA.position, BBB.position)))
    assert leg.guidance[0].to_nm == leg.guidance[1].from_nm == leg.changeover_nm
