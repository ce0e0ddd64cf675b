"""The flight cut into pieces: climb, level flight and descent, each on one leg, a slice of height at a time, with the wind at that height.

Climbs and level changes are flown forwards from the departure, the last descent backwards from the destination, up to where it meets them.
Knows lines, heights, wind and what a slice costs; knows no beacons and no ground.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from server.errors import NoHeadingHoldsTrack
from server.navigation import Wind, WindCorrection, wind_correction
from server.planning.log_legs import PartKind
from server.planning.slopes import Performance, Slope

SLICE_FT = 500.0
"""Height flown in one piece: between two slices the wind turns and the table goes on in a straight line."""

SLOWEST_KT = 5.0
"""A leg on which the wind leaves less groundspeed than this is not flown: nobody has fuel for it."""

_LEVEL_FT = 0.01
_NOTHING_NM = 1e-9


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One leg as the profile needs it. ``track_true_deg`` is that at its middle, None for a leg of no length."""

    number: int
    length_nm: float
    track_true_deg: float | None
    variation_deg: float
    altitude_ft: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """A piece of one leg, flown in one way. Distances from departure. ``problem`` where no heading holds the track: then the piece is
    drawn in still air and its time means nothing."""

    kind: PartKind
    leg: int
    from_nm: float
    to_nm: float
    from_ft: float
    to_ft: float
    air_nm: float
    time_min: float
    fuel_l: float
    problem: NoHeadingHoldsTrack | None = None

    @property
    def length_nm(self) -> float:
        return self.to_nm - self.from_nm

    def cut(self, from_share: float, to_share: float) -> Piece:
        """The part of the piece between two shares of it."""
        span_nm, span_ft, share = self.length_nm, self.to_ft - self.from_ft, to_share - from_share
        return replace(
            self,
            from_nm=self.from_nm + from_share * span_nm,
            to_nm=self.from_nm + to_share * span_nm,
            from_ft=self.from_ft + from_share * span_ft,
            to_ft=self.from_ft + to_share * span_ft,
            air_nm=self.air_nm * share,
            time_min=self.time_min * share,
            fuel_l=self.fuel_l * share,
        )


WindOnLine = Callable[[Line, float], Wind | None]
"""The wind on a line at an altitude; None where none is given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Flying:
    """Who flies, and in which wind."""

    performance: Performance
    wind_on: WindOnLine

    def groundspeed_kt(self, line: Line, true_airspeed_kt: float, altitude_ft: float) -> tuple[float, NoHeadingHoldsTrack | None]:
        """Return the groundspeed along a line; that of still air, with what is wrong, where no heading holds it or no wind is given."""
        wind = self.wind_on(line, altitude_ft)
        if wind is None or line.track_true_deg is None:
            return true_airspeed_kt, None
        try:
            return held(line.track_true_deg, true_airspeed_kt, wind).groundspeed_kt, None
        except NoHeadingHoldsTrack as problem:
            return true_airspeed_kt, problem

    def slope_piece(self, kind: PartKind, line: Line, at_nm: float, from_ft: float, to_ft: float) -> Piece | None:
        """Return the slice of a climb or descent that begins at a distance; None where the aircraft's figures do not tell."""
        performance = self.performance
        slope: Slope | None = performance.climb(from_ft, to_ft) if kind is PartKind.CLIMB else performance.descent(from_ft, to_ft)
        if slope is None:
            return None
        speed_kt, problem = self.groundspeed_kt(line, slope.true_airspeed_kt, (from_ft + to_ft) / 2.0)
        return Piece(
            kind=kind,
            leg=line.number,
            from_nm=at_nm,
            to_nm=at_nm + slope.time_min / 60.0 * speed_kt,
            from_ft=from_ft,
            to_ft=to_ft,
            air_nm=slope.air_nm,
            time_min=slope.time_min,
            fuel_l=slope.fuel_l,
            problem=problem,
        )

    def level_piece(self, line: Line, from_nm: float, to_nm: float) -> Piece | None:
        """Return level flight between two distances; None where the aircraft's figures do not tell its speed."""
        level = self.performance.level(line.altitude_ft)
        if level is None:
            return None
        speed_kt, problem = self.groundspeed_kt(line, level.true_airspeed_kt, line.altitude_ft)
        time_min = (to_nm - from_nm) / speed_kt * 60.0
        return Piece(
            kind=PartKind.LEVEL,
            leg=line.number,
            from_nm=from_nm,
            to_nm=to_nm,
            from_ft=line.altitude_ft,
            to_ft=line.altitude_ft,
            air_nm=time_min / 60.0 * level.true_airspeed_kt,
            time_min=time_min,
            fuel_l=time_min / 60.0 * level.fuel_l_per_h,
            problem=problem,
        )


def held(track_true_deg: float, true_airspeed_kt: float, wind: Wind) -> WindCorrection:
    """Solve the wind triangle, and refuse a groundspeed that nobody flies with."""
    correction = wind_correction(
        track_true_deg=track_true_deg, true_airspeed_kt=true_airspeed_kt, wind_from_true_deg=wind.from_true_deg, wind_kt=wind.speed_kt
    )
    if correction.groundspeed_kt < SLOWEST_KT:
        raise NoHeadingHoldsTrack(
            f"The wind of {wind.speed_kt:.0f} kt leaves a groundspeed of {correction.groundspeed_kt:.1f} kt. "
            "Try another height, speed or time."
        )
    return correction


