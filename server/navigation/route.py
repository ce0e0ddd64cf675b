"""What the user draws: an ordered list of points, and how it is to be flown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from server.navigation.position import Position


class PointKind(StrEnum):
    AIRFIELD = "airfield"
    BEACON = "beacon"
    CHECKPOINT = "checkpoint"
    RADIAL_DISTANCE = "radial-distance"
    TWO_RADIALS = "two-radials"
    POSITION = "position"


class NorthReference(StrEnum):
    TRUE = "T"
    MAGNETIC = "M"


@dataclass(frozen=True, kw_only=True, slots=True)
class LegChoice:
    """What the user chose for the leg onward from a place; None leaves it to the planner.

    ``altitude_ft`` holds from here on, until another is chosen [ft above sea level]. ``changeover_nm`` is where guidance passes to the
    beacon ahead [NM from the start of the leg], with the user's reason.
    """

    altitude_ft: float | None = None
    changeover_nm: float | None = None
    changeover_reason: str = ""


AS_PLANNED = LegChoice()
"""Nothing chosen: the planner decides."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RoutePoint:
    """One point between departure and destination.

    Which fields are filled depends on ``kind``: ``place_id`` names the airfield, beacon or checkpoint; a radial/distance fix uses
    ``beacon_id``, ``radial_deg`` [deg, as that station reads it] and ``distance_nm`` [NM along the ground]; a two-radial fix uses both
    beacons and both radials. ``name`` is the user's name for a fix.
    """

    kind: PointKind
    name: str = ""
    place_id: int | None = None
    position: Position | None = None
    beacon_id: int | None = None
    radial_deg: float | None = None
    distance_nm: float | None = None
    second_beacon_id: int | None = None
    second_radial_deg: float | None = None
    onward: LegChoice = AS_PLANNED


@dataclass(frozen=True, kw_only=True, slots=True)
class WindLayer:
    """Wind at one altitude: where it is from [deg], against which north, and how strong [kt]. Calm is 0 kt. Temperature there [deg C]."""

    altitude_ft: float
    from_deg: float
    speed_kt: float
    reference: NorthReference
    temperature_c: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Route:
    """A route and the flight planned on it. What is None has not been given yet, and is never guessed.

    ``altitude_ft`` is flown from the departure, ``onward`` is for the first leg (its altitude stays None). ``winds_source`` says in the
    user's words where the winds come from, ``winds_from_utc`` to ``winds_to_utc`` when they are valid. ``cruise_power`` is a power setting
    of the aircraft's cruise table. ``corridor_nm`` is the half-width in which the highest ground counts [NM each side].
    """

    id: int | None = None
    region_id: int
    name: str
    departure_airfield_id: int
    destination_airfield_id: int
    points: tuple[RoutePoint, ...] = ()
    altitude_ft: float | None = None
    departure_utc: datetime | None = None
    aircraft_id: int | None = None
    winds: tuple[WindLayer, ...] = ()
    isa_deviation_c: float | None = None
    fuel_on_board_l: float | None = None
    reserve_rule: str = ""
    remarks: str = ""
    onward: LegChoice = AS_PLANNED
    qnh_hpa: float | None = None
    winds_source: str = ""
    winds_from_utc: datetime | None = None
    winds_to_utc: datetime | None = None
    cruise_power: str = ""
    alternate_airfield_id: int | None = None
    extra_fuel_l: float | None = None
    level_rule: str = ""
    corridor_nm: float | None = None
    version: int = 1
