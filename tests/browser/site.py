"""What a person does on the served pages, in words of the trade. Locators go by role, label and name, as a reader of the page would."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

AT_FIRST_START = re.compile(r"Beaconry is at (http://127\.0\.0\.1:\d+)/")
REGION = "/regions/vessune"
DOCK = "/regions/loading-dock"
SAMPLE_ROUTE = "Marrusk to Sennary over the Korvane Range"

DEPARTURE, DESTINATION = "QPMO", "QYEL"
"""Pelmora in the south and Yelmar in the north: 130 NM with both ranges between, too far for one station."""


@dataclass(frozen=True)
class Site:
    """Where the application is served, and the home it was given."""

    address: str
    home: Path


def follow(page, link_or_button) -> None:
    """Press it and wait until the page it leads to is there."""
    with page.expect_navigation():
        link_or_button.click()


def choose(page, label: str, beginning: str) -> None:
    """Choose the first entry of a list that begins with these words."""
    box = page.get_by_role("combobox", name=re.compile(rf"^{re.escape(label)}\b"))
    entry = box.locator("option").filter(has_text=re.compile(rf"^\s*{re.escape(beginning)}\b")).first
    box.select_option(value=entry.get_attribute("value"))


def fill(page, label: str, text: str) -> None:
    """Type into the field whose label begins with these words."""
    page.get_by_role("textbox", name=re.compile(rf"^{re.escape(label)}")).fill(text)


def fill_flight(page) -> None:
    """Fill the form of a route with all that a complete log needs."""
    choose(page, "Departure", DEPARTURE)
    choose(page, "Destination", DESTINATION)
    fill(page, "Cruising altitude", "9500")
    fill(page, "Day of take-off", "2026-06-16")
    fill(page, "Time of take-off", "09:00")
    choose(page, "Aircraft", "QV-OAK")
    choose(page, "Fuel is given in", "litres")
    fill(page, "Usable fuel on board", "150")
    choose(page, "Fuel reserve", "ICAO Annex 6 Part II, VFR by day")
    fill(page, "Wind row 1, altitude", "6000")
    fill(page, "Wind row 1, from", "300")
    choose(page, "Wind row 1, true or magnetic", "T")
    fill(page, "Wind row 1, speed", "18")
    fill(page, "Temperature against ISA", "0")
    fill(page, "Power in cruise", "65 %")


def save_route(page, name: str) -> None:
    """Make the flight under a name of its own and end on its page."""
    page.goto(f"{REGION}/routes/new")
    fill_flight(page)
    fill(page, "Name of the route", name)
    follow(page, page.get_by_role("button", name="Save the route"))
    assert heading(page) == name


def open_sample_route(page) -> None:
    """Go from the start to the page of the flight that comes with the region."""
    page.goto("/")
    follow(page, page.get_by_role("link", name=SAMPLE_ROUTE, exact=True))


def heading(page) -> str:
    """The first-level heading of the page."""
    return page.get_by_role("heading", level=1).inner_text()


def points(page) -> list[str]:
    """The points of the route in order, first words only, as the route page lists them."""
    rows = page.get_by_role("table", name="Each row is a point").locator("tbody").get_by_role("rowheader")
    return [text.split("\n")[0] for text in rows.all_inner_texts()]


def beacon_idents(page) -> list[str]:
    """The idents of the beacons between the two airfields."""
    return [name.split()[0] for name in points(page)[1:-1]]
