"""What the pages of routes show: one frozen context for each template."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from server.navigation import Route
from server.planning import RESERVE_RULES, Candidate, NavigationLog, ReserveRule
from server.planning.route_shelf import RouteShelf
from server.sheets import LogSheet
from server.web.forms import FormText
from server.web.pages import Page
from server.web.shelf_contexts import FormPage


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
    powers: tuple[str, ...]
    """Power settings that any of the aircraft's cruise tables names."""
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
    restricted_offered: bool
    """Whether the search left stations out that it could take: those published as restricted."""
