"""A whole region in one file: a plain ZIP of the members of a region folder, with a manifest that names each by its SHA-256.

    manifest.toml        format, version, and for each member its name, size and SHA-256; the first member
    region.toml          and the other members of a region folder (server/planning/load_region.py): tables, routes.toml, aircraft.toml,
                         sea.geojson, terrain/*.hgt.zip and terrain/*.tif

Written twice from the same members it is the same bytes: every date is that of the format. Read from a stranger it is trusted in nothing:
names, sizes, the number of members and what is inflated are all held against the manifest and against limits as the bytes come.
"""

from __future__ import annotations

import hashlib
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, BinaryIO, NoReturn

from server.errors import InputProblem
from server.exchange.toml_fields import TomlFields, toml_table, toml_text
from server.exchange.toml_writing import toml_lines, toml_tables

FORMAT = "Beaconry region"
VERSION = 1
MANIFEST = "manifest.toml"
REGION_ENDING = ".region.zip"

MOST_MEMBERS = 2_000
MOST_BYTES = 2 * 1024**3
"""Of all members together, inflated. A degree square of 3-second posts takes about 1 MB, and the largest loadable table 64 MB."""
MOST_MANIFEST_BYTES = 1024 * 1024

PLAIN_MEMBERS = (
    "region.toml",
    "beacons.csv",
    "airfields.csv",
    "checkpoints.csv",
    "routes.toml",
    "aircraft.toml",
    "sea.geojson",
)
_TERRAIN_MEMBER = re.compile(r"terrain/(?:[0-9]{1,4}/)?[A-Za-z0-9_-]{1,60}(?:\.hgt\.zip|\.tif)", re.ASCII)
_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_DATE = (1980, 1, 1, 0, 0, 0)  # the first a ZIP can hold
_PIECE = 1024 * 1024
_AGAIN = "Fetch it again, or ask for a new one."


@dataclass(frozen=True, kw_only=True, slots=True)
class Member:
    """One member as the manifest names it."""

    name: str
    size_bytes: int
    sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Manifest:
    """What a region file says it holds."""

    version: int
    members: tuple[Member, ...]


def write_archive(stream: IO[bytes], members: Mapping[str, bytes | Path]) -> Manifest:
    """Write members, given as bytes or as a file that holds them, into one region file, in the order of their names."""
    named = sorted(members)
    assert all(_is_member_name(name) for name in named), "only the members of a region folder go into a region file"
    manifest = Manifest(version=VERSION, members=tuple(_measured(name, members[name]) for name in named))
    with zipfile.ZipFile(stream, "w") as archive:
        _write_member(archive, MANIFEST, _manifest_text(manifest))
        for name in named:
            _write_member(archive, name, members[name])
    return manifest


def unpack_archive(stream: BinaryIO, folder: Path, *, name: str) -> Manifest:
    """Unpack a region file into an empty folder, each member held against the manifest.

    Parameters
    ----------
    stream : a file open for reading, which can seek
    folder : Path
        An empty folder. After a refusal it may hold some members: the caller throws it away.
    name : str
        What the person calls the file, for the messages.

    Raises
    ------
    InputProblem
        region-archive-damaged: no ZIP, cut short, or locked. region-archive-manifest: no usable manifest, or its members are not those
        of the file. region-archive-newer: of a later version. region-archive-changed: a member differs from its SHA-256.
        region-archive-too-large: more members or bytes than are taken. region-archive-member: a name no region folder has.
    """
    reader = _ArchiveReader(name)
    try:
        with zipfile.ZipFile(stream) as archive:
            entries = reader.entries(archive)
            manifest = reader.manifest(archive, entries)
            for member in manifest.members:
                reader.unpack(archive, entries[member.name], member, folder)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, UnicodeDecodeError, ValueError, OSError) as problem:
        if isinstance(problem, OSError) and problem.errno is not None:
            raise  # the disk, not the file
        raise reader.damaged() from problem
    return manifest


def _is_member_name(name: str) -> bool:
    return name in PLAIN_MEMBERS or _TERRAIN_MEMBER.fullmatch(name) is not None


def _pieces(content: bytes | Path) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    with content.open("rb") as stream:
        while piece := stream.read(_PIECE):
            yield piece


def _measured(name: str, content: bytes | Path) -> Member:
    digest, size_bytes = hashlib.sha256(), 0
    for piece in _pieces(content):
        digest.update(piece)
        size_bytes += len(piece)
    return Member(name=name, size_bytes=size_bytes, sha256=digest.hexdigest())


def _write_member(archive: zipfile.ZipFile, name: str, content: bytes | Path) -> None:
    entry = zipfile.ZipInfo(name, date_time=_DATE)
    entry.external_attr = 0o644 << 16
    entry.create_system = 3
    entry.compress_type = zipfile.ZIP_STORED if name.startswith("terrain/") else zipfile.ZIP_DEFLATED  # tiles are packed already
    with archive.open(entry, "w", force_zip64=isinstance(content, Path) and content.stat().st_size > 2**30) as target:
        for piece in _pieces(content):
            target.write(piece)


def _manifest_text(manifest: Manifest) -> bytes:
    members = ({"name": member.name, "size_bytes": member.size_bytes, "sha256": member.sha256} for member in manifest.members)
    return toml_lines({"format": FORMAT, "version": manifest.version}).encode() + b"\n" + toml_tables("member", members)


