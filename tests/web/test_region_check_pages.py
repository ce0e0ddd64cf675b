"""The check of a region as a page, and the routes that use a thing on its card."""

from __future__ import annotations

import re
from dataclasses import replace

from server.navigation import PointKind, RoutePoint


def test_the_check_groups_what_it_finds_worst_first_with_counts_and_ways_to_card_and_form(served):
    page = served.page(f"{served.at}/check")
    assert "5 beacons, 4 airfields and 2 checkpoints were checked" in page.words
    levels = re.findall(r'class="(warning|advice)"', page.html)
    assert levels == sorted(levels, reverse=True) and set(levels) == {"warning", "advice"}
    # OST has no alignment; its number is 4
    assert "Alignment not known: 1" in page.words
    assert f'<a href="{served.at}/beacons/4">OST VOR/DME Ostrey</a>' in page.html
    assert f'href="{served.at}/beacons/4/edit" aria-label="Change OST VOR/DME Ostrey"' in page.html
    counted = sum(int(count) for count in re.findall(r"<h2 id=\"(?:warning|advice)-[a-z-]+\">[^<]*: (\d+)</h2>", page.html))
    assert counted == len(levels)


def test_every_way_on_the_page_leads_somewhere(served):
    page = served.page(f"{served.at}/check")
    for path in set(re.findall(r'href="(/regions/[^"]+)"', page.html)):
        assert served.browser.get(path).status_code == 200, path


def test_the_check_says_what_it_does_not_look_at(served):
    words = served.page(f"{served.at}/check").words
    assert "Not checked" in words and "airspace" in words and "today's notices" in words


def test_the_check_names_the_routes_that_use_what_is_found(served):
    assert "Used by" not in served.page(f"{served.at}/check").words
    served.keep_route(points=(RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons["OST"]),))
    assert "Used by: West to east" in served.page(f"{served.at}/check").words


def test_a_region_that_is_not_there_cannot_be_checked(served):
    assert served.browser.get("/regions/nowhere/check").status_code == 404


def test_a_name_that_holds_markup_stays_a_name(served):
    with served.library.begin() as work:
        beacon = work.beacons.get(served.small.beacons["OST"])
        work.beacons.update(replace(beacon, name="<script>x</script>"))
    html = served.page(f"{served.at}/check").html
    assert "<script>x" not in html and "&lt;script&gt;x" in html


def test_cards_name_the_routes_that_use_the_thing(served):
    small = served.small
    cards = [f"{served.at}/beacons/{small.beacons['KEV']}", f"{served.at}/airfields/{small.airfields['BRWE']}"]
    cards += [f"{served.at}/checkpoints/{small.checkpoints['Long Mere']}"]
    assert all("No route uses it." in served.page(card).words for card in cards)
    fix = RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=small.beacons["KEV"], radial_deg=40.0, distance_nm=9.0)
    route = served.keep_route(points=(fix, RoutePoint(kind=PointKind.CHECKPOINT, place_id=small.checkpoints["Long Mere"])))
    for card in cards:
        page = served.page(card)
        assert "Used by routes: West to east" in page.words
        assert f'href="{served.at}/routes/{route.id}"' in page.html


def test_after_a_change_the_card_names_the_routes_it_reaches(served):
    served.keep_route()
    number = served.small.airfields["BRWE"]
    form = served.page(f"{served.at}/airfields/{number}/edit").form(f"{served.at}/airfields/{number}/edit")
    answer = served.send(form.action, form.fields | {"elevation_ft": "430"})
    assert "Used by routes: West to east" in served.page(answer.headers["location"]).words


def test_the_start_page_leads_to_the_check_and_to_the_file(served):
    html = served.page("/").html
    for path in (f"{served.at}/check", f"{served.at}/export", "/regions/load-file"):
        assert f'href="{path}"' in html
