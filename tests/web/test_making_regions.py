"""A region is made, looked at, changed and removed from the browser, with scripts off."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from server.planning.region_wish import USUAL_NOTICE
from server.terrain import TerrainStore
from server.web.region_uploads import plain_name
from tests.web.reading_pages import read

NAMED = {"name": "Skerry Sound", "south": "43 N", "north": "43 30 N", "west": "036 30 W", "east": "036 W", "spacing_s": "9"}

GIVEN = {"projection": "given", "central_parallel": "0", "central_meridian": "0"}


def blank(served) -> dict[str, str]:
    """What the form sends as it stands."""
    return served.page("/regions/new").form("/regions/new").fields


def make(served, step: str = "make", files=None, **typed):
    return served.browser.post("/regions/new", data={**blank(served), **NAMED, **typed, "step": step}, files=files)


def region(served, slug: str):
    with served.library.read() as work:
        return work.regions.by_slug(slug)


def slugs(served) -> list[str]:
    with served.library.read() as work:
        return [one.slug for one in work.regions.list()]


def tile(height_m: int) -> bytes:
    return np.full((1201, 1201), height_m, dtype=">i2").tobytes()


def test_the_first_page_leads_to_the_form(served):
    assert 'href="/regions/new"' in served.page("/").html


def test_every_field_has_its_label_and_offers_our_wording(served):
    page = served.page("/regions/new")
    assert [name for name, said in page.named_fields if name not in page.labelled and not said] == []
    assert page.form("/regions/new").fields["notice"] == USUAL_NOTICE
    assert {"Preview the ground", "Make the region"} <= set(page.form("/regions/new").buttons)


def test_a_region_is_made_and_found_on_the_first_page(served):
    answer = make(served, seed="7", sea_share="25", highest_m="1200")
    assert (answer.status_code, answer.headers["location"]) == (303, "/regions/skerry-sound/workshop")
    assert 'id="region-skerry-sound"' in served.page("/").html
    made = region(served, "skerry-sound")
    assert made.fictional and made.notice == USUAL_NOTICE and made.level_rule == "ICAO"
    posts = (
        TerrainStore(served.home / "terrain")
        .open(made.ground_fingerprint)
        .window(south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0)
        .posts
    )
    assert posts.max() == 1200 and np.mean(posts == 0) == pytest.approx(0.25, abs=0.02)
    served.page("/regions/skerry-sound/beacons")


def test_the_ground_is_seen_before_anything_is_kept(served):
    answer = make(served, step="look", seed="7", sea_share="25", highest_m="1200")
    page = read(answer)
    assert answer.status_code == 200 and slugs(served) == [served.small.region.slug]
    assert "data:image/png;base64," in page.html
    assert "Highest ground 3,937 ft (1,200 m)" in page.words
    share = re.search(r"Sea (\d+) %", page.words)
    assert share and int(share[1]) == 25
    assert re.search(r"Coast about [\d,]+ NM Land the largest has about [\d,]+ NM²", page.words)
    assert page.form("/regions/new").fields["name"] == "Skerry Sound"


def test_the_next_seed_is_looked_at_and_stands_in_the_form(served):
    pictures = []
    fields = {**blank(served), **NAMED, "seed": "7"}
    for step, seed in (("look", "7"), ("next", "8"), ("next", "9")):
        page = read(served.browser.post("/regions/new", data={**fields, "step": step}))
        fields = page.form("/regions/new").fields
        assert fields["seed"] == seed and f"Seed {seed}" in page.words
        pictures.append(re.search(r"data:image/png;base64,([^\"]+)", page.html)[1])
    assert len(set(pictures)) == 3


def test_all_that_is_wrong_is_told_at_once_beside_its_field_and_all_that_was_typed_is_kept(served):
    typed = {
        "slug": "nasr",
        "south": "44",
        "east": "361",
        "sea_share": "99",
        "seed": "1.5",
        "highest_m": "",
        "name": "",
        "notice": "My own words",
    }
    answer = make(served, **typed)
    page = read(answer)
    assert answer.status_code == 422
    for place in ("slug", "east", "sea_share", "seed", "highest_m", "name"):
        assert f"{place}-wrong" in page.ids, place
    fields = page.form("/regions/new").fields
    assert {name: fields[name] for name in typed} == typed
    assert slugs(served) == [served.small.region.slug]


@pytest.mark.parametrize(
    ("typed", "place", "words"),
    [
        ({"slug": "brinna"}, "slug", "is that of Brinna Banks already"),
        ({"name": "Own"}, "slug", "kept for a page or for a source of tables"),
        ({"south": "44", "north": "43"}, "south", "South edge: 44 must be less than the north edge, 43"),
        ({"west": "180", "east": "-180"}, "east", "has no width"),
        ({"west": "10", "east": "100"}, "east", "The box is 90 degrees wide; 80 is the most."),
        ({"east": "-20", "north": "53", "spacing_s": "3"}, "spacing_s", "30,000,000 is the most"),
        ({"fictional": ""}, "fictional", "Invented ground is for fictional regions only"),
        ({"notice": ""}, "notice", "it is needed"),
        ({"ground": "files"}, "terrain_files", "choose one or more files"),
        ({"ground": "keep"}, "ground", "a new region has none yet"),
        ({**GIVEN, "standard_parallel_1": "40", "standard_parallel_2": "-40"},
         "standard_parallel_1", "not opposites"),
        ({"projection": "given"}, "central_meridian", "please fill this in"),
    ],
)  # fmt: skip
def test_what_makes_no_region_is_refused_beside_its_field(served, typed, place, words):
    answer = make(served, **typed)
    page = read(answer)
    assert answer.status_code == 422 and f"{place}-wrong" in page.ids
    assert words in page.words


def test_a_box_across_180_degrees_works(served):
    assert make(served, step="look", west="179 45 E", east="179 45 W").status_code == 200
    assert make(served, west="179 45 E", east="179 45 W").status_code == 303
    made = region(served, "skerry-sound")
    assert (made.west_deg, made.east_deg) == (179.75, -179.75)
    assert served.browser.get("/regions/skerry-sound/settings").status_code == 200


def test_a_real_region_does_not_carry_the_offered_notice(served):
    assert make(served, fictional="", ground="none").status_code == 303
    made = region(served, "skerry-sound")
    assert (made.fictional, made.notice, made.ground_fingerprint) == (False, "", "")


def test_the_own_notice_of_a_fictional_region_stands_on_its_pages(served):
    assert make(served, notice="Made for the club's winter course.").status_code == 303
    shown = read(served.browser.get("/regions/skerry-sound/settings")).words
    assert "FICTIONAL REGION" in shown and "Made for the club's winter course." in shown.split("Name and rules")[0]


def test_a_file_name_of_many_bytes_is_cut_and_keeps_its_ending():
    """A name may have 255 bytes on the disk; a sign of another script takes up to four."""
    plain = plain_name("\N{MOUNTAIN}" * 115 + ".tif")
    assert len(plain.encode()) <= 120 and plain.endswith("\N{MOUNTAIN}.tif")


def test_several_tiles_at_once_are_kept_between_looking_and_making(served):
    files = [("terrain_files", ("N43W037.hgt", tile(250))), ("terrain_files", (r"C:\maps\N43W036.hgt", tile(400)))]
    page = read(make(served, step="look", ground="files", files=files))
    assert "Sent already, and kept for an hour: N43W037.hgt, N43W036.hgt" in page.words
    assert "Highest ground 820 ft (250 m)" in page.words  # the second tile lies east of the box
    answer = served.browser.post("/regions/new", data={**page.form("/regions/new").fields, "step": "make"})
    assert answer.status_code == 303
    terrain = TerrainStore(served.home / "terrain").open(region(served, "skerry-sound").ground_fingerprint)
    assert terrain.elevations_m(lat_deg=np.array([43.5, 43.5]), lon_deg=np.array([-36.5, -35.5])).tolist() == [250.0, 400.0]


def test_files_stay_with_a_refused_form_and_can_be_forgotten(served):
    page = read(make(served, ground="files", name="", files=[("terrain_files", ("N43W037.hgt", tile(250)))]))
    assert "N43W037.hgt" in page.words and "name-wrong" in page.ids
    fields = {**page.form("/regions/new").fields, "name": "Skerry Sound", "forget_files": "yes"}
    again = read(served.browser.post("/regions/new", data={**fields, "step": "make"}))
    assert "terrain_files-wrong" in again.ids and "N43W037.hgt" not in again.words


def test_files_that_waited_too_long_are_asked_for_again(served):
    page = read(make(served, step="look", ground="files", files=[("terrain_files", ("N43W037.hgt", tile(250)))]))
    for file in served.home.rglob("*"):
        if re.fullmatch("[0-9a-f]{32}", file.name):
            file.unlink()
    again = served.browser.post("/regions/new", data={**page.form("/regions/new").fields, "step": "make"})
    assert again.status_code == 422 and "those you sent are no longer kept" in read(again).words
    assert read(again).form("/regions/new").fields["name"] == "Skerry Sound"


def test_a_tile_that_cannot_be_used_is_told_after_making(served):
    files = [("terrain_files", ("N43W037.hgt", tile(250))), ("terrain_files", ("N43W036.hgt", b"<html>sign in</html>"))]
    answer = make(served, ground="files", files=files)
    assert answer.status_code == 200 and "N43W036.hgt: It is a web page" in read(answer).words
    assert "skerry-sound" in slugs(served)


def test_a_sea_outline_is_kept_with_the_region(served):
    ring = [[-37.0, 43.0], [-36.3, 43.0], [-36.3, 44.0], [-37.0, 44.0], [-37.0, 43.0]]
    sea = json.dumps({"type": "Polygon", "coordinates": [ring]}).encode()
    assert make(served, ground="none", files=[("sea_file", ("sea.geojson", sea))]).status_code == 303
    assert region(served, "skerry-sound").sea_geojson == sea.decode()
    refused = read(make(served, slug="other", south="99", files=[("sea_file", ("sea.geojson", b"nonsense"))]))
    assert {"sea_file-wrong", "south-wrong"} <= set(refused.ids)


def test_more_than_ten_megabytes_may_be_sent_here_and_nowhere_else(served):
    headers = {"Content-Length": str(50 * 1024 * 1024)}
    assert served.browser.post("/aircraft/new", content=b"", headers=headers).status_code == 413
    assert served.browser.post("/regions/new", content=b"", headers=headers).status_code != 413
    assert served.browser.post("/regions/new", content=b"", headers={"Content-Length": str(401 * 1024 * 1024)}).status_code == 413


def test_settings_change_words_and_warn_of_new_ground(served):
    page = served.page(f"{served.at}/settings")
    assert "coverage, sight lines and the logs of all routes are worked out anew" in page.words
    fields = page.form(f"{served.at}/settings").fields
    assert fields["name"] == "Brinna Banks" and fields["ground"] == "keep"
    answer = served.send(f"{served.at}/settings", {**fields, "name": "Brinna Deeps", "level_rule": "US", "step": "save"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/regions/brinna/workshop")
    changed = region(served, "brinna")
    assert (changed.name, changed.level_rule, changed.ground_fingerprint) == ("Brinna Deeps", "US", served.small.region.ground_fingerprint)


def test_replaced_ground_changes_the_log_of_a_stored_route(served):
    route = served.keep_route()
    log = f"{served.at}/routes/{route.id}/log.txt"
    before = served.browser.get(log)
    fields = served.page(f"{served.at}/settings").form(f"{served.at}/settings").fields
    sent = {**fields, "ground": "invented", "spacing_s": "9", "highest_m": "3500", "sea_share": "0", "step": "look"}
    seen = served.send(f"{served.at}/settings", sent)
    assert seen.status_code == 200 and region(served, "brinna").ground_fingerprint == served.small.region.ground_fingerprint
    assert served.send(f"{served.at}/settings", {**sent, "step": "save"}).status_code == 303
    after = served.browser.get(log)
    assert before.status_code == after.status_code == 200 and before.text != after.text


def test_settings_refuse_what_a_region_cannot_be(served):
    fields = served.page(f"{served.at}/settings").form(f"{served.at}/settings").fields
    answer = served.send(f"{served.at}/settings", {**fields, "name": "", "ground": "files", "step": "save"})
    page = read(answer)
    assert answer.status_code == 422 and {"name-wrong", "terrain_files-wrong"} <= set(page.ids)
    looked = served.send(f"{served.at}/settings", {**fields, "step": "look"})
    assert looked.status_code == 422 and "Choose another to look at it" in read(looked).words


def test_a_region_is_removed_after_a_question_that_names_what_goes_with_it(served):
    served.keep_route()
    page = served.page(f"{served.at}/remove")
    assert "the region Brinna Banks with its 5 beacons, 4 airfields, 2 checkpoints and 1 route" in page.words
    assert slugs(served) == ["brinna"]
    assert served.send(f"{served.at}/remove", {}).headers["location"] == "/"
    assert slugs(served) == []
    assert served.browser.get(f"{served.at}/settings").status_code == 404


def test_new_is_a_page_and_no_region(served):
    assert served.page("/regions/new").title.startswith("Make a new region")
    assert served.browser.get("/regions/nowhere/settings").status_code == 404
