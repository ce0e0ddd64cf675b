"""A served application on a small region in a temporary home, spoken to as a browser would."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.navigation import Route
from server.persistence import Library
from server.settings import Settings
from tests.web.web_builders import SmallRegion, a_route, build_small_region

ADDRESS = "http://127.0.0.1:8077"


@dataclass
class Served:
    """A browser without scripts, and the library behind the pages."""

    browser: TestClient
    library: Library
    small: SmallRegion
    home: Path

    @property
    def at(self) -> str:
        return f"/regions/{self.small.region.slug}"

    def keep_route(self, **changes) -> Route:
        with self.library.begin() as work:
            return work.routes.add(a_route(self.small, **changes))


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setattr("server.app.load_sample_region", lambda *_: None)
    app = create_app(Settings(home=tmp_path / "home", database_url=""))
    desk = app.state.desk
    small = build_small_region(desk.library, desk.terrain_store, tmp_path / "ground")
    with TestClient(app, base_url=ADDRESS, follow_redirects=False, raise_server_exceptions=False) as browser:
        yield Served(browser=browser, library=desk.library, small=small, home=tmp_path / "home")
