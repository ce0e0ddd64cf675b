"""Turns a frozen context into a page. The one place that knows Jinja2.

Each page has a context dataclass derived from Page; a template receives exactly the names of its fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, ClassVar

from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from server.persistence import RegionRecord


@dataclass(frozen=True, kw_only=True)
class Page:
    """What stands round the content of every page."""

    template: ClassVar[str]

    title: str
    """Title of the window and heading of the page."""
    section: str
    """Which entry of the navigation is current: home, desk, beacons, airfields, checkpoints, routes, load, aircraft."""
    region: RegionRecord | None = None
    """The region the page belongs to; None on pages that belong to none."""


@dataclass(frozen=True, kw_only=True)
class Fragment:
    """A part of a page that is sent by itself, in answer to a change on the page."""

    template: ClassVar[str]


class Pages:
    """The templates, compiled once."""

    def __init__(self, folder: Path, *, filters: Mapping[str, Any], words: Mapping[str, Any]):
        """``filters`` round and word values for people; ``words`` are texts every template may use."""
        self.environment = Environment(
            loader=FileSystemLoader(folder), undefined=StrictUndefined, autoescape=True, trim_blocks=True, lstrip_blocks=True
        )
        self.environment.filters.update(filters)
        self.environment.globals.update(words)

    def write(self, context: Page | Fragment) -> str:
        """Render the template of this context."""
        return self.environment.get_template(context.template).render(
            {field.name: getattr(context, field.name) for field in fields(context)}
        )

    def show(self, page: Page, *, status: int = 200) -> HTMLResponse:
        """Answer with the page of this context."""
        return send_page(self.write(page), status=status)


def send_page(html: str, *, status: int = 200) -> HTMLResponse:
    """Answer with a page that has been written. An answer is sent once: what stands round it may change its headers."""
    return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-cache"})


def see_other(path: str) -> RedirectResponse:
    """After a form has been obeyed, send the browser to the page that shows the result."""
    return RedirectResponse(path, status_code=303)
