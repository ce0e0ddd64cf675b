"""Hands on the planning desk: where things lie on its chart, and how they are pulled."""

from __future__ import annotations

import json
import re

from tests.browser.site import REGION

WAIT_MS = 30_000
PLACE = """(name) => {
    const desk = window.beaconryDesk ?? window.beaconryWorkshop, { map } = desk.chart;
    const place = desk.chart.places.find((each) => each.ident === name || each.name === name);
    const at = map.latLngToContainerPoint([place.lat, desk.chart.near(place.lon)]), box = map.getContainer().getBoundingClientRect();
    return [at.x + box.left, at.y + box.top];
}"""
LEG = """(number) => {
    const desk = window.beaconryDesk, { map } = desk.chart, { line } = desk.answer.legs[number - 1];
    const ends = [line[0], line.at(-1)].map(([lat, lon]) => map.latLngToContainerPoint([lat, desk.chart.near(lon)]));
    const box = map.getContainer().getBoundingClientRect();
    return [(ends[0].x + ends[1].x) / 2 + box.left, (ends[0].y + ends[1].y) / 2 + box.top];
}"""


BARE = """() => {
    const { chart } = window.beaconryDesk ?? window.beaconryWorkshop, { map } = chart;
    const size = map.getSize(), box = map.getContainer().getBoundingClientRect();
    for (let x = size.x * 0.45; x < size.x * 0.9; x += 7)
        for (let y = size.y * 0.4; y < size.y * 0.7; y += 7)
            if (!chart.placesNear(window.L.point(x, y)).length) return [x + box.left, y + box.top];
    return null;
}"""


def bare_ground(page) -> tuple[float, float]:
    """A point of the window where the chart shows no place."""
    x, y = page.evaluate(BARE)
    return x, y


def copy_of_sample_route(page) -> str:
    """Make a copy of the sample flight, so that no other test is in the way; return its address."""
    answer = page.request.post(f"{REGION}/routes/1/copy", max_redirects=0)
    return answer.headers["location"].removesuffix("/edit")


def open_desk(page, route: str = "") -> None:
    """Open the desk, with a route or without, and wait until it has answered."""
    page.goto(f"{route}/desk" if route else f"{REGION}/desk")
    waiting = page.locator("[data-panel] .verdict") if route else page.get_by_text("Click an airfield to depart from.")
    waiting.wait_for(timeout=WAIT_MS)
    page.locator(".chart-signs .sign").first.wait_for()


def place(page, name: str) -> tuple[float, float]:
    """Where a place of the region lies in the window."""
    x, y = page.evaluate(PLACE, name)
    return x, y


def middle_of_leg(page, number: int) -> tuple[float, float]:
    x, y = page.evaluate(LEG, number)
    return x, y


def pull(page, start: tuple[float, float], end: tuple[float, float], *, let_go: bool = True) -> None:
    """Take hold of what lies at a point with the mouse and put it down at another."""
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*end, steps=8)
    if let_go:
        page.mouse.up()


def until(page, holds) -> None:
    """Wait until something holds that the page does not tell by itself, such as the end of a smooth movement."""
    for _ in range(50):
        if holds():
            return
        page.wait_for_timeout(100)
    raise AssertionError("it never came to hold")


def stops(page) -> list[str]:
    """The stops of the route as the panel lists them."""
    return page.locator("[data-panel] .stop-name").all_inner_texts()


def verdicts(page) -> int:
    """How many changes have been answered."""
    return int(page.locator("#desk").get_attribute("data-verdicts") or 0)


def wait_for_verdict(page, before: int) -> None:
    """Wait until one more change has been answered."""
    page.locator(f"#desk[data-verdicts='{before + 1}']").wait_for(timeout=WAIT_MS)


def status(page) -> str:
    return page.locator("[data-verdict]").inner_text()


def stored(page, route: str) -> dict:
    """The route as the server keeps it, read from its desk page."""
    html = page.request.get(f"{route}/desk").text()
    return json.loads(re.search(r'id="desk-told">(.*?)</script>', html, re.S)[1])["draft"]
