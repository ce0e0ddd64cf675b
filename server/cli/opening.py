"""What every command needs first: the folder, the database, a file."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from server.errors import InputProblem
from server.settings import Settings

if TYPE_CHECKING:  # imported where they are used: "beaconry --help" should not wait for them
    from server.persistence import Library
    from server.terrain import TerrainStore


def make_home(settings: Settings) -> None:
    """Make the folder that BEACONRY_HOME names."""
    try:
        settings.home.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        text = f"The folder {settings.home} cannot be made: {error.strerror}. Name another with BEACONRY_HOME."
        raise InputProblem(text, code="home-unusable", place="BEACONRY_HOME") from error


@contextmanager
def opened(settings: Settings) -> Iterator[tuple[Library, TerrainStore]]:
    """The database, migrated, and the terrain store."""
    make_home(settings)
    os.environ.setdefault("NUMBA_CACHE_DIR", str(settings.kernel_cache_folder))  # read when numba is first imported
    from server.persistence import Library
    from server.terrain import TerrainStore

    library = Library.open(settings.effective_database_url)
    try:
        library.migrate(settings.migrations_folder)
        yield library, TerrainStore(settings.terrain_folder)
    finally:
        library.close()


def read_file(path: Path) -> bytes:
    """Read a table or outline that a command names."""
    from server.exchange import read_limited

    try:
        with path.open("rb") as stream:
            return read_limited(stream, name=path.name)
    except OSError as error:
        raise InputProblem(f"{path} cannot be read: {error.strerror}.", code="file-unreadable") from error
