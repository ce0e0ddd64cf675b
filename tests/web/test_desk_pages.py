"""The planning desk and the region workshop, spoken to as their scripts do: JSON in and out, and nothing kept that was not asked for."""

from __future__ import annotations

import io
import json
import math
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from datetime import date

import numpy as np
import pytest
from PIL import Image
from pyproj import Geod

from server.navigation import ConicProjection, PointKind, Position, Route, RoutePoint, variation
from server.persistence import RegionRecord
from server.planning import plan_route
from server.planning.crest_work import CrestWork
from server.planning.route_shelf import MOST_POINTS
from server.radio import ComponentKind, ComponentStatus
from server.sheets.relief import SEA_COLOUR
from server.web import desk_pages
from server.web.after_change import AfterChange
from server.web.pages import Fragment
from tests.web.reading_pages import read
from tests.web.template_names import names_wanted

GEOD = Geod(ellps="WGS84")
NM = 1852.0
DAY = "2026-04-11"


def post(served, path: str, body, **changes):
    """Send JSON as the scripts do."""
    return served.browser.post(path, json=body, **changes)


def a_draft(served, **changes) -> dict:
    """West to east over KEV and PYL, not kept yet."""
    small = served.small
    values = {
        "departure_id": small.airfields["BRWE"],
        "destination_id": small.airfields["BREA"],
        "altitude_ft": 7_500.0,
        "points": [over(small.beacons["KEV"]), over(small.beacons["PYL"])],
    }
    return values | changes


def over(beacon_id: int) -> dict:
    return {"kind": "beacon", "place_id": beacon_id}


def at(lat_deg: float, lon_deg: float, **changes) -> dict:
    return {"kind": "position", "lat_deg": lat_deg, "lon_deg": lon_deg} | changes


def all_kept(served) -> tuple[Route, ...]:
    with served.library.read() as work:
        return tuple(work.routes.list(served.small.region.id))


def elsewhere(served) -> dict[str, int]:
    """Another region with an airfield, a beacon and a route of its own; their numbers."""
    small = served.small
    with served.library.begin() as work:
        region = work.regions.add(RegionRecord(slug="elsewhere", name="Elsewhere", fictional=True))
        field = work.airfields.get(small.airfields["BRWE"])
        beacon = work.beacons.get(small.beacons["KEV"])
        there = work.airfields.add(replace(field, id=None, region_id=region.id, ident="ELSE")).id
        station = work.beacons.add(replace(beacon, id=None, region_id=region.id, ident="ELS")).id
        route = work.routes.add(
            Route(region_id=region.id, name="There", departure_airfield_id=there, destination_airfield_id=there, altitude_ft=3_000.0)
        )
    return {"airfield": there, "beacon": station, "route": route.id}


# --- pages ----------------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "title"),
    [("{at}/desk", "Planning desk"), ("{at}/routes/1/desk", "Desk: West to east"), ("{at}/workshop", "Region workshop")],
)
def test_page_opens_with_one_heading_and_says_what_to_do_without_scripts(served, path, title):
    served.keep_route()
    page = served.page(path.format(at=served.at))
    assert page.title.startswith(f"{title} –")
    assert page.html.count("<h1") == 1 and 'aria-current="page"' in page.html
    assert "FICTIONAL REGION" in page.words
    assert re.search(r"<noscript>.*href=.*</noscript>", page.html, re.DOTALL)
    assert "style=" not in page.html
    unnamed = [number for number, spoken in page.named_fields if number not in page.labelled and not spoken]
    assert unnamed == []


def told_to_scripts(served, path: str) -> dict:
    html = served.page(path).html
    return json.loads(re.search(r'<script type="application/json" id="desk-told">(.*?)</script>', html, re.DOTALL)[1])


def test_the_desk_of_a_route_begins_with_it_and_a_desk_without_one_with_nothing(served):
    kept = served.keep_route(name="A < B & </script> C")
    told = told_to_scripts(served, f"{served.at}/routes/{kept.id}/desk")
    assert (told["draft"]["number"], told["draft"]["name"], told["altitude_ft"]) == (kept.id, kept.name, 7_500.0)
    assert told["chart"] == f"{served.at}/desk/chart?on={DAY}", "the day of the flight"
    assert told_to_scripts(served, f"{served.at}/desk")["draft"] is None


@pytest.mark.parametrize("path", ["/regions/nowhere/desk", "{at}/routes/99/desk", "{at}/routes/0/desk", "/regions/nowhere/workshop"])
def test_what_is_not_there_is_a_page_that_says_so(served, path):
    answer = served.browser.get(path.format(at=served.at))
    assert answer.status_code == 404 and read(answer).title


def test_the_route_of_another_region_has_no_desk_here(served):
    number = elsewhere(served)["route"]
    assert served.browser.get(f"{served.at}/routes/{number}/desk").status_code == 404


# --- chart and tiles ------------------------------------------------------------------------------------------------------------------


def chart(served, on: str = DAY) -> dict:
    answer = served.browser.get(f"{served.at}/desk/chart?on={on}")
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"
    return answer.json()


def test_the_chart_tells_projection_box_and_every_place_of_the_region(served):
    told = chart(served)
    fitted = ConicProjection.for_bounds(south=43.0, north=44.0, west=-37.0, east=-35.0)
    assert told["projection"] == {"lat1": fitted.lat_1, "lat2": fitted.lat_2, "lat0": fitted.lat_0, "lon0": fitted.lon_0}
    assert told["box"] == {"south": 43.0, "north": 44.0, "west": -37.0, "east": -35.0}
    assert {each["ident"]: each["id"] for each in told["beacons"]} == served.small.beacons
    assert {each["ident"]: each["id"] for each in told["airfields"]} == served.small.airfields
    assert {each["name"]: each["id"] for each in told["checkpoints"]} == served.small.checkpoints
    assert {each["ident"] for each in told["airfields"] if each["off"]} == {"BRCL"}
    assert set(told["symbols"]) >= {each["kind"] for each in told["beacons"]} | {"airfield", "checkpoint"}
    (kev,) = [each for each in told["beacons"] if each["ident"] == "KEV"]
    assert (kev["lat"], kev["lon"], kev["tune"]) == (43.40, -36.60, "113.35 MHz")


