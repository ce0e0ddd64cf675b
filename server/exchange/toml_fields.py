"""Read typed values out of a TOML file and collect what is wrong, each problem with the line its name stands in."""

from __future__ import annotations

import re
import tomllib
from datetime import UTC, datetime

from server.errors import InputProblem, Problem

_LONGEST_TEXT = 2_000


def toml_text(content: bytes, *, name: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        raise InputProblem(
            f"{name}, line {line}: byte 0x{content[problem.start]:02X} is not UTF-8.", code="not-utf-8", place=f"{name}, line {line}"
        ) from None


def toml_table(text: str, *, name: str) -> dict:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise InputProblem(f"{name} is not usable as TOML: {problem}.", code="region-file-unusable", place=name) from None
    except ValueError as problem:  # a number of thousands of digits
        reason = str(problem).split(";")[0]
        raise InputProblem(f"{name} is not usable as TOML: {reason}.", code="region-file-unusable", place=name) from None
    except RecursionError:
        raise InputProblem(f"{name} is not usable as TOML: it is nested too deeply.", code="region-file-unusable", place=name) from None


def is_number(value) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e12


def raise_problems(problems: list[Problem], name: str) -> None:
    if problems:
        more = f" And {len(problems) - 1} more." if len(problems) > 1 else ""
        raise InputProblem(f"{problems[0].message}{more}", code="region-file-unusable", place=problems[0].place, problems=tuple(problems))


class TomlFields:
    """Reads typed values out of a TOML table and collects what is wrong, each with the line its name stands in."""

    def __init__(self, table: dict, text: str, name: str, *, of: str = "", start: int = 0):
        self.problems: list[Problem] = []
        self._table = table
        self._text = text
        self._name = name
        self._of = of
        self._start = start

    def refuse(self, field: str, what: str) -> None:
        found = re.compile(rf"^[ \t]*{re.escape(field)}[ \t]*=", re.MULTILINE).search(self._text, self._start)
        place = f"{self._name}, line {self._text.count(chr(10), 0, found.start()) + 1}" if found and field in self._table else self._name
        self.problems.append(Problem(place=place, message=f"{place}: {self._of}{field} {what}.", code="region-file-unusable"))

    def take(self, field: str, default):
        return self._table.get(field, default)

    def text(self, field: str, *, required: bool = False, longest: int = _LONGEST_TEXT) -> str:
        value = self._table.get(field, "")
        if not isinstance(value, str) or len(value) > longest or "\x00" in value:
            self.refuse(field, f"must be text of at most {longest} characters")
            return ""
        if required and not value.strip():
            self.refuse(field, "is needed")
        return value.strip()

    def yes_or_no(self, field: str) -> bool:
        value = self._table.get(field)
        if not isinstance(value, bool):
            self.refuse(field, "is needed, true or false")
        return value is True

    def number(self, field: str, lowest: float, highest: float, *, default: float | None = None) -> float | None:
        value = self._table.get(field, default)
        if value is None:
            self.refuse(field, f"is needed, a number from {lowest:g} to {highest:g}")
        elif not is_number(value) or not lowest <= value <= highest:
            self.refuse(field, f"is {str(value)[:30]}; it must be a number from {lowest:g} to {highest:g}")
        else:
            return float(value)
        return None

    def maybe_number(self, field: str, lowest: float, highest: float) -> float | None:
        """A number that may be left out."""
        return None if field not in self._table else self.number(field, lowest, highest)

    def word(self, field: str, words, default):
        value = self._table.get(field, default)
        try:
            return words(value)
        except ValueError:
            self.refuse(field, f"is {str(value)[:30]!r}; it can be {', '.join(words)}")
            return default

    def moment(self, field: str) -> datetime | None:
        value = self._table.get(field)
        if isinstance(value, datetime) and value.tzinfo is not None:
            return value.astimezone(UTC)
        if value is not None:
            self.refuse(field, "must be a moment with its offset from UTC, such as 2026-06-16T13:00:00Z")
        return None

    def finish(self) -> None:
        raise_problems(self.problems, self._name)
