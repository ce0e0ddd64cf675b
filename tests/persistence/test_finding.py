"""Lists, searches, boxes and keys, and how many queries they take."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest
from sqlalchemy import Engine, event

from server.errors import NotFound
from server.navigation.position import Position
from server.persistence import Library, RegionRecord
from server.radio.beacon import BeaconKind
from tests.persistence import things


@contextmanager
def counted_reads() -> Iterator[list[str]]:
    """Collect the SELECT statements that any engine runs inside the block."""
    statements: list[str] = []

    def note(_connection, _cursor, statement, *_rest):
        if statement.lstrip().startswith("SELECT"):
            statements.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield statements
    finally:
        event.remove(Engine, "before_cursor_execute", note)


def idents(beacons) -> list[str]:
    return [beacon.ident for beacon in beacons]


def test_a_list_stands_in_alphabetical_order_and_can_be_taken_in_pages(library: Library, region: RegionRecord):
    with library.begin() as work:
        work.beacons.add_many(
            things.a_beacon(region.id, ident, name=name) for ident, name in [("CC", "Y"), ("AA", "Z"), ("BB", "B"), ("BB", "A")]
        )
    with library.read() as work:
        assert [(beacon.ident, beacon.name) for beacon in work.beacons.list(region.id)] == [
            ("AA", "Z"),
            ("BB", "A"),
            ("BB", "B"),
            ("CC", "Y"),
        ]
        page = work.beacons.list(region.id, limit=2, offset=1)
        assert [(beacon.ident, beacon.name) for beacon in page] == [("BB", "A"), ("BB", "B")]
        assert all(len(beacon.components) == 1 for beacon in page)
        assert idents(work.beacons.list(region.id, offset=3)) == ["CC"]
        assert work.beacons.list(region.id, limit=0) == ()
        assert work.beacons.count(region.id) == 4


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("mast", ["MST", "OLD"]),
        ("mSt", ["MST"]),
        ("%", ["PCT"]),
        ("_", ["USC"]),
        ("/", ["SLH"]),
        ("\\", ["BSL"]),
        ("élan", ["ACC"]),
        ("STRASSE", ["GER"]),
        ("  mst ", ["MST"]),
        ("nowhere", []),
        ("mst\x00", []),
        ("\ud800", []),
    ],
)
def test_a_search_matches_any_part_of_ident_or_name_and_no_sign_is_a_wildcard(library: Library, region: RegionRecord, search, found):
    names = {
        "MST": "Mast Hill",
        "OLD": "The old MAST",
        "PCT": "100% Ridge",
        "USC": "Wau_NDB",
        "SLH": "East/West",
        "BSL": "Back\\slash",
        "ACC": "Cap ÉLAN",
        "GER": "Alte Straße",
    }
    with library.begin() as work:
        work.beacons.add_many(things.a_beacon(region.id, ident, name=name) for ident, name in names.items())
    with library.read() as work:
        assert idents(work.beacons.list(region.id, search=search)) == found
        assert work.beacons.count(region.id, search=search) == len(found)


def test_a_search_sees_the_new_name_after_a_change(library: Library, region: RegionRecord):
    with library.begin() as work:
        lake = work.checkpoints.add(things.a_checkpoint(region.id, "Long Lake"))
        work.checkpoints.update(replace(lake, name="Short Lake"))
        assert work.checkpoints.list(region.id, search="long") == ()
        assert work.checkpoints.count(region.id, search="short") == 1


def test_beacons_can_be_listed_by_kind(library: Library, region: RegionRecord):
    with library.begin() as work:
        work.beacons.add_many(
            [things.a_beacon(region.id, "AA", kind=BeaconKind.NDB), things.a_beacon(region.id, "BB", kind=BeaconKind.VOR_DME)]
        )
    with library.read() as work:
        assert idents(work.beacons.list(region.id, kind=BeaconKind.VOR_DME)) == ["BB"]
        assert work.beacons.count(region.id, kind=BeaconKind.NDB) == 1
        assert work.beacons.list(region.id, kind=BeaconKind.NDB, search="bb") == ()


def test_one_ident_may_belong_to_several_and_a_region_sees_only_its_own(library: Library, region: RegionRecord):
    with library.begin() as work:
        other = work.regions.add(RegionRecord(slug="south", name="South", fictional=True))
        work.beacons.add_many(
            [
                things.a_beacon(region.id, "MA", name="First", external_key="1"),
                things.a_beacon(region.id, "MA", name="Second"),
                things.a_beacon(other.id, "MA", name="Elsewhere", external_key="1"),
            ]
        )
    with library.read() as work:
        assert [beacon.name for beacon in work.beacons.find_by_ident(region.id, "MA")] == ["First", "Second"]
        assert work.beacons.find_by_ident(region.id, "ma") == ()
        keyed = work.beacons.by_external_keys(region.id)
        assert {key: beacon.name for key, beacon in keyed.items()} == {"1": "First"}


@pytest.mark.parametrize(
    ("west", "east", "found"),
    [
        (170.0, 179.5, ["E179"]),
        (-180.0, -178.0, ["DATE", "W179"]),
        (178.0, -178.0, ["DATE", "E179", "W179"]),  # across the antimeridian
        (170.0, 180.0, ["DATE", "E179"]),  # 180 E is 180 W, and the edge belongs to the box
        (178.0, 182.0, ["DATE", "E179", "W179"]),  # unfolded, as map windows are
        (-182.0, -178.0, ["DATE", "E179", "W179"]),
        (-180.0, 180.0, ["DATE", "E179", "W179", "ZERO"]),
        (-1.0, 1.0, ["ZERO"]),
        (1.0, -1.0, ["DATE", "E179", "W179"]),
    ],
)
def test_a_box_may_cross_the_antimeridian(library: Library, region: RegionRecord, west: float, east: float, found: list[str]):
    places = {"E179": 179.0, "W179": -179.0, "ZERO": 0.0, "DATE": 180.0}
    with library.begin() as work:
        for ident, lon_deg in places.items():
            work.beacons.add(things.a_beacon(region.id, ident, position=Position(lat_deg=-17.0, lon_deg=lon_deg)))
            work.beacons.add(things.a_beacon(region.id, f"{ident}N", position=Position(lat_deg=17.0, lon_deg=lon_deg)))
    with library.read() as work:
        assert idents(work.beacons.in_box(region.id, south=-17.0, north=-16.0, west=west, east=east)) == found
        assert work.beacons.in_box(region.id, south=-16.9, north=16.9, west=west, east=east) == ()


@pytest.mark.parametrize(
    ("repository", "thing"),
    [
        ("beacons", "beacon"),
        ("airfields", "airfield"),
        ("checkpoints", "checkpoint"),
        ("aircraft", "aircraft"),
        ("routes", "route"),
        ("regions", "region"),
    ],
)
def test_what_is_not_there_is_said_in_words(library: Library, repository: str, thing: str):
    with library.begin() as work:
        for number in (17, 0, -1, 2**31, 10**30):
            with pytest.raises(NotFound, match=f"There is no {thing} with number {number} in the database. It may have been removed."):
                getattr(work, repository).get(number)
            with pytest.raises(NotFound, match=f"There is no {thing} with number {number}"):
                getattr(work, repository).remove(number)


@pytest.mark.parametrize("slug", ["east", "zero\x00", "\ud800"])
def test_a_region_that_is_not_there_is_said_in_words(library: Library, slug: str):
    with library.read() as work, pytest.raises(NotFound, match=r"There is no region called"):
        work.regions.by_slug(slug)


def test_changing_what_is_gone_or_was_never_added_is_refused(library: Library, region: RegionRecord):
    with library.begin() as work:
        beacon = work.beacons.add(things.a_beacon(region.id))
        work.beacons.remove(beacon.id)
        with pytest.raises(NotFound, match=f"There is no beacon with number {beacon.id} in the database"):
            work.beacons.update(beacon)
        with pytest.raises(NotFound, match=r"This beacon has not been added to the database yet"):
            work.beacons.update(things.a_beacon(region.id))


def test_a_beacon_cannot_be_changed_into_another_regions(library: Library, region: RegionRecord):
    with library.begin() as work:
        other = work.regions.add(RegionRecord(slug="south", name="South", fictional=True))
        beacon = work.beacons.add(things.a_beacon(region.id))
        with pytest.raises(NotFound):
            work.beacons.update(replace(beacon, region_id=other.id))


def test_the_number_of_a_removed_thing_never_comes_back(library: Library, region: RegionRecord):
    """A link kept from before must not open another beacon (NEEDS B58)."""
    with library.begin() as work:
        first = work.beacons.add(things.a_beacon(region.id))
        work.beacons.remove(first.id)
        assert work.beacons.add(things.a_beacon(region.id)).id != first.id


@pytest.mark.parametrize("how_many", [1, 1200])
def test_reading_beacons_takes_five_queries_however_many_there_are(library: Library, region: RegionRecord, how_many: int):
    with library.begin() as work:
        added = work.beacons.add_many(things.a_beacon(region.id, f"B{at:04}", external_key=str(at)) for at in range(how_many))
    assert idents(added) == [f"B{at:04}" for at in range(how_many)]
    for read in (
        lambda work: work.beacons.list(region.id),
        lambda work: work.beacons.by_external_keys(region.id).values(),
        lambda work: work.beacons.in_box(region.id, 40.0, 50.0, -40.0, -30.0),
    ):
        with counted_reads() as statements, library.read() as work:
            found = tuple(read(work))
        assert set(found) == set(added)
        assert len(statements) == 5


def test_reading_routes_takes_three_queries_and_airfields_two(library: Library, region: RegionRecord):
    with library.begin() as work:
        field = work.airfields.add(things.an_airfield(region.id))
        for at in range(30):
            work.routes.add(things.a_route(region.id, field.id, field.id, name=f"Route {at:02}"))
    with counted_reads() as statements, library.read() as work:
        assert len(work.routes.list(region.id)) == 30
    assert len(statements) == 3
    with counted_reads() as statements, library.read() as work:
        assert len(work.airfields.list(region.id)) == 1
    assert len(statements) == 2


def test_the_parts_of_a_whole_table_are_added_in_one_statement_for_each_kind(library: Library, region: RegionRecord):
    statements: list[str] = []

    def note(_connection, _cursor, statement, *_rest):
        statements.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    try:
        with library.begin() as work:
            work.beacons.add_many(things.a_beacon(region.id) for _ in range(5000))
    finally:
        event.remove(Engine, "before_cursor_execute", note)
    parts = [statement for statement in statements if statement.startswith("INSERT") and not statement.startswith("INSERT INTO beacon (")]
    assert [statement.split()[2] for statement in parts] == ["beacon_component", "outage"]
    with library.read() as work:
        assert work.beacons.count(region.id) == 5000


def test_adding_nothing_adds_nothing(library: Library, region: RegionRecord):
    with library.begin() as work:
        assert work.beacons.add_many([]) == ()
        assert work.beacons.count(region.id) == 0
