"""The way on to the alternate: straight from the destination, level at the altitude of the last leg, at cruise, in the wind there."""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import InputProblem, NoHeadingHoldsTrack
from server.navigation import Airfield, Track, magnetic_from_true_deg, position_along, track, wind_at
from server.planning.flown import held
from server.planning.materials import Materials
from server.planning.slopes import performance_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Alternate:
    """The alternate chosen for the flight. What is None cannot be told from what was given."""

    airfield: Airfield
    distance_nm: float
    track_true_deg: float | None
    track_magnetic_deg: float | None
    heading_magnetic_deg: float | None
    groundspeed_kt: float | None
    time_min: float | None
    fuel_l: float | None


def alternate_of(materials: Materials, altitude_ft: float) -> Alternate | None:
    """Work out the way to the alternate; None where none is chosen.

    Raises
    ------
    InputProblem
        The alternate is closed, or is the destination itself (code alternate-unusable).
    """
    route = materials.route
    if route.alternate_airfield_id is None:
        return None
    airfield, destination = materials.airfields[route.alternate_airfield_id], materials.airfields[route.destination_airfield_id]
    if airfield.closed or airfield.id == destination.id:
        why = "is closed" if airfield.closed else "is the destination itself"
        text = f"The alternate {airfield.ident} {airfield.name} {why}. Choose another, or none."
        raise InputProblem(text, code="alternate-unusable", place="alternate")
    way = track(destination.position, airfield.position)
    variation_deg = materials.variation_at(position_along(destination.position, airfield.position, way.distance_nm / 2.0)).deg
    true_deg = way.middle_true_deg
    flown = _flown(materials, way, variation_deg, altitude_ft)
    return Alternate(
        airfield=airfield,
        distance_nm=way.distance_nm,
        track_true_deg=true_deg,
        track_magnetic_deg=None if true_deg is None else magnetic_from_true_deg(true_deg, variation_deg),
        heading_magnetic_deg=None if flown is None else magnetic_from_true_deg(flown.heading_true_deg, variation_deg),
        groundspeed_kt=None if flown is None else flown.groundspeed_kt,
        time_min=None if flown is None else flown.time_min,
        fuel_l=None if flown is None else flown.fuel_l,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Flown:
    heading_true_deg: float
    groundspeed_kt: float
    time_min: float
    fuel_l: float


def _flown(materials: Materials, way: Track, variation_deg: float, altitude_ft: float) -> _Flown | None:
    performance, layers = performance_of(materials), materials.route.winds
    level = performance.level(altitude_ft) if performance is not None else None
    if level is None or not layers or way.middle_true_deg is None:
        return None
    wind = wind_at(layers, altitude_ft, variation_deg=variation_deg)
    try:
        steered = held(way.middle_true_deg, level.true_airspeed_kt, wind)
    except NoHeadingHoldsTrack:
        return None
    time_min = way.distance_nm / steered.groundspeed_kt * 60.0
    return _Flown(
        heading_true_deg=steered.heading_true_deg,
        groundspeed_kt=steered.groundspeed_kt,
        time_min=time_min,
        fuel_l=time_min / 60.0 * level.fuel_l_per_h,
    )
