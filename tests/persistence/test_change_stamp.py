"""The stamp of a database: equal while nothing changes, different after anyone changed something."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from server.persistence import Library, RegionRecord
from tests.databases import MIGRATIONS


def opened(tmp_path: Path) -> Library:
    library = Library.open(f"sqlite:///{tmp_path / 'x.sqlite3'}")
    library.migrate(MIGRATIONS)
    return library


def test_reading_leaves_the_stamp_and_writing_changes_it(tmp_path: Path):
    library = opened(tmp_path)
    first = library.change_stamp()
    with library.read() as work:
        work.regions.list()
    assert first is not None and library.change_stamp() == first
    with library.begin() as work:
        work.regions.add(RegionRecord(slug="a", name="A", fictional=True))
    assert library.change_stamp() != first
    library.close()


def test_what_is_undone_is_no_change_and_another_process_counts(tmp_path: Path):
    library = opened(tmp_path)
    first = library.change_stamp()
    try:
        with library.begin() as work:
            work.regions.add(RegionRecord(slug="a", name="A", fictional=True))
            raise KeyboardInterrupt
    except KeyboardInterrupt:
        pass
    assert library.change_stamp() == first
    with sqlite3.connect(tmp_path / "x.sqlite3") as stranger:
        stranger.execute("CREATE TABLE beside (id INTEGER)")
    assert library.change_stamp() != first
    library.close()
