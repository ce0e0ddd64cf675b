"""Performance tables as text: typed or pasted line by line, read strictly with the line of every problem, and written back.

One line is one line of the manual. Columns are parted by commas, semicolons or tabs. A heading may stand above them; it and any unit
written beside a number must be in the units chosen for the page, so that a table is never read in another unit than its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from server.errors import InputProblem
from server.navigation import (
    ClimbRow,
    CruiseRow,
    DescentRow,
    climb_rows_wrong,
    cruise_rows_wrong,
    isa_deviation_c,
    parse_number,
)
from server.web.forms import FormReader, short_number_text
from server.web.performance_columns import (
    FAMILIES,
    UNIT_OF_WORD,
    Column,
    TableUnits,
    TemperatureColumn,
    climb_columns,
    cruise_columns,
    heading,
)

MOST_LINES = 300

_VALUE = re.compile(r"(?P<number>[+-]?[0-9][0-9.,]*)\s*(?P<unit>[^0-9]*)")


@dataclass(frozen=True)
class TypedLine:
    """One line as it was read: its number in the field, and its values by column, numbers or words."""

    number: int
    values: tuple[Any, ...]


def read_cruise_table(reader: FormReader, place: str, units: TableUnits, temperature: TemperatureColumn) -> tuple[CruiseRow, ...]:
    """Read a cruise table; every problem is noted with its line."""
    rows, numbers = [], []
    for line in _lines(reader, place, "Cruise table", cruise_columns(units, temperature)):
        altitude_ft, degrees_c, power, speed, fuel = line.values
        if temperature is TemperatureColumn.OUTSIDE_AIR:
            degrees_c = isa_deviation_c(degrees_c, altitude_ft)
        rows.append(
            CruiseRow(
                power=power,
                pressure_altitude_ft=altitude_ft,
                isa_deviation_c=degrees_c,
                tas_kt=units.knots(speed),
                fuel_l_per_h=units.fuel.litres(fuel),
            )
        )
        numbers.append(line.number)
    _refuse_rows(reader, place, "Cruise table", numbers, cruise_rows_wrong(rows))
    return tuple(rows)


def read_climb_table(reader: FormReader, place: str, units: TableUnits) -> tuple[ClimbRow, ...]:
    """Read a climb table; every problem is noted with its line."""
    return _level_change_table(reader, place, "Climb table", units, ClimbRow)


def read_descent_table(reader: FormReader, place: str, units: TableUnits) -> tuple[DescentRow, ...]:
    """Read a descent table; every problem is noted with its line."""
    return _level_change_table(reader, place, "Descent table", units, DescentRow)


def _level_change_table(reader: FormReader, place: str, label: str, units: TableUnits, kind: type) -> tuple:
    rows, numbers = [], []
    for line in _lines(reader, place, label, climb_columns(units)):
        altitude_ft, time_min, fuel, distance = line.values
        rows.append(
            kind(
                pressure_altitude_ft=altitude_ft,
                time_min=time_min,
                fuel_l=units.fuel.litres(fuel),
                air_distance_nm=units.nautical_miles(distance),
            )
        )
        numbers.append(line.number)
    _refuse_rows(reader, place, label, numbers, climb_rows_wrong(rows))
    return tuple(rows)


def cruise_text(rows: Sequence[CruiseRow], units: TableUnits) -> str:
    """Write a cruise table as it is typed, with its heading."""
    return _text(cruise_columns(units, TemperatureColumn.DEVIATION), [_cruise_cells(row, units) for row in rows])


def climb_text(rows: Sequence[ClimbRow], units: TableUnits) -> str:
    """Write a climb or descent table as it is typed, with its heading."""
    return _text(climb_columns(units), [_climb_cells(row, units) for row in rows])


def _cruise_cells(row: CruiseRow, units: TableUnits) -> tuple[str, ...]:
    """The cells of one line of a cruise table, in the manual's units."""
    return (
        short_number_text(row.pressure_altitude_ft),
        f"{'+' if row.isa_deviation_c > 0 else ''}{short_number_text(row.isa_deviation_c)}",
        row.power,
        short_number_text(units.speed_of(row.tas_kt)),
        short_number_text(units.fuel.amount(row.fuel_l_per_h)),
    )


