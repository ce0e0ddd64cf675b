"""Where a region's beacons make a fix: a chart, the shares, and GeoJSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter
from fastapi.responses import Response

from server.errors import InputProblem
from server.persistence import RegionRecord
from server.planning import region_book
from server.planning.coverage import RegionFixes, region_fixes, tables_missing
from server.sheets import figures, fix_chart_svg, fixes_geojson, shares_in_words
from server.web.coverage_pages import USUAL_ALTITUDE_FT, Above, QueryText
from server.web.desk import AtDesk, Desk
from server.web.forms import FormReader, FormText
from server.web.pages import Page

MADE_ON_THE_WAY = 30
"""So many crest tables a page may make while somebody waits for it: about 3 seconds."""


@dataclass(frozen=True, kw_only=True)
class FixesPage(Page):
    template: ClassVar[str] = "fixes_page.html"
    form: FormText
    """The height asked for."""
    chart: str
    """The chart as SVG; empty where there is none (yet)."""
    height: str
    """The height in words; empty where there is no chart."""
    shares: tuple[tuple[str, str], ...]
    """Each class in words with its share of the area."""
    asked: int
    """How many beacons were asked."""
    missing: int
    """How many crest tables are being made first; 0 where the chart is there or cannot be drawn."""
    query: str
    """The question, as the end of an address."""
    path: str
    """Address of this page."""
    aboves: tuple[tuple[str, str], ...] = ((Above.SEA, "sea level"), (Above.GROUND, "the ground"))


def _question(form: FormText) -> tuple[float, Above]:
    reader = FormReader(form)
    altitude_ft = reader.required_number("altitude_ft", "Height", unit="ft")
    above = reader.required_choice("above", "Above", Above)
    reader.finish()
    return altitude_ft, above


def _found(desk: Desk, slug: str, form: FormText) -> RegionFixes:
    altitude_ft, above = _question(form)
    return region_fixes(
        desk.library, desk.terrain_store, slug, altitude_ft=altitude_ft, above_ground=above is Above.GROUND, clock=desk.clock
    )


def _page(region: RegionRecord, form: FormText, *, found: RegionFixes | None = None, missing: int = 0) -> FixesPage:
    height = found.cover.height if found else None
    return FixesPage(
        title="Where beacons make a fix",
        section="beacons",
        region=region,
        form=form,
        chart=fix_chart_svg(found) if found else "",
        height=f"{figures.altitude(height.feet)} above {'the ground' if height.above_ground else 'sea level'}" if height else "",
        shares=shares_in_words(found) if found else (),
        asked=len(found.beacons) if found else 0,
        missing=missing,
        query=f"altitude_ft={height.feet:g}&above={form.text('above')}" if height else "",
        path=f"/regions/{region.slug}/fixes",
    )


def fixes_router() -> APIRouter:
    """Where beacons make a fix."""
    router = APIRouter(prefix="/regions/{slug}")

    @router.get("/fixes")
    def fixes(desk: AtDesk, slug: str, altitude_ft: QueryText = USUAL_ALTITUDE_FT, above: QueryText = Above.SEA):
        region, form = region_book.find_region(desk.library, slug), FormText({"altitude_ft": altitude_ft, "above": above})
        try:
            _question(form)
            missing = tables_missing(desk.library, desk.terrain_store, slug)
            if missing > MADE_ON_THE_WAY:
                return desk.pages.show(_page(region, form, missing=missing))
            return desk.pages.show(_page(region, form, found=_found(desk, slug, form)))
        except InputProblem as problem:
            return desk.pages.show(_page(region, form.with_problems(problem)), status=422)

    @router.get("/fixes.geojson")
    def geojson(desk: AtDesk, slug: str, altitude_ft: QueryText = USUAL_ALTITUDE_FT, above: QueryText = Above.SEA):
        found = _found(desk, slug, FormText({"altitude_ft": altitude_ft, "above": above}))
        return Response(fixes_geojson(found), media_type="application/geo+json", headers={"Cache-Control": "no-store"})

    return router
