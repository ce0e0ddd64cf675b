"""What climbing, descending and flying level cost this aircraft on this flight, a slice of height at a time.

The one place where the profile asks for speed, time and fuel through the air. Knows the aircraft and the air; knows no track and no wind.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.navigation import Air, Aircraft, Route, WindLayer, air_at
from server.navigation.performance import Climb, Cruise, climb_between, cruise_at, cruise_powers, descent_between
from server.navigation.performance_table import Beyond
from server.planning.materials import Materials


@dataclass(frozen=True, kw_only=True, slots=True)
class Slope:
    """A climb or descent between two altitudes, through the air. ``air_nm`` is what it covers in still air."""

    time_min: float
    fuel_l: float
    air_nm: float

    @property
    def true_airspeed_kt(self) -> float:
        return self.air_nm / self.time_min * 60.0


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelFlight:
    """Level flight at one altitude."""

    true_airspeed_kt: float
    fuel_l_per_h: float


class TableKind(StrEnum):
    CRUISE = "cruise"
    CLIMB = "climb"
    DESCENT = "descent"


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftTable:
    """A table was asked for what it does not hold."""

    table: TableKind
    beyond: Beyond


@dataclass(frozen=True, kw_only=True, slots=True)
class Performance:
    """An aircraft in the air of one flight: by its manual's tables where it has them, by its simple figures elsewhere.

    Without an altimeter setting planned altitudes are taken as pressure altitudes.
    """

    aircraft: Aircraft
    isa_deviation_c: float | None
    qnh_hpa: float | None = None
    layers: tuple[WindLayer, ...] = ()
    power: str = ""
    """A power setting of the cruise table; needs no choice where it has only one."""

    @property
    def power_missing(self) -> bool:
        """Whether the cruise table has several powers and none is chosen: then no speed can be told."""
        return not self.power and len(cruise_powers(self.aircraft)) > 1

    def air(self, altitude_ft: float) -> Air:
        """The air at an altitude of this flight."""
        return air_at(altitude_ft, qnh_hpa=self.qnh_hpa, layers=self.layers, isa_deviation_c=self.isa_deviation_c)

    def cruise(self, altitude_ft: float) -> Cruise | None:
        """Level flight at an altitude, with how it was read; None where a temperature or a power is needed and not known."""
        if self.power_missing:
            return None
        air = self.air(altitude_ft)
        return cruise_at(
            self.aircraft,
            pressure_altitude_ft=air.pressure_altitude_ft,
            isa_deviation_c=air.isa_deviation_c,
            power=self.power or None,
        )

    def level(self, altitude_ft: float) -> LevelFlight | None:
        """Level flight at an altitude; None where a temperature is needed and not known."""
        cruise = self.cruise(altitude_ft)
        return None if cruise is None else LevelFlight(true_airspeed_kt=cruise.tas_kt, fuel_l_per_h=cruise.fuel_l_per_h)

    def climb_read(self, from_ft: float, to_ft: float) -> Climb | None:
        """The climb from one altitude up to another, with how it was read."""
        lower, upper = self.air(from_ft).pressure_altitude_ft, self.air(to_ft).pressure_altitude_ft
        return climb_between(self.aircraft, from_ft=lower, to_ft=upper, isa_deviation_c=self._deviation_between(from_ft, to_ft))

    def descent_read(self, from_ft: float, to_ft: float) -> Climb | None:
        """The descent from one altitude down to another, with how it was read."""
        upper, lower = self.air(from_ft).pressure_altitude_ft, self.air(to_ft).pressure_altitude_ft
        return descent_between(self.aircraft, from_ft=upper, to_ft=lower, isa_deviation_c=self._deviation_between(from_ft, to_ft))

    def climb(self, from_ft: float, to_ft: float) -> Slope | None:
        """The climb from one altitude up to another, which is higher; None where a temperature is needed and not known."""
        return _slope(self.climb_read(from_ft, to_ft))

    def descent(self, from_ft: float, to_ft: float) -> Slope | None:
        """The descent from one altitude down to another; None where a temperature is needed and not known."""
        return _slope(self.descent_read(from_ft, to_ft))

    def left_tables(self, levels_ft: tuple[float, ...], start_ft: float, end_ft: float) -> tuple[LeftTable, ...]:
        """Tell which tables a flight at these levels leaves, climbing from ``start_ft`` and coming down to ``end_ft``. [ft]"""
        highest_ft = max(levels_ft)
        read: list[tuple[TableKind, Cruise | Climb | None]] = [(TableKind.CRUISE, self.cruise(altitude_ft)) for altitude_ft in levels_ft]
        read += [(TableKind.CLIMB, self.climb_read(start_ft, highest_ft))] if highest_ft > start_ft else []
        read += [(TableKind.DESCENT, self.descent_read(highest_ft, end_ft))] if highest_ft > end_ft else []
        left = [LeftTable(table=table, beyond=beyond) for table, reading in read if reading is not None for beyond in reading.beyond]
        return tuple(dict.fromkeys(left))

    def _deviation_between(self, from_ft: float, to_ft: float) -> float | None:
        return self.air((from_ft + to_ft) / 2.0).isa_deviation_c


def _slope(read: Climb | None) -> Slope | None:
    return None if read is None else Slope(time_min=read.time_min, fuel_l=read.fuel_l, air_nm=read.air_distance_nm)


def performance_on(aircraft: Aircraft | None, route: Route) -> Performance | None:
    """The route's aircraft in the flight's air; None without an aircraft."""
    if aircraft is None:
        return None
    return Performance(
        aircraft=aircraft,
        isa_deviation_c=route.isa_deviation_c,
        qnh_hpa=route.qnh_hpa,
        layers=route.winds,
        power=route.cruise_power,
    )


def performance_of(materials: Materials) -> Performance | None:
    """The flight's aircraft in the flight's air; None without an aircraft."""
    return performance_on(materials.aircraft, materials.route)
