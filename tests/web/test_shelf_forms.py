"""The forms of beacons, airfields and checkpoints: what is typed comes back, and what is wrong is said beside its field."""

from __future__ import annotations

import html
from dataclasses import replace

import pytest

from server.navigation import AlignmentKind, PointKind, RoutePoint
from server.radio import BeaconKind, ComponentKind, ComponentStatus, ServiceClass
from tests.web.reading_pages import read

BEACON = {
    "ident": "RUN",
    "name": "Runnel",
    "kind": "VOR/DME",
    "frequency": "113.75",
    "channel": "84Y",
    "lat": "43°30.6'N",
    "lon": "36 12 30 W",
    "elevation_ft": "-12",
    "alignment_kind": "magnetic",
    "declination_deg": "-13.5",
    "alignment_year": "2004",
    "azimuth.present": "yes",
    "azimuth.status": "operating",
    "azimuth.class": "VL",
    "azimuth.last_confirmed": "2026-01-31",
    "distance.present": "yes",
    "distance.status": "out of service",
    "unusable.0.part": "azimuth",
    "unusable.0.from": "350",
    "unusable.0.to": "10",
    "unusable.0.beyond": "25",
    "unusable.0.below": "6500",
    "outages.1.part": "distance",
    "outages.1.first": "2026-05-01",
}


def kept(served, shelf, number):
    with served.library.read() as work:
        return getattr(work, shelf).get(number)


def number_of(answer) -> int:
    assert answer.status_code == 303, read(answer).words
    return int(answer.headers["location"].rsplit("/", 1)[1])


def test_typed_beacon_is_kept_as_it_was_typed(served):
    beacon = kept(served, "beacons", number_of(served.send(f"{served.at}/beacons/new", BEACON)))
    assert (beacon.ident, beacon.kind, beacon.frequency_khz, beacon.channel) == ("RUN", BeaconKind.VOR_DME, 113_750, "84Y")
    assert beacon.position.lat_deg == pytest.approx(43.51, abs=1e-9)
    assert beacon.position.lon_deg == pytest.approx(-(36 + 12.5 / 60), abs=1e-9)
    assert beacon.elevation_ft == -12 and beacon.antenna_height_ft is None
    assert (beacon.alignment.kind, beacon.alignment.declination_deg, beacon.alignment.year) == (AlignmentKind.MAGNETIC, -13.5, 2004)
    azimuth, distance = beacon.component(ComponentKind.AZIMUTH), beacon.component(ComponentKind.DISTANCE)
    assert (azimuth.status, azimuth.service_class) == (ComponentStatus.OPERATING, ServiceClass.VL)
    assert azimuth.unusable[0].from_radial_deg == 350 and azimuth.unusable[0].below_altitude_ft == 6500
    assert (distance.status, distance.service_class) == (ComponentStatus.OUT_OF_SERVICE, None)
    assert str(distance.outages[0].first_day) == "2026-05-01" and distance.outages[0].last_day is None


@pytest.mark.parametrize(("shelf", "numbers"), [("beacons", range(1, 6)), ("airfields", range(1, 5)), ("checkpoints", range(1, 3))])
def test_form_saved_untouched_changes_nothing(served, shelf, numbers):
    for number in numbers:
        path = f"{served.at}/{shelf}/{number}/edit"
        before = kept(served, shelf, number)
        answer = served.send(path, served.page(path).form(path).fields)
        assert answer.headers["location"] == f"{served.at}/{shelf}/{number}"
        assert kept(served, shelf, number) == before


def test_aircraft_form_saved_untouched_changes_nothing(served):
    before = kept(served, "aircraft", 1)
    answer = served.send("/aircraft/1/edit", served.page("/aircraft/1/edit").form("/aircraft/1/edit").fields)
    assert answer.status_code == 303 and kept(served, "aircraft", 1) == before


def test_every_problem_is_told_at_once_beside_its_field_and_what_was_typed_stays(served):
    wrong = BEACON | {
        "name": "",
        "frequency": "11375",
        "lat": "95 N",
        "elevation_ft": "high",
        "declination_deg": "",
        "azimuth.last_confirmed": "31.1.2026",
        "unusable.0.from": "400",
        "outages.1.last": "2026-04-01",
    }
    answer = served.send(f"{served.at}/beacons/new", wrong)
    page = read(answer)
    assert answer.status_code == 422
    fields = ("name", "frequency", "lat", "elevation_ft", "declination_deg", "azimuth.last_confirmed", "unusable.0.from", "outages.1.last")
    for name in fields:
        assert f'id="{name}-wrong"' in page.html, name
        assert f'href="#{name}"' in page.html, "the summary leads to the field"
    assert page.form(f"{served.at}/beacons/new").fields.items() >= wrong.items()
    assert "nothing has been saved yet" in page.words
    with served.library.read() as work:
        assert work.beacons.count(served.small.region.id) == 5


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"frequency": "118.5"}, "is no VOR/DME frequency"),
        ({"kind": "NDB", "frequency": "113.75"}, "113.75 kHz is not a whole number of kHz"),
        ({"kind": "VOT"}, '"VOT" is not one of'),
        ({"ident": "АBC"}, "Ident:"),
        ({"ident": "TOOLONG"}, "a station sends one to four"),
        ({"channel": "140X"}, "Channel:"),
        ({"lat": "43 75 N"}, "latitude"),
        ({"lat": "nan"}, "latitude"),
        ({"elevation_ft": "1e3"}, "Elevation"),
        ({"elevation_ft": "１００"}, "Elevation"),
        ({"elevation_ft": "40000"}, "40000 ft is outside -1500 to 29100 ft"),
        ({"alignment_kind": "true", "declination_deg": "4"}, "aligned to true north has 0"),
        ({"alignment_kind": "unknown"}, "choose what it is counted from"),
        ({"alignment_year": "1998.5"}, "must be a whole number"),
        ({"azimuth.present": "", "distance.present": ""}, "tick at least one part"),
        ({"azimuth.present": ""}, 'the station has no part "azimuth"'),
        ({"name": "a\x00b"}, "control character"),
        ({"name": "n" * 200}, "200 characters are too many"),
    ],
)
def test_wrong_field_is_named_with_what_to_do(served, changes, words):
    answer = served.send(f"{served.at}/beacons/new", BEACON | changes)
    assert answer.status_code == 422
    assert words in read(answer).words


