"""Performance tables typed as text: what is written back reads as the same table, in any unit; hostile text is refused in words only."""

from __future__ import annotations

from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import InputProblem
from server.navigation import FuelMeasure, FuelUnit, SpeedUnit
from server.web.forms import FormReader, FormText
from server.web.performance_columns import TableUnits, TemperatureColumn
from server.web.performance_text import climb_text, cruise_text, read_climb_table, read_cruise_table

units = st.builds(
    TableUnits,
    speed=st.sampled_from(SpeedUnit),
    fuel=st.builds(FuelMeasure, unit=st.sampled_from(FuelUnit), density_kg_per_l=st.floats(0.6, 0.9)),
)


def hundredths(lowest: float, highest: float) -> st.SearchStrategy[float]:
    """Numbers as people type them."""
    return st.integers(round(lowest * 100), round(highest * 100)).map(lambda number: number / 100)


cruise_lines = st.lists(
    st.tuples(
        st.integers(-2000, 45000),
        st.integers(-80, 60),
        st.sampled_from(["65 %", "75 %", "2,450 rpm"]),
        hundredths(20, 450),
        hundredths(0.1, 900),
    ),
    max_size=8,
    unique_by=lambda line: line[:3],
)
climb_steps = st.lists(
    st.tuples(st.integers(1, 5000), hundredths(0.1, 20), hundredths(0.1, 20), hundredths(0.1, 40)), min_size=1, max_size=6
)


def cruise(text: str, units: TableUnits):
    reader = FormReader(FormText(fields={"t": text}))
    rows = read_cruise_table(reader, "t", units, TemperatureColumn.DEVIATION)
    reader.finish()
    return rows


def climb(text: str, units: TableUnits):
    reader = FormReader(FormText(fields={"t": text}))
    rows = read_climb_table(reader, "t", units)
    reader.finish()
    return rows


@given(units=units, lines=cruise_lines)
def test_a_cruise_table_written_back_reads_as_the_same_table(units: TableUnits, lines):
    rows = cruise("\n".join("; ".join(str(value) for value in line) for line in lines), units)
    again = cruise(cruise_text(rows, units), units)
    assert len(rows) == len(lines)
    for before, after in zip(rows, again, strict=True):
        assert astuple(after)[1:] == pytest.approx(astuple(before)[1:]) and after.power == before.power


@given(units=units, steps=climb_steps)
def test_a_climb_table_written_back_reads_as_the_same_table(units: TableUnits, steps):
    totals, lines = [0.0, 0.0, 0.0, 0.0], []
    for step in steps:
        totals = [round(total + value, 2) for total, value in zip(totals, step, strict=True)]
        lines.append(", ".join(f"{value:g}" for value in totals))
    rows = climb("\n".join(lines), units)
    again = climb(climb_text(rows, units), units)
    for before, after in zip(rows, again, strict=True):
        assert astuple(after) == pytest.approx(astuple(before))


@given(units=units, text=st.text(max_size=200) | st.text(alphabet="0123456789+-.,;%\t\nkt", max_size=200))
def test_any_text_is_read_or_refused_with_its_line(units: TableUnits, text: str):
    for read in (cruise, climb):
        try:
            read(text, units)
        except InputProblem as refusal:
            assert all("table, line" in problem.message or "lines are too many" in problem.message for problem in refusal.problems)
