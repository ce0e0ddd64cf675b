"""The levels a route could be flown at, and choosing one of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter

from server.errors import InputProblem
from server.navigation import FuelMeasure, Route
from server.planning import route_shelf
from server.planning.leg_levels import level_rule_of
from server.planning.level_advice import LevelChoice, advise_levels
from server.planning.materials import gather
from server.sheets import figures
from server.web.desk import AtDesk, Number, TypedForm
from server.web.forms import FormText
from server.web.pages import Page, see_other
from server.web.point_form import read_version


@dataclass(frozen=True, kw_only=True)
class LevelRow:
    """One set of levels in words."""

    levels: str
    value: str
    """The levels as the form sends them."""
    planned: bool
    time: str
    fuel: str
    reception: str
    """What is flown without guidance or on a marginal beacon, or that the beacons are received all along."""
    ground: str
    """What is wrong with the height above the ground; empty where nothing is."""
    short: str
    """Where levels are not reached, or lie above the aircraft's tables; empty where neither is so."""


@dataclass(frozen=True, kw_only=True)
class LevelsPage(Page):
    template: ClassVar[str] = "levels_page.html"
    rows: tuple[LevelRow, ...]
    """What is planned now, then the legal levels from the lowest up."""
    rule: str
    """Whose rule it is."""
    route: Route
    path: str
    """Address of the route."""


def _row(choice: LevelChoice, measure: FuelMeasure) -> LevelRow:
    distinct = [f"{figures.altitude(choice.levels_ft[0])}"]
    distinct += [
        f"{figures.altitude(feet)} from leg {leg + 2}"
        for leg, (before_ft, feet) in enumerate(zip(choice.levels_ft, choice.levels_ft[1:], strict=False))
        if feet != before_ft
    ]
    low, unknown = (", ".join(map(str, legs)) for legs in (choice.low_legs, choice.unknown_legs))
    ground = [f"under the margin on leg {low}"] if low else []
    ground += [f"ground not wholly known on leg {unknown}"] if unknown else []
    short = [f"leg {missed.legs[0]} gets to {figures.altitude(missed.nearest_ft)} only" for missed in choice.missed]
    short += ["above the aircraft's tables: time and fuel are carried on"] if choice.above_tables else []
    flown = {"without guidance": choice.without_guidance_nm, "marginal": choice.marginal_nm}
    reception = [f"{figures.distance_nm(length_nm)} {how}" for how, length_nm in flown.items() if length_nm > 0.0]
    return LevelRow(
        levels=", ".join(distinct),
        value=",".join(f"{feet:g}" for feet in choice.levels_ft),
        planned=choice.as_planned,
        time=figures.duration(choice.time_min),
        fuel=figures.fuel(choice.fuel_l, measure=measure),
        reception=", ".join(reception) or "received all along",
        ground="; ".join(ground),
        short="; ".join(short),
    )


def _levels_ft(form: FormText) -> tuple[float, ...]:
    try:
        return tuple(float(word) for word in form.text("levels").split(","))
    except ValueError as problem:
        raise InputProblem("The levels of this form cannot be read. Open the page again and choose one of its rows.") from problem


def level_router() -> APIRouter:
    """The level adviser of a route."""
    router = APIRouter(prefix="/regions/{slug}/routes/{number}")

    @router.get("/levels")
    def levels(desk: AtDesk, slug: str, number: Number):
        region, route = route_shelf.find_route(desk.library, slug, number)
        materials = gather(desk.library, desk.terrain_store, route)
        measure = materials.aircraft.fuel_measure if materials.aircraft is not None else FuelMeasure()
        page = LevelsPage(
            title=f"Levels for {route.name}",
            section="routes",
            region=region,
            rows=tuple(_row(choice, measure) for choice in advise_levels(materials)),
            rule=level_rule_of(materials).value,
            route=route,
            path=f"/regions/{region.slug}/routes/{number}",
        )
        return desk.pages.show(page)

    @router.post("/levels")
    def choose(desk: AtDesk, slug: str, number: Number, form: TypedForm):
        region, _route = route_shelf.find_route(desk.library, slug, number)
        route_shelf.choose_levels(desk.library, number, _levels_ft(form), version=read_version(form))
        return see_other(f"/regions/{region.slug}/routes/{number}#points")

    return router
