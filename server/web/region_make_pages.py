"""Making a region from the browser, changing its settings, removing it. Nothing is kept before "Make the region" is pressed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter
from fastapi.responses import Response

from server.errors import InputProblem, NotFound, Problem
from server.navigation import ConicProjection
from server.persistence import RegionRecord
from server.planning import region_book
from server.planning.make_region import (
    KEEP,
    MadeRegion,
    box_of,
    change_region,
    holdings_of,
    make_region,
    remove_region,
    sea_problems,
    slug_taken,
)
from server.planning.region_ground import see_ground
from server.planning.region_wish import Box, GroundWish
from server.sheets import ground_in_figures, ground_preview_svg
from server.terrain import InventedLand, TerrainLoad
from server.web.desk import AtDesk, Desk
from server.web.forms import FormText
from server.web.pages import Page, see_other
from server.web.region_form import BLANK_REGION, GroundFrom, read_settings, read_wish, settings_form, slug_of, with_next_seed
from server.web.region_uploads import (
    RegionFormSent,
    files_at_hand,
    forget_files,
    kept_files,
    sea_content,
    without_lost_files,
)
from server.web.shelf_contexts import RemovePage

LOOK, NEXT_SEED = "look", "next"
"""What the buttons that keep nothing say in the field ``step``."""


@dataclass(frozen=True, kw_only=True)
class GroundView:
    """Ground that is not kept yet."""

    drawing: str
    """The picture as SVG."""
    figures: tuple[tuple[str, str], ...]
    """What it is like: a name and words each."""
    refused: tuple[str, ...]
    """Files that cannot be used, each with its reason."""


@dataclass(frozen=True, kw_only=True)
class RegionFormPage(Page):
    template: ClassVar[str] = "region_new.html"
    form: FormText
    action: str
    """Where the form is sent."""
    seen: GroundView | None = None
    """The ground as it would be; None before it was asked for."""
    sent_files: tuple[str, ...] = ()
    """Names of the elevation files that wait with the form."""
    sent_sea: str = ""
    """Name of the sea outline that waits with the form; empty where none was sent."""


@dataclass(frozen=True, kw_only=True)
class RegionSettingsPage(RegionFormPage):
    template: ClassVar[str] = "region_settings.html"
    region: RegionRecord


@dataclass(frozen=True, kw_only=True)
class RegionMadePage(Page):
    template: ClassVar[str] = "region_made.html"
    region: RegionRecord
    taken: tuple[str, ...]
    """Elevation files that are the ground now."""
    refused: tuple[str, ...]
    """Those that are not, each with its reason."""
    home: str
    """Address of the region on the start page."""


def home_of(slug: str) -> str:
    """Where a region is worked on."""
    return f"/regions/{slug}/workshop"


def _new_page(form: FormText, seen: GroundView | None = None) -> RegionFormPage:
    return RegionFormPage(title="Make a new region", section="home", form=form, action="/regions/new", seen=seen, **_files(form))


def _settings_page(region: RegionRecord, form: FormText, seen: GroundView | None = None) -> RegionSettingsPage:
    return RegionSettingsPage(
        title=f"Settings of {region.name}",
        section="workshop",
        region=region,
        form=form,
        action=f"/regions/{region.slug}/settings",
        seen=seen,
        **_files(form),
    )


def _files(form: FormText) -> dict:
    sea = [name for name, _ in kept_files(form, "sea")]
    return {"sent_files": tuple(name for name, _ in kept_files(form, "terrain")), "sent_sea": sea[0] if sea else ""}


def _view(box: Box, projection: ConicProjection, ground: GroundWish, sea: bytes) -> GroundView:
    seed = (("Seed", str(ground.seed)),) if isinstance(ground, InventedLand) else ()
    with see_ground(box, ground, sea=sea) as seen:
        return GroundView(
            drawing=ground_preview_svg(seen, box, projection),
            figures=(*seed, *ground_in_figures(seen)),
            refused=_refused_files(seen.files),
        )


def _refused_files(files: TerrainLoad | None) -> tuple[str, ...]:
    return tuple(f"{file.name}: {file.reason}" for file in files.refused) if files else ()


def _made(desk: Desk, made: MadeRegion, form: FormText) -> Response:
    """Go to the region; where some elevation files could not be used, say so first."""
    forget_files(desk, form)
    home = home_of(made.region.slug)
    if made.files is None or not made.files.refused:
        return see_other(home)
    return desk.pages.show(
        RegionMadePage(
            title=f"{made.region.name} has its ground",
            section="home",
            region=made.region,
            taken=tuple(f"{file.name}{': ' if file.note else ''}{file.note}" for file in made.files.taken),
            refused=_refused_files(made.files),
            home=home,
        )
    )


def _new(desk: Desk, form: FormText) -> Response:
    sea = sea_content(desk.staged, form)
    known = (*slug_taken(desk.library, slug_of(form)), *sea_problems(sea))
    with files_at_hand(desk.staged, form) as paths:
        wish, ground = read_wish(form, paths, known=known)
        if form.text("step") in (LOOK, NEXT_SEED):
            projection = wish.projection or wish.box.fitted_projection()
            return desk.pages.show(_new_page(form, _view(wish.box, projection, ground, sea)))
        return _made(desk, make_region(desk.library, desk.terrain_store, wish, ground=ground, sea=sea), form)


def _change(desk: Desk, region: RegionRecord, form: FormText) -> Response:
    sea = sea_content(desk.staged, form)
    box = box_of(region)
    with files_at_hand(desk.staged, form) as paths:
        words, ground = read_settings(form, paths, box=box)
        if form.text("step") in (LOOK, NEXT_SEED):
            if isinstance(ground, GroundFrom) or box is None:
                raise _nothing_to_see(box)
            outline = sea or region.sea_geojson.encode()
            return desk.pages.show(_settings_page(region, form, _view(box, box.fitted_projection(), ground, outline)))
        made = change_region(
            desk.library,
            desk.terrain_store,
            region.slug,
            name=words.name,
            fictional=words.fictional,
            notice=words.notice,
            level_rule=words.level_rule,
            ground=KEEP if isinstance(ground, GroundFrom) else ground,
            sea=sea or KEEP,
        )
    return _made(desk, made, form)


def _nothing_to_see(box: Box | None) -> InputProblem:
    words = "Ground: this is the one the region has. Choose another to look at it."
    if box is None:
        words = "Ground: this region has no box, so there is no picture of it."
    return InputProblem(words, code="form", problems=(Problem(place="ground", message=words),))


def _again(desk: Desk, form: FormText, refusal: InputProblem | NotFound) -> FormText:
    """The form as it was typed, with what was refused; files that are no longer kept are left out, and that is said."""
    if isinstance(refusal, NotFound):
        words = "Elevation files: those you sent are no longer kept. Choose them again."
        lost = InputProblem(words, code=refusal.code, problems=(Problem(place="terrain_files", message=words),))
        return without_lost_files(desk.staged, form).with_problems(lost)
    return form.with_problems(_placed(refusal, form))


def _placed(refusal: InputProblem, form: FormText) -> InputProblem:
    """Problems of fields the form does not show are told at its top."""
    shown: Sequence[str] = (*form.fields, "fictional", "terrain_files", "sea_file")
    problems = tuple(one if one.place in shown else Problem(place="", message=one.message, code=one.code) for one in refusal.problems)
    return InputProblem(refusal.message, code=refusal.code, problems=problems)


def region_make_router() -> APIRouter:
    """Make, change, remove. To be included before routers that would read "new" as a region's short name."""
    router = APIRouter(prefix="/regions")

    @router.get("/new")
    def blank(desk: AtDesk):
        return desk.pages.show(_new_page(BLANK_REGION))

    @router.post("/new")
    def make(desk: AtDesk, form: RegionFormSent):
        form = with_next_seed(form) if form.text("step") == NEXT_SEED else form
        try:
            return _new(desk, form)
        except (InputProblem, NotFound) as refusal:
            return desk.pages.show(_new_page(_again(desk, form, refusal)), status=422)

    @router.get("/{slug}/settings")
    def settings(desk: AtDesk, slug: str):
        region = region_book.find_region(desk.library, slug)
        return desk.pages.show(_settings_page(region, settings_form(region)))

    @router.post("/{slug}/settings")
    def change(desk: AtDesk, slug: str, form: RegionFormSent):
        region = region_book.find_region(desk.library, slug)
        form = with_next_seed(form) if form.text("step") == NEXT_SEED else form
        try:
            return _change(desk, region, form)
        except (InputProblem, NotFound) as refusal:
            return desk.pages.show(_settings_page(region, _again(desk, form, refusal)), status=422)

    @router.get("/{slug}/remove")
    def ask(desk: AtDesk, slug: str):
        region, holdings = holdings_of(desk.library, slug)
        what = f"the region {region.name}" + (f" with its {holdings}" if holdings else ", which is empty,")
        path = f"/regions/{region.slug}"
        return desk.pages.show(
            RemovePage(
                title=f"Remove {region.name}?",
                section="workshop",
                region=region,
                what=what,
                action=f"{path}/remove",
                back=f"{path}/settings",
            )
        )

    @router.post("/{slug}/remove")
    def remove(desk: AtDesk, slug: str):
        remove_region(desk.library, slug)
        return see_other("/")

    return router