def test_the_rose_of_a_beacon_is_turned_to_its_own_alignment_on_the_plane(served):
    """KEV is turned 14 W; on the plane true north there stands off by the convergence of a conic chart: n (lon - lon0)."""
    (kev,) = [each for each in chart(served)["beacons"] if each["ident"] == "KEV"]
    assert kev["zero_true_deg"] == -14.0
    fitted = ConicProjection.for_bounds(south=43.0, north=44.0, west=-37.0, east=-35.0)
    n = math.sin(math.radians(43.5))  # of a cone that touches in the middle; the secant one differs by less than 0.001
    assert kev["zero_grid_deg"] == pytest.approx(-14.0 - n * (-36.60 - fitted.lon_0), abs=0.002)


def test_a_station_that_nobody_aligned_has_a_rose_by_the_magnetic_model_and_says_so(served):
    (ost,) = [each for each in chart(served)["beacons"] if each["ident"] == "OST"]
    model = variation(Position(lat_deg=43.20, lon_deg=-35.30), date.fromisoformat(DAY)).deg
    assert ost["zero_true_deg"] == pytest.approx(model, abs=0.01)
    assert ost["north"] != next(each for each in chart(served)["beacons"] if each["ident"] == "KEV")["north"]


def test_a_beacon_is_off_the_air_on_the_days_of_its_outage_only(served):
    def off(on: str) -> set[str]:
        return {each["ident"] for each in chart(served, on)["beacons"] if each["off"]}

    assert (off("2026-05-31"), off("2026-06-01"), off("2026-06-14"), off("2026-06-15")) == (set(), {"PYL"}, {"PYL"}, set())


def test_lines_of_equal_variation_belong_to_the_day_asked(served):
    assert chart(served)["lines"]["variation_day"] == DAY
    assert chart(served, "2029-04-11")["lines"]["variation"] != chart(served)["lines"]["variation"]


@pytest.mark.parametrize("on", ["1899-12-31", "2201-01-01"])
def test_a_day_no_flight_can_have_is_refused_in_values(served, on):
    answer = served.browser.get(f"{served.at}/desk/chart?on={on}")
    assert answer.status_code == 422 and answer.json()["code"] == "chart-day"
    assert "1900 to 2200" in answer.json()["trouble"]


@pytest.mark.parametrize("on", ["", "yesterday", "2026-02-30", "NaN"])
def test_a_day_that_is_none_is_refused(served, on):
    answer = served.browser.get(f"{served.at}/desk/chart?on={on}")
    assert answer.status_code == 422 and "Traceback" not in answer.text


def test_the_chart_of_an_empty_region_without_box_and_ground_opens(served):
    with served.library.begin() as work:
        work.regions.add(RegionRecord(slug="bare", name="Bare", fictional=True))
    answer = served.browser.get(f"/regions/bare/desk/chart?on={DAY}")
    assert answer.status_code == 200
    told = answer.json()
    assert (told["beacons"], told["lines"]["quadrangles"], told["lines"]["spots"]) == ([], [], [])
    assert told["tiles"] is None, "a region without ground has no tiles to ask for"


def test_a_region_across_the_antimeridian_without_a_box_is_charted_in_one_piece(served):
    field = next(each for each in served.small.airfields.values())
    with served.library.begin() as work:
        region = work.regions.add(RegionRecord(slug="dateline", name="Dateline", fictional=True))
        pattern = work.airfields.get(field)
        for ident, lon_deg in (("DLW", 179.2), ("DLE", -179.1)):
            place = Position(lat_deg=-17.0, lon_deg=lon_deg)
            work.airfields.add(replace(pattern, id=None, region_id=region.id, ident=ident, position=place))
    told = served.browser.get(f"/regions/dateline/desk/chart?on={DAY}").json()
    assert told["box"]["west"] == pytest.approx(178.7) and told["box"]["east"] == pytest.approx(181.4)
    assert abs(told["projection"]["lon0"]) == pytest.approx(179.95, abs=0.2)


def pixels(answer) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(answer.content)).convert("RGBA")).astype(float)


def test_a_tile_is_a_webp_picture_that_the_browser_may_keep_for_a_year(served):
    answer = served.browser.get(chart(served)["tiles"].format(z=3, x=0, y=0))
    assert answer.status_code == 200 and answer.headers["content-type"] == "image/webp"
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    seen = pixels(answer)
    assert seen.shape == (256, 256, 4) and (seen[..., 3] == 255.0).any()
    assert (np.abs(seen[..., :3] - SEA_COLOUR).max(axis=2) > 20.0).any(), "there is land on it"


def test_a_tile_of_another_state_of_the_ground_is_not_there(served):
    address = chart(served)["tiles"].format(z=3, x=0, y=0)
    other = re.sub(r"/relief/[0-9a-f]+/", "/relief/0123456789abcdef/", address)
    answer = served.browser.get(other)
    assert answer.status_code == 404 and "Open the page again" in read(answer).words
    assert "immutable" not in answer.headers.get("cache-control", "")


def test_changing_the_projection_of_a_region_changes_the_address_of_its_tiles(served):
    before = chart(served)["tiles"]
    with served.library.begin() as work:
        region = work.regions.by_slug("brinna")
        moved = {"standard_parallel_1_deg": 43.1, "standard_parallel_2_deg": 43.9, "central_parallel_deg": 43.5}
        work.regions.update(replace(region, central_meridian_deg=-36.2, **moved))
    assert chart(served)["tiles"] != before
    assert served.browser.get(before.format(z=3, x=0, y=0)).status_code == 404


@pytest.mark.parametrize("place", ["9/0/0", "-3/0/0", "3/100001/0", "3/0/-100001", "3/x/0", "3/0.5/0"])
def test_a_tile_that_cannot_be_is_not_there(served, place):
    address = chart(served)["tiles"].partition("{z}")[0]
    assert served.browser.get(f"{address}{place}.webp").status_code == 404


