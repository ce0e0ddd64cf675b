"""What people get wrong, and what the page then tells them; nothing they typed is lost and nothing is half stored."""

from __future__ import annotations

import re

import pytest

from tests.browser.audit import problems_of
from tests.browser.site import DOCK, REGION, choose, fill, fill_flight, follow, heading, save_route

CHECKPOINTS = "key,name,feature,lat_deg,lon_deg,elevation_ft,source,remarks\n"


def upload(page, what: str, text: str, name: str) -> None:
    """Send a table from the load page of the region that is kept for this."""
    page.goto(f"{DOCK}/load")
    choose(page, "What is in the table", what)
    page.get_by_label(re.compile("^Table")).set_input_files({"name": name, "mimeType": "text/csv", "buffer": text.encode()})
    follow(page, page.get_by_role("button", name="Show what would change"))


def names_on_dock(page) -> list[str]:
    page.goto(f"{DOCK}/checkpoints")
    return page.get_by_role("main").get_by_role("rowheader").all_inner_texts()


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_a_bad_form_keeps_what_was_typed_and_leads_to_each_problem(window, scripts):
    window.expected.add(422)
    page = window.open(scripts=scripts, width=360)
    page.goto(f"{REGION}/routes/new")
    fill_flight(page)
    fill(page, "Cruising altitude", "nine thousand")
    fill(page, "Wind row 1, speed", "-5")
    fill(page, "Name of the route", "Typed with care")
    follow(page, page.get_by_role("button", name="Save the route"))
    alert = page.get_by_role("alert")
    assert "2 things need another look" in alert.inner_text()
    assert page.get_by_role("textbox", name=re.compile("^Name of the route")).input_value() == "Typed with care"
    altitude = page.get_by_role("textbox", name=re.compile("^Cruising altitude"))
    assert altitude.input_value() == "nine thousand"
    assert altitude.get_attribute("aria-invalid") == "true"
    said = page.locator(f"[id='{altitude.get_attribute('aria-describedby').split()[0]}']")
    assert "nine thousand" in said.inner_text() or "number" in said.inner_text()
    assert problems_of(page) == []
    alert.get_by_role("link").first.click()
    page.keyboard.type("!")
    assert altitude.input_value().count("!") == 1
    fill(page, "Cruising altitude", "9500")
    fill(page, "Wind row 1, speed", "5")
    follow(page, page.get_by_role("button", name="Save the route"))
    assert heading(page) == "Typed with care"


def test_wind_without_its_letter_is_refused(window):
    window.expected.add(422)
    page = window.open()
    page.goto(f"{REGION}/routes/new")
    fill_flight(page)
    page.get_by_role("combobox", name=re.compile("^Wind row 1, true or magnetic")).select_option("")
    follow(page, page.get_by_role("button", name="Save the route"))
    assert re.search(r"true \(T\) or magnetic \(M\)", page.get_by_role("alert").inner_text())


def test_a_beacon_in_use_is_not_removed_and_the_routes_are_named(window):
    window.expected.add(409)
    page = window.open(width=360)
    save_route(page, "Leans on Hallune")
    follow(page, page.get_by_role("button", name=re.compile("^Fly to HLU .* next$")))
    page.goto(f"{REGION}/beacons?search=HLU")
    follow(page, page.get_by_role("link", name="HLU", exact=True))
    card = page.url
    follow(page, page.get_by_role("link", name="Remove"))
    follow(page, page.get_by_role("button", name="Remove"))
    assert "Leans on Hallune" in page.get_by_role("alert").inner_text()
    assert problems_of(page) == []
    follow(page, page.get_by_role("link", name="Back to where you were"))
    follow(page, page.get_by_role("link", name="Keep it"))
    assert page.url == card
    assert heading(page).startswith("HLU")


def test_a_table_that_cannot_be_read_stores_nothing(window):
    window.expected.add(422)
    page = window.open(width=360)
    upload(page, "checkpoints", "<html><body>404 Not Found</body></html>", "page-instead-of-table.csv")
    assert "page-instead-of-table.csv" in page.get_by_role("alert").inner_text()
    assert problems_of(page) == []
    assert not any("404" in name for name in names_on_dock(page))


def test_bad_rows_are_refused_by_line_number_and_the_rest_waits_for_a_yes(window):
    page = window.open(width=360)
    rows = "a,Old Mill,mill,43.5,-36.5,,invented,\nb,Lost Mill,mill,north,-36.5,,invented,\nc,Far Mill,mill,43.6,-999,,invented,\n"
    upload(page, "checkpoints", CHECKPOINTS + rows, "mills.csv")
    refused = page.get_by_role("region", name=re.compile("^Refused")).locator("tbody").get_by_role("row").all_inner_texts()
    assert [re.match(r"\d+", row)[0] for row in refused] == ["3", "4"]
    assert "Old Mill" in page.get_by_role("region", name=re.compile("^Added")).inner_text()
    assert problems_of(page) == []
    report = page.url
    other = window.open()
    assert "Old Mill" not in names_on_dock(other)
    assert report == page.url
    follow(page, page.get_by_role("button", name=re.compile("^Load these checkpoints now")))
    assert heading(page).startswith("Loaded")
    assert "Old Mill" in names_on_dock(page) and "Lost Mill" not in names_on_dock(page)


def test_an_address_that_does_not_exist_gets_a_page_of_the_house(window):
    window.expected |= {404, 422}
    page = window.open(width=360)
    for address in ("/nowhere", f"{REGION}/routes/987654", f"{REGION}/beacons/not-a-number", "/regions/nowhere/routes"):
        page.goto(address)
        assert page.get_by_role("link", name="To the start page").is_visible(), address
        assert "Traceback" not in page.content()
        assert problems_of(page) == []