def test_ndb_frequency_is_read_in_khz_because_the_kind_says_so(served):
    ndb = {name: text for name, text in BEACON.items() if not name.startswith(("azimuth", "distance", "unusable", "outages"))}
    ndb |= {"kind": "NDB", "frequency": "114", "channel": "", "bearing.present": "yes"}
    number = number_of(served.send(f"{served.at}/beacons/new", ndb))
    assert kept(served, "beacons", number).frequency_khz == 114
    words = served.page(f"{served.at}/beacons/{number}").words
    assert "114 kHz" in words and "outside 190 to 535 kHz" in words


def test_card_doubts_a_channel_that_does_not_pair(served):
    # ICAO Annex 10 Vol I Table A: 113.75 MHz pairs with 84Y
    number = number_of(served.send(f"{served.at}/beacons/new", BEACON | {"channel": "84X"}))
    assert "pairs with 84Y" in served.page(f"{served.at}/beacons/{number}").words


def test_changed_beacon_keeps_the_key_of_its_source(served):
    with served.library.begin() as work:
        beacon = work.beacons.add(replace(work.beacons.get(1), id=None, external_key="navaids:17"))
    path = f"{served.at}/beacons/{beacon.id}/edit"
    served.send(path, served.page(path).form(path).fields | {"name": "Renamed"})
    assert (kept(served, "beacons", beacon.id).name, kept(served, "beacons", beacon.id).external_key) == ("Renamed", "navaids:17")


HOSTILE = "\"><script>alert(1)</script> '; DROP TABLE beacon; -- {{ 7*7 }}"


def test_hostile_name_is_shown_as_the_text_it_is(served):
    number = number_of(served.send(f"{served.at}/beacons/new", BEACON | {"name": HOSTILE, "remarks": HOSTILE, "source": HOSTILE}))
    served.send(f"{served.at}/airfields/1/edit", served.page(f"{served.at}/airfields/1/edit").forms[0].fields | {"name": HOSTILE})
    points = (RoutePoint(kind=PointKind.BEACON, place_id=number),)
    route = served.keep_route(points=points, name=HOSTILE, remarks=HOSTILE)
    at = served.at
    for path in (
        f"{at}/beacons",
        f"{at}/beacons/{number}",
        f"{at}/beacons/{number}/edit",
        f"{at}/beacons/{number}/remove",
        f"{at}/routes",
        f"{at}/routes/{route.id}",
        f"{at}/routes/{route.id}/edit",
        f"{at}/routes/{route.id}/log",
        f"{at}/routes/new",
        "/",
    ):
        page = served.page(path)
        assert page.scripts == ["/static/lively.js"], path
        assert "<script>alert" not in page.html
        assert html.escape("<script>alert(1)</script>") in page.html or path.endswith("/routes/new"), path
        assert "49" not in page.title


def test_used_beacon_cannot_be_removed_and_the_routes_are_named(served):
    point = (RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=served.small.beacons["KEV"], radial_deg=45.0, distance_nm=5.0),)
    served.keep_route(name="First", points=point)
    served.keep_route(name="Second", points=(RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons["KEV"]),))
    answer = served.send(f"{served.at}/beacons/{served.small.beacons['KEV']}/remove", {})
    assert answer.status_code == 409
    assert '"First"' in read(answer).words and '"Second"' in read(answer).words
    assert kept(served, "beacons", served.small.beacons["KEV"]).ident == "KEV"


def test_unused_things_are_removed_after_asking(served):
    for shelf in ("beacons", "airfields", "checkpoints"):
        path = f"{served.at}/{shelf}/1/remove"
        assert "cannot be undone" in served.page(path).words
        assert served.send(path, {}).headers["location"] == f"{served.at}/{shelf}"
        assert served.browser.get(f"{served.at}/{shelf}/1").status_code == 404


def test_used_aircraft_and_airfield_cannot_be_removed(served):
    served.keep_route(name="Needs both")
    for path in ("/aircraft/1/remove", f"{served.at}/airfields/1/remove"):
        answer = served.send(path, {})
        assert answer.status_code == 409 and '"Needs both"' in read(answer).words


def test_unknown_time_zone_is_named(served):
    path = f"{served.at}/airfields/1/edit"
    answer = served.send(path, served.page(path).forms[0].fields | {"time_zone": "Nowhere/Never"})
    assert answer.status_code == 422 and 'Time zone: "Nowhere/Never" is not known' in read(answer).words
