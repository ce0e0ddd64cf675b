"""What climbing, descending and flying level cost this aircraft on this flight, a slice of height at a time.

The one place where the profile asks for speed, time and fuel through the air. Knows the aircraft and the air; knows no track and no wind.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation import Aircraft, SpeedKind, isa_temperature_c, true_airspeed_kt
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Performance:
    """An aircraft in the air of one flight. Planned altitudes are taken as pressure altitudes."""

    aircraft: Aircraft
    isa_deviation_c: float | None

    def level(self, altitude_ft: float) -> LevelFlight | None:
        """Level flight at an altitude; None for a CAS without a temperature."""
        tas_kt = self._true_airspeed_kt(self.aircraft.cruise_speed_kt, altitude_ft)
        if tas_kt is None:
            return None
        return LevelFlight(true_airspeed_kt=tas_kt, fuel_l_per_h=self.aircraft.cruise_fuel_l_per_h)

    def climb(self, from_ft: float, to_ft: float) -> Slope | None:
        """The climb from one altitude up to another, which is higher."""
        tas_kt = self._true_airspeed_kt(self.aircraft.climb_speed_kt, (from_ft + to_ft) / 2.0)
        return self._slope(to_ft - from_ft, self.aircraft.climb_rate_ft_per_min, tas_kt, self.aircraft.climb_fuel_l_per_h)

    def descent(self, from_ft: float, to_ft: float) -> Slope | None:
        """The descent from one altitude down to another, at cruise speed and cruise fuel flow."""
        tas_kt = self._true_airspeed_kt(self.aircraft.cruise_speed_kt, (from_ft + to_ft) / 2.0)
        return self._slope(from_ft - to_ft, self.aircraft.descent_rate_ft_per_min, tas_kt, self.aircraft.cruise_fuel_l_per_h)

    def _slope(self, height_ft: float, rate_ft_per_min: float, tas_kt: float | None, fuel_l_per_h: float) -> Slope | None:
        if tas_kt is None:
            return None
        time_min = height_ft / rate_ft_per_min
        return Slope(time_min=time_min, fuel_l=time_min / 60.0 * fuel_l_per_h, air_nm=time_min / 60.0 * tas_kt)

    def _true_airspeed_kt(self, speed_kt: float, altitude_ft: float) -> float | None:
        if self.aircraft.cruise_speed_kind is SpeedKind.TRUE:
            return speed_kt
        if self.isa_deviation_c is None:
            return None
        return true_airspeed_kt(speed_kt, altitude_ft, isa_temperature_c(altitude_ft) + self.isa_deviation_c)


def performance_of(materials: Materials) -> Performance | None:
    """The flight's aircraft in the flight's air; None without an aircraft."""
    aircraft = materials.aircraft
    return Performance(aircraft=aircraft, isa_deviation_c=materials.route.isa_deviation_c) if aircraft is not None else None
