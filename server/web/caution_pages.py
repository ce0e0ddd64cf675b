"""The page that tells on which side the error of each answer lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter

from server.sheets.how_cautious import COUNTED, NOT_COUNTED, CautionRow
from server.web.desk import AtDesk
from server.web.pages import Page


@dataclass(frozen=True, kw_only=True)
class CautionPage(Page):
    template: ClassVar[str] = "caution_page.html"
    counted: tuple[CautionRow, ...] = COUNTED
    """What an answer rests on, in the order in which a leg is judged."""
    not_counted: tuple[str, ...] = NOT_COUNTED
    """What is left out."""


def caution_router() -> APIRouter:
    """The page "How cautious is it?"."""
    router = APIRouter()

    @router.get("/how-cautious")
    def how_cautious(desk: AtDesk):
        return desk.pages.show(CautionPage(title="How cautious is it?", section="caution"))

    return router
