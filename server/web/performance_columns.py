"""The columns of performance tables and the units they may be in: those of the owner's manual, one for speed and one for fuel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from server.navigation import FuelMeasure, SpeedUnit
from server.units import METRES_PER_NAUTICAL_MILE, METRES_PER_STATUTE_MILE, knots_from_miles_per_hour, miles_per_hour_from_knots
from server.web.forms import short_number_text

ROUND_PERCENT = 1e-6
"""How near a whole number a percentage must come, after arithmetic, to be one."""


class TemperatureColumn(StrEnum):
    """How a cruise table tells temperature."""

    DEVIATION = "above ISA"
    OUTSIDE_AIR = "outside air"


@dataclass(frozen=True, kw_only=True)
class TableUnits:
    """The units of one page: those of the owner's manual. Miles an hour bring statute miles."""

    speed: SpeedUnit
    fuel: FuelMeasure

    @property
    def distance(self) -> str:
        return "NM" if self.speed is SpeedUnit.KNOT else "SM"

    def knots(self, speed: float) -> float:
        return speed if self.speed is SpeedUnit.KNOT else knots_from_miles_per_hour(speed)

    def speed_of(self, knots: float) -> float:
        return knots if self.speed is SpeedUnit.KNOT else miles_per_hour_from_knots(knots)

    def nautical_miles(self, distance: float) -> float:
        return distance if self.speed is SpeedUnit.KNOT else distance * METRES_PER_STATUTE_MILE / METRES_PER_NAUTICAL_MILE

    def distance_of(self, nautical_miles: float) -> float:
        return nautical_miles if self.speed is SpeedUnit.KNOT else nautical_miles * METRES_PER_NAUTICAL_MILE / METRES_PER_STATUTE_MILE


UNIT_WORDS = {
    "kt": ("kt", "kts", "knots", "ktas"),
    "mph": ("mph",),
    "L": ("l", "l/h", "lph", "litres", "liters"),
    "US gal": ("gal", "gal/h", "gph", "gallons"),
    "kg": ("kg", "kg/h"),
    "NM": ("nm",),
    "SM": ("sm", "mi", "miles"),
    "C": ("c", "°c"),
    "F": ("f", "°f"),
    "ft": ("ft", "feet"),
    "m": ("m", "metres"),
    "min": ("min", "minutes"),
}
FAMILIES = (("kt", "mph"), ("L", "US gal", "kg"), ("NM", "SM"), ("C", "F"), ("ft", "m"))
UNIT_OF_WORD = {word: unit for unit, words in UNIT_WORDS.items() for word in words}


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: its name, its unit, what is allowed. Without a unit it holds words."""

    name: str
    unit: str = ""
    lowest: float = 0.0
    highest: float = 0.0


def cruise_columns(units: TableUnits, temperature: TemperatureColumn) -> tuple[Column, ...]:
    degrees = "above ISA" if temperature is TemperatureColumn.DEVIATION else "outside air"
    return (
        _ALTITUDE,
        Column(name=degrees, unit="C", lowest=-80.0, highest=60.0),
        Column(name="power"),
        Column(name="TAS", unit=units.speed.value, lowest=20.0, highest=450.0),
        Column(name="fuel each hour", unit=units.fuel.unit.value, lowest=0.1, highest=5_000.0),
    )


def climb_columns(units: TableUnits) -> tuple[Column, ...]:
    return (
        _ALTITUDE,
        Column(name="time", unit="min", lowest=0.0, highest=240.0),
        Column(name="fuel", unit=units.fuel.unit.value, lowest=0.0, highest=5_000.0),
        Column(name="distance", unit=units.distance, lowest=0.0, highest=600.0),
    )


_ALTITUDE = Column(name="pressure altitude", unit="ft", lowest=-2_000.0, highest=45_000.0)


def heading(columns: Iterable[Column]) -> tuple[str, ...]:
    """The names of columns with their units."""
    return tuple(f"{column.name} [{column.unit}]" if column.unit else column.name for column in columns)


def warm_rule(percent_per_c: float) -> tuple[str, str]:
    """Write a rule for warm air as manuals do: so many percent for so many degrees, for 10 where that is a round number or no other is."""
    for degrees_c in (10, *range(1, 21)):
        percent = percent_per_c * degrees_c
        if abs(percent - round(percent)) < ROUND_PERCENT:
            return short_number_text(percent), str(degrees_c)
    return short_number_text(percent_per_c * 10.0), "10"
