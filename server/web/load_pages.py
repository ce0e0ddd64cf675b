"""Loading a table: choose a file, see what it would change, then decide. The upload waits between the two steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import ClassVar

from fastapi import APIRouter

from server.errors import InputProblem
from server.persistence import RegionRecord
from server.planning import region_book
from server.planning.load import load_airfields, load_beacons, load_checkpoints
from server.planning.load_report import LoadReport
from server.web.desk import AtDesk, TypedForm, UploadedFile
from server.web.forms import FormReader, FormText
from server.web.pages import Page

LONGEST_NAME = 120
SHOWN_ROWS = 200
"""The page shows so many of each list; the counts are always whole."""


class TableOf(StrEnum):
    BEACONS = "beacons"
    AIRFIELDS = "airfields"
    CHECKPOINTS = "checkpoints"


LOADERS: dict[TableOf, Callable[..., LoadReport]] = {
    TableOf.BEACONS: load_beacons,
    TableOf.AIRFIELDS: load_airfields,
    TableOf.CHECKPOINTS: load_checkpoints,
}


@dataclass(frozen=True, kw_only=True)
class LoadPage(Page):
    template: ClassVar[str] = "load_page.html"
    form: FormText
    action: str
    """Where the file is sent."""
    tables: tuple[TableOf, ...] = tuple(TableOf)


@dataclass(frozen=True, kw_only=True)
class LoadReportPage(Page):
    template: ClassVar[str] = "load_report.html"
    report: LoadReport
    what: TableOf
    token: str
    """Under which the upload waits; empty once it has been loaded."""
    accept_shrink: bool
    action: str
    """Where the decision is sent."""
    shown: int = SHOWN_ROWS


def _form_page(region: RegionRecord, form: FormText) -> LoadPage:
    return LoadPage(title="Load a table", section="load", region=region, form=form, action=f"/regions/{region.slug}/load")


def _report_page(region: RegionRecord, report: LoadReport, form: FormText, token: str) -> LoadReportPage:
    what = TableOf(form.text("what"))
    title = f"What loading these {what} would change" if report.dry_run else f"Loaded: {what}"
    return LoadReportPage(
        title=title,
        section="load",
        region=region,
        report=report,
        what=what,
        token=token,
        accept_shrink=bool(form.text("accept_shrink")),
        action=f"/regions/{region.slug}/load/confirm",
    )


def _load(desk, region: RegionRecord, form: FormText, content: bytes, *, name: str, dry_run: bool) -> LoadReport:
    reader = FormReader(form)
    what = reader.required_choice("what", "What is in the table", TableOf)
    if not content:
        reader.refuse("table", "Table: please choose a file that is not empty.")
    reader.finish()
    return LOADERS[what](
        desk.library,
        region_id=region.id,
        content=content,
        source_name=name[:LONGEST_NAME] or "the table",
        dry_run=dry_run,
        accept_shrink=reader.checked("accept_shrink"),
    )


def _beside_the_file(problem: InputProblem) -> InputProblem:
    """What the loaders refuse speaks of the file: show it beside the file field."""
    fields = ("what", "table")
    placed = tuple(one if one.place in fields else replace(one, place="table") for one in problem.problems)
    return InputProblem(problem.message, code=problem.code, problems=placed)


def load_router() -> APIRouter:
    """The two steps of a load."""
    router = APIRouter(prefix="/regions/{slug}/load")

    @router.get("")
    def choose(desk: AtDesk, slug: str):
        return desk.pages.show(_form_page(region_book.find_region(desk.library, slug), FormText()))

    @router.post("")
    def try_out(desk: AtDesk, slug: str, upload: UploadedFile):
        region = region_book.find_region(desk.library, slug)
        try:
            report = _load(desk, region, upload.form, upload.content, name=upload.name, dry_run=True)
        except InputProblem as problem:
            return desk.pages.show(_form_page(region, upload.form.with_problems(_beside_the_file(problem))), status=422)
        return desk.pages.show(_report_page(region, report, upload.form, desk.staged.keep(upload.content)))

    @router.post("/confirm")
    def confirm(desk: AtDesk, slug: str, form: TypedForm):
        region = region_book.find_region(desk.library, slug)
        content = desk.staged.content(form.text("token"))
        try:
            report = _load(desk, region, form, content, name=form.text("name"), dry_run=False)
        except InputProblem as problem:
            return desk.pages.show(_form_page(region, form.with_problems(_beside_the_file(problem))), status=422)
        desk.staged.drop(form.text("token"))
        return desk.pages.show(_report_page(region, report, form, ""))

    return router
