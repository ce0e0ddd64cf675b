"""The first page: what to do first, the regions, and their routes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter
from fastapi.responses import PlainTextResponse

from server.planning import CrestProgress, region_book
from server.planning.region_book import RegionSummary
from server.web.desk import AtDesk
from server.web.pages import Page


@dataclass(frozen=True, kw_only=True)
class HomePage(Page):
    template: ClassVar[str] = "home.html"
    regions: tuple[RegionSummary, ...]
    """Every region with its routes and how much it holds."""
    looking_round: str
    """How far the tables of the beacons are, in words; empty when they are made."""


def looking_round(progress: CrestProgress) -> str:
    """Say how far the tables of the beacons are."""
    if progress.done >= progress.total:
        return ""
    share = f"{progress.done} of {progress.total} tables are made"
    return f"Beaconry is looking round each beacon: {share}. Coverage maps are slower meanwhile."


def home_router() -> APIRouter:
    """The first page, and the sign of life."""
    router = APIRouter()

    @router.get("/")
    def home(desk: AtDesk):
        words = looking_round(desk.crest_work.progress)
        return desk.pages.show(HomePage(title="Start", section="home", regions=region_book.summarise(desk.library), looking_round=words))

    @router.get("/looking-round")
    def how_far(desk: AtDesk):
        return PlainTextResponse(looking_round(desk.crest_work.progress), headers={"Cache-Control": "no-store"})

    @router.get("/healthz")
    def healthz(desk: AtDesk):
        region_book.summarise(desk.library)
        return PlainTextResponse("ok\n")

    return router
