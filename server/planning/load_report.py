"""What a load did to a region, said in words: the report, and what differs between two values of one kind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from server.exchange import RefusedRow, RowWarning
from server.navigation.places import Airfield, Checkpoint
from server.radio.beacon import Beacon

Place = Beacon | Airfield | Checkpoint

CONFIRMATION_FIELDS = ("last_confirmed", "source")
"""A new date alone is a confirmation, not a change: it is stored and not listed."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One field of one thing that differs, in words."""

    label: str
    field: str
    old: str
    new: str


@dataclass(frozen=True, kw_only=True)
class LoadReport:
    """What a load did, or with ``dry_run`` would do. ``gone`` were removed; ``kept_in_use`` have gone too, but routes still use them."""

    format_name: str
    source_name: str
    dry_run: bool
    taken: int
    refused: tuple[RefusedRow, ...]
    warnings: tuple[RowWarning, ...]
    added: tuple[str, ...]
    changed: tuple[Change, ...]
    changed_count: int
    """How many things the changes belong to."""
    gone: tuple[str, ...]
    kept_in_use: tuple[str, ...]
    unchanged: int


def label_of(place: Place) -> str:
    """Name a thing so that it is not taken for another of the same ident: "FRA VORTAC Friant"."""
    parts = (getattr(place, "ident", ""), getattr(place, "kind", ""), place.name)
    return " ".join(str(part) for part in parts if part)


def changes_between(old: Place, new: Place) -> tuple[Change, ...]:
    """List what differs between two states of one thing, apart from a mere confirmation."""
    found = _changes(label_of(old), old, new)
    return tuple(change for change in found if change.field.split(" ")[-1] not in CONFIRMATION_FIELDS)


def _changes(label: str, old: Any, new: Any, prefix: str = "") -> Iterator[Change]:
    """Yield every field that differs, going into parts that have fields of their own."""
    for field in fields(new):
        before, after = getattr(old, field.name), getattr(new, field.name)
        if before == after:
            continue
        name = f"{prefix}{field.name}"
        if field.name == "components":
            yield from _part_changes(label, before, after)
        elif is_dataclass(before) and is_dataclass(after):
            yield from _changes(label, before, after, f"{name} ")
        else:
            yield Change(label=label, field=name, old=_words(before), new=_words(after))


def _part_changes(label: str, before: tuple, after: tuple) -> Iterator[Change]:
    old_parts = {part.kind: part for part in before}
    new_parts = {part.kind: part for part in after}
    for kind in {**old_parts, **new_parts}:
        old, new = old_parts.get(kind), new_parts.get(kind)
        if old and new:
            yield from _changes(label, old, new, f"{kind.value} ")
        else:
            yield Change(label=label, field=kind.value, old="present" if old else "absent", new="present" if new else "absent")


def _words(value: Any) -> str:
    """Say a value in words; what is not known is said so."""
    if value is None or value == "" or value == ():
        return "not known"
    if isinstance(value, tuple):
        return "; ".join(_words(part) for part in value)
    if is_dataclass(value):
        given = ((field.name, getattr(value, field.name)) for field in fields(value))
        return ", ".join(f"{name} {_words(part)}" for name, part in given if part not in (None, ""))
    return f"{value:.10g}" if isinstance(value, float) else str(value)
