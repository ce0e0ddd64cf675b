"""On a phone, held upright: what is flown is in sight without scrolling sideways, and drawings keep a size that can be read."""

from __future__ import annotations

import pytest

from tests.browser.site import DOCK, REGION, follow, open_sample_route

PHONE_PX, PHONE_HEIGHT_PX = 375, 667
"""CSS pixels of a small phone (common practice)."""


@pytest.fixture
def phone(window):
    page = window.open(width=PHONE_PX)
    page.set_viewport_size({"width": PHONE_PX, "height": PHONE_HEIGHT_PX})
    return page


def test_what_is_set_and_which_flag_to_expect_are_in_sight_on_the_log(phone):
    open_sample_route(phone)
    follow(phone, phone.get_by_role("link", name="Open the log"))
    for cells in (".tune-table .tuned", ".tune-table .set", ".tune-table .flag"):
        boxes = [cell.bounding_box() for cell in phone.locator(cells).all()]
        assert len(boxes) >= 5
        assert all(box["x"] >= 0 and box["x"] + box["width"] <= PHONE_PX for box in boxes), cells


@pytest.mark.parametrize("address", [f"{REGION}/routes/1", f"{REGION}/routes/1/log"])
def test_drawings_scroll_in_their_own_box_at_a_size_that_can_be_read(phone, address):
    phone.goto(address)
    drawings = phone.locator("figure.drawing .pan")
    assert drawings.count() == 2
    for box in drawings.all():
        width, shown, focusable = box.evaluate("box => [box.scrollWidth, box.clientWidth, box.tabIndex]")
        assert shown <= PHONE_PX < 2 * PHONE_PX <= width and focusable == 0
    smallest_px = drawings.first.evaluate(
        "box => Math.min(...[...box.querySelectorAll('text')].map(one => parseFloat(getComputedStyle(one).fontSize)"
        " * box.querySelector('svg').getBoundingClientRect().width / 1200))"
    )
    assert smallest_px >= 8.0
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE_PX


@pytest.mark.parametrize("address", ["/", f"{REGION}/routes/1", f"{DOCK}/beacons"])
def test_menu_leaves_the_screen_to_the_page(phone, address):
    phone.goto(address)
    assert phone.locator(".masthead").bounding_box()["height"] < PHONE_HEIGHT_PX / 6
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE_PX
