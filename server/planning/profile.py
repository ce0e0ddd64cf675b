"""The planned vertical profile: a straight climb, level flight, a straight descent.

A plain allowance, not a performance table: climb and descent are flown at the aircraft's own rates and speeds in still air.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation import Aircraft, SpeedKind, isa_temperature_c, true_airspeed_kt
from server.planning.log import ProfilePoint

CIRCUIT_HEIGHT_FT = 1000.0  # height above the destination at which the descent ends; common practice


@dataclass(frozen=True, kw_only=True, slots=True)
class VerticalProfile:
    """The profile's vertices, and what the climb costs more than level flight over the same ground."""

    points: tuple[ProfilePoint, ...]
    climb_nm: float
    descent_nm: float
    climb_allowance_min: float
    climb_allowance_l: float
    climb_modelled: bool
    descent_modelled: bool
    reached_altitude_ft: float


def true_airspeed(speed_kt: float, kind: SpeedKind, *, altitude_ft: float, isa_deviation_c: float | None) -> float | None:
    """The true airspeed behind an aircraft's figure; None when it is a CAS and no temperature is given.

    The planned altitude is taken as pressure altitude. [kt]
    """
    if kind is SpeedKind.TRUE:
        return speed_kt
    if isa_deviation_c is None:
        return None
    return true_airspeed_kt(speed_kt, altitude_ft, isa_temperature_c(altitude_ft) + isa_deviation_c)


def level_profile(total_nm: float, altitude_ft: float) -> VerticalProfile:
    """The planned altitude all the way: what is left when there is no aircraft or no field elevation to climb from."""
    points = (ProfilePoint(distance_nm=0.0, altitude_ft=altitude_ft), ProfilePoint(distance_nm=total_nm, altitude_ft=altitude_ft))
    return VerticalProfile(
        points=points,
        climb_nm=0.0,
        descent_nm=0.0,
        climb_allowance_min=0.0,
        climb_allowance_l=0.0,
        climb_modelled=False,
        descent_modelled=False,
        reached_altitude_ft=altitude_ft,
    )


def vertical_profile(
    *,
    total_nm: float,
    altitude_ft: float,
    departure_elevation_ft: float | None,
    destination_elevation_ft: float | None,
    aircraft: Aircraft | None,
    cruise_tas_kt: float | None,
    isa_deviation_c: float | None,
) -> VerticalProfile:
    """Draw climb, level part and descent along the whole route.

    Where the route is too short to reach the planned altitude the climb meets the descent below it, and ``reached_altitude_ft`` says where.
    An end whose elevation is not known gets no climb or descent.
    """
    if aircraft is None or cruise_tas_kt is None:
        return level_profile(total_nm, altitude_ft)
    climb_from_ft = departure_elevation_ft if departure_elevation_ft is not None else altitude_ft
    descend_to_ft = destination_elevation_ft + CIRCUIT_HEIGHT_FT if destination_elevation_ft is not None else altitude_ft
    middle_ft = (climb_from_ft + altitude_ft) / 2.0
    climb_tas_kt = true_airspeed(
        aircraft.climb_speed_kt, aircraft.cruise_speed_kind, altitude_ft=middle_ft, isa_deviation_c=isa_deviation_c
    )
    if climb_tas_kt is None:
        return level_profile(total_nm, altitude_ft)
    climb_ft_per_nm = aircraft.climb_rate_ft_per_min * 60.0 / climb_tas_kt
    descent_ft_per_nm = aircraft.descent_rate_ft_per_min * 60.0 / cruise_tas_kt

    climb_nm = max(0.0, altitude_ft - climb_from_ft) / climb_ft_per_nm
    descent_nm = max(0.0, altitude_ft - descend_to_ft) / descent_ft_per_nm
    reached_ft = altitude_ft
    if climb_nm + descent_nm > total_nm:
        # climb_from + climb_rate * x == descend_to + descent_rate * (total - x), kept inside the leg
        crossing_nm = (descend_to_ft - climb_from_ft + descent_ft_per_nm * total_nm) / (climb_ft_per_nm + descent_ft_per_nm)
        climb_nm = min(max(crossing_nm, 0.0), total_nm)
        descent_nm = total_nm - climb_nm
        reached_ft = climb_from_ft + climb_ft_per_nm * climb_nm

    climb_min = climb_nm / climb_tas_kt * 60.0
    level_min = climb_nm / cruise_tas_kt * 60.0
    return VerticalProfile(
        points=_vertices(total_nm, climb_nm, descent_nm, climb_from_ft, reached_ft, descend_to_ft),
        climb_nm=climb_nm,
        descent_nm=descent_nm,
        climb_allowance_min=climb_min - level_min,
        climb_allowance_l=(climb_min * aircraft.climb_fuel_l_per_h - level_min * aircraft.cruise_fuel_l_per_h) / 60.0,
        climb_modelled=departure_elevation_ft is not None,
        descent_modelled=destination_elevation_ft is not None,
        reached_altitude_ft=reached_ft,
    )


def _vertices(
    total_nm: float, climb_nm: float, descent_nm: float, start_ft: float, level_ft: float, end_ft: float
) -> tuple[ProfilePoint, ...]:
    vertices = [(0.0, start_ft if climb_nm > 0.0 else level_ft)]
    if climb_nm > 0.0:
        vertices.append((climb_nm, level_ft))
    if descent_nm > 0.0:
        if total_nm - descent_nm > vertices[-1][0]:
            vertices.append((total_nm - descent_nm, level_ft))
        vertices.append((total_nm, end_ft))
    elif vertices[-1][0] < total_nm:
        vertices.append((total_nm, level_ft))
    return tuple(ProfilePoint(distance_nm=distance_nm, altitude_ft=altitude_ft) for distance_nm, altitude_ft in vertices)


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
