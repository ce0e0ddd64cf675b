"""The pages of the three shelves of a region: list, card, add, change, remove. Beacons, airfields and checkpoints walk the same way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query

from server.errors import InputProblem
from server.navigation import Airfield, Checkpoint, Route, morse_timing, variation
from server.persistence import RegionRecord
from server.planning import region_book, second_look
from server.planning.region_findings import subject_of
from server.planning.route_users import routes_that_use
from server.radio import Beacon, BeaconKind
from server.sheets import words
from server.web import place_forms
from server.web.beacon_form import beacon_form, read_beacon
from server.web.desk import AtDesk, Desk, Number, TypedForm
from server.web.forms import FormText
from server.web.pages import Page, see_other
from server.web.shelf_contexts import (
    AirfieldCard,
    AirfieldFormPage,
    AirfieldList,
    BeaconCard,
    BeaconFormPage,
    BeaconList,
    CheckpointCard,
    CheckpointFormPage,
    CheckpointList,
    FormPage,
    RemovePage,
)

IDENT_WORDS_PER_MINUTE = 7.0
"""The speed of a VOR's ident: about 7 words a minute, ICAO Annex 10 volume I, 3.3.6.5 (from memory)."""


@dataclass(frozen=True, kw_only=True)
class ShelfWays:
    """What differs between the shelves: forms, cards and names."""

    shelf: region_book.Shelf
    form_page: type[FormPage]
    read: Callable[..., Any]
    """From a form to a value."""
    write: Callable[[Any], FormText]
    """From a value to a form."""
    card: Callable[[Desk, RegionRecord, Any, str], Page]

    @property
    def one(self) -> str:
        return region_book.ONE[self.shelf]


def named(thing: Beacon | Airfield | Checkpoint) -> str:
    """Name a thing by ident and name."""
    return " ".join(part for part in (getattr(thing, "ident", ""), thing.name) if part)


def routes_using(desk: Desk, region: RegionRecord, thing: Beacon | Airfield | Checkpoint) -> tuple[Route, ...]:
    """The routes that a change of this thing reaches."""
    return routes_that_use(desk.library, region).get((subject_of(thing).kind, thing.id or 0), ())


def beacon_card(desk: Desk, region: RegionRecord, beacon: Beacon, path: str) -> Page:
    """Fill the card of a beacon."""
    today = desk.clock().date()
    return BeaconCard(
        title=f"{named(beacon)} {beacon.kind}",
        section="beacons",
        region=region,
        beacon=beacon,
        variation_deg=variation(beacon.position, today).deg,
        today=today.isoformat(),
        doubts=second_look.doubts_about_beacon(desk.library, region, beacon, on=today),
        letters=tuple((letter, words.morse_marks(letter)) for letter in beacon.ident),
        signals=_signals(beacon.ident),
        path=path,
        routes=routes_using(desk, region, beacon),
    )


def _signals(ident: str) -> str:
    """The Morse ident in milliseconds, at the speed of stations; nothing for a character without Morse."""
    try:
        timing = morse_timing(ident, IDENT_WORDS_PER_MINUTE)
    except InputProblem:
        return ""
    return "; ".join(f"{start_s * 1000.0:.1f} {length_s * 1000.0:.1f}" for start_s, length_s in timing)


def airfield_card(desk: Desk, region: RegionRecord, airfield: Airfield, path: str) -> Page:
    """Fill the card of an airfield."""
    return AirfieldCard(
        title=named(airfield),
        section="airfields",
        region=region,
        airfield=airfield,
        variation_deg=variation(airfield.position, desk.clock().date()).deg,
        doubts=second_look.doubts_about_place(region, airfield.position),
        path=path,
        routes=routes_using(desk, region, airfield),
    )


def checkpoint_card(desk: Desk, region: RegionRecord, checkpoint: Checkpoint, path: str) -> Page:
    """Fill the card of a checkpoint."""
    return CheckpointCard(
        title=checkpoint.name,
        section="checkpoints",
        region=region,
        checkpoint=checkpoint,
        doubts=second_look.doubts_about_place(region, checkpoint.position),
        path=path,
        routes=routes_using(desk, region, checkpoint),
    )


BEACONS = ShelfWays(shelf="beacons", form_page=BeaconFormPage, read=read_beacon, write=beacon_form, card=beacon_card)
AIRFIELDS = ShelfWays(
    shelf="airfields",
    form_page=AirfieldFormPage,
    read=place_forms.read_airfield,
    write=place_forms.airfield_form,
    card=airfield_card,
)
CHECKPOINTS = ShelfWays(
    shelf="checkpoints",
    form_page=CheckpointFormPage,
    read=place_forms.read_checkpoint,
    write=place_forms.checkpoint_form,
    card=checkpoint_card,
)

SearchText = Annotated[str, Query(max_length=80)]
PlaceText = Annotated[str, Query(max_length=30)]
PageNumber = Annotated[int, Query(ge=1, le=100_000)]


