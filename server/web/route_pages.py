"""The pages of routes: list, make, change, copy, remove, and the route page where the points are chosen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from fastapi import APIRouter, Query

from server.errors import InputProblem, ProjectError
from server.navigation import Route
from server.persistence import RegionRecord
from server.planning import RESERVE_RULES, Candidate, ReserveRule, build_chain, leg_candidates, plan_route, route_shelf
from server.planning.log import NavigationLog
from server.planning.route_shelf import Choices, RouteShelf
from server.sheets import LogSheet, chart_of, log_sheet, section_of
from server.web.desk import AtDesk, Desk, Number, TypedForm
from server.web.forms import FormText
from server.web.pages import Page, see_other
from server.web.route_form import (
    BLANK_ROUTE,
    aircraft_label,
    airfield_label,
    beacon_label,
    checkpoint_label,
    read_point,
    read_route,
    route_form,
)
from server.web.shelf_pages import FormPage, RemovePage

MOST_IN_A_LIST = 300
"""Longer lists are typed by ident instead of chosen from."""

CHAIN_FOUND = (
    "The beacon chain was found and stands in the route below: every leg is received at the planned altitude. "
    "What is lost in climb and descent is told leg by leg."
)


@dataclass(frozen=True, kw_only=True)
class RouteList(Page):
    template: ClassVar[str] = "route_list.html"
    shelf: RouteShelf
    path: str
    """Address of the routes of this region."""


@dataclass(frozen=True, kw_only=True)
class RouteFormPage(FormPage):
    template: ClassVar[str] = "route_form.html"
    airfields: tuple[str, ...]
    """Labels of the airfields to choose from; empty where they are too many for a list."""
    aircraft: tuple[str, ...]
    """Labels of the aircraft."""
    reserve_rules: tuple[ReserveRule, ...] = RESERVE_RULES


@dataclass(frozen=True, kw_only=True)
class PointLists:
    """Labels to choose a point from; empty where they are too many for a list."""

    airfields: tuple[str, ...]
    beacons: tuple[str, ...]
    checkpoints: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PlanView:
    """What the route page shows of a route that can be planned."""

    log: NavigationLog
    sheet: LogSheet
    chart: str
    """The chart as SVG."""
    section_drawing: str
    """The section along the route as SVG."""
    warnings: tuple[str, ...]
    """What else needs a look: points far from the rest."""
    candidates: tuple[Candidate, ...]
    """The beacons that could come next, best first."""


@dataclass(frozen=True, kw_only=True)
class RoutePage(Page):
    template: ClassVar[str] = "route_page.html"
    route: Route
    path: str
    """Address of this route."""
    plan: PlanView | None
    """None when the route cannot be planned as it stands."""
    trouble: str
    """Why the route cannot be planned, in words, or empty."""
    after: int
    """The position behind which the next point goes; 0 is the departure."""
    stops: tuple[str, ...]
    """The points in order, by label, departure and destination included."""
    lists: PointLists
    form: FormText
    """What was typed into the forms that add a point."""
    chain_words: str
    """What the search for a beacon chain found, or empty."""


AfterPosition = Annotated[int | None, Query(ge=0, le=1_000)]


def _labels(things, label_of) -> tuple[str, ...]:
    return tuple(label_of(thing) for thing in things) if len(things) <= MOST_IN_A_LIST else ()


def _point_lists(choices: Choices) -> PointLists:
    return PointLists(
        airfields=_labels(choices.airfields, airfield_label),
        beacons=_labels(choices.beacons, beacon_label),
        checkpoints=_labels(choices.checkpoints, checkpoint_label),
    )


def _form_page(choices: Choices, form: FormText, route: Route | None) -> RouteFormPage:
    home = f"/regions/{choices.region.slug}/routes"
    return RouteFormPage(
        title="New route" if route is None else f"Change {route.name}",
        section="routes",
        region=choices.region,
        form=form,
        action=f"{home}/new" if route is None else f"{home}/{route.id}/edit",
        back=home if route is None else f"{home}/{route.id}",
        airfields=_labels([airfield for airfield in choices.airfields if not airfield.closed], airfield_label),
        aircraft=_labels(choices.aircraft, aircraft_label),
    )


def _stops(route: Route, choices: Choices) -> tuple[str, ...]:
    """Name every point of a route from what the region holds, whether or not the route can be planned."""
    airfields = {airfield.id: f"{airfield.ident} {airfield.name}" for airfield in choices.airfields}
    beacons = {beacon.id: f"{beacon.ident} {beacon.name}" for beacon in choices.beacons}
    checkpoints = {checkpoint.id: checkpoint.name for checkpoint in choices.checkpoints}
    by_kind = {"airfield": airfields, "beacon": beacons, "checkpoint": checkpoints}
    names = [point.name or by_kind.get(point.kind, {}).get(point.place_id, f"{point.kind} fix") for point in route.points]
    ends = [airfields.get(number, "an airfield that is gone") for number in (route.departure_airfield_id, route.destination_airfield_id)]
    return (ends[0], *names, ends[1])


def _plan_view(desk: Desk, number: int, *, after: int) -> PlanView:
    planned = plan_route(desk.library, desk.terrain_store, number)
    return PlanView(
        log=planned.log,
        sheet=log_sheet(planned.log),
        chart=chart_of(planned),
        section_drawing=section_of(planned),
        warnings=route_shelf.points_far_away(planned.log.points),
        candidates=leg_candidates(desk.library, desk.terrain_store, number, after=after),
    )


def route_page(
    desk: Desk, slug: str, number: int, *, after: int | None = None, form: FormText | None = None, chain_words: str = ""
) -> RoutePage:
    """Fill the route page: plan the route, draw it, and look which beacons could come next."""
    region, route = route_shelf.find_route(desk.library, slug, number)
    choices = route_shelf.route_choices(desk.library, slug)
    behind = min(len(route.points) if after is None else after, len(route.points))
    plan, trouble = None, ""
    try:
        plan = _plan_view(desk, number, after=behind)
    except ProjectError as problem:
        trouble = problem.message
    return RoutePage(
        title=route.name,
        section="routes",
        region=region,
        route=route,
        path=f"/regions/{region.slug}/routes/{number}",
        plan=plan,
        trouble=trouble,
        after=behind,
        stops=_stops(route, choices),
        lists=_point_lists(choices),
        form=form or FormText(fields={"after": str(behind)}),
        chain_words=chain_words,
    )


def route_router() -> APIRouter:
    """All pages of routes but the log."""
    router = APIRouter(prefix="/regions/{slug}/routes")

    @router.get("")
    def routes(desk: AtDesk, slug: str):
        shelf = route_shelf.list_routes(desk.library, slug)
        path = f"/regions/{shelf.region.slug}/routes"
        return desk.pages.show(RouteList(title="Routes", section="routes", region=shelf.region, shelf=shelf, path=path))

    @router.get("/new")
    def blank(desk: AtDesk, slug: str):
        return desk.pages.show(_form_page(route_shelf.route_choices(desk.library, slug), BLANK_ROUTE, None))

    @router.post("/new")
    def add(desk: AtDesk, slug: str, form: TypedForm):
        choices = route_shelf.route_choices(desk.library, slug)
        try:
            route = route_shelf.add_route(desk.library, read_route(form, choices))
        except InputProblem as problem:
            return desk.pages.show(_form_page(choices, form.with_problems(problem), None), status=422)
        return see_other(_path(choices.region, route))

    @router.get("/{number}")
    def show(desk: AtDesk, slug: str, number: Number, after: AfterPosition = None, built: bool = False):
        words = CHAIN_FOUND if built else ""
        return desk.pages.show(route_page(desk, slug, number, after=after, chain_words=words))

    @router.get("/{number}/edit")
    def edit(desk: AtDesk, slug: str, number: Number):
        _region, route = route_shelf.find_route(desk.library, slug, number)
        choices = route_shelf.route_choices(desk.library, slug)
        return desk.pages.show(_form_page(choices, route_form(route, choices), route))

    @router.post("/{number}/edit")
    def change(desk: AtDesk, slug: str, number: Number, form: TypedForm):
        region, route = route_shelf.find_route(desk.library, slug, number)
        choices = route_shelf.route_choices(desk.library, slug)
        try:
            route_shelf.change_route(desk.library, read_route(form, choices, route))
        except InputProblem as problem:
            return desk.pages.show(_form_page(choices, form.with_problems(problem), route), status=422)
        return see_other(_path(region, route))

    @router.post("/{number}/copy")
    def copy(desk: AtDesk, slug: str, number: Number):
        region, _route = route_shelf.find_route(desk.library, slug, number)
        return see_other(_path(region, route_shelf.copy_route(desk.library, number)) + "/edit")

    @router.get("/{number}/remove")
    def ask(desk: AtDesk, slug: str, number: Number):
        region, route = route_shelf.find_route(desk.library, slug, number)
        path, what = _path(region, route), f"the route {route.name}"
        page = RemovePage(title=f"Remove {route.name}?", section="routes", region=region, what=what, action=f"{path}/remove", back=path)
        return desk.pages.show(page)

    @router.post("/{number}/remove")
    def remove(desk: AtDesk, slug: str, number: Number):
        route_shelf.remove_route(desk.library, slug, number)
        return see_other(f"/regions/{slug}/routes")

    @router.post("/{number}/points")
    def add_point(desk: AtDesk, slug: str, number: Number, form: TypedForm):
        region, route = route_shelf.find_route(desk.library, slug, number)
        try:
            point, after = read_point(form, route_shelf.route_choices(desk.library, slug))
            route_shelf.add_point(desk.library, number, point, after=after)
        except InputProblem as problem:
            return desk.pages.show(route_page(desk, slug, number, form=form.with_problems(problem)), status=422)
        return see_other(f"{_path(region, route)}?after={after + 1}#next")

    @router.post("/{number}/points/{position}/{way}")
    def move_point(desk: AtDesk, slug: str, number: Number, position: Number, way: route_shelf.Way):
        region, route = route_shelf.find_route(desk.library, slug, number)
        route_shelf.rearrange(desk.library, number, position, way)
        return see_other(f"{_path(region, route)}#points")

    @router.post("/{number}/chain")
    def chain(desk: AtDesk, slug: str, number: Number):
        region, route = route_shelf.find_route(desk.library, slug, number)
        found = build_chain(desk.library, desk.terrain_store, number)
        if not found.found:
            return desk.pages.show(route_page(desk, slug, number, chain_words=found.explanation))
        route_shelf.change_route(desk.library, found.route)
        return see_other(f"{_path(region, route)}?built=true#points")

    return router


def _path(region: RegionRecord, route: Route) -> str:
    return f"/regions/{region.slug}/routes/{route.id}"
