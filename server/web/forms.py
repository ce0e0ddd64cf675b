"""What people type: read strictly, with every problem kept beside its field, and what was typed kept too."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from typing import TypeVar

from server.errors import InputProblem, Problem, ProjectError
from server.navigation import Position, parse_latitude, parse_longitude, parse_number
from server.sheets import figures

LONGEST_TEXT = 2_000
Choice = TypeVar("Choice", bound=StrEnum)

COUNTED_UNITS = ("ft", "ft MSL", "ft/min", "m")
"""Heights and lengths are whole and large, and are printed with a comma between thousands: so "9,500" is read back as it is printed."""

_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(,[0-9]{3})+", re.ASCII)
_CLOCK = re.compile(r"([0-9]{2}):?([0-9]{2})Z?", re.ASCII)


@dataclass(frozen=True)
class FormText:
    """A form as text: what stands in each field, and what is wrong with it."""

    fields: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    def text(self, place: str) -> str:
        """What stands in this field; a field that was not sent is empty."""
        return self.fields.get(place, "")

    def problems_at(self, place: str) -> tuple[str, ...]:
        """What is wrong with this field, in words."""
        return tuple(problem.message for problem in self.problems if problem.place == place)

    def rows(self, table: str, *, spare: int, least: int = 0) -> range:
        """The row numbers of a table in the form: those filled in, and some spare ones, at least so many."""
        field_of_row = re.compile(rf"{table}\.([0-9]{{1,2}})\.[a-z_]+", re.ASCII)
        named = [(field_of_row.fullmatch(name), text) for name, text in self.fields.items()]
        filled = max((int(match[1]) + 1 for match, text in named if match and text.strip()), default=0)
        return range(max(filled + spare, least))

    def with_problems(self, refusal: ProjectError) -> FormText:
        """The same form with what was refused."""
        alone = (Problem(place="", message=refusal.message, code=refusal.code),)
        return replace(self, problems=refusal.problems if isinstance(refusal, InputProblem) else alone)


class FormReader:
    """Reads typed values out of a form, field by field, and collects all that is wrong before it refuses."""

    def __init__(self, form: FormText):
        self.form = form
        self._problems: list[Problem] = []

    def refuse(self, place: str, message: str) -> None:
        """Note one problem."""
        self._problems.append(Problem(place=place, message=message))

    def finish(self) -> None:
        """Raise InputProblem with everything noted, if anything was."""
        if self._problems:
            count = len(self._problems)
            what = "One field needs" if count == 1 else f"{count} fields need"
            raise InputProblem(f"{what} another look. Nothing has been saved yet.", code="form", problems=tuple(self._problems))

    def text(self, place: str, label: str, *, longest: int = 80, required: bool = False) -> str:
        """Read a text without blanks at its ends."""
        text = self.form.text(place).strip()
        if required and not text:
            self.refuse(place, f"{label}: please fill this in.")
        if len(text) > longest:
            self.refuse(place, f"{label}: {len(text)} characters are too many, {longest} is the most.")
        if any((ord(letter) < 32 and letter not in "\r\n\t") or ord(letter) == 127 for letter in text):
            self.refuse(place, f"{label}: there is a control character in the text. Type it again.")
        return text

    def number(
        self, place: str, label: str, *, unit: str, lowest: float | None = None, highest: float | None = None, required: bool = False
    ) -> float | None:
        """Read a number in the unit the field says. Empty is None."""
        text = self.form.text(place).strip()
        if not text:
            if required:
                self.refuse(place, f"{label}: please give a number in {unit}.")
            return None
        try:
            value = parse_number(text.replace(",", "") if unit in COUNTED_UNITS and _GROUPED.fullmatch(text) else text)
        except InputProblem as problem:
            self.refuse(place, f"{label}: {_comma_words(text) or problem.message}")
            return None
        if (lowest is not None and value < lowest) or (highest is not None and value > highest):
            self.refuse(place, f"{label}: {text} {unit} is outside {_span(lowest, highest)} {unit}.")
            return None
        return value

    def required_number(self, place: str, label: str, *, unit: str, lowest: float | None = None, highest: float | None = None) -> float:
        """Read a number that must be there. NaN after a problem, which never leaves: ``finish`` refuses first."""
        value = self.number(place, label, unit=unit, lowest=lowest, highest=highest, required=True)
        return math.nan if value is None else value

    def whole_number(self, place: str, label: str, *, lowest: int, highest: int, required: bool = False) -> int | None:
        """Read a number without a fraction, such as a year or the number of a record."""
        value = self.number(place, label, unit="(whole number)", lowest=lowest, highest=highest, required=required)
        if value is not None and value != int(value):
            self.refuse(place, f"{label}: {self.form.text(place)} must be a whole number.")
            return None
        return None if value is None else int(value)

    def choice(self, place: str, label: str, kind: type[Choice]) -> Choice | None:
        """Read one of a fixed list of words. Empty is None."""
        text = self.form.text(place)
        if not text:
            return None
        if text not in [item.value for item in kind]:
            self.refuse(place, f'{label}: "{text[:40]}" is not one of {", ".join(kind)}.')
            return None
        return kind(text)

    def required_choice(self, place: str, label: str, kind: type[Choice]) -> Choice:
        """Read one of a fixed list of words that must be given. The first of the list after a problem; ``finish`` refuses first."""
        if not self.form.text(place):
            self.refuse(place, f"{label}: please choose one of {', '.join(kind)}.")
        return self.choice(place, label, kind) or next(iter(kind))

    def record(self, place: str, label: str, known: Iterable[int | None], *, required: bool = False) -> int | None:
        """Read the number of a record chosen from a list on the page."""
        number = self.whole_number(place, label, lowest=1, highest=2_147_483_647)
        if number is None and required and not self.form.text(place):
            self.refuse(place, f"{label}: please choose one.")
        if number is not None and number not in set(known):
            self.refuse(place, f"{label}: the one you chose is not there any more. Choose another.")
            return None
        return number

    def day(self, place: str, label: str) -> date | None:
        """Read a day, year first. Empty is None."""
        text = self.form.text(place).strip()
        if not text:
            return None
        try:
            if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
                raise ValueError
            return date.fromisoformat(text)
        except ValueError:
            self.refuse(place, f'{label}: "{text[:40]}" is not a day. Write year-month-day, such as 2026-03-14.')
            return None

    def moment_utc(self, day_place: str, clock_place: str, label: str) -> datetime | None:
        """Read a day and a UTC time of day; 24:00 is the next day's 00:00. None when both are empty."""
        day, text = self.day(day_place, label), self.form.text(clock_place).strip().upper()
        if not text:
            if self.form.text(day_place).strip():
                self.refuse(clock_place, f"{label}: the day is given, the UTC time is not.")
            return None
        match = _CLOCK.fullmatch(text)
        hour, minute = (int(part) for part in match.groups()) if match else (99, 99)
        if not ((hour < 24 and minute < 60) or (hour, minute) == (24, 0)):
            self.refuse(
                clock_place, f'{label}: "{text[:20]}" is not a UTC time. Write hours and minutes with two digits each, such as 09:05.'
            )
            return None
        if day is None:
            if not self.form.text(day_place).strip():
                self.refuse(day_place, f"{label}: the UTC time is given, the day is not.")
            return None
        if not date(1900, 1, 1) <= day <= date(2200, 1, 1):
            self.refuse(day_place, f"{label}: the year {day.year} is outside 1900 to 2200.")
            return None
        return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hour, minutes=minute)

    def position(self, prefix: str, label: str, *, required: bool = True) -> Position | None:
        """Read latitude and longitude, as degrees or as degrees and minutes with letters."""
        lat_place, lon_place = f"{prefix}lat", f"{prefix}lon"
        if not required and not self.form.text(lat_place).strip() and not self.form.text(lon_place).strip():
            return None
        lat_deg = self._angle(lat_place, f"{label}, latitude", parse_latitude)
        lon_deg = self._angle(lon_place, f"{label}, longitude", parse_longitude)
        if lat_deg is None or lon_deg is None:
            return None
        return Position(lat_deg=lat_deg, lon_deg=lon_deg)

    def required_position(self, prefix: str, label: str) -> Position:
        """Read a position that must be there. The origin after a problem; ``finish`` refuses first."""
        return self.position(prefix, label) or Position(lat_deg=0.0, lon_deg=0.0)

    def latitude(self, place: str, label: str) -> float:
        """Read a latitude that must be there. NaN after a problem; ``finish`` refuses first."""
        value = self._angle(place, label, parse_latitude)
        return math.nan if value is None else value

    def longitude(self, place: str, label: str) -> float:
        """Read a longitude that must be there. NaN after a problem; ``finish`` refuses first."""
        value = self._angle(place, label, parse_longitude)
        return math.nan if value is None else value

    def _angle(self, place, label, parse) -> float | None:
        text = self.form.text(place).strip()
        if not text:
            self.refuse(place, f"{label}: please fill this in, such as 43 12.5 N or 43.2083.")
            return None
        try:
            return parse(text)
        except InputProblem as problem:
            self.refuse(place, f"{label}: {problem.message}")
            return None

    def checked(self, place: str) -> bool:
        """Whether a box is ticked."""
        return bool(self.form.text(place))


def _comma_words(text: str) -> str:
    """What to type instead, where a comma is all that is wrong."""
    if not re.fullmatch(r"[+-]?[0-9]+(,[0-9]+)+", text, re.ASCII):
        return ""
    return f'"{text[:40]}" has a comma, which can be read two ways. Write decimals with a point, like 12.5, and thousands without a mark.'


def number_text(value: float | None) -> str:
    """Write a number into a field so that reading it back gives the same number to nine digits."""
    return "" if value is None else f"{value:.9g}" if abs(value) < 1e9 else f"{value:.0f}"


def short_number_text(value: float | None) -> str:
    """Write a number that was turned into another unit as it was typed: to a hundredth, without noughts at its end."""
    return "" if value is None else number_text(float(figures.rounded(value, decimals=2)))


def day_text(value: date | None) -> str:
    """Write a day into a field."""
    return "" if value is None else value.isoformat()


def _span(lowest: float | None, highest: float | None) -> str:
    if highest is None:
        return f"what is allowed: at least {lowest:g}"
    if lowest is None:
        return f"what is allowed: at most {highest:g}"
    return f"{lowest:g} to {highest:g}"
