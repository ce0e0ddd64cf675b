"""What no database of ours can keep, refused in words before it is sent.

SQLite would turn a NaN into "not known" without a sound, and PostgreSQL refuses a zero character in a text.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import datetime
from functools import cache
from typing import Any

from server.errors import InputProblem, Problem

GREATEST_INTEGER = 2**31 - 1
"""PostgreSQL's integer column, the smaller of the two."""


def check_storable(value) -> None:
    """Raise InputProblem that lists every field of a value (its parts included) that cannot be kept."""
    problems = tuple(_problems(value, place=""))
    if problems:
        raise InputProblem(
            "It cannot be saved: " + " ".join(problem.message for problem in problems), code="not-storable", problems=problems
        )


def is_storable_text(words: str) -> bool:
    """Tell whether a text has neither a zero character nor a lone half of a surrogate pair, which no encoding has."""
    return "\x00" not in words and (words.isascii() or not any(0xD800 <= ord(letter) <= 0xDFFF for letter in words))


def _problems(value, *, place: str) -> Iterator[Problem]:
    if value is None:
        return
    if isinstance(value, str):
        if not is_storable_text(value):
            yield _problem(place, "holds a character that is not text. Type it again.")
    elif isinstance(value, float):
        if not math.isfinite(value):
            yield _problem(place, f"is {value}, which is not an ordinary number. Leave it empty if it is not known.")
    elif isinstance(value, int):
        if abs(value) > GREATEST_INTEGER:
            yield _problem(place, f"is {value}, beyond {GREATEST_INTEGER}, the greatest whole number that can be kept.")
    elif isinstance(value, datetime):
        if value.utcoffset() is None:
            yield _problem(place, f"is {value:%Y-%m-%d %H:%M} without a time zone. Give it in UTC.")
    elif isinstance(value, tuple):
        for number, part in enumerate(value, start=1):
            yield from _problems(part, place=f"{place} {number}")
    elif is_dataclass(value):
        kind: Any = type(value)
        for name in _field_names(kind):
            yield from _problems(getattr(value, name), place=f"{place}: {name}" if place else name)


@cache
def _field_names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


def _problem(place: str, words: str) -> Problem:
    return Problem(place=place, message=f"{place} {words}", code="not-storable")
