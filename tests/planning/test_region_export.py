"""A whole region as one file: away and back it is the same region, and a file that is not whole leaves nothing behind."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from server.errors import Conflict, InputProblem, TerrainMissing
from server.exchange.region_archive import write_archive
from server.navigation import Airfield, Alignment, AlignmentKind, Checkpoint, LegChoice, PointKind, Position, Route, RoutePoint
from server.persistence import Library, RegionRecord
from server.planning.load_region import load_region
from server.planning.load_region_file import load_region_file
from server.planning.region_export import export_region
from server.radio import Beacon, BeaconKind, Component, ComponentKind
from server.settings import PROJECT_ROOT
from server.terrain import TerrainStore

SAMPLE = PROJECT_ROOT / "sample_region"
SHELVES = ("beacons", "airfields", "checkpoints")


@pytest.fixture
def other(empty_database: Path, tmp_path: Path) -> Iterator[Library]:
    """An empty library elsewhere."""
    file = tmp_path / "other.sqlite3"
    file.write_bytes(empty_database.read_bytes())
    library = Library.open(f"sqlite:///{file}")
    yield library
    library.close()


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> tuple[TerrainStore, TerrainStore]:
    return TerrainStore(tmp_path_factory.mktemp("here")), TerrainStore(tmp_path_factory.mktemp("there"))


def away(library: Library, store: TerrainStore, slug: str) -> io.BytesIO:
    stream = io.BytesIO()
    export_region(library, store, slug, stream)
    stream.seek(0)
    return stream


def shelf_of(library: Library, slug: str, shelf: str) -> list:
    """What a region holds, without the numbers of this database."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        return [replace(thing, id=None, region_id=0) for thing in getattr(work, shelf).list(region.id)]


def routes_in_words(library: Library, slug: str) -> list:
    """The routes with keys in the place of numbers."""
    with library.read() as work:
        region = work.regions.by_slug(slug)
        keys = {(shelf, thing.id): thing.external_key for shelf in SHELVES for thing in getattr(work, shelf).list(region.id)}
        planes = {aircraft.id: replace(aircraft, id=None) for aircraft in work.aircraft.list()}
        routes = work.routes.list(region.id)
    shelf_of_kind = {PointKind.BEACON: "beacons", PointKind.AIRFIELD: "airfields", PointKind.CHECKPOINT: "checkpoints"}

    def point(one: RoutePoint) -> tuple:
        used = (keys.get((shelf_of_kind.get(one.kind, ""), one.place_id)), keys.get(("beacons", one.beacon_id)))
        return (*used, keys.get(("beacons", one.second_beacon_id)), replace(one, place_id=None, beacon_id=None, second_beacon_id=None))

    return [
        (
            keys["airfields", route.departure_airfield_id],
            keys["airfields", route.destination_airfield_id],
            keys.get(("airfields", route.alternate_airfield_id)),
            planes.get(route.aircraft_id),
            [point(one) for one in route.points],
            replace(
                route,
                id=None,
                region_id=0,
                departure_airfield_id=0,
                destination_airfield_id=0,
                alternate_airfield_id=None,
                aircraft_id=None,
                points=(),
            ),
        )
        for route in routes
    ]


def everything(library: Library) -> tuple:
    with library.read() as work:
        regions = work.regions.list()
        return regions, work.aircraft.list(), *(work.routes.list(region.id) for region in regions)


def test_the_sample_region_comes_back_as_it_went(shelf: Library, other: Library, stores):
    here, there = stores
    before = load_region(shelf, here, SAMPLE).region
    loaded = load_region_file(other, there, away(shelf, here, "vessune"), name="vessune.region.zip")
    assert replace(loaded.region, id=None) == replace(before, id=None)
    for name in SHELVES:
        held = shelf_of(shelf, "vessune", name)
        assert len(held) > 20 and shelf_of(other, "vessune", name) == held
    assert routes_in_words(other, "vessune") == routes_in_words(shelf, "vessune") != []
    posts, again = here.open(before.ground_fingerprint).mosaics, there.open(loaded.region.ground_fingerprint).mosaics
    assert [mosaic.lattice for mosaic in again] == [mosaic.lattice for mosaic in posts]
    assert all((one.posts == other_one.posts).all() for one, other_one in zip(posts, again, strict=True))


def test_a_second_export_and_one_from_elsewhere_are_the_same_bytes(shelf: Library, other: Library, stores):
    here, there = stores
    load_region(shelf, here, SAMPLE)
    first = away(shelf, here, "vessune")
    assert away(shelf, here, "vessune").getvalue() == first.getvalue()
    load_region_file(other, there, first, name="vessune.region.zip")
    assert away(other, there, "vessune").getvalue() == first.getvalue()