def test_a_tile_far_outside_the_region_is_transparent(served):
    answer = served.browser.get(chart(served)["tiles"].format(z=8, x=100_000, y=-100_000))
    assert answer.status_code == 200 and (pixels(answer)[..., 3] == 0.0).all()


def test_a_tile_is_drawn_once(served, monkeypatch):
    drawn = []
    real = desk_pages.relief_tile_webp
    monkeypatch.setattr(desk_pages, "relief_tile_webp", lambda *told, **place: drawn.append(place) or real(*told, **place))
    address = chart(served)["tiles"].format(z=5, x=0, y=0)
    assert served.browser.get(address).content == served.browser.get(address).content
    assert len(drawn) == 1


# --- a route tried and kept -----------------------------------------------------------------------------------------------------------


def test_trying_a_route_answers_with_legs_section_and_words_and_keeps_nothing(served):
    answer = post(served, f"{served.at}/desk/try", a_draft(served))
    assert answer.status_code == 200 and answer.headers["cache-control"] == "no-store"
    told = answer.json()
    assert [stop["ident"] for stop in told["stops"]] == ["BRWE", "KEV", "PYL", "BREA"]
    assert [leg["number"] for leg in told["legs"]] == [1, 2, 3]
    assert told["path"] == "" and told["section"].startswith("<svg") and 'class="desk-legs"' in told["panel"]
    assert all_kept(served) == ()


def test_legs_are_as_long_as_pyproj_says_and_stretches_cover_what_they_say(served):
    told = post(served, f"{served.at}/desk/try", a_draft(served)).json()
    for leg, (start, end) in zip(told["legs"], zip(told["stops"], told["stops"][1:], strict=False), strict=True):
        *_, away_m = GEOD.inv(start["lon"], start["lat"], end["lon"], end["lat"])
        assert leg["length_nm"] == pytest.approx(away_m / NM, abs=1e-6)
        assert leg["line"][0] == pytest.approx([start["lat"], start["lon"]], abs=1e-6)
        assert leg["line"][-1] == pytest.approx([end["lat"], end["lon"]], abs=1e-6)
        for part in leg["stretches"]:
            assert part["state"] in {"received", "marginal", "unknown", "not-received"}
            for place, along in ((part["line"][0], part["from_nm"]), (part["line"][-1], part["to_nm"])):
                *_, from_start_m = GEOD.inv(start["lon"], start["lat"], place[1], place[0])
                assert from_start_m / NM == pytest.approx(along, abs=0.01)


def test_the_desk_says_what_the_log_says(served):
    """The same route, kept and planned in full: guidance, changeover and stretches of every leg."""
    stations = (served.small.beacons[ident] for ident in ("KEV", "PYL"))
    route = served.keep_route(points=tuple(RoutePoint(kind=PointKind.BEACON, place_id=number) for number in stations))
    told = post(served, f"{served.at}/desk/try", a_draft(served, number=route.id, version=route.version)).json()
    desk = served.browser.app.state.desk
    log = plan_route(served.library, desk.terrain_store, route.id).log
    for leg, planned in zip(told["legs"], log.legs, strict=True):
        assert [each["ident"] for each in leg["guidance"]] == [each.beacon.ident for each in planned.guidance]
        assert [each["selected_course_deg"] for each in leg["guidance"]] == [each.selected_course_deg for each in planned.guidance]
    assert told["path"] == f"{served.at}/routes/{route.id}"
    assert told["spoken"].startswith("3 legs, ")


def test_keeping_a_new_route_stores_it_under_the_idents_of_its_ends(served):
    answer = post(served, f"{served.at}/desk/keep", a_draft(served))
    assert answer.status_code == 200
    (route,) = all_kept(served)
    assert (route.name, route.version, len(route.points)) == ("BRWE to BREA", 1, 2)
    told = answer.json()
    assert (told["draft"]["number"], told["draft"]["version"]) == (route.id, 1)
    assert told["path"] == f"{served.at}/routes/{route.id}"


def test_keeping_a_changed_route_raises_its_version_and_leaves_the_rest_of_the_flight(served):
    route = served.keep_route()
    body = told_to_scripts(served, f"{served.at}/routes/{route.id}/desk")["draft"]
    body["points"] = [at(43.5, -36.0, name="Over there")]
    told = post(served, f"{served.at}/desk/keep", body).json()
    (kept,) = all_kept(served)
    assert told["draft"]["version"] == kept.version == route.version + 1
    assert kept == replace(route, version=kept.version, points=kept.points)
    assert kept.points == (RoutePoint(kind=PointKind.POSITION, name="Over there", position=Position(lat_deg=43.5, lon_deg=-36.0)),)


POINTS = [
    {"kind": "beacon", "place_id": 1},
    {"kind": "airfield", "place_id": 3},
    {"kind": "checkpoint", "place_id": 1},
    {"kind": "position", "lat_deg": 43.5, "lon_deg": -36.0, "name": "Here"},
    {"kind": "radial-distance", "beacon_id": 1, "radial_deg": 90.0, "distance_nm": 12.0, "name": "Fix"},
    {"kind": "two-radials", "beacon_id": 1, "radial_deg": 100.0, "second_beacon_id": 2, "second_radial_deg": 190.0, "name": "Cross"},
]


def test_every_kind_of_point_comes_back_as_it_was_sent(served):
    assert {point["kind"] for point in POINTS} == {kind.value for kind in PointKind}
    onward = {"altitude_ft": 6_500.0, "changeover_nm": 4.0, "changeover_reason": "as on the sheet"}
    sent = [dict(point, onward=onward) for point in POINTS]
    answer = post(served, f"{served.at}/desk/keep", a_draft(served, points=sent))
    assert answer.status_code == 200, answer.text
    back = answer.json()["draft"]["points"]
    assert [{name: value for name, value in point.items() if value not in (None, "")} for point in back] == [
        {name: value for name, value in point.items() if value not in (None, "")} for point in sent
    ]
    again = post(served, f"{served.at}/desk/keep", answer.json()["draft"]).json()
    assert again["draft"]["points"] == back


