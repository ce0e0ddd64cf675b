"""The planning desk: its page, the chart's values and tiles, the answer to a route that is being changed, and what is known at a place."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, ClassVar

from fastapi import APIRouter, Path, Query
from fastapi.responses import Response

from server.errors import Conflict, InputProblem, NotFound, OutOfRange
from server.navigation import Position, Route
from server.planning import build_chain, region_book, route_shelf
from server.planning.probe import Tuned, probe
from server.sheets import relief_state, relief_tile_webp
from server.sheets.relief_tile import CLOSEST_ZOOM, WIDEST_ZOOM
from server.web.coverage_pages import USUAL_ALTITUDE_FT
from server.web.desk import AtDesk, Desk, Number
from server.web.desk_answer import answer_of
from server.web.desk_chart import chart_data, region_ground, region_projection
from server.web.draft import Draft, draft_of
from server.web.pages import Page
from server.web.probe_card import probe_answer
from server.web.problems import status_of
from server.web.script_answers import refusal, values
from server.web.tile_shelf import TileShelf

TILES_KEPT = 1_024
"""In memory, about 10 MB; the browser keeps its own for a year."""
FARTHEST_TILE = 100_000
FIRST_VERSION = 1
"""Of a route as it was begun."""


@dataclass(frozen=True, kw_only=True)
class DeskPage(Page):
    template: ClassVar[str] = "desk_page.html"
    route: Route | None
    """The route that is open; None where the desk was opened without one."""
    told: str
    """What the scripts begin with, as JSON."""
    day: str
    """The day whose variation the chart shows."""
    path: str
    """Address of the route; of the region's routes where none is open."""


Degrees = Annotated[float, Query(ge=-90.0, le=90.0, allow_inf_nan=False)]
Longitude = Annotated[float, Query(ge=-180.0, le=180.0, allow_inf_nan=False)]
Feet = Annotated[float, Query(allow_inf_nan=False)]
Course = Annotated[float | None, Query(ge=0.0, le=360.0, allow_inf_nan=False)]
Id = Annotated[int | None, Query(ge=1, le=2_147_483_647)]
Zoom = Annotated[int, Path(ge=WIDEST_ZOOM, le=CLOSEST_ZOOM)]
Tile = Annotated[int, Path(ge=-FARTHEST_TILE, le=FARTHEST_TILE)]


def _never_kept(page: Response) -> Response:
    """A page that holds a route: going back to it must fetch the route as it is then."""
    page.headers["Cache-Control"] = "no-store"
    return page


def _page(desk: Desk, slug: str, number: int | None) -> DeskPage:
    region = region_book.find_region(desk.library, slug)
    route = route_shelf.find_route(desk.library, slug, number)[1] if number is not None else None
    day = (route.departure_utc if route is not None and route.departure_utc else desk.clock()).date().isoformat()
    home = f"/regions/{region.slug}"
    told = {
        "home": home,
        "chart": f"{home}/desk/chart?on={day}",
        "draft": draft_of(route).model_dump() if route is not None else None,
        "altitude_ft": route.altitude_ft if route is not None and route.altitude_ft is not None else float(USUAL_ALTITUDE_FT),
    }
    return DeskPage(
        title=f"Desk: {route.name}" if route is not None else "Planning desk",
        section="desk",
        region=region,
        route=route,
        told=json.dumps(told, allow_nan=False).replace("<", "\\u003c"),
        day=day,
        path=f"{home}/routes/{route.id}" if route is not None else f"{home}/routes",
    )


def _route_of(desk: Desk, slug: str, draft: Draft) -> Route:
    region = region_book.find_region(desk.library, slug)
    base = route_shelf.find_route(desk.library, slug, draft.number)[1] if draft.number is not None else None
    return draft.on(region, base)


def _path(slug: str, route: Route) -> str:
    return f"/regions/{slug}/routes/{route.id}" if route.id is not None else ""


def _kept(desk: Desk, slug: str, draft: Draft, route: Route) -> Route:
    if draft.number is not None:
        present = route_shelf.find_route(desk.library, slug, draft.number)[1]
        return present if present == route else route_shelf.change_route(desk.library, route)  # equal where a message came twice
    choices = route_shelf.route_choices(desk.library, slug)
    idents = {field.id: field.ident for field in choices.airfields}
    ends = (idents.get(route.departure_airfield_id, "?"), idents.get(route.destination_airfield_id, "?"))
    return route_shelf.add_route(desk.library, replace(route, name=draft.name or f"{ends[0]} to {ends[1]}"), key=draft.key)


def _begun(desk: Desk, draft: Draft) -> Draft:
    """The draft, as a change of the route that was begun under its key, as it was begun. A page that did not get the answer asks again: it
    gets that route, and does not undo what somebody else has changed in it since."""
    route = route_shelf.begun_route(desk.library, draft.key) if draft.number is None and draft.key else None
    return draft if route is None else draft.model_copy(update={"number": route.id, "version": FIRST_VERSION})


