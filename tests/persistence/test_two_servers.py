"""Two servers on one database: what is sent to both at once is all kept, and what is sent twice is kept once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import cycle

import pytest

from server.errors import Conflict
from server.persistence import Library, RegionRecord
from server.planning.route_shelf import add_route
from server.planning.workshop import forbid_sector, lift_sector
from server.radio import ComponentKind, UnusableSector
from tests.persistence import things

SECTORS = [UnusableSector(from_radial_deg=at * 20.0, to_radial_deg=at * 20.0 + 10.0) for at in range(12)]


@pytest.fixture
def servers(url: str, open_library: Callable[[str], Library]) -> tuple[Library, Library]:
    return open_library(url), open_library(url)


@pytest.fixture
def region(servers) -> RegionRecord:
    with servers[0].begin() as work:
        return work.regions.add(RegionRecord(slug="north", name="North", fictional=True, notice="Invented. Not for navigation."))


@pytest.fixture
def beacon(servers, region) -> int:
    with servers[0].begin() as work:
        return work.beacons.add(things.a_beacon(region.id)).id


def at_once(servers, ask, given) -> list:
    with ThreadPoolExecutor(4) as threads:
        return list(threads.map(ask, cycle(servers), given))


def unusable(library: Library, beacon: int) -> tuple[UnusableSector, ...]:
    with library.read() as work:
        return work.beacons.get(beacon).component(ComponentKind.AZIMUTH).unusable


def test_sectors_forbidden_at_once_are_all_kept(servers, beacon):
    at_once(servers, lambda library, sector: forbid_sector(library, "north", beacon, ComponentKind.AZIMUTH, sector), SECTORS)
    assert set(unusable(servers[0], beacon)) == set(SECTORS)


def test_clicks_at_once_on_one_sector_take_one_back(servers, beacon):
    for sector in SECTORS[:4]:
        forbid_sector(servers[0], "north", beacon, ComponentKind.AZIMUTH, sector)

    def click(library: Library, _: int) -> None:
        lift_sector(library, "north", beacon, ComponentKind.AZIMUTH, index=1, is_meant=lambda each: each == SECTORS[1])

    at_once(servers, click, range(6))
    assert unusable(servers[1], beacon) == (SECTORS[0], *SECTORS[2:4])


def test_a_route_begun_on_both_under_one_key_is_one_route(servers, region):
    with servers[0].begin() as work:
        ends = [work.airfields.add(things.an_airfield(region.id, ident)).id for ident in ("XAAA", "XBBB")]

    def begin(library: Library, _: int) -> bool:
        try:
            add_route(library, things.a_route(region.id, *ends), key="one-page")
        except Conflict as refused:
            assert refused.code == "key-twice"
            return False
        return True

    assert sum(at_once(servers, begin, range(8))) == 1
    with servers[1].read() as work:
        assert len(work.routes.list(region.id)) == 1