def test_a_stale_version_is_answered_with_what_is_there_now_and_changes_nothing(served):
    route = served.keep_route()
    with served.library.begin() as work:
        meanwhile = work.routes.update(replace(route, altitude_ft=9_500.0))
    body = a_draft(served, number=route.id, version=route.version, altitude_ft=5_500.0)
    answer = post(served, f"{served.at}/desk/keep", body)
    assert answer.status_code == 409
    told = answer.json()
    assert told["code"] == "stale-version" and "changed" in told["trouble"]
    assert (told["present"]["version"], told["present"]["altitude_ft"]) == (meanwhile.version, 9_500.0)
    assert all_kept(served) == (meanwhile,)
    taken = post(served, f"{served.at}/desk/keep", body | {"version": told["present"]["version"]})
    assert taken.status_code == 200, "put in its place, knowingly"


def test_a_route_tried_again_follows_a_beacon_that_was_moved_meanwhile(served):
    before = post(served, f"{served.at}/desk/try", a_draft(served)).json()
    post(served, shop(served, f"beacons/{served.small.beacons['KEV']}/move"), {"lat": 43.6, "lon": -36.5})
    after = post(served, f"{served.at}/desk/try", a_draft(served)).json()
    assert (before["stops"][1]["lat"], before["stops"][1]["lon"]) == (43.40, -36.60)
    assert (after["stops"][1]["lat"], after["stops"][1]["lon"]) == (43.6, -36.5)
    assert after["legs"][0]["length_nm"] != before["legs"][0]["length_nm"]


def test_trying_a_stale_version_is_no_conflict(served):
    route = served.keep_route()
    with served.library.begin() as work:
        work.routes.update(replace(route, altitude_ft=9_500.0))
    assert post(served, f"{served.at}/desk/try", a_draft(served, number=route.id, version=route.version)).status_code == 200


def cannot_be_planned(served) -> dict[str, dict]:
    kev = served.small.beacons["KEV"]
    fix = {"kind": "two-radials", "beacon_id": kev, "radial_deg": 90.0, "second_beacon_id": served.small.beacons["DRO"]}
    return {
        "radials that do not cross": {"points": [dict(fix, second_radial_deg=90.0)]},
        "no altitude": {"altitude_ft": None},
        "an altitude above all": {"altitude_ft": 70_000.0},
        "a position without longitude": {"points": [{"kind": "position", "lat_deg": 43.5}]},
        "a beacon without a number": {"points": [{"kind": "beacon"}]},
        "a beacon that is not there": {"points": [over(999)]},
        "a departure that is not there": {"departure_id": 999},
    }


CASES = (
    "radials that do not cross", "no altitude", "an altitude above all", "a position without longitude", "a beacon without a number",
    "a beacon that is not there", "a departure that is not there",
)  # fmt: skip


@pytest.mark.parametrize("way", ["try", "keep"])
@pytest.mark.parametrize("case", CASES)
def test_what_cannot_be_planned_is_refused_in_words_and_not_kept(served, case, way):
    answer = post(served, f"{served.at}/desk/{way}", a_draft(served, **cannot_be_planned(served)[case]))
    assert answer.status_code in (404, 422), answer.text
    told = answer.json()
    assert set(told) == {"trouble", "code"} and len(told["trouble"]) > 15
    assert all_kept(served) == ()


def test_a_kept_route_that_becomes_impossible_stays_as_it_was(served):
    route = served.keep_route()
    answer = post(served, f"{served.at}/desk/keep", a_draft(served, number=route.id, version=route.version, altitude_ft=70_000.0))
    assert answer.status_code == 422 and answer.json()["code"] == "altitude"
    assert all_kept(served) == (route,)


@pytest.mark.parametrize("way", ["try", "keep"])
@pytest.mark.parametrize("what", ["departure", "destination", "airfield", "beacon", "fix", "route"])
def test_nothing_of_another_region_can_be_used_here(served, what, way):
    there = elsewhere(served)
    changes = {
        "departure": {"departure_id": there["airfield"]},
        "destination": {"destination_id": there["airfield"]},
        "airfield": {"points": [{"kind": "airfield", "place_id": there["airfield"]}]},
        "beacon": {"points": [over(there["beacon"])]},
        "fix": {"points": [{"kind": "radial-distance", "beacon_id": there["beacon"], "radial_deg": 90.0, "distance_nm": 9.0}]},
        "route": {"number": there["route"]},
    }[what]
    answer = post(served, f"{served.at}/desk/{way}", a_draft(served, **changes))
    assert answer.status_code == 404, answer.text
    assert answer.json()["trouble"] and all_kept(served) == ()
    with served.library.read() as work:
        assert work.routes.get(there["route"]).name == "There"


def test_a_removed_route_is_not_there_any_more(served):
    route = served.keep_route()
    with served.library.begin() as work:
        work.routes.remove(route.id)
    answer = post(served, f"{served.at}/desk/keep", a_draft(served, number=route.id, version=route.version))
    assert answer.status_code == 404 and answer.json()["code"] == "not-found"
    assert all_kept(served) == ()


def a_zigzag(count: int) -> list[dict]:
    return [at(43.4 + 0.1 * (k % 2), -36.8 + 1.5 * k / count) for k in range(count)]


@pytest.mark.parametrize("way", ["try", "keep"])
def test_a_route_of_more_than_100_points_is_refused_in_words(served, way):
    answer = post(served, f"{served.at}/desk/{way}", a_draft(served, points=a_zigzag(MOST_POINTS + 1)))
    assert answer.status_code == 422
    assert answer.json() == {"trouble": "A route may have 100 points between its ends. Split the flight.", "code": "too-many-points"}
    assert all_kept(served) == ()


def test_a_route_of_100_points_is_kept(served):
    assert post(served, f"{served.at}/desk/keep", a_draft(served, points=a_zigzag(MOST_POINTS))).status_code == 200
    assert len(all_kept(served)[0].points) == 100


