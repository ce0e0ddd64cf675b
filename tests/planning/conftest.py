"""A migrated database for the use cases that read one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.persistence import Library
from tests.databases import MIGRATIONS


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file without rows, made once."""
    file = tmp_path_factory.mktemp("migrated") / "beaconry.sqlite3"
    library = Library.open(f"sqlite:///{file}")
    library.migrate(MIGRATIONS)
    library.close()
    return file


@pytest.fixture
def shelf(empty_database: Path, tmp_path: Path) -> Iterator[Library]:
    """An empty library of its own for each test."""
    library = Library.open(f"sqlite:///{shutil.copy(empty_database, tmp_path / 'beaconry.sqlite3')}")
    yield library
    library.close()
