"""Every page opens, says what it is, and is put together so that keyboard and screen reader find their way."""

from __future__ import annotations

import re
from dataclasses import fields, replace

import pytest

from server.navigation import PointKind, RoutePoint
from server.web.pages import Page
from tests.web.template_names import names_wanted
from tests.web.web_builders import small_checkpoints

PAGES = {
    "/": "Start",
    "/how-cautious": "How cautious is it?",
    "/aircraft": "Aircraft",
    "/aircraft/new": "New aircraft",
    "/aircraft/1": "BX-TRA four-seat tourer",
    "/aircraft/1/edit": "Change BX-TRA",
    "/aircraft/1/remove": "Remove BX-TRA?",
    "{at}/beacons": "Beacons",
    "{at}/beacons?search=kev&kind=VOR/DME": "Beacons",
    "{at}/beacons/new": "New beacon",
    "{at}/beacons/1": "KEV Kevlin VOR/DME",
    "{at}/beacons/5": "NB Nubb Point NDB",
    "{at}/beacons/1/coverage": "Where KEV Kevlin is received",
    "{at}/beacons/1/coverage?show=lowest&part=distance": "Where KEV Kevlin is received",
    "{at}/fixes": "Where beacons make a fix",
    "{at}/heard": "What is heard here",
    "{at}/heard?position=43.4,-36.5&altitude_ft=6500": "What is heard here",
    "{at}/beacons/2/edit": "Change DRO Drosk",
    "{at}/beacons/1/remove": "Remove KEV Kevlin?",
    "{at}/airfields": "Airfields",
    "{at}/airfields/new": "New airfield",
    "{at}/airfields/1": "BRWE Brinna West",
    "{at}/airfields/1/edit": "Change BRWE Brinna West",
    "{at}/airfields/1/remove": "Remove BRWE Brinna West?",
    "{at}/checkpoints": "Checkpoints",
    "{at}/checkpoints/new": "New checkpoint",
    "{at}/checkpoints/1": "Long Mere",
    "{at}/checkpoints/1/edit": "Change Long Mere",
    "{at}/checkpoints/1/remove": "Remove Long Mere?",
    "{at}/routes": "Routes",
    "{at}/routes/new": "New route",
    "{at}/routes/1": "West to east",
    "{at}/routes/1/edit": "Change West to east",
    "{at}/routes/1/levels": "Levels for West to east",
    "{at}/routes/1/remove": "Remove West to east?",
    "{at}/routes/1/log": "Log: West to east",
    "{at}/routes/1/log?paper=letter": "Log: West to east",
    "{at}/routes/1/log?paper=half-letter&leave=headings&leave=times": "Log: West to east",
    "{at}/routes/1/log/working": "The working: West to east",
    "{at}/routes/1/strip": "Chart strip: West to east",
    "{at}/routes/1/strip?scale=250000&paper=A5": "Chart strip: West to east",
    "{at}/bring-in-route": "Bring in a route",
    "{at}/load": "Load a table",
    "{at}/check": "Check of the region",
    "/regions/load-file": "Load a region from a file",
}


@pytest.fixture
def with_route(served):
    beacons = (RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons[ident]) for ident in ("KEV", "PYL"))
    served.keep_route(points=tuple(beacons))
    return served


@pytest.mark.parametrize("path", PAGES)
def test_page_opens_with_its_title_and_can_be_walked_by_keyboard_and_ear(with_route, path):
    page = with_route.page(path.format(at=with_route.at))
    assert page.title.startswith(f"{PAGES[path]} –")
    assert page.html.count("<h1") == 1
    assert '<a class="skip" href="#content">' in page.html
    assert 'aria-current="page"' in page.html
    assert page.scripts == ["/static/lively.js"]
    assert "style=" not in page.html.replace("font-style=", ""), "the policy of the page forbids inline styles"
    unnamed = [number for number, spoken in page.named_fields if number not in page.labelled and not spoken]
    assert not unnamed, "every field has a label or a spoken name"
    tables = re.findall(r"<table.*?</table>", page.html, re.DOTALL)
    assert all('scope="' in table for table in tables), "every table says what its headings head"


