"""What every handler works with, and how it gets what the browser sent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Path, Request
from starlette.datastructures import UploadFile

from server.persistence import Library
from server.planning import CrestWork
from server.planning.plan_memory import PlanMemory
from server.terrain import TerrainStore
from server.web.forms import FormText
from server.web.pages import Pages
from server.web.staging import StagedUploads

MOST_FIELDS = 3_000
GREATEST_NUMBER = 2_147_483_647


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The parts of the house a page may use, made once by the composition root."""

    library: Library
    terrain_store: TerrainStore
    pages: Pages
    staged: StagedUploads
    clock: Callable[[], datetime]
    crest_work: CrestWork
    plans: PlanMemory


@dataclass(frozen=True, kw_only=True)
class Upload:
    """A file as it was sent, and the fields sent with it."""

    form: FormText
    name: str
    content: bytes


def desk_of(request: Request) -> Desk:
    """The desk of this application."""
    return request.app.state.desk


async def typed_form(request: Request) -> FormText:
    """The text fields of a sent form."""
    async with request.form(max_fields=MOST_FIELDS) as sent:
        return FormText(fields={name: value for name, value in sent.multi_items() if isinstance(value, str)})


async def uploaded_file(request: Request) -> Upload:
    """The file field named ``table`` of a sent form; without one the content is empty."""
    async with request.form(max_fields=MOST_FIELDS) as sent:
        form = FormText(fields={name: value for name, value in sent.multi_items() if isinstance(value, str)})
        table = sent.get("table")
        if not isinstance(table, UploadFile):
            return Upload(form=form, name="", content=b"")
        return Upload(form=form, name=table.filename or "", content=await table.read())


AtDesk = Annotated[Desk, Depends(desk_of)]
TypedForm = Annotated[FormText, Depends(typed_form)]
UploadedFile = Annotated[Upload, Depends(uploaded_file)]
Number = Annotated[int, Path(ge=1, le=GREATEST_NUMBER)]
"""The number of a record in an address; anything else is an address that does not exist."""
