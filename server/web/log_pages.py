"""The log: as a page that prints, as PDF, text and JSON, and its two drawings."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Annotated, ClassVar

from fastapi import APIRouter, Query
from fastapi.responses import Response

from server.planning import PlannedRoute, route_shelf
from server.sheets import (
    COLUMN_WORDS,
    Column,
    Derivation,
    LegSheet,
    LogSheet,
    blank_form,
    chart_of,
    log_as_json,
    log_as_pdf,
    log_as_text,
    log_sheet,
    section_of,
)
from server.web.desk import AtDesk, Desk, Number
from server.web.pages import Page, Pages, send_page


class Paper(StrEnum):
    A4 = "a4"
    LETTER = "letter"
    A5 = "a5"
    HALF_LETTER = "half-letter"


PAGES_KEPT = 16

PAPER_WORDS = {Paper.A4: "A4", Paper.LETTER: "Letter", Paper.A5: "A5", Paper.HALF_LETTER: "half Letter"}


@dataclass(frozen=True, kw_only=True)
class LogPage(Page):
    template: ClassVar[str] = "log_page.html"
    sheet: LogSheet
    """The log in words and rounded figures."""
    chart: str
    """The chart as SVG."""
    section_drawing: str
    """The section along the route as SVG."""
    paper: Paper
    """The sheet it is printed on."""
    columns: tuple[tuple[str, str, bool], ...]
    """What may be left empty: key, words, and whether it is."""
    leave_query: str
    """What is left empty, as the end of an address."""
    path: str
    """Address of the route."""
    papers: tuple[tuple[str, str], ...] = tuple(PAPER_WORDS.items())


@dataclass(frozen=True, kw_only=True)
class WorkingPage(Page):
    template: ClassVar[str] = "working_page.html"
    legs: tuple[LegSheet, ...]
    """The legs of the log, each with its working."""
    fuel_working: tuple[Derivation, ...]
    """How the fuel plan comes about."""
    path: str
    """Address of the route."""


Columns = Annotated[tuple[Column, ...], Query(max_length=len(Column))]


def planned_of(desk: Desk, slug: str, number: int) -> PlannedRoute:
    """Plan a route of this region."""
    planned = desk.plans.planned(number)
    if planned.region.slug != slug:
        route_shelf.find_route(desk.library, slug, number)  # says that this region has no such route
    return planned


@lru_cache(maxsize=PAGES_KEPT)
def _log_page(pages: Pages, planned: PlannedRoute, paper: Paper, leave: tuple[Column, ...]) -> str:
    """Lay the log out as HTML; a plan is its own and never changes, so the page is kept while the plan is."""
    page = LogPage(
        title=f"Log: {planned.log.route.name}",
        section="routes",
        region=planned.region,
        sheet=blank_form(log_sheet(planned.log), leave),
        chart=chart_of(planned),
        section_drawing=section_of(planned),
        paper=paper,
        columns=tuple((column, COLUMN_WORDS[column], column in leave) for column in Column),
        leave_query="".join(f"&leave={column}" for column in leave),
        path=f"/regions/{planned.region.slug}/routes/{planned.log.route.id}",
    )
    return pages.write(page)


def _file(content: str | bytes, media_type: str, name: str = "") -> Response:
    headers = {"Cache-Control": "no-store"} | ({"Content-Disposition": f'inline; filename="{name}"'} if name else {})
    return Response(content, media_type=media_type, headers=headers)


def log_router() -> APIRouter:
    """The log of a route in all its forms."""
    router = APIRouter(prefix="/regions/{slug}/routes/{number}")

    @router.get("/log")
    def log(desk: AtDesk, slug: str, number: Number, paper: Paper = Paper.A4, leave: Columns = ()):
        return send_page(_log_page(desk.pages, planned_of(desk, slug, number), paper, leave))

    @router.get("/log/working")
    def working(desk: AtDesk, slug: str, number: Number):
        planned = planned_of(desk, slug, number)
        sheet = log_sheet(planned.log)
        page = WorkingPage(
            title=f"The working: {planned.log.route.name}",
            section="routes",
            region=planned.region,
            legs=sheet.legs,
            fuel_working=sheet.fuel_working,
            path=f"/regions/{planned.region.slug}/routes/{number}",
        )
        return desk.pages.show(page)

    @router.get("/log.pdf")
    def pdf(desk: AtDesk, slug: str, number: Number, paper: Paper = Paper.A4, leave: Columns = ()):
        planned = planned_of(desk, slug, number)
        sheet = blank_form(log_sheet(planned.log), leave)
        content = log_as_pdf(planned.log, paper=paper.value, chart_svg=chart_of(planned), section_svg=section_of(planned), sheet=sheet)
        return _file(content, "application/pdf", f"log-{number}-{paper}.pdf")

    @router.get("/log.txt")
    def text(desk: AtDesk, slug: str, number: Number):
        planned = planned_of(desk, slug, number)
        return _file(log_as_text(planned.log), "text/plain; charset=utf-8")

    @router.get("/log.json")
    def json(desk: AtDesk, slug: str, number: Number):
        planned = planned_of(desk, slug, number)
        return _file(log_as_json(planned.log), "application/json")

    @router.get("/chart.svg")
    def chart(desk: AtDesk, slug: str, number: Number):
        planned = planned_of(desk, slug, number)
        return _file(chart_of(planned), "image/svg+xml")

    @router.get("/section.svg")
    def section(desk: AtDesk, slug: str, number: Number):
        planned = planned_of(desk, slug, number)
        return _file(section_of(planned), "image/svg+xml")

    return router
