"""A region file: written the same twice, read back whole, and refused in words when a byte, a name or a size is not as it says."""

from __future__ import annotations

import hashlib
import io
import zipfile
from pathlib import Path

import pytest

from server.errors import InputProblem
from server.exchange import region_archive
from server.exchange.region_archive import unpack_archive, write_archive

MEMBERS = {"region.toml": b'slug = "skerry"\n', "beacons.csv": b"ident,name\n" * 40, "terrain/N43W037.hgt.zip": bytes(range(256)) * 4}


def packed(members: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    write_archive(stream, members)
    return stream.getvalue()


def zipped(entries: list[tuple[str, bytes]]) -> bytes:
    """A ZIP as anyone may make one."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries:
            archive.writestr(name, content)
    return stream.getvalue()


def manifest(members: dict[str, bytes], **changes: str) -> bytes:
    lines = [f'format = "{changes.get("format", "Beaconry region")}"', f"version = {changes.get('version', '1')}"]
    for name, content in members.items():
        digest = hashlib.sha256(content).hexdigest()
        lines += ["[[member]]", f'name = "{name}"', f"size_bytes = {changes.get('size', len(content))}", f'sha256 = "{digest}"']
    return "\n".join(lines).encode()


def refusal(content: bytes, folder: Path) -> InputProblem:
    folder.mkdir(exist_ok=True)
    with pytest.raises(InputProblem) as caught:
        unpack_archive(io.BytesIO(content), folder, name="skerry.region.zip")
    assert caught.value.message.startswith("skerry.region.zip") or "skerry.region.zip" in caught.value.message
    return caught.value


def test_what_is_written_is_read_back_byte_for_byte(tmp_path: Path):
    file = tmp_path / "tile"
    file.write_bytes(MEMBERS["terrain/N43W037.hgt.zip"])
    stream = io.BytesIO()
    written = write_archive(stream, {**MEMBERS, "terrain/N43W037.hgt.zip": file})
    assert unpack_archive(stream, tmp_path / "out", name="skerry.region.zip") == written
    found = {path.relative_to(tmp_path / "out").as_posix(): path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert found == MEMBERS


def test_it_is_an_ordinary_zip_with_a_manifest_first():
    with zipfile.ZipFile(io.BytesIO(packed(MEMBERS))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["manifest.toml", "beacons.csv", "region.toml", "terrain/N43W037.hgt.zip"]


def test_the_same_members_in_any_order_give_the_same_bytes():
    assert packed(MEMBERS) == packed(dict(reversed(MEMBERS.items())))


def test_no_single_changed_byte_is_taken(tmp_path: Path):
    """Every byte of what is packed, one after another; a change in the frame of the ZIP may leave the members as they are."""
    content = packed({"region.toml": b'slug = "skerry"\n'})
    whole = {"region.toml": b'slug = "skerry"\n'}
    taken = 0
    for at in range(len(content)):
        changed = bytearray(content)
        changed[at] ^= 0x10
        folder = tmp_path / str(at)
        try:
            unpack_archive(io.BytesIO(bytes(changed)), folder, name="skerry.region.zip")
        except InputProblem:
            continue
        taken += 1
        assert {path.name: path.read_bytes() for path in folder.iterdir()} == whole, at
    assert taken < len(content) / 2


def test_a_member_changed_with_care_for_its_checksum_is_named(tmp_path: Path):
    told = refusal(zipped([("manifest.toml", manifest({"region.toml": b"one"})), ("region.toml", b"two")]), tmp_path)
    assert told.code == "region-archive-changed" and "region.toml" in told.message


@pytest.mark.parametrize("kept", [0, 10, 300, 0.5, 0.9, -1])
def test_half_a_file_is_refused(tmp_path: Path, kept: float):
    content = packed(MEMBERS)
    told = refusal(content[: int(kept * len(content)) if 0 < kept < 1 else int(kept)], tmp_path)
    assert told.code == "region-archive-damaged" and "cut short or damaged" in told.message


def test_a_file_of_another_kind_is_refused(tmp_path: Path):
    assert refusal(b"%PDF-1.7 and so on", tmp_path).code == "region-archive-damaged"


@pytest.mark.parametrize(
    "name", ["../region.toml", "/etc/passwd", "terrain/../../x.tif", "terrain\\..\\x.tif", "C:x.tif", "readme.txt", "terrain/a/b.tif"]
)
def test_a_name_no_region_has_is_refused_before_anything_is_written(tmp_path: Path, name: str):
    members = {"region.toml": b"x", name: b"y"}
    folder = tmp_path / "inner"
    told = refusal(zipped([("manifest.toml", manifest({})), *members.items()]), folder)
    assert told.code == "region-archive-member"
    assert list(tmp_path.rglob("*")) == [folder]


def test_a_member_that_stands_twice_is_refused(tmp_path: Path):
    with pytest.warns(UserWarning, match="Duplicate name"):
        content = zipped([("manifest.toml", manifest({"region.toml": b"x"})), ("region.toml", b"x"), ("region.toml", b"y")])
    assert refusal(content, tmp_path).code == "region-archive-member"


@pytest.mark.parametrize(
    ("entries", "code", "words"),
    [
        ([("region.toml", b"x")], "region-archive-manifest", "has no manifest.toml"),
        ([("manifest.toml", manifest({"region.toml": b"x"}))], "region-archive-manifest", "look at region.toml. It is half a file"),
        (
            [("manifest.toml", manifest({"region.toml": b"x"})), ("region.toml", b"x"), ("beacons.csv", b"y")],
            "region-archive-manifest",
            "look at beacons.csv",
        ),
        ([("manifest.toml", manifest({"region.toml": b"x"}, version="2")), ("region.toml", b"x")], "region-archive-newer", "version 2"),
        ([("manifest.toml", manifest({}, format="other"))], "region-archive-manifest", "not of the format"),
        ([("manifest.toml", manifest({}, version='"1"'))], "region-archive-manifest", "without a version"),
        ([("manifest.toml", manifest({}))], "region-archive-manifest", "names no members"),
        ([("manifest.toml", b"format = ")], "region-file-unusable", "not usable as TOML"),
        ([("manifest.toml", b"\xff")], "not-utf-8", "byte 0xFF"),
        ([("manifest.toml", b"#" * 2_000_000)], "region-archive-too-large", "more than 1024 kB"),
        (
            [("manifest.toml", manifest({"region.toml": b"x"}, size="3000000000")), ("region.toml", b"x")],
            "region-archive-too-large",
            "unpacks to 3,000 MB",
        ),
    ],
)
def test_a_wrong_manifest_is_refused_in_words(tmp_path: Path, entries: list[tuple[str, bytes]], code: str, words: str):
    told = refusal(zipped(entries), tmp_path)
    assert (told.code, words in told.message) == (code, True), told.message


def test_a_member_that_inflates_beyond_its_size_is_stopped_there(tmp_path: Path):
    bomb = zipped([("manifest.toml", manifest({"sea.geojson": b"0" * 1000})), ("sea.geojson", b"0" * 50_000_000)])
    assert len(bomb) < 100_000
    assert refusal(bomb, tmp_path).code == "region-archive-changed"
    assert (tmp_path / "sea.geojson").stat().st_size <= 1000


def test_too_many_members_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(region_archive, "MOST_MEMBERS", 2)
    assert refusal(packed(MEMBERS), tmp_path).code == "region-archive-too-large"


def test_a_locked_file_is_refused(tmp_path: Path):
    content = bytearray(packed({"region.toml": b"x"}))
    for at in range(len(content)):
        if content[at : at + 4] == b"PK\x01\x02":  # APPNOTE.TXT 4.3.12: the flags stand 8 bytes into a central header, bit 0 is encryption
            content[at + 8] |= 1
    assert "locked with a password" in refusal(bytes(content), tmp_path).message
