"""The rows of the page that tells what is heard at a place: radial, distance, state and why, ready to be shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from server.errors import OutOfRange
from server.navigation import Position, declination_used, inverse, magnetic_from_true_deg, variation
from server.radio import Beacon, ComponentKind, HeardPart
from server.sheets import figures, words


@dataclass(frozen=True, kw_only=True)
class HeardRow:
    """One part of a beacon at the place."""

    beacon: Beacon
    part: str
    state: str
    why: str
    direction: str
    """The radial for an azimuth, the magnetic bearing to the station for an NDB; empty for a DME."""
    distance: str
    margin: str
    """How far above the altitude from which the antenna is surely seen."""


def heard_rows(parts: Sequence[HeardPart], *, position: Position, on: date) -> tuple[HeardRow, ...]:
    """Write the parts heard at a place on a day, in their order."""
    return tuple(_row(part, position, on) for part in parts)


def _row(part: HeardPart, position: Position, on: date) -> HeardRow:
    return HeardRow(
        beacon=part.beacon,
        part=part.component.value,
        state=words.STATE_WORDS[part.state],
        why="; ".join(words.CAUSE_WORDS[cause] for cause in part.causes),
        direction=_direction(part, position, on),
        distance=figures.distance(part.distance_nm),
        margin=_margin(part.margin_ft),
    )


def _margin(margin_ft: float | None) -> str:
    if margin_ft is None:
        return "–"
    return figures.margin(margin_ft)


def _direction(part: HeardPart, position: Position, on: date) -> str:
    if part.component is ComponentKind.DISTANCE:
        return ""
    if part.bearing_true_deg is None:
        return "overhead"
    if part.component is ComponentKind.BEARING:
        to_station_deg = inverse(position, part.beacon.component_position(part.component)).initial_true_deg
        if to_station_deg is None:
            return "overhead"
        return f"bearing to it {figures.course(magnetic_from_true_deg(to_station_deg, variation(position, on).deg))}M"
    try:
        used = declination_used(part.beacon.alignment, variation(part.beacon.position, on).deg)
    except OutOfRange:
        return "radial not known"
    radial = f"R-{figures.course(magnetic_from_true_deg(part.bearing_true_deg, used.declination_deg))}{words.north_word(used.reference)}"
    return f"{radial} est." if used.estimated else radial
