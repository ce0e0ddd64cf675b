"""Loading a table by form: first what it would change, then the change, and a clear word about every row that is not taken."""

from __future__ import annotations

import itertools
import os
import re
from datetime import UTC, datetime, timedelta

import pytest

from server.errors import NotFound
from server.exchange import write_airfields, write_beacons, write_checkpoints
from server.web.staging import StagedUploads
from tests.web.reading_pages import read


def upload(served, content: bytes, what: str = "checkpoints", name: str = "marks.csv", **fields):
    return served.browser.post(f"{served.at}/load", data={"what": what, **fields}, files={"table": (name, content, "text/csv")})


@pytest.fixture
def checkpoints_csv(served) -> bytes:
    """Our own table as we write it, with one row more and one that cannot be."""
    with served.library.read() as work:
        written = write_checkpoints(work.checkpoints.list(served.small.region.id))
    return written.encode() if isinstance(written, str) else written


def test_trial_changes_nothing_and_the_decision_does(served, checkpoints_csv):
    table = checkpoints_csv.replace(b"Long Mere", b"Longer Mere").replace(b"43.45", b"43.65")
    trial = upload(served, table)
    page = read(trial)
    assert trial.status_code == 200, page.words
    assert "would change" in page.title and "Longer Mere" in page.words
    assert "Longer Mere" not in served.page(f"{served.at}/checkpoints").words
    form = page.form(f"{served.at}/load/confirm")
    done = served.send(form.action, form.fields)
    assert done.status_code == 200 and "Loaded: checkpoints" in read(done).words
    assert "Longer Mere" in served.page(f"{served.at}/checkpoints").words
    assert os.listdir(served.home / "staged") == []
    assert served.send(form.action, form.fields).status_code == 404


def test_refused_row_is_told_with_its_line_and_reason(served, checkpoints_csv):
    table = checkpoints_csv.replace(b"43.45", b"143.45")
    page = read(upload(served, table))
    refused = dict(re.findall(r'<td class="figure">(\d+)</td><td>[^<]*</td><td>([^<]*)</td>', page.html))
    assert "143.45" in refused["3"], "the heading is line 1, Gap of Hask line 2"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "choose a file that is not empty"),
        (b"<!doctype html><html>", "marks.csv"),
        (b"a,b\n1,2\n", "marks.csv"),
        (b"\x00\x01\x02", "marks.csv"),
    ],
)
def test_file_that_is_no_such_table_is_refused_beside_its_field(served, content, words):
    answer = upload(served, content)
    assert answer.status_code == 422 and words in read(answer).words
    assert 'id="table-wrong"' in answer.text


@pytest.mark.parametrize(("kind", "asked"), list(itertools.permutations(("beacons", "airfields", "checkpoints"), 2)))
def test_table_of_one_kind_is_not_loaded_as_another(served, kind, asked):
    with served.library.read() as work:
        things = getattr(work, kind).list(served.small.region.id)
    write = {"beacons": write_beacons, "airfields": write_airfields, "checkpoints": write_checkpoints}[kind]
    answer = upload(served, write(things), what=asked)
    assert answer.status_code == 422
    assert f"marks.csv is a table of {kind}, not of {asked}. Load it as {kind}." in read(answer).words


def test_file_of_another_kind_is_named_once(served):
    page = read(upload(served, b"%PDF-1.7\n1 0 obj", what="beacons", name="log1.pdf"))
    wrong = re.search(r'id="table-wrong">([^<]*)<', page.html)
    assert wrong and wrong[1].startswith("log1.pdf is a PDF file, not a table.") and wrong[1].count("log1.pdf") == 1


def test_kind_of_table_must_be_chosen(served):
    answer = upload(served, b"x", what="")
    assert answer.status_code == 422 and "What is in the table: please choose one" in read(answer).words


def test_hostile_file_name_is_only_shown(served):
    answer = upload(served, b"a,b\n", name='"><script>alert(1)</script>.csv')
    assert "<script>alert" not in answer.text


@pytest.mark.parametrize("token", ["", "../../beaconry.sqlite3", "0" * 32, "x" * 32, "/etc/passwd"])
def test_token_that_names_no_upload_is_not_found(served, token):
    answer = served.send(f"{served.at}/load/confirm", {"token": token, "what": "beacons", "name": "x"})
    assert answer.status_code == 404 and "no longer kept" in read(answer).words


def test_upload_that_nobody_decided_on_is_swept_after_an_hour(tmp_path):
    now = [datetime.now(UTC)]
    staged = StagedUploads(folder=tmp_path / "staged", clock=lambda: now[0])
    token = staged.keep(b"old")
    (tmp_path / "staged" / "note.txt").write_text("not ours")
    now[0] += timedelta(minutes=59)
    staged.keep(b"new")
    assert staged.content(token) == b"old"
    now[0] += timedelta(minutes=2)
    staged.keep(b"newer")
    with pytest.raises(NotFound, match="Choose the file again"):
        staged.content(token)
    assert (tmp_path / "staged" / "note.txt").exists()
