"""Routes out and in: the log as GPX, GeoJSON, a table and route text, and a page that brings a route in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import APIRouter
from fastapi.responses import Response

from server.errors import InputProblem
from server.persistence import RegionRecord
from server.planning import HIGHEST_PLANNED_FT, region_book, route_shelf
from server.planning.plan import LOWEST_PLANNED_FT
from server.planning.route_import import BroughtIn, bring_in
from server.sheets import figures, log_as_csv, log_as_geojson, log_as_gpx, route_as_text
from server.web.desk import AtDesk, Desk, Number, TypedForm, UploadedFile
from server.web.forms import FormReader, FormText
from server.web.pages import Page, see_other

WRITERS = {
    "log.gpx": (log_as_gpx, "application/gpx+xml"),
    "log.geojson": (log_as_geojson, "application/geo+json"),
    "log.csv": (log_as_csv, "text/csv; charset=utf-8"),
    "route.txt": (route_as_text, "text/plain; charset=utf-8"),
}


@dataclass(frozen=True, kw_only=True)
class BringInPage(Page):
    template: ClassVar[str] = "bring_in_page.html"
    form: FormText
    action: str
    """Where the file is sent."""
    rows: tuple[tuple[str, str, str, str], ...]
    """Number, name in the file, what it became, how far off; empty before a file was read."""
    told: str
    """What was read, in words."""
    token: str
    """Under which the file waits; empty before one was read."""


def _page(region: RegionRecord, form: FormText, *, found: BroughtIn | None = None, token: str = "") -> BringInPage:
    return BringInPage(
        title="Bring in a route",
        section="routes",
        region=region,
        form=form,
        action=f"/regions/{region.slug}/bring-in-route",
        rows=tuple(_row(match) for match in found.matches) if found else (),
        told=_told(found) if found else "",
        token=token,
    )


def _row(match) -> tuple[str, str, str, str]:
    off = figures.distance_nm(match.off_nm) if match.became else ""
    return (str(match.number), match.name, match.became or f"position {figures.position(match.position)}", off)


def _told(found: BroughtIn) -> str:
    shape = found.shape
    thinned = f", thinned from {shape.thinned_from} points" if shape.thinned_from is not None else ""
    return f"{shape.source.value.capitalize()} of {len(shape.points)} points{thinned}."


def _brought(desk: Desk, slug: str, form: FormText, content: bytes, name: str) -> BroughtIn:
    reader = FormReader(form)
    altitude_ft = reader.required_number(
        "altitude_ft", "Cruising altitude", unit="ft MSL", lowest=LOWEST_PLANNED_FT, highest=HIGHEST_PLANNED_FT
    )
    reader.finish()
    return bring_in(desk.library, slug, content, name=name[:80] or "The file", altitude_ft=altitude_ft)


def exchange_router() -> APIRouter:
    """Routes out and in."""
    router = APIRouter(prefix="/regions/{slug}")

    def out(ending: str):
        writer, media_type = WRITERS[ending]

        def send(desk: AtDesk, slug: str, number: Number):
            route_shelf.find_route(desk.library, slug, number)
            content = writer(desk.plans.planned(number).log)
            name = ending.replace("log", f"route-{number}").replace("route.", f"route-{number}.")
            headers = {"Cache-Control": "no-store", "Content-Disposition": f'attachment; filename="{name}"'}
            return Response(content, media_type=media_type, headers=headers)

        return send

    for ending in WRITERS:
        router.add_api_route(f"/routes/{{number}}/{ending}", out(ending), methods=["GET"])

    @router.get("/bring-in-route")
    def choose(desk: AtDesk, slug: str):
        return desk.pages.show(_page(region_book.find_region(desk.library, slug), FormText()))

    @router.post("/bring-in-route")
    def read(desk: AtDesk, slug: str, upload: UploadedFile):
        region = region_book.find_region(desk.library, slug)
        try:
            found = _brought(desk, slug, upload.form, upload.content, upload.name)
        except InputProblem as problem:
            return desk.pages.show(_page(region, upload.form.with_problems(problem)), status=422)
        form = FormText({**upload.form.fields, "name": found.route.name})
        return desk.pages.show(_page(region, form, found=found, token=desk.staged.keep(upload.content)))

    @router.post("/bring-in-route/keep")
    def keep(desk: AtDesk, slug: str, form: TypedForm):
        region = region_book.find_region(desk.library, slug)
        content = desk.staged.content(form.text("token"))
        try:
            found = _brought(desk, slug, form, content, "The file")
            name = FormReader(form).text("name", "Name", longest=80)
            route = route_shelf.add_route(desk.library, replace(found.route, name=name or found.route.name))
        except InputProblem as problem:
            return desk.pages.show(_page(region, form.with_problems(problem)), status=422)
        desk.staged.drop(form.text("token"))
        return see_other(f"/regions/{region.slug}/routes/{route.id}")

    return router
