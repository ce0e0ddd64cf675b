"""What the plan needs to know of an aircraft."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class SpeedKind(StrEnum):
    TRUE = "TAS"
    CALIBRATED = "CAS"


class FuelUnit(StrEnum):
    LITRE = "L"
    US_GALLON = "US gal"


@dataclass(frozen=True, kw_only=True, slots=True)
class CompassCardEntry:
    """One line of the compass correction card: for this magnetic heading, steer this compass heading. [deg]"""

    magnetic_deg: float
    steer_deg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Aircraft:
    """Speeds [kt], fuel [litres, litres per hour] and the compass card. ``fuel_unit`` is only how fuel is shown."""

    id: int | None = None
    registration: str
    type_name: str = ""
    cruise_speed_kt: float
    cruise_speed_kind: SpeedKind = SpeedKind.TRUE
    cruise_fuel_l_per_h: float
    climb_speed_kt: float
    climb_rate_ft_per_min: float
    climb_fuel_l_per_h: float
    descent_rate_ft_per_min: float = 500.0
    taxi_fuel_l: float
    usable_fuel_l: float
    fuel_unit: FuelUnit = FuelUnit.LITRE
    compass_card: tuple[CompassCardEntry, ...] = ()
    remarks: str = ""
