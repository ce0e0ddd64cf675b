"""The pages of routes: list, make, change, copy, remove, and the route page where the points are chosen."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response

from server.errors import Conflict, InputProblem, OutOfRange, ProjectError
from server.navigation import Route, cruise_powers
from server.persistence import RegionRecord
from server.planning import build_chain, leg_candidates, route_shelf
from server.planning.route_shelf import Choices
from server.sheets import chart_of, log_sheet, section_of
from server.web.desk import AtDesk, Desk, Number, TypedForm
from server.web.forms import FormText
from server.web.pages import see_other
from server.web.picking import aircraft_label, airfield_label, beacon_label, checkpoint_label, labels
from server.web.point_form import read_choice, read_point, read_version, refused_point
from server.web.problems import status_of
from server.web.route_contexts import PlanView, PointLists, RouteFormPage, RouteList, RoutePage
from server.web.route_form import BLANK_ROUTE, read_route, refused_route, route_form
from server.web.route_rows import stops_of
from server.web.shelf_contexts import RemovePage

MOST_IN_A_LIST = 300
"""Longer lists are typed by ident instead of chosen from."""

CHAIN_FOUND = (
    "The beacon chain was found and stands in the route below: once level at the planned altitude, its legs are received. "
    "What is not received in climb and descent is told leg by leg."
)


AfterPosition = Annotated[int | None, Query(ge=0, le=1_000)]


def _labels(things, label_of) -> tuple[str, ...]:
    return tuple(labels(things, label_of).values()) if len(things) <= MOST_IN_A_LIST else ()


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
        airfields=_labels(choices.open_airfields, airfield_label),
        aircraft=_labels(choices.aircraft, aircraft_label),
        powers=tuple(dict.fromkeys(power for aircraft in choices.aircraft for power in cruise_powers(aircraft))),
    )


def _plan_view(desk: Desk, number: int, *, after: int) -> PlanView:
    planned = desk.plans.planned(number)
    return PlanView(
        log=planned.log,
        sheet=log_sheet(planned.log),
        chart=chart_of(planned),
        section_drawing=section_of(planned),
        warnings=route_shelf.points_far_away(planned.log.points),
        candidates=leg_candidates(desk.library, desk.terrain_store, number, after=after),
    )


def route_page(
    desk: Desk,
    slug: str,
    number: int,
    *,
    after: int | None = None,
    form: FormText | None = None,
    chain_words: str = "",
    restricted_offered: bool = False,
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
        stops=stops_of(route, choices, plan.log if plan else None),
        lists=_point_lists(choices),
        form=form or FormText(fields={"after": str(behind)}),
        chain_words=chain_words,
        restricted_offered=restricted_offered,
    )


def _refused(desk: Desk, slug: str, number: int, form: FormText, refusal: ProjectError) -> Response:
    """The route as it is now, and above it why nothing was done."""
    typed = form.text("after")
    after = int(typed) if re.fullmatch(r"[0-9]{1,4}", typed, re.ASCII) else None
    return desk.pages.show(route_page(desk, slug, number, after=after, form=form), status=status_of(refusal))


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
        except (InputProblem, Conflict) as refusal:
            told = refused_route(form, refusal, route_form(route, choices))
            return desk.pages.show(_form_page(choices, told, route), status=status_of(refusal))
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
            route_shelf.add_point(desk.library, desk.terrain_store, number, point, after=after, version=read_version(form))
        except (InputProblem, OutOfRange, Conflict) as refusal:
            return _refused(desk, slug, number, refused_point(form, refusal), refusal)
        return see_other(f"{_path(region, route)}?after={after + 1}#next")

    @router.post("/{number}/points/{position}/{way}")
    def move_point(desk: AtDesk, slug: str, number: Number, position: Number, way: route_shelf.Way, form: TypedForm):
        region, route = route_shelf.find_route(desk.library, slug, number)
        try:
            route_shelf.rearrange(desk.library, number, position, way, version=read_version(form))
        except (InputProblem, Conflict) as refusal:
            return _refused(desk, slug, number, form.with_problems(refusal), refusal)
        return see_other(f"{_path(region, route)}#points")

    @router.post("/{number}/legs/{leg}")
    def choose(desk: AtDesk, slug: str, number: Number, leg: Number, form: TypedForm):
        region, route = route_shelf.find_route(desk.library, slug, number)
        try:
            route_shelf.choose_for_leg(desk.library, number, leg, read_choice(form), version=read_version(form))
        except (InputProblem, Conflict) as refusal:
            return _refused(desk, slug, number, form.with_problems(refusal), refusal)
        return see_other(f"{_path(region, route)}#points")

    @router.post("/{number}/chain")
    def chain(desk: AtDesk, slug: str, number: Number, form: TypedForm):
        region, route = route_shelf.find_route(desk.library, slug, number)
        try:
            version = read_version(form)
            found = build_chain(desk.library, desk.terrain_store, number, take_restricted=form.text("restricted") == "yes")
            if not found.found:
                offered = found.restricted_left_out
                return desk.pages.show(route_page(desk, slug, number, chain_words=found.explanation, restricted_offered=offered))
            route_shelf.change_route(desk.library, replace(found.route, version=version))
        except (InputProblem, Conflict) as refusal:
            return _refused(desk, slug, number, form.with_problems(refusal), refusal)
        return see_other(f"{_path(region, route)}?built=true#points")

    return router


def _path(region: RegionRecord, route: Route) -> str:
    return f"/regions/{region.slug}/routes/{route.id}"
