"""Fixtures: databases of each kind, empty or migrated. A conftest.py imports those it needs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest

from server.persistence import Library
from server.settings import PROJECT_ROOT
from tests.postgres import make_database, private_postgres

MIGRATIONS = PROJECT_ROOT / "migrations"
_names = count(1)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Path]:
    """Folder of the socket of a running PostgreSQL that has a migrated database called ready."""
    with private_postgres() as folder:
        library = Library.open(make_database(folder, "ready"))
        library.migrate(MIGRATIONS)
        library.close()
        yield folder


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address of a database without tables."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    return make_database(request.getfixturevalue("postgres"), f"empty{next(_names)}")


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address of a migrated database without rows."""
    if request.param == "postgresql":
        return make_database(request.getfixturevalue("postgres"), f"test{next(_names)}", template="ready")
    address = f"sqlite:///{tmp_path / 'beaconry.sqlite3'}"
    library = Library.open(address)
    library.migrate(MIGRATIONS)
    library.close()
    return address


@pytest.fixture
def open_library() -> Iterator[Callable[[str], Library]]:
    """Open libraries that are closed when the test ends."""
    opened: list[Library] = []

    def open_one(url: str) -> Library:
        opened.append(Library.open(url))
        return opened[-1]

    yield open_one
    for library in opened:
        library.close()
