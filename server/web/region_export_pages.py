"""A whole region away as one file, and one that comes from elsewhere loaded as a new region."""

from __future__ import annotations

import tempfile
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, replace
from typing import IO, Annotated, BinaryIO, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response, StreamingResponse
from starlette.datastructures import UploadFile

from server.errors import Conflict, InputProblem, Problem, ProjectError
from server.exchange import REGION_ENDING
from server.planning.load_region import RegionLoad
from server.planning.load_region_file import load_region_file
from server.planning.region_export import export_region
from server.web.desk import MOST_FIELDS, AtDesk, Desk
from server.web.forms import FormText
from server.web.pages import Page

LOAD_ADDRESS = "/regions/load-file"
LONGEST_FILE_NAME = 120
PIECE_BYTES = 256 * 1024
KEPT_IN_MEMORY_BYTES = 16 * 1024 * 1024
NAME_CODES = ("region-exists", "region-name")
"""Refusals that another short name cures: the file waits, and need not be sent again."""


@dataclass(frozen=True, kw_only=True)
class LoadFilePage(Page):
    template: ClassVar[str] = "region_load_file.html"
    form: FormText
    action: str = LOAD_ADDRESS
    """Where the file is sent."""
    token: str = ""
    """Under which a file waits for another short name; empty where none does."""
    file_name: str = ""
    """What that file is called."""


@dataclass(frozen=True, kw_only=True)
class LoadedFilePage(Page):
    template: ClassVar[str] = "region_loaded.html"
    rows: tuple[tuple[str, str], ...]
    """What the file brought: a name and words each."""
    at: str
    """Address of the region."""


@dataclass(frozen=True, kw_only=True)
class SentFile:
    """The form as it was sent, and the file in it; None where none was chosen."""

    form: FormText
    name: str
    stream: BinaryIO | None


def takes_region_file(address: str) -> bool:
    """Tell whether a region file may be sent to an address."""
    return address == LOAD_ADDRESS


async def sent_file(request: Request) -> AsyncIterator[SentFile]:
    """The file field named ``table``, left where it was put when it arrived, so that a large one is not taken into memory."""
    async with request.form(max_fields=MOST_FIELDS) as sent:
        form = FormText(fields={name: value for name, value in sent.multi_items() if isinstance(value, str)})
        file = sent.get("table")
        there = isinstance(file, UploadFile) and bool(file.filename)
        name = (file.filename or "")[-LONGEST_FILE_NAME:] if isinstance(file, UploadFile) else ""
        yield SentFile(form=form, name=name, stream=file.file if there and isinstance(file, UploadFile) else None)


def _pieces(stream: IO[bytes]) -> Iterator[bytes]:
    with stream:
        while piece := stream.read(PIECE_BYTES):
            yield piece


def _form_page(form: FormText, *, token: str = "", file_name: str = "") -> LoadFilePage:
    return LoadFilePage(title="Load a region from a file", section="home", form=form, token=token, file_name=file_name)


def _loaded_page(loaded: RegionLoad) -> LoadedFilePage:
    tables = (("Beacons", loaded.beacons), ("Airfields", loaded.airfields), ("Checkpoints", loaded.checkpoints))
    kept = loaded.aircraft_kept
    rows = [
        *((name, str(report.taken)) for name, report in tables),
        ("Routes", ", ".join(loaded.routes_added) or "none"),
        ("Aircraft added", ", ".join(loaded.aircraft_added) or "none"),
        *([("Aircraft that stayed as they are here, and differ in the file", ", ".join(kept))] if kept else []),
        ("Elevation files", str(len(loaded.terrain.taken)) if loaded.terrain is not None else "none: nothing is known of its ground"),
    ]
    region = loaded.region
    return LoadedFilePage(title=f"Loaded: {region.name}", section="home", region=region, rows=tuple(rows), at=f"/regions/{region.slug}")


def _load(desk: Desk, stream: BinaryIO, *, name: str, slug: str) -> LoadedFilePage:
    return _loaded_page(load_region_file(desk.library, desk.terrain_store, stream, name=name, slug=slug))


def _beside(refusal: ProjectError, place: str) -> InputProblem:
    """A refusal told beside the field that cures it."""
    problems = refusal.problems if isinstance(refusal, InputProblem) else (Problem(place=place, message=refusal.message),)
    return InputProblem(refusal.message, code=refusal.code, problems=tuple(replace(problem, place=place) for problem in problems))


def _take(desk: Desk, sent: SentFile) -> Response:
    """Load what was sent, or what waits; a refused short name lets the file wait."""
    token, name = sent.form.text("token"), sent.name or sent.form.text("name")[:LONGEST_FILE_NAME] or "The file"
    if sent.stream is None and not token:
        words = f"File: please choose a region file; its name ends in {REGION_ENDING}."
        return desk.pages.show(_form_page(sent.form.with_problems(_beside(InputProblem(words), "table"))), status=422)
    stream = sent.stream if sent.stream is not None else desk.staged.open(token)
    try:
        page = _load(desk, stream, name=name, slug=sent.form.text("slug").strip())
    except (InputProblem, Conflict) as refusal:
        if refusal.code not in NAME_CODES:
            return desk.pages.show(_form_page(sent.form.with_problems(_beside(refusal, "table"))), status=422)
        stream.seek(0)
        waiting = token if sent.stream is None else desk.staged.keep_stream(stream)
        form = sent.form.with_problems(_beside(refusal, "slug"))
        return desk.pages.show(_form_page(form, token=waiting, file_name=name), status=422)
    finally:
        if sent.stream is None:
            stream.close()
    if token:
        desk.staged.drop(token)
    return desk.pages.show(page)


def region_export_router() -> APIRouter:
    """The file out, the file in. To be included before routers that would read "load-file" as a region's short name."""
    router = APIRouter(prefix="/regions")

    @router.get("/load-file")
    def choose(desk: AtDesk):
        return desk.pages.show(_form_page(FormText()))

    @router.post("/load-file")
    def load(desk: AtDesk, sent: Annotated[SentFile, Depends(sent_file)]):
        return _take(desk, sent)

    @router.get("/{slug}/export")
    def export(desk: AtDesk, slug: str):
        stream = tempfile.SpooledTemporaryFile(max_size=KEPT_IN_MEMORY_BYTES)  # noqa: SIM115, closed by what reads it
        try:
            export_region(desk.library, desk.terrain_store, slug, stream)
        except BaseException:
            stream.close()
            raise
        size_bytes = stream.tell()
        stream.seek(0)
        headers = {
            "Content-Disposition": f'attachment; filename="{slug}{REGION_ENDING}"',
            "Content-Length": str(size_bytes),
            "Cache-Control": "no-store",
        }
        return StreamingResponse(_pieces(stream), media_type="application/zip", headers=headers)

    return router
