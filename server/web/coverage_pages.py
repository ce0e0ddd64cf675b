"""Reception without a route: where one beacon is received, as charts and as GeoJSON, and what is heard at one place."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from server.errors import InputProblem, OutOfRange
from server.navigation import Position, parse_position
from server.persistence import RegionRecord
from server.planning import region_book
from server.planning.coverage import BeaconCoverage, beacon_coverage
from server.planning.probe import probe
from server.planning.route_shelf import route_choices
from server.radio import Beacon, ComponentKind
from server.sheets import coverage_chart_svg, coverage_geojson, height_in_words, limits_geojson, lowest_chart_svg, lowest_geojson
from server.web.desk import AtDesk, Desk, Number
from server.web.forms import FormReader, FormText
from server.web.pages import Page
from server.web.probe_card import probe_card
from server.web.shelf_pages import named

USUAL_ALTITUDE_FT = "6500"
"""What the form of a coverage starts with: the height of many cross-country flights."""


class Above(StrEnum):
    SEA = "sea"
    GROUND = "ground"


class Show(StrEnum):
    """What a coverage is drawn as."""

    AREAS = "areas"
    LOWEST = "lowest"


PART_CHOICES = (
    (ComponentKind.AZIMUTH, "radials (VOR or TACAN)"),
    (ComponentKind.DISTANCE, "distance (DME)"),
    (ComponentKind.BEARING, "bearing (NDB)"),
)

DRAWINGS = {Show.AREAS: (coverage_chart_svg, coverage_geojson), Show.LOWEST: (lowest_chart_svg, lowest_geojson)}


@dataclass(frozen=True, kw_only=True)
class CoveragePage(Page):
    template: ClassVar[str] = "coverage_page.html"
    form: FormText
    """The height, the part and the chart asked for."""
    beacon: Beacon
    parts: tuple[tuple[str, str], ...]
    """The parts the beacon has, to choose from."""
    part: str
    """The part that is drawn, in the words of the choice; empty where none is."""
    chart: str
    """The chart as SVG; empty where the height cannot be used."""
    height: str
    """The height in words; empty where it cannot be used."""
    show: str
    """Which chart it is."""
    query: str
    """The question, as the end of an address."""
    path: str
    """Address of the beacon's card."""
    aboves: tuple[tuple[str, str], ...] = ((Above.SEA, "sea level"), (Above.GROUND, "the ground"))
    shows: tuple[tuple[str, str], ...] = (
        (Show.AREAS, "where it is received at the height"),
        (Show.LOWEST, "from which altitude it is received"),
    )


@dataclass(frozen=True, kw_only=True)
class HeardPage(Page):
    template: ClassVar[str] = "heard_page.html"
    form: FormText
    """The place and altitude asked for."""
    card: str
    """What is known at the place, as HTML; empty before one is asked for, or where it cannot be used."""
    path: str
    """Address of this page."""


QueryText = Annotated[str, Query(max_length=80)]


class Question(BaseModel):
    """What the address of a coverage asks; texts, for the form to tell what is wrong with them."""

    altitude_ft: Annotated[str, Field(max_length=80)] = USUAL_ALTITUDE_FT
    above: Annotated[str, Field(max_length=80)] = Above.SEA
    part: Annotated[str, Field(max_length=80)] = ""
    show: Annotated[str, Field(max_length=80)] = Show.AREAS


@dataclass(frozen=True, kw_only=True)
class Answered:
    """A coverage, and what it was asked to be drawn as."""

    found: BeaconCoverage
    above: Above
    show: Show

    @property
    def query(self) -> str:
        """The same question as the end of an address."""
        coverage = self.found.coverage
        return urlencode({"altitude_ft": f"{coverage.height.feet:g}", "above": self.above, "part": coverage.component, "show": self.show})


def _answer(desk: Desk, slug: str, number: int, form: FormText) -> Answered:
    """Read the question of a coverage and answer it. Raise InputProblem with everything that is wrong in it."""
    reader = FormReader(form)
    altitude_ft = reader.required_number("altitude_ft", "Height", unit="ft")
    above = reader.required_choice("above", "Above", Above)
    part = reader.required_choice("part", "Part", ComponentKind) if form.text("part") else None
    show = reader.required_choice("show", "Chart", Show)
    reader.finish()
    found = beacon_coverage(
        desk.library,
        desk.terrain_store,
        slug,
        number,
        altitude_ft=altitude_ft,
        above_ground=above is Above.GROUND,
        component=part,
        clock=desk.clock,
    )
    return Answered(found=found, above=above, show=show)


def _coverage_page(region: RegionRecord, beacon: Beacon, form: FormText, answered: Answered | None) -> CoveragePage:
    coverage = answered.found.coverage if answered else None
    words = dict(PART_CHOICES)
    return CoveragePage(
        title=f"Where {named(beacon)} is received",
        section="beacons",
        region=region,
        form=form,
        beacon=beacon,
        parts=tuple((part.kind, words[part.kind]) for part in beacon.components),
        part=words[coverage.component] if coverage else "",
        chart=DRAWINGS[answered.show][0](answered.found) if answered else "",
        height=height_in_words(coverage) if coverage else "",
        show=answered.show if answered else "",
        query=answered.query if answered else "",
        path=f"/regions/{region.slug}/beacons/{beacon.id}",
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
    def coverage(desk: AtDesk, slug: str, number: Number, question: Annotated[Question, Query()]):
        region, beacon = region_book.find(desk.library, slug, "beacons", number)
        form, answered = FormText(question.model_dump()), None
        try:
            answered = _answer(desk, slug, number, form)
            form = FormText({**form.fields, "part": answered.found.coverage.component})
        except (InputProblem, OutOfRange) as problem:
            form = form.with_problems(problem)
        return desk.pages.show(_coverage_page(region, beacon, form, answered), status=200 if answered else 422)

    @router.get("/beacons/{number}/coverage.geojson")
    def geojson(desk: AtDesk, slug: str, number: Number, question: Annotated[Question, Query()]):
        answered = _answer(desk, slug, number, FormText(question.model_dump()))
        return Response(
            DRAWINGS[answered.show][1](answered.found), media_type="application/geo+json", headers={"Cache-Control": "no-store"}
        )

    @router.get("/beacons/{number}/limits.geojson")
    def limits(desk: AtDesk, slug: str, number: Number, question: Annotated[Question, Query()]):
        answered = _answer(desk, slug, number, FormText({**question.model_dump(), "above": Above.SEA}))
        others = route_choices(desk.library, slug).beacons
        told = limits_geojson(answered.found, others)
        return Response(told, media_type="application/geo+json", headers={"Cache-Control": "no-store"})

    @router.get("/heard")
    def heard(desk: AtDesk, request: Request, slug: str, position: QueryText = "", altitude_ft: QueryText = USUAL_ALTITUDE_FT):
        region = region_book.find_region(desk.library, slug)
        form, found = FormText({"position": position, "altitude_ft": altitude_ft}), None
        if request.query_params:
            try:
                place, feet = _place(form)
                found = probe(desk.library, desk.terrain_store, slug, position=place, altitude_ft=feet, clock=desk.clock)
            except InputProblem as problem:
                form = form.with_problems(problem)
        page = HeardPage(
            title="What is heard here",
            section="beacons",
            region=region,
            form=form,
            card=desk.pages.write(probe_card(found, slug=region.slug)) if found is not None else "",
            path=f"/regions/{region.slug}/heard",
        )
        return desk.pages.show(page, status=422 if form.problems else 200)

    return router
