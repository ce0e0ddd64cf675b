"""The flight that comes with the sample region: on its second leg the main range hides the beacon behind the aircraft."""

from __future__ import annotations

import csv
import re

from geographiclib.geodesic import Geodesic

from tests.browser.conftest import ROOT
from tests.browser.site import follow, open_sample_route

LOST_BEHIND_GROUND = re.compile(r"ILV lost at [\d.]+ NM, \d:\d\d into the leg: hidden by ground of [\d,]+ ft at [\d.]+ NM from the station")


def open_log(page) -> None:
    open_sample_route(page)
    follow(page, page.get_by_role("link", name="Open the log"))


def second_leg(page):
    return page.get_by_role("article").get_by_role("region", name=re.compile("to Tessary"))


def test_log_tells_where_the_range_hides_the_beacon_and_what_to_do(page):
    open_log(page)
    words = second_leg(page).inner_text()
    lost = LOST_BEHIND_GROUND.search(words)
    assert lost, words
    lost_nm = re.search(r"ILV lost at ([\d.]+) NM", words)[1]
    assert f"Change over to TSY at {lost_nm} NM" in words
    assert f"ILV is lost at {lost_nm} NM" in words


def test_route_page_tells_in_words_where_the_range_hides_the_beacon(page):
    open_sample_route(page)
    words = page.get_by_role("table", name="Each row is a point").inner_text()
    assert LOST_BEHIND_GROUND.search(words) and "Change over to TSY at" in words, words
    assert re.search(r"ground of [\d,]+ ft hides ILV", page.get_by_role("img", name=re.compile("section", re.I)).text_content())


def test_every_reception_state_is_a_word_beside_a_pattern(page):
    open_sample_route(page)
    states = page.get_by_role("main").get_by_role("table").locator(".state")
    assert states.count() >= 8
    marks = {}
    for state in states.all():
        word = state.inner_text()
        marks[word] = state.evaluate("element => getComputedStyle(element, '::before').backgroundImage")
    assert {"received", "not received"} <= set(marks) <= {"received", "marginal", "not received", "unknown", "not known", "overhead"}
    assert len(set(marks.values())) == len(marks), "two states have one pattern"


def test_selected_courses_are_the_bearings_at_the_stations_less_their_alignment(page):
    """Karney's geodesics (geographiclib) on the coordinates in the region's own table; an alignment east of north is positive."""
    with open(ROOT / "sample_region" / "beacons.csv", newline="", encoding="utf-8") as table:
        rows = {row["key"].removeprefix("vessune:"): row for row in csv.DictReader(table)}
    behind, ahead = rows["VOR/DME ILV"], rows["VORTAC TSY"]
    line = Geodesic.WGS84.Inverse(*(float(row[name]) for row in (behind, ahead) for name in ("lat_deg", "lon_deg")))
    outbound = round(line["azi1"] - float(behind["alignment_deg"])) % 360
    inbound = round(line["azi2"] - float(ahead["alignment_deg"])) % 360
    open_log(page)
    rows_shown = [row for row in second_leg(page).get_by_role("row").all_inner_texts() if "MHz" in row]
    assert re.search(rf"\b{outbound:03d}\b\s+FROM\b", rows_shown[0]), rows_shown
    assert re.search(rf"\b{inbound:03d}\b\s+TO\b", rows_shown[1]), rows_shown
