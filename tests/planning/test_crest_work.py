"""The tables made ahead of time: plans that use them say the same, and the work behind them ends, stops and looks again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from server.navigation import destination
from server.persistence import Library, RegionRecord, stored
from server.planning import CrestWork, gather, plan
from server.planning.crest_work import MOST_UNASKED, antennas_of, wanted_tables
from server.planning.load_region import load_region
from server.planning.warm_up import warm_up
from server.radio import lowest_altitudes
from server.settings import PROJECT_ROOT
from server.terrain import TerrainStore

ROUTE = 1
SAME_FT = 8.0
"""A table is good to 1 m at 95 % (tests/benchmarks/crest_table.py), which the band's lever and the far end of a ray can double."""
SAME_NM = 0.15
"""A few feet at the edge of reception are this much of a climbing line of sight."""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Library, TerrainStore]]:
    folder = tmp_path_factory.mktemp("crest-work")
    library = Library.open(f"sqlite:///{folder / 'library.sqlite3'}")
    library.migrate(PROJECT_ROOT / "migrations")
    store = TerrainStore(folder / "terrain")
    load_region(library, store, PROJECT_ROOT / "sample_region")
    yield library, store
    library.close()


def guides_of_sample_flight(home, store: TerrainStore) -> None:
    """Make the tables of the beacons that guide the sample flight, and of no others."""
    library, _ = home
    materials = gather(library, store, ROUTE)
    guides = {guidance.beacon.id for leg in plan(materials).log.legs for guidance in leg.guidance}
    for number in guides:
        for antenna in antennas_of(materials.beacons[number], materials.ground):
            for factor in (4.0 / 3.0, 1.2, 1.5):
                store.crests.get(antenna, materials.ground, factor)


def findings_of(log) -> list[tuple]:
    return [
        (leg.number, reception.beacon.ident, reception.component, stretch.state, tuple(finding.cause for finding in stretch.findings))
        for leg in log.legs
        for reception in leg.receptions
        for stretch in reception.stretches
    ]


def edges_nm(log) -> list[float]:
    return [stretch.to_nm for leg in log.legs for reception in leg.receptions for stretch in reception.stretches]


def test_a_plan_with_tables_says_what_a_plan_with_exact_rays_says(home):
    library, store = home
    guides_of_sample_flight(home, store)
    from_tables = plan(gather(library, store, ROUTE))
    exact = plan(replace(gather(library, store, ROUTE), see=lowest_altitudes))
    assert findings_of(from_tables.log) == findings_of(exact.log)
    assert edges_nm(from_tables.log) == pytest.approx(edges_nm(exact.log), abs=SAME_NM)


def test_a_damaged_table_changes_nothing(home):
    library, store = home
    guides_of_sample_flight(home, store)
    before = plan(gather(library, store, ROUTE)).log
    folder = next(file for file in store._folder.iterdir() if file.is_dir() and any(file.glob("*.crests")))
    for file in folder.glob("*.crests"):
        whole = file.read_bytes()
        file.unlink()
        file.write_bytes(whole[: len(whole) // 2])
    after = plan(gather(library, TerrainStore(store._folder), ROUTE)).log
    assert findings_of(after) == findings_of(before)
    for file in folder.glob("*.crests"):
        file.unlink()


def test_every_antenna_that_needs_sight_is_wanted_with_three_refractions_nearest_to_routes_first(home):
    library, store = home
    wanted = list(wanted_tables(library, store))
    assert len({(antenna, factor) for antenna, _, factor in wanted}) == len(wanted)
    with library.read() as work:
        region = work.regions.by_slug("vessune")
        beacons = work.beacons.list(stored(region.id))
    with_sight = [beacon for beacon in beacons if any(part.kind != "bearing" for part in beacon.components)]
    assert len({antenna.position for antenna, _, _ in wanted}) >= len(with_sight) - 1
    first = wanted[0][0].position
    on_route = [beacon.position for beacon in beacons if beacon.ident in ("ILV", "TSY", "ULR")]
    assert first in on_route


def test_a_beacon_moved_by_a_metre_asks_for_another_table(home):
    library, store = home
    materials = gather(library, store, ROUTE)
    beacon = next(each for each in materials.beacons.values() if each.ident == "TSY")
    moved = replace(beacon, position=destination(beacon.position, bearing_true_deg=90.0, distance_nm=1.0 / 1852.0))
    (antenna, *_), (other, *_) = antennas_of(beacon, materials.ground), antennas_of(moved, materials.ground)
    store.crests.get(antenna, materials.ground)
    assert store.crests.has(antenna, materials.ground) and not store.crests.has(other, materials.ground)


def test_the_work_ends_and_can_be_asked_again_and_stopped_in_the_middle(home, monkeypatch, tmp_path):
    library, store = home
    few = list(wanted_tables(library, store))[:6]
    monkeypatch.setattr("server.planning.crest_work.wanted_tables", lambda *_: iter(few))
    work = CrestWork(library, store)
    work.start()
    assert work.wait_until_done(120.0)
    assert all(store.crests.has(*each) for each in few)
    assert work.progress.done == work.progress.total
    work.look_again()
    assert work.wait_until_done(10.0)
    work.stop()
    cut_off = CrestWork(library, TerrainStore(tmp_path))  # an empty store: there is much to make
    cut_off.start()
    cut_off.stop()
    assert not cut_off.wait_until_done(0.0) or all(TerrainStore(tmp_path).crests.has(*each) for each in few)


def test_a_whole_country_is_not_looked_round_unasked(home, monkeypatch):
    library, store = home
    monkeypatch.setattr("server.planning.crest_work.MOST_UNASKED", 1)
    monkeypatch.setattr("server.planning.crest_work.NEAR_ROUTE_NM", 5.0)
    near = {antenna.position for antenna, _, _ in wanted_tables(library, store)}
    with library.read() as work:
        beacons = work.beacons.list(stored(work.regions.by_slug("vessune").id))
    assert 0 < len(near) < len(beacons) <= MOST_UNASKED


def test_damaged_ground_of_one_region_leaves_the_others_their_tables_and_their_warm_up(home):
    library, store = home
    with library.begin() as work:
        broken = work.regions.add(RegionRecord(slug="aaa-broken", name="Aaa", fictional=True, notice="x", ground_fingerprint="f" * 64))
    try:
        warm_up(library, store)
        assert len(list(wanted_tables(library, store))) > 10
    finally:
        with library.begin() as work:
            work.regions.remove(stored(broken.id))
