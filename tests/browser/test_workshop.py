"""The region workshop in a real browser: a beacon is tried elsewhere, moved and put back; sectors are drawn; new places are begun."""

from __future__ import annotations

import pytest

from tests.browser import desk_hand as hand
from tests.browser.site import REGION, follow

BEACON = "PLR"
"""In the far south-west of the isles: no flight of another test needs it."""


@pytest.fixture
def shop(page):
    page.goto(f"{REGION}/workshop")
    page.get_by_text("Click a place.").wait_for(timeout=hand.WAIT_MS)
    page.locator(".chart-signs .sign").first.wait_for()
    return page


def choose(page, ident: str) -> None:
    page.get_by_role("combobox", name="Place").fill(ident)
    page.get_by_role("button", name="Show").click()
    page.locator("[data-verdict]").filter(has_text=f"{ident} ").filter(has_text=" at ").wait_for(timeout=hand.WAIT_MS)


def areas(page) -> str:
    """The outlines of what is received, as they are drawn."""
    return "|".join(path.get_attribute("d") or "" for path in page.locator(".leaflet-area-pane path").all())


def latitude_kept(page, ident: str) -> float:
    chart = page.request.get(f"{REGION}/desk/chart?on=2026-06-16").json()
    return next(beacon["lat"] for beacon in chart["beacons"] if beacon["ident"] == ident)


def test_a_beacon_is_tried_elsewhere_kept_there_and_moved_back(shop):
    choose(shop, BEACON)
    first, before = latitude_kept(shop, BEACON), areas(shop)
    assert before
    x, y = hand.place(shop, BEACON)
    hand.pull(shop, (x, y), (x + 60, y - 50))
    shop.get_by_text("from where it stands: not kept yet").wait_for(timeout=hand.WAIT_MS)
    assert areas(shop) != before, "the coverage follows the beacon"
    assert latitude_kept(shop, BEACON) == first, "nothing is kept yet"
    shop.get_by_role("button", name="Keep the new place").click()
    shop.get_by_text("and is kept").wait_for(timeout=hand.WAIT_MS)
    assert latitude_kept(shop, BEACON) > first + 0.02
    shop.get_by_label("Latitude [deg]").fill(str(first))
    shop.get_by_role("button", name="Try it there").click()
    shop.get_by_role("button", name="Keep the new place").click()
    shop.get_by_text("and is kept").wait_for(timeout=hand.WAIT_MS)
    assert latitude_kept(shop, BEACON) == pytest.approx(first)


def test_the_routes_that_use_a_beacon_are_named_before_it_is_moved(shop):
    choose(shop, "ILV")
    assert "Marrusk to Sennary over the Korvane Range" in shop.locator("[data-routes]").inner_text()


def test_an_unusable_sector_is_drawn_by_two_clicks_and_forbidden(shop):
    choose(shop, BEACON)
    shop.get_by_role("button", name="Forbid a sector").click()
    x, y = hand.place(shop, BEACON)
    shop.mouse.click(x - 120, y - 10)
    shop.get_by_text("Now click where it ends, clockwise.").wait_for()
    shop.mouse.click(x - 20, y - 130)
    shop.get_by_text("Correct the figures if need be").wait_for()
    start, end = (int(shop.get_by_label(label).input_value()) for label in ("From radial", "clockwise to radial"))
    assert 270 <= start <= 300 and (end >= 340 or end <= 10), "west to north-west, counted from the station's own north"
    shop.get_by_label("Below [ft]").fill("9000")
    shop.get_by_label("Source").fill("a test")
    shop.get_by_role("button", name="Forbid this sector").click()
    shop.locator("[data-verdict]").filter(has_text=" at 6,500 ft").wait_for(timeout=hand.WAIT_MS)
    follow(shop, shop.get_by_role("link", name="Its card"))
    assert "below 9,000 ft" in shop.get_by_role("main").inner_text()


def test_a_sector_is_typed_by_keyboard_alone(shop):
    choose(shop, "AVR")
    shop.get_by_role("button", name="Forbid a sector").press("Enter")
    shop.keyboard.type("350")
    shop.keyboard.press("Tab")
    shop.keyboard.type("20")
    for _ in range(2):
        shop.keyboard.press("Tab")
    shop.keyboard.press("Enter")
    shop.locator("[data-verdict]").filter(has_text="AVR ").filter(has_text=" at ").wait_for(timeout=hand.WAIT_MS)
    follow(shop, shop.get_by_role("link", name="Its card"))
    assert "350" in shop.get_by_role("main").inner_text() and "020" in shop.get_by_role("main").inner_text()


def test_the_ground_offers_new_places_with_their_position_and_elevation(shop):
    shop.mouse.click(*hand.bare_ground(shop))
    link = shop.get_by_role("link", name="New airfield here")
    shop.locator("[data-facts]").filter(has_text="ground").filter(has_text=" ft").wait_for(timeout=hand.WAIT_MS)
    follow(shop, link)
    assert shop.get_by_role("textbox", name="Latitude").input_value()[:3] in ("42.", "43.", "44.")
    assert float(shop.get_by_role("textbox", name="Elevation").input_value()) >= 0


def test_the_workshop_without_scripts_leads_to_the_forms(window):
    page = window.open(scripts=False)
    page.goto(f"{REGION}/workshop")
    assert page.get_by_role("link", name="Check the region").is_visible()
    assert page.locator("noscript").get_by_role("link", name="beacons").is_visible()


def test_the_card_of_a_place_leads_to_it_on_the_chart_and_back(page):
    page.goto(f"{REGION}/beacons")
    follow(page, page.get_by_role("link", name="AVR").first)
    follow(page, page.get_by_role("link", name="On the chart"))
    page.locator("[data-title]", has_text="AVR").wait_for(timeout=hand.WAIT_MS)
    follow(page, page.get_by_role("link", name="Its card"))
    assert "AVR" in page.get_by_role("heading", level=1).inner_text()