def _keep(desk: Desk, slug: str, draft: Draft) -> Response:
    try:
        route = _route_of(desk, slug, draft)
        planned = desk.plans.tried(route)  # what cannot be planned, or told, is not kept
        answer = answer_of(planned, desk.pages, path=_path(slug, route))
        kept = _kept(desk, slug, draft, route)
    except Conflict as error:
        if error.code == "key-twice":  # begun meanwhile by another message
            return _keep(desk, slug, _begun(desk, draft))
        return _conflict(desk, slug, draft, error) if error.code == "stale-version" else refusal(error)
    except (InputProblem, OutOfRange, NotFound) as error:
        return refusal(error)
    if route.id is None:  # it has an address only now
        answer = answer_of(planned, desk.pages, path=_path(slug, kept))
    return values(answer | {"draft": draft_of(kept).model_dump()})


def _conflict(desk: Desk, slug: str, draft: Draft, error: Conflict) -> Response:
    """Someone else kept another version: the desk gets that one too, for the person to choose."""
    present = route_shelf.find_route(desk.library, slug, draft.number or 0)[1]
    told = {"trouble": error.message, "code": error.code, "present": draft_of(present).model_dump()}
    return values(told, status=status_of(error))


def desk_router() -> APIRouter:
    """All of the planning desk."""
    router = APIRouter(prefix="/regions/{slug}")
    shelf = TileShelf(most=TILES_KEPT)

    @router.get("/desk")
    def open_desk(desk: AtDesk, slug: str):
        return _never_kept(desk.pages.show(_page(desk, slug, None)))

    @router.get("/routes/{number}/desk")
    def open_route(desk: AtDesk, slug: str, number: Number):
        return _never_kept(desk.pages.show(_page(desk, slug, number)))

    @router.get("/desk/chart")
    def chart(desk: AtDesk, slug: str, on: date):
        if not 1900 <= on.year <= 2200:
            return refusal(InputProblem(f"The year {on.year} is outside 1900 to 2200. Ask for another day.", code="chart-day"))
        return values(chart_data(desk, slug, on=on))

    @router.get("/relief/{state}/{zoom}/{x}/{y}.webp")
    def relief(desk: AtDesk, slug: str, state: str, zoom: Zoom, x: Tile, y: Tile):
        region, projection = region_projection(desk, slug)
        ground = region_ground(desk, region)
        if state != relief_state(projection, ground):
            raise NotFound("The ground of this region was changed. Open the page again.", code="relief-changed")
        kept = {"Cache-Control": "public, max-age=31536000, immutable"}
        tile = shelf.tile((state, zoom, x, y), lambda: relief_tile_webp(projection, ground, zoom=zoom, x=x, y=y))
        return Response(tile, media_type="image/webp", headers=kept)

    @router.post("/desk/try")
    def try_out(desk: AtDesk, slug: str, draft: Draft):
        try:
            route = _route_of(desk, slug, draft)
            return values(answer_of(desk.plans.tried(route), desk.pages, path=_path(slug, route)))
        except (InputProblem, OutOfRange, NotFound) as error:
            return refusal(error)

    @router.post("/desk/keep")
    def keep(desk: AtDesk, slug: str, draft: Draft):
        return _keep(desk, slug, _begun(desk, draft))

    @router.post("/desk/chain")
    def chain(desk: AtDesk, slug: str, draft: Draft, restricted: bool = False):
        try:
            route = _route_of(desk, slug, draft)
            found = build_chain(desk.library, desk.terrain_store, route, clock=desk.clock, take_restricted=restricted)
        except (InputProblem, OutOfRange, NotFound) as error:
            return refusal(error)
        chain = draft_of(found.route).model_dump() if found.found else None
        return values({"words": found.explanation, "draft": chain, "restricted_left_out": found.restricted_left_out})

    @router.get("/desk/place")
    def place(
        desk: AtDesk,
        slug: str,
        lat: Degrees,
        lon: Longitude,
        altitude_ft: Feet,
        route: Id = None,
        beacon: Id = None,
        selected: Course = None,
    ):
        tuned = Tuned(beacon_id=beacon, selected_course_deg=selected) if beacon is not None else None
        try:
            here = Position(lat_deg=lat, lon_deg=lon)
            found = probe(
                desk.library,
                desk.terrain_store,
                slug,
                position=here,
                altitude_ft=altitude_ft,
                route_number=route,
                tuned=tuned,
                clock=desk.clock,
            )
        except (InputProblem, OutOfRange, NotFound) as error:
            return refusal(error)
        return values(probe_answer(found, desk.pages, slug=slug))

    return router
