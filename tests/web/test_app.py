"""The composition root: an empty home becomes a working Beaconry, and a used one stays as it is."""

from __future__ import annotations

import os

import pytest

from server.app import create_app
from server.persistence import RegionRecord
from server.planning.warm_up import warm_up
from server.settings import Settings


@pytest.fixture
def settings(tmp_path) -> Settings:
    return Settings(home=tmp_path / "deep" / "home", database_url="")


def region_slugs(app) -> list[str]:
    with app.state.desk.library.read() as work:
        return [region.slug for region in work.regions.list()]


def test_first_start_makes_the_home_and_loads_the_sample_region(settings):
    if not (settings.sample_region_folder / "region.toml").is_file():
        pytest.skip("the sample region is not in this checkout")
    app = create_app(settings)
    assert len(region_slugs(app)) == 1
    app.state.desk.library.close()


def test_start_with_a_region_loads_none(settings, monkeypatch):
    monkeypatch.setattr("server.app.load_sample_region", lambda *_: None)
    first = create_app(settings)
    with first.state.desk.library.begin() as work:
        work.regions.add(RegionRecord(slug="mine", name="Mine", fictional=False))
    first.state.desk.library.close()
    monkeypatch.undo()
    second = create_app(settings)
    assert region_slugs(second) == ["mine"]
    second.state.desk.library.close()


def test_kernel_cache_is_in_the_home_unless_it_was_named(settings, monkeypatch):
    monkeypatch.setattr("server.app.load_sample_region", lambda *_: None)
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    create_app(settings).state.desk.library.close()
    assert os.environ["NUMBA_CACHE_DIR"] == str(settings.kernel_cache_folder)
    monkeypatch.setenv("NUMBA_CACHE_DIR", "/somewhere")
    create_app(settings).state.desk.library.close()
    assert os.environ["NUMBA_CACHE_DIR"] == "/somewhere"


def test_warming_up_asks_every_region_and_stores_nothing(served, queries):
    desk = served.browser.app.state.desk
    warm_up(desk.library, desk.terrain_store)
    assert queries and all(statement.startswith("SELECT") for statement in queries)


def test_warming_up_bears_a_region_without_ground_or_beacons(settings, monkeypatch):
    monkeypatch.setattr("server.app.load_sample_region", lambda *_: None)
    app = create_app(settings)
    with app.state.desk.library.begin() as work:
        work.regions.add(RegionRecord(slug="bare", name="Bare", fictional=False))
    warm_up(app.state.desk.library, app.state.desk.terrain_store)
    app.state.desk.library.close()
