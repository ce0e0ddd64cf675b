"""Shared fixtures: where the open data lies, if it is here."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder of the open data, named by BEACONRY_OPEN_DATA; tests that need it skip where it is absent."""
    folder = os.environ.get("BEACONRY_OPEN_DATA", "")
    if not folder or not Path(folder).is_dir():
        pytest.skip("BEACONRY_OPEN_DATA does not name a folder with the open data")
    return Path(folder).resolve()
