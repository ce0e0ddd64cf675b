"""How high an aircraft really is while its altimeter shows an altitude: cold air is thin above a place, and the altimeter does not know."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from server.navigation.atmosphere import isa_temperature_c
from server.units import KELVIN_AT_ZERO_CELSIUS

STEP_FT = 250.0
"""Of the integration; the deviation of the temperature is taken as straight over one step."""


def true_altitude_ft(
    indicated_ft: float, *, station_elevation_ft: float, deviation_c: Callable[[float], float], setting_ft: float = 0.0
) -> float:
    """Return the true altitude of an aircraft whose altimeter is set to the QNH of a station.

    Parameters
    ----------
    indicated_ft : float
        What the altimeter shows. [ft]
    station_elevation_ft : float
        Elevation of the station that gave the QNH: there the altimeter is right. [ft MSL]
    deviation_c : callable
        How much warmer (+) or colder (-) than standard the air is at an indicated altitude [ft]. [degC]
    setting_ft : float
        Pressure altitude less indicated altitude, for the setting. [ft]

    Notes
    -----
    Hydrostatic: between two pressures a layer of air at temperature T is T / T_standard times as thick as the altimeter takes it to be, so
    the true height above the station is the integral of T / T_standard over the indicated one. Humidity and the change of QNH on the way
    are left out.

    References
    ----------
    ICAO Doc 8168, cold temperature corrections (the table is this relation with a constant deviation). Checked:
    tests/reference/test_true_altitude.py.
    """
    span_ft = indicated_ft - station_elevation_ft
    steps = max(1, int(np.ceil(abs(span_ft) / STEP_FT)))
    edges_ft = np.linspace(station_elevation_ft, indicated_ft, steps + 1)
    middles_ft = (edges_ft[:-1] + edges_ft[1:]) / 2.0
    standard_k = np.asarray(isa_temperature_c(middles_ft + setting_ft)) + KELVIN_AT_ZERO_CELSIUS
    deviations_c = np.array([deviation_c(float(at_ft)) for at_ft in middles_ft])
    return float(indicated_ft + np.sum(np.diff(edges_ft) * deviations_c / standard_k))


def indicated_altitude_ft(
    true_ft: float, *, station_elevation_ft: float, deviation_c: Callable[[float], float], setting_ft: float = 0.0
) -> float:
    """Return what the altimeter shows at a true altitude: ``true_altitude_ft`` turned round, to a tenth of a foot. [ft]"""
    indicated_ft = true_ft
    for _ in range(20):
        found_ft = true_altitude_ft(indicated_ft, station_elevation_ft=station_elevation_ft, deviation_c=deviation_c, setting_ft=setting_ft)
        if abs(found_ft - true_ft) < 0.1:
            break
        indicated_ft += true_ft - found_ft
    return indicated_ft
