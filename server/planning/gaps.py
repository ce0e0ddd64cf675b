"""The stretches of a leg without guidance: which heading to hold, for how long, and how far off one may be at their end."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.navigation import distance_nm, position_along
from server.navigation.indicator import off_course_nm
from server.navigation.position_lines import NDB_ERROR_DEG, radial_error_nm
from server.planning.guidance import gaps
from server.planning.leg_times import minutes_between
from server.planning.log_legs import LogLeg
from server.radio import ComponentKind, ReceptionState

HEADING_ERROR_DEG = 5.0
"""Compass, deviation and steering together (common practice: a heading is kept to 5 degrees)."""

WIND_ERROR_KT = 10.0
"""How far the wind may differ from the forecast, as a vector (common practice)."""

NOT_THERE = (ReceptionState.NOT_RECEIVED, ReceptionState.NOT_PROMISED)
"""States in which nothing is to be counted on, whatever else may become known."""

_SAME_PLACE_NM = 1e-6


@dataclass(frozen=True, kw_only=True, slots=True)
class HeldHeading:
    """A heading to hold over a part of a gap: climb, level flight and descent each have their own. Distances along the leg."""

    from_nm: float
    to_nm: float
    heading_magnetic_deg: float | None
    heading_compass_deg: float | None
    minutes: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Gap:
    """A stretch of a leg where no guiding beacon can be counted on. What is None cannot be told from what was given."""

    from_nm: float
    to_nm: float
    certain: bool
    """False where it is only not known whether a beacon is received."""
    minutes: float | None
    hold: tuple[HeldHeading, ...]
    """In order; one over the whole gap where no figures tell how it is flown."""
    off_at_start_nm: float
    """How far off track the guidance before may have left one; 0 where the gap begins over a known point of the route. [NM]"""
    off_by_heading_nm: float
    """By a heading that is HEADING_ERROR_DEG out. [NM]"""
    off_by_wind_nm: float | None
    """By a wind that is WIND_ERROR_KT out. None where no time is known. [NM]"""

    @property
    def length_nm(self) -> float:
        return self.to_nm - self.from_nm

    @property
    def off_at_end_nm(self) -> float | None:
        """Radius of the circle one may be in at the end: the errors are independent, so they add up as squares. [NM]"""
        if self.off_by_wind_nm is None:
            return None
        return math.hypot(self.off_at_start_nm, self.off_by_heading_nm, self.off_by_wind_nm)


def gaps_of_leg(leg: LogLeg) -> tuple[Gap, ...]:
    """List the stretches of a leg, half a mile or longer, that are flown without guidance; the whole leg where nothing guides it."""
    if leg.track_true_deg is None:
        return ()
    spans = gaps(leg.stretches) if leg.stretches else ((0.0, leg.distance_nm),)
    return tuple(_gap(leg, from_nm, to_nm) for from_nm, to_nm in spans)


def _gap(leg: LogLeg, from_nm: float, to_nm: float) -> Gap:
    inside = [stretch for stretch in leg.stretches if from_nm <= stretch.from_nm < to_nm]
    minutes = minutes_between(leg, from_nm, to_nm)
    return Gap(
        from_nm=from_nm,
        to_nm=to_nm,
        certain=not inside or any(stretch.state in NOT_THERE for stretch in inside),
        minutes=minutes,
        hold=_held(leg, from_nm, to_nm),
        off_at_start_nm=_off_at_start_nm(leg, from_nm),
        off_by_heading_nm=off_course_nm(to_nm - from_nm, HEADING_ERROR_DEG),
        off_by_wind_nm=None if minutes is None else WIND_ERROR_KT * minutes / 60.0,
    )


def _held(leg: LogLeg, from_nm: float, to_nm: float) -> tuple[HeldHeading, ...]:
    held = []
    for part in leg.parts:
        start_nm, end_nm = max(from_nm, part.from_nm), min(to_nm, part.to_nm)
        if end_nm - start_nm > _SAME_PLACE_NM:
            held.append(
                HeldHeading(
                    from_nm=start_nm,
                    to_nm=end_nm,
                    heading_magnetic_deg=part.heading_magnetic_deg,
                    heading_compass_deg=part.heading_compass_deg,
                    minutes=minutes_between(leg, start_nm, end_nm),
                )
            )
    nothing_known = HeldHeading(from_nm=from_nm, to_nm=to_nm, heading_magnetic_deg=None, heading_compass_deg=None, minutes=None)
    return tuple(held) or (nothing_known,)


def _off_at_start_nm(leg: LogLeg, from_nm: float) -> float:
    """What the beacon that was tuned last leaves open across the track where it falls silent. [NM]"""
    guidance = next((each for each in leg.guidance if each.from_nm < from_nm <= each.to_nm), None)
    if from_nm <= _SAME_PLACE_NM or guidance is None:
        return 0.0
    place = position_along(leg.start.position, leg.end.position, from_nm)
    away_nm = distance_nm(guidance.beacon.component_position(guidance.component), place)
    return radial_error_nm(away_nm, NDB_ERROR_DEG) if guidance.component is ComponentKind.BEARING else radial_error_nm(away_nm)