def fly_out(lines: Sequence[Line], start_ft: float, flying: Flying) -> list[Piece] | None:
    """Climb from the start, keep each leg's altitude, and begin every change of level at the point where the leg begins.

    A change that a leg is too short for goes on over the next. None where the aircraft's figures do not tell its speed.
    """
    pieces: list[Piece] = []
    at_nm, at_ft, end_nm = 0.0, start_ft, 0.0
    for line in lines:
        end_nm += line.length_nm
        while at_nm < end_nm - _NOTHING_NM and abs(at_ft - line.altitude_ft) > _LEVEL_FT:
            kind = PartKind.CLIMB if line.altitude_ft > at_ft else PartKind.DESCENT
            piece = flying.slope_piece(kind, line, at_nm, at_ft, _next_slice_ft(at_ft, line.altitude_ft))
            if piece is None:
                return None
            if piece.to_nm > end_nm:
                piece = piece.cut(0.0, (end_nm - at_nm) / piece.length_nm)
            pieces.append(piece)
            at_nm, at_ft = piece.to_nm, piece.to_ft
        if at_nm < end_nm - _NOTHING_NM:
            level = flying.level_piece(line, at_nm, end_nm)
            if level is None:
                return None
            pieces.append(level)
        at_nm = end_nm
    return pieces


def fly_down(lines: Sequence[Line], out: list[Piece], end_ft: float, flying: Flying) -> list[Piece] | None:
    """Come down to ``end_ft`` at the end of the last leg: fly the descent backwards until it meets the way out, and join the two.

    The way out is left alone where it already ends as low. None where the aircraft's figures do not tell its speed.
    """
    if not out or out[-1].to_ft <= end_ft + _LEVEL_FT:
        return out
    descent: list[Piece] = []
    end_nm = sum(line.length_nm for line in lines)
    at_nm, at_ft = end_nm, end_ft
    for line in reversed(lines):
        start_nm = end_nm - line.length_nm
        while at_nm > start_nm + _NOTHING_NM:
            upper_ft = _next_slice_ft(at_ft, np.inf)
            piece = flying.slope_piece(PartKind.DESCENT, line, at_nm, upper_ft, at_ft)
            if piece is None:
                return None
            piece = replace(piece, from_nm=at_nm - piece.length_nm, to_nm=at_nm)
            if piece.from_nm < start_nm:
                piece = piece.cut((start_nm - piece.from_nm) / piece.length_nm, 1.0)
            meets = _share_where_they_meet(piece, out)
            if meets is not None:
                joined = piece.cut(meets, 1.0)
                return [*_up_to(out, joined.from_nm), joined, *reversed(descent)]
            descent.append(piece)
            at_nm, at_ft = piece.from_nm, piece.from_ft
        end_nm = start_nm
    return list(reversed(descent))


def altitude_over(pieces: Sequence[Piece], at_nm: float) -> float:
    """The altitude of the way at a distance. [ft]"""
    distances_nm = [pieces[0].from_nm, *(piece.to_nm for piece in pieces)]
    return float(np.interp(at_nm, distances_nm, [pieces[0].from_ft, *(piece.to_ft for piece in pieces)]))


def _next_slice_ft(at_ft: float, target_ft: float) -> float:
    """The next whole slice on the way to a height, or the height itself."""
    if target_ft > at_ft:
        return min(target_ft, (np.floor(at_ft / SLICE_FT + 1e-9) + 1.0) * SLICE_FT)
    return max(target_ft, (np.ceil(at_ft / SLICE_FT - 1e-9) - 1.0) * SLICE_FT)


def _share_where_they_meet(descent: Piece, out: Sequence[Piece]) -> float | None:
    """Where on a slice of the last descent, as a share of it from its upper end, it stands as high as the way out; None where nowhere."""

    def above_ft(share: float) -> float:
        at_ft = descent.from_ft + share * (descent.to_ft - descent.from_ft)
        return at_ft - altitude_over(out, descent.from_nm + share * descent.length_nm)

    if above_ft(0.0) < 0.0:
        return None
    upper, lower = 0.0, 1.0
    for _ in range(60):
        middle = (upper + lower) / 2.0
        upper, lower = (middle, lower) if above_ft(middle) >= 0.0 else (upper, middle)
    return upper


def _up_to(pieces: list[Piece], at_nm: float) -> list[Piece]:
    """The pieces before a distance, the last of them cut there."""
    kept = [piece for piece in pieces if piece.to_nm <= at_nm + _NOTHING_NM]
    rest = pieces[len(kept)] if len(kept) < len(pieces) else None
    if rest is not None and rest.from_nm < at_nm - _NOTHING_NM:
        kept.append(rest.cut(0.0, (at_nm - rest.from_nm) / rest.length_nm))
    return kept
