"""A region is made whole or not at all, with everything that is wrong told at once."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from server.errors import InputProblem, NotFound
from server.navigation import ConicProjection
from server.persistence import Library
from server.planning.make_region import KEEP, change_region, holdings_of, make_region, remove_region
from server.planning.region_ground import see_ground
from server.planning.region_wish import USUAL_NOTICE, Box, GroundFiles, RegionWish, proposed_slug, region_problems
from server.settings import Settings
from server.terrain import InventedLand, TerrainStore

BOX = Box(south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0)
WISH = RegionWish(
    slug="skerry-sound", name="Skerry Sound", fictional=True, notice=USUAL_NOTICE, box=BOX, projection=None, level_rule="ICAO"
)
LAND = InventedLand(seed=4, south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0, spacing_s=9, sea_share=0.3, highest_m=900.0)


@pytest.fixture
def library(tmp_path):
    library = Library.open(f"sqlite:///{tmp_path / 'beaconry.sqlite'}")
    library.migrate(Settings(home=tmp_path, database_url="").migrations_folder)
    yield library
    library.close()


@pytest.fixture
def store(tmp_path) -> TerrainStore:
    return TerrainStore(tmp_path / "terrain")


def places(refusal: pytest.ExceptionInfo) -> list[str]:
    return [problem.place for problem in refusal.value.problems]


def tile(height_m: int) -> bytes:
    return np.full((1201, 1201), height_m, dtype=">i2").tobytes()


def archive(files: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in files.items():
            out.writestr(name, content)
    return packed.getvalue()


def written(folder: Path, files: dict[str, bytes]) -> GroundFiles:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return GroundFiles(paths=tuple(folder / name for name in files))


def test_a_region_with_invented_ground_is_kept_with_how_it_was_made(library, store):
    made = make_region(library, store, WISH, ground=LAND)
    with library.read() as work:
        kept = work.regions.by_slug("skerry-sound")
    assert kept == made.region and kept.source.startswith("Ground invented from seed 4: posts every 9 seconds, sea 30 %, highest 900 m")
    assert (kept.south_deg, kept.north_deg, kept.west_deg, kept.east_deg) == (43.0, 43.5, -36.5, -36.0)
    window = store.open(kept.ground_fingerprint).window(south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0)
    assert window.posts.max() == 900 and np.mean(window.posts == 0) == pytest.approx(0.3, abs=0.01)


def test_the_projection_is_fitted_to_the_box_or_the_one_given(library, store):
    """Standard parallels one sixth of the height inside the edges, a common rule of map makers (from memory)."""
    fitted = make_region(library, store, replace(WISH, box=replace(BOX, north_deg=46.0))).region
    assert (fitted.standard_parallel_1_deg, fitted.standard_parallel_2_deg) == pytest.approx((43.5, 45.5))
    assert (fitted.central_parallel_deg, fitted.central_meridian_deg) == pytest.approx((44.5, -36.25))
    chart = ConicProjection(lat_1=42.0, lat_2=44.0, lat_0=43.0, lon_0=-36.0)
    given = make_region(library, store, replace(WISH, slug="other", projection=chart)).region
    assert (given.standard_parallel_1_deg, given.central_meridian_deg) == (42.0, -36.0)


def test_without_ground_it_stays_unknown(library, store):
    made = make_region(library, store, WISH)
    assert made.region.ground_fingerprint == "" and made.files is None


@pytest.mark.parametrize(
    ("name", "slug"),
    [("Skerry Sound", "skerry-sound"), ("  Île d'Été 2 ", "ile-d-ete-2"), ("Æ", ""), ("Скала", ""), ("x" * 39 + " yz", "x" * 39)],
)
def test_a_short_name_is_proposed_from_the_name(name, slug):
    assert proposed_slug(name) == slug


@pytest.mark.parametrize("slug", ["own", "nasr", "ourairports", "new", "load-file", "", "Skerry", "a--b", "-a", "a" * 41, "a/b"])
def test_short_names_that_cannot_be_used_are_refused(library, store, slug):
    with pytest.raises(InputProblem, match="Short name") as refusal:
        make_region(library, store, replace(WISH, slug=slug))
    assert places(refusal) == ["slug"]


def test_a_short_name_that_is_taken_names_the_region_that_has_it(library, store):
    make_region(library, store, WISH)
    with pytest.raises(InputProblem, match='"skerry-sound" is that of Skerry Sound already'):
        make_region(library, store, replace(WISH, name="Another"))


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"south_deg": 44.0}, "south", "must be less than the north edge"),
        ({"south_deg": 43.5}, "south", "must be less than the north edge"),
        ({"east_deg": -36.5}, "east", "has no width"),
        ({"east_deg": -36.45}, "east", "0.05 degrees wide; 0.1 is the least"),
        ({"north_deg": 43.05}, "north", "0.05 degrees high; 0.1 is the least"),
        ({"east_deg": 60.0}, "east", "96.5 degrees wide; 80 is the most"),
        ({"east_deg": -37.0}, "east", r"359.5 degrees wide; 80 is the most.*were the two swapped"),
        ({"south_deg": 1.0}, "north", "42.5 degrees high; 40 is the most"),
        ({"south_deg": 60.0, "north_deg": 87.0}, "north", "beyond 85 degrees"),
    ],
)
def test_boxes_that_make_no_region_are_refused_with_size_and_limit(library, store, changes, place, words):
    with pytest.raises(InputProblem, match=words) as refusal:
        make_region(library, store, replace(WISH, box=replace(BOX, **changes)))
    assert places(refusal) == [place]


def test_a_box_across_180_degrees_is_as_wide_as_it_looks(library, store):
    box = Box(south_deg=61.0, north_deg=62.0, west_deg=179.5, east_deg=-179.5)
    assert box.wide_deg == 1.0
    land = replace(LAND, south_deg=61.0, north_deg=62.0, west_deg=179.5, east_deg=-179.5)
    region = make_region(library, store, replace(WISH, box=box), ground=land).region
    assert abs(region.central_meridian_deg) == pytest.approx(180.0)
    elevations_m = store.open(region.ground_fingerprint).elevations_m(lat_deg=np.full(3, 61.5), lon_deg=np.array([179.6, 180.0, -179.6]))
    assert np.isfinite(elevations_m).all()


def test_everything_wrong_is_told_at_once_and_nothing_is_kept(library, store, tmp_path):
    wish = replace(WISH, slug="new", name=" ", notice="", box=replace(BOX, south_deg=44.0), level_rule="XX")
    with pytest.raises(InputProblem) as refusal:
        make_region(library, store, wish, ground=LAND, sea=b"{}")
    assert sorted(places(refusal)) == ["level_rule", "name", "notice", "sea_file", "slug", "south"]
    with library.read() as work:
        assert work.regions.list() == ()
    assert not list((tmp_path / "terrain").glob("*.npy"))


def test_real_regions_have_no_invented_ground_and_no_notice():
    problems = region_problems(replace(WISH, fictional=False), LAND)
    assert {problem.place for problem in problems} == {"fictional", "notice"}


def test_one_archive_of_tiles_is_the_ground(library, store, tmp_path):
    inner = archive({"N43W036.hgt": tile(300)})
    files = {"tiles/N43W037.hgt": tile(200), "tiles/N43W036.hgt.zip": inner, "readme.txt": b"x", "__MACOSX/._N43W037.hgt": b"x"}
    ground = written(tmp_path / "sent", {"all.zip": archive(files)})
    made = make_region(library, store, WISH, ground=ground)
    assert sorted(file.name for file in made.files.taken) == ["N43W036.hgt.zip", "N43W037.hgt"] and made.files.refused == ()
    terrain = store.open(made.region.ground_fingerprint)
    assert terrain.elevations_m(lat_deg=np.array([43.5, 43.5]), lon_deg=np.array([-36.5, -35.5])).tolist() == [200.0, 300.0]


def test_a_bad_file_is_told_beside_good_ones(library, store, tmp_path):
    ground = written(tmp_path / "sent", {"N43W037.hgt": tile(200), "N43W036.hgt": b"short", "broken.zip": b"PK no"})
    made = make_region(library, store, WISH, ground=ground)
    assert [file.name for file in made.files.taken] == ["N43W037.hgt"]
    assert sorted(file.name for file in made.files.refused) == ["N43W036.hgt", "broken.zip"]


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("tiles.zip", archive({"notes.txt": b"x"}), "holds no elevation file"),
        ("tiles.zip", archive({"../N43W037.hgt": b"x"}), "a place outside itself"),
        ("tiles.zip", b"PK no", "damaged or cut short"),
        ("N43W037.hgt", b"short", "5 bytes"),
        ("heights.txt", b"1 2 3", "does not end in"),
    ],
)
def test_where_no_file_can_be_used_the_region_is_refused(library, store, tmp_path, name, content, words):
    with pytest.raises(InputProblem, match=words) as refusal:
        make_region(library, store, WISH, ground=written(tmp_path / "sent", {name: content}))
    assert places(refusal) == ["terrain_files"]
    with pytest.raises(NotFound):
        holdings_of(library, "skerry-sound")


def sea_square(west: float, south: float) -> bytes:
    ring = [[west, south], [west + 1, south], [west + 1, south + 1], [west, south + 1], [west, south]]
    return json.dumps({"type": "Polygon", "coordinates": [ring]}).encode()


def test_the_sea_outline_fills_what_files_leave_open(library, store, tmp_path):
    ground = written(tmp_path / "sent", {"N43W037.hgt": tile(200)})
    region = make_region(library, store, WISH, ground=ground, sea=sea_square(-36.0, 43.0)).region
    heights = store.open(region.ground_fingerprint).elevations_m(lat_deg=np.array([43.5, 43.5]), lon_deg=np.array([-36.5, -35.5]))
    assert heights.tolist() == [200.0, 0.0] and "Polygon" in region.sea_geojson


def test_a_sea_with_longitude_and_latitude_swapped_is_refused(library, store):
    with pytest.raises(InputProblem, match="swapped") as refusal:
        make_region(library, store, WISH, sea=sea_square(43.0, -36.5))
    assert places(refusal) == ["sea_file"]


def test_ground_is_seen_before_anything_is_kept(library, store, tmp_path):
    with see_ground(BOX, LAND) as seen:
        assert seen.lie.highest_m == 900.0 and seen.lie.sea_share == pytest.approx(0.3, abs=0.01)
        here = seen.ground.elevations_m(lat_deg=np.array([seen.lie.highest_lat_deg]), lon_deg=np.array([seen.lie.highest_lon_deg]))
        assert here[0] == 900.0
    with see_ground(BOX, None) as seen:
        assert seen.lie.highest_m is None and seen.lie.known_share == 0.0
    with see_ground(BOX, written(tmp_path / "sent", {"N43W037.hgt": tile(200)})) as seen:
        assert (seen.lie.highest_m, seen.lie.known_share) == pytest.approx((200.0, 1.0))
    assert not (tmp_path / "terrain").exists()


def test_settings_change_words_and_leave_the_ground(library, store):
    before = make_region(library, store, WISH, ground=LAND).region
    words = {"name": "Skerry Deep", "fictional": True, "notice": "All invented.", "level_rule": "US"}
    after = change_region(library, store, "skerry-sound", **words).region
    assert after == replace(before, name="Skerry Deep", notice="All invented.", level_rule="US")


def test_ground_is_replaced_and_taken_away(library, store):
    before = make_region(library, store, WISH, ground=LAND).region
    words = {"name": "Skerry Sound", "fictional": True, "notice": USUAL_NOTICE, "level_rule": "ICAO"}
    other = change_region(library, store, "skerry-sound", **words, ground=replace(LAND, seed=5), sea=KEEP).region
    assert other.ground_fingerprint not in ("", before.ground_fingerprint) and "seed 5" in other.source
    bare = change_region(library, store, "skerry-sound", **words, ground=None).region
    assert (bare.ground_fingerprint, bare.source) == ("", "")


def test_a_region_on_invented_ground_stays_fictional(library, store):
    make_region(library, store, WISH, ground=LAND)
    words = {"name": "Skerry Sound", "fictional": False, "notice": "", "level_rule": "ICAO"}
    with pytest.raises(InputProblem, match="must stay fictional"):
        change_region(library, store, "skerry-sound", **words)
    assert change_region(library, store, "skerry-sound", **words, ground=None).region.fictional is False


def test_a_removed_region_is_gone(library, store):
    make_region(library, store, WISH)
    assert holdings_of(library, "skerry-sound")[1] == ""
    remove_region(library, "skerry-sound")
    with pytest.raises(NotFound):
        remove_region(library, "skerry-sound")
