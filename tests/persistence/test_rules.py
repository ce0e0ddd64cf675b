"""What the database protects: routes and what they use, keys, versions, and whole regions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from sqlalchemy import delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from server.errors import Conflict, InputProblem, NotFound
from server.navigation.position import Position
from server.navigation.route import PointKind, RoutePoint
from server.persistence import Library, RegionRecord, tables
from server.persistence.engine import open_engine
from tests.persistence import things


@dataclass(frozen=True)
class Shelf:
    """One thing of each kind, and a fix of each kind."""

    region_id: int
    field_id: int
    other_field_id: int
    beacon_id: int
    second_beacon_id: int
    checkpoint_id: int
    aircraft_id: int

    def route(self, name: str, **other):
        return things.a_route(self.region_id, self.field_id, self.field_id, name=name, **other)

    def over(self, kind: PointKind, place_id: int):
        return (RoutePoint(kind=kind, place_id=place_id),)

    @property
    def two_radials(self) -> tuple[RoutePoint, ...]:
        return (
            RoutePoint(
                kind=PointKind.TWO_RADIALS,
                beacon_id=self.beacon_id,
                radial_deg=10.0,
                second_beacon_id=self.second_beacon_id,
                second_radial_deg=100.0,
            ),
        )


@pytest.fixture
def shelf(library: Library, region: RegionRecord) -> Shelf:
    with library.begin() as work:
        return Shelf(
            region_id=region.id,
            field_id=work.airfields.add(things.an_airfield(region.id, "XAAA")).id,
            other_field_id=work.airfields.add(things.an_airfield(region.id, "XBBB", name="Bravo Field")).id,
            beacon_id=work.beacons.add(things.a_beacon(region.id, "AAA")).id,
            second_beacon_id=work.beacons.add(things.a_beacon(region.id, "BBB", name="Bravo Hill")).id,
            checkpoint_id=work.checkpoints.add(things.a_checkpoint(region.id)).id,
            aircraft_id=work.aircraft.add(things.an_aircraft()).id,
        )


def test_a_beacon_in_use_is_not_removed_and_every_route_is_named(library: Library, shelf: Shelf):
    with library.begin() as work:
        work.routes.add(shelf.route("Lake tour", points=shelf.over(PointKind.BEACON, shelf.second_beacon_id)))
        work.routes.add(shelf.route("Fix training", points=shelf.two_radials))
        work.routes.add(shelf.route("Elsewhere"))
    with (
        library.begin() as work,
        pytest.raises(
            Conflict, match=r'beacon BBB Bravo Hill cannot be removed: the routes "Fix training" and "Lake tour" use it. Take it out'
        ),
    ):
        work.beacons.remove(shelf.second_beacon_id)
    with library.read() as work:
        assert work.beacons.get(shelf.second_beacon_id).ident == "BBB"
        assert [route.name for route in work.routes.using_beacon(shelf.beacon_id)] == ["Fix training"]


def test_only_the_first_five_routes_are_named(library: Library, shelf: Shelf):
    with library.begin() as work:
        for at in range(8):
            work.routes.add(shelf.route(f"R{at}", points=shelf.over(PointKind.CHECKPOINT, shelf.checkpoint_id)))
        with pytest.raises(Conflict, match=r'the routes "R0", "R1", "R2", "R3", "R4" and 3 more use it'):
            work.checkpoints.remove(shelf.checkpoint_id)


def test_airfields_checkpoints_and_aircraft_in_use_are_not_removed(library: Library, shelf: Shelf):
    points = (*shelf.over(PointKind.AIRFIELD, shelf.other_field_id), *shelf.over(PointKind.CHECKPOINT, shelf.checkpoint_id))
    with library.begin() as work:
        route = work.routes.add(shelf.route("Tour", points=points, aircraft_id=shelf.aircraft_id))
    with library.begin() as work:
        with pytest.raises(Conflict, match=r'airfield XBBB Bravo Field cannot be removed: the route "Tour" uses it'):
            work.airfields.remove(shelf.other_field_id)
        with pytest.raises(Conflict, match=r"airfield XAAA"):
            work.airfields.remove(shelf.field_id)
        with pytest.raises(Conflict, match=r"checkpoint Long Lake"):
            work.checkpoints.remove(shelf.checkpoint_id)
        with pytest.raises(Conflict, match=r'aircraft X-ABCD cannot be removed: the route "Tour" uses it. Choose another aircraft'):
            work.aircraft.remove(shelf.aircraft_id)
        work.routes.remove(route.id)
        work.airfields.remove(shelf.other_field_id)
        work.checkpoints.remove(shelf.checkpoint_id)
        work.aircraft.remove(shelf.aircraft_id)
    with library.read() as work:
        assert work.aircraft.list() == ()


def test_an_airfield_that_is_an_alternate_is_in_use_like_any_other(library: Library, shelf: Shelf):
    with library.begin() as work:
        work.routes.add(shelf.route("Tour", alternate_airfield_id=shelf.other_field_id))
    with library.begin() as work:
        assert work.airfields.in_use() == {shelf.field_id, shelf.other_field_id}
        assert [route.name for route in work.routes.using_airfield(shelf.other_field_id)] == ["Tour"]
        with pytest.raises(Conflict, match=r'airfield XBBB Bravo Field cannot be removed: the route "Tour" uses it'):
            work.airfields.remove(shelf.other_field_id)
        with pytest.raises(InputProblem, match="no airfield with number 99 in the region"):
            work.routes.add(shelf.route("Elsewhere", alternate_airfield_id=99))


def test_many_are_removed_at_once_with_their_parts(url: str, library: Library, shelf: Shelf):
    with library.begin() as work:
        many = work.beacons.add_many(things.a_beacon(shelf.region_id) for _ in range(1200))
        work.beacons.remove_many(beacon.id for beacon in many)
        work.beacons.remove_many(())
        assert {beacon.id for beacon in work.beacons.list(shelf.region_id)} == {shelf.beacon_id, shelf.second_beacon_id}
    engine = open_engine(url)
    with engine.connect() as connection:
        left = {row.beacon_id for row in connection.execute(select(tables.beacon_component))}
        assert left == {shelf.beacon_id, shelf.second_beacon_id}
    engine.dispose()


def test_of_many_of_which_a_route_uses_one_none_is_removed(library: Library, shelf: Shelf):
    with library.begin() as work:
        work.routes.add(shelf.route("Fix training", points=shelf.two_radials))
        spare = work.beacons.add(things.a_beacon(shelf.region_id))
        with pytest.raises(Conflict, match=r'cannot be removed: the route "Fix training" uses it'):
            work.beacons.remove_many((spare.id, shelf.second_beacon_id))
        with pytest.raises(Conflict, match="airfield XAAA"):
            work.airfields.remove_many((shelf.field_id, shelf.other_field_id))
        assert len(work.beacons.list(shelf.region_id)) == 3
        assert len(work.airfields.list(shelf.region_id)) == 2


def test_of_many_of_which_one_is_not_there_none_is_removed(library: Library, shelf: Shelf):
    with library.begin() as work:
        with pytest.raises(NotFound, match="no checkpoint with number 77"):
            work.checkpoints.remove_many((shelf.checkpoint_id, 77))
        assert work.checkpoints.get(shelf.checkpoint_id)


def test_what_routes_use_is_known_for_every_way_of_using_it(library: Library, shelf: Shelf):
    with library.begin() as work:
        assert (work.beacons.in_use(), work.airfields.in_use(), work.checkpoints.in_use()) == (set(), set(), set())
        work.routes.add(shelf.route("Fix training", points=shelf.two_radials))
        assert work.beacons.in_use() == {shelf.beacon_id, shelf.second_beacon_id}
        assert work.airfields.in_use() == {shelf.field_id}
        points = (*shelf.over(PointKind.AIRFIELD, shelf.other_field_id), *shelf.over(PointKind.CHECKPOINT, shelf.checkpoint_id))
        work.routes.add(shelf.route("Tour", points=points))
        assert work.airfields.in_use() == {shelf.field_id, shelf.other_field_id}
        assert work.checkpoints.in_use() == {shelf.checkpoint_id}


def test_the_database_itself_keeps_what_a_route_uses(url: str, library: Library, shelf: Shelf):
    """Foreign keys are on, also for whoever goes past the repositories."""
    with library.begin() as work:
        work.routes.add(shelf.route("Fix training", points=shelf.two_radials))
    engine = open_engine(url)
    with pytest.raises(IntegrityError), engine.begin() as connection:
        connection.execute(delete(tables.beacon).where(tables.beacon.c.id == shelf.second_beacon_id))
    with pytest.raises(IntegrityError), engine.begin() as connection:
        connection.execute(insert(tables.runway).values(airfield_id=10_000, number=0, designator="", surface=""))
    engine.dispose()


@pytest.mark.parametrize(
    ("table", "wrong"),
    [
        (tables.beacon, {"lat_deg": 90.001}),
        (tables.beacon, {"lon_deg": 180.0}),
        (tables.beacon, {"lon_deg": float("inf")}),
        (tables.beacon, {"kind": "vor"}),
        (tables.beacon, {"alignment_kind": "compass"}),
        (tables.beacon_component, {"status": "broken"}),
        (tables.beacon_component, {"lat_deg": 10.0}),
        (tables.route, {"version": 0}),
        (tables.route_point, {"place_beacon_id": None}),
        (tables.aircraft, {"fuel_unit": "lb"}),
        (tables.aircraft, {"fuel_unit": "kg"}),  # without a density
        (tables.aircraft, {"speed_unit": "km/h"}),
        (tables.region, {"slug": ""}),
        (tables.region, {"south_deg": 10.0, "north_deg": 9.0}),
    ],
)
def test_the_database_itself_refuses_what_makes_no_sense(url: str, library: Library, shelf: Shelf, table, wrong):
    with library.begin() as work:
        work.routes.add(shelf.route("Tour", points=shelf.over(PointKind.BEACON, shelf.beacon_id)))
    engine = open_engine(url)
    with pytest.raises(IntegrityError), engine.begin() as connection:
        connection.execute(update(table).values(**wrong))
    engine.dispose()


def test_removing_a_region_removes_all_it_has_and_nothing_else(url: str, library: Library, shelf: Shelf):
    with library.begin() as work:
        work.routes.add(shelf.route("Fix training", points=shelf.two_radials, aircraft_id=shelf.aircraft_id))
        other = work.regions.add(RegionRecord(slug="south", name="South", fictional=True))
        kept = work.beacons.add(things.a_beacon(other.id))
    with library.begin() as work:
        work.regions.remove(shelf.region_id)
    with library.read() as work:
        assert work.regions.list() == (other,)
        assert work.beacons.list(other.id) == (kept,)
        assert [aircraft.id for aircraft in work.aircraft.list()] == [shelf.aircraft_id]
    engine = open_engine(url)
    with engine.connect() as connection:
        for table in (tables.airfield, tables.runway, tables.checkpoint, tables.route, tables.route_point):
            assert connection.execute(select(table)).all() == []
        assert {row.beacon_id for row in connection.execute(select(tables.outage))} == {kept.id}
    engine.dispose()


def test_removing_a_region_that_is_not_there_removes_no_route(library: Library, shelf: Shelf):
    with library.begin() as work:
        work.routes.add(shelf.route("Tour"))
        with pytest.raises(NotFound):
            work.regions.remove(shelf.region_id + 1)
        assert len(work.routes.list(shelf.region_id)) == 1


def test_a_route_changed_meanwhile_is_not_overwritten(library: Library, shelf: Shelf):
    with library.begin() as work:
        mine = work.routes.add(shelf.route("Tour"))
    assert mine.version == 1
    with library.begin() as work:
        theirs = work.routes.update(replace(mine, remarks="by them"))
    assert theirs.version == 2
    with (
        library.begin() as work,
        pytest.raises(
            Conflict,
            match=r'"Tour" was changed in another window or by someone else since you opened it \(you have version 1, the latest is 2\)',
        ),
    ):
        work.routes.update(replace(mine, remarks="by me"))
    with library.read() as work:
        assert work.routes.get(mine.id) == theirs


def test_changing_a_route_that_was_removed_is_refused(library: Library, shelf: Shelf):
    with library.begin() as work:
        route = work.routes.add(shelf.route("Tour"))
        work.routes.remove(route.id)
        with pytest.raises(NotFound, match=f"There is no route with number {route.id}"):
            work.routes.update(route)


def test_a_key_of_the_source_stands_once_in_a_region(library: Library, region: RegionRecord):
    with library.begin() as work:
        work.airfields.add_many([things.an_airfield(region.id), things.an_airfield(region.id)])  # no key: as many as you like
        work.airfields.add(things.an_airfield(region.id, external_key="k1"))
    with pytest.raises(Conflict, match=r"Two entries of one region carry the same key"), library.begin() as work:
        work.airfields.add(things.an_airfield(region.id, external_key="k1"))


def test_a_short_name_stands_for_one_region(library: Library, region: RegionRecord):
    with pytest.raises(Conflict, match=r"There is already a region with this short name. Choose another"), library.begin() as work:
        work.regions.add(RegionRecord(slug="north", name="Another", fictional=True))
    with pytest.raises(Conflict, match=r"region_slug_given"), library.begin() as work:
        work.regions.add(RegionRecord(slug="", name="Nameless", fictional=True))


def test_a_beacon_needs_its_region(library: Library):
    with pytest.raises(Conflict, match=r"Something this depends on is no longer in the database"), library.begin() as work:
        work.beacons.add(things.a_beacon(99))


@pytest.mark.parametrize(
    ("point", "words"),
    [
        (RoutePoint(kind=PointKind.BEACON), r"Point 1 of the route \(beacon\) has no place_id"),
        (RoutePoint(kind=PointKind.POSITION), r"Point 1 of the route \(position\) has no position"),
        (RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=1, radial_deg=0.0), "has no distance_nm. Give it, or take the point out"),
        (RoutePoint(kind=PointKind.TWO_RADIALS, beacon_id=1, radial_deg=0.0), "has no second_beacon_id.* has no second_radial_deg"),
        (
            RoutePoint(kind=PointKind.POSITION, position=Position(lat_deg=43.0, lon_deg=-36.0), place_id=1),
            "cannot name a place. Leave place_id empty",
        ),
        (RoutePoint(kind=PointKind.BEACON, place_id=999), "There is no beacon with number 999 in the region of this route. Choose another"),
        (RoutePoint(kind=PointKind.CHECKPOINT, place_id=999), "There is no checkpoint with number 999 in the region of this route"),
    ],
)
def test_a_point_that_is_nowhere_is_refused(library: Library, shelf: Shelf, point: RoutePoint, words: str):
    with library.begin() as work, pytest.raises(InputProblem, match=words):
        work.routes.add(shelf.route("Tour", points=(point,)))


def test_a_route_stays_inside_its_region(library: Library, shelf: Shelf):
    with library.begin() as work:
        other = work.regions.add(RegionRecord(slug="south", name="South", fictional=True))
        far = work.airfields.add(things.an_airfield(other.id))
        route = work.routes.add(shelf.route("Tour"))
        words = f"There is no airfield with number {far.id} in the region of this route"
        with pytest.raises(InputProblem, match=words):
            work.routes.add(things.a_route(shelf.region_id, shelf.field_id, far.id))
        with pytest.raises(InputProblem, match=words):
            work.routes.update(replace(route, destination_airfield_id=far.id))
