"""The way from two airfields to a log, with scripts off: by the button, by the list, and by hand."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime

import pypdf
import pytest

from server.navigation import FuelUnit, NorthReference, PointKind, Position, RoutePoint
from server.persistence import RegionRecord
from server.planning import plan_route
from server.sheets import log_sheet
from server.units import LITRES_PER_US_GALLON
from tests.web.reading_pages import read
from tests.web.web_builders import a_route

FLIGHT = {
    "departure": "BRWE Brinna West",
    "destination": "BREA Brinna East",
    "altitude_ft": "9500",
    "day": "2026-04-11",
    "clock": "09:30",
    "aircraft": "BX-TRA four-seat tourer",
    "fuel_on_board": "120",
    "fuel_unit": "L",
    "reserve_rule": "icao-day",
    "winds.0.altitude_ft": "6000",
    "winds.0.from": "300",
    "winds.0.reference": "T",
    "winds.0.speed_kt": "18",
    "isa_deviation_c": "0",
}


def kept(served, number):
    with served.library.read() as work:
        return work.routes.get(number)


def press(served, number: int, what: str, fields: dict[str, str] | None = None):
    """Send a form of the route's page as the page stands now."""
    version = str(kept(served, number).version)
    return served.send(f"{served.at}/routes/{number}/{what}", {"version": version, **(fields or {})})


def make(served, **changes) -> str:
    """Make a route by its form and return its address."""
    answer = served.send(f"{served.at}/routes/new", FLIGHT | changes)
    assert answer.status_code == 303, read(answer).words
    return answer.headers["location"]


def test_journey_from_start_page_to_printed_log_by_forms_alone(served):
    start = served.page("/")
    assert f'href="{served.at}/routes/new"' in start.html
    form = served.page(f"{served.at}/routes/new").form(f"{served.at}/routes/new")
    made = served.send(form.action, form.fields | FLIGHT)
    route = made.headers["location"]
    chain = served.page(route).form(f"{route}/chain")
    answer = served.send(chain.action, chain.fields)
    assert answer.status_code == 303 and "built=true" in answer.headers["location"]
    page = served.page(answer.headers["location"])
    assert "The beacon chain was found" in page.words
    number = int(route.rsplit("/", 1)[1])
    assert [point.kind for point in kept(served, number).points] == [PointKind.BEACON] * len(kept(served, number).points)
    assert len(kept(served, number).points) >= 1
    log = served.page(f"{route}/log")
    assert "Fuel covers taxi, trip and reserve" in log.words
    assert "<svg" in log.html and "page-a4.css" in log.html
    assert "page-letter.css" in served.page(f"{route}/log?paper=letter").html


def test_log_comes_as_pdf_text_and_json_that_tell_the_same(served):
    path = f"{served.at}/routes/{served.keep_route(points=(RoutePoint(kind=PointKind.BEACON, place_id=1),)).id}"
    for paper, height_pt in (("a4", 841.9), ("letter", 792.0)):
        answer = served.browser.get(f"{path}/log.pdf?paper={paper}")
        sheet = pypdf.PdfReader(io.BytesIO(answer.content)).pages[0]
        assert answer.headers["content-type"] == "application/pdf"
        assert max(sheet.mediabox.width, sheet.mediabox.height) == pytest.approx(height_pt, abs=0.5)
        assert "KEV" in sheet.extract_text()
    text = served.browser.get(f"{path}/log.txt")
    assert text.headers["content-type"].startswith("text/plain") and "113.35" in text.text
    assert json.loads(served.browser.get(f"{path}/log.json").content)["route"]["name"] == "West to east"
    for drawing in ("chart.svg", "section.svg"):
        answer = served.browser.get(f"{path}/{drawing}")
        assert answer.headers["content-type"] == "image/svg+xml" and answer.text.startswith("<svg")
    assert served.browser.get(f"{path}/log.pdf?paper=a9").status_code == 422


