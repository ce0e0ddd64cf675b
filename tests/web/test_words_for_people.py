"""What a person reads is said in words they know, as the log says it, and stays in its region when something goes wrong."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from server.navigation import Runway
from server.persistence import RegionRecord
from server.radio import ServiceClass, volume_range_nm
from server.web.class_words import CLASS_WORDS
from tests.web.reading_pages import read

# FAA Aeronautical Information Manual 1-1-8, TBL 1-1-1: height above the station [ft] and range [NM]
TABLE = {
    ServiceClass.T: {1_000: 25, 12_000: 25},
    ServiceClass.L: {1_000: 40, 18_000: 40},
    ServiceClass.H: {1_000: 40, 14_500: 100, 18_000: 130, 45_000: 130, 60_000: 100},
    ServiceClass.VL: {1_000: 40, 5_000: 70},
    ServiceClass.VH: {1_000: 40, 5_000: 70, 14_500: 100, 18_000: 130, 45_000: 130, 60_000: 100},
    ServiceClass.DL: {12_900: 130},
    ServiceClass.DH: {12_900: 130, 60_000: 100},
}


@pytest.mark.parametrize("service_class", TABLE)
def test_words_of_a_class_say_what_is_published_and_what_is_computed_with(service_class):
    for height_ft, range_nm in TABLE[service_class].items():
        assert f"{height_ft:,}" in CLASS_WORDS[service_class] and str(range_nm) in CLASS_WORDS[service_class]
        assert volume_range_nm(service_class, float(height_ft)) == range_nm


@pytest.mark.parametrize(("service_class", "range_nm"), [("locator", 15), ("MH", 25), ("NDB H", 50), ("HH", 75)])
def test_words_of_an_ndb_class_say_what_is_published(service_class, range_nm):
    # FAA Aeronautical Information Manual 1-1-8, TBL 1-1-2
    assert f"{range_nm} NM at all heights" in CLASS_WORDS[ServiceClass(service_class)]
    assert volume_range_nm(ServiceClass(service_class), 3000.0) == range_nm


def test_card_and_form_of_a_beacon_explain_its_classes_and_parts(served):
    card = served.page(f"{served.at}/beacons/1").words
    assert "low: 40 NM, from 1,000 to 18,000 ft above the station" in card and "which radial you are on" in card
    form = served.page(f"{served.at}/beacons/1/edit").words
    assert "What the service classes mean" in form and "VOR high: 40 NM from 1,000 ft above the station" in form


def test_outages_stand_near_the_top_of_the_form_and_the_card_leads_there(served):
    form = served.page(f"{served.at}/beacons/1/edit").html
    assert form.index('id="outages"') < form.index("Where it stands")
    assert f'href="{served.at}/beacons/1/edit#outages"' in served.page(f"{served.at}/beacons/1").html


def test_airfield_card_writes_zone_and_runway_as_the_log_does(served):
    # POSIX and the IANA database: Etc/GMT+2 is two hours behind UTC
    with served.library.begin() as work:
        strip = Runway(designator="04/22", length_m=1450.0)
        number = work.airfields.add(replace(work.airfields.get(1), id=None, ident="BRZO", time_zone="Etc/GMT+2", runways=(strip,))).id
    words = served.page(f"{served.at}/airfields/{number}").words
    assert "UTC-02" in words and "Etc/GMT" not in words and "1,450 m" in words
    assert "UTC-02" in served.page(f"{served.at}/airfields").words


@pytest.mark.parametrize("path", ["routes/77", "beacons/not-a-number", "beacons?page=0", "nothing/here"])
def test_problem_page_stays_in_its_region(served, path):
    page = read(served.browser.get(f"{served.at}/{path}"))
    assert f'href="{served.at}/beacons"' in page.html and "FICTIONAL REGION" in page.words


def test_problem_page_of_no_region_has_no_navigation_of_one(served):
    for path in ("/nowhere", "/regions/nowhere/beacons", "/regions/%00/beacons"):
        page = read(served.browser.get(path))
        assert "Checkpoints" not in page.words and "FICTIONAL" not in page.words


def test_list_shows_a_number_only_where_two_would_read_alike(served):
    twin = {"registration": "BX-TRA", "type_name": "four-seat tourer"}
    labels = re.findall(r"<option[^>]*>(BX-TRA[^<]*)<", served.page(f"{served.at}/routes/new").html)
    assert labels == ["BX-TRA four-seat tourer"]
    with served.library.begin() as work:
        work.aircraft.add(replace(work.aircraft.get(1), id=None, **twin))
    page = served.page(f"{served.at}/routes/new")
    labels = re.findall(r"<option[^>]*>(BX-TRA[^<]*)<", page.html)
    assert labels == ["BX-TRA four-seat tourer (1)", "BX-TRA four-seat tourer (2)"]


def test_start_page_begins_with_the_region_that_has_routes_and_shows_the_steps_once(served):
    served.keep_route()
    with served.library.begin() as work:
        work.regions.add(RegionRecord(slug="aaa", name="AAA, empty", fictional=False))
        full = work.regions.add(RegionRecord(slug="aab", name="AAB, with beacons only", fictional=False))
        work.beacons.add(replace(work.beacons.get(1), id=None, region_id=full.id))
    page = served.page("/")
    assert page.html.index("Brinna Banks</h2>") < page.html.index("AAB, with") < page.html.index("AAA, empty")
    assert page.html.count('class="steps"') == 1
    assert f'<a href="{served.at}/routes/new">Make a route</a>' in page.html
