"""A migrated database of each kind. What holds for one must hold for the other."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from server.persistence import Library, RegionRecord
from tests.databases import open_library, postgres, url

__all__ = ["library", "open_library", "postgres", "region", "url"]


@pytest.fixture
def library(url: str, open_library: Callable[[str], Library]) -> Library:
    return open_library(url)


@pytest.fixture
def region(library: Library) -> RegionRecord:
    with library.begin() as work:
        return work.regions.add(RegionRecord(slug="north", name="North", fictional=True, notice="Invented. Not for navigation."))
