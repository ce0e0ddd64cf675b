"""The chart strip of a route at a true scale: the page where scale and paper are chosen, and the PDF."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import BaseModel, Field

from server.errors import InputProblem
from server.planning import PlannedRoute
from server.sheets import MOST_STRIP_PAGES, scale_words, strip_of, strip_pages
from server.web.desk import AtDesk, Number
from server.web.forms import LONGEST_TEXT, FormReader, FormText
from server.web.log_pages import PAPER_WORDS, Paper, planned_of
from server.web.pages import Page


class Scale(StrEnum):
    HALF_MILLION = "500000"
    QUARTER_MILLION = "250000"


class Question(BaseModel):
    """What an address may ask of a strip."""

    scale: Annotated[str, Field(max_length=LONGEST_TEXT)] = Scale.HALF_MILLION
    paper: Annotated[str, Field(max_length=LONGEST_TEXT)] = Paper.A4


@dataclass(frozen=True, kw_only=True)
class StripChoice:
    """One scale on one paper: how many chart pages it needs, and whether that is too many to be drawn."""

    paper: str
    scale: str
    pages: int
    too_many: bool
    name: str
    """Scale and paper in words, for the name of the link."""


@dataclass(frozen=True, kw_only=True)
class StripPage(Page):
    template: ClassVar[str] = "strip_page.html"
    form: FormText
    """The scale and the paper asked for."""
    chosen: StripChoice | None
    """What is asked for; None where it cannot be."""
    rows: tuple[tuple[str, tuple[StripChoice, ...]], ...]
    """For each paper, by name, every scale."""
    path: str
    """Address of the route."""
    most_pages: int = MOST_STRIP_PAGES
    scales: tuple[tuple[str, str], ...] = tuple((scale, scale_words(int(scale))) for scale in Scale)
    papers: tuple[tuple[str, str], ...] = tuple(PAPER_WORDS.items())


def _form(question: Question) -> FormText:
    """The question as a form; papers are known by small letters."""
    return FormText({"scale": question.scale.strip(), "paper": question.paper.strip().lower()})


def _chosen(form: FormText) -> tuple[Scale, Paper]:
    """Read scale and paper, both problems at once."""
    reader = FormReader(form)
    scale, paper = reader.required_choice("scale", "Scale", Scale), reader.required_choice("paper", "Paper", Paper)
    try:
        reader.finish()
    except InputProblem as refused:
        words = " ".join(problem.message for problem in refused.problems)
        raise InputProblem(words, code="form", problems=refused.problems) from None
    return scale, paper


def _choice(planned: PlannedRoute, scale: Scale, paper: Paper) -> StripChoice:
    pages = strip_pages(planned, int(scale), paper.value)
    name = f"{scale_words(int(scale))} on {PAPER_WORDS[paper]}"
    return StripChoice(paper=paper, scale=scale, pages=pages, too_many=pages > MOST_STRIP_PAGES, name=name)


def strip_router() -> APIRouter:
    """The chart strip of a route."""
    router = APIRouter(prefix="/regions/{slug}/routes/{number}")

    @router.get("/strip")
    def strip(desk: AtDesk, slug: str, number: Number, question: Annotated[Question, Query()]):
        planned = planned_of(desk, slug, number)
        form, chosen = _form(question), None
        try:
            chosen = _choice(planned, *_chosen(form))
        except InputProblem as problem:
            form = form.with_problems(problem)
        page = StripPage(
            title=f"Chart strip: {planned.log.route.name}",
            section="routes",
            region=planned.region,
            form=form,
            chosen=chosen,
            rows=tuple((PAPER_WORDS[paper], tuple(_choice(planned, scale, paper) for scale in Scale)) for paper in Paper),
            path=f"/regions/{planned.region.slug}/routes/{number}",
        )
        return desk.pages.show(page, status=422 if form.problems else 200)

    @router.get("/strip.pdf")
    def pdf(desk: AtDesk, slug: str, number: Number, question: Annotated[Question, Query()]):
        scale, paper = _chosen(_form(question))
        content = strip_of(planned_of(desk, slug, number), int(scale), paper.value)
        name = f"strip-{number}-{scale}-{paper}.pdf"
        headers = {"Cache-Control": "no-store", "Content-Disposition": f'inline; filename="{name}"'}
        return Response(content, media_type="application/pdf", headers=headers)

    return router
