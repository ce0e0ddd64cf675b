"""The planned vertical profile: the climb, the levels of the legs, the descent, with the wind and the air at each height.

The altitudes flown are drawn also where no time can be told: without a wind in still air, without an aircraft at the planned levels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.errors import NoHeadingHoldsTrack
from server.planning.flown import Flying, Line, Piece, fly_down, fly_out
from server.planning.log_legs import PartKind, ProfilePoint

CIRCUIT_HEIGHT_FT = 1000.0  # height above the destination at which the descent ends; common practice

STEP_NM = 1e-3
"""Length of a change of level that no figures tell how to fly: drawn as a step."""

_STRAIGHT_FT = 1e-6


@dataclass(frozen=True, kw_only=True, slots=True)
class Slopes:
    """One leg's share of a climb, of level flight or of a descent: its pieces added up. Distances from departure."""

    kind: PartKind
    leg: int
    from_nm: float
    to_nm: float
    from_ft: float
    to_ft: float
    air_nm: float
    time_min: float
    fuel_l: float
    problem: NoHeadingHoldsTrack | None

    @property
    def true_airspeed_kt(self) -> float:
        return self.air_nm / self.time_min * 60.0


@dataclass(frozen=True, kw_only=True, slots=True)
class VerticalProfile:
    """The vertices from departure to destination, and the parts in order, leg by leg; none where no figures tell how it is flown."""

    points: tuple[ProfilePoint, ...]
    parts: tuple[Slopes, ...]
    modelled: bool
    """False where no aircraft, or a speed that cannot be told, leaves only the levels."""
    climb_modelled: bool
    descent_modelled: bool
    too_steep: bool = False
    """The destination is too near and too low to come down to at the aircraft's own rate."""

    @property
    def climb_nm(self) -> float:
        """Where the first climb ends. [NM]"""
        first = next((part for part in self.parts if part.kind is not PartKind.CLIMB), None)
        if first is None:
            return self.points[-1].distance_nm if self.parts else 0.0
        return first.from_nm

    @property
    def levels_off(self) -> bool:
        """Whether the flight climbs first and then flies level; not where the climb meets a descent, or goes on to the end."""
        after = next((part for part in self.parts if part.kind is not PartKind.CLIMB), None)
        return after is not None and after.kind is PartKind.LEVEL and self.climb_nm > 0.0

    @property
    def descent_nm(self) -> float:
        """How long the last descent is. [NM]"""
        down_nm = 0.0
        for part in reversed(self.parts):
            if part.kind is not PartKind.DESCENT:
                break
            down_nm += part.to_nm - part.from_nm
        return down_nm

    @property
    def reached_altitude_ft(self) -> float:
        """The highest altitude of the flight. [ft]"""
        return max(point.altitude_ft for point in self.points)

    def parts_of_leg(self, number: int) -> tuple[Slopes, ...]:
        """The parts flown on one leg, in order."""
        return tuple(part for part in self.parts if part.leg == number)


def vertical_profile(
    lines: Sequence[Line], *, departure_elevation_ft: float | None, destination_elevation_ft: float | None, flying: Flying | None
) -> VerticalProfile:
    """Fly the legs from the departure's elevation to circuit height over the destination.

    Parameters
    ----------
    lines : sequence of Line
        The legs, each with the level planned for it.
    departure_elevation_ft, destination_elevation_ft : float or None
        An end whose elevation is not known gets no climb or descent. [ft]
    flying : Flying or None
        None without an aircraft: only the levels are drawn, a change of level as a step.

    Notes
    -----
    Where the route is too short for its altitude the climb meets the descent below it.
    """
    pieces = _pieces(lines, departure_elevation_ft, destination_elevation_ft, flying) if flying is not None else None
    if pieces is None:
        return VerticalProfile(points=_steps(lines), parts=(), modelled=False, climb_modelled=False, descent_modelled=False)
    total_nm = sum(line.length_nm for line in lines)
    if not pieces:
        here = tuple(ProfilePoint(distance_nm=at_nm, altitude_ft=_start_ft(lines, departure_elevation_ft)) for at_nm in (0.0, total_nm))
        points = here
    else:
        points = _vertices(pieces)
    start_ft = _start_ft(lines, departure_elevation_ft)
    return VerticalProfile(
        points=points,
        parts=_parts(pieces),
        modelled=True,
        climb_modelled=departure_elevation_ft is not None,
        descent_modelled=destination_elevation_ft is not None,
        too_steep=bool(pieces) and pieces[0].from_ft > start_ft + 1.0,
    )


