"""The composition root: settings in, a running application out. Nobody imports this module but the server that runs it."""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from fastapi import FastAPI

from server.settings import Settings

if TYPE_CHECKING:
    from server.persistence import Library
    from server.terrain import TerrainStore

log = logging.getLogger("beaconry")


def create_app(settings: Settings | None = None) -> FastAPI:
    """Open the database and the terrain store, load the sample region into an empty database, and build the pages.

    The kernels' cache must be named before numba is first imported, so everything that leads to it is imported here.
    """
    settings = settings or Settings.from_environment()
    settings.home.mkdir(parents=True, exist_ok=True)
    os.environ.setdefault("NUMBA_CACHE_DIR", str(settings.kernel_cache_folder))
    from server.persistence import Library
    from server.planning import CrestWork, utc_now
    from server.terrain import TerrainStore
    from server.web import build_pages

    library = Library.open(settings.effective_database_url)
    library.migrate(settings.migrations_folder)
    terrain_store = TerrainStore(settings.terrain_folder)
    load_sample_region(settings, library, terrain_store)
    app = FastAPI(title="Beaconry", docs_url=None, redoc_url=None, openapi_url=None, lifespan=_lifespan)
    build_pages(
        app,
        library=library,
        terrain_store=terrain_store,
        templates_folder=settings.templates_folder,
        static_folder=settings.static_folder,
        staging_folder=settings.home / "staged",
        clock=utc_now,
        crest_work=CrestWork(library, terrain_store, quiet_s=2.0, first_after_s=60.0),
    )
    return app


def load_sample_region(settings: Settings, library: Library, terrain_store: TerrainStore) -> None:
    """Load the sample region when the database has no region at all."""
    from server.planning.load_region import load_region

    with library.read() as work:
        empty = not work.regions.list()
    if empty and (settings.sample_region_folder / "region.toml").is_file():
        log.info("loading the sample region")
        load_region(library, terrain_store, settings.sample_region_folder)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    """While the first page is already being read, a thread makes the radio model ready and then looks round every beacon."""
    from server.planning.warm_up import warm_up

    desk = app.state.desk

    def make_ready() -> None:
        warm_up(desk.library, desk.terrain_store)
        desk.crest_work.start()

    warming = threading.Thread(target=make_ready, name="warm-up", daemon=True)
    warming.start()
    yield
    warming.join()
    desk.crest_work.stop()
    desk.library.close()
