"""Speed, time and fuel of an aircraft in cruise, climb and descent: from the manual's tables, or from its simple figures where it has none.

Altitudes are pressure altitudes, temperatures are told against ISA. Knows the aircraft and the air; knows no wind and no track.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.errors import InputProblem
from server.navigation.aircraft import Aircraft, ClimbRow, CruiseRow, DescentRow, SpeedKind
from server.navigation.atmosphere import isa_temperature_c, true_airspeed_kt
from server.navigation.performance_table import Beyond, Reading, Step, TableAxis, read_climb_rows, read_cruise_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Cruise:
    """Level flight: speed and fuel flow. Without a cruise table no rows are used."""

    tas_kt: float
    fuel_l_per_h: float
    power: str = ""
    """The power setting read in the table."""
    rows_used: tuple[CruiseRow, ...] = ()
    steps: tuple[Step[CruiseRow], ...] = ()
    beyond: tuple[Beyond, ...] = ()
    """What was asked outside the table, whose nearest line is held there."""

    @property
    def beyond_table(self) -> bool:
        return bool(self.beyond)


@dataclass(frozen=True, kw_only=True, slots=True)
class Climb:
    """A climb between two pressure altitudes: time, fuel and distance through still air.

    From a table it is the figures at the upper altitude less those at the lower, times ``warm_factor``. ``steps`` are those of the lower
    reading, then of the upper.
    """

    time_min: float
    fuel_l: float
    air_distance_nm: float
    lower: ClimbRow | None = None
    upper: ClimbRow | None = None
    warm_factor: float = 1.0
    rows_used: tuple[ClimbRow, ...] = ()
    steps: tuple[Step, ...] = ()
    beyond: tuple[Beyond, ...] = ()
    """What was asked outside the table, whose nearest two lines are carried on there; or a temperature it has no rule for."""

    @property
    def beyond_table(self) -> bool:
        return bool(self.beyond)


@dataclass(frozen=True, kw_only=True, slots=True)
class Descent(Climb):
    """A descent between two pressure altitudes, told as a climb is."""


def cruise_powers(aircraft: Aircraft) -> tuple[str, ...]:
    """Return the power settings of the cruise table, in the order in which they are first named."""
    return tuple(dict.fromkeys(row.power for row in aircraft.cruise_table))


def cruise_at(aircraft: Aircraft, *, pressure_altitude_ft: float, isa_deviation_c: float | None, power: str | None = None) -> Cruise | None:
    """Return true airspeed and fuel flow in level flight.

    Parameters
    ----------
    pressure_altitude_ft : float
        Pressure altitude. [ft]
    isa_deviation_c : float or None
        Temperature above (+) or below the standard one; None where it is not known. [degC]
    power : str or None
        A power setting of the cruise table; None for the one its owner names first. Without a table it means nothing.

    Returns
    -------
    Cruise or None
        None where the temperature is needed and not known: by a table with several temperatures, or to turn a CAS into a TAS.

    Raises
    ------
    InputProblem
        The table does not have this power.

    References
    ----------
    FAA-H-8083-25, chapter on performance (cruise power settings). Checked: tests/reference/test_performance_tables.py.
    """
    if not aircraft.cruise_table:
        tas_kt = _true_airspeed_kt(aircraft, aircraft.cruise_speed_kt, pressure_altitude_ft, isa_deviation_c)
        return None if tas_kt is None else Cruise(tas_kt=tas_kt, fuel_l_per_h=aircraft.cruise_fuel_l_per_h)
    known = cruise_powers(aircraft)
    chosen = known[0] if power is None else power
    if chosen not in known:
        raise InputProblem(
            f'The cruise table of {aircraft.registration} has no power "{chosen}". It has {", ".join(known)}.',
            code="power-unknown",
            place="power",
        )
    rows = [row for row in aircraft.cruise_table if row.power == chosen]
    reading = read_cruise_rows(rows, pressure_altitude_ft=pressure_altitude_ft, isa_deviation_c=isa_deviation_c)
    if reading is None:
        return None
    return Cruise(
        tas_kt=reading.line.tas_kt,
        fuel_l_per_h=reading.line.fuel_l_per_h,
        power=chosen,
        rows_used=reading.rows_used,
        steps=reading.steps,
        beyond=reading.beyond,
    )


def climb_between(aircraft: Aircraft, *, from_ft: float, to_ft: float, isa_deviation_c: float | None) -> Climb | None:
    """Return what climbing from one pressure altitude up to another costs. [ft, degC above ISA or None]

    Returns
    -------
    Climb or None
        None where the temperature is needed and not known: by the manual's rule for warm air, or to turn a CAS into a TAS.

    Notes
    -----
    In air warmer than standard time, fuel and distance grow by ``climb_percent_per_warm_c`` for each degree; in colder air they stay.
    Without such a rule the table is used as it stands, and ``beyond`` says that warmer (or unknown) air is not in it. The simple climb
    takes the true airspeed half way up.

    References
    ----------
    FAA knowledge items on fuel, time and distance to climb. Checked: tests/reference/test_performance_tables.py.
    """
    assert from_ft <= to_ft, "a climb goes up"
    if not aircraft.climb_table:
        tas_kt = _true_airspeed_kt(aircraft, aircraft.climb_speed_kt, (from_ft + to_ft) / 2.0, isa_deviation_c)
        if tas_kt is None:
            return None
        time_min = (to_ft - from_ft) / aircraft.climb_rate_ft_per_min
        return Climb(time_min=time_min, fuel_l=time_min / 60.0 * aircraft.climb_fuel_l_per_h, air_distance_nm=time_min / 60.0 * tas_kt)
    percent = aircraft.climb_percent_per_warm_c
    if percent is not None and isa_deviation_c is None:
        return None
    warm_factor = 1.0 + (percent or 0.0) / 100.0 * max(isa_deviation_c or 0.0, 0.0)
    lower, upper = (read_climb_rows(aircraft.climb_table, at_ft) for at_ft in (from_ft, to_ft))
    unruled = () if percent is not None else _not_standard(isa_deviation_c)
    return Climb(warm_factor=warm_factor, **_difference(lower, upper, warm_factor, unruled))


def descent_between(aircraft: Aircraft, *, from_ft: float, to_ft: float, isa_deviation_c: float | None) -> Descent | None:
    """Return what descending from one pressure altitude down to another costs. [ft, degC above ISA or None]

    The table is used at every temperature, since the pilot sets the rate of descent. The simple descent is flown at cruise speed and
    cruise fuel flow; None where that speed is a CAS and the temperature is not known.
    """
    assert from_ft >= to_ft, "a descent goes down"
    if not aircraft.descent_table:
        tas_kt = _true_airspeed_kt(aircraft, aircraft.cruise_speed_kt, (from_ft + to_ft) / 2.0, isa_deviation_c)
        if tas_kt is None:
            return None
        time_min = (from_ft - to_ft) / aircraft.descent_rate_ft_per_min
        return Descent(time_min=time_min, fuel_l=time_min / 60.0 * aircraft.cruise_fuel_l_per_h, air_distance_nm=time_min / 60.0 * tas_kt)
    lower, upper = (read_climb_rows(aircraft.descent_table, at_ft) for at_ft in (to_ft, from_ft))
    return Descent(**_difference(lower, upper, 1.0, ()))


def _difference(
    lower: Reading[ClimbRow] | Reading[DescentRow], upper: Reading[ClimbRow] | Reading[DescentRow], factor: float, also: tuple[Beyond, ...]
) -> dict:
    """The upper reading less the lower one, times a factor, with all that was read."""
    return {
        "time_min": (upper.line.time_min - lower.line.time_min) * factor,
        "fuel_l": (upper.line.fuel_l - lower.line.fuel_l) * factor,
        "air_distance_nm": (upper.line.air_distance_nm - lower.line.air_distance_nm) * factor,
        "lower": lower.line,
        "upper": upper.line,
        "rows_used": tuple(dict.fromkeys((*lower.rows_used, *upper.rows_used))),
        "steps": (*lower.steps, *upper.steps),
        "beyond": tuple(dict.fromkeys((*lower.beyond, *upper.beyond, *also))),
    }


def _not_standard(isa_deviation_c: float | None) -> tuple[Beyond, ...]:
    """What a table of a standard day does not cover: warmer air, or air nobody knows."""
    if isa_deviation_c is not None and isa_deviation_c <= 0.0:
        return ()
    return (Beyond(axis=TableAxis.ISA_DEVIATION, asked=isa_deviation_c, lowest=0.0, highest=0.0),)


def _true_airspeed_kt(aircraft: Aircraft, speed_kt: float, pressure_altitude_ft: float, isa_deviation_c: float | None) -> float | None:
    if aircraft.cruise_speed_kind is SpeedKind.TRUE:
        return speed_kt
    if isa_deviation_c is None:
        return None
    return true_airspeed_kt(speed_kt, pressure_altitude_ft, isa_temperature_c(pressure_altitude_ft) + isa_deviation_c)
