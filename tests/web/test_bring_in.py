"""Routes out and in as pages: downloads, a file read and shown, and kept."""

from __future__ import annotations

import pytest

from tests.web.reading_pages import read
from tests.web.test_flight_choices import with_two_beacons
from tests.web.test_routes import kept


def send(served, content: bytes, *, name="route.gpx", altitude="7500"):
    return served.browser.post(
        f"{served.at}/bring-in-route", data={"altitude_ft": altitude}, files={"table": (name, content, "application/octet-stream")}
    )


@pytest.mark.parametrize("ending", ["log.gpx", "log.geojson", "route.txt"])
def test_a_route_that_went_out_comes_in_as_the_same_places(served, ending):
    number = with_two_beacons(served)
    out = served.browser.get(f"{served.at}/routes/{number}/{ending}")
    assert out.status_code == 200 and "attachment" in out.headers["content-disposition"]
    page = read(send(served, out.content, name=ending))
    assert "KEV VOR/DME" in page.words and "DRO" in page.words
    form = page.form(f"{served.at}/bring-in-route/keep").fields
    assert form["name"] == "West to east" and form["altitude_ft"] == "7500"
    answer = served.send(f"{served.at}/bring-in-route/keep", {**form, "name": "Again"})
    assert answer.status_code == 303
    again, before = kept(served, int(answer.headers["location"].rsplit("/", 1)[1])), kept(served, number)
    assert again.name == "Again" and again.points == before.points
    assert (again.departure_airfield_id, again.destination_airfield_id) == (before.departure_airfield_id, before.destination_airfield_id)


def test_the_table_is_sent(served):
    answer = served.browser.get(f"{served.at}/routes/{with_two_beacons(served)}/log.csv")
    assert answer.headers["content-type"].startswith("text/csv") and answer.text.startswith("leg,from,to")
    assert served.browser.get(f"{served.at}/routes/999/log.gpx").status_code == 404


FAR = b'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><rte><rtept lat="10" lon="10"/><rtept lat="11" lon="10"/></rte></gpx>'


@pytest.mark.parametrize(
    ("content", "altitude", "told"),
    [
        (b"", "7500", "is empty"),
        (b"<gpx", "7500", "is no XML"),
        (FAR, "7500", "more than 2 NM from every open airfield"),
        (FAR, "high", "Cruising altitude"),
    ],
)
def test_a_file_that_cannot_be_brought_in_is_told_on_the_page(served, content, altitude, told):
    answer = send(served, content, altitude=altitude)
    assert answer.status_code == 422 and told in read(answer).words


def test_keeping_what_is_no_longer_there_is_told(served):
    answer = served.send(f"{served.at}/bring-in-route/keep", {"token": "0" * 32, "altitude_ft": "7500"})
    assert answer.status_code == 404 and "no longer kept" in read(answer).words
