"""Making a route by hand: beacons leg by leg, other kinds of point, moving, removing, copying."""

from __future__ import annotations

import re

import pytest

from tests.browser.site import beacon_idents, choose, fill, fill_flight, follow, heading, points, save_route


def fly_next_to(page, ident: str) -> None:
    follow(page, page.get_by_role("button", name=re.compile(f"^Fly to {ident} .* next$")).first)


def add_to(page, group: str, entries: dict[str, str]) -> None:
    """Open the other kinds of point, fill one group and send it."""
    if page.get_by_role("group", name=group).count() == 0 or not page.get_by_role("group", name=group).is_visible():
        page.get_by_text("Another kind of point").click()
    box = page.get_by_role("group", name=group)
    for label, entry in entries.items():
        if box.get_by_role("combobox", name=re.compile(f"^{label}")).count():
            choose(box, label, entry)
        else:
            fill(box, label, entry)
    follow(page, box.get_by_role("button", name=re.compile("^Put it after")))


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_beacons_are_chosen_leg_by_leg_from_a_list_that_tells_reception(window, scripts):
    page = window.open(scripts=scripts)
    save_route(page, f"By hand {scripts}")
    table = page.get_by_role("table", name=re.compile("^Beacons that could come next"))
    rows = table.locator("tbody").get_by_role("row").all_inner_texts()
    assert rows and all(re.search(r"\b(received|marginal|not received|not promised|not known)\b", row) for row in rows)
    fly_next_to(page, "DSU")
    fly_next_to(page, "QSL")
    assert beacon_idents(page) == ["DSU", "QSL"]


def test_rows_of_the_list_narrow_while_typing(page):
    save_route(page, "Narrowed")
    table = page.get_by_role("table", name=re.compile("^Beacons that could come next"))
    before = table.locator("tbody tr:visible").count()
    page.get_by_role("searchbox", name=re.compile("^Show only rows with")).fill("tessary")
    assert 1 <= table.locator("tbody tr:visible").count() < before


def test_checkpoint_and_both_kinds_of_fix_become_points(page):
    save_route(page, "With fixes")
    add_to(page, "Checkpoint", {"Checkpoint": "Dassule Pass"})
    add_to(page, "Fix by radial and distance", {"Beacon": "DSU", "Radial": "350", "Distance": "25", "Your name for it": "North of Dassule"})
    add_to(page, "Fix by two radials", {"First beacon": "ODU", "First radial": "090", "Second beacon": "TSY", "Second radial": "350"})
    listed = points(page)
    assert listed[1].startswith("Dassule Pass") and listed[2].startswith("North of Dassule")
    assert len(listed) == 5
    by_distance, by_radials = page.get_by_role("table", name="Each row is a point").get_by_role("rowheader").all_inner_texts()[2:4]
    assert all(part in by_distance for part in ("R-350", "DSU", "25.0 NM")), by_distance
    assert all(part in by_radials for part in ("R-090 ODU", "R-350 TSY")), by_radials


def test_points_move_and_go(page):
    save_route(page, "Moved about")
    for ident in ("DSU", "ODU", "QSL"):
        fly_next_to(page, ident)
    follow(page, page.get_by_role("button", name=re.compile("^Move QSL .* earlier$")))
    assert beacon_idents(page) == ["DSU", "QSL", "ODU"]
    follow(page, page.get_by_role("button", name=re.compile("^Move DSU .* later$")))
    assert beacon_idents(page) == ["QSL", "DSU", "ODU"]
    follow(page, page.get_by_role("button", name=re.compile("^Take DSU .* out$")))
    assert beacon_idents(page) == ["QSL", "ODU"]


def test_a_point_can_be_put_anywhere_in_the_row(page):
    save_route(page, "Put between")
    fly_next_to(page, "QSL")
    follow(page, page.get_by_role("link", name=re.compile("^Add a point after QPMO")))
    fly_next_to(page, "DSU")
    assert beacon_idents(page) == ["DSU", "QSL"]


def test_copy_is_a_route_of_its_own_and_removing_it_leaves_the_first(page):
    save_route(page, "First of two")
    fly_next_to(page, "DSU")
    first = page.url.split("?")[0]
    follow(page, page.get_by_role("button", name="Copy"))
    fill(page, "Name of the route", "Second of two")
    follow(page, page.get_by_role("button", name="Save the route"))
    assert heading(page) == "Second of two" and beacon_idents(page) == ["DSU"]
    follow(page, page.get_by_role("link", name="Remove"))
    follow(page, page.get_by_role("button", name="Remove"))
    routes = page.get_by_role("main").get_by_role("rowheader").all_inner_texts()
    assert "First of two" in routes and "Second of two" not in routes
    page.goto(first)
    assert beacon_idents(page) == ["DSU"]


def test_replacing_points_by_a_found_chain_asks_first(page):
    save_route(page, "Kept or replaced")
    fly_next_to(page, "VSU")
    page.once("dialog", lambda dialog: dialog.dismiss())
    page.get_by_role("button", name="Find the beacon chain").click()
    assert beacon_idents(page) == ["VSU"]
    page.once("dialog", lambda dialog: dialog.accept())
    follow(page, page.get_by_role("button", name="Find the beacon chain"))
    assert "The beacon chain was found" in page.get_by_role("status").inner_text()
    assert beacon_idents(page) != ["VSU"]


def test_a_route_that_cannot_be_flown_says_so_at_the_top(page):
    page.goto("/regions/vessune/routes/new")
    fill_flight(page)
    fill(page, "Wind row 1, speed", "240")
    follow(page, page.get_by_role("button", name="Save the route"))
    above = page.get_by_role("main").inner_text().split("The route, point by point")[0]
    assert "do not fly this log as it stands" in above and "time not known" in above
    assert "STOP" in page.get_by_role("table", name="Each row is a point").inner_text()


def test_a_fix_of_two_parallel_radials_is_refused_at_the_top_and_the_plan_stays(window):
    window.expected.add(422)
    page = window.open()
    save_route(page, "Parallel")
    add_to(page, "Fix by two radials", {"First beacon": "ODU", "First radial": "090", "Second beacon": "TSY", "Second radial": "090"})
    alert = page.get_by_role("alert")
    assert "parallel" in alert.inner_text() and alert.bounding_box()["y"] < 300
    alert.get_by_role("link").click()
    page.keyboard.press("End")
    page.keyboard.type("!")
    assert page.get_by_role("textbox", name="Second radial").input_value() == "090!"
    assert page.get_by_role("link", name="Open the log").count() == 1 and len(points(page)) == 2


def test_a_button_of_a_stale_page_takes_out_nothing_and_says_so(window):
    window.expected.add(409)
    page, other = window.open(), window.open()
    save_route(page, "Two windows")
    for ident in ("DSU", "ODU", "QSL"):
        fly_next_to(page, ident)
    other.goto(page.url)
    follow(page, page.get_by_role("button", name=re.compile("^Take DSU .* out$")))
    follow(other, other.get_by_role("button", name=re.compile("^Take ODU .* out$")))
    assert "changed in another window" in other.get_by_role("alert").inner_text()
    assert beacon_idents(other) == ["ODU", "QSL"]
    follow(other, other.get_by_role("button", name=re.compile("^Take ODU .* out$")))
    assert beacon_idents(other) == ["QSL"]
