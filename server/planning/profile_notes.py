"""Remarks on the vertical profile: where the climb ends, where the level changes, where to start down, and what cannot be reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from server.planning.leg_times import minutes_at
from server.planning.log_legs import FlightPart, LogLeg, Note, NoteLevel, PartKind
from server.planning.profile import CIRCUIT_HEIGHT_FT, Slopes, VerticalProfile, altitude_at

_NOTHING_NM = 1e-6
_SAME_LEVEL_FT = 1.0


def profile_notes_of_leg(leg: LogLeg, profile: VerticalProfile) -> list[Note]:
    """Where on this leg the first climb ends, where the level changes, and where the last descent begins."""
    end_nm, notes = leg.start_nm + leg.distance_nm, []
    level_nm, down_nm = profile.climb_nm, profile.points[-1].distance_nm - profile.descent_nm
    if profile.levels_off and leg.start_nm < level_nm <= end_nm:
        text = f"Level at {_altitude_in_words(profile, level_nm)} {level_nm - leg.start_nm:.1f} NM into leg {leg.number}."
        notes.append(_note("top-of-climb", NoteLevel.ADVICE, text, leg.number))
    notes += _level_change_notes(leg, profile)
    if profile.descent_nm > 0.0 and leg.start_nm <= down_nm < end_nm:
        into_nm, down_to_ft = down_nm - leg.start_nm, profile.points[-1].altitude_ft
        text = (
            f"Start down from {_altitude_in_words(profile, down_nm)} {into_nm:.1f} NM into leg {leg.number}{_minutes_into(leg, into_nm)}, "
            f"to be at {round(down_to_ft, -1):,.0f} ft over the destination, {CIRCUIT_HEIGHT_FT:,.0f} ft above it."
        )
        notes.append(_note("top-of-descent", NoteLevel.ADVICE, text, leg.number))
    return notes


def _level_change_notes(leg: LogLeg, profile: VerticalProfile) -> list[Note]:
    """Climbs and descents from level to level, the first climb and the last descent apart: where each begins and where it ends."""
    parts, down_nm = profile.parts_of_leg(leg.number), profile.points[-1].distance_nm - profile.descent_nm
    change = parts[0] if parts else None
    if change is None or change.kind is PartKind.LEVEL or change.from_nm < profile.climb_nm or change.from_nm > down_nm - _NOTHING_NM:
        return []
    before = profile.parts_of_leg(leg.number - 1)
    begins = not before or before[-1].kind is not change.kind
    level_nm = change.to_nm - leg.start_nm if len(parts) > 1 and parts[1].kind is PartKind.LEVEL else None
    ends = f"level {level_nm:.1f} NM into it{_minutes_into(leg, level_nm)}" if level_nm is not None else "still on the way at its end"
    verb = "Climb" if change.kind is PartKind.CLIMB else "Go down"
    if begins:
        text = f"{verb} from {change.from_ft:,.0f} to {change.to_ft:,.0f} ft where leg {leg.number} begins: {ends}."
    elif level_nm is not None:
        text = f"Level at {change.to_ft:,.0f} ft {level_nm:.1f} NM into leg {leg.number}{_minutes_into(leg, level_nm)}."
    else:
        return []
    return [_note("level-change", NoteLevel.ADVICE, text, leg.number)]


def _altitude_in_words(profile: VerticalProfile, at_nm: float) -> str:
    return f"{altitude_at(profile.points, at_nm):,.0f} ft"


def _minutes_into(leg: LogLeg, into_nm: float) -> str:
    minutes = minutes_at(leg, into_nm)
    if minutes is None:
        return ""
    hours, rest = divmod(round(minutes), 60)
    return f" ({hours}:{rest:02d})"


def profile_notes(levels_ft: tuple[float, ...], profile: VerticalProfile) -> list[Note]:
    """Remarks on the profile as a whole, for the levels of the legs [ft]."""
    notes: list[Note] = []
    if not profile.modelled:
        return notes
    notes += _missed_notes(levels_ft, profile)
    if not profile.climb_modelled:
        text = "The departure's elevation is not known: no climb is drawn or counted."
        notes.append(_note("climb-not-modelled", NoteLevel.WARNING, text))
    if profile.too_steep:
        text = "The destination is too near and too low to come down to at the aircraft's descent rate. Fly lower, or lose height overhead."
        notes.append(_note("descent-too-steep", NoteLevel.WARNING, text))
    if not profile.descent_modelled:
        text = "The destination's elevation is not known: no descent is drawn."
        notes.append(_note("descent-not-modelled", NoteLevel.WARNING, text))
    return notes


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelMissed:
    """A level, held over one leg or several on end, to which the flight does not get."""

    legs: tuple[int, ...]
    level_ft: float
    nearest_ft: float


def levels_missed(levels_ft: Sequence[float], parts_of_legs: Sequence[Sequence[Slopes | FlightPart]]) -> tuple[LevelMissed, ...]:
    """Find the levels that are not reached, from the levels of the legs [ft] and the parts flown on each; none tell nothing."""
    missed = []
    for level_ft, group in groupby(range(len(levels_ft)), key=lambda index: levels_ft[index]):
        legs = tuple(group)
        heights_ft = [feet for index in legs for part in parts_of_legs[index] for feet in (part.from_ft, part.to_ft)]
        nearest_ft = min(heights_ft, key=lambda feet: abs(feet - level_ft), default=level_ft)
        if abs(nearest_ft - level_ft) > _SAME_LEVEL_FT:
            missed.append(LevelMissed(legs=tuple(index + 1 for index in legs), level_ft=level_ft, nearest_ft=nearest_ft))
    return tuple(missed)


def _missed_notes(levels_ft: tuple[float, ...], profile: VerticalProfile) -> list[Note]:
    if len(set(levels_ft)) == 1 and profile.reached_altitude_ft < levels_ft[0] - _SAME_LEVEL_FT:
        text = f"The route is too short to reach {levels_ft[0]:,.0f} ft: climb meets descent at {profile.reached_altitude_ft:,.0f} ft."
        return [_note("altitude-not-reached", NoteLevel.WARNING, text)]
    notes = []
    for missed in levels_missed(levels_ft, [profile.parts_of_leg(index + 1) for index in range(len(levels_ft))]):
        legs = f"Leg {missed.legs[0]} is" if len(missed.legs) == 1 else f"Legs {missed.legs[0]} to {missed.legs[-1]} are"
        text = f"{legs} planned at {missed.level_ft:,.0f} ft and too short to get there: {missed.nearest_ft:,.0f} ft is the nearest to it."
        notes.append(_note("altitude-not-reached", NoteLevel.WARNING, text))
    return notes


def _note(code: str, level: NoteLevel, message: str, leg_number: int | None = None) -> Note:
    return Note(code=code, level=level, message=message, leg_number=leg_number)