class _ArchiveReader:
    """Reads a region file that nobody vouches for."""

    def __init__(self, name: str):
        self._name = name

    def damaged(self) -> InputProblem:
        text = f"{self._name} is not a region file that can be read: it is of another kind, cut short or damaged. {_AGAIN}"
        return InputProblem(text, code="region-archive-damaged", place=self._name)

    def entries(self, archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
        """The members of the ZIP by name, none of which is outside what a region file may hold."""
        listed = [entry for entry in archive.infolist() if not entry.filename.endswith("/")]
        if len(listed) > MOST_MEMBERS + 1:
            self._refuse(
                f"holds {len(listed):,} members; {MOST_MEMBERS:,} are the most.",
                code="region-archive-too-large",
            )
        if MANIFEST not in (entry.filename for entry in listed):
            self._refuse(f"has no {MANIFEST}: it is not a region file, or cut short. {_AGAIN}", code="region-archive-manifest")
        entries: dict[str, zipfile.ZipInfo] = {}
        for entry in listed:
            shown = entry.filename[:80]
            if entry.filename != MANIFEST and not _is_member_name(entry.filename):
                self._refuse(f"holds {shown!r}, which no region has. Nothing of it is taken. {_AGAIN}", code="region-archive-member")
            if entry.filename in entries:
                self._refuse(f"holds {shown!r} twice. {_AGAIN}", code="region-archive-member")
            if entry.flag_bits & 0x1:
                self._refuse("is locked with a password. Ask for it without one.", code="region-archive-damaged")
            entries[entry.filename] = entry
        return entries

    def manifest(self, archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo]) -> Manifest:
        """The manifest, which names every member once."""
        with archive.open(entries[MANIFEST]) as stream:
            content = stream.read(MOST_MANIFEST_BYTES + 1)
        if len(content) > MOST_MANIFEST_BYTES:
            self._refuse(f"has a {MANIFEST} of more than {MOST_MANIFEST_BYTES // 1024} kB. {_AGAIN}", code="region-archive-too-large")
        manifest = self._read_manifest(content)
        named = {member.name for member in manifest.members}
        held = entries.keys() - {MANIFEST}
        if len(named) < len(manifest.members) or named != held:
            odd = sorted(named ^ held) or sorted(named)
            self._refuse(
                f"does not hold what its {MANIFEST} names: look at {', '.join(odd[:3])}. It is half a file, or was packed anew. {_AGAIN}",
                code="region-archive-manifest",
            )
        total_bytes = sum(member.size_bytes for member in manifest.members)
        if total_bytes > MOST_BYTES:
            self._refuse(
                f"unpacks to {total_bytes / 1e6:,.0f} MB; {MOST_BYTES / 1e6:,.0f} MB are the most.",
                code="region-archive-too-large",
            )
        return manifest

    def _read_manifest(self, content: bytes) -> Manifest:
        place = f"{MANIFEST} of {self._name}"
        text = toml_text(content, name=place)
        table = toml_table(text, name=place)
        if table.get("format") != FORMAT:
            self._refuse(f"is not of the format {FORMAT!r}, says its {MANIFEST}.", code="region-archive-manifest")
        version = table.get("version")
        if not isinstance(version, int) or isinstance(version, bool) or version < 1:
            self._refuse(f"has a {MANIFEST} without a version. {_AGAIN}", code="region-archive-manifest")
        if version > VERSION:
            self._refuse(
                f"is of version {version} of the format; this Beaconry reads up to version {VERSION}. Load it with a newer Beaconry.",
                code="region-archive-newer",
            )
        members = table.get("member")
        if not isinstance(members, list) or not members or not all(isinstance(member, dict) for member in members):
            self._refuse(f"has a {MANIFEST} that names no members. {_AGAIN}", code="region-archive-manifest")
        return Manifest(version=version, members=tuple(self._member(entry, text, place, at) for at, entry in enumerate(members, 1)))

    def _member(self, entry: dict, text: str, place: str, number: int) -> Member:
        fields = TomlFields(entry, text, place, of=f"member {number}, ")
        member = Member(
            name=fields.text("name", required=True, longest=200),
            size_bytes=int(fields.number("size_bytes", 0, 1e12) or 0),
            sha256=fields.text("sha256", required=True, longest=64),
        )
        if member.sha256 and not _SHA256.fullmatch(member.sha256):
            fields.refuse("sha256", "is not the 64 digits of a SHA-256")
        fields.finish()
        return member

    def unpack(self, archive: zipfile.ZipFile, entry: zipfile.ZipInfo, member: Member, folder: Path) -> None:
        """Write one member into the folder, and never more of it than the manifest allows."""
        target = folder.joinpath(*member.name.split("/"))
        target.parent.mkdir(parents=True, exist_ok=True)
        digest, size_bytes = hashlib.sha256(), 0
        with archive.open(entry) as source, target.open("xb") as stream:
            while piece := source.read(_PIECE):
                size_bytes += len(piece)
                if size_bytes > member.size_bytes:
                    break
                digest.update(piece)
                stream.write(piece)
        if size_bytes != member.size_bytes or digest.hexdigest() != member.sha256:
            self._refuse(
                f"holds {member.name} otherwise than its {MANIFEST} says: a byte of it was changed on the way. {_AGAIN}",
                code="region-archive-changed",
            )

    def _refuse(self, what: str, *, code: str) -> NoReturn:
        raise InputProblem(f"{self._name} {what}", code=code, place=self._name)
