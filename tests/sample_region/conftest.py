"""The sample region, loaded once, and what its files say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from server.persistence import Library, RegionRecord
from server.planning.load_region import RegionLoad, load_region
from server.radio import Beacon
from server.settings import PROJECT_ROOT
from server.terrain import TerrainStore

FOLDER = PROJECT_ROOT / "sample_region"


@dataclass(frozen=True, kw_only=True)
class LoadedRegion:
    library: Library
    terrain_store: TerrainStore
    load: RegionLoad

    @property
    def region(self) -> RegionRecord:
        return self.load.region

    @property
    def ground(self):
        return self.terrain_store.open(self.region.ground_fingerprint)

    @property
    def beacons(self) -> tuple[Beacon, ...]:
        with self.library.read() as work:
            return tuple(work.beacons.list(self.region.id))

    @property
    def airfields(self) -> tuple:
        with self.library.read() as work:
            return tuple(work.airfields.list(self.region.id))

    @property
    def checkpoints(self) -> tuple:
        with self.library.read() as work:
            return tuple(work.checkpoints.list(self.region.id))

    @property
    def routes(self) -> tuple:
        with self.library.read() as work:
            return tuple(work.routes.list(self.region.id))

    def beacon(self, ident: str) -> Beacon:
        return next(beacon for beacon in self.beacons if beacon.ident == ident)

    def airfield(self, ident: str):
        return next(airfield for airfield in self.airfields if airfield.ident == ident)


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LoadedRegion]:
    home: Path = tmp_path_factory.mktemp("sample")
    library = Library.open(f"sqlite:///{home / 'sample.sqlite3'}")
    library.migrate(PROJECT_ROOT / "migrations")
    terrain_store = TerrainStore(home / "terrain")
    yield LoadedRegion(library=library, terrain_store=terrain_store, load=load_region(library, terrain_store, FOLDER))
    library.close()