def test_page_and_pdf_show_the_same_words_and_numbers(served):
    points = tuple(RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons[ident]) for ident in ("KEV", "PYL"))
    path = f"{served.at}/routes/{served.keep_route(points=points).id}"
    sheet = log_sheet(plan_route(served.library, served.browser.app.state.desk.terrain_store, int(path.rsplit("/", 1)[1])).log)
    page = served.page(f"{path}/log").words
    pdf = pypdf.PdfReader(io.BytesIO(served.browser.get(f"{path}/log.pdf").content))
    printed = " ".join(" ".join(sheet.extract_text() for sheet in pdf.pages).split())
    shown = [sheet.total_distance, sheet.total_time, sheet.arrival, sheet.fuel_verdict, sheet.caution, sheet.fictional_notice]
    for leg in sheet.legs:
        shown += [leg.heading_magnetic, leg.heading_compass, leg.altitude, leg.time, leg.arrival, leg.distance, leg.wind, leg.fuel]
        shown += [leg.track_true, leg.track_magnetic, leg.groundspeed, leg.true_airspeed]
        shown += [tune.frequency for tune in leg.tune] + [tune.set_course for tune in leg.tune]
    assert not [text for text in shown if text not in page], "on the page"
    assert not [text for text in shown if text.replace(" ", "") not in printed.replace(" ", "")], "in the PDF"


def test_form_of_a_route_is_kept_as_typed(served):
    path = make(served, fuel_on_board="30", fuel_unit="US gal", remarks="Mind the ridge")
    route = kept(served, int(path.rsplit("/", 1)[1]))
    assert route.name == "BRWE to BREA" and route.altitude_ft == 9500
    assert route.departure_utc == datetime(2026, 4, 11, 9, 30, tzinfo=UTC)
    assert route.fuel_on_board_l == pytest.approx(30 * LITRES_PER_US_GALLON)
    assert (route.winds[0].from_deg, route.winds[0].reference) == (300, NorthReference.TRUE)


def test_route_form_saved_untouched_changes_only_the_version(served):
    before = served.keep_route(points=(RoutePoint(kind=PointKind.BEACON, place_id=1),))
    path = f"{served.at}/routes/{before.id}/edit"
    assert served.send(path, served.page(path).form(path).fields).status_code == 303
    after = kept(served, before.id)
    assert after.version == before.version + 1
    assert after == a_route(served.small, id=before.id, points=before.points, version=after.version)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"departure": ""}, "departure", "Departure: please choose one"),
        ({"departure": "XXXX"}, "departure", "is not in this region"),
        ({"departure": "BRCL"}, "departure", "is closed"),
        ({"altitude_ft": ""}, "altitude_ft", "please give a number in ft MSL"),
        ({"altitude_ft": "FL95"}, "altitude_ft", "not a plain number"),
        ({"altitude_ft": "95000"}, "altitude_ft", "is outside"),
        ({"day": ""}, "day", "the day is not"),
        ({"clock": ""}, "clock", "the UTC time is not"),
        ({"clock": "9:5"}, "clock", "two digits each"),
        ({"clock": "24:01"}, "clock", "two digits each"),
        ({"day": "2026-02-30"}, "day", "is not a day"),
        ({"winds.0.reference": ""}, "winds.0.reference", "counted from true (T) or magnetic (M) north"),
        ({"winds.0.from": "370"}, "winds.0.from", "370 degrees is outside 0 to 360"),
        ({"winds.0.speed_kt": "-3"}, "winds.0.speed_kt", "-3 kt is outside"),
        ({"fuel_on_board": "nan"}, "fuel_on_board", "not a plain number"),
        ({"reserve_rule": "none"}, "reserve_rule", "choose one of the rules"),
        ({"isa_deviation_c": "1e1"}, "isa_deviation_c", "not a plain number"),
        ({"fuel_on_board": "12,5"}, "fuel_on_board", "Write decimals with a point, like 12.5"),
        ({"fuel_on_board": "1,200"}, "fuel_on_board", "has a comma, which can be read two ways"),
        ({"altitude_ft": "9,50"}, "altitude_ft", "thousands without a mark"),
        ({"altitude_ft": "60001"}, "altitude_ft", "is outside -1500 to 60000 ft MSL"),
    ],
)
def test_wrong_field_of_a_route_is_named_and_the_rest_is_kept(served, changes, field, words):
    answer = served.send(f"{served.at}/routes/new", FLIGHT | changes)
    page = read(answer)
    assert answer.status_code == 422 and words in page.words
    assert f'href="#{field}"' in page.html
    rest = {name: text for name, text in FLIGHT.items() if name not in changes and name not in ("departure",)}
    assert page.form(f"{served.at}/routes/new").fields.items() >= rest.items()