BAD_BODIES = {
    "not JSON": b"{",
    "empty": b"",
    "a list": b"[]",
    "nothing": b"null",
    "not UTF-8": b'{"departure_id": "\xff"}',
    "no ends": b"{}",
    "NaN": b'{"departure_id": 1, "destination_id": 2, "altitude_ft": NaN}',
    "infinite": b'{"departure_id": 1, "destination_id": 2, "altitude_ft": 1e999}',
    "a place of NaN": b'{"departure_id": 1, "destination_id": 2, "points": [{"kind": "position", "lat_deg": NaN, "lon_deg": 0}]}',
    "a place off the earth": b'{"departure_id": 1, "destination_id": 2, "points": [{"kind": "position", "lat_deg": 91, "lon_deg": 0}]}',
    "a kind nobody knows": b'{"departure_id": 1, "destination_id": 2, "points": [{"kind": "balloon"}]}',
    "a field nobody knows": b'{"departure_id": 1, "destination_id": 2, "pilot": "me"}',
    "a field called path": b'{"departure_id": 1, "destination_id": 2, "path": "/"}',
    "a number as large as a page": b'{"departure_id": ' + b"9" * 5000 + b', "destination_id": 2}',
    "a name too long": b'{"departure_id": 1, "destination_id": 2, "name": "' + b"n" * 81 + b'"}',
    "half a radial": b'{"departure_id": 1, "destination_id": 2, "points": [{"kind": "position", "radial_deg": -1}]}',
    "nested": b"[" * 4000 + b"]" * 4000,
    "far too many points": b'{"departure_id": 1, "destination_id": 2, "points": [' + b",".join([b'{"kind": "beacon"}'] * 1001) + b"]}",
}


@pytest.mark.parametrize("way", ["try", "keep"])
@pytest.mark.parametrize("body", BAD_BODIES)
def test_a_body_that_makes_no_route_is_refused_in_values_the_script_can_show(served, body, way):
    answer = served.browser.post(f"{served.at}/desk/{way}", content=BAD_BODIES[body], headers={"Content-Type": "application/json"})
    assert answer.status_code in (400, 422), answer.text
    assert answer.headers["content-type"].startswith("application/json"), "else the script takes it for a lost line and sends it again"
    assert answer.json()["trouble"].endswith(".") and answer.json()["code"]
    assert all_kept(served) == ()


def test_a_body_of_too_many_bytes_is_refused(served):
    answer = served.browser.post(f"{served.at}/desk/try", content=b" " * (11 * 1024 * 1024), headers={"Content-Type": "application/json"})
    assert answer.status_code == 413


def test_a_page_of_another_site_cannot_keep_a_route(served):
    answer = post(served, f"{served.at}/desk/keep", a_draft(served), headers={"Origin": "http://elsewhere.example"})
    assert answer.status_code == 403 and all_kept(served) == ()


def test_a_broken_server_tells_the_script_so(served, monkeypatch):
    monkeypatch.setattr(desk_pages, "answer_of", lambda *_told, **_more: 1 / 0)
    answer = post(served, f"{served.at}/desk/keep", a_draft(served))
    assert answer.status_code == 500
    assert "nothing was changed" in answer.json()["trouble"] and "ZeroDivision" not in answer.text
    assert all_kept(served) == ()


# --- a place --------------------------------------------------------------------------------------------------------------------------


def place(served, **asked):
    return served.browser.get(f"{served.at}/desk/place", params={"lat": 43.4, "lon": -36.5, "altitude_ft": 6_500} | asked)


@pytest.mark.parametrize(("lat", "lon", "altitude_ft"), [(43.4, -36.5, 6_500), (43.3, -35.9, 3_000), (43.2, -36.85, 1_500)])
def test_a_place_is_told_as_the_page_of_what_is_heard_tells_it(served, lat, lon, altitude_ft):
    card = place(served, lat=lat, lon=lon, altitude_ft=altitude_ft).json()["card"]
    assert card.strip() in served.page(f"{served.at}/heard?position={lat},{lon}&altitude_ft={altitude_ft}").html
    assert card.count("<tr>") >= 8
    assert "113.35 MHz" in card and "bearing to it" in card


def test_the_lines_of_a_place_run_from_their_stations_to_it_and_the_ellipse_lies_round_it(served):
    told = place(served).json()
    assert len(told["lines"]) in (1, 2), "of one station with its DME, or of two"
    assert all(line[1] == [43.4, -36.5] for line in told["lines"])
    lat_deg, lon_deg = np.array(told["ellipse"]).T
    size = np.ones(lat_deg.shape)
    _, _, away_m = GEOD.inv(size * -36.5, size * 43.4, lon_deg, lat_deg)
    axes = re.search(r"half axes ([\d.]+) by ([\d.]+) NM", told["card"])
    assert away_m.max() / NM == pytest.approx(float(axes[1]), abs=0.06)
    assert away_m.min() / NM == pytest.approx(float(axes[2]), abs=0.06)
    assert away_m[0] / NM == pytest.approx(away_m.max() / NM, rel=0.001), "the first corner ends the long axis"


def test_with_a_beacon_tuned_the_card_has_its_indicator_and_says_it_in_words(served):
    kev = served.small.beacons["KEV"]
    told = place(served, beacon=kev, selected=90).json()["card"]
    assert "<svg" in told and "with 090 set" in told and "KEV" in told
    assert "<svg" not in place(served, beacon=kev).json()["card"], "without a course there is nothing to draw"
    assert "<svg" not in place(served).json()["card"]


def test_overhead_the_tuned_beacon_the_card_says_so(served):
    card = place(served, lat=43.40, lon=-36.60, altitude_ft=7_500, beacon=served.small.beacons["KEV"], selected=90).json()["card"]
    assert "overhead, needle and flag mean nothing here" in card and "<svg" not in card


def test_below_the_ground_is_told_in_words(served):
    answer = place(served, lat=43.5, lon=-36.05, altitude_ft=2_000)
    assert answer.status_code == 422 and answer.json()["code"] == "below-ground"
    assert "Give a higher altitude" in answer.json()["trouble"]


@pytest.mark.parametrize("asked", [{"altitude_ft": 60_001}, {"altitude_ft": -5_000}])
def test_an_impossible_altitude_is_told_in_words(served, asked):
    answer = place(served, **asked)
    assert answer.status_code == 422 and answer.json()["code"] == "altitude"


