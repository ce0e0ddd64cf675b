"""The chart of a route under mouse, finger and keyboard; its projection against PROJ."""

from __future__ import annotations

import re

import numpy as np
import pytest
from pyproj import Transformer

from tests.browser.site import follow, open_sample_route, points

PARALLELS = {
    "north": {"lat1": 42.5, "lat2": 44.5, "lat0": 43.5, "lon0": -36.5},
    "south": {"lat1": -60.0, "lat2": -58.0, "lat0": -59.0, "lon0": 10.0},
    "antimeridian": {"lat1": 60.0, "lat2": 62.0, "lat0": 61.0, "lon0": 179.5},
    "one parallel": {"lat1": 30.0, "lat2": 30.0, "lat0": 30.0, "lon0": 0.0},
}


@pytest.mark.parametrize("name", PARALLELS)
def test_the_projection_in_the_browser_agrees_with_proj(page, name):
    """EPSG method 9802 as PROJ computes it, on a grid of 5 by 5 degrees round the origin: 1 mm there, 1e-9 degrees back."""
    told = PARALLELS[name]
    lat, lon = (grid.ravel() for grid in np.meshgrid(told["lat0"] + np.linspace(-5, 5, 11), told["lon0"] + np.linspace(-5, 5, 11)))
    lon = (lon + 180.0) % 360.0 - 180.0
    proj = Transformer.from_pipeline(
        f"+proj=lcc +lat_1={told['lat1']} +lat_2={told['lat2']} +lat_0={told['lat0']} +lon_0={told['lon0']} +ellps=WGS84"
    )
    x_m, y_m = proj.transform(lon, lat)
    page.goto("/")
    answers = page.evaluate(
        """async ([told, places]) => {
            const { conic } = await import("/static/conic.js");
            const projection = conic(told);
            return places.map(([lat, lon]) => {
                const at = projection.toPlane(lat, lon), back = projection.fromPlane(at.x, at.y);
                return [at.x, at.y, back.lat, back.lon];
            });
        }""",
        [told, [[float(a), float(b)] for a, b in zip(lat, lon, strict=True)]],
    )
    ours = np.array(answers)
    assert np.abs(ours[:, 0] - x_m).max() < 1e-3 and np.abs(ours[:, 1] - y_m).max() < 1e-3
    assert np.abs(ours[:, 2] - lat).max() < 1e-9
    assert np.abs((ours[:, 3] - lon + 180.0) % 360.0 - 180.0).max() < 1e-9


def chart_of(page):
    open_sample_route(page)
    page.get_by_role("button", name="Larger").wait_for()
    return page.get_by_role("img", name=re.compile("^Chart of the route"))


def view(chart) -> list[float]:
    return [float(word) for word in chart.get_attribute("viewBox").split()]


def test_a_click_on_a_station_tells_its_place_and_what_is_heard_there(page):
    chart = chart_of(page)
    station = chart.locator("[data-ident=TSY]").first
    station.scroll_into_view_if_needed()
    box = station.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    asked = page.locator("[data-place]").inner_text()
    assert re.fullmatch(r"\d\d \d\d\.\d{3}N \d{3} \d\d\.\d{3}W", asked)
    follow(page, page.get_by_role("link", name="What is heard here"))
    assert "within 130 NM" in page.get_by_role("main").inner_text()


def test_a_point_is_put_in_where_the_chart_was_clicked(page):
    open_sample_route(page)
    follow(page, page.get_by_role("button", name="Copy"))
    follow(page, page.get_by_role("button", name="Save the route"))
    page.get_by_role("button", name="Larger").wait_for()
    chart = page.get_by_role("img", name=re.compile("^Chart of the route"))
    before = points(page)
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.35)
    asked = page.locator("[data-place]").inner_text()
    page.get_by_label("Put a point here, after").select_option(index=1)
    follow(page, page.get_by_role("button", name="Put it in"))
    after = points(page)
    assert len(after) == len(before) + 1
    degrees, whole = asked.split()[0], asked.split()[1].split(".")[0]
    assert f"{degrees}°{whole}" in after[2] or degrees in after[2]


def test_keys_move_and_enlarge_the_chart_and_ask_about_its_middle(page):
    chart = chart_of(page)
    whole = view(chart)
    page.get_by_role("group", name=re.compile("^Chart: arrow keys")).focus()
    page.keyboard.press("+")
    page.keyboard.press("+")
    closer = view(chart)
    assert closer[2] == pytest.approx(whole[2] / 1.4**2)
    page.keyboard.press("ArrowRight")
    assert view(chart)[0] > closer[0]
    page.keyboard.press("Enter")
    assert re.match(r"\d\d \d\d", page.locator("[data-place]").inner_text())
    page.keyboard.press("0")
    assert view(chart) == pytest.approx(whole)


def test_a_drag_moves_the_chart_and_asks_nothing(page):
    chart = chart_of(page)
    page.get_by_role("button", name="Larger").click()
    before = view(chart)
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    page.mouse.move(box["x"] + 300, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 150, steps=5)
    page.mouse.up()
    assert view(chart)[0] > before[0] and view(chart)[1] > before[1]
    assert page.locator("[data-place]").inner_text() == "No place asked yet."