def test_height_may_be_typed_with_the_comma_it_is_printed_with(served):
    path = make(served, altitude_ft="9,500", **{"winds.0.altitude_ft": "6,000"})
    route = kept(served, int(path.rsplit("/", 1)[1]))
    assert (route.altitude_ft, route.winds[0].altitude_ft) == (9500, 6000)


def test_two_winds_at_one_altitude_are_refused(served):
    second = {"winds.1.altitude_ft": "6000", "winds.1.from": "10", "winds.1.reference": "M", "winds.1.speed_kt": "5"}
    answer = served.send(f"{served.at}/routes/new", FLIGHT | second)
    assert answer.status_code == 422 and "two rows are at the same altitude" in read(answer).words


def test_still_air_needs_no_direction(served):
    path = make(served, **{"winds.0.from": "", "winds.0.reference": "", "winds.0.speed_kt": "0"})
    assert kept(served, int(path.rsplit("/", 1)[1])).winds[0].speed_kt == 0


def test_midnight_written_as_24_00_is_the_next_day(served):
    path = make(served, clock="2400", day="2026-04-30")
    assert kept(served, int(path.rsplit("/", 1)[1])).departure_utc == datetime(2026, 5, 1, tzinfo=UTC)


def test_airfield_may_be_typed_by_ident_in_any_case(served):
    path = make(served, departure="brwe", destination="Brinna East")
    route = kept(served, int(path.rsplit("/", 1)[1]))
    assert (route.departure_airfield_id, route.destination_airfield_id) == (1, 2)


def test_ident_that_two_airfields_share_asks_which(served):
    with served.library.begin() as work:
        work.airfields.add(replace(work.airfields.get(1), id=None, name="The other one"))
    answer = served.send(f"{served.at}/routes/new", FLIGHT | {"departure": "BRWE"})
    assert answer.status_code == 422
    assert '2 go by the name "BRWE"' in read(answer).words and "BRWE The other one" in read(answer).words


def test_candidates_tell_distance_track_verdict_and_why(served):
    page = served.page(f"{served.at}/routes/{served.keep_route().id}")
    assert "Choose what comes after BRWE Brinna West" in page.words
    assert "Beacons that could come next" in page.words
    assert 'class="state received"' in page.html
    assert "Fly to KEV Kevlin next" in {label for form in page.forms for label in form.buttons}


def test_points_are_chosen_one_by_one_moved_and_taken_out(served):
    number = served.keep_route().id
    path = f"{served.at}/routes/{number}"
    for ident in ("KEV", "PYL"):
        page = served.page(path)
        form = next(form for form in page.forms if any(label.startswith(f"Fly to {ident} ") for label in form.buttons))
        name, value = next(button for label, button in form.buttons.items() if label.startswith(f"Fly to {ident} "))
        answer = served.send(form.action, form.fields | {name: value})
        assert answer.status_code == 303 and answer.headers["location"].endswith("#next")
    assert [point.place_id for point in kept(served, number).points] == [1, 3]
    press(served, number, "points/2/up")
    assert [point.place_id for point in kept(served, number).points] == [3, 1]
    press(served, number, "points/2/down")
    press(served, number, "points/9/remove")
    assert [point.place_id for point in kept(served, number).points] == [3, 1]
    press(served, number, "points/1/remove")
    assert [point.place_id for point in kept(served, number).points] == [1]
    assert served.browser.post(f"{path}/points/1/explode").status_code == 404