def _climb_cells(row: ClimbRow, units: TableUnits) -> tuple[str, ...]:
    """The cells of one line of a climb or descent table, in the manual's units."""
    return (
        short_number_text(row.pressure_altitude_ft),
        short_number_text(row.time_min),
        short_number_text(units.fuel.amount(row.fuel_l)),
        short_number_text(units.distance_of(row.air_distance_nm)),
    )


def _text(columns: Sequence[Column], rows: Sequence[tuple[str, ...]]) -> str:
    return "\n".join("; ".join(cells) for cells in (heading(columns), *rows)) if rows else ""


def _refuse_rows(reader: FormReader, place: str, label: str, numbers: Sequence[int], wrong: Iterable[tuple[int, str]]) -> None:
    for at, words in wrong:
        reader.refuse(place, f"{label}, line {numbers[at]}: {words}.")


def _lines(reader: FormReader, place: str, label: str, columns: Sequence[Column]) -> Iterator[TypedLine]:
    """Yield the lines that can be read, and note what is wrong with the others."""
    written = [(number, text.strip()) for number, text in enumerate(reader.form.text(place).splitlines(), 1) if text.strip()]
    if len(written) > MOST_LINES:
        reader.refuse(place, f"{label}: {len(written)} lines are too many, {MOST_LINES} is the most.")
        return
    for at, (number, text) in enumerate(written):
        where = f"{label}, line {number}"
        if at == 0 and not re.match(r"[+\-−0-9.]", text):
            _check_heading(reader, place, where, text, columns)
            continue
        cells = _cells(text)
        if len(cells) != len(columns):
            reader.refuse(place, f"{where}: {_count_words(len(cells), columns)}")
            continue
        values = [_value(reader, place, where, cell, column) for cell, column in zip(cells, columns, strict=True)]
        if None not in values:
            yield TypedLine(number, tuple(values))


def _cells(text: str) -> list[str]:
    mark = next((mark for mark in ("\t", ";") if mark in text), ",")
    return [cell.strip().replace("−", "-") for cell in text.split(mark)]


def _count_words(count: int, columns: Sequence[Column]) -> str:
    told = f"{count} column{'' if count == 1 else 's'}, and {len(columns)} are needed: {'; '.join(heading(columns))}."
    return told + " Write 6,000 as 6000 and decimals with a point, or part the columns by semicolons." if count > len(columns) else told


def _check_heading(reader: FormReader, place: str, where: str, text: str, columns: Sequence[Column]) -> None:
    """A heading is not read, but a unit in it must be one of this page's."""
    named = {UNIT_OF_WORD[word] for word in re.findall(r"[a-z°/]+", text.lower()) if word in UNIT_OF_WORD}
    chosen = {column.unit for column in columns}
    for family in FAMILIES:
        here = next((unit for unit in family if unit in chosen), None)
        for other in sorted(named & set(family) - {here}):
            if here is not None:
                reader.refuse(place, f"{where}: the heading says {other}, and this page is in {here}. Choose the unit the table is in.")


def _value(reader: FormReader, place: str, where: str, cell: str, column: Column) -> float | str | None:
    """Read one cell, or note what is wrong with it and return None."""
    if not column.unit:
        if not cell or len(cell) > 20 or not cell.isprintable():
            reader.refuse(place, f'{where}, {column.name}: write it as the manual names it, in at most 20 characters, such as "65 %".')
            return None
        return cell
    found = _VALUE.fullmatch(cell)
    unit = found["unit"].strip() if found else ""
    if unit and UNIT_OF_WORD.get(unit.lower().removeprefix("us ")) != column.unit:
        reader.refuse(place, f'{where}, {column.name}: "{cell[:40]}" is in {unit[:20]}, and this column is in {column.unit}.')
        return None
    digits = found["number"] if found else cell
    try:
        grouped = column.unit == "ft" and re.fullmatch(r"[+-]?[0-9]{1,3}(,[0-9]{3})+", digits)
        value = parse_number(digits.replace(",", "") if grouped else digits)
    except InputProblem as problem:
        reader.refuse(place, f"{where}, {column.name}: {problem.message if cell else 'nothing stands there.'}")
        return None
    if not column.lowest <= value <= column.highest:
        span = f"{column.lowest:g} to {column.highest:g} {column.unit}"
        reader.refuse(place, f"{where}, {column.name}: {digits} {column.unit} is outside {span}.")
        return None
    return value