@pytest.mark.parametrize(
    "asked",
    [
        {"lat": "nan"}, {"lon": "nan"}, {"altitude_ft": "nan"}, {"altitude_ft": "inf"}, {"lat": 90.5}, {"lon": -180.5}, {"lat": ""},
        {"selected": 361}, {"selected": "nan"}, {"beacon": 0}, {"route": "first"}, {"route": 99999999999},
    ],
)  # fmt: skip
def test_a_place_that_is_none_is_refused(served, asked):
    answer = place(served, **asked)
    assert answer.status_code == 422 and "Traceback" not in answer.text


@pytest.mark.parametrize(("lat", "lon"), [(90.0, 0.0), (-90.0, 180.0), (0.0, -180.0)])
def test_a_pole_and_the_antimeridian_are_places_too(served, lat, lon):
    told = place(served, lat=lat, lon=lon)
    assert told.status_code == 200 and "No beacon of this region lies within 130 NM" in told.json()["card"]


def test_the_route_of_another_region_is_not_asked_about_here(served):
    answer = place(served, route=elsewhere(served)["route"])
    assert answer.status_code == 404 and answer.json()["code"] == "not-found"


def test_with_a_route_the_way_to_an_airfield_has_a_heading_and_a_time(served):
    route = served.keep_route()
    assert "steer" in place(served, route=route.id).json()["card"]
    assert "steer" not in place(served).json()["card"]


# --- the workshop ---------------------------------------------------------------------------------------------------------------------


def beacon(served, ident: str = "KEV"):
    with served.library.read() as work:
        return work.beacons.get(served.small.beacons[ident])


def shop(served, what: str) -> str:
    return f"{served.at}/workshop/{what}"


def test_a_beacon_tried_elsewhere_is_answered_with_its_coverage_and_not_moved(served):
    before = beacon(served)
    answer = post(served, shop(served, f"beacons/{before.id}/try"), {"lat": 43.5, "lon": -36.4, "altitude_ft": 6_500, "take_ground": True})
    assert answer.status_code == 200
    told = answer.json()
    *_, away_m = GEOD.inv(-36.60, 43.40, -36.4, 43.5)
    assert told["away"] == f"{away_m / NM:.1f} NM"
    assert told["ground"] == told["elevation"], "the ground is taken"
    assert "received" in {each["properties"]["state"] for each in told["areas"]["features"]}
    assert beacon(served) == before


def test_a_moved_beacon_is_kept_and_the_routes_over_it_are_named_with_their_address(served):
    kev = beacon(served)
    route = served.keep_route(points=(RoutePoint(kind=PointKind.BEACON, place_id=kev.id),))
    told = post(served, shop(served, f"beacons/{kev.id}/move"), {"lat": 43.5, "lon": -36.4}).json()
    assert told["routes"] == [{"name": "West to east", "path": f"{served.at}/routes/{route.id}"}]
    assert beacon(served) == replace(kev, position=Position(lat_deg=43.5, lon_deg=-36.4))


@pytest.mark.parametrize(("shelf", "name"), [("airfields", "BRWE"), ("checkpoints", "Long Mere")])
def test_airfields_and_checkpoints_are_moved_too(served, shelf, name):
    number = getattr(served.small, shelf)[name]
    answer = post(served, shop(served, f"{shelf}/{number}/move"), {"lat": 43.5, "lon": -36.4, "take_ground": True})
    assert answer.status_code == 200, answer.text
    with served.library.read() as work:
        assert getattr(work, shelf).get(number).position == Position(lat_deg=43.5, lon_deg=-36.4)


SECTOR = {"part": "azimuth", "from_radial_deg": 340, "to_radial_deg": 20, "beyond_nm": 20, "below_altitude_ft": 5000, "source": "check"}


def test_a_drawn_sector_is_shown_as_it_lies_and_kept_when_asked(served):
    number = served.small.beacons["KEV"]
    shown = served.browser.get(shop(served, f"beacons/{number}/sector.geojson"), params=SECTOR)
    assert shown.status_code == 200 and shown.headers["content-type"] == "application/geo+json"
    (feature,) = shown.json()["features"]
    lon_deg, lat_deg = np.array(feature["geometry"]["coordinates"][0]).T
    size = np.ones(lat_deg.shape)
    bearing_deg, _, away_m = GEOD.inv(size * -36.60, size * 43.40, lon_deg, lat_deg)
    reads = (bearing_deg + 14.0 + 180.0) % 360.0 - 180.0  # KEV is turned 14 W
    assert (reads.min(), reads.max()) == (pytest.approx(-20.0, abs=0.01), pytest.approx(20.0, abs=0.01))
    assert (away_m.min() / NM, away_m.max() / NM) == (pytest.approx(20.0, abs=0.01), pytest.approx(40.0, abs=0.01))
    assert beacon(served).component(ComponentKind.AZIMUTH).unusable == ()
    assert post(served, shop(served, f"beacons/{number}/sector"), SECTOR).json() == {"kept": True}
    (kept,) = beacon(served).component(ComponentKind.AZIMUTH).unusable
    assert (kept.from_radial_deg, kept.to_radial_deg, kept.beyond_nm, kept.below_altitude_ft) == (340.0, 20.0, 20.0, 5_000.0)
    assert "340" in served.page(f"{served.at}/beacons/{number}").words


def test_a_sector_that_holds_nothing_is_refused(served):
    number = served.small.beacons["KEV"]
    answer = post(served, shop(served, f"beacons/{number}/sector"), SECTOR | {"within_nm": 10})
    assert answer.status_code == 422 and answer.json()["code"] == "sector-empty"
    assert beacon(served).component(ComponentKind.AZIMUTH).unusable == ()


