"""Loading a region folder: all of it or none of it, and again without harm."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from server.errors import InputProblem, NotFound
from server.persistence import Library
from server.planning.load import load_beacons
from server.planning.load_region import load_region, load_terrain
from server.settings import PROJECT_ROOT
from server.terrain import TerrainStore
from tests.exchange.table_builders import AIRCRAFT, OUR_AIRFIELD, OUR_BEACON, OUR_CHECKPOINT, REGION, table

SEA = {"type": "Polygon", "coordinates": [[[-37, 43], [-36, 43], [-36, 43.1], [-37, 43.1], [-37, 43]]]}


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    opened = Library.open(f"sqlite:///{tmp_path / 'beaconry.sqlite3'}")
    opened.migrate(PROJECT_ROOT / "migrations")
    yield opened
    opened.close()


@pytest.fixture
def store(tmp_path: Path) -> TerrainStore:
    return TerrainStore(tmp_path / "store")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small region with one level tile of 100 m that is void in its southern tenth."""
    folder = tmp_path / "skerry"
    (folder / "terrain").mkdir(parents=True)
    posts = np.full((1201, 1201), 100, dtype=">i2")
    posts[-120:] = -32768  # the void of SRTM tiles
    (folder / "terrain" / "N43W037.hgt").write_bytes(posts.tobytes())
    (folder / "region.toml").write_text(REGION, encoding="utf-8")
    (folder / "aircraft.toml").write_text(AIRCRAFT, encoding="utf-8")
    (folder / "sea.geojson").write_text(json.dumps(SEA), encoding="utf-8")
    (folder / "beacons.csv").write_bytes(table(OUR_BEACON))
    (folder / "airfields.csv").write_bytes(table(OUR_AIRFIELD))
    (folder / "checkpoints.csv").write_bytes(table(OUR_CHECKPOINT))
    return folder


def test_a_folder_becomes_a_region_with_all_it_holds(library: Library, store: TerrainStore, folder: Path):
    loaded = load_region(library, store, folder)
    assert loaded.beacons.added == ("SKR VOR/DME Skerry",)
    assert loaded.reports == (loaded.beacons, loaded.airfields, loaded.checkpoints)
    assert loaded.aircraft_added == ("X-ABCD",)
    with library.read() as work:
        region = work.regions.by_slug("skerry")
        assert region == loaded.region
        assert (region.fictional, region.level_rule, region.north_deg) == (True, "ICAO", 44.0)
        assert [len(shelf.list(region.id)) for shelf in (work.beacons, work.airfields, work.checkpoints)] == [1, 1, 1]
        assert len(work.loads.list(region.id)) == 3
    ground = store.open(region.ground_fingerprint)
    heights = ground.elevations_m(lat_deg=np.array([43.5, 43.05]), lon_deg=np.array([-36.5, -36.5]))
    assert heights.tolist() == [100.0, 0.0]


def test_loading_a_folder_again_changes_nothing_and_spares_the_aircraft(library: Library, store: TerrainStore, folder: Path):
    first = load_region(library, store, folder)
    with library.begin() as work:
        (aircraft,) = work.aircraft.list()
        work.aircraft.update(replace(aircraft, usable_fuel_l=80.0))
    again = load_region(library, store, folder)
    assert again.region == first.region
    assert (again.beacons.unchanged, again.airfields.unchanged, again.checkpoints.unchanged) == (1, 1, 1)
    assert again.aircraft_added == ()
    with library.read() as work:
        assert [kept.usable_fuel_l for kept in work.aircraft.list()] == [80.0]


def test_a_changed_description_is_followed_and_the_ground_stays(library: Library, store: TerrainStore, folder: Path):
    first = load_region(library, store, folder)
    (folder / "region.toml").write_text(REGION.replace("Skerry Sound", "Skerry Bay"), encoding="utf-8")
    (folder / "terrain" / "N43W037.hgt").unlink()
    (folder / "terrain").rmdir()
    again = load_region(library, store, folder)
    assert (again.region.id, again.region.name, again.terrain) == (first.region.id, "Skerry Bay", None)
    assert again.region.ground_fingerprint == first.region.ground_fingerprint != ""