POINTS = {
    "airfield": ({"airfield": "BRMI"}, "BRMI Midholm"),
    "beacon": ({"beacon": "NB"}, "NB Nubb Point"),
    "checkpoint": ({"checkpoint": "Long Mere"}, "Long Mere"),
    "radial-distance": ({"rd_beacon": "KEV", "rd_radial": "045", "rd_distance": "12"}, "R-045 KEV, 12.0 NM"),
    "two-radials": (
        {"first_beacon": "KEV", "first_radial": "090", "second_beacon": "DRO", "second_radial": "180", "point_name": "Crossing"},
        "Crossing",
    ),
    "position": ({"point_lat": "43 30 N", "point_lon": "36 30 W", "point_name": "Our mark"}, "Our mark"),
}


@pytest.mark.parametrize("kind", POINTS)
def test_point_of_every_kind_is_added_and_shown(served, kind):
    number = served.keep_route().id
    fields, shown = POINTS[kind]
    answer = press(served, number, "points", {"point_kind": kind, "after": "0", **fields})
    assert answer.status_code == 303, read(answer).words
    assert kept(served, number).points[0].kind == kind
    page = served.page(f"{served.at}/routes/{number}")
    assert shown in page.words and "cannot be planned" not in page.words


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"point_kind": "radial-distance", "rd_beacon": "KEV", "rd_radial": "361", "rd_distance": "12"}, "361 degrees is outside"),
        ({"point_kind": "radial-distance", "rd_beacon": "", "rd_radial": "1", "rd_distance": "0"}, "Beacon: please choose one"),
        ({"point_kind": "two-radials", "first_beacon": "KEV", "second_beacon": "KEV"}, "meet only overhead"),
        ({"point_kind": "checkpoint", "checkpoint": "Nowhere"}, "is not in this region"),
        ({"point_kind": "position", "point_lat": "43 60 N", "point_lon": "36 W"}, "Position, latitude"),
        ({"point_kind": "wormhole"}, '"wormhole" is not one of'),
    ],
)
def test_wrong_point_is_refused_beside_its_field(served, fields, words):
    number = served.keep_route().id
    answer = press(served, number, "points", {"after": "0", **fields})
    assert answer.status_code == 422 and words in read(answer).words
    assert kept(served, number).points == ()


def test_fix_that_cannot_be_any_more_leaves_a_page_where_it_can_be_taken_out(served):
    crossing = {"kind": PointKind.TWO_RADIALS, "beacon_id": 1, "radial_deg": 270.0, "second_beacon_id": 2, "second_radial_deg": 90.0}
    number = served.keep_route(points=(RoutePoint(**crossing),)).id
    page = served.page(f"{served.at}/routes/{number}")
    assert "This route cannot be planned as it stands" in page.words
    press(served, number, "points/1/remove")
    assert "cannot be planned" not in served.page(f"{served.at}/routes/{number}").words


def test_no_chain_is_told_with_its_reason_and_the_route_stays(served):
    number = served.keep_route(altitude_ft=1500.0, points=(RoutePoint(kind=PointKind.CHECKPOINT, place_id=1),)).id
    answer = press(served, number, "chain")
    assert answer.status_code == 200
    assert "There is no chain at 1,500 ft whose every leg is received" in read(answer).words
    assert len(kept(served, number).points) == 1


def test_point_on_the_other_side_of_the_world_is_questioned_and_not_kept(served):
    fields = {"point_kind": "position", "point_lat": "36 30 S", "point_lon": "43 30 E", "after": "0"}
    number = served.keep_route().id
    version = kept(served, number).version
    answer = served.send(f"{served.at}/routes/{number}/points", fields | {"version": str(version)})
    assert answer.status_code == 422 and "Were latitude and longitude swapped" in read(answer).words
    assert kept(served, number).points == ()