@pytest.mark.parametrize(
    ("what", "body", "status"),
    [
        ("beacons/999/move", {"lat": 43.5, "lon": -36.4}, 404),
        ("aircraft/1/move", {"lat": 43.5, "lon": -36.4}, 404),
        ("beacons/0/move", {"lat": 43.5, "lon": -36.4}, 404),
        ("beacons/1/move", {"lat": 91, "lon": -36.4}, 422),
        ("beacons/1/move", {"lat": 43.5}, 422),
        ("beacons/1/move", {"lat": 43.5, "lon": -36.4, "height": 3}, 422),
        ("beacons/1/try", {"lat": 43.5, "lon": -36.4, "altitude_ft": 70_000}, 422),
        ("beacons/1/try", {"lat": 89.5, "lon": -36.4, "altitude_ft": 7_000}, 422),
        ("beacons/1/sector", {"part": "azimuth", "from_radial_deg": 340, "to_radial_deg": 380}, 422),
        ("beacons/1/sector", {"part": "nose", "from_radial_deg": 340, "to_radial_deg": 20}, 422),
        ("beacons/2/sector", {"part": "distance", "from_radial_deg": 340, "to_radial_deg": 20}, 404),
    ],
)
def test_what_the_workshop_cannot_do_is_told_in_values_and_changes_nothing(served, what, body, status):
    with served.library.read() as work:
        before = tuple(work.beacons.list(served.small.region.id))
    answer = post(served, shop(served, what), body)
    assert answer.status_code == status, answer.text
    with served.library.read() as work:
        assert tuple(work.beacons.list(served.small.region.id)) == before
    if status == 422:
        assert answer.json()["trouble"] and answer.json()["code"]


@pytest.mark.parametrize("body", [b'{"lat": NaN, "lon": 0}', b"{", b'{"lat": "north", "lon": 0}'])
def test_a_body_that_is_no_place_is_refused_by_the_workshop(served, body):
    answer = served.browser.post(shop(served, "beacons/1/move"), content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422 and answer.json()["trouble"]
    assert beacon(served).position == Position(lat_deg=43.40, lon_deg=-36.60)


@pytest.mark.parametrize("way", ["move", "try", "sector"])
def test_the_workshop_of_one_region_leaves_the_beacons_of_another_alone(served, way):
    number = elsewhere(served)["beacon"]
    body = {"move": {"lat": 43.5, "lon": -36.4}, "try": {"lat": 43.5, "lon": -36.4, "altitude_ft": 7_000}, "sector": SECTOR}[way]
    answer = post(served, shop(served, f"beacons/{number}/{way}"), body)
    assert answer.status_code == 404 and answer.json()["code"] == "not-found"


def test_a_withdrawn_beacon_is_tried_and_received_nowhere(served):
    kev = beacon(served)
    with served.library.begin() as work:
        gone = tuple(replace(part, status=ComponentStatus.WITHDRAWN) for part in kev.components)
        work.beacons.update(replace(kev, components=gone))
    told = post(served, shop(served, f"beacons/{kev.id}/try"), {"lat": 43.5, "lon": -36.4, "altitude_ft": 6_500}).json()
    assert "received" not in {each["properties"]["state"] for each in told["areas"]["features"]}


# --- what goes on behind --------------------------------------------------------------------------------------------------------------


@pytest.fixture
def looks(monkeypatch) -> list[str]:
    """Every time the background work is told that something may have changed. Asked for before ``served``."""
    told: list[str] = []
    monkeypatch.setattr(CrestWork, "look_again", lambda _self: told.append("look"))
    return told


def test_only_what_changes_something_wakes_the_background_work(looks, served):
    looks.clear()
    post(served, f"{served.at}/desk/try", a_draft(served))
    post(served, shop(served, "beacons/1/try"), {"lat": 43.5, "lon": -36.4, "altitude_ft": 6_500})
    chart(served)
    place(served)
    assert looks == []
    post(served, f"{served.at}/desk/keep", a_draft(served))
    assert len(looks) == 1
    post(served, shop(served, "beacons/1/move"), {"lat": 43.41, "lon": -36.6})
    assert len(looks) == 2


@pytest.mark.parametrize(
    ("method", "path", "told"),
    [
        ("POST", "/a/desk/keep", True), ("DELETE", "/a", True), ("POST", "/a/desk/try", False), ("GET", "/a", False), ("HEAD", "/a", False),
    ],
)  # fmt: skip
def test_after_change_tells_when_the_answer_is_out_and_skips_what_changes_nothing(method, path, told):
    order: list[str] = []

    async def app(_scope, _receive, _send):
        order.append("answered")

    wrapped = AfterChange(app, then=lambda: order.append("told"), unless=lambda address: address.endswith("/try"))
    with pytest.raises(StopIteration):  # nothing in it waits, so one step is the whole of it
        wrapped({"type": "http", "method": method, "path": path}, None, None).send(None)
    assert order == (["answered", "told"] if told else ["answered"])


@pytest.mark.parametrize("fragment", Fragment.__subclasses__(), ids=lambda fragment: fragment.__name__)
def test_the_template_of_a_fragment_receives_exactly_the_names_of_its_context(served, fragment):
    environment = served.browser.app.state.desk.pages.environment
    assert names_wanted(environment, fragment.template) == {field.name for field in fields(fragment)}


def test_desk_and_place_are_the_fragments_there_are():
    assert {each.__name__ for each in Fragment.__subclasses__()} >= {"DeskAnswer", "ProbeCard"}


def test_a_route_begun_twice_under_one_key_is_one_route(served):
    """The page did not get the first answer, and asks again."""
    begun = a_draft(served) | {"key": "a-key-of-the-page"}
    first, second = (post(served, f"{served.at}/desk/keep", begun | {"altitude_ft": feet}).json() for feet in (7_500, 6_500))
    assert first["draft"]["number"] == second["draft"]["number"] and first["path"] == second["path"]
    assert second["draft"]["version"] == first["draft"]["version"] + 1
    assert [route.altitude_ft for route in all_kept(served)] == [6_500]
    other = post(served, f"{served.at}/desk/keep", begun | {"key": "another"}).json()
    assert other["draft"]["number"] != first["draft"]["number"]


def test_a_route_begun_again_does_not_undo_what_another_changed_since(served):
    begun = a_draft(served) | {"key": "a-key-of-the-page"}
    first = post(served, f"{served.at}/desk/keep", begun).json()["draft"]
    other = post(served, f"{served.at}/desk/keep", first | {"altitude_ft": 9_500.0}).json()["draft"]
    again = post(served, f"{served.at}/desk/keep", begun)
    assert again.status_code == 409 and again.json()["present"] == other
    assert [route.altitude_ft for route in all_kept(served)] == [9_500.0]


def test_a_route_begun_again_unchanged_is_left_alone(served):
    begun = a_draft(served) | {"key": "a-key-of-the-page"}
    first, second = (post(served, f"{served.at}/desk/keep", begun).json()["draft"] for _ in range(2))
    assert first == second


def test_of_two_routes_begun_at_once_under_one_key_none_is_lost_without_a_word(served):
    """The second is a change of the first, or is refused as one."""
    begun = a_draft(served) | {"key": "sent-at-once"}
    feet = [5_500.0, 6_500.0, 7_500.0, 8_500.0]
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda each: post(served, f"{served.at}/desk/keep", begun | {"altitude_ft": each}), feet))
    assert {answer.status_code for answer in answers} <= {200, 409}
    for answer, each in zip(answers, feet, strict=True):
        assert answer.status_code == 409 or answer.json()["draft"]["altitude_ft"] == each
    assert len(all_kept(served)) == 1


