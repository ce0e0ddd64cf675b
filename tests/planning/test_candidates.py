"""The list a pilot picks the next beacon from."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from server.errors import InputProblem
from server.navigation import Position, destination, distance_nm
from server.persistence import Library
from server.planning import Candidate, leg_candidates
from server.planning.candidates import MOST_CANDIDATES
from server.planning.reach import REASONS
from server.radio import Beacon, BeaconKind, Cause, ComponentKind, ComponentStatus, Outage, ServiceClass
from tests.planning.planning_builders import DAY, GroundInHand, a_part, a_tourer, a_vor, an_airfield, an_ndb, level, over, shelve
from tests.planning.test_chain import DETOUR, DIRECT, EAST, WEST, route_of, walls


def candidates(
    library: Library, *beacons: Beacon, via: str = "", after: int = 0, ground=None, west=WEST, **changes
) -> tuple[Candidate, ...]:
    """The candidates behind point ``after`` of a route by way of one beacon, or straight."""
    fields = (an_airfield(1, "QWES", west), an_airfield(2, "QEAS", EAST))
    shelved = shelve(library, beacons=beacons, airfields=fields, aircraft=a_tourer())
    points = (replace(over(DIRECT), place_id=shelved.beacons[via]),) if via else ()
    with library.begin() as work:
        kept = work.routes.add(route_of(shelved, points=points, **changes))
    return leg_candidates(library, GroundInHand(ground or level()), kept.id, after=after)


def found(listed: tuple[Candidate, ...]) -> list[tuple[str, str]]:
    return [(candidate.beacon.ident, candidate.verdict) for candidate in listed]


def test_received_comes_first_and_among_equals_the_shortest_way_to_the_destination(shelf: Library):
    unstated = a_vor("UNS", Position(lat_deg=43.5, lon_deg=-37.1), components=(a_part(ComponentKind.AZIMUTH, coverage=()),))
    gone = a_vor("GON", DIRECT.position, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.WITHDRAWN),))
    listed = candidates(shelf, gone, unstated, DETOUR, DIRECT)
    assert found(listed) == [("DIR", "received"), ("DET", "received"), ("UNS", "marginal"), ("GON", "not received")]


def test_a_candidate_tells_how_far_and_which_way(shelf: Library):
    (candidate,) = candidates(shelf, DIRECT)
    assert candidate.distance_nm == pytest.approx(distance_nm(WEST, DIRECT.position))
    assert candidate.distance_to_destination_nm == pytest.approx(distance_nm(DIRECT.position, EAST))
    assert candidate.track_true_deg == pytest.approx(90.0, abs=0.1)  # two places on one parallel, at the middle
    assert candidate.track_magnetic_deg == pytest.approx(candidate.track_true_deg + 11.0, abs=1.5)  # about 11 W there, WMM2025
    assert re.fullmatch(r"received once level; \d\.\d NM of climb or descent are not", candidate.reason)
    assert candidate.curing_altitude_ft is None


def test_a_hidden_beacon_says_where_why_and_what_would_cure_it(shelf: Library):
    (candidate,) = candidates(shelf, DIRECT, ground=walls(1400.0, -36.9), altitude_ft=4500.0, aircraft_id=None)
    assert candidate.verdict == "not received"
    assert candidate.reason.startswith("not received from 0.0 to ") and candidate.reason.endswith(": hidden by terrain")
    assert candidate.curing_altitude_ft == pytest.approx(9710.0 + 150.0, rel=0.01)  # as worked out in test_chain.py, with its band


def test_what_terrain_alone_does_not_explain_has_no_cure(shelf: Library):
    weak = replace(DIRECT, components=(a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),))
    (candidate,) = candidates(shelf, weak, ground=walls(1400.0, -36.9), altitude_ft=4500.0, aircraft_id=None)
    assert candidate.verdict == "not promised"
    assert candidate.curing_altitude_ft is None  # the field lies 43.5 NM away, beyond the 40 NM of class L


def test_a_beacon_without_a_class_is_unknown_far_away_and_not_simply_out_of_range(shelf: Library):
    unstated = replace(DIRECT, components=(a_part(ComponentKind.AZIMUTH, coverage=()),))
    (candidate,) = candidates(shelf, unstated)  # 43.5 NM away; the smallest class that it may have reaches 25 NM (AIM TBL 1-1-1)
    assert candidate.verdict == "unknown"
    assert candidate.reason.endswith(REASONS[Cause.CLASS_UNKNOWN])


@pytest.mark.parametrize(
    ("part", "reason"),
    [
        ({"status": ComponentStatus.WITHDRAWN}, "DIR: withdrawn"),
        ({"status": ComponentStatus.OUT_OF_SERVICE}, "DIR: out of service"),
        ({"outages": (Outage(first_day=DAY),)}, "DIR: notified out of service on that day"),
    ],
)
def test_a_beacon_off_the_air_is_not_received_however_well_the_one_behind_is(shelf: Library, part: dict, reason: str):
    behind = a_vor("BEH", Position(lat_deg=43.5, lon_deg=-36.6))
    silent = replace(DIRECT, components=(a_part(ComponentKind.AZIMUTH, **part),))
    (candidate,) = candidates(shelf, behind, silent, via="BEH", after=1)
    assert (candidate.verdict, candidate.reason) == ("not received", reason)


def test_an_ndb_is_listed_and_what_guides_nobody_is_not(shelf: Library):
    ndb = an_ndb("NDB", Position(lat_deg=43.5, lon_deg=-37.0))
    tacan = a_vor("TAC", DIRECT.position, kind=BeaconKind.TACAN)
    dme = a_vor("DME", DIRECT.position, kind=BeaconKind.DME, components=(a_part(ComponentKind.DISTANCE),))
    assert found(candidates(shelf, ndb, tacan, dme)) == [("NDB", "received")]


def test_the_beacon_one_stands_on_is_not_listed_and_one_beside_the_field_is(shelf: Library):
    assert found(candidates(shelf, DIRECT, DETOUR, via="DIR", after=1)) == [("DET", "received")]


def test_a_beacon_on_the_field_can_be_the_first(shelf: Library):
    listed = candidates(shelf, DIRECT, west=DIRECT.position)
    assert found(listed) == [("DIR", "received")]
    assert (listed[0].distance_nm, listed[0].track_true_deg, listed[0].track_magnetic_deg) == (0.0, None, None)


def test_a_beacon_out_of_every_reach_is_not_listed(shelf: Library):
    far = a_vor("FAR", destination(WEST, bearing_true_deg=180.0, distance_nm=150.0))
    assert candidates(shelf, far) == ()


def test_of_very_many_the_nearest_to_the_way_are_listed(shelf: Library):
    many = [
        an_ndb(f"N{number:02d}", Position(lat_deg=43.5 + 0.005 * number, lon_deg=-37.0)) for number in reversed(range(MOST_CANDIDATES + 5))
    ]
    listed = candidates(shelf, *many)
    assert len(listed) == MOST_CANDIDATES
    assert {candidate.beacon.ident for candidate in listed}.isdisjoint({"N60", "N61", "N62", "N63", "N64"})


@pytest.mark.parametrize("after", [-1, 2, 99])
def test_a_point_that_the_route_does_not_have_is_refused(shelf: Library, after: int):
    with pytest.raises(InputProblem, match=f"no point {after} to go on from: its points before the destination are 0 to 1"):
        candidates(shelf, DIRECT, via="DIR", after=after)


def test_every_cause_has_words():
    assert set(REASONS) == set(Cause)
