"""What the card of an aircraft shows line by line: the manual's tables in the manual's units, and the compass card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.navigation import Aircraft, ClimbRow, CruiseRow, compass_correction_deg, cruise_powers
from server.sheets import figures
from server.web.forms import short_number_text
from server.web.performance_columns import TableUnits, climb_columns, heading, warm_rule

MOST_BLOCKS = 5
"""Temperatures that stand beside each other on a page; a table with more is printed line by line."""


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
    """The tables an aircraft has, in its own units: cruise as manuals print it, a block of columns for each temperature."""
    units = TableUnits(speed=aircraft.speed_unit, fuel=aircraft.fuel_measure)
    cruises = (_cruise_table(aircraft, power, units) for power in cruise_powers(aircraft))
    climb = _climb_table(f"Climb, from sea level on a standard day, no wind. {_warm_words(aircraft)}", aircraft.climb_table, units)
    descent = _climb_table("Descent, to sea level, no wind", aircraft.descent_table, units)
    return (*cruises, *(table for table in (climb, descent) if table.rows))


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


def _cruise_table(aircraft: Aircraft, power: str, units: TableUnits) -> PerformanceTable:
    rows = {(row.pressure_altitude_ft, row.isa_deviation_c): row for row in aircraft.cruise_table if row.power == power}
    altitudes_ft, blocks_c = (sorted(set(values)) for values in zip(*rows, strict=True))
    first = " (planned with, unless another is chosen)" if power == aircraft.cruise_table[0].power else ""
    caption = f"Cruise, {power}{first}"
    if len(blocks_c) > MOST_BLOCKS:
        return _long_cruise_table(caption, [rows[key] for key in sorted(rows)], units)
    columns: list[list[float | None]] = []
    head = ["pressure altitude [ft]"]
    for block_c in blocks_c:
        of_block = [rows.get((altitude_ft, block_c)) for altitude_ft in altitudes_ft]
        columns += [
            [units.speed_of(row.tas_kt) if row else None for row in of_block],
            [units.fuel.amount(row.fuel_l_per_h) if row else None for row in of_block],
        ]
        block = f"ISA{'+' if block_c >= 0 else '−'}{short_number_text(abs(block_c))}" if block_c else "ISA"
        head += [f"{block}: TAS [{units.speed}]", f"{block}: [{units.fuel.unit}/h]"]
    cells = (_whole(altitudes_ft), *(_aligned(column) for column in columns))
    return PerformanceTable(caption=caption, head=tuple(head), rows=tuple(zip(*cells, strict=True)))


def _long_cruise_table(caption: str, rows: Sequence[CruiseRow], units: TableUnits) -> PerformanceTable:
    """A cruise table line by line, for one whose temperatures differ from altitude to altitude."""
    head = ("pressure altitude [ft]", "above ISA [C]", f"TAS [{units.speed}]", f"[{units.fuel.unit}/h]")
    cells = (
        _whole([row.pressure_altitude_ft for row in rows]),
        _aligned([row.isa_deviation_c for row in rows]),
        _aligned([units.speed_of(row.tas_kt) for row in rows]),
        _aligned([units.fuel.amount(row.fuel_l_per_h) for row in rows]),
    )
    return PerformanceTable(caption=caption, head=head, rows=tuple(zip(*cells, strict=True)))


def _climb_table(caption: str, rows: Sequence[ClimbRow], units: TableUnits) -> PerformanceTable:
    cells = (
        _whole([row.pressure_altitude_ft for row in rows]),
        _aligned([row.time_min for row in rows]),
        _aligned([units.fuel.amount(row.fuel_l) for row in rows]),
        _aligned([units.distance_of(row.air_distance_nm) for row in rows]),
    )
    return PerformanceTable(caption=caption, head=heading(climb_columns(units)), rows=tuple(zip(*cells, strict=True)))


def _whole(altitudes_ft: Sequence[float]) -> tuple[str, ...]:
    return tuple(f"{figures.rounded(altitude_ft):,}" for altitude_ft in altitudes_ft)


def _aligned(values: Sequence[float | None]) -> tuple[str, ...]:
    """Write a column with as many decimals, at most two, as its finest value needs; a dash where nothing is printed."""
    texts = [short_number_text(value) for value in values]
    decimals = max((len(text.partition(".")[2]) for text in texts), default=0)
    return tuple("–" if value is None else f"{figures.rounded(value, decimals=decimals)}" for value in values)


def _warm_words(aircraft: Aircraft) -> str:
    percent = aircraft.climb_percent_per_warm_c
    if percent is None:
        return "No rule for warm air is given"
    more, degrees = warm_rule(percent)
    return f"In warm air {more} % more for each {degrees} °C above ISA"