def _start_ft(lines: Sequence[Line], departure_elevation_ft: float | None) -> float:
    first_ft = lines[0].altitude_ft
    return first_ft if departure_elevation_ft is None else min(departure_elevation_ft, first_ft)


def _pieces(
    lines: Sequence[Line], departure_elevation_ft: float | None, destination_elevation_ft: float | None, flying: Flying
) -> list[Piece] | None:
    out = fly_out(lines, _start_ft(lines, departure_elevation_ft), flying)
    if out is None or destination_elevation_ft is None:
        return out
    return fly_down(lines, out, destination_elevation_ft + CIRCUIT_HEIGHT_FT, flying)


def _steps(lines: Sequence[Line]) -> tuple[ProfilePoint, ...]:
    """The levels of the legs, one beside the other."""
    at_nm, vertices = 0.0, [(0.0, lines[0].altitude_ft)]
    for line in lines:
        if abs(line.altitude_ft - vertices[-1][1]) > _STRAIGHT_FT:
            vertices.append((at_nm + min(STEP_NM, line.length_nm), line.altitude_ft))
        at_nm += line.length_nm
        vertices.append((at_nm, line.altitude_ft))
    return _without_needless(vertices)


def _vertices(pieces: Sequence[Piece]) -> tuple[ProfilePoint, ...]:
    return _without_needless([(pieces[0].from_nm, pieces[0].from_ft), *((piece.to_nm, piece.to_ft) for piece in pieces)])


def _without_needless(vertices: list[tuple[float, float]]) -> tuple[ProfilePoint, ...]:
    """Leave out what lies on the straight line between its neighbours; both ends stay."""
    kept = vertices[:1]
    for (at_nm, at_ft), after in zip(vertices[1:], [*vertices[2:], None], strict=True):
        if after is not None and after[0] > kept[-1][0]:
            share = (at_nm - kept[-1][0]) / (after[0] - kept[-1][0])
            if abs(kept[-1][1] + share * (after[1] - kept[-1][1]) - at_ft) <= _STRAIGHT_FT:
                continue
        kept.append((at_nm, at_ft))
    return tuple(ProfilePoint(distance_nm=at_nm, altitude_ft=at_ft) for at_nm, at_ft in kept)


def _parts(pieces: Sequence[Piece]) -> tuple[Slopes, ...]:
    """Join neighbouring pieces of one kind on one leg."""
    parts: list[list[Piece]] = []
    for piece in pieces:
        if parts and (parts[-1][-1].leg, parts[-1][-1].kind) == (piece.leg, piece.kind):
            parts[-1].append(piece)
        else:
            parts.append([piece])
    return tuple(
        Slopes(
            kind=part[0].kind,
            leg=part[0].leg,
            from_nm=part[0].from_nm,
            to_nm=part[-1].to_nm,
            from_ft=part[0].from_ft,
            to_ft=part[-1].to_ft,
            air_nm=sum(piece.air_nm for piece in part),
            time_min=sum(piece.time_min for piece in part),
            fuel_l=sum(piece.fuel_l for piece in part),
            problem=next((piece.problem for piece in part if piece.problem is not None), None),
        )
        for part in parts
    )


def part_of_profile(points: tuple[ProfilePoint, ...], from_nm: float, to_nm: float) -> tuple[tuple[float, float], ...]:
    """Cut the stretch from..to out of a profile, distances counted from its start: (distance NM, altitude ft)."""
    inside = [(point.distance_nm - from_nm, point.altitude_ft) for point in points if from_nm < point.distance_nm < to_nm]
    return ((0.0, altitude_at(points, from_nm)), *inside, (to_nm - from_nm, altitude_at(points, to_nm)))


def altitude_at(points: tuple[ProfilePoint, ...], distance_nm: float) -> float:
    """The planned altitude at a distance from departure; the ends hold beyond the ends. [ft]"""
    previous = points[0]
    for point in points:
        if distance_nm <= point.distance_nm:
            span_nm = point.distance_nm - previous.distance_nm
            if span_nm <= 0.0:
                return point.altitude_ft
            share = (distance_nm - previous.distance_nm) / span_nm
            return previous.altitude_ft + share * (point.altitude_ft - previous.altitude_ft)
        previous = point
    return points[-1].altitude_ft
