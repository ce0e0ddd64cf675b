"""Routes that come with a region: found by what people call things, added once, or refused with every name nobody knows."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from server.errors import InputProblem
from server.navigation import PointKind
from server.persistence import Library
from server.planning.load_region import load_region
from server.settings import PROJECT_ROOT
from server.terrain import TerrainStore

SAMPLE = PROJECT_ROOT / "sample_region"
ROUTES = """
[[route]]
name = "Every kind of point"
departure = "QMAR"
destination = "QSEN"
aircraft = "QV-HEN"
points = [
    {beacon = "MSK", kind = "NDB"},
    {checkpoint = "Lake Mennary"},
    {airfield = "QMEN"},
    {name = "Turn", beacon = "TSY", radial_deg = 310, distance_nm = 12},
    {name = "Gate", beacon = "TSY", radial_deg = 20, second_beacon = "ULR", second_radial_deg = 240},
]
"""


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    opened = Library.open(f"sqlite:///{tmp_path / 'beaconry.sqlite3'}")
    opened.migrate(PROJECT_ROOT / "migrations")
    yield opened
    opened.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The sample region without its terrain."""
    folder = tmp_path / "region"
    folder.mkdir()
    for name in ("region.toml", "aircraft.toml", "beacons.csv", "airfields.csv", "checkpoints.csv"):
        shutil.copy(SAMPLE / name, folder / name)
    return folder


def load(library: Library, folder: Path, routes: str):
    (folder / "routes.toml").write_text(routes, encoding="utf-8")
    return load_region(library, TerrainStore(folder / "store"), folder)


def routes_of(library: Library):
    with library.read() as work:
        return work.routes.list(work.regions.list()[0].id)


def test_every_kind_of_point_finds_what_it_names(library: Library, folder: Path):
    loaded = load(library, folder, ROUTES)
    assert loaded.routes_added == ("Every kind of point",)
    (route,) = routes_of(library)
    with library.read() as work:
        assert work.airfields.get(route.departure_airfield_id).ident == "QMAR"
        assert work.aircraft.get(route.aircraft_id).registration == "QV-HEN"
        assert work.beacons.get(route.points[0].place_id).kind == "NDB"
        assert work.checkpoints.get(route.points[1].place_id).name == "Lake Mennary"
        assert work.airfields.get(route.points[2].place_id).ident == "QMEN"
        assert work.beacons.get(route.points[3].beacon_id).ident == "TSY"
        assert work.beacons.get(route.points[4].second_beacon_id).ident == "ULR"
    assert [point.kind for point in route.points[3:]] == [PointKind.RADIAL_DISTANCE, PointKind.TWO_RADIALS]
    assert route.altitude_ft is None


def test_a_route_that_is_already_there_stays_as_its_owner_left_it(library: Library, folder: Path):
    load(library, folder, ROUTES)
    (route,) = routes_of(library)
    with library.begin() as work:
        work.routes.update(replace(route, altitude_ft=5_500.0))
    assert load(library, folder, ROUTES).routes_added == ()
    assert [kept.altitude_ft for kept in routes_of(library)] == [5_500.0]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"QMAR"', '"QXXX"', "names the airfield QXXX, which is not there"),
        ('"QV-HEN"', '"QV-FOX"', "names the aircraft QV-FOX, which is not there"),
        ('"Lake Mennary"', '"Lake Nowhere"', "names the checkpoint Lake Nowhere, which is not there"),
        ('"MSK", kind = "NDB"', '"MSK"', "names the beacon MSK, and 2 bear that ident .*Say which kind is meant"),
        ('"MSK", kind = "NDB"', '"MSK", kind = "DME"', "names the beacon DME MSK, which is not there"),
        ('second_beacon = "ULR"', 'second_beacon = "XYZ"', "names the beacon XYZ, which is not there"),
        ('aircraft = "QV-HEN"', 'reserve_rule = "none"', 'There is no reserve rule "none"'),
    ],
)
def test_a_name_that_nobody_knows_is_refused_and_nothing_is_stored(library: Library, folder: Path, old: str, new: str, message: str):
    assert old in ROUTES
    with pytest.raises(InputProblem, match=message):
        load(library, folder, ROUTES.replace(old, new))
    with library.read() as work:
        assert work.regions.list() == ()


def test_every_unknown_name_is_reported_at_once(library: Library, folder: Path):
    with pytest.raises(InputProblem) as raised:
        load(library, folder, ROUTES.replace('"QMAR"', '"QXXX"').replace('"Lake Mennary"', '"Lake Nowhere"'))
    assert len(raised.value.problems) == 2
