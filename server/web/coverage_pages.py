"""Reception without a route: where one beacon is received, as a chart and as GeoJSON, and what is heard at one place."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from server.errors import InputProblem, OutOfRange
from server.navigation import Position, parse_position
from server.planning import region_book
from server.planning.coverage import BeaconCoverage, HeardHere, beacon_coverage, heard_here
from server.radio import Beacon
from server.sheets import coverage_chart_svg, coverage_geojson, height_in_words
from server.web.desk import AtDesk, Desk, Number
from server.web.forms import FormReader, FormText
from server.web.heard_rows import HeardRow, heard_rows
from server.web.pages import Page
from server.web.shelf_pages import named

USUAL_ALTITUDE_FT = "6500"
"""What the form of a coverage starts with: the height of many cross-country flights."""


class Above(StrEnum):
    SEA = "sea"
    GROUND = "ground"


@dataclass(frozen=True, kw_only=True)
class CoveragePage(Page):
    template: ClassVar[str] = "coverage_page.html"
    form: FormText
    """The height asked for."""
    beacon: Beacon
    chart: str
    """The chart as SVG; empty where the height cannot be used."""
    height: str
    """The height in words; empty where it cannot be used."""
    query: str
    """The question, as the end of an address."""
    path: str
    """Address of the beacon's card."""
    aboves: tuple[tuple[str, str], ...] = ((Above.SEA, "sea level"), (Above.GROUND, "the ground"))


@dataclass(frozen=True, kw_only=True)
class HeardPage(Page):
    template: ClassVar[str] = "heard_page.html"
    form: FormText
    """The place and altitude asked for."""
    heard: HeardHere | None
    """The place and what is asked there; None before a place is asked for, or where it cannot be used."""
    rows: tuple[HeardRow, ...]
    """Every part within range of anything, best first."""
    path: str
    """Address of this page."""


QueryText = Annotated[str, Query(max_length=80)]


def _question(form: FormText) -> tuple[float, Above]:
    reader = FormReader(form)
    altitude_ft = reader.required_number("altitude_ft", "Height", unit="ft")
    above = reader.required_choice("above", "Above", Above)
    reader.finish()
    return altitude_ft, above


def _covered(desk: Desk, slug: str, number: int, form: FormText) -> BeaconCoverage:
    altitude_ft, above = _question(form)
    return beacon_coverage(
        desk.library,
        desk.terrain_store,
        slug,
        number,
        altitude_ft=altitude_ft,
        above_ground=above is Above.GROUND,
        clock=desk.clock,
    )


def _place(form: FormText) -> tuple[Position, float]:
    """Read a place and an altitude, all problems at once."""
    reader = FormReader(form)
    position = Position(lat_deg=0.0, lon_deg=0.0)
    try:
        position = parse_position(form.text("position"))
    except InputProblem as problem:
        reader.refuse("position", f"Position: {problem.message}")
    altitude_ft = reader.required_number("altitude_ft", "Altitude", unit="ft")
    reader.finish()
    return position, altitude_ft


def coverage_router() -> APIRouter:
    """Coverage of a beacon, and what is heard at a place."""
    router = APIRouter(prefix="/regions/{slug}")

    @router.get("/beacons/{number}/coverage")
    def coverage(desk: AtDesk, slug: str, number: Number, altitude_ft: QueryText = USUAL_ALTITUDE_FT, above: QueryText = Above.SEA):
        region, beacon = region_book.find(desk.library, slug, "beacons", number)
        form, found = FormText({"altitude_ft": altitude_ft, "above": above}), None
        try:
            found = _covered(desk, slug, number, form)
        except (InputProblem, OutOfRange) as problem:
            form = form.with_problems(problem)
        page = CoveragePage(
            title=f"Where {named(beacon)} is received",
            section="beacons",
            region=region,
            form=form,
            beacon=beacon,
            chart="" if found is None else coverage_chart_svg(found),
            height="" if found is None else height_in_words(found.coverage),
            query="" if found is None else f"altitude_ft={found.coverage.height.feet:g}&above={above}",
            path=f"/regions/{region.slug}/beacons/{number}",
        )
        return desk.pages.show(page, status=422 if found is None else 200)

    @router.get("/beacons/{number}/coverage.geojson")
    def geojson(desk: AtDesk, slug: str, number: Number, altitude_ft: QueryText = USUAL_ALTITUDE_FT, above: QueryText = Above.SEA):
        found = _covered(desk, slug, number, FormText({"altitude_ft": altitude_ft, "above": above}))
        return Response(coverage_geojson(found), media_type="application/geo+json", headers={"Cache-Control": "no-store"})

    @router.get("/heard")
    def heard(desk: AtDesk, request: Request, slug: str, position: QueryText = "", altitude_ft: QueryText = USUAL_ALTITUDE_FT):
        region = region_book.find_region(desk.library, slug)
        form, found = FormText({"position": position, "altitude_ft": altitude_ft}), None
        if request.query_params:
            try:
                place, feet = _place(form)
                found = heard_here(desk.library, desk.terrain_store, slug, place, feet, clock=desk.clock)
            except InputProblem as problem:
                form = form.with_problems(problem)
        page = HeardPage(
            title="What is heard here",
            section="beacons",
            region=region,
            form=form,
            heard=found,
            rows=heard_rows(found) if found is not None else (),
            path=f"/regions/{region.slug}/heard",
        )
        return desk.pages.show(page, status=422 if form.problems else 200)

    return router
