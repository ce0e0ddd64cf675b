"""Turn the bytes of a comma-separated table into rows with line numbers, whatever was done to the file on its way here.

Columns are bound by name, so a file whose layout has changed is refused as a whole with the names that are missing. A row that cannot be
split is refused alone. Nothing here knows what a beacon is.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from server.errors import InputProblem
from server.exchange.reading import RowProblem
from server.navigation import parse_number

MAX_TABLE_BYTES = 64 * 1024 * 1024
"""The largest table that is read. The world list of beacons has 1.5 MB."""

MAX_LINES_OF_ONE_ROW = 50
"""How far a quoted field may run on over line ends before its opening quote is taken for a slip."""

MAX_LINES = 1_000_000
LONGEST_ROW = 1_000_000
LONGEST_HEADER = 65_536
LONGEST_CELL = 10_000
"""Characters. Far above any real table; they keep a hostile one from filling the memory."""

_UNPACK = "Unpack it, or save the sheet as CSV in UTF-8, and load that."
NO_TABLES = (
    (b"<", "file-is-web-page", "is a web page or XML, not a comma-separated table. The download probably answered with an error page."),
    (b"PK\x03\x04", "file-is-archive", f"is a ZIP archive or a spreadsheet (XLSX), not a table. {_UNPACK}"),
    (b"\x1f\x8b", "file-is-archive", "is a GZ archive, not a table. Unpack it and load what is in it."),
    (b"%PDF", "file-is-not-text", "is a PDF file, not a table. Choose the CSV file."),
    (b"\x89PNG", "file-is-not-text", "is a picture (PNG), not a table. Choose the CSV file."),
)
"""What files of other kinds begin with, compared without regard to upper and lower case."""

_CONTROL_CHARACTER = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def read_limited(stream: BinaryIO, *, name: str, limit_bytes: int = MAX_TABLE_BYTES) -> bytes:
    """Read a stream to its end, counting as it comes, and refuse it once it passes the limit."""
    parts = []
    size = 0
    while part := stream.read(1024 * 1024):
        size += len(part)
        if size > limit_bytes:
            raise InputProblem(
                f"{name} is larger than {limit_bytes // (1024 * 1024)} MB. Cut it to the area you need and load that.",
                code="file-too-large",
                place=name,
            )
        parts.append(part)
    return b"".join(parts)


def decode_table(content: bytes, *, name: str, fallback_encoding: str = "") -> str:
    """Decode a table as UTF-8, or as ``fallback_encoding`` where its publisher is known to use that."""
    _refuse_what_is_no_table(content, name=name)
    try:
        return content.removeprefix(_BYTE_ORDER_MARK).decode("utf-8")
    except UnicodeDecodeError as problem:
        if fallback_encoding:
            return content.removeprefix(_BYTE_ORDER_MARK).decode(fallback_encoding)
        line = content.removeprefix(_BYTE_ORDER_MARK)[: problem.start].count(b"\n") + 1
        raise InputProblem(
            f"{name}, line {line}: byte 0x{problem.object[problem.start]:02X} is not UTF-8. Save the file as UTF-8 and load it again.",
            code="not-utf-8",
            place=f"{name}, line {line}",
        ) from None


def _refuse_what_is_no_table(content: bytes, *, name: str) -> None:
    def refuse(code: str, message: str):
        raise InputProblem(f"{name} {message}", code=code, place=name)

    if len(content) > MAX_TABLE_BYTES:
        refuse("file-too-large", f"is larger than {MAX_TABLE_BYTES // (1024 * 1024)} MB. Cut it to the area you need and load that.")
    start = content.removeprefix(_BYTE_ORDER_MARK).lstrip()[:64].lower()
    if not start:
        refuse("file-empty", "is empty. Fetch it again.")
    for first_bytes, code, words in NO_TABLES:
        if start.startswith(first_bytes.lower()):
            refuse(code, words)
    if content.count(b"\n") + content.count(b"\r") > 2 * MAX_LINES:
        refuse("file-too-large", f"has more than {MAX_LINES:,} lines. Cut it to the area you need and load that.")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in start:
        refuse("file-is-not-text", "is not UTF-8 text (it may be UTF-16, or binary). Save it as CSV in UTF-8.")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: its cells by column name, and the line it starts at. Blank cells are empty text; unknown columns are ''."""

    line_number: int
    cells: dict[str, str]

    def text(self, column: str) -> str:
        """Return the cell without blanks at its ends."""
        return self.cells.get(column, "").strip()

    def required(self, column: str) -> str:
        """Return the cell, or refuse the row when it is blank."""
        value = self.text(column)
        if not value:
            raise RowProblem(f"{column} is blank, and it is needed.", code="value-missing")
        return value

    def number(self, column: str, *, lowest: float | None = None, highest: float | None = None) -> float | None:
        """Return the cell as a number, None when it is blank; refuse the row when it is no number or out of range."""
        value = self.text(column)
        if not value:
            return None
        try:
            number = parse_number(value)
        except InputProblem as problem:
            raise RowProblem(f"{column} is {value[:40]!r}: {problem.message}", code="not-a-number") from None
        if (lowest is not None and number < lowest) or (highest is not None and number > highest):
            raise RowProblem(f"{column} is {value[:40]}; it must lie from {lowest:g} to {highest:g}.", code="number-out-of-range")
        return number

    def whole(self, column: str) -> int | None:
        """Return the cell as a whole number, None when it is blank; refuse the row when it has decimals."""
        number = self.number(column)
        if number is None:
            return None
        if number != int(number):
            raise RowProblem(f"{column} is {self.text(column)}; a whole number is needed.", code="not-a-whole-number")
        return int(number)


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """The header of a table and its rows; ``bad_rows`` could not be used as they are, and hold only the cells that can be trusted."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    bad_rows: tuple[tuple[Row, RowProblem], ...]


def read_columns(text: str, *, name: str) -> tuple[str, ...]:
    """Return the column names of the first row, without blanks at their ends."""
    return _header(_split(text[:LONGEST_HEADER]), name=name)


def _header(records: Iterator[tuple[int, list[str] | RowProblem]], *, name: str) -> tuple[str, ...]:
    line_number, cells = next(records)
    if isinstance(cells, RowProblem):
        place = f"{name}, line {line_number}"
        raise InputProblem(f"{place}: the header cannot be split into columns. {cells.message}", code="header-unreadable", place=place)
    return tuple(cell.strip() for cell in cells)


def read_table(text: str, *, name: str, required: tuple[str, ...], format_name: str, may_be_empty: bool = False) -> Table:
    """Split a table into rows, bound to its header by name.

    Raises
    ------
    InputProblem
        A required column is missing, or a column name stands twice: the layout is not the one this reader knows.
    """
    records = _split(text)
    columns = _header(records, name=name)
    _check_header(columns, name=name, required=required, format_name=format_name)
    rows: list[Row] = []
    bad_rows: list[tuple[Row, RowProblem]] = []
    for line_number, cells in records:
        if isinstance(cells, RowProblem):
            bad_rows.append((Row(line_number, {}), cells))
        elif problem := _shape_problem(cells, columns):
            bad_rows.append((Row(line_number, _trusted(cells, columns)), problem))
        else:
            rows.append(Row(line_number, dict(zip(columns, cells, strict=True))))
    if not rows and not bad_rows and not may_be_empty:
        raise InputProblem(f"{name} has a header but no rows. Fetch it again.", code="table-without-rows", place=name)
    return Table(columns=columns, rows=tuple(rows), bad_rows=tuple(bad_rows))


def _check_header(columns: tuple[str, ...], *, name: str, required: tuple[str, ...], format_name: str) -> None:
    place = f"{name}, line 1"
    missing = [column for column in required if column not in columns]
    found = ", ".join(columns)[:300]
    if missing:
        hint = (
            " The columns seem to be parted by semicolons or tabs: save with commas."
            if len(columns) == 1 and re.search("[;\t]", found)
            else ""
        )
        raise InputProblem(
            f"{place}: as {format_name} it must have the columns {', '.join(missing)}, which are not there. Found: {found}.{hint}",
            code="columns-missing",
            place=place,
        )
    twice = sorted({column for column in columns if column and columns.count(column) > 1})
    if twice:
        raise InputProblem(f"{place}: the column {', '.join(twice)} stands twice in the header.", code="column-twice", place=place)


def _trusted(cells: list[str], columns: tuple[str, ...]) -> dict[str, str]:
    """Return the cells that surely belong to their columns: of a row cut short all but the last, of one too long none."""
    if len(cells) > len(columns):
        return {}
    return dict(zip(columns, cells if len(cells) == len(columns) else cells[:-1], strict=False))


def _shape_problem(cells: list[str], columns: tuple[str, ...]) -> RowProblem | None:
    if len(cells) < len(columns):
        return RowProblem(f"The row has {len(cells)} of {len(columns)} columns: it was cut short.", code="row-too-short")
    if len(cells) > len(columns):
        return RowProblem(
            f"The row has {len(cells)} columns where the header has {len(columns)}: a comma inside a text must stand in quotes.",
            code="row-too-long",
        )
    if any(len(cell) > LONGEST_CELL for cell in cells):
        return RowProblem(f"A cell of the row has more than {LONGEST_CELL:,} characters.", code="text-too-long")
    control = next((match for cell in cells if (match := _CONTROL_CHARACTER.search(cell))), None)
    if control:
        return RowProblem(f"The row holds the control character 0x{ord(control.group()):02X}.", code="control-character")
    return None


def _split(text: str) -> Iterator[tuple[int, list[str] | RowProblem]]:
    """Yield the line number and the cells of each row that is not blank.

    A quote left open would swallow the rest of the file. So a row takes further lines only while its quotes are unpaired, and when that
    gives no row of the right width its first line is refused alone and reading goes on with the next line.
    """
    lines = list(io.StringIO(text, newline=""))
    at = 0
    expected = None
    while at < len(lines):
        if not lines[at].strip():
            at += 1
            continue
        end = _end_of_row(lines, at)
        cells = _cells("".join(lines[at : end or at + 1]))
        runs_on = end != at + 1
        if runs_on and (isinstance(cells, RowProblem) or (expected is not None and len(cells) != expected)):
            yield at + 1, RowProblem("A quote is opened and not closed.", code="quote-left-open")
            at += 1
            continue
        if isinstance(cells, list):
            expected = expected or len(cells)
        yield at + 1, cells
        at = end


def _end_of_row(lines: list[str], start: int) -> int:
    quotes = 0
    for end in range(start, min(start + MAX_LINES_OF_ONE_ROW, len(lines))):
        quotes += lines[end].count('"')
        if quotes % 2 == 0:
            return end + 1
    return 0


def _cells(row_text: str) -> list[str] | RowProblem:
    if len(row_text) > LONGEST_ROW:
        return RowProblem(f"The row has more than {LONGEST_ROW:,} characters.", code="row-unreadable")
    try:
        return next(csv.reader(io.StringIO(row_text, newline=""), skipinitialspace=True, strict=True))
    except csv.Error as problem:
        return RowProblem(f"The row cannot be split into columns: {problem}.", code="row-unreadable")
