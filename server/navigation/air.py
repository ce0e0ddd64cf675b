"""The air at an altitude of one flight: pressure altitude by the altimeter setting, temperature by forecast or against the standard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.navigation.atmosphere import isa_deviation_c as deviation_of
from server.navigation.atmosphere import isa_temperature_c, pressure_altitude_ft
from server.navigation.route import WindLayer

LAPSE_C_PER_FT = 1.9812e-3
"""Of the standard atmosphere, ICAO Doc 7488: 6.5 degrees a kilometre."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Air:
    """The air at one altitude. What is None is not known."""

    altitude_ft: float
    pressure_altitude_ft: float
    """The altitude itself where no altimeter setting is given."""
    temperature_c: float | None
    isa_deviation_c: float | None
    """Warmer (+) or colder than standard air of that pressure. [degC]"""
    standard_pressure_assumed: bool


def air_at(altitude_ft: float, *, qnh_hpa: float | None, layers: Sequence[WindLayer], isa_deviation_c: float | None) -> Air:
    """Return the air at an altitude on the altimeter.

    Parameters
    ----------
    altitude_ft : float
        Above sea level by the altimeter. [ft]
    qnh_hpa : float or None
        Altimeter setting; None takes altitudes as pressure altitudes, and says so. [hPa]
    layers : sequence of WindLayer
        Those with a temperature rule; without one the deviation from the standard does. [degC]
    isa_deviation_c : float or None
        Temperature above (+) or below the standard one at all heights. [degC]

    Raises
    ------
    OutOfRange
        The altimeter setting is impossible.
    """
    pressure_ft = altitude_ft if qnh_hpa is None else float(pressure_altitude_ft(altitude_ft, qnh_hpa))
    temperature_c = temperature_at(layers, altitude_ft)
    deviation_c = isa_deviation_c
    if temperature_c is not None:
        deviation_c = float(deviation_of(temperature_c, pressure_ft))
    elif isa_deviation_c is not None:
        temperature_c = float(isa_temperature_c(pressure_ft)) + isa_deviation_c
    return Air(
        altitude_ft=altitude_ft,
        pressure_altitude_ft=pressure_ft,
        temperature_c=temperature_c,
        isa_deviation_c=deviation_c,
        standard_pressure_assumed=qnh_hpa is None,
    )


def temperature_at(layers: Sequence[WindLayer], altitude_ft: float) -> float | None:
    """Return the temperature at an altitude from the layers that have one: in straight lines between them, at the standard lapse outside.

    None where no layer has a temperature. [degC]
    """
    known = sorted((layer.altitude_ft, layer.temperature_c) for layer in layers if layer.temperature_c is not None)
    if not known:
        return None
    heights_ft, temperatures_c = zip(*known, strict=True)
    inside_ft = min(max(altitude_ft, heights_ft[0]), heights_ft[-1])
    return float(np.interp(inside_ft, heights_ft, temperatures_c)) - LAPSE_C_PER_FT * (altitude_ft - inside_ft)
