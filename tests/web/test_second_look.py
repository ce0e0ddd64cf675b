"""What contradicts itself is kept as typed, and its card asks for a second look; what would make a name mean two things is refused."""

from __future__ import annotations

import pytest

from tests.web.reading_pages import read
from tests.web.test_aircraft_form import AIRCRAFT
from tests.web.test_shelf_forms import BEACON


def words_of_card(served, path: str, fields: dict[str, str]) -> str:
    answer = served.send(path, fields)
    assert answer.status_code == 303, read(answer).words
    return served.page(answer.headers["location"]).words


# Pairs: ICAO Annex 10 Vol I, Table A. Variation about 43.5 N 36.2 W: 13 to 14 degrees west in 2026 (World Magnetic Model 2025).
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"frequency": "113.20", "channel": "90X"}, "Channel 90X does not pair with 113.20 MHz, which pairs with 79X"),
        (
            {"frequency": "113.20", "channel": "90X", "distance.present": "", "outages.1.part": "azimuth"},
            "Channel 90X does not pair with 113.20 MHz",
        ),
        ({"declination_deg": "11"}, "The alignment +11 is"),
        ({"distance.present": "", "outages.1.part": "azimuth"}, "A VOR/DME has azimuth and distance; this one has no distance part"),
        ({"bearing.present": "yes"}, "A VOR/DME has no bearing part, and this one has"),
        ({"lat": "43 30 S"}, "from the edge of the region"),
        ({"ident": "KEV"}, "There is another VOR/DME KEV here already: Kevlin"),
    ],
)
def test_contradiction_in_a_beacon_is_named_on_its_card(served, changes, words):
    told = words_of_card(served, f"{served.at}/beacons/new", BEACON | changes)
    assert "Worth a second look" in told and words in told


def test_beacon_in_order_asks_for_no_second_look(served):
    assert "second look" not in words_of_card(served, f"{served.at}/beacons/new", BEACON)


def test_beacon_a_little_outside_the_region_is_in_order(served):
    # The region ends at 44 N; 44 40 N is 40 NM from it.
    assert "second look" not in words_of_card(served, f"{served.at}/beacons/new", BEACON | {"lat": "44 40 N"})


def test_two_kinds_of_one_ident_are_in_order(served):
    ndb = {"ident": "KEV", "kind": "NDB", "frequency": "373", "channel": "", "bearing.present": "yes"}
    fields = {name: text for name, text in BEACON.items() if not name.startswith(("azimuth", "distance", "unusable", "outages"))}
    assert "second look" not in words_of_card(served, f"{served.at}/beacons/new", fields | ndb)


AIRFIELD = {"ident": "brwe", "name": "Another West", "lat": "43 20 N", "lon": "36 20 W"}


def test_second_airfield_of_one_ident_is_refused_beside_its_field(served):
    answer = served.send(f"{served.at}/airfields/new", AIRFIELD)
    page = read(answer)
    assert answer.status_code == 422 and 'id="ident-wrong"' in page.html
    assert "BRWE is Brinna West already" in page.words
    taken = served.send(f"{served.at}/airfields/2/edit", served.page(f"{served.at}/airfields/2/edit").forms[0].fields | {"ident": "BRWE"})
    assert taken.status_code == 422 and "BRWE is Brinna West already" in read(taken).words


def test_airfield_or_checkpoint_far_from_the_region_asks_for_a_second_look(served):
    for shelf, fields in (("airfields", AIRFIELD | {"ident": "BRFA"}), ("checkpoints", {**AIRFIELD, "feature": "lake"})):
        assert "from the edge of the region" in words_of_card(served, f"{served.at}/{shelf}/new", fields | {"lat": "10 N"})


def test_compass_card_that_corrects_by_more_than_a_compass_can_be_off_asks_for_a_second_look(served):
    told = words_of_card(served, "/aircraft/new", AIRCRAFT | {"card.5.for": "180", "card.5.steer": "150"})
    assert "Worth a second look" in told and "for 180 steer 150" in told
    assert "second look" not in words_of_card(served, "/aircraft/new", AIRCRAFT | {"registration": "BX-SIX"})
