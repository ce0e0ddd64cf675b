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
from dataclasses import dataclass
from typing import Any

from server.errors import InputProblem, Problem
from server.exchange.toml_fields import TomlFields, is_number, raise_problems, toml_table, toml_text
from server.navigation.aircraft import Aircraft, CompassCardEntry, FuelUnit, SpeedKind

LEVEL_RULES = ("ICAO", "US")
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


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
    text = toml_text(content, name=name)
    fields = TomlFields(toml_table(text, name=name), text, name)
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
    text = toml_text(content, name=name)
    entries = toml_table(text, name=name).get("aircraft")
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise InputProblem(f"{name} has no [[aircraft]] entries.", code="region-file-unusable", place=name)
    starts = [match.start() for match in re.finditer(r"^[ \t]*\[\[", text, re.MULTILINE)]
    found, problems = [], []
    for number, entry in enumerate(entries, 1):
        fields = TomlFields(entry, text, name, of=f"aircraft {number}, ", start=starts[number - 1] if number <= len(starts) else len(text))
        values = _aircraft_values(fields)
        problems.extend(fields.problems)
        if not fields.problems:
            found.append(Aircraft(**values))
    registrations = [aircraft.registration for aircraft in found]
    for twice in sorted({registration for registration in registrations if registrations.count(registration) > 1}):
        problems.append(Problem(place=name, message=f"{name}: the aircraft {twice} stands there twice."))
    raise_problems(problems, name)
    return tuple(found)


def _aircraft_values(fields: TomlFields) -> dict:
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


def _compass_card(fields: TomlFields) -> tuple[CompassCardEntry, ...]:
    pairs = fields.take("compass_card", [])
    usable = isinstance(pairs, list) and all(
        isinstance(pair, list) and len(pair) == 2 and all(is_number(value) and 0.0 <= value <= 360.0 for value in pair) for pair in pairs
    )
    if not usable:
        fields.refuse("compass_card", "must be pairs of headings from 0 to 360, such as [[0, 2], [90, 89]]")
        return ()
    return tuple(CompassCardEntry(magnetic_deg=float(magnetic), steer_deg=float(steer)) for magnetic, steer in pairs)