def test_a_stored_route_with_a_leg_across_the_world_still_has_a_page_that_says_what_is_wrong(served):
    far = RoutePoint(kind=PointKind.POSITION, position=Position(lat_deg=-36.5, lon_deg=43.5))
    route = served.keep_route(points=(far,))
    page = served.page(f"{served.at}/routes/{route.id}")
    assert "cannot be planned as it stands" in page.words and "NM long" in page.words
    assert served.browser.get(f"{served.at}/routes/{route.id}/log").status_code == 422


def test_copy_leads_to_the_form_of_an_equal_route(served):
    route = served.keep_route(points=(RoutePoint(kind=PointKind.BEACON, place_id=1),))
    answer = served.send(f"{served.at}/routes/{route.id}/copy", {})
    assert answer.headers["location"] == f"{served.at}/routes/{route.id + 1}/edit"
    copy = kept(served, route.id + 1)
    assert copy.name == "Copy of West to east" and copy.points == route.points


def test_change_made_meanwhile_by_someone_else_is_not_overwritten(served):
    route = served.keep_route()
    path = f"{served.at}/routes/{route.id}/edit"
    fields = served.page(path).form(path).fields
    served.send(path, fields | {"name": "Changed first"})
    answer = served.send(path, fields | {"name": "Changed second"})
    assert answer.status_code == 409 and "changed in another window or by someone else" in read(answer).words
    assert kept(served, route.id).name == "Changed first"


def test_route_is_removed_after_asking(served):
    route = served.keep_route()
    path = f"{served.at}/routes/{route.id}/remove"
    assert "the route West to east" in served.page(path).words
    assert served.send(path, {}).headers["location"] == f"{served.at}/routes"
    assert served.browser.get(f"{served.at}/routes/{route.id}").status_code == 404


def test_thing_of_another_region_is_not_found_under_this_one(served):
    route = served.keep_route()
    with served.library.begin() as work:
        work.regions.add(RegionRecord(slug="other", name="Other", fictional=False))
    for path in (f"routes/{route.id}", f"routes/{route.id}/log", "beacons/1", "airfields/1/edit", "checkpoints/1/remove"):
        assert served.browser.get(f"/regions/other/{path}").status_code == 404
    assert served.browser.post(f"/regions/other/routes/{route.id}/remove").status_code == 404
    assert kept(served, route.id)
    assert "FICTIONAL" not in served.page("/regions/other/beacons").words


def test_list_too_long_to_choose_from_is_typed_by_ident(served, monkeypatch):
    monkeypatch.setattr("server.web.route_pages.MOST_IN_A_LIST", 2)
    page = served.page(f"{served.at}/routes/new")
    assert '<select id="departure"' not in page.html and "type its ident" in page.words
    path = make(served, departure="BRWE", destination="BREA", aircraft="BX-TRA")
    assert kept(served, int(path.rsplit("/", 1)[1])).destination_airfield_id == 2


def test_fuel_in_kilograms_needs_an_aircraft_whose_fuel_density_is_kept(served):
    fields = {"fuel_on_board": "72", "fuel_unit": "kg"}
    refused = served.send(f"{served.at}/routes/new", FLIGHT | fields)
    assert refused.status_code == 422 and "Fuel in kilograms needs an aircraft whose fuel density is kept" in read(refused).words
    with served.library.begin() as work:
        work.aircraft.update(replace(work.aircraft.get(1), fuel_unit=FuelUnit.KILOGRAM, fuel_density_kg_per_l=0.72))
    path = make(served, **fields)
    assert kept(served, int(path.rsplit("/", 1)[1])).fuel_on_board_l == pytest.approx(100)
    assert served.page(f"{path}/edit").form(f"{path}/edit").fields["fuel_on_board"] == "72"
