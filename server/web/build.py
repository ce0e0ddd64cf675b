"""Puts the pages on an application: routes of addresses, guard, problems, static files."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from importlib import resources
from pathlib import Path

from fastapi import FastAPI
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from server.persistence import Library
from server.planning import CrestWork, region_book
from server.planning.plan_memory import PlanMemory
from server.sheets import cautions
from server.terrain import TerrainStore
from server.web.after_change import AfterChange
from server.web.aircraft_pages import aircraft_router
from server.web.caution_pages import caution_router
from server.web.coverage_pages import coverage_router
from server.web.desk import Desk
from server.web.desk_pages import desk_router
from server.web.exchange_pages import exchange_router
from server.web.filters import FILTERS
from server.web.fix_pages import fixes_router
from server.web.guard import Guard
from server.web.home_pages import home_router
from server.web.level_pages import level_router
from server.web.load_pages import load_router
from server.web.log_pages import log_router
from server.web.packing import Packing
from server.web.pages import Pages
from server.web.problems import handle_problems, page_for
from server.web.region_check_pages import region_check_router
from server.web.region_export_pages import region_export_router, takes_region_file
from server.web.region_make_pages import region_make_router
from server.web.region_uploads import takes_ground
from server.web.route_pages import route_router
from server.web.shelf_pages import AIRFIELDS, BEACONS, CHECKPOINTS, list_router, shelf_router
from server.web.staging import StagedUploads
from server.web.strip_pages import strip_router
from server.web.workshop_pages import workshop_router

WORDS = {"CAUTION": cautions.CAUTION, "FICTIONAL_NOTICE": cautions.FICTIONAL_NOTICE}
STATIC_KEPT_S = 3600


def map_library_folder() -> Path:
    """Where the Python package that carries the map library has its files for the browser."""
    return Path(str(resources.files("js_lib_leaflet"))) / "static" / "js_lib_leaflet"


class KeptFiles(StaticFiles):
    """Static files that the browser may keep for an hour."""

    def file_response(self, *args, **kwargs) -> Response:
        response = super().file_response(*args, **kwargs)
        response.headers["Cache-Control"] = f"public, max-age={STATIC_KEPT_S}"
        return response


def build_pages(
    app: FastAPI,
    *,
    library: Library,
    terrain_store: TerrainStore,
    templates_folder: Path,
    static_folder: Path,
    staging_folder: Path,
    clock: Callable[[], datetime],
    crest_work: CrestWork,
) -> None:
    """Give the application its pages. ``crest_work`` is asked to look again after whatever may have changed something."""
    pages = Pages(templates_folder, filters=FILTERS, words=WORDS)
    staged = StagedUploads(folder=staging_folder, clock=clock)
    app.state.desk = Desk(
        library=library,
        terrain_store=terrain_store,
        pages=pages,
        staged=staged,
        clock=clock,
        crest_work=crest_work,
        plans=PlanMemory(library, terrain_store, clock=clock),
    )
    app.add_middleware(AfterChange, then=crest_work.look_again, unless=lambda path: path.endswith(("/try", "/desk/chain")))
    app.add_middleware(Packing)
    app.add_middleware(
        Guard, refuse=lambda error: page_for(pages, error), takes_ground=lambda path: takes_ground(path) or takes_region_file(path)
    )
    handle_problems(app, pages, region_at=partial(region_book.region_at, library))
    app.include_router(home_router())
    app.include_router(caution_router())
    app.include_router(region_export_router())
    app.include_router(region_check_router())
    app.include_router(region_make_router())
    app.include_router(aircraft_router())
    app.include_router(list_router())
    app.include_router(coverage_router())
    app.include_router(fixes_router())
    for ways in (BEACONS, AIRFIELDS, CHECKPOINTS):
        app.include_router(shelf_router(ways))
    app.include_router(desk_router())
    app.include_router(workshop_router())
    app.include_router(route_router())
    app.include_router(level_router())
    app.include_router(log_router())
    app.include_router(strip_router())
    app.include_router(exchange_router())
    app.include_router(load_router())
    app.mount("/map", KeptFiles(directory=map_library_folder()), name="map")
    app.mount("/static", KeptFiles(directory=static_folder), name="static")
