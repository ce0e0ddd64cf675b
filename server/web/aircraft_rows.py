"""What the card of an aircraft shows line by line: the manual's tables in the manual's units, and the compass card."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from server.navigation import Aircraft, compass_correction_deg
from server.sheets import figures
from server.web.forms import short_number_text
from server.web.performance_columns import TableUnits, TemperatureColumn, climb_columns, cruise_columns, heading
from server.web.performance_text import climb_cells, cruise_cells


@dataclass(frozen=True, kw_only=True)
class PerformanceTable:
    """One table as it is printed: a caption, the headings with their units, and the lines."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class CardLine:
    """One line of the compass card, written in each of the three ways in use."""

    magnetic: str
    steer: str
    correction: str
    deviation: str


def performance_tables(aircraft: Aircraft) -> tuple[PerformanceTable, ...]:
    """The tables an aircraft has, in its own units."""
    units = TableUnits(speed=aircraft.speed_unit, fuel=aircraft.fuel_measure)
    cruise_head = heading(cruise_columns(units, TemperatureColumn.DEVIATION))
    climb_head = heading(climb_columns(units))
    cruise_rows = [cruise_cells(row, units) for row in aircraft.cruise_table]
    climb_rows = [climb_cells(row, units) for row in aircraft.climb_table]
    descent_rows = [climb_cells(row, units) for row in aircraft.descent_table]
    shown = (
        _table("Cruise", cruise_head, cruise_rows),
        _table(f"Climb, from sea level on a standard day, no wind. {_warm_words(aircraft)}", climb_head, climb_rows),
        _table("Descent, to sea level, no wind", climb_head, descent_rows),
    )
    return tuple(table for table in shown if table.rows)


def card_lines(aircraft: Aircraft) -> tuple[CardLine, ...]:
    """The compass card, line by line."""
    lines = []
    for entry in aircraft.compass_card:
        correction_deg = compass_correction_deg(entry)
        lines.append(
            CardLine(
                magnetic=figures.course(entry.magnetic_deg),
                steer=figures.course(entry.steer_deg),
                correction=f"{'+' if correction_deg > 0 else ''}{short_number_text(correction_deg)}",
                deviation=f"{short_number_text(abs(correction_deg))}{'' if not correction_deg else ' W' if correction_deg > 0 else ' E'}",
            )
        )
    return tuple(lines)


def _table(caption: str, head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> PerformanceTable:
    return PerformanceTable(caption=caption, head=head, rows=tuple(rows))


def _warm_words(aircraft: Aircraft) -> str:
    percent = aircraft.climb_percent_per_warm_c
    if percent is None:
        return "No rule for warm air is given"
    return f"In warm air {short_number_text(percent * 10.0)} % more for each 10 °C above ISA"
