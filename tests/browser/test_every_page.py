"""Every page, in a narrow window and on paper: readable by everyone, whatever they read with."""

from __future__ import annotations

import pytest

from tests.browser.audit import overlaps_in, problems_of
from tests.browser.site import DOCK, REGION, follow, open_sample_route

PAGES = {
    "start": "/",
    "how cautious": "/how-cautious",
    "new region": "/regions/new",
    "settings of a region": f"{REGION}/settings",
    "remove a region": f"{REGION}/remove",
    "routes": f"{REGION}/routes",
    "new route": f"{REGION}/routes/new",
    "route": f"{REGION}/routes/1",
    "change route": f"{REGION}/routes/1/edit",
    "remove route": f"{REGION}/routes/1/remove",
    "log": f"{REGION}/routes/1/log",
    "beacons": f"{REGION}/beacons",
    "beacons found": f"{REGION}/beacons?search=mar",
    "beacon": f"{REGION}/beacons/8",
    "new beacon": f"{REGION}/beacons/new",
    "change beacon": f"{REGION}/beacons/8/edit",
    "airfields": f"{REGION}/airfields",
    "airfield": f"{REGION}/airfields/1",
    "change airfield": f"{REGION}/airfields/1/edit",
    "checkpoints": f"{REGION}/checkpoints",
    "checkpoint": f"{REGION}/checkpoints/1",
    "change checkpoint": f"{REGION}/checkpoints/1/edit",
    "aircraft list": "/aircraft",
    "aircraft": "/aircraft/2",
    "change aircraft": "/aircraft/2/edit",
    "load a table": f"{REGION}/load",
    "empty list": f"{DOCK}/airfields",
}
PHONE_PX = 360
# Width between the margins of the page rules, at 96 px an inch: A4 is 210 mm wide, Letter 215.9 mm, margins 11 mm.
PRINT_WIDTHS_PX = {"a4": round((210 - 22) / 25.4 * 96), "letter": round((215.9 - 22) / 25.4 * 96)}


@pytest.mark.parametrize("address", PAGES.values(), ids=PAGES.keys())
def test_page_can_be_read_by_everyone_and_fits_a_phone(window, address):
    page = window.open(width=PHONE_PX)
    page.goto(address)
    assert problems_of(page) == []


def test_the_page_of_caution_tells_all_on_one_screen(window):
    page = window.open(width=1280)
    page.goto("/how-cautious")
    table = page.get_by_role("table").bounding_box()
    assert table["y"] + table["height"] <= 800  # the height of a small laptop's window


def test_audit_finds_what_is_wrong_with_a_bad_page(page):
    page.set_content(
        "<h1>One</h1><h1>Two</h1><input><img><table><tr><th>x</th></tr></table><p style='color:#aaa;background:#fff;width:3000px'>pale</p>"
    )
    found = " ".join(problems_of(page))
    for wrong in (
        "2 headings of level 1",
        "field without a name",
        "without alt",
        "without scope",
        "without a caption",
        "contrast 2.3",
        "px wide",
    ):
        assert wrong in found


@pytest.mark.parametrize("paper", PRINT_WIDTHS_PX)
def test_nothing_on_the_printed_log_lies_over_its_neighbour(window, paper):
    page = window.open(width=PRINT_WIDTHS_PX[paper])
    open_sample_route(page)
    follow(page, page.get_by_role("link", name="Open the log"))
    page.goto(f"{page.url}?paper={paper}")
    page.emulate_media(media="print")
    assert overlaps_in(page.get_by_role("article")) == []
