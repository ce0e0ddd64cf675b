"""The database as the rest of the project sees it: a library opened once, and units of work in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine

from server.persistence.aircraft import AircraftRepository
from server.persistence.beacons import BeaconRepository
from server.persistence.change_stamp import ChangeStamp
from server.persistence.engine import for_reading, open_engine
from server.persistence.migration import upgrade_to_latest
from server.persistence.places import AirfieldRepository, CheckpointRepository
from server.persistence.refusals import refusals_in_words
from server.persistence.regions import LoadRepository, RegionRepository
from server.persistence.routes import RouteRepository


class Work:
    """The repositories of one transaction. They add, find and remove, and never commit."""

    def __init__(self, connection: Connection):
        self.routes = RouteRepository(connection)
        self.regions = RegionRepository(connection)
        self.beacons = BeaconRepository(connection, self.routes)
        self.airfields = AirfieldRepository(connection, self.routes)
        self.checkpoints = CheckpointRepository(connection, self.routes)
        self.aircraft = AircraftRepository(connection, self.routes)
        self.loads = LoadRepository(connection)


class Library:
    """One database. Safe to share between threads; a unit of work is not."""

    def __init__(self, engine: Engine):
        self._engine = engine
        self._reading = for_reading(engine)
        self._stamp = ChangeStamp(engine)

    @classmethod
    def open(cls, url: str) -> Library:
        """Open a database by its address. The folder of a SQLite file must exist; the file is made at first use."""
        return cls(open_engine(url))

    @contextmanager
    def begin(self) -> Iterator[Work]:
        """Give one transaction: kept when the block ends, undone when it raises."""
        with refusals_in_words(), self._engine.begin() as connection:
            yield Work(connection)

    @contextmanager
    def read(self) -> Iterator[Work]:
        """Give one transaction that sees a single state of the database, waits for nobody and cannot change anything."""
        with refusals_in_words(), self._reading.connect() as connection:
            yield Work(connection)

    def migrate(self, folder: Path) -> tuple[str, ...]:
        """Apply the migrations in a folder that the database lacks; return their revisions."""
        with refusals_in_words():
            return upgrade_to_latest(self._engine, folder)

    def change_stamp(self) -> int | None:
        """Return something that is equal later only if nothing was changed meanwhile, by anyone; None where the database cannot tell."""
        return self._stamp.now()

    def close(self) -> None:
        """Close all connections."""
        self._stamp.close()
        self._engine.dispose()
