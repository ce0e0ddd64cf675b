"""The first page: what to do first, the regions, and their routes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter
from fastapi.responses import PlainTextResponse

from server.planning import region_book
from server.planning.region_book import RegionSummary
from server.web.desk import AtDesk
from server.web.pages import Page


@dataclass(frozen=True, kw_only=True)
class HomePage(Page):
    template: ClassVar[str] = "home.html"
    regions: tuple[RegionSummary, ...]
    """Every region with its routes and how much it holds."""


def home_router() -> APIRouter:
    """The first page, and the sign of life."""
    router = APIRouter()

    @router.get("/")
    def home(desk: AtDesk):
        return desk.pages.show(HomePage(title="Start", section="home", regions=region_book.summarise(desk.library)))

    @router.get("/healthz")
    def healthz(desk: AtDesk):
        region_book.summarise(desk.library)
        return PlainTextResponse("ok\n")

    return router