def list_router() -> APIRouter:
    """The lists of the three shelves."""
    router = APIRouter()

    @router.get("/regions/{slug}/beacons")
    def beacons(desk: AtDesk, slug: str, search: SearchText = "", kind: SearchText = "", page: PageNumber = 1):
        chosen = next((one for one in BeaconKind if one == kind), None)
        found = region_book.browse(desk.library, slug, "beacons", search=search, kind=chosen, page=page)
        path = f"/regions/{found.region.slug}/beacons"
        kind = "" if chosen is None else chosen.value
        return desk.pages.show(
            BeaconList(title="Beacons", section="beacons", region=found.region, browse=found, search=search, path=path, kind=kind)
        )

    @router.get("/regions/{slug}/airfields")
    def airfields(desk: AtDesk, slug: str, search: SearchText = "", page: PageNumber = 1):
        found = region_book.browse(desk.library, slug, "airfields", search=search, page=page)
        path = f"/regions/{found.region.slug}/airfields"
        return desk.pages.show(
            AirfieldList(title="Airfields", section="airfields", region=found.region, browse=found, search=search, path=path)
        )

    @router.get("/regions/{slug}/checkpoints")
    def checkpoints(desk: AtDesk, slug: str, search: SearchText = "", page: PageNumber = 1):
        found = region_book.browse(desk.library, slug, "checkpoints", search=search, page=page)
        path = f"/regions/{found.region.slug}/checkpoints"
        return desk.pages.show(
            CheckpointList(title="Checkpoints", section="checkpoints", region=found.region, browse=found, search=search, path=path)
        )

    return router


def shelf_router(ways: ShelfWays) -> APIRouter:
    """Card, add, change and remove of one shelf."""
    router = APIRouter(prefix=f"/regions/{{slug}}/{ways.shelf}")

    def form_page(region: RegionRecord, form: FormText, number: int | None, *, name: str = "") -> FormPage:
        home = f"/regions/{region.slug}/{ways.shelf}"
        title = f"New {ways.one}" if number is None else f"Change {name}"
        action = f"{home}/new" if number is None else f"{home}/{number}/edit"
        back = home if number is None else f"{home}/{number}"
        return ways.form_page(title=title, section=ways.shelf, region=region, form=form, action=action, back=back)

    @router.get("/new")
    def blank(desk: AtDesk, slug: str, lat: PlaceText = "", lon: PlaceText = "", elevation_ft: PlaceText = ""):
        """Empty but for the place, where the chart of the workshop gives one."""
        region = region_book.find_region(desk.library, slug)
        begun = {"lat": lat, "lon": lon, "elevation_ft": elevation_ft} if lat or lon else {}
        return desk.pages.show(form_page(region, FormText(begun), None))

    @router.post("/new")
    def add(desk: AtDesk, slug: str, form: TypedForm):
        region = region_book.find_region(desk.library, slug)
        try:
            thing = region_book.add(desk.library, ways.shelf, ways.read(form, region_id=region.id))
        except InputProblem as problem:
            return desk.pages.show(form_page(region, form.with_problems(problem), None), status=422)
        return see_other(f"/regions/{region.slug}/{ways.shelf}/{thing.id}")

    @router.get("/{number}")
    def card(desk: AtDesk, slug: str, number: Number):
        region, thing = region_book.find(desk.library, slug, ways.shelf, number)
        return desk.pages.show(ways.card(desk, region, thing, f"/regions/{region.slug}/{ways.shelf}/{number}"))

    @router.get("/{number}/edit")
    def edit(desk: AtDesk, slug: str, number: Number):
        region, thing = region_book.find(desk.library, slug, ways.shelf, number)
        return desk.pages.show(form_page(region, ways.write(thing), number, name=named(thing)))

    @router.post("/{number}/edit")
    def change(desk: AtDesk, slug: str, number: Number, form: TypedForm):
        region, thing = region_book.find(desk.library, slug, ways.shelf, number)
        try:
            region_book.change(desk.library, ways.shelf, ways.read(form, region_id=region.id, number=number))
        except InputProblem as problem:
            return desk.pages.show(form_page(region, form.with_problems(problem), number, name=named(thing)), status=422)
        return see_other(f"/regions/{region.slug}/{ways.shelf}/{number}")

    @router.get("/{number}/remove")
    def ask(desk: AtDesk, slug: str, number: Number):
        region, thing = region_book.find(desk.library, slug, ways.shelf, number)
        path = f"/regions/{region.slug}/{ways.shelf}/{number}"
        what = f"the {ways.one} {named(thing)}"
        return desk.pages.show(
            RemovePage(title=f"Remove {named(thing)}?", section=ways.shelf, region=region, what=what, action=f"{path}/remove", back=path)
        )

    @router.post("/{number}/remove")
    def remove(desk: AtDesk, slug: str, number: Number):
        region_book.remove(desk.library, slug, ways.shelf, number)
        return see_other(f"/regions/{slug}/{ways.shelf}")

    return router
