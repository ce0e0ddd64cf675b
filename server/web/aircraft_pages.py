"""The pages of the aircraft: list, card, add, change, remove. They belong to no region."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter

from server.errors import InputProblem
from server.navigation import Aircraft
from server.planning import region_book, second_look
from server.web.aircraft_form import BLANK_AIRCRAFT, aircraft_form, read_aircraft
from server.web.aircraft_rows import CardLine, PerformanceTable, card_lines, performance_tables
from server.web.desk import AtDesk, Number, TypedForm
from server.web.forms import FormText
from server.web.pages import Page, see_other
from server.web.shelf_contexts import FormPage, RemovePage


@dataclass(frozen=True, kw_only=True)
class AircraftList(Page):
    template: ClassVar[str] = "aircraft_list.html"
    aircraft: tuple[Aircraft, ...]
    """Every aircraft."""


@dataclass(frozen=True, kw_only=True)
class AircraftCard(Page):
    template: ClassVar[str] = "aircraft_card.html"
    aircraft: Aircraft
    tables: tuple[PerformanceTable, ...]
    """The manual's tables in the manual's units, as they were read."""
    card: tuple[CardLine, ...]
    """The compass card in its three ways of writing."""
    doubts: tuple[str, ...]
    """What a person should look at again."""


@dataclass(frozen=True, kw_only=True)
class AircraftFormPage(FormPage):
    template: ClassVar[str] = "aircraft_form.html"


def aircraft_router() -> APIRouter:
    """All pages of the aircraft."""
    router = APIRouter(prefix="/aircraft")

    def form_page(form: FormText, aircraft: Aircraft | None) -> AircraftFormPage:
        title = "New aircraft" if aircraft is None else f"Change {aircraft.registration}"
        action = "/aircraft/new" if aircraft is None else f"/aircraft/{aircraft.id}/edit"
        back = "/aircraft" if aircraft is None else f"/aircraft/{aircraft.id}"
        return AircraftFormPage(title=title, section="aircraft", form=form, action=action, back=back)

    @router.get("")
    def aircraft(desk: AtDesk):
        return desk.pages.show(AircraftList(title="Aircraft", section="aircraft", aircraft=region_book.list_aircraft(desk.library)))

    @router.get("/new")
    def blank(desk: AtDesk):
        return desk.pages.show(form_page(BLANK_AIRCRAFT, None))

    @router.post("/new")
    def add(desk: AtDesk, form: TypedForm):
        try:
            aircraft = region_book.add_aircraft(desk.library, read_aircraft(form))
        except InputProblem as problem:
            return desk.pages.show(form_page(form.with_problems(problem), None), status=422)
        return see_other(f"/aircraft/{aircraft.id}")

    @router.get("/{number}")
    def card(desk: AtDesk, number: Number):
        aircraft = region_book.find_aircraft(desk.library, number)
        title = f"{aircraft.registration} {aircraft.type_name}".strip()
        page = AircraftCard(
            title=title,
            section="aircraft",
            aircraft=aircraft,
            tables=performance_tables(aircraft),
            card=card_lines(aircraft),
            doubts=second_look.doubts_about_aircraft(aircraft),
        )
        return desk.pages.show(page)

    @router.get("/{number}/edit")
    def edit(desk: AtDesk, number: Number):
        aircraft = region_book.find_aircraft(desk.library, number)
        return desk.pages.show(form_page(aircraft_form(aircraft), aircraft))

    @router.post("/{number}/edit")
    def change(desk: AtDesk, number: Number, form: TypedForm):
        aircraft = region_book.find_aircraft(desk.library, number)
        try:
            region_book.change_aircraft(desk.library, read_aircraft(form, number=number))
        except InputProblem as problem:
            return desk.pages.show(form_page(form.with_problems(problem), aircraft), status=422)
        return see_other(f"/aircraft/{number}")

    @router.get("/{number}/remove")
    def ask(desk: AtDesk, number: Number):
        aircraft = region_book.find_aircraft(desk.library, number)
        path = f"/aircraft/{number}"
        what = f"the aircraft {aircraft.registration}"
        title = f"Remove {aircraft.registration}?"
        return desk.pages.show(RemovePage(title=title, section="aircraft", what=what, action=f"{path}/remove", back=path))

    @router.post("/{number}/remove")
    def remove(desk: AtDesk, number: Number):
        region_book.remove_aircraft(desk.library, number)
        return see_other("/aircraft")

    return router
