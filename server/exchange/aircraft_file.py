"""Read and write aircraft.toml, the aircraft that come with a region. All problems of a file are reported at once.

[[aircraft]]
registration = "..."                 and the fields of an aircraft, with units in their names: knots, litres
speed_unit = "kt"                    or "mph"; fuel_unit = "L", "US gal" or "kg": only how they are shown
fuel_density_kg_per_l = 0.72         needed for kg
cruise_table = [
  { power = "65 %", pressure_altitude_ft = 4000, isa_deviation_c = 0, tas_kt = 110, fuel_l_per_h = 34 },
]                                    the power named first is the one planned with
climb_table = [
  { pressure_altitude_ft = 4000, time_min = 7, fuel_l = 5, air_distance_nm = 10 },
]                                    all from sea level, standard day, no wind; descent_table the same, down to sea level
climb_percent_per_warm_c = 1.0       so much longer for each degree C above ISA: 10 % for 10 degrees is 1.0
compass_card = [[0, 2], [90, 89]]    pairs: for this magnetic heading, steer this
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from typing import Any, TypeVar

from server.errors import InputProblem, Problem
from server.exchange.toml_fields import TomlFields, is_number, raise_problems, toml_table, toml_text
from server.exchange.toml_writing import toml_tables
from server.navigation.aircraft import Aircraft, ClimbRow, CompassCardEntry, CruiseRow, DescentRow, FuelUnit, SpeedKind, SpeedUnit
from server.navigation.performance_table import climb_rows_wrong, cruise_rows_wrong

Line = TypeVar("Line")
Ranges = dict[str, tuple[float, float]]

CRUISE_RANGES: Ranges = {
    "pressure_altitude_ft": (-2_000.0, 45_000.0),
    "isa_deviation_c": (-80.0, 60.0),
    "tas_kt": (20.0, 500.0),
    "fuel_l_per_h": (0.1, 2_000.0),
}
CLIMB_RANGES: Ranges = {
    "pressure_altitude_ft": (-2_000.0, 45_000.0),
    "time_min": (0.0, 240.0),
    "fuel_l": (0.0, 5_000.0),
    "air_distance_nm": (0.0, 600.0),
}


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


def write_aircraft(aircraft: Iterable[Aircraft]) -> bytes:
    """Write aircraft.toml, which read_aircraft reads back without loss; at least one aircraft."""
    return toml_tables("aircraft", (_written(one) for one in aircraft))


def _written(aircraft: Aircraft) -> dict[str, Any]:
    values = {name: value for name, value in asdict(aircraft).items() if name != "id" and value not in ("", (), [])}
    if aircraft.compass_card:
        values["compass_card"] = [[entry.magnetic_deg, entry.steer_deg] for entry in aircraft.compass_card]
    return values


def _aircraft_values(fields: TomlFields) -> dict:
    fuel_unit = fields.word("fuel_unit", FuelUnit, FuelUnit.LITRE)
    density_kg_per_l = fields.maybe_number("fuel_density_kg_per_l", 0.6, 0.9)
    if fuel_unit is FuelUnit.KILOGRAM and fields.take("fuel_density_kg_per_l", None) is None:
        fields.refuse("fuel_density_kg_per_l", "is needed for fuel in kilograms")
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
        "speed_unit": fields.word("speed_unit", SpeedUnit, SpeedUnit.KNOT),
        "fuel_unit": fuel_unit,
        "fuel_density_kg_per_l": density_kg_per_l,
        "cruise_table": _table(fields, "cruise_table", CruiseRow, CRUISE_RANGES, cruise_rows_wrong, words=("power",)),
        "climb_table": _table(fields, "climb_table", ClimbRow, CLIMB_RANGES, climb_rows_wrong),
        "descent_table": _table(fields, "descent_table", DescentRow, CLIMB_RANGES, climb_rows_wrong),
        "climb_percent_per_warm_c": fields.maybe_number("climb_percent_per_warm_c", 0.0, 100.0),
        "compass_card": _compass_card(fields),
        "remarks": fields.text("remarks"),
    }


def _table(
    fields: TomlFields,
    name: str,
    kind: Callable[..., Line],
    ranges: Ranges,
    wrong: Callable[[list[Line]], Iterable[tuple[int, str]]],
    *,
    words: tuple[str, ...] = (),
) -> tuple[Line, ...]:
    """Read a table: a list of lines, each with exactly these names."""
    lines = fields.take(name, [])
    if not isinstance(lines, list) or not all(isinstance(line, dict) for line in lines):
        fields.refuse(name, f"must be a list of lines, each {{ {', '.join((*words, *ranges))} }}")
        return ()
    problems = [f"line {at}: {what}" for at, line in enumerate(lines, 1) for what in _line_wrong(line, ranges, words)]
    rows = [] if problems else [kind(**{key: float(line[key]) for key in ranges}, **{key: line[key] for key in words}) for line in lines]
    problems += [f"line {at + 1}: {what}" for at, what in wrong(rows)]
    for problem in problems:
        fields.refuse(name, problem)
    return tuple(rows)


def _line_wrong(line: dict[str, Any], ranges: Ranges, words: tuple[str, ...]) -> Iterator[str]:
    for key in line.keys() - {*ranges, *words}:
        yield f"{key} is not known; a line has {', '.join((*words, *ranges))}"
    for key in words:
        if not isinstance(line.get(key), str) or not line[key].strip() or len(line[key]) > 20 or not line[key].isprintable():
            yield f"{key} must be text of at most 20 characters"
    for key, (lowest, highest) in ranges.items():
        value: Any = line.get(key)
        if not is_number(value) or not lowest <= value <= highest:
            told = "is needed" if value is None else f"is {str(value)[:30]}"
            yield f"{key} {told}; it must be a number from {lowest:g} to {highest:g}"


def _compass_card(fields: TomlFields) -> tuple[CompassCardEntry, ...]:
    pairs = fields.take("compass_card", [])
    usable = isinstance(pairs, list) and all(
        isinstance(pair, list) and len(pair) == 2 and all(is_number(value) and 0.0 <= value <= 360.0 for value in pair) for pair in pairs
    )
    if not usable:
        fields.refuse("compass_card", "must be pairs of headings from 0 to 360, such as [[0, 2], [90, 89]]")
        return ()
    return tuple(CompassCardEntry(magnetic_deg=float(magnetic), steer_deg=float(steer)) for magnetic, steer in pairs)
