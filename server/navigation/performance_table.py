"""Reading a manual's performance table: linear interpolation between its lines, each step kept as a student writes it down.

A table never answers outside its lines in silence: what was asked beyond them stands in ``beyond``. Knows lines, and no aircraft.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from typing import Any, Generic, TypeVar

from server.navigation.aircraft import ClimbRow, CruiseRow

Line = TypeVar("Line", bound=CruiseRow | ClimbRow)


class TableAxis(StrEnum):
    """What a table is entered with: the name of the column."""

    PRESSURE_ALTITUDE = "pressure_altitude_ft"
    ISA_DEVIATION = "isa_deviation_c"


@dataclass(frozen=True, kw_only=True, slots=True)
class Beyond:
    """A table was asked outside its lines. ``asked`` is None where the temperature is not known and the lines hold for one only.

    Units are those of the axis: ft of pressure altitude, degrees C against ISA.
    """

    axis: TableAxis
    asked: float | None
    lowest: float
    highest: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Step(Generic[Line]):
    """One linear interpolation along one column: between ``lower`` and ``upper`` at ``asked`` lies ``result``."""

    axis: TableAxis
    asked: float
    lower: Line
    upper: Line
    result: Line

    @property
    def share(self) -> float:
        """How far from the lower to the upper line: 0 to 1, outside that where the table was carried on."""
        return _share(self.axis, self.lower, self.upper, self.asked)


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading(Generic[Line]):
    """What a table says: the line that was printed or interpolated, the steps to it, and the printed lines used."""

    line: Line
    rows_used: tuple[Line, ...]
    steps: tuple[Step[Line], ...] = ()
    beyond: tuple[Beyond, ...] = ()


def read_cruise_rows(rows: Sequence[CruiseRow], *, pressure_altitude_ft: float, isa_deviation_c: float | None) -> Reading[CruiseRow] | None:
    """Read cruise lines of one power by bilinear interpolation.

    Parameters
    ----------
    rows : sequence of CruiseRow
        At least one, all of one power. The altitudes need not have the same temperatures.
    pressure_altitude_ft : float
        Pressure altitude. [ft]
    isa_deviation_c : float or None
        Temperature above (+) or below the standard one; None where it is not known. [degC]

    Returns
    -------
    Reading or None
        None where the temperature is not known and the lines differ by it. Outside the lines the nearest one is held, and ``beyond``
        says so.

    Notes
    -----
    First between the temperatures at each of the two pressure altitudes, then between the altitudes: the order in which a table of
    temperature blocks is read by hand. Where every altitude has every temperature the other order gives the same.
    """
    altitudes_ft = sorted({row.pressure_altitude_ft for row in rows})
    at_ft = min(max(pressure_altitude_ft, altitudes_ft[0]), altitudes_ft[-1])
    readings = []
    for level_ft in _around(altitudes_ft, at_ft):
        reading = _read_temperature([row for row in rows if row.pressure_altitude_ft == level_ft], isa_deviation_c)
        if reading is None:
            return None
        readings.append(reading)
    between = _read_between(TableAxis.PRESSURE_ALTITUDE, [reading.line for reading in readings], at_ft)
    outside = _outside(TableAxis.PRESSURE_ALTITUDE, altitudes_ft, pressure_altitude_ft)
    return Reading(
        line=between.line,
        rows_used=tuple(dict.fromkeys(row for reading in readings for row in reading.rows_used)),
        steps=(*(step for reading in readings for step in reading.steps), *between.steps),
        beyond=tuple(dict.fromkeys((*outside, *(beyond for reading in readings for beyond in reading.beyond)))),
    )


def read_climb_rows(rows: Sequence[Line], pressure_altitude_ft: float) -> Reading[Line]:
    """Read lines of time, fuel and distance from sea level (or down to it) at a pressure altitude. [ft]

    Where no line stands at or below sea level there is one of zeros at it, since the figures count from there. Outside the lines the
    nearest two are carried on in a straight line, and ``beyond`` says so: holding the last line would make the rest cost nothing.
    """
    lines = sorted(rows, key=lambda row: row.pressure_altitude_ft)
    if lines[0].pressure_altitude_ft > 0.0:
        nothing: dict[str, Any] = dict.fromkeys(_numbers(lines[0]), 0.0)
        lines.insert(0, replace(lines[0], **nothing))
    reading = _read_between(TableAxis.PRESSURE_ALTITUDE, lines, pressure_altitude_ft)
    outside = _outside(TableAxis.PRESSURE_ALTITUDE, [line.pressure_altitude_ft for line in lines], pressure_altitude_ft)
    return replace(reading, beyond=outside)


def cruise_rows_wrong(rows: Sequence[CruiseRow]) -> Iterator[tuple[int, str]]:
    """Yield what a cruise table cannot hold: the place of a line in it, from 0, and the words."""
    seen: set[tuple[str, float, float]] = set()
    for at, row in enumerate(rows):
        key = (row.power, row.pressure_altitude_ft, row.isa_deviation_c)
        if key in seen:
            yield at, f"{row.pressure_altitude_ft:,.0f} ft, {row.isa_deviation_c:+g} C, {row.power} stands there twice. Keep one of them"
        seen.add(key)


def climb_rows_wrong(rows: Sequence[ClimbRow]) -> Iterator[tuple[int, str]]:
    """Yield what a climb or descent table cannot hold: the place of a line in it, from 0, and the words."""
    order = sorted(range(len(rows)), key=lambda at: rows[at].pressure_altitude_ft)
    if rows and rows[order[-1]].pressure_altitude_ft <= 0.0:
        yield order[-1], "no line stands above sea level. Add those of the altitudes you fly at"
    for below, at in pairwise(order):
        lower, upper = rows[below], rows[at]
        if lower.pressure_altitude_ft == upper.pressure_altitude_ft:
            yield at, f"{upper.pressure_altitude_ft:,.0f} ft stands there twice. Keep one of them"
            continue
        for name, words in (("time_min", "time"), ("fuel_l", "fuel"), ("air_distance_nm", "distance")):
            if getattr(upper, name) <= getattr(lower, name):
                yield (
                    at,
                    f"the {words} at {upper.pressure_altitude_ft:,.0f} ft is not more than at {lower.pressure_altitude_ft:,.0f} ft. "
                    "Each line counts from sea level, not from the line before",
                )


def _read_temperature(rows: Sequence[CruiseRow], isa_deviation_c: float | None) -> Reading[CruiseRow] | None:
    """Read the lines of one pressure altitude at a temperature."""
    lines = sorted(rows, key=lambda row: row.isa_deviation_c)
    given_c = [line.isa_deviation_c for line in lines]
    if isa_deviation_c is None:
        if len(lines) > 1:
            return None
        unknown = Beyond(axis=TableAxis.ISA_DEVIATION, asked=None, lowest=given_c[0], highest=given_c[0])
        return Reading(line=lines[0], rows_used=(lines[0],), beyond=(unknown,))
    at_c = min(max(isa_deviation_c, given_c[0]), given_c[-1])
    reading = _read_between(TableAxis.ISA_DEVIATION, lines, at_c)
    return replace(reading, beyond=_outside(TableAxis.ISA_DEVIATION, given_c, isa_deviation_c))


def _read_between(axis: TableAxis, lines: Sequence[Line], asked: float) -> Reading[Line]:
    """Read lines, in order along the axis, at a value: a printed line as it is, else between the nearest two, or on beyond the last two."""
    for line in lines:
        if getattr(line, axis) == asked:
            return Reading(line=line, rows_used=(line,))
    above = sum(getattr(line, axis) < asked for line in lines)
    upper_at = min(max(above, 1), len(lines) - 1)
    lower, upper = lines[upper_at - 1], lines[upper_at]
    share = _share(axis, lower, upper, asked)
    mixed: dict[str, Any] = {name: getattr(lower, name) + share * (getattr(upper, name) - getattr(lower, name)) for name in _numbers(lower)}
    result = replace(lower, **mixed)
    return Reading(line=result, rows_used=(lower, upper), steps=(Step(axis=axis, asked=asked, lower=lower, upper=upper, result=result),))


def _around(values: Sequence[float], asked: float) -> tuple[float, ...]:
    """The one value that was asked, or the two round it; ``asked`` lies within the values."""
    if asked in values:
        return (asked,)
    return max(value for value in values if value < asked), min(value for value in values if value > asked)


def _outside(axis: TableAxis, values: Sequence[float], asked: float) -> tuple[Beyond, ...]:
    lowest, highest = min(values), max(values)
    return () if lowest <= asked <= highest else (Beyond(axis=axis, asked=asked, lowest=lowest, highest=highest),)


def _share(axis: TableAxis, lower: Line, upper: Line, asked: float) -> float:
    return (asked - getattr(lower, axis)) / (getattr(upper, axis) - getattr(lower, axis))


def _numbers(line: CruiseRow | ClimbRow) -> tuple[str, ...]:
    if isinstance(line, CruiseRow):
        return ("pressure_altitude_ft", "isa_deviation_c", "tas_kt", "fuel_l_per_h")
    return ("pressure_altitude_ft", "time_min", "fuel_l", "air_distance_nm")