def test_the_file_is_a_region_folder_when_it_is_unpacked(shelf: Library, other: Library, stores, tmp_path: Path):
    here, there = stores
    load_region(shelf, here, SAMPLE)
    with zipfile.ZipFile(away(shelf, here, "vessune")) as archive:
        archive.extractall(tmp_path / "vessune")
    loaded = load_region(other, there, tmp_path / "vessune")
    assert shelf_of(other, "vessune", "beacons") == shelf_of(shelf, "vessune", "beacons")
    assert [report.refused for report in loaded.reports] == [(), (), ()]


def handmade(library: Library) -> str:
    """A region without box, ground or keys, in which names mean two things, with a route that uses both of each."""
    unknown = Alignment(kind=AlignmentKind.UNKNOWN)

    def at(lat_deg: float) -> Position:
        return Position(lat_deg=lat_deg, lon_deg=-36.25)

    with library.begin() as work:
        region = work.regions.add(RegionRecord(slug="hand--made", name="Made by hand", fictional=True)).id
        assert region is not None
        parts = (Component(kind=ComponentKind.BEARING),)
        shared = {
            "region_id": region,
            "ident": "TWN",
            "kind": BeaconKind.NDB,
            "frequency_khz": 350,
            "alignment": unknown,
            "components": parts,
        }
        beacons = [work.beacons.add(Beacon(name=f"Twin {number}", position=at(43.1 + number), **shared)).id for number in (1, 2)]
        fields = [
            work.airfields.add(Airfield(region_id=region, ident="XTWN", name=f"Field {number}", position=at(43.2 + number))).id
            for number in (1, 2)
        ]
        places = [
            work.checkpoints.add(
                Checkpoint(region_id=region, name="Mill", feature="mill", position=at(43.3 + number), remarks="two\r\nlines; (and) more")
            ).id
            for number in (1, 2)
        ]
        for remarks in ("first", "second"):
            work.routes.add(
                Route(
                    region_id=region,
                    name="Round",
                    departure_airfield_id=fields[0],
                    destination_airfield_id=fields[1],
                    alternate_airfield_id=fields[0],
                    onward=LegChoice(changeover_nm=3.0),
                    remarks=remarks,
                    points=(
                        RoutePoint(kind=PointKind.BEACON, place_id=beacons[1], onward=LegChoice(altitude_ft=3500.0)),
                        RoutePoint(kind=PointKind.CHECKPOINT, place_id=places[1]),
                        RoutePoint(kind=PointKind.AIRFIELD, place_id=fields[1]),
                        RoutePoint(kind=PointKind.POSITION, name="bridge", position=at(43.123456789)),
                        RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=beacons[0], radial_deg=45.0, distance_nm=7.0),
                        RoutePoint(
                            kind=PointKind.TWO_RADIALS,
                            beacon_id=beacons[0],
                            radial_deg=0.0,
                            second_beacon_id=beacons[1],
                            second_radial_deg=90.0,
                        ),
                    ),
                )
            )
    return "hand--made"


def test_what_was_made_by_hand_comes_back_though_names_mean_two_things(shelf: Library, other: Library, stores):
    slug = handmade(shelf)
    loaded = load_region_file(other, stores[1], away(shelf, stores[0], slug), name="hand.region.zip")
    assert (loaded.region.slug, loaded.region.south_deg, loaded.region.ground_fingerprint, loaded.terrain) == ("hand-made", None, "", None)
    assert loaded.routes_added == ("Round", "Round (2)")
    for name in SHELVES:
        keyless = [replace(thing, external_key="") for thing in shelf_of(other, "hand-made", name)]
        assert keyless == shelf_of(shelf, slug, name)
        assert len({thing.external_key for thing in shelf_of(other, "hand-made", name)}) == 2
    with other.read() as work:
        region = work.regions.by_slug("hand-made").id
        named = {thing.id: thing.position.lat_deg for thing in (*work.beacons.list(region),)}
        first, second = (route.points for route in work.routes.list(region))
    assert first == second
    assert (named[first[0].place_id], named[first[4].beacon_id], named[first[5].second_beacon_id]) == (45.1, 44.1, 45.1)
    assert first[3].position == Position(lat_deg=43.123456789, lon_deg=-36.25)
    assert first[0].onward.altitude_ft == 3500.0
    assert away(other, stores[1], "hand-made").getvalue() == away(other, stores[1], "hand-made").getvalue()


def test_what_the_file_could_not_carry_is_named_and_no_file_is_given(shelf: Library, stores):
    slug = handmade(shelf)
    with shelf.begin() as work:
        beacon = work.beacons.list(work.regions.by_slug(slug).id)[0]
        work.beacons.update(replace(beacon, frequency_khz=99))
    with pytest.raises(
        InputProblem, match=r"TWN NDB Twin 1 would be refused where the file is loaded: 99 kHz is no NDB frequency"
    ) as caught:
        away(shelf, stores[0], slug)
    assert caught.value.code == "region-not-exportable"


