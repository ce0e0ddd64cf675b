"""Elevation files and a sea outline sent with the form of a region, kept between looking at the ground and deciding.

The form carries for each file its name and the token under which it waits, so that a refused form keeps the files too.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Annotated

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from server.errors import NotFound
from server.web.desk import MOST_FIELDS, Desk, desk_of
from server.web.forms import FormText
from server.web.staging import StagedUploads

MOST_FILES = 99
LONGEST_FILE_NAME = 120
FILE_FIELDS = {"terrain_files": "terrain", "sea_file": "sea"}
"""Each file field of the form, and the table of the form that keeps what was sent in it."""

FORGET_FILES = "forget_files"
"""The box that is ticked to leave out what was sent before."""

_TAKES_GROUND = re.compile(r"/regions/(new|[^/]+/settings)")


def takes_ground(address: str) -> bool:
    """Tell whether elevation files may be sent to an address."""
    return _TAKES_GROUND.fullmatch(address) is not None


async def region_form(request: Request) -> FormText:
    """The fields of the form of a region, with the files sent in it kept aside. New files take the place of those kept before."""
    staged = desk_of(request).staged
    async with request.form(max_fields=MOST_FIELDS, max_files=MOST_FILES + 1) as sent:
        fields = {name: value for name, value in sent.multi_items() if isinstance(value, str)}
        for field, table in FILE_FIELDS.items():
            fresh = await _keep(sent, field, staged)
            if fresh or fields.get(FORGET_FILES):
                fields = {name: value for name, value in fields.items() if not name.startswith(f"{table}.")}
            for number, (name, token) in enumerate(fresh):
                fields |= {f"{table}.{number}.name": name, f"{table}.{number}.token": token}
    return FormText(fields={name: value for name, value in fields.items() if name != FORGET_FILES})


async def _keep(sent: FormData, field: str, staged: StagedUploads) -> list[tuple[str, str]]:
    kept = []
    for value in sent.getlist(field):
        if isinstance(value, UploadFile) and value.filename:
            content = await value.read()
            kept.append((plain_name(value.filename), await run_in_threadpool(staged.keep, content)))
    return kept


def plain_name(name: str) -> str:
    """Return the last part of a file's name, without what could lead out of a folder."""
    last = re.split(r"[/\\]", name)[-1]
    printed = "".join(letter for letter in last if letter.isprintable())
    plain = printed.encode(errors="ignore")[-LONGEST_FILE_NAME:].decode(errors="ignore").strip()
    return plain if plain.strip(".") else "file"


def kept_files(form: FormText, table: str) -> tuple[tuple[str, str], ...]:
    """The name and token of each file that the form carries."""
    rows = [f"{table}.{row}." for row in form.rows(table, spare=0)]
    return tuple((plain_name(form.text(f"{row}name")), form.text(f"{row}token")) for row in rows if form.text(f"{row}token"))


@contextmanager
def files_at_hand(staged: StagedUploads, form: FormText) -> Iterator[tuple[Path, ...]]:
    """Lay the kept elevation files out under their own names for as long as the block lasts.

    Raises
    ------
    NotFound
        A file waited too long.
    """
    with tempfile.TemporaryDirectory() as scratch:
        paths = []
        for number, (name, token) in enumerate(kept_files(form, "terrain")):
            path = Path(scratch) / str(number) / name
            path.parent.mkdir()
            path.write_bytes(staged.content(token))
            paths.append(path)
        yield tuple(paths)


def sea_content(staged: StagedUploads, form: FormText) -> bytes:
    """The kept sea outline; empty where none was sent."""
    return b"".join(staged.content(token) for _, token in kept_files(form, "sea")[:1])


def without_lost_files(staged: StagedUploads, form: FormText) -> FormText:
    """The form without the files that are no longer kept, so that it does not promise them."""
    fields = dict(form.fields)
    for table in FILE_FIELDS.values():
        for row in form.rows(table, spare=0):
            try:
                staged.content(form.text(f"{table}.{row}.token"))
            except NotFound:
                fields = {name: value for name, value in fields.items() if not name.startswith(f"{table}.{row}.")}
    return replace(form, fields=fields)


def forget_files(desk: Desk, form: FormText) -> None:
    """Drop the kept files once they are used."""
    for table in FILE_FIELDS.values():
        for _, token in kept_files(form, table):
            desk.staged.drop(token)


RegionFormSent = Annotated[FormText, Depends(region_form)]
