"""What the plan needs to know of an aircraft."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.errors import InputProblem
from server.units import litres_from_us_gallons, us_gallons_from_litres


class SpeedKind(StrEnum):
    TRUE = "TAS"
    CALIBRATED = "CAS"


class SpeedUnit(StrEnum):
    KNOT = "kt"
    MILE_PER_HOUR = "mph"


class FuelUnit(StrEnum):
    LITRE = "L"
    US_GALLON = "US gal"
    KILOGRAM = "kg"


@dataclass(frozen=True, kw_only=True, slots=True)
class CompassCardEntry:
    """One line of the compass correction card: for this magnetic heading, steer this compass heading. [deg]"""

    magnetic_deg: float
    steer_deg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class FuelMeasure:
    """How fuel is measured out: in a volume, or in kilograms of a fuel of known density."""

    unit: FuelUnit = FuelUnit.LITRE
    density_kg_per_l: float | None = None

    def amount(self, litres: float) -> float:
        """Return litres in this measure. Raises InputProblem for kilograms without a density."""
        if self.unit is FuelUnit.US_GALLON:
            return us_gallons_from_litres(litres)
        return litres * self._density() if self.unit is FuelUnit.KILOGRAM else litres

    def litres(self, amount: float) -> float:
        """Return an amount in this measure as litres. Raises InputProblem for kilograms without a density. [l]"""
        if self.unit is FuelUnit.US_GALLON:
            return litres_from_us_gallons(amount)
        return amount / self._density() if self.unit is FuelUnit.KILOGRAM else amount

    def _density(self) -> float:
        if self.density_kg_per_l is None:
            raise InputProblem(
                "Fuel in kilograms needs its density in kg/L. Take it from the owner's manual or the fuel receipt.",
                code="fuel-density-missing",
                place="fuel_density",
            )
        return self.density_kg_per_l


@dataclass(frozen=True, kw_only=True, slots=True)
class CruiseRow:
    """One line of a cruise table: at this power, pressure altitude and temperature against ISA, this speed and fuel flow."""

    power: str
    """As the manual names it: "65 %", "2,450 rpm"."""
    pressure_altitude_ft: float
    isa_deviation_c: float
    tas_kt: float
    fuel_l_per_h: float


@dataclass(frozen=True, kw_only=True, slots=True)
class ClimbRow:
    """One line of a climb table: time, fuel and still-air distance from sea level to this pressure altitude on a standard day."""

    pressure_altitude_ft: float
    time_min: float
    fuel_l: float
    air_distance_nm: float


@dataclass(frozen=True, kw_only=True, slots=True)
class DescentRow(ClimbRow):
    """One line of a descent table: time, fuel and still-air distance from this pressure altitude down to sea level."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Aircraft:
    """Speeds [kt], fuel [litres, litres per hour], the manual's tables and the compass card.

    ``speed_unit`` and ``fuel_unit`` are only how the owner's manual and our pages show speed and fuel. Where there is a table it is used
    in place of the simple figures of cruise, climb or descent.
    """

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
    speed_unit: SpeedUnit = SpeedUnit.KNOT
    fuel_unit: FuelUnit = FuelUnit.LITRE
    fuel_density_kg_per_l: float | None = None
    """What a litre of this fuel weighs; needed where fuel is shown in kilograms. Never guessed."""
    cruise_table: tuple[CruiseRow, ...] = ()
    climb_table: tuple[ClimbRow, ...] = ()
    descent_table: tuple[DescentRow, ...] = ()
    climb_percent_per_warm_c: float | None = None
    """By how much climb time, fuel and distance grow for each degree C above ISA, as the manual says: 10 % for 10 degrees is 1."""
    compass_card: tuple[CompassCardEntry, ...] = ()
    remarks: str = ""

    @property
    def fuel_measure(self) -> FuelMeasure:
        """How this aircraft's manual measures fuel."""
        return FuelMeasure(unit=self.fuel_unit, density_kg_per_l=self.fuel_density_kg_per_l)
