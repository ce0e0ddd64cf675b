"""A block is a transaction; readers and writers of many threads get along; a refusal comes in words."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy.exc import TimeoutError

from server.errors import Conflict, ProjectError
from server.persistence import Library, RegionRecord
from server.persistence.engine import open_engine
from server.persistence.refusals import refusals_in_words
from tests.persistence import things

WRITERS = 8


def test_a_block_that_raises_leaves_nothing_behind(library: Library, region: RegionRecord):
    with pytest.raises(RuntimeError, match=r"in the middle"), library.begin() as work:
        work.beacons.add(things.a_beacon(region.id))
        work.regions.update(replace(region, name="Changed"))
        raise RuntimeError("in the middle")
    with library.read() as work:
        assert work.beacons.count(region.id) == 0
        assert work.regions.get(region.id) == region


def test_a_load_with_one_bad_row_adds_none(library: Library, region: RegionRecord):
    rows = [things.a_beacon(region.id, external_key=str(key)) for key in (*range(300), 7)]
    with pytest.raises(Conflict, match=r"the same key"), library.begin() as work:
        work.beacons.add_many(rows)
    with library.read() as work:
        assert work.beacons.count(region.id) == 0


def test_a_reader_cannot_write_and_the_next_writer_can(library: Library, region: RegionRecord):
    with pytest.raises(ProjectError, match=r"read-?only"), library.read() as work:
        work.beacons.add(things.a_beacon(region.id))
    with library.begin() as work:
        work.beacons.add(things.a_beacon(region.id))
    with library.read() as work:
        assert work.beacons.count(region.id) == 1


def test_a_reader_sees_one_state_while_a_writer_finishes(library: Library, region: RegionRecord):
    with library.read() as reader:
        assert reader.beacons.count(region.id) == 0
        with library.begin() as work:
            work.beacons.add(things.a_beacon(region.id))
        assert reader.beacons.count(region.id) == 0
    with library.read() as reader:
        assert reader.beacons.count(region.id) == 1


def test_writers_that_first_read_all_succeed(library: Library, region: RegionRecord):
    """With a deferred BEGIN most of these would fail with "database is locked", whatever the busy timeout."""
    start = threading.Barrier(WRITERS)

    def write(writer: int) -> None:
        start.wait()
        for at in range(10):
            with library.begin() as work:
                seen = work.beacons.count(region.id)
                work.beacons.add(things.a_beacon(region.id, f"{writer}-{at}", remarks=str(seen)))

    with ThreadPoolExecutor(WRITERS) as threads:
        for finished in [threads.submit(write, writer) for writer in range(WRITERS)]:
            finished.result()
    with library.read() as work:
        assert {beacon.ident for beacon in work.beacons.list(region.id)} == {f"{w}-{at}" for w in range(WRITERS) for at in range(10)}


def test_of_many_who_change_one_version_exactly_one_succeeds(library: Library, region: RegionRecord):
    with library.begin() as work:
        field = work.airfields.add(things.an_airfield(region.id))
        route = work.routes.add(things.a_route(region.id, field.id, field.id))
    start = threading.Barrier(WRITERS)

    def change(writer: int) -> str:
        start.wait()
        try:
            with library.begin() as work:
                work.routes.update(replace(route, remarks=f"writer {writer}"))
        except Conflict as refusal:
            return refusal.code
        return f"writer {writer}"

    with ThreadPoolExecutor(WRITERS) as threads:
        outcomes = list(threads.map(change, range(WRITERS)))
    assert outcomes.count("stale-version") == WRITERS - 1
    with library.read() as work:
        kept = work.routes.get(route.id)
    assert (kept.version, [kept.remarks]) == (2, [outcome for outcome in outcomes if outcome != "stale-version"])


def test_a_sqlite_file_is_kept_in_wal_with_foreign_keys(tmp_path: Path):
    engine = open_engine(f"sqlite:///{tmp_path / 'x.sqlite3'}")
    with engine.begin() as connection:
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "foreign_keys", "busy_timeout", "synchronous", "query_only")
        }
    engine.dispose()
    assert pragmas == {"journal_mode": "wal", "foreign_keys": 1, "busy_timeout": 5000, "synchronous": 1, "query_only": 0}


def test_a_database_that_stays_busy_says_so(tmp_path: Path, open_library: Callable[[str], Library], monkeypatch):
    monkeypatch.setattr("server.persistence.engine.BUSY_TIMEOUT_MS", 1)
    url = f"sqlite:///{tmp_path / 'busy.sqlite3'}"
    first, second = open_library(url), open_library(url)
    with (
        first.begin(),
        pytest.raises(Conflict, match=r"The database is busy with someone else's change. Nothing was saved"),
        second.begin(),
    ):
        pass


def test_a_database_with_too_many_users_says_so():
    with pytest.raises(Conflict, match="The database is busy"), refusals_in_words():
        raise TimeoutError("QueuePool limit reached")


def test_a_folder_that_is_not_there_is_said_in_words(tmp_path: Path, open_library: Callable[[str], Library]):
    library = open_library(f"sqlite:///{tmp_path / 'no' / 'such' / 'x.sqlite3'}")
    with pytest.raises(ProjectError, match=r"The database cannot be used: unable to open database file. Check that BEACONRY_HOME"):
        library.begin().__enter__()


def test_a_file_that_is_no_database_is_said_in_words(tmp_path: Path, open_library: Callable[[str], Library]):
    (tmp_path / "x.sqlite3").write_text("<html>not a database, but long enough to look at</html>" * 40)
    library = open_library(f"sqlite:///{tmp_path / 'x.sqlite3'}")
    with pytest.raises(ProjectError, match=r"The database cannot be used: file is not a database"):
        library.read().__enter__()


def test_a_server_that_does_not_answer_is_said_in_words(tmp_path: Path, open_library: Callable[[str], Library]):
    library = open_library(f"postgresql://nobody@/nothing?host={tmp_path}")
    with pytest.raises(ProjectError, match=r"The database cannot be used: connection"):
        library.begin().__enter__()


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("beaconry.sqlite3", "BEACONRY_DATABASE_URL is not a database address. Write it like sqlite:///"),
        ("", "BEACONRY_DATABASE_URL is not a database address"),
        ("mysql://localhost/x", 'in SQLite or PostgreSQL, not in "mysql"'),
    ],
)
def test_an_address_of_no_use_is_refused(url: str, words: str):
    with pytest.raises(ProjectError, match=words):
        Library.open(url)
