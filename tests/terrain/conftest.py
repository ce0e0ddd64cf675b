"""One terrain store for each test, in its own folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from server.terrain import TerrainStore


@pytest.fixture
def store(tmp_path: Path) -> TerrainStore:
    return TerrainStore(tmp_path / "store")


@pytest.fixture
def tiles(tmp_path: Path) -> Path:
    """Folder for the elevation files of a test."""
    folder = tmp_path / "tiles"
    folder.mkdir()
    return folder
