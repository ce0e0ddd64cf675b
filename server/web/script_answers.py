"""Answers to our own scripts: values as JSON, refusals in words, and what such a script may send."""

from __future__ import annotations

import json
from typing import Any

from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict

from server.errors import ProjectError
from server.web.problems import status_of


class Sent(BaseModel):
    """What a script sends: the named fields and no others, and only numbers that are numbers."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


def values(told: dict[str, Any], *, status: int = 200) -> Response:
    """Answer with values."""
    content = json.dumps(told, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    return Response(content, status_code=status, media_type="application/json", headers={"Cache-Control": "no-store"})


def refusal(error: ProjectError) -> Response:
    """Answer with why it cannot be done."""
    return values({"trouble": error.message, "code": error.code}, status=status_of(error))
