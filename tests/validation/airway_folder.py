"""Reads a folder of airways to validate against: airway_segments.csv and beacons.csv. Knows no terrain and no radio.

What cannot be read is refused with the file, the row and the column. An MEA, an elevation or a class that is not there stays absent.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from server.errors import InputProblem
from server.navigation import Position, distance_nm, position_along
from server.radio import ServiceClass

_SIDES = ("from", "to")
_SEGMENT_COLUMNS = (
    *("airway", "mea_fwd_ft", "mea_opp_ft", "prev_vor", "next_vor"),
    *(f"{side}_{what}" for side in _SIDES for what in ("ident", "type", "icao", "lat", "lon")),
)
_BEACON_COLUMNS = ("ident", "icao", "kind", "lat", "lon")
_VOR_KINDS = ("VOR", "VOR-DME", "VOR/DME", "VORTAC")
_CLASS_LETTER = slice(2, 3)  # of five: facility, DME part, range power, voice (ARINC 424 5.35, from memory)


@dataclass(frozen=True, kw_only=True)
class Station:
    """A VOR. ``elevation_ft`` and ``service_class`` are None where the table has none."""

    ident: str
    icao: str
    position: Position
    elevation_ft: float | None
    service_class: ServiceClass | None


@dataclass(frozen=True, kw_only=True)
class Segment:
    """A stretch of an airway between two published points, with the VORs that can define it."""

    airway: str
    from_ident: str
    to_ident: str
    start: Position
    end: Position
    mea_ft: float | None
    """The lower of its two directions; None where none is published in feet."""
    stations: tuple[Station, ...]
    missing: tuple[str, ...]
    """Idents of stations that define it but that the table does not hold as a VOR."""

    @property
    def name(self) -> str:
        return f"{self.airway} {self.from_ident}-{self.to_ident}"


def read_segments(folder: Path) -> tuple[Segment, ...]:
    """Return the segments of a folder, each with its VORs.

    Raises
    ------
    InputProblem
        A file or a column is missing, the file is no CSV text in UTF-8, or a position or an elevation cannot be read.
    """
    if not folder.is_dir():
        raise InputProblem(f"There is no folder {folder}.")
    stations = tuple(_station(row) for row in _rows(folder / "beacons.csv", _BEACON_COLUMNS) if _is_placed_vor(row))
    segments = tuple(_segment(row, stations) for row in _rows(folder / "airway_segments.csv", _SEGMENT_COLUMNS))
    if not segments:
        raise InputProblem("airway_segments.csv holds no segment.")
    return segments


@dataclass(frozen=True)
class _Row:
    """One line of a table, for reading cells with their place in any refusal."""

    file: str
    number: int
    cells: dict[str, str]

    def text(self, column: str) -> str:
        return (self.cells.get(column) or "").strip()

    def number_in(self, column: str) -> float | None:
        text = self.text(column)
        if not text:
            return None
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise self.refused(f"{column} {text!r} is not a number")
        return value

    def position(self, lat_column: str, lon_column: str) -> Position:
        lat_deg, lon_deg = self.number_in(lat_column), self.number_in(lon_column)
        if lat_deg is None or lon_deg is None:
            raise self.refused(f"{lat_column if lat_deg is None else lon_column} is empty")
        if abs(lat_deg) > 90.0 or abs(lon_deg) > 360.0:
            raise self.refused(f"{lat_column} {lat_deg:g}, {lon_column} {lon_deg:g} is no place on earth")
        return Position(lat_deg=lat_deg, lon_deg=lon_deg)

    def refused(self, what: str) -> InputProblem:
        return InputProblem(f"{self.file}, row {self.number}: {what}.")


def _rows(path: Path, columns: tuple[str, ...]) -> Iterator[_Row]:
    """Yield the rows of a table that must have some columns; blank lines are passed over. Row 1 is the heading."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            reader = csv.DictReader(lines, strict=True)
            missing = [column for column in columns if column not in (reader.fieldnames or ())]
            if missing:
                raise InputProblem(f"{path.name} lacks the column{'s' if len(missing) > 1 else ''} {', '.join(missing)}.")
            for cells in reader:
                yield _Row(path.name, reader.line_num, cells)
    except FileNotFoundError as error:
        raise InputProblem(f"There is no {path.name} in {path.parent}.") from error
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputProblem(f"{path.name} cannot be read as a CSV table in UTF-8: {error}.") from error


def _is_placed_vor(row: _Row) -> bool:
    return row.text("kind").upper() in _VOR_KINDS and bool(row.text("lat") or row.text("lon"))


def _station(row: _Row) -> Station:
    letter = (row.cells.get("class") or "")[_CLASS_LETTER]  # not stripped: its places count, and some are blank
    return Station(
        ident=row.text("ident"),
        icao=row.text("icao"),
        position=row.position("lat", "lon"),
        elevation_ft=row.number_in("dme_elev_ft"),
        service_class=ServiceClass(letter) if letter in ("T", "L", "H") else None,
    )


def _segment(row: _Row, stations: tuple[Station, ...]) -> Segment:
    start, end = (row.position(f"{side}_lat", f"{side}_lon") for side in _SIDES)
    found, missing = _defining(row, position_along(start, end, distance_nm(start, end) / 2.0), stations)
    return Segment(
        airway=row.text("airway"),
        from_ident=row.text("from_ident"),
        to_ident=row.text("to_ident"),
        start=start,
        end=end,
        mea_ft=_lower_mea_ft(row),
        stations=found,
        missing=missing,
    )


def _lower_mea_ft(row: _Row) -> float | None:
    """The lower of two published minimum altitudes; the second is published only where it differs. None where one is no number of feet."""
    texts = [text for text in (row.text("mea_fwd_ft"), row.text("mea_opp_ft")) if text]
    if row.text("mea_note").upper() == "UNKNN" or not all(text.replace(".", "", 1).isdecimal() for text in texts):
        return None
    return min((float(text) for text in texts if float(text) > 0.0), default=None)


def _defining(row: _Row, middle: Position, stations: tuple[Station, ...]) -> tuple[tuple[Station, ...], tuple[str, ...]]:
    """Find the VORs that define a segment: before and after it along the airway, and its own ends where they are VORs."""
    found: list[Station] = []
    missing: list[str] = []
    named = [(row.text(f"{side}_ident"), row.text(f"{side}_icao")) for side in _SIDES if row.text(f"{side}_type").upper() == "VHF"]
    named += [(row.text(column), "") for column in ("prev_vor", "next_vor")]
    for ident, icao in named:
        if not ident or any(station.ident == ident for station in found) or ident in missing:
            continue
        same = [station for station in stations if station.ident == ident and (not icao or station.icao in ("", icao))]
        if same:  # one ident may stand twice on earth, but not within 600 NM (ICAO Annex 11)
            found.append(min(same, key=lambda station: distance_nm(station.position, middle)))
        else:
            missing.append(ident)
    return tuple(found), tuple(missing)