def test_bad_rows_are_reported_and_the_rest_is_loaded(library: Library, store: TerrainStore, folder: Path):
    (folder / "beacons.csv").write_bytes(table(OUR_BEACON, {**OUR_BEACON, "key": "club:2", "kind": "VOT"}))
    loaded = load_region(library, store, folder)
    assert [(row.line_number, row.code) for row in loaded.beacons.refused] == [(3, "word-not-known")]
    assert len(loaded.beacons.added) == 1


def test_every_unusable_file_is_named_at_once_and_nothing_is_loaded(library: Library, store: TerrainStore, folder: Path):
    (folder / "region.toml").write_text(REGION.replace("43.2", "true"), encoding="utf-8")
    (folder / "airfields.csv").write_bytes(b"<html>gone</html>")
    (folder / "checkpoints.csv").unlink()
    (folder / "sea.geojson").write_bytes(b"{")
    with pytest.raises(InputProblem, match="region folder skerry cannot be loaded") as caught:
        load_region(library, store, folder)
    assert [problem.place for problem in caught.value.problems] == [
        "region.toml, line 10",
        "airfields.csv",
        "checkpoints.csv",
        "sea.geojson",
    ]
    with library.read() as work:
        assert work.regions.list() == ()


def test_a_sea_on_the_other_side_of_the_world_is_refused(library: Library, store: TerrainStore, folder: Path):
    swapped = [[[lat, lon] for lon, lat in SEA["coordinates"][0]]]
    (folder / "sea.geojson").write_text(json.dumps({**SEA, "coordinates": swapped}), encoding="utf-8")
    with pytest.raises(InputProblem, match="Were longitude and latitude swapped"):
        load_region(library, store, folder)


def test_a_sea_that_is_not_text_is_refused_in_words(library: Library, store: TerrainStore, folder: Path):
    (folder / "sea.geojson").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputProblem, match="byte 0xFF at 0 is not UTF-8"):
        load_region(library, store, folder)


def test_a_folder_that_is_not_there_is_named(library: Library, store: TerrainStore, tmp_path: Path):
    with pytest.raises(InputProblem, match=r"There is no folder .*nowhere"):
        load_region(library, store, tmp_path / "nowhere")


def test_terrain_alone_replaces_the_ground_and_keeps_the_sea_of_the_region(library: Library, store: TerrainStore, folder: Path):
    before = load_region(library, store, folder).region
    posts = np.full((1201, 1201), 300, dtype=">i2")
    posts[-120:] = -32768
    (folder / "terrain" / "N43W037.hgt").write_bytes(posts.tobytes())
    told = []
    loaded = load_terrain(library, store, region_slug="skerry", paths=[folder / "terrain"], on_progress=told.append)
    with library.read() as work:
        after = work.regions.by_slug("skerry")
    assert after == replace(before, ground_fingerprint=loaded.fingerprint)
    assert loaded.fingerprint != before.ground_fingerprint
    heights = store.open(loaded.fingerprint).elevations_m(lat_deg=np.array([43.5, 43.05]), lon_deg=np.array([-36.5, -36.5]))
    assert heights.tolist() == [300.0, 0.0]
    assert told


def test_a_sea_given_with_the_terrain_becomes_the_sea_of_the_region(library: Library, store: TerrainStore, folder: Path):
    load_region(library, store, folder)
    wider = json.dumps(SEA).replace("43.1", "43.09")
    load_terrain(library, store, region_slug="skerry", paths=[folder / "terrain"], sea=wider.encode())
    with library.read() as work:
        assert work.regions.by_slug("skerry").sea_geojson == wider


def test_a_table_of_the_same_name_does_not_replace_what_the_region_folder_brought(library: Library, store: TerrainStore, folder: Path):
    keyless = {name: value for name, value in OUR_BEACON.items() if name != "key"}
    (folder / "beacons.csv").write_bytes(table(keyless))
    region = load_region(library, store, folder).region
    own = table({**keyless, "ident": "OWN", "lat_deg": "43.7"})
    report = load_beacons(library, region_id=region.id, content=own, source_name="beacons.csv", dry_run=False)
    assert (report.added, report.gone) == (("OWN VOR/DME Skerry",), ())


def test_terrain_for_a_region_that_is_not_there_is_refused(library: Library, store: TerrainStore, folder: Path):
    with pytest.raises(NotFound, match='no region called "nowhere"'):
        load_terrain(library, store, region_slug="nowhere", paths=[folder / "terrain"])
