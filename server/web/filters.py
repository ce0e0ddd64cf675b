"""How values are written on pages: the rounding and the words of server.sheets, under short names for the templates."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any

from server.sheets import figures, words
from server.web.forms import number_text


def pairs(kind: Iterable[StrEnum]) -> list[tuple[str, str]]:
    """Pairs of value and words for a list to choose from."""
    return [(item.value, item.value) for item in kind]


def yes_no(value: bool | None) -> str:
    """Say yes, no or not known."""
    return {True: "yes", False: "no", None: "not known"}[value]


FILTERS: dict[str, Any] = {
    "alignment": figures.alignment,
    "altitude": figures.altitude,
    "clock_utc": figures.clock_utc,
    "course": figures.course,
    "day_utc": figures.day_utc,
    "distance_nm": figures.distance_nm,
    "elevation": figures.elevation,
    "frequency": figures.frequency,
    "fuel": figures.fuel,
    "morse": words.morse_marks,
    "pairs": pairs,
    "plain": number_text,
    "position": figures.position,
    "radial": figures.course,
    "speed": figures.speed,
    "variation": figures.variation,
    "yes_no": yes_no,
}
