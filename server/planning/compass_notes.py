"""Where a compass serves badly: near the magnetic poles, and on legs so long in the north or south that the magnetic track turns."""

from __future__ import annotations

from server.navigation import difference_deg, magnetic_from_true_deg, position_along, three_digits, track
from server.planning.log_legs import LogLeg, Note, NoteLevel
from server.planning.materials import Materials

TURNS_DEG = 3.0
"""A magnetic track that turns by more along a leg cannot be flown on one heading."""

_PLACES = (0.0, 0.5, 1.0)


def compass_notes(leg: LogLeg, materials: Materials) -> list[Note]:
    """Warn where the compass is weak, and where one magnetic heading does not lead along the leg."""
    if leg.track_true_deg is None:
        return []
    return [*_weak_notes(leg, materials), *_turning_notes(leg, materials)]


def _weak_notes(leg: LogLeg, materials: Materials) -> list[Note]:
    places = [position_along(leg.start.position, leg.end.position, share * leg.distance_nm) for share in _PLACES]
    variations = [materials.variation_at(place) for place in places]
    true = f" The true heading is {three_digits(leg.heading_true_deg)}." if leg.heading_true_deg is not None else ""
    if any(each.unreliable_horizontal for each in variations):
        text = (
            f"Leg {leg.number} runs where the earth's horizontal field is under 2,000 nT: a magnetic compass does not serve there, and its "
            f"magnetic heading is not to be flown. Steer by true north, by a gyro set to it or the sun.{true}"
        )
        return [Note(code="compass-unreliable", level=NoteLevel.STOP, message=text, leg_number=leg.number)]
    if any(each.weak_horizontal for each in variations):
        text = (
            f"Leg {leg.number} runs where the earth's horizontal field is under 6,000 nT: the compass is sluggish and may be several "
            f"degrees off. Check it against true north.{true}"
        )
        return [Note(code="compass-weak", level=NoteLevel.WARNING, message=text, leg_number=leg.number)]
    return []


def _turning_notes(leg: LogLeg, materials: Materials) -> list[Note]:
    way = track(leg.start.position, leg.end.position)
    if way.initial_true_deg is None or way.final_true_deg is None or leg.track_magnetic_deg is None:
        return []
    ends = [
        magnetic_from_true_deg(true_deg, materials.variation_at(place).deg)
        for true_deg, place in ((way.initial_true_deg, leg.start.position), (way.final_true_deg, leg.end.position))
    ]
    if max(abs(difference_deg(end, leg.track_magnetic_deg)) for end in ends) <= TURNS_DEG:
        return []
    text = (
        f"The magnetic track of leg {leg.number} turns from {three_digits(ends[0])} over {three_digits(leg.track_magnetic_deg)} at the "
        f"middle to {three_digits(ends[1])}: one heading does not lead along it. Turn the heading with it, or put points between."
    )
    return [Note(code="track-turns", level=NoteLevel.WARNING, message=text, leg_number=leg.number)]
