"""The log as an exercise or a form: chosen columns are left empty, to be worked out and written in by hand.

Whatever would give an empty figure away is left out too: findings, why course and heading differ, what is told in sentences, the working.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from server.sheets.leg_sheet import CheckRow, LegSheet, TuneRow
from server.sheets.log_sheet import LogSheet

EMPTY = ""
"""Stands for a figure that is to be written in."""


class Column(StrEnum):
    """What can be left empty, in the order in which a log is filled in."""

    DISTANCES = "distances"
    TRACKS = "tracks"
    WIND = "wind"
    HEADINGS = "headings"
    SPEEDS = "speeds"
    TIMES = "times"
    FUEL = "fuel"
    TUNE = "tune"
    COURSES = "courses"
    CHECKS = "checks"


COLUMN_WORDS = {
    Column.DISTANCES: "distances",
    Column.TRACKS: "tracks and variation",
    Column.WIND: "winds and wind corrections",
    Column.HEADINGS: "headings",
    Column.SPEEDS: "airspeeds and groundspeeds",
    Column.TIMES: "times",
    Column.FUEL: "fuel",
    Column.TUNE: "frequencies and Morse",
    Column.COURSES: "courses to set and flags",
    Column.CHECKS: "cross-checks",
}


@dataclass(frozen=True, kw_only=True)
class _Left:
    """The fields of each row that a column empties."""

    leg: tuple[str, ...] = ()
    tune: tuple[str, ...] = ()
    check: tuple[str, ...] = ()
    sheet: tuple[str, ...] = ()


_LEFT = {
    Column.DISTANCES: _Left(leg=("distance", "distance_so_far"), sheet=("total_distance",)),
    Column.TRACKS: _Left(leg=("track_true", "track_magnetic", "variation")),
    Column.WIND: _Left(leg=("wind", "wind_magnetic", "wind_correction")),
    Column.HEADINGS: _Left(leg=("heading_true", "heading_magnetic", "heading_compass")),
    Column.SPEEDS: _Left(leg=("true_airspeed", "groundspeed")),
    Column.TIMES: _Left(
        leg=("time", "arrival"),
        check=("at_time",),
        sheet=("arrival", "arrival_local", "total_time", "total_time_words", "climb_time", "descent_time"),
    ),
    Column.FUEL: _Left(leg=("fuel", "fuel_remaining"), sheet=("fuel_verdict",)),
    Column.TUNE: _Left(tune=("frequency", "morse", "channel")),
    Column.COURSES: _Left(tune=("set_course", "north", "estimated", "flag")),
    Column.CHECKS: _Left(check=("picture",)),
}


def blank_form(sheet: LogSheet, columns: Iterable[Column]) -> LogSheet:
    """Return the sheet with the columns left empty; the sheet as it is where none is chosen."""
    chosen = [column for column in Column if column in set(columns)]
    if not chosen:
        return sheet
    left = [_LEFT[column] for column in chosen]
    kept_cards = () if Column.TUNE in chosen else sheet.cards
    fuel_rows = tuple((name, EMPTY) for name, _ in sheet.fuel_rows) if Column.FUEL in chosen else sheet.fuel_rows
    return replace(
        _emptied(sheet, [name for each in left for name in each.sheet]),
        status=f"To fill in: {', '.join(COLUMN_WORDS[column] for column in chosen)}",
        legs=tuple(_leg_form(leg, left, chosen) for leg in sheet.legs),
        cards=kept_cards,
        fuel_rows=fuel_rows,
        fuel_working=(),
        turn_back=(),
        sun_rows=() if Column.TIMES in chosen else sheet.sun_rows,
        notes=(),
    )


def _leg_form(leg: LegSheet, left: list[_Left], chosen: list[Column]) -> LegSheet:
    return replace(
        _emptied(leg, [name for each in left for name in each.leg]),
        tune=tuple(_tune_form(row, left) for row in leg.tune),
        checks=tuple(_check_form(row, left, chosen) for row in leg.checks),
        parts=(),
        changeover=EMPTY,
        holds=(),
        passage=(),
        levels=EMPTY,
        lost=None,
        diversions=(),
        receptions=(),
        findings=(),
        notes=(),
        working=(),
    )


def _tune_form(row: TuneRow, left: list[_Left]) -> TuneRow:
    return replace(_emptied(row, [name for each in left for name in each.tune]), words=EMPTY, why=EMPTY)


def _check_form(row: CheckRow, left: list[_Left], chosen: list[Column]) -> CheckRow:
    reads = (EMPTY,) if Column.CHECKS in chosen else row.reads
    quality = () if Column.CHECKS in chosen else row.quality
    return replace(_emptied(row, [name for each in left for name in each.check]), reads=reads, quality=quality, picture=EMPTY)


def _emptied(row: Any, names: list[str]) -> Any:
    return replace(row, **dict.fromkeys(names, EMPTY))
