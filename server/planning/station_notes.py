"""What a pilot must know of each station that is used on a leg: restrictions nobody has read, a north that cannot be right."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from server.navigation import contradiction_deg
from server.planning.log import LogLeg, NavigationLog
from server.planning.log_legs import Note, NoteLevel
from server.planning.materials import Materials
from server.radio import Beacon, ComponentKind, restrictions_not_read

Use = tuple[Beacon, ComponentKind]
"""A part of a beacon that somebody listens to."""


def station_notes(leg_number: int, uses: Iterable[Use], materials: Materials) -> list[Note]:
    """Warn of what is wrong with the stations that are used on a leg, each once."""
    uses = list(dict.fromkeys((beacon, kind) for beacon, kind in uses))
    beacons = list(dict.fromkeys(beacon for beacon, _ in uses))
    restricted = [beacon for beacon in beacons if any(_restricted(beacon, kind) for one, kind in uses if one == beacon)]
    radials = [beacon for beacon in beacons if (beacon, ComponentKind.AZIMUTH) in uses]
    notes = [_restricted_note(leg_number, beacon) for beacon in restricted]
    for beacon in radials:
        apart_deg = contradiction_deg(beacon.alignment, materials.estimated_declination_deg(beacon))
        if apart_deg is not None:
            notes.append(_north_note(leg_number, beacon, apart_deg))
    return notes


def with_station_notes(log: NavigationLog, materials: Materials) -> NavigationLog:
    """Add the notes of the stations that only check a position, lead elsewhere or help who is lost; those that guide have theirs."""
    return replace(log, legs=tuple(_with_notes(leg, log, materials) for leg in log.legs))


def uses_of_guidance(leg: LogLeg) -> list[Use]:
    """The parts that guide a leg, and the DMEs read beside them."""
    guiding = [(guidance.beacon, guidance.component) for guidance in leg.guidance]
    return [*guiding, *((reception.beacon, reception.component) for reception in leg.receptions)]


def _with_notes(leg: LogLeg, log: NavigationLog, materials: Materials) -> LogLeg:
    told = {(note.code, note.message) for note in leg.notes}
    notes = [note for note in station_notes(leg.number, _other_uses(leg, log), materials) if (note.code, note.message) not in told]
    return replace(leg, notes=_before_advice(leg.notes, notes)) if notes else leg


def _before_advice(there: tuple[Note, ...], more: list[Note]) -> tuple[Note, ...]:
    """Put warnings behind the stops and warnings that are there."""
    grave = [note for note in there if note.level is not NoteLevel.ADVICE]
    return (*grave, *more, *(note for note in there if note.level is NoteLevel.ADVICE))


def _other_uses(leg: LogLeg, log: NavigationLog) -> Iterator[Use]:
    for check in log.checks_of(leg):
        yield from ((line.beacon, line.component) for line in check.lines)
    strip = log.lost_on(leg)
    if strip is not None:
        yield from ((line.beacon, line.component) for line in strip.lines)
    for place in log.diversions_on(leg):
        yield from ((each.aid.beacon, each.aid.component) for each in place.diversions if each.aid is not None)
    for point in (leg.start, leg.end):
        if point.beacon is not None:
            yield from ((point.beacon, part.kind) for part in point.beacon.components)


def _restricted(beacon: Beacon, kind: ComponentKind) -> bool:
    part = beacon.component(kind)
    return part is not None and restrictions_not_read(part)


def _restricted_note(leg_number: int, beacon: Beacon) -> Note:
    text = (
        f"{beacon.ident} is published as restricted: somewhere its signal is unusable, and the sectors are not entered. "
        f"Read them in current publications before you use it on leg {leg_number}."
    )
    return Note(code="restricted", level=NoteLevel.WARNING, message=text, leg_number=leg_number)


def _north_note(leg_number: int, beacon: Beacon, apart_deg: float) -> Note:
    text = (
        f"{beacon.ident}: the alignment in the data is {apart_deg:.0f}° from the variation there, so one of them is wrong. "
        f"Its radials on leg {leg_number} are only estimates: take them from a current chart."
    )
    return Note(code="alignment-contradicts", level=NoteLevel.WARNING, message=text, leg_number=leg_number)
