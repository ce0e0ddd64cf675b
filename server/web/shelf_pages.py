"""The pages of the three shelves of a region: list, card, add, change, remove. Beacons, airfields and checkpoints walk the same way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Query

from server.errors import InputProblem
from server.navigation import Airfield, AlignmentKind, Checkpoint, variation
from server.persistence import RegionRecord
from server.planning import region_book
from server.radio import Beacon, BeaconKind, ComponentKind, ComponentStatus, ServiceClass
from server.web import place_forms
from server.web.beacon_form import beacon_form, doubts_about, read_beacon
from server.web.desk import AtDesk, Desk, Number, TypedForm
from server.web.forms import FormText
from server.web.pages import Page, see_other


@dataclass(frozen=True, kw_only=True)
class ListPage(Page):
    """One page of a shelf."""

    browse: region_book.Browse
    """What the page shows, and how much there is."""
    search: str
    """What was searched for."""
    path: str
    """Address of the shelf."""


@dataclass(frozen=True, kw_only=True)
class BeaconList(ListPage):
    template: ClassVar[str] = "beacon_list.html"
    kind: str
    """The kind the list is narrowed to, or empty."""
    kinds: tuple[BeaconKind, ...] = tuple(BeaconKind)
    """All kinds, for the filter."""


@dataclass(frozen=True, kw_only=True)
class AirfieldList(ListPage):
    template: ClassVar[str] = "airfield_list.html"


@dataclass(frozen=True, kw_only=True)
class CheckpointList(ListPage):
    template: ClassVar[str] = "checkpoint_list.html"


@dataclass(frozen=True, kw_only=True)
class BeaconCard(Page):
    template: ClassVar[str] = "beacon_card.html"
    beacon: Beacon
    variation_deg: float
    """Local variation at the station today, east positive."""
    today: str
    """The day of that variation."""
    doubts: tuple[str, ...]
    """What a person should look at again."""
    path: str
    """Address of this card."""


@dataclass(frozen=True, kw_only=True)
class AirfieldCard(Page):
    template: ClassVar[str] = "airfield_card.html"
    airfield: Airfield
    variation_deg: float
    """Local variation there today, east positive."""
    path: str
    """Address of this card."""


@dataclass(frozen=True, kw_only=True)
class CheckpointCard(Page):
    template: ClassVar[str] = "checkpoint_card.html"
    checkpoint: Checkpoint
    path: str
    """Address of this card."""


@dataclass(frozen=True, kw_only=True)
class FormPage(Page):
    """A form with what stands in it."""

    form: FormText
    action: str
    """Where the form is sent."""
    back: str
    """Where to go without saving."""


@dataclass(frozen=True, kw_only=True)
class BeaconFormPage(FormPage):
    template: ClassVar[str] = "beacon_form.html"
    kinds: tuple[BeaconKind, ...] = tuple(BeaconKind)
    parts: tuple[ComponentKind, ...] = tuple(ComponentKind)
    statuses: tuple[ComponentStatus, ...] = tuple(ComponentStatus)
    classes: tuple[ServiceClass, ...] = tuple(ServiceClass)
    alignments: tuple[AlignmentKind, ...] = tuple(AlignmentKind)


@dataclass(frozen=True, kw_only=True)
class AirfieldFormPage(FormPage):
    template: ClassVar[str] = "airfield_form.html"


@dataclass(frozen=True, kw_only=True)
class CheckpointFormPage(FormPage):
    template: ClassVar[str] = "checkpoint_form.html"


@dataclass(frozen=True, kw_only=True)
class RemovePage(Page):
    """Asks once more before something is removed."""

    template: ClassVar[str] = "remove.html"
    what: str
    """What would be removed, with its kind."""
    action: str
    """Where the answer is sent."""
    back: str
    """Where to go without removing."""


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
        doubts=doubts_about(beacon),
        path=path,
    )


def airfield_card(desk: Desk, region: RegionRecord, airfield: Airfield, path: str) -> Page:
    """Fill the card of an airfield."""
    variation_deg = variation(airfield.position, desk.clock().date()).deg
    return AirfieldCard(
        title=named(airfield), section="airfields", region=region, airfield=airfield, variation_deg=variation_deg, path=path
    )


def checkpoint_card(_desk: Desk, region: RegionRecord, checkpoint: Checkpoint, path: str) -> Page:
    """Fill the card of a checkpoint."""
    return CheckpointCard(title=checkpoint.name, section="checkpoints", region=region, checkpoint=checkpoint, path=path)


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
    def blank(desk: AtDesk, slug: str):
        region = region_book.find_region(desk.library, slug)
        return desk.pages.show(form_page(region, FormText(), None))

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
