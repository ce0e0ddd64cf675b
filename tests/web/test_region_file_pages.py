"""A region away as one file and in again, through the pages."""

from __future__ import annotations

import io
import zipfile

import pytest

from server.navigation import PointKind, RoutePoint
from server.web.guard import LARGEST_BODY_BYTES
from tests.web.reading_pages import read

LOAD = "/regions/load-file"


@pytest.fixture
def file(served) -> bytes:
    served.keep_route(points=(RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons["KEV"]),))
    answer = served.browser.get(f"{served.at}/export")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"] == 'attachment; filename="brinna.region.zip"'
    assert answer.headers["content-type"] == "application/zip"
    assert int(answer.headers["content-length"]) == len(answer.content)
    return answer.content


def send(served, content: bytes | None, **fields: str):
    files = {} if content is None else {"table": ("brinna.region.zip", content, "application/zip")}
    return served.browser.post(LOAD, data=fields, files=files or {"nothing": ("", b"")})


def slugs(served) -> list[str]:
    with served.library.read() as work:
        return sorted(region.slug for region in work.regions.list())


def test_the_file_holds_the_region_in_open_formats(file):
    with zipfile.ZipFile(io.BytesIO(file)) as archive:
        assert archive.testzip() is None
        assert set(archive.namelist()) == {
            "manifest.toml",
            "region.toml",
            "beacons.csv",
            "airfields.csv",
            "checkpoints.csv",
            "routes.toml",
            "aircraft.toml",
            "terrain/ground-001.tif",
        }


def test_two_exports_are_the_same_bytes(served, file):
    assert served.browser.get(f"{served.at}/export").content == file


def test_a_file_becomes_a_region_under_another_short_name(served, file):
    page = read(send(served, file, slug="brinna-2"))
    assert page.title.startswith("Loaded: Brinna Banks")
    assert "Beacons 5 Airfields 4 Checkpoints 2 Routes West to east Aircraft added none Elevation files 1" in page.words
    assert slugs(served) == ["brinna", "brinna-2"]
    assert "KEV" in served.page("/regions/brinna-2/beacons").words
    with served.library.read() as work:
        first, second = (work.regions.by_slug(slug) for slug in slugs(served))
    assert first.ground_fingerprint == second.ground_fingerprint != ""


def test_a_short_name_that_is_taken_lets_the_file_wait_for_another(served, file):
    answer = send(served, file)
    page = read(answer)
    assert answer.status_code == 422 and slugs(served) == ["brinna"]
    assert 'There is a region "brinna" already' in page.words and 'id="slug-wrong"' in page.html
    form = page.form(LOAD)
    assert form.fields["name"] == "brinna.region.zip"
    again = read(send(served, None, **form.fields | {"slug": "No Name"}))
    assert '"No Name" cannot be a short name' in again.words and again.form(LOAD).fields["token"] == form.fields["token"]
    assert "Loaded: Brinna Banks" in read(send(served, None, **form.fields | {"slug": "brinna-3"})).words
    assert slugs(served) == ["brinna", "brinna-3"]
    gone = send(served, None, **form.fields | {"slug": "brinna-4"})
    assert gone.status_code == 404 and "no longer kept" in read(gone).words


def test_a_form_without_a_file_says_so_beside_the_field(served):
    answer = send(served, None)
    assert answer.status_code == 422 and "please choose a region file" in read(answer).words


@pytest.mark.parametrize("content", [b"", b"<html>gone</html>", b"PK\x03\x04 cut"])
def test_a_file_of_another_kind_is_refused_in_words(served, content):
    answer = send(served, content, slug="new")
    assert answer.status_code == 422 and "is not a region file that can be read" in read(answer).words
    assert slugs(served) == ["brinna"]


def test_a_changed_byte_is_refused_and_nothing_is_kept(served, file):
    changed = bytearray(file)
    changed[len(changed) // 2] ^= 1
    answer = send(served, bytes(changed), slug="new")
    assert answer.status_code == 422 and slugs(served) == ["brinna"]
    assert not list((served.home / "staged").glob("*"))


def test_a_region_file_may_be_larger_than_a_table(served):
    answer = send(served, b"0" * (LARGEST_BODY_BYTES + 1), slug="new")
    assert answer.status_code == 422 and "is not a region file" in read(answer).words
    other = served.browser.post(f"{served.at}/load", files={"table": ("x.csv", b"0" * (LARGEST_BODY_BYTES + 1), "text/csv")})
    assert other.status_code == 413


def test_a_name_with_markup_or_a_path_is_only_a_name(served):
    files = {"table": ("../../<b>x</b>.zip", b"none", "application/zip")}
    answer = served.browser.post(LOAD, files=files)
    assert answer.status_code == 422 and "<b>x" not in answer.text


def test_a_region_that_is_not_there_has_no_file(served):
    assert served.browser.get("/regions/nowhere/export").status_code == 404


def test_another_site_cannot_send_a_file(served, file):
    headers = {"origin": "http://elsewhere.example"}
    answer = served.browser.post(LOAD, files={"table": ("x.zip", file, "application/zip")}, headers=headers)
    assert answer.status_code == 403
