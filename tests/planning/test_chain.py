"""The builder of whole chains: the shortest whose every leg is received, or the plain reason why there is none."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from server.errors import InputProblem, NotFound
from server.navigation import Position, Route, destination, distance_nm
from server.persistence import Library
from server.planning import ChainResult, build_chain
from server.radio import Beacon, BeaconKind, ComponentKind, ComponentStatus, Outage, ServiceClass
from server.terrain import EmptyTerrain
from tests.planning.planning_builders import (
    DAY,
    OFF_BLOCKS,
    STILL_AIR,
    GroundInHand,
    QuickGround,
    Shelved,
    a_part,
    a_tourer,
    a_vor,
    an_airfield,
    an_ndb,
    at,
    level,
    shelve,
)

WEST, EAST = Position(lat_deg=43.5, lon_deg=-37.4), Position(lat_deg=43.5, lon_deg=-35.4)
DIRECT = a_vor("DIR", Position(lat_deg=43.5, lon_deg=-36.4))
DETOUR = a_vor("DET", Position(lat_deg=43.95, lon_deg=-36.4))


def walls(height_m: float, *lon_deg: float) -> QuickGround:
    """Sea level with walls from north to south between 43.3 and 43.7 N, each one post wide."""
    ground = level()
    for lon in lon_deg:
        ground.posts[round((45.0 - 43.7) * 120) : round((45.0 - 43.3) * 120) + 1, round((lon + 38.0) * 120)] = height_m
    return ground


def route_of(shelved: Shelved, **changes) -> Route:
    fields = {
        "region_id": shelved.region.id,
        "name": "West to east",
        "departure_airfield_id": shelved.airfields["QWES"],
        "destination_airfield_id": shelved.airfields["QEAS"],
        "altitude_ft": 5500.0,
        "departure_utc": OFF_BLOCKS,
        "aircraft_id": shelved.aircraft,
        "winds": STILL_AIR,
    }
    return Route(**{**fields, **changes})


def chain(library: Library, *beacons: Beacon, ground=None, west=WEST, east=EAST, **changes) -> tuple[ChainResult, list[str]]:
    """Build the chain over these beacons; return what came of it and the idents on the way."""
    fields = (an_airfield(1, "QWES", west), an_airfield(2, "QEAS", east))
    shelved = shelve(library, beacons=beacons, airfields=fields, aircraft=a_tourer())
    result = build_chain(library, GroundInHand(ground or level()), route_of(shelved, **changes))
    idents = {number: ident for ident, number in shelved.beacons.items()}
    return result, [idents[point.place_id] for point in result.route.points]


def test_over_open_ground_the_beacon_on_the_way_is_taken(shelf: Library):
    result, idents = chain(shelf, DIRECT, DETOUR)
    assert (result.found, idents) == (True, ["DIR"])
    length_nm = distance_nm(WEST, DIRECT.position) + distance_nm(DIRECT.position, EAST)
    assert result.explanation.startswith(f"Qwes Field - DIR - Qeas Field: {length_nm:.1f} NM, ")
    assert "Once level, the legs are received at 5,500 ft." in result.explanation
    assert re.search(r"In climb and descent \d\.\d NM are flown without guidance", result.explanation)  # on the ground nothing is in sight


def test_a_chain_flown_in_part_without_guidance_is_not_called_received(shelf: Library):
    result, _ = chain(shelf, DIRECT, DETOUR)
    assert "Every leg is received" not in result.explanation and "received all along" not in result.explanation


def test_behind_ridges_the_beacon_on_the_way_is_left_for_the_detour(shelf: Library):
    result, idents = chain(shelf, DIRECT, DETOUR, ground=walls(1500.0, -36.45, -36.35))
    assert (result.found, idents) == (True, ["DET"])


def test_the_shortest_of_several_received_chains_is_taken(shelf: Library):
    # A class T station reaches 25 NM, so no leg from a field may be longer, and neither beacon alone will do. FAR lies off the way.
    short = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.T),)
    one, two, far = (
        a_vor("ONE", Position(lat_deg=43.5, lon_deg=-36.9), components=short),
        a_vor("TWO", Position(lat_deg=43.55, lon_deg=-35.9), components=short),
        a_vor("FAR", Position(lat_deg=43.80, lon_deg=-36.0), components=short),
    )
    result, idents = chain(shelf, far, two, one)
    assert (result.found, idents) == (True, ["ONE", "TWO"])


def test_legs_are_judged_only_when_the_search_comes_to_them(shelf: Library):
    aside = [
        a_vor(f"A{number:02d}", destination(DIRECT.position, bearing_true_deg=bearing, distance_nm=30.0))
        for number, bearing in enumerate(range(0, 360, 20))
    ]
    result, idents = chain(shelf, DIRECT, *aside)
    assert idents == ["DIR"]
    assert result.legs_checked == 2  # out of 20 * 19 / 2 pairs


OUTAGE_TODAY = (Outage(first_day=DAY, last_day=DAY),)
OUTAGE_BEFORE = (Outage(first_day=date(2026, 7, 1), last_day=date(2026, 7, 31)),)


@pytest.mark.parametrize(
    ("part", "taken"),
    [
        (a_part(ComponentKind.AZIMUTH), "DIR"),
        (a_part(ComponentKind.AZIMUTH, outages=OUTAGE_BEFORE), "DIR"),
        (a_part(ComponentKind.AZIMUTH, outages=OUTAGE_TODAY), "DET"),
        (a_part(ComponentKind.AZIMUTH, status=ComponentStatus.WITHDRAWN), "DET"),
        (a_part(ComponentKind.AZIMUTH, status=ComponentStatus.OUT_OF_SERVICE), "DET"),
        (a_part(ComponentKind.AZIMUTH, status=ComponentStatus.UNKNOWN), "DET"),
    ],
)
def test_a_beacon_that_is_not_known_to_be_on_the_air_that_day_is_not_used(shelf: Library, part, taken: str):
    assert chain(shelf, replace(DIRECT, components=(part,)), DETOUR)[1] == [taken]


def test_a_withdrawn_beacon_is_no_turning_point_even_where_others_cover_its_legs(shelf: Library):
    # NEAR and NEXT reach 60 NM: they cover each other's legs by way of GON, and also each other directly.
    near, gone, nxt = (
        a_vor("NEA", Position(lat_deg=43.5, lon_deg=-36.9)),
        a_vor("GON", Position(lat_deg=43.5, lon_deg=-36.4), components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.WITHDRAWN),)),
        a_vor("NXT", Position(lat_deg=43.5, lon_deg=-35.9)),
    )
    assert "GON" not in chain(shelf, near, gone, nxt)[1]


@pytest.mark.parametrize(
    "useless",
    [
        an_ndb("NDB", DIRECT.position),
        a_vor("TAC", DIRECT.position, kind=BeaconKind.TACAN),
        a_vor("DME", DIRECT.position, kind=BeaconKind.DME, components=(a_part(ComponentKind.DISTANCE),)),
    ],
)
def test_only_what_a_vor_receiver_can_use_is_chained(shelf: Library, useless: Beacon):
    result, idents = chain(shelf, useless)
    assert (result.found, idents) == (False, [])
    assert result.explanation.startswith(
        "There is no chain: no beacon near the way has an azimuth that is on the air and that a VOR receiver can use."
    )
    assert ("NDBs to choose by hand: NDB." in result.explanation) == (useless.kind is BeaconKind.NDB)


def test_without_a_chain_it_says_why_and_from_which_altitude_there_is_one(shelf: Library):
    # A wall of 1,400 m half way to the only beacon, 21.8 NM before it: from the field beyond, 43.5 NM away, the ray that grazes it
    # stands at 2 (1400 - 96) + 383 = 2,990 m or 9,810 ft (heights over a 4/3 earth), less the antenna's 30 m. The first of the
    # altitudes 1,000 ft apart above that is 10,500 ft.
    result, _ = chain(shelf, DIRECT, ground=walls(1400.0, -36.9), altitude_ft=4500.0, aircraft_id=None)
    assert (result.found, result.higher_altitude_ft) == (False, 10_500.0)
    assert result.explanation.startswith(
        "There is no chain at 4,500 ft whose every leg is received. At 10,500 ft there is one. "
        "No beacon is received from Qwes Field after the climb. Nearest: Qwes Field to DIR, not received from "
    )
    # To be sure of it: ground 10 m wrong at half way counts twice, 66 ft; k = 1.2 instead of 4/3 bends the earth by about 80 ft more.
    assert "hidden by terrain; from 9,900 ft up no terrain would hide it." in result.explanation


def test_without_a_chain_at_any_altitude_it_says_so_and_leaves_the_route_as_it_was(shelf: Library):
    short = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.T),)
    result, _ = chain(shelf, replace(DIRECT, components=short))
    assert (result.found, result.higher_altitude_ft) == (False, None)
    assert "Nearest: Qwes Field to DIR, longer than the published ranges reach." in result.explanation
    assert "Up to 17,500 ft there is none: choose the beacons by hand, or fly part of the way by eye." in result.explanation


def test_a_chain_that_fails_only_on_the_way_in_says_so(shelf: Library):
    result, _ = chain(shelf, DIRECT, ground=walls(1500.0, -36.35), aircraft_id=None)
    assert "No beacon is received on the way into Qeas Field. Nearest: DIR to Qeas Field, not received from" in result.explanation


def test_a_chain_that_breaks_in_the_middle_says_so(shelf: Library):
    short = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.T),)
    first, last = (a_vor(ident, Position(lat_deg=43.5, lon_deg=lon), components=short) for ident, lon in (("FST", -37.0), ("LST", -35.8)))
    result, _ = chain(shelf, first, last)
    assert "The chain breaks between the beacons. Nearest: FST to LST, longer than the published ranges reach." in result.explanation


def test_over_unknown_ground_no_leg_is_taken_for_received(shelf: Library):
    result, _ = chain(shelf, DIRECT, ground=EmptyTerrain())
    assert not result.found
    assert "terrain not known" in result.explanation


def test_a_marginal_leg_is_not_used(shelf: Library):
    # A station that publishes no class is taken for the smallest, and is marginal even inside it.
    unstated = (a_part(ComponentKind.AZIMUTH, coverage=()),)
    near_west, near_east = Position(lat_deg=43.5, lon_deg=-36.6), Position(lat_deg=43.5, lon_deg=-36.2)
    result, _ = chain(shelf, replace(DIRECT, components=unstated), west=near_west, east=near_east)
    assert not result.found
    assert "marginal" in result.explanation and "service class not known" in result.explanation


def test_a_field_beside_the_beacon_is_no_obstacle(shelf: Library):
    assert chain(shelf, DIRECT, west=DIRECT.position)[1] == ["DIR"]


def test_a_round_trip_goes_out_to_a_beacon_and_back(shelf: Library):
    near = destination(DIRECT.position, bearing_true_deg=270.0, distance_nm=20.0)
    result, idents = chain(shelf, DIRECT, west=near, east=near)
    assert (result.found, idents) == (True, ["DIR"])


def test_a_beacon_far_off_the_way_is_left_out(shelf: Library):
    far = a_vor("FAR", destination(WEST, bearing_true_deg=250.0, distance_nm=120.0))
    result, _ = chain(shelf, far)
    assert result.legs_checked == 0
    assert result.explanation.startswith("There is no chain: no beacon near the way")


def test_a_chain_replaces_what_the_stored_route_holds_between_its_ends(shelf: Library):
    fields = (an_airfield(1, "QWES", WEST), an_airfield(2, "QEAS", EAST))
    shelved = shelve(shelf, beacons=(DIRECT, DETOUR), airfields=fields, aircraft=a_tourer())
    with shelf.begin() as work:
        kept = work.routes.add(route_of(shelved, points=(at(Position(lat_deg=43.2, lon_deg=-36.0)),)))
    result = build_chain(shelf, GroundInHand(level()), kept.id)
    assert [point.place_id for point in result.route.points] == [shelved.beacons["DIR"]]
    assert (result.route.id, result.route.name) == (kept.id, kept.name)


def test_a_chain_needs_an_altitude_and_a_route_that_is_there(shelf: Library):
    with pytest.raises(InputProblem, match="Give the altitude"):
        chain(shelf, DIRECT, altitude_ft=None)
    with pytest.raises(NotFound, match="no route with number 4711"):
        build_chain(shelf, GroundInHand(level()), 4711)