def test_a_region_that_is_there_stays_as_it_is_and_another_short_name_takes_the_file(shelf: Library, stores):
    slug = handmade(shelf)
    file = away(shelf, stores[0], slug)
    load_region_file(shelf, stores[0], file, name="hand.region.zip")
    before = everything(shelf)
    with pytest.raises(Conflict, match=r'There is a region "hand-made" already, Made by hand\. Nothing was loaded') as caught:
        load_region_file(shelf, stores[0], file, name="hand.region.zip")
    assert caught.value.code == "region-exists"
    with pytest.raises(InputProblem, match='"No Name" cannot be a short name'):
        load_region_file(shelf, stores[0], file, name="hand.region.zip", slug="No Name")
    assert everything(shelf) == before
    assert load_region_file(shelf, stores[0], file, name="hand.region.zip", slug="hand-2").region.slug == "hand-2"


def members_of(file: io.BytesIO) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name != "manifest.toml"}


@pytest.mark.parametrize(
    ("member", "old", "new", "words"),
    [
        ("beacons.csv", b'"NDB"', b'"VOT"', "cannot be loaded whole, so nothing of it was. beacons.csv, line 2"),
        ("airfields.csv", b'"44.2"', b'"944.2"', "airfields.csv, line 2"),
        ("region.toml", b"slug", b"slugs", "slug is needed"),
        ("routes.toml", b'"Mill"', b'"Barn"', "names the checkpoint Barn, which is not there"),
    ],
)
def test_one_bad_row_with_a_right_manifest_leaves_nothing_behind(shelf: Library, other: Library, stores, member, old, new, words):
    members = members_of(away(shelf, stores[0], handmade(shelf)))
    content = members[member].replace(b'key = "own:Mill|2"', b'key = "own:Barn"') if member == "routes.toml" else members[member]
    stream = io.BytesIO()
    write_archive(stream, {**members, member: content.replace(old, new)})
    before = everything(other)
    with pytest.raises(InputProblem, match=words):
        load_region_file(other, stores[1], stream, name="hand.region.zip")
    assert everything(other) == before == ((), ())


def test_a_bad_elevation_file_leaves_nothing_behind(shelf: Library, other: Library, stores):
    members = members_of(away(shelf, stores[0], handmade(shelf)))
    stream = io.BytesIO()
    write_archive(stream, {**members, "terrain/N43W037.hgt.zip": b"cut"})
    with pytest.raises(InputProblem, match=r"None of the elevation files could be used: N43W037\.hgt\.zip"):
        load_region_file(other, stores[1], stream, name="hand.region.zip")
    assert everything(other) == ((), ())


def test_an_aircraft_that_is_here_already_stays_and_the_difference_is_told(shelf: Library, other: Library, stores):
    here, there = stores
    load_region(shelf, here, SAMPLE)
    file = away(shelf, here, "vessune")
    load_region_file(other, there, file, name="a.region.zip")
    with other.begin() as work:
        (oak,) = work.aircraft.list()
        work.aircraft.update(replace(oak, usable_fuel_l=100.0))
    again = load_region_file(other, there, file, name="a.region.zip", slug="again")
    assert (again.aircraft_added, again.aircraft_kept) == ((), (oak.registration,))
    with other.read() as work:
        assert [one.usable_fuel_l for one in work.aircraft.list()] == [100.0]


def test_a_region_whose_ground_is_lost_is_not_given_away_without_it(shelf: Library, stores, tmp_path: Path):
    load_region(shelf, stores[0], SAMPLE)
    with pytest.raises(TerrainMissing, match="holds no ground"):
        away(shelf, TerrainStore(tmp_path / "empty"), "vessune")


@pytest.mark.parametrize("empty", [("checkpoints",), ("beacons",), ("checkpoints", "beacons"), ("checkpoints", "beacons", "airfields")])
def test_a_region_that_lacks_a_kind_of_thing_comes_back_as_it_went(shelf: Library, other: Library, stores, empty):
    here, there = stores
    handmade_slug = handmade(shelf)
    with shelf.begin() as work:
        region = work.regions.by_slug(handmade_slug)
        for route in work.routes.list(region.id):
            work.routes.remove(route.id)
        for name in empty:
            for thing in getattr(work, name).list(region.id):
                getattr(work, name).remove(thing.id)
    loaded = load_region_file(other, there, away(shelf, here, handmade_slug), name="small.region.zip").region.slug
    for name in SHELVES:
        assert len(shelf_of(other, loaded, name)) == len(shelf_of(shelf, handmade_slug, name))
    assert all(shelf_of(other, loaded, name) == [] for name in empty)
