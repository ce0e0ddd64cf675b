"""Compare a table with what a region holds: what is new, changed and gone, and which rows are refused because of what is there already."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import Literal

from server.errors import InputProblem
from server.exchange import OWN_SOURCE, Reading, RefusedRow, RowWarning, source_of_key
from server.navigation import distance_nm
from server.persistence import Work
from server.planning.load_report import Place, label_of

What = Literal["beacons", "airfields", "checkpoints"]

SMALLEST_SHARE_OF_BEFORE = 0.5
"""A file with less than this share of the rows its source had before was probably cut off on its way."""

SAME_PLACE_NM = 0.5
"""A row that carries the name of a thing made by hand and lies this near to it is the same thing."""

MOVED_AT_MOST_NM = 5.0
"""A row of our own that lies farther from the stored one of its key is not a better position of it but another thing of the same name."""


@dataclass(frozen=True, kw_only=True)
class TableToLoad:
    """A table that has been read, and what must be known to store it."""

    what: What
    reading: Reading
    content: bytes
    source_name: str
    accept_shrink: bool = False


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """What a table would do. ``updated`` are pairs of old and new that differ; ``doubles`` are rows refused for what the region holds."""

    added: tuple[Place, ...]
    updated: tuple[tuple[Place, Place], ...]
    gone: tuple[Place, ...]
    kept_in_use: tuple[Place, ...]
    doubles: tuple[RefusedRow, ...]
    undecided: tuple[RowWarning, ...]
    unchanged: int


def shelf_of(work: Work, what: What):
    """Return the repository that keeps what a table holds."""
    return {"beacons": work.beacons, "airfields": work.airfields, "checkpoints": work.checkpoints}[what]


def compare_with_region(work: Work, table: TableToLoad, region_id: int) -> Comparison:
    """Tell added, updated, gone and unchanged apart. What the file names in a row that was refused has not gone: it stays as it was."""
    work.regions.get(region_id)
    shelf = shelf_of(work, table.what)
    shelved: tuple[Place, ...] = shelf.list(region_id)
    present = {place.external_key: place for place in shelved if place.external_key}
    _refuse_shrunk(table, present)
    made_by_hand: dict[tuple, list[Place]] = {}
    for place in shelved:
        if not place.external_key:
            made_by_hand.setdefault(_called(place), []).append(place)
    added, updated, doubles = [], [], []
    for line_number, row in zip(table.reading.line_numbers, table.reading.rows, strict=True):
        known = present.get(row.external_key)
        if known is not None and _is_another(known, row):
            doubles.append(_refused_another(known, row, line_number))
        elif known is not None:
            updated.append((known, replace(row, id=known.id)))
        elif any(distance_nm(row.position, own.position) < SAME_PLACE_NM for own in made_by_hand.get(_called(row), ())):
            doubles.append(_refused_double(row, line_number))
        else:
            added.append(row)
    missing = _missing(table.reading, present)
    undecided = _undecided(table, missing)
    if undecided:
        missing = []
    in_use = shelf.in_use() if missing else frozenset()
    return Comparison(
        added=tuple(added),
        updated=tuple((old, new) for old, new in updated if old != new),
        gone=tuple(place for place in missing if place.id not in in_use),
        kept_in_use=tuple(place for place in missing if place.id in in_use),
        doubles=tuple(doubles),
        undecided=undecided,
        unchanged=sum(old == new for old, new in updated),
    )


def _missing(reading: Reading, present: dict[str, Place]) -> list[Place]:
    """List what the source had before and the file does not name, neither in a row taken nor in one refused."""
    named = {row.external_key for row in reading.rows} | {row.key for row in reading.refused}
    return [place for key, place in present.items() if key not in named and source_of_key(key) in reading.sources]


def _undecided(table: TableToLoad, missing: list[Place]) -> tuple[RowWarning, ...]:
    """Warn, when rows are too damaged to tell which things they are, that therefore nothing counts as gone."""
    return tuple(
        RowWarning(
            line_number=row.line_number,
            key="",
            message=f"{len(missing)} entries seem to have gone, but this row may be one of them. They are kept until the table is whole.",
            code="gone-undecided",
        )
        for row in table.reading.refused
        if missing and not row.key
    )


def _refuse_shrunk(table: TableToLoad, present: dict[str, Place]) -> None:
    """Refuse a file that has far fewer rows of a source it lists completely. A row too damaged to be known counts for every source."""
    reading = table.reading
    before = Counter(source_of_key(key) for key in present)
    keys = [*(row.external_key for row in reading.rows), *(row.key for row in reading.refused)]
    now = Counter(source_of_key(key) for key in keys)
    not_known = keys.count("")
    for source in reading.sources:
        rows = now[source] + not_known
        if not table.accept_shrink and rows < SMALLEST_SHARE_OF_BEFORE * before[source]:
            raise InputProblem(
                f"{table.source_name} has {rows} rows of {source.rstrip(':')}, where that source had {before[source]} before: it was "
                "probably cut off on its way. Nothing was changed. If the source has really become that small, load the file again and "
                "accept the smaller table (the check box on the page, --accept-fewer on the command line).",
                code="table-shrunk",
                place=table.source_name,
            )


def _called(place: Place) -> tuple:
    return (getattr(place, "kind", ""), getattr(place, "ident", place.name))


def _is_another(known: Place, row: Place) -> bool:
    own = source_of_key(row.external_key) == f"{OWN_SOURCE}:"
    return own and distance_nm(known.position, row.position) > MOVED_AT_MOST_NM


def _refused_another(known: Place, place: Place, line_number: int) -> RefusedRow:
    apart_nm = float(distance_nm(known.position, place.position))
    return RefusedRow(
        line_number=line_number,
        key=place.external_key,
        reason=f"This row lies {apart_nm:.0f} NM from {label_of(known)}, which is in the region under the same key. If it is another one, "
        "tell them apart in a key column; if the position was wrong, correct it on its page first.",
        code="key-twice",
    )


def _refused_double(place: Place, line_number: int) -> RefusedRow:
    return RefusedRow(
        line_number=line_number,
        key=place.external_key,
        reason=f"{label_of(place)} is already in the region at this place, made by hand. Remove that one first if the file is to rule.",
        code="already-made-by-hand",
    )