@pytest.mark.parametrize("path", [path for path in PAGES if "{at}" in path])
def test_every_page_of_a_fictional_region_says_so(with_route, path):
    assert "FICTIONAL REGION" in with_route.page(path.format(at=with_route.at)).words


def test_every_page_carries_the_caution(with_route):
    assert "The pilot in command and the local rules decide" in with_route.page("/").words


def all_pages(family: type[Page] = Page) -> list[type[Page]]:
    return [page for child in family.__subclasses__() for page in (child, *all_pages(child))]


@pytest.mark.parametrize("page", [page for page in all_pages() if "template" in vars(page)], ids=lambda page: page.__name__)
def test_template_receives_exactly_the_names_of_its_context(served, page):
    environment = served.browser.app.state.desk.pages.environment
    assert names_wanted(environment, page.template) == {field.name for field in fields(page)}


def test_beacon_card_shows_alignment_beside_variation_and_what_each_is_for(served):
    words = served.page(f"{served.at}/beacons/1").words
    assert "Alignment of the station 14° W" in words
    assert "Radials and the selected course of this station" in words
    assert "Tracks and headings near here" in words
    assert "1998" in words


def test_beacon_card_shows_morse_as_itu_r_m_1677_has_it(served):
    # K -.-  E .  V ...-  (ITU-R M.1677-1, Annex 1, Part I, 1.1.1)
    page = served.page(f"{served.at}/beacons/1")
    letters = re.findall(r'<b>(.)</b> <span class="morse"[^>]*>(.*?)</span>', page.html)
    assert [(letter, marks.replace("−", "-").replace("·", ".")) for letter, marks in letters] == [("K", "-.-"), ("E", "."), ("V", "...-")]


def test_beacon_card_tells_status_class_and_last_confirmation_of_each_part(served):
    words = served.page(f"{served.at}/beacons/1").words
    assert "azimuth operating L 2026-02-01 invented" in words
    assert "distance operating DL 2026-02-01 invented" in words


def test_beacon_list_searches_and_narrows_by_kind(served):
    assert "1 beacon match" in served.page(f"{served.at}/beacons?search=kev").words
    words = served.page(f"{served.at}/beacons?kind=NDB").words
    assert "Nubb Point" in words and "Kevlin" not in words
    assert "No beacon matches this search" in served.page(f"{served.at}/beacons?search=zzz").words


def test_long_list_is_shown_page_by_page(served):
    pattern = small_checkpoints(served.small.region.id)[0]
    with served.library.begin() as work:
        for number in range(60):
            work.checkpoints.add(replace(pattern, name=f"Stone {number:02d}"))
    first, second = (served.page(f"{served.at}/checkpoints?search=stone&page={page}") for page in (1, 2))
    assert "60 checkpoints match" in first.words and "Page 1 of 2" in first.words
    assert "Stone 00" in first.words and "Stone 59" not in first.words
    assert "Stone 59" in second.words and 'rel="prev"' in second.html
    assert "Page 2 of 2" in served.page(f"{served.at}/checkpoints?search=stone&page=99").words


COUNTED = {"{at}/beacons": 7, "{at}/airfields": 4, "{at}/checkpoints": 3, "{at}/routes": 6, "/aircraft": 5}


@pytest.mark.parametrize("path", COUNTED)
def test_list_page_asks_a_fixed_number_of_questions(served, queries, path):
    served.keep_route()
    queries.clear()
    served.page(path.format(at=served.at))
    few = len(queries)
    served.keep_route(name="Another")
    queries.clear()
    served.page(path.format(at=served.at))
    assert len(queries) == few == COUNTED[path]
