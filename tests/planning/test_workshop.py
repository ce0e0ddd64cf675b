"""A region worked on at its chart: things moved, a moved beacon tried, a sector forbidden. Distances and directions by pyproj."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime

import numpy as np
import pytest
from pyproj import Geod

from server.errors import InputProblem, NotFound, OutOfRange
from server.navigation import Alignment, AlignmentKind, Checkpoint, PointKind, Position, Route, RoutePoint, destination
from server.persistence import RegionRecord
from server.planning.workshop import forbid_sector, lift_sector, move_place, moved_beacon, try_beacon_at
from server.radio import Beacon, BeaconKind, ComponentKind, ReceptionState, ServiceClass, UnusableSector, severity
from tests.builders import flat_ground
from tests.planning.planning_builders import (
    FROM,
    MIDDLE,
    STILL_AIR,
    TO,
    GroundInHand,
    a_part,
    a_tourer,
    a_vor,
    an_airfield,
    level,
    quick,
    ridge,
    shelve,
)

GEOD = Geod(ellps="WGS84")
NM = 1852.0
FT_PER_M = 1.0 / 0.3048
THERE = Position(lat_deg=43.1, lon_deg=-35.9)


def clock() -> datetime:
    return datetime(2026, 8, 1, 12, 0, tzinfo=UTC)


def way(start: Position, end: Position) -> tuple[float, float]:
    """True direction [deg] and distance [NM]."""
    bearing_deg, _, away_m = GEOD.inv(start.lon_deg, start.lat_deg, end.lon_deg, end.lat_deg)
    return bearing_deg % 360.0, away_m / NM


def with_parts(**changes) -> Beacon:
    """A VOR with a DME 3 NM to the south-east on its own hill, and an NDB beside it that shares its elevation."""
    aside = destination(MIDDLE, bearing_true_deg=140.0, distance_nm=3.0)
    parts = (
        a_part(ComponentKind.AZIMUTH),
        a_part(ComponentKind.DISTANCE, position=aside, elevation_ft=820.0),
        a_part(ComponentKind.BEARING, position=MIDDLE, service_class=ServiceClass.MH, coverage=()),
    )
    return a_vor("AAA", MIDDLE, **({"elevation_ft": 500.0, "components": parts} | changes))


@pytest.mark.parametrize("take_ground", [False, True])
@pytest.mark.parametrize("there", [THERE, Position(lat_deg=-17.0, lon_deg=179.99), Position(lat_deg=66.0, lon_deg=20.0)])
def test_parts_keep_their_direction_and_distance_from_a_moved_beacon(there, take_ground):
    before = with_parts()
    after = moved_beacon(before, there, ground=level(), take_ground=take_ground)
    assert after.position == there
    own, same = after.component(ComponentKind.DISTANCE).position, after.component(ComponentKind.BEARING).position
    assert way(there, own) == (pytest.approx(140.0, abs=1e-6), pytest.approx(3.0, abs=1e-6))
    assert way(there, same)[1] == pytest.approx(0.0, abs=1e-6)
    assert after.component(ComponentKind.AZIMUTH).position is None, "a part without a place of its own goes with the station"


def test_without_taking_the_ground_every_elevation_stays():
    after = moved_beacon(with_parts(), THERE, ground=level(1_000.0), take_ground=False)
    assert (after.elevation_ft, after.component(ComponentKind.DISTANCE).elevation_ft) == (500.0, 820.0)


def test_taking_the_ground_the_beacon_stands_on_it_and_a_part_rises_as_much():
    """1,000 m are 3,281 ft: 2,781 ft higher than before."""
    after = moved_beacon(with_parts(), THERE, ground=level(1_000.0), take_ground=True)
    assert after.elevation_ft == 3_281.0
    assert after.component(ComponentKind.DISTANCE).elevation_ft == 820.0 + 2_781.0
    assert after.component(ComponentKind.AZIMUTH).elevation_ft is None


def test_where_the_new_ground_is_not_known_elevations_stay():
    nowhere = quick(flat_ground(700.0, south=10.0, north=11.0, west=10.0, east=11.0))
    after = moved_beacon(with_parts(), THERE, ground=nowhere, take_ground=True)
    assert (after.elevation_ft, after.component(ComponentKind.DISTANCE).elevation_ft) == (500.0, 820.0)


def test_a_beacon_of_unknown_elevation_gets_one_and_its_parts_keep_theirs():
    after = moved_beacon(with_parts(elevation_ft=None), THERE, ground=level(1_000.0), take_ground=True)
    assert (after.elevation_ft, after.component(ComponentKind.DISTANCE).elevation_ft) == (3_281.0, 820.0)


def test_everything_else_of_a_moved_beacon_stays():
    before = with_parts(alignment=Alignment(kind=AlignmentKind.TRUE))
    after = moved_beacon(before, THERE, ground=level(), take_ground=True)
    kept = ("id", "ident", "name", "kind", "frequency_khz", "alignment", "antenna_height_ft")
    assert [getattr(after, name) for name in kept] == [getattr(before, name) for name in kept]
    assert [part.kind for part in after.components] == [part.kind for part in before.components]


@pytest.fixture
def region(shelf):
    """A region with two beacons, two airfields, a checkpoint and three routes: over the beacon, by a fix of it, and past it."""
    shelved = shelve(
        shelf,
        beacons=(with_parts(), a_vor("BBB", destination(MIDDLE, bearing_true_deg=60.0, distance_nm=30.0))),
        airfields=(an_airfield(1, "QFRO", FROM, elevation_ft=120.0), an_airfield(2, "QTOO", TO)),
        aircraft=a_tourer(),
    )
    ends = {
        "region_id": shelved.region.id,
        "departure_airfield_id": shelved.airfields["QFRO"],
        "destination_airfield_id": shelved.airfields["QTOO"],
        "altitude_ft": 6_500.0,
        "winds": STILL_AIR,
    }
    station = shelved.beacons["AAA"]
    with shelf.begin() as work:
        work.checkpoints.add(Checkpoint(region_id=shelved.region.id, name="Old Mill", feature="mill", position=MIDDLE))
        work.routes.add(Route(name="Over it", points=(RoutePoint(kind=PointKind.BEACON, place_id=station),), **ends))
        fix = RoutePoint(kind=PointKind.RADIAL_DISTANCE, name="Fix", beacon_id=station, radial_deg=90.0, distance_nm=12.0)
        work.routes.add(Route(name="By a fix", points=(fix,), **ends))
        work.routes.add(Route(name="Past it", points=(), **ends))
    return shelved


def stored_beacon(shelf, region, ident: str = "AAA") -> Beacon:
    with shelf.read() as work:
        return work.beacons.get(region.beacons[ident])


def test_a_moved_beacon_is_kept_with_its_parts_and_the_routes_that_use_it_are_named(shelf, region):
    store = GroundInHand(level(1_000.0))
    moved = move_place(shelf, store, "skerry", "beacons", region.beacons["AAA"], THERE, take_ground=True)
    kept = stored_beacon(shelf, region)
    assert moved.thing == kept and kept.position == THERE and kept.elevation_ft == 3_281.0
    assert way(THERE, kept.component(ComponentKind.DISTANCE).position) == (pytest.approx(140.0, abs=1e-4), pytest.approx(3.0, abs=1e-4))
    assert {route.name for route in moved.routes} == {"Over it", "By a fix"}
    assert moved.distance_nm == pytest.approx(way(MIDDLE, THERE)[1], abs=1e-6)
    assert moved.ground_ft == pytest.approx(1_000.0 * FT_PER_M)


def test_a_moved_airfield_names_every_route_that_begins_or_ends_there(shelf, region):
    store = GroundInHand(level(1_000.0))
    moved = move_place(shelf, store, "skerry", "airfields", region.airfields["QFRO"], THERE, take_ground=False)
    assert moved.thing.elevation_ft == 120.0 and moved.thing.position == THERE
    assert {route.name for route in moved.routes} == {"Over it", "By a fix", "Past it"}
    again = move_place(shelf, store, "skerry", "airfields", region.airfields["QFRO"], MIDDLE, take_ground=True)
    assert again.thing.elevation_ft == 3_281.0
    with shelf.read() as work:
        assert work.airfields.get(region.airfields["QFRO"]) == again.thing


def test_a_moved_checkpoint_has_no_elevation_to_take(shelf, region):
    with shelf.read() as work:
        (mill,) = work.checkpoints.list(region.region.id)
    moved = move_place(shelf, GroundInHand(level(1_000.0)), "skerry", "checkpoints", mill.id, THERE, take_ground=True)
    assert moved.thing.position == THERE and moved.routes == ()


def test_an_airfield_moved_to_unknown_ground_keeps_its_elevation_and_says_that_the_ground_is_not_known(shelf, region):
    nowhere = GroundInHand(quick(flat_ground(0.0, south=10.0, north=11.0, west=10.0, east=11.0)))
    moved = move_place(shelf, nowhere, "skerry", "airfields", region.airfields["QFRO"], THERE, take_ground=True)
    assert (moved.thing.elevation_ft, moved.ground_ft) == (120.0, None)


def test_nothing_of_another_region_can_be_moved_from_here(shelf, region):
    with shelf.begin() as work:
        work.regions.add(RegionRecord(slug="elsewhere", name="Elsewhere", fictional=True, ground_fingerprint="in hand"))
    with pytest.raises(NotFound, match="Elsewhere has no beacon number"):
        move_place(shelf, GroundInHand(level()), "elsewhere", "beacons", region.beacons["AAA"], THERE, take_ground=False)
    assert stored_beacon(shelf, region).position == MIDDLE


def tried(shelf, region, *, ground=None, ident: str = "BBB", position: Position = THERE, **changes):
    asked = {"altitude_ft": 4_000.0, "take_ground": False, "clock": clock} | changes
    store = GroundInHand(ground if ground is not None else level())
    return try_beacon_at(shelf, store, "skerry", region.beacons[ident], position, **asked)


def test_a_tried_beacon_is_not_kept(shelf, region):
    before = stored_beacon(shelf, region)
    found, moved = tried(shelf, region, ident="AAA", take_ground=True)
    assert stored_beacon(shelf, region) == before
    assert moved.thing.position == THERE and found.coverage.beacon == moved.thing
    assert {route.name for route in moved.routes} == {"Over it", "By a fix"}
    assert found.on == date(2026, 8, 1)


def test_a_tried_beacon_is_received_round_its_new_place_and_not_behind_a_ridge(shelf, region):
    """A ridge of 1,500 m along 35.6 W; the beacon tried 13 NM west of it at sea level."""
    found, _ = tried(shelf, region, ground=ridge(1_500.0, -35.6))
    coverage = found.coverage
    received = coverage.state == severity(ReceptionState.RECEIVED)
    row = int(np.argmin(np.abs(coverage.lat_deg - THERE.lat_deg)))
    before = (coverage.lon_deg > -35.85 + 0.05) & (coverage.lon_deg < -35.65)
    behind = (coverage.lon_deg > -35.5) & (coverage.lon_deg < -35.2)
    assert before.any() and received[row, before].all()
    assert behind.any() and not received[row, behind].any()


def test_taking_the_ground_a_tried_beacon_stands_on_top_of_the_ridge(shelf, region):
    on_ridge = Position(lat_deg=43.1, lon_deg=-35.6)
    _, low = tried(shelf, region, ground=ridge(1_500.0, -35.6), position=on_ridge)
    _, high = tried(shelf, region, ground=ridge(1_500.0, -35.6), position=on_ridge, take_ground=True)
    assert (low.thing.elevation_ft, high.thing.elevation_ft) == (0.0, 4_921.0)
    assert low.ground_ft == high.ground_ft == pytest.approx(1_500.0 * FT_PER_M)


@pytest.mark.parametrize("altitude_ft", [-2_000.0, 60_001.0, float("nan")])
def test_an_impossible_altitude_is_refused(shelf, region, altitude_ft):
    with pytest.raises(InputProblem) as refusal:
        tried(shelf, region, altitude_ft=altitude_ft)
    assert refusal.value.code == "altitude"


def test_a_beacon_without_parts_cannot_be_tried(shelf, region):
    with shelf.begin() as work:
        bare = work.beacons.add(
            Beacon(
                region_id=region.region.id,
                ident="BAR",
                name="Bare",
                kind=BeaconKind.VOR,
                frequency_khz=114_000,
                position=MIDDLE,
                alignment=Alignment(kind=AlignmentKind.UNKNOWN),
                components=(),
            )
        )
    with pytest.raises(InputProblem, match="BAR has no part that sends anything") as refusal:
        try_beacon_at(shelf, GroundInHand(level()), "skerry", bare.id, THERE, altitude_ft=4_000.0, take_ground=False, clock=clock)
    assert refusal.value.code == "no-such-part"


def test_a_beacon_tried_near_a_pole_is_refused(shelf, region):
    with pytest.raises(OutOfRange, match="comes too near to a pole"):
        tried(shelf, region, position=Position(lat_deg=89.0, lon_deg=0.0))


SECTOR = UnusableSector(from_radial_deg=340.0, to_radial_deg=20.0, beyond_nm=20.0, below_altitude_ft=5_000.0, source="flight check")


def test_a_forbidden_sector_is_kept_with_its_part_and_the_others_stay(shelf, region):
    number = region.beacons["AAA"]
    forbid_sector(shelf, "skerry", number, ComponentKind.AZIMUTH, SECTOR)
    second = UnusableSector(from_radial_deg=90.0, to_radial_deg=90.0, within_nm=5.0)
    told = forbid_sector(shelf, "skerry", number, ComponentKind.AZIMUTH, second)
    kept = stored_beacon(shelf, region)
    assert kept == told
    assert kept.component(ComponentKind.AZIMUTH).unusable == (SECTOR, second)
    assert kept.component(ComponentKind.DISTANCE).unusable == ()


@pytest.mark.parametrize(("beyond_nm", "within_nm"), [(20.0, 10.0), (20.0, 20.0), (None, 0.0)])
def test_a_sector_that_holds_nothing_is_refused(shelf, region, beyond_nm, within_nm):
    empty = UnusableSector(from_radial_deg=0.0, to_radial_deg=90.0, beyond_nm=beyond_nm, within_nm=within_nm)
    with pytest.raises(InputProblem, match=r"before it begins at .* NM. Correct one of the two") as refusal:
        forbid_sector(shelf, "skerry", region.beacons["AAA"], ComponentKind.AZIMUTH, empty)
    assert (refusal.value.code, refusal.value.place) == ("sector-empty", "within_nm")
    assert stored_beacon(shelf, region).component(ComponentKind.AZIMUTH).unusable == ()


def test_a_sector_of_a_part_that_is_not_there_is_refused(shelf, region):
    with pytest.raises(NotFound, match="BBB has no distance part") as refusal:
        forbid_sector(shelf, "skerry", region.beacons["BBB"], ComponentKind.DISTANCE, SECTOR)
    assert refusal.value.code == "no-such-part"


def test_sectors_forbidden_at_once_are_all_kept(shelf, region):
    sectors = [UnusableSector(from_radial_deg=at * 20.0, to_radial_deg=at * 20.0 + 10.0) for at in range(12)]
    with ThreadPoolExecutor(6) as threads:
        list(threads.map(lambda each: forbid_sector(shelf, "skerry", region.beacons["AAA"], ComponentKind.AZIMUTH, each), sectors))
    assert set(stored_beacon(shelf, region).component(ComponentKind.AZIMUTH).unusable) == set(sectors)


def test_a_sector_forbidden_twice_is_one(shelf, region):
    for _ in range(2):
        forbid_sector(shelf, "skerry", region.beacons["AAA"], ComponentKind.AZIMUTH, SECTOR)
    assert stored_beacon(shelf, region).component(ComponentKind.AZIMUTH).unusable == (SECTOR,)


def test_clicks_at_once_on_one_sector_take_one_back(shelf, region):
    """All of them saw it at its place; the others have moved up when the second comes."""
    number = region.beacons["AAA"]
    sectors = [UnusableSector(from_radial_deg=at * 20.0, to_radial_deg=at * 20.0 + 10.0) for at in range(4)]
    for each in sectors:
        forbid_sector(shelf, "skerry", number, ComponentKind.AZIMUTH, each)

    def click(_: int) -> None:
        lift_sector(shelf, "skerry", number, ComponentKind.AZIMUTH, index=1, is_meant=lambda each: each == sectors[1])

    with ThreadPoolExecutor(6) as threads:
        list(threads.map(click, range(6)))
    assert stored_beacon(shelf, region).component(ComponentKind.AZIMUTH).unusable == (sectors[0], *sectors[2:])