def test_a_route_begun_by_many_messages_at_once_under_one_key_is_one_route(served):
    before = {route.id for route in all_kept(served)}
    begun = a_draft(served) | {"key": "sent-at-once"}
    with ThreadPoolExecutor(6) as threads:
        answers = list(threads.map(lambda _: post(served, f"{served.at}/desk/keep", begun), range(6)))
    assert [answer.status_code for answer in answers] == [200] * 6
    assert len({route.id for route in all_kept(served)} - before) == 1


def test_a_route_begun_again_after_it_was_removed_is_a_new_one(served):
    begun = a_draft(served) | {"key": "a-key-of-the-page"}
    number = post(served, f"{served.at}/desk/keep", begun).json()["draft"]["number"]
    served.send(f"{served.at}/routes/{number}/remove", {})
    assert post(served, f"{served.at}/desk/keep", begun).json()["draft"]["number"] != number


def test_the_first_answer_of_a_new_route_has_its_links(served):
    kept = post(served, f"{served.at}/desk/keep", a_draft(served)).json()
    assert f'href="{kept["path"]}/log"' in kept["panel"]
    assert "/log" not in post(served, f"{served.at}/desk/try", a_draft(served)).json()["panel"]


def test_what_forbids_the_flight_is_said_first(served):
    said = post(served, f"{served.at}/desk/try", a_draft(served) | {"altitude_ft": -1_000}).json()["spoken"]
    assert said.startswith("STOP: ")


def test_a_bearing_to_an_ndb_is_counted_where_the_aircraft_is(served):
    """Not at the station: the meridians between them are not parallel. By pyproj, and the variation at the place."""
    card = place(served, lat=43.0, lon=-37.4).json()["card"]
    chart_told = chart(served)
    ndb = next(beacon for beacon in chart_told["beacons"] if beacon["kind"] == "NDB")
    true_deg, _, _ = GEOD.inv(-37.4, 43.0, ndb["lon"], ndb["lat"])
    at = Position(lat_deg=43.0, lon_deg=-37.4)
    magnetic = round((true_deg - variation(at, served.browser.app.state.desk.clock().date()).deg) % 360.0) or 360
    assert f"bearing to it {magnetic:03d}M" in card


def test_a_refused_question_of_a_script_comes_back_as_values(served):
    asked = served.browser.get(f"{served.at}/desk/place?lat=43&lon=200&altitude_ft=5000", headers={"Accept": "application/json"})
    assert asked.status_code == 422 and "lon" in asked.json()["trouble"]


def test_the_chain_of_the_desk_is_the_chain_of_the_route_page_and_keeps_nothing(served):
    told = post(served, f"{served.at}/desk/chain", a_draft(served)).json()
    assert all_kept(served) == ()
    assert told["words"] and (told["draft"] is None or told["draft"]["points"])
    refused = post(served, f"{served.at}/desk/chain", a_draft(served) | {"altitude_ft": None})
    assert refused.status_code == 422 and "altitude" in refused.json()["trouble"]


def test_a_sector_is_told_when_the_beacon_is_tried_and_can_be_taken_back(served):
    number = served.small.beacons["KEV"]
    sector = {"part": "azimuth", "from_radial_deg": 340, "to_radial_deg": 20, "below_altitude_ft": 5_000}
    asked = {"lat": 43.4, "lon": -36.6, "altitude_ft": 6_500}
    assert post(served, shop(served, f"beacons/{number}/sector"), sector).status_code == 200
    told = post(served, shop(served, f"beacons/{number}/try"), asked).json()["sectors"]
    assert "R-340 to R-020 below 5,000 ft" in told[-1]["words"]
    taken = told[-1]
    assert post(served, shop(served, f"beacons/{number}/sector/lift"), taken).status_code == 200
    assert post(served, shop(served, f"beacons/{number}/try"), asked).json()["sectors"] == told[:-1]
    second_click = post(served, shop(served, f"beacons/{number}/sector/lift"), taken)
    assert second_click.status_code == 200
    assert post(served, shop(served, f"beacons/{number}/try"), asked).json()["sectors"] == told[:-1]


def test_a_double_click_takes_back_one_sector_and_not_its_neighbour(served):
    number = served.small.beacons["KEV"]
    for first in (40, 80, 120):
        sector = {"part": "azimuth", "from_radial_deg": first, "to_radial_deg": first + 20}
        assert post(served, shop(served, f"beacons/{number}/sector"), sector).status_code == 200
    asked = {"lat": 43.4, "lon": -36.6, "altitude_ft": 6_500}
    told = post(served, shop(served, f"beacons/{number}/try"), asked).json()["sectors"]
    middle = next(each for each in told if "R-080" in each["words"])
    for _ in range(2):
        assert post(served, shop(served, f"beacons/{number}/sector/lift"), middle).status_code == 200
    left = post(served, shop(served, f"beacons/{number}/try"), asked).json()["sectors"]
    assert [each["words"] for each in left] == [each["words"] for each in told if each != middle]


def test_going_back_to_the_desk_fetches_the_route_as_it_is_then(served):
    assert served.browser.get(f"{served.at}/routes/{served.keep_route().id}/desk").headers["cache-control"] == "no-store"
