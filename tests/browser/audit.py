"""Looks a page over for what keeps people from reading it: names, headings, tables, contrast, width, text over text."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).parent
_AUDIT = (_HERE / "audit.js").read_text(encoding="utf-8").split("\n", 1)[1]
_OVERLAPS = (_HERE / "overlaps.js").read_text(encoding="utf-8").split("\n", 1)[1]


def problems_of(page) -> list[str]:
    """Everything wrong with the page that is open."""
    return page.evaluate(_AUDIT)


def overlaps_in(locator) -> list[str]:
    """Text over text, and boxes too narrow for what is in them."""
    found = locator.evaluate(_OVERLAPS)
    assert found["lines"] > 100, "there was hardly any text to look at"
    return found["problems"]
