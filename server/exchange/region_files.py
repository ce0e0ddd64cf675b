"""Read what describes a region beside its tables: region.toml and aircraft.toml. All problems of a file are reported at once.

slug = "skerry"                      short name in addresses: a to z, 0 to 9, hyphens
name = "Skerry Sound"
fictional = true
notice = "..."                       printed on every page and sheet of a fictional region
south_deg, north_deg, west_deg, east_deg        the box; west may be greater than east across 180
standard_parallel_1_deg, standard_parallel_2_deg, central_meridian_deg, central_parallel_deg    its conformal conic projection
level_rule = "ICAO"                  or "US"
source = "..."

[[aircraft]]
registration = "..."                 and the fields of an aircraft, with units in their names
compass_card = [[0, 2], [90, 89]]    pairs: for this magnetic heading, steer this
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import Any

from server.errors import InputProblem, Problem
from server.navigation.aircraft import Aircraft, CompassCardEntry, FuelUnit, SpeedKind

LEVEL_RULES = ("ICAO", "US")
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LONGEST_TEXT = 2_000


@dataclass(frozen=True, kw_only=True, slots=True)
class RegionDescription:
    """What region.toml says of a region: its box and its chart projection [deg]."""

    slug: str
    name: str
    fictional: bool
    notice: str
    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float
    standard_parallel_1_deg: float
    standard_parallel_2_deg: float
    central_meridian_deg: float
    central_parallel_deg: float
    level_rule: str
    source: str


def read_region(content: bytes, *, name: str) -> RegionDescription:
    """Read region.toml, or raise InputProblem with everything that is wrong in it."""
    text = _text(content, name=name)
    fields = _Fields(_parsed(text, name=name), text, name)
    values: dict[str, Any] = {
        "slug": fields.text("slug", required=True, longest=40),
        "name": fields.text("name", required=True, longest=80),
        "fictional": fields.yes_or_no("fictional"),
        "notice": fields.text("notice"),
        "level_rule": fields.text("level_rule") or LEVEL_RULES[0],
        "source": fields.text("source"),
        **{column: fields.number(column, -90.0, 90.0) for column in ("south_deg", "north_deg", "central_parallel_deg")},
        **{column: fields.number(column, -180.0, 180.0) for column in ("west_deg", "east_deg", "central_meridian_deg")},
        **{column: fields.number(column, -89.0, 89.0) for column in ("standard_parallel_1_deg", "standard_parallel_2_deg")},
    }
    if values["slug"] and not _SLUG.fullmatch(values["slug"]):
        fields.refuse("slug", "may hold a to z, 0 to 9 and single hyphens only")
    if values["level_rule"] not in LEVEL_RULES:
        fields.refuse("level_rule", f"can be {' or '.join(LEVEL_RULES)}")
    if None not in (values["south_deg"], values["north_deg"]) and values["south_deg"] >= values["north_deg"]:
        fields.refuse("south_deg", "must be less than north_deg")
    if values["fictional"] and not values["notice"]:
        fields.refuse("notice", "is needed, because the region is fictional and every sheet must say so")
    parallels = (values["standard_parallel_1_deg"], values["standard_parallel_2_deg"])
    if None not in parallels and abs(sum(parallels)) < 0.1:
        fields.refuse("standard_parallel_1_deg", "and standard_parallel_2_deg must not mirror each other across the equator")
    fields.finish()
    return RegionDescription(**values)


def read_aircraft(content: bytes, *, name: str) -> tuple[Aircraft, ...]:
    """Read aircraft.toml, or raise InputProblem with everything that is wrong in it."""
    text = _text(content, name=name)
    entries = _parsed(text, name=name).get("aircraft")
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise InputProblem(f"{name} has no [[aircraft]] entries.", code="region-file-unusable", place=name)
    starts = [match.start() for match in re.finditer(r"^[ \t]*\[\[", text, re.MULTILINE)]
    found, problems = [], []
    for number, entry in enumerate(entries, 1):
        fields = _Fields(entry, text, name, of=f"aircraft {number}, ", start=starts[number - 1] if number <= len(starts) else len(text))
        values = _aircraft_values(fields)
        problems.extend(fields.problems)
        if not fields.problems:
            found.append(Aircraft(**values))
    registrations = [aircraft.registration for aircraft in found]
    for twice in sorted({registration for registration in registrations if registrations.count(registration) > 1}):
        problems.append(Problem(place=name, message=f"{name}: the aircraft {twice} stands there twice."))
    _raise(problems, name)
    return tuple(found)


def _aircraft_values(fields: _Fields) -> dict:
    return {
        "registration": fields.text("registration", required=True, longest=20),
        "type_name": fields.text("type_name", longest=80),
        "cruise_speed_kt": fields.number("cruise_speed_kt", 20.0, 500.0),
        "cruise_speed_kind": fields.word("cruise_speed_kind", SpeedKind, SpeedKind.TRUE),
        "cruise_fuel_l_per_h": fields.number("cruise_fuel_l_per_h", 0.1, 2_000.0),
        "climb_speed_kt": fields.number("climb_speed_kt", 20.0, 500.0),
        "climb_rate_ft_per_min": fields.number("climb_rate_ft_per_min", 50.0, 10_000.0),
        "climb_fuel_l_per_h": fields.number("climb_fuel_l_per_h", 0.1, 2_000.0),
        "descent_rate_ft_per_min": fields.number("descent_rate_ft_per_min", 50.0, 10_000.0, default=500.0),
        "taxi_fuel_l": fields.number("taxi_fuel_l", 0.0, 500.0),
        "usable_fuel_l": fields.number("usable_fuel_l", 1.0, 50_000.0),
        "fuel_unit": fields.word("fuel_unit", FuelUnit, FuelUnit.LITRE),
        "compass_card": _compass_card(fields),
        "remarks": fields.text("remarks"),
    }


def _compass_card(fields: _Fields) -> tuple[CompassCardEntry, ...]:
    pairs = fields.take("compass_card", [])
    usable = isinstance(pairs, list) and all(
        isinstance(pair, list) and len(pair) == 2 and all(_is_number(value) and 0.0 <= value <= 360.0 for value in pair) for pair in pairs
    )
    if not usable:
        fields.refuse("compass_card", "must be pairs of headings from 0 to 360, such as [[0, 2], [90, 89]]")
        return ()
    return tuple(CompassCardEntry(magnetic_deg=float(magnetic), steer_deg=float(steer)) for magnetic, steer in pairs)


def _text(content: bytes, *, name: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        raise InputProblem(
            f"{name}, line {line}: byte 0x{content[problem.start]:02X} is not UTF-8.", code="not-utf-8", place=f"{name}, line {line}"
        ) from None


def _parsed(text: str, *, name: str) -> dict:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise InputProblem(f"{name} is not usable as TOML: {problem}.", code="region-file-unusable", place=name) from None
    except RecursionError:
        raise InputProblem(f"{name} is not usable as TOML: it is nested too deeply.", code="region-file-unusable", place=name) from None


def _is_number(value) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e12


def _raise(problems: list[Problem], name: str) -> None:
    if problems:
        more = f" And {len(problems) - 1} more." if len(problems) > 1 else ""
        raise InputProblem(f"{problems[0].message}{more}", code="region-file-unusable", place=problems[0].place, problems=tuple(problems))


class _Fields:
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
        elif not _is_number(value) or not lowest <= value <= highest:
            self.refuse(field, f"is {str(value)[:30]}; it must be a number from {lowest:g} to {highest:g}")
        else:
            return float(value)
        return None

    def word(self, field: str, words, default):
        value = self._table.get(field, default)
        try:
            return words(value)
        except ValueError:
            self.refuse(field, f"is {str(value)[:30]!r}; it can be {', '.join(words)}")
            return default

    def finish(self) -> None:
        _raise(self.problems, self._name)
