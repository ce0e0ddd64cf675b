"""Choosing a thing by its label in a list, or by typing its ident or name: labels, and reading them back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TypeVar

from server.navigation import Aircraft, Airfield, Checkpoint
from server.radio import Beacon
from server.sheets import figures
from server.web.forms import FormReader

Thing = TypeVar("Thing", Airfield, Beacon, Checkpoint, Aircraft)


def airfield_label(airfield: Airfield) -> str:
    """How an airfield stands in a list to choose from."""
    return f"{airfield.ident} {airfield.name}"


def beacon_label(beacon: Beacon) -> str:
    """How a beacon stands in a list to choose from: kind and frequency tell two of one ident apart."""
    return f"{beacon.ident} {beacon.kind} {figures.frequency(beacon)} {beacon.name}"


def checkpoint_label(checkpoint: Checkpoint) -> str:
    """How a checkpoint stands in a list to choose from."""
    return f"{checkpoint.name}, {checkpoint.feature}"


def aircraft_label(aircraft: Aircraft) -> str:
    """How an aircraft stands in a list to choose from."""
    return f"{aircraft.registration} {aircraft.type_name}".strip()


def numbered(label: str, thing: Thing) -> str:
    """A label that fits one thing only, whatever else is in the list."""
    return f"{label} ({thing.id})"


def labels(things: Sequence[Thing], label_of: Callable[[Thing], str]) -> dict[int | None, str]:
    """The label of each thing by its number; only those that would read alike carry the number too."""
    said = Counter(label_of(thing) for thing in things)
    return {thing.id: label if said[label := label_of(thing)] == 1 else numbered(label, thing) for thing in things}


def pick(
    reader: FormReader, place: str, label: str, things: Sequence[Thing], label_of: Callable[[Thing], str], *, required: bool = False
) -> Thing | None:
    """Read a thing chosen by its label, or typed by its ident or name where that means one thing only."""
    text = reader.form.text(place).strip()
    if not text:
        if required:
            reader.refuse(place, f"{label}: please choose one.")
        return None
    shown = labels(things, label_of)
    chosen = [thing for thing in things if text in (shown[thing.id], numbered(label_of(thing), thing))]
    chosen = chosen or [thing for thing in things if text.casefold() in _names(thing)]
    if len(chosen) == 1:
        return chosen[0]
    if chosen:
        listed = "; ".join(shown[thing.id] for thing in chosen[:5])
        reader.refuse(place, f'{label}: {len(chosen)} go by the name "{text[:40]}". Write one of them in full: {listed}.')
    else:
        reader.refuse(place, f'{label}: "{text[:40]}" is not in this region. Choose one from the list, or type its ident.')
    return None


def _names(thing: Airfield | Beacon | Checkpoint | Aircraft) -> tuple[str, ...]:
    names = (getattr(thing, field, "") for field in ("ident", "name", "registration"))
    return tuple(name.casefold() for name in names if name)
