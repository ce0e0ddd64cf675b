"""When a leg is where: minutes, distances and fuel along it, by the figures of its parts. What cannot be told is None."""

from __future__ import annotations

from server.planning.log_legs import FlightPart, LogLeg


def minutes_at(leg: LogLeg, at_nm: float) -> float | None:
    """The minutes from the start of a leg to a distance along it; None where a part's time is not known."""
    return None if leg.time_min is None else _sum_to(leg, at_nm, [part.time_min for part in leg.parts])


def minutes_between(leg: LogLeg, from_nm: float, to_nm: float) -> float | None:
    """The minutes from one distance along a leg to another; None where a part's time is not known."""
    start_min, end_min = minutes_at(leg, from_nm), minutes_at(leg, to_nm)
    return None if start_min is None or end_min is None else end_min - start_min


def fuel_left_at(leg: LogLeg, at_nm: float) -> float | None:
    """The fuel that is left at a distance along a leg; None where it is not known. [L]"""
    if leg.fuel_remaining_l is None or leg.fuel_l is None:
        return None
    burnt_l = _sum_to(leg, at_nm, [part.fuel_l for part in leg.parts])
    return None if burnt_l is None else leg.fuel_remaining_l + leg.fuel_l - burnt_l


def _sum_to(leg: LogLeg, at_nm: float, of_parts: list[float | None]) -> float | None:
    """What the parts of a leg take up to a distance along it."""
    if not leg.parts:
        return None
    total = 0.0
    for part, whole in zip(leg.parts, of_parts, strict=True):
        if whole is None:
            return None
        span_nm = part.to_nm - part.from_nm
        share = min(1.0, max(0.0, (at_nm - part.from_nm) / span_nm)) if span_nm > 0.0 else float(at_nm >= part.to_nm)
        total += share * whole
    return float(total)


def distance_at(leg: LogLeg, minutes: float) -> float | None:
    """Where on a leg one is so many minutes after its start; its end beyond its end, None where a part's time is not known. [NM]"""
    if leg.time_min is None or not leg.parts:
        return None
    left_min = minutes
    for part in leg.parts:
        if part.time_min is None:
            return None
        if left_min < part.time_min:
            return float(part.from_nm + max(0.0, left_min) / part.time_min * (part.to_nm - part.from_nm))
        left_min -= part.time_min
    return leg.distance_nm


def part_at(leg: LogLeg, at_nm: float) -> FlightPart | None:
    """The part of a leg flown at a distance along it, of two that meet there the earlier; None where none is known."""
    return next((part for part in leg.parts if at_nm <= part.to_nm), leg.parts[-1] if leg.parts else None)
