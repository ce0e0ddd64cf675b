"""The region workshop: its page, a beacon tried at another place, places moved, sectors forbidden."""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import Field

from server.errors import Conflict, InputProblem, NotFound, OutOfRange
from server.navigation import Position
from server.persistence import RegionRecord
from server.planning import region_book
from server.planning.workshop import Moved, forbid_sector, lift_sector, move_place, try_beacon_at
from server.radio import Beacon, ComponentKind, UnusableSector
from server.sheets import coverage_geojson, figures, sector_geojson, sector_in_words
from server.web.coverage_pages import USUAL_ALTITUDE_FT
from server.web.desk import AtDesk, Number
from server.web.pages import Page
from server.web.script_answers import Sent, refusal, values

REFUSALS = (InputProblem, OutOfRange, NotFound, Conflict)


class ShelfName(StrEnum):
    BEACONS = "beacons"
    AIRFIELDS = "airfields"
    CHECKPOINTS = "checkpoints"


@dataclass(frozen=True, kw_only=True)
class WorkshopPage(Page):
    template: ClassVar[str] = "workshop_page.html"
    told: str
    """What the scripts begin with, as JSON."""
    altitude: str
    """The altitude at which coverage is shown first. [ft]"""


Latitude = Annotated[float, Field(ge=-90.0, le=90.0)]
Longitude = Annotated[float, Field(ge=-180.0, le=180.0)]
Radial = Annotated[float, Field(ge=0.0, le=360.0)]
Miles = Annotated[float, Field(ge=0.0, le=300.0)]


class Place(Sent):
    """Where something is put. [deg]"""

    lat: Latitude
    lon: Longitude
    take_ground: bool = False
    """Whether its elevation becomes that of the ground there."""

    @property
    def position(self) -> Position:
        return Position(lat_deg=self.lat, lon_deg=self.lon)


class TriedPlace(Place):
    altitude_ft: float


class Sector(Sent):
    """An unusable sector as it was drawn: clockwise radials as the station reads them [deg], distances [NM], altitude [ft]."""

    part: ComponentKind
    from_radial_deg: Radial
    to_radial_deg: Radial
    beyond_nm: Miles | None = None
    within_nm: Miles | None = None
    below_altitude_ft: Annotated[float, Field(ge=-1_500, le=60_000)] | None = None
    source: Annotated[str, Field(max_length=200)] = ""

    def sector(self) -> UnusableSector:
        return UnusableSector(**self.model_dump(exclude={"part"}))


class Lifted(Sent):
    """Which sector is taken back: its part, its place in that part's list when it was seen, and its words, by which it is known."""

    part: ComponentKind
    index: Annotated[int, Field(ge=0, le=1_000)]
    words: Annotated[str, Field(max_length=500)]


def _told(moved: Moved, region: RegionRecord) -> dict[str, Any]:
    home = f"/regions/{region.slug}/routes"
    return {
        "away": figures.distance_nm(moved.distance_nm),
        "ground": figures.elevation(moved.ground_ft),
        "elevation": figures.elevation(getattr(moved.thing, "elevation_ft", None)),
        "position": figures.position(moved.thing.position),
        "routes": [{"name": route.name, "path": f"{home}/{route.id}"} for route in moved.routes],
    }


def _sector_words(kind: ComponentKind, sector: UnusableSector) -> str:
    return f"{kind.value}: {sector_in_words(sector)}"


def _sectors(beacon: Beacon) -> list[dict[str, Any]]:
    """The unusable sectors of a beacon, in words, each with what takes it back."""
    return [
        {"part": part.kind.value, "index": index, "words": _sector_words(part.kind, sector)}
        for part in beacon.components
        for index, sector in enumerate(part.unusable)
    ]


def workshop_router() -> APIRouter:
    """All of the workshop."""
    router = APIRouter(prefix="/regions/{slug}/workshop")

    @router.get("")
    def show(desk: AtDesk, slug: str):
        region = region_book.find_region(desk.library, slug)
        home = f"/regions/{region.slug}"
        told = {"home": home, "chart": f"{home}/desk/chart?on={desk.clock().date().isoformat()}"}
        page = WorkshopPage(
            title="Region workshop",
            section="workshop",
            region=region,
            told=json.dumps(told).replace("<", "\\u003c"),
            altitude=USUAL_ALTITUDE_FT,
        )
        return desk.pages.show(page)

    @router.post("/beacons/{number}/try")
    def try_beacon(desk: AtDesk, slug: str, number: Number, place: TriedPlace):
        try:
            found, moved = try_beacon_at(
                desk.library,
                desk.terrain_store,
                slug,
                number,
                place.position,
                altitude_ft=place.altitude_ft,
                take_ground=place.take_ground,
                clock=desk.clock,
            )
        except REFUSALS as error:
            return refusal(error)
        told = _told(moved, found.region) | {"areas": json.loads(coverage_geojson(found)), "sectors": _sectors(moved.thing)}
        return values(told)

    @router.post("/{shelf}/{number}/move")
    def move(desk: AtDesk, slug: str, shelf: ShelfName, number: Number, place: Place):
        try:
            moved = move_place(desk.library, desk.terrain_store, slug, shelf.value, number, place.position, take_ground=place.take_ground)
        except REFUSALS as error:
            return refusal(error)
        return values(_told(moved, region_book.find_region(desk.library, slug)))

    @router.get("/beacons/{number}/sector.geojson")
    def sector(desk: AtDesk, slug: str, number: Number, asked: Annotated[Sector, Query()]):
        _, beacon = region_book.find(desk.library, slug, "beacons", number)
        told = sector_geojson(beacon, asked.part, asked.sector(), on=desk.clock().date())
        return Response(told, media_type="application/geo+json", headers={"Cache-Control": "no-store"})

    @router.post("/beacons/{number}/sector")
    def forbid(desk: AtDesk, slug: str, number: Number, asked: Sector):
        try:
            forbid_sector(desk.library, slug, number, asked.part, asked.sector())
        except REFUSALS as error:
            return refusal(error)
        return values({"kept": True})

    @router.post("/beacons/{number}/sector/lift")
    def lift(desk: AtDesk, slug: str, number: Number, asked: Lifted):
        try:
            lift_sector(
                desk.library,
                slug,
                number,
                asked.part,
                index=asked.index,
                is_meant=lambda sector: _sector_words(asked.part, sector) == asked.words,
            )
        except REFUSALS as error:
            return refusal(error)
        return values({"lifted": True})

    return router
