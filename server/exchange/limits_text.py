"""The small grammars in which limits of a beacon's parts are written in one cell, both ways.

    coverage   azimuth 045-135 range 80 from 2000 to 18000; azimuth 135-045 range 60
    unusable   azimuth 125-145 beyond 20 below 3200 (notice of 2026-04-02); distance 0-360 beyond 30
    outages    azimuth 2026-05-01..2026-05-20 (antenna work); distance 2026-06-01..
    runways    09/27 850 m (grass); 14/32

Entries are parted by semicolons and begin with the part they speak of: azimuth, distance or bearing. Arcs run clockwise from the first
radial to the second and may cross north; 0-360 is all round. Ranges are NM, altitudes feet above sea level. A date may be missing at either
end of the two dots. Text stands in round brackets; a backslash before ( ) ; or \\ in it makes that character plain text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from server.errors import InputProblem
from server.exchange.reading import RowProblem
from server.navigation import parse_number
from server.navigation.places import Runway
from server.radio.beacon import ComponentKind, CoverageSector, Outage, UnusableSector

_WORD = re.compile(r"\s*(\((?:[^()\\]|\\.)*\)|[^\s();]+)", re.DOTALL)
_ARC = re.compile(r"([0-9.]+)-([0-9.]+)")
_ESCAPED = re.compile(r"\\(.)", re.DOTALL)

Entries = dict[ComponentKind, tuple]


def plain_number(number: float) -> str:
    """Write a number so that reading it gives the same number: all its digits, no exponent, no needless zeros; 20 decimals at most."""
    if number == int(number):
        return str(int(number))
    text = format(Decimal(repr(float(number))), "f")
    return text if len(text) <= 30 else f"{number:.20f}"  # parse_number reads 30 characters


def read_coverage(cell: str) -> Entries:
    """Read a coverage cell: part -> its sectors."""
    return _by_part(cell, "coverage", _coverage_sector)


def read_unusable(cell: str) -> Entries:
    """Read an unusable cell: part -> its sectors."""
    return _by_part(cell, "unusable", _unusable_sector)


def read_outages(cell: str) -> Entries:
    """Read an outages cell: part -> its outages."""
    return _by_part(cell, "outages", _outage)


def read_runways(cell: str) -> tuple[Runway, ...]:
    """Read a runways cell."""
    return tuple(_runway(words, entry) for words, entry in _entries(cell, "runways"))


def write_coverage(parts: Iterable[tuple[ComponentKind, tuple[CoverageSector, ...]]]) -> str:
    """Write what read_coverage reads."""
    return "; ".join(
        _entry(
            part,
            _arc_text(sector),
            _pair("range", sector.range_nm),
            _pair("from", sector.lowest_altitude_ft),
            _pair("to", sector.highest_altitude_ft),
        )
        for part, sectors in parts
        for sector in sectors
    )


def write_unusable(parts: Iterable[tuple[ComponentKind, tuple[UnusableSector, ...]]]) -> str:
    """Write what read_unusable reads."""
    return "; ".join(
        _entry(
            part,
            _arc_text(sector),
            _pair("beyond", sector.beyond_nm),
            _pair("within", sector.within_nm),
            _pair("below", sector.below_altitude_ft),
            _bracketed(sector.source),
        )
        for part, sectors in parts
        for sector in sectors
    )


def write_outages(parts: Iterable[tuple[ComponentKind, tuple[Outage, ...]]]) -> str:
    """Write what read_outages reads."""
    return "; ".join(
        _entry(part, f"{outage.first_day or ''}..{outage.last_day or ''}", _bracketed(outage.reason))
        for part, outages in parts
        for outage in outages
    )


def write_runways(runways: Iterable[Runway]) -> str:
    """Write what read_runways reads."""
    return "; ".join(
        " ".join(
            filter(
                None,
                (
                    re.sub(r"[\s();]+", "-", runway.designator) or "-",
                    f"{plain_number(runway.length_m)} m" if runway.length_m is not None else "",
                    _bracketed(runway.surface),
                ),
            )
        )
        for runway in runways
    )


def _entry(part: ComponentKind, *words: str) -> str:
    return " ".join((part.value, *filter(None, words)))


def _pair(word: str, number: float | None) -> str:
    return "" if number is None else f"{word} {plain_number(number)}"


def _arc_text(sector: CoverageSector | UnusableSector) -> str:
    return f"{plain_number(sector.from_radial_deg)}-{plain_number(sector.to_radial_deg)}"


def _bracketed(text: str) -> str:
    return "(" + re.sub(r"([()\\;])", r"\\\1", text) + ")" if text else ""


def _entries(cell: str, column: str) -> list[tuple[list[str], str]]:
    """Split a cell into entries of words; text in brackets is one word that begins with its bracket."""
    entries: list[tuple[list[str], str]] = []
    words: list[str] = []
    at = start = 0
    while True:
        match = _WORD.match(cell, at)
        if match:
            words.append(match[1])
            at = match.end()
            continue
        rest = cell[at:].lstrip()
        if rest and not rest.startswith(";"):
            raise _unreadable(column, cell[start:], "a bracket is not closed, or stands where none may")
        end = len(cell) - len(rest)
        if words:
            entries.append((words, cell[start:end].strip()))
        if not rest:
            return entries
        at = start = end + 1
        words = []


def _by_part(cell: str, column: str, value_of) -> Entries:
    found: dict[ComponentKind, list] = {}
    for words, entry in _entries(cell, column):
        try:
            part = ComponentKind(words[0].lower())
        except ValueError:
            raise _unreadable(column, entry, "it must begin with azimuth, distance or bearing") from None
        found.setdefault(part, []).append(value_of(words[1:], entry))
    return {part: tuple(values) for part, values in found.items()}


def _coverage_sector(words: list[str], entry: str) -> CoverageSector:
    first, last, numbers, text = _sector(words, entry, "coverage", ("range", "from", "to"))
    if "range" not in numbers or text:
        raise _unreadable("coverage", entry, "it must say 'range' and NM, and hold no text in brackets")
    return CoverageSector(
        from_radial_deg=first,
        to_radial_deg=last,
        range_nm=numbers["range"],
        lowest_altitude_ft=numbers.get("from"),
        highest_altitude_ft=numbers.get("to"),
    )


def _unusable_sector(words: list[str], entry: str) -> UnusableSector:
    first, last, numbers, text = _sector(words, entry, "unusable", ("beyond", "within", "below"))
    return UnusableSector(
        from_radial_deg=first,
        to_radial_deg=last,
        beyond_nm=numbers.get("beyond"),
        within_nm=numbers.get("within"),
        below_altitude_ft=numbers.get("below"),
        source=text,
    )


def _sector(words: list[str], entry: str, column: str, known: tuple[str, ...]) -> tuple[float, float, dict[str, float], str]:
    """Read 'FROM-TO word number word number (text)'."""
    arc = _ARC.fullmatch(words[0]) if words else None
    if not arc:
        raise _unreadable(column, entry, "after the part it needs two radials such as 125-145")
    first, last = (_number(text, column, entry, highest=360.0) for text in arc.groups())
    rest, text = _without_text(words[1:])
    if len(rest) % 2:
        raise _unreadable(column, entry, f"after the radials come {', '.join(known)}, each with a number")
    numbers: dict[str, float] = {}
    for word, number in zip(rest[::2], rest[1::2], strict=True):
        if word.lower() not in known or word.lower() in numbers:
            raise _unreadable(column, entry, f"{word!r} is not one of {', '.join(known)}, or stands twice")
        numbers[word.lower()] = _number(number, column, entry, lowest=-2_000.0 if word.lower() in ("from", "to", "below") else 0.0)
    return first, last, numbers, text


def _outage(words: list[str], entry: str) -> Outage:
    rest, text = _without_text(words)
    days = rest[0].split("..") if len(rest) == 1 else []
    if len(days) != 2:
        raise _unreadable("outages", entry, "after the part it needs days such as 2026-05-01..2026-05-20")
    try:
        first, last = (date.fromisoformat(day) if day else None for day in days)
    except ValueError:
        raise _unreadable("outages", entry, "a day is not a date such as 2026-05-01") from None
    if first and last and last < first:
        raise _unreadable("outages", entry, "the last day comes before the first")
    return Outage(first_day=first, last_day=last, reason=text)


def _runway(words: list[str], entry: str) -> Runway:
    rest, text = _without_text(words)
    if len(rest) not in (1, 3) or (len(rest) == 3 and rest[2].lower() != "m"):
        raise _unreadable("runways", entry, "it is written as 09/27 850 m (grass)")
    length_m = _number(rest[1], "runways", entry, highest=10_000.0) if len(rest) == 3 else None
    return Runway(designator=rest[0], length_m=length_m, surface=text)


def _without_text(words: list[str]) -> tuple[list[str], str]:
    if words and words[-1].startswith("("):
        return words[:-1], _ESCAPED.sub(r"\1", words[-1][1:-1])
    return words, ""


def _number(text: str, column: str, entry: str, *, lowest: float = 0.0, highest: float = 1_000_000.0) -> float:
    try:
        number = parse_number(text)
    except InputProblem:
        raise _unreadable(column, entry, f"{text[:20]!r} is not a number") from None
    if not lowest <= number <= highest:
        raise _unreadable(column, entry, f"{text[:20]} does not lie from {lowest:g} to {highest:g}")
    return number


def _unreadable(column: str, entry: str, why: str) -> RowProblem:
    return RowProblem(f"{column}: {entry.strip()[:80]!r} cannot be read: {why}.", code="limits-unreadable")
