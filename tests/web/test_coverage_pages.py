"""Where a beacon is received, and what is heard at a place, as pages."""

from __future__ import annotations

import json

import pytest
from shapely.geometry import shape

from server.web import fix_pages
from tests.web.reading_pages import read


def test_coverage_page_draws_the_height_asked_for(served):
    page = served.page(f"{served.at}/beacons/1/coverage?altitude_ft=4,500&above=sea")
    assert page.title.startswith("Where KEV Kevlin is received –")
    assert "4,500 ft above sea level" in page.words
    assert 'class="area received"' in page.html
    assert "Not modelled here: the strength of the signal" in page.words
    assert page.form(f"{served.at}/beacons/1/coverage").fields == {
        "altitude_ft": "4,500",
        "above": "sea",
        "part": "azimuth",
        "show": "areas",
    }


def test_beacon_card_leads_to_its_coverage(served):
    assert f'href="{served.at}/beacons/1/coverage"' in served.page(f"{served.at}/beacons/1").html


def test_coverage_above_ground_and_of_an_ndb(served):
    assert "1,500 ft above the ground" in served.page(f"{served.at}/beacons/1/coverage?altitude_ft=1500&above=ground").words
    assert "NB NDB" in served.page(f"{served.at}/beacons/5/coverage").words


def test_geojson_stands_beside_the_page(served):
    answer = served.browser.get(f"{served.at}/beacons/1/coverage.geojson?altitude_ft=4500&above=sea")
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/geo+json"
    features = json.loads(answer.text)["features"]
    assert "received" in [feature["properties"]["state"] for feature in features]
    assert all(shape(feature["geometry"]).is_valid for feature in features)


BAD = {
    "altitude_ft=high&above=sea": "Height:",
    "altitude_ft=&above=sea": "Height: please give a number in ft",
    "altitude_ft=nan": "Height:",
    "altitude_ft=90000": "is not a height to ask for",
    "altitude_ft=-5&above=ground": "is not a height to ask for",
    "altitude_ft=4500&above=moon": 'Above: "moon" is not one of sea, ground',
    "part=nose": 'Part: "nose" is not one of azimuth, distance, bearing',
    "part=bearing": "has no bearing",
    "show=colours": 'Chart: "colours" is not one of areas, lowest',
}


@pytest.mark.parametrize("question", BAD)
def test_bad_question_is_told_on_the_page_and_refused_as_geojson(served, question):
    answer = served.browser.get(f"{served.at}/beacons/1/coverage?{question}")
    assert answer.status_code == 422
    assert BAD[question] in read(answer).words
    assert served.browser.get(f"{served.at}/beacons/1/coverage.geojson?{question}").status_code == 422


def test_coverage_of_a_beacon_that_is_not_there_is_not_found(served):
    assert served.browser.get(f"{served.at}/beacons/99/coverage").status_code == 404
    assert served.browser.get(f"{served.at}/beacons/99/coverage.geojson").status_code == 404


def test_another_part_and_the_lowest_altitude_are_drawn(served):
    page = served.page(f"{served.at}/beacons/1/coverage?part=distance&show=lowest&altitude_ft=4500&above=sea")
    assert "KEV, distance (DME)" in page.words and 'class="area band"' in page.html
    told = json.loads(served.browser.get(f"{served.at}/beacons/1/coverage.geojson?part=distance&show=lowest").text)
    bands = [(one["properties"]["received_from_above_ft"], one["properties"]["received_from_to_ft"]) for one in told["features"]]
    assert bands == sorted(bands) and all(above < to for above, to in bands)


def test_chart_of_fixes_with_its_shares(served):
    page = served.page(f"{served.at}/fixes?altitude_ft=4500&above=sea")
    assert 'class="area fix-3"' in page.html and "a fix" in page.words
    answer = served.browser.get(f"{served.at}/fixes.geojson?altitude_ft=4500&above=sea")
    assert answer.headers["content-type"] == "application/geo+json"
    classes = [feature["properties"]["class"] for feature in json.loads(answer.text)["features"]]
    assert "a fix" in classes and "no beacon" in classes


def test_bad_height_of_fixes_is_told_and_refused(served):
    answer = served.browser.get(f"{served.at}/fixes?altitude_ft=high")
    assert answer.status_code == 422 and "Height:" in read(answer).words
    assert served.browser.get(f"{served.at}/fixes.geojson?altitude_ft=99999").status_code == 422


def test_chart_of_fixes_waits_for_what_is_still_being_made(served, monkeypatch):
    monkeypatch.setattr(fix_pages, "tables_missing", lambda *_: 31)
    page = served.page(f"{served.at}/fixes")
    assert "31 tables" in page.words and "<svg" not in page.html


def test_heard_page_asks_first_and_then_lists_the_best_first(served):
    blank = served.page(f"{served.at}/heard")
    assert "What is heard here" in blank.words and "<table" not in blank.html
    page = served.page(f"{served.at}/heard?position=43 25 N 036 30 W&altitude_ft=6500")
    assert page.words.index("KEV") < page.words.index("OST")
    assert "113.350" in page.words or "113.35" in page.words
    assert "R-" in page.words and "bearing to it" in page.words


@pytest.mark.parametrize(
    ("question", "told"),
    [
        ("position=&altitude_ft=6500", "Position:"),
        ("position=nowhere&altitude_ft=6500", "Position:"),
        ("position=43 25 N 036 30 W&altitude_ft=", "Altitude: please give a number in ft"),
        ("position=43 25 N 036 30 W&altitude_ft=-1000", "is below the ground there"),
        ("position=43 25 N 036 30 W&altitude_ft=99999", "is not an altitude to ask for"),
    ],
)
def test_bad_place_or_altitude_is_told_beside_its_field(served, question, told):
    answer = served.browser.get(f"{served.at}/heard?{question}")
    assert answer.status_code == 422
    assert told in read(answer).words
