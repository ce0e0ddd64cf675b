"""A served application on a small region in a temporary home, spoken to as a browser would."""

from __future__ import annotations

import shutil
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from server.app import create_app
from server.navigation import Route
from server.persistence import Library
from server.settings import Settings
from server.terrain import TerrainStore
from tests.web.reading_pages import PageRead, read
from tests.web.web_builders import SmallRegion, a_route, build_small_region

with warnings.catch_warnings():  # it asks for a package of another name; the one it has works
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient

ADDRESS = "http://127.0.0.1:8077"


@dataclass
class Served:
    """A browser without scripts, and the library behind the pages."""

    browser: TestClient
    library: Library
    small: SmallRegion
    home: Path

    def page(self, path: str) -> PageRead:
        """Open a page that must be there."""
        answer = self.browser.get(path)
        assert answer.status_code == 200, answer.text
        return read(answer)

    def send(self, path: str, fields: dict[str, str]):
        """Send a form."""
        return self.browser.post(path, data=fields)

    @property
    def at(self) -> str:
        return f"/regions/{self.small.region.slug}"

    def keep_route(self, **changes) -> Route:
        with self.library.begin() as work:
            return work.routes.add(a_route(self.small, **changes))


@pytest.fixture(scope="session")
def furnished_home(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SmallRegion]:
    """A home with the small region in it, built once; each test gets a copy."""
    home, ground = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("ground")
    settings = Settings(home=home, database_url="")
    library = Library.open(settings.effective_database_url)
    library.migrate(settings.migrations_folder)
    small = build_small_region(library, TerrainStore(settings.terrain_folder), ground)
    library.close()
    return home, small


@pytest.fixture
def served(furnished_home: tuple[Path, SmallRegion], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setattr("server.planning.warm_up.warm_up", lambda *_: None)  # its questions would be counted as the page's
    home = tmp_path / "home"
    furnished, small = furnished_home
    shutil.copytree(furnished, home)
    app = create_app(Settings(home=home, database_url=""))
    app.state.desk.crest_work.stop()  # nor are those of the work in the background
    with TestClient(app, base_url=ADDRESS, follow_redirects=False, raise_server_exceptions=False) as browser:
        yield Served(browser=browser, library=app.state.desk.library, small=small, home=home)


@pytest.fixture
def queries() -> Iterator[list[str]]:
    """Every statement sent to any database while the test runs."""
    sent: list[str] = []

    def note(_connection, _cursor, statement, _parameters, _context, _many):
        if not statement.startswith(("PRAGMA", "BEGIN")):
            sent.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    yield sent
    event.remove(Engine, "before_cursor_execute", note)
