"""The ICAO Standard Atmosphere up to 20 km, pressure and density altitude, and true airspeed.

Altitudes here are geopotential, as altimeters are scaled; the difference from geometric height is left alone below 20,000 ft (20 ft).
Dry air.
"""

from __future__ import annotations

import numpy as np

from server.errors import OutOfRange
from server.navigation.validity import checked
from server.units import KELVIN_AT_ZERO_CELSIUS, METRES_PER_SECOND_PER_KNOT, feet_from_metres, metres_from_feet

# ICAO Doc 7488, third edition, 1993, tables A and B
SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_HPA = 1013.25
SEA_LEVEL_DENSITY_KG_M3 = 1.225
_LAPSE_K_PER_M = 0.0065
_GRAVITY_M_S2 = 9.80665
_GAS_CONSTANT_J_PER_KG_K = 287.05287
_HEAT_RATIO = 1.4
_TROPOPAUSE_M = 11_000.0
_TROPOPAUSE_TEMPERATURE_K = SEA_LEVEL_TEMPERATURE_K - _LAPSE_K_PER_M * _TROPOPAUSE_M
_PRESSURE_EXPONENT = _GRAVITY_M_S2 / (_LAPSE_K_PER_M * _GAS_CONSTANT_J_PER_KG_K)
_STRATOSPHERE_SCALE_M = _GAS_CONSTANT_J_PER_KG_K * _TROPOPAUSE_TEMPERATURE_K / _GRAVITY_M_S2
_LOWEST_M, _HIGHEST_M = -5_000.0, 20_000.0


def isa_temperature_c(altitude_ft):
    """Return the standard temperature at a pressure altitude, -16,400 to 65,600 ft. [degC]"""
    height_m = _inside_m(altitude_ft)
    return (SEA_LEVEL_TEMPERATURE_K - _LAPSE_K_PER_M * np.minimum(height_m, _TROPOPAUSE_M) - KELVIN_AT_ZERO_CELSIUS)[()]


def isa_pressure_hpa(altitude_ft):
    """Return the standard pressure at a pressure altitude, -16,400 to 65,600 ft. [hPa]

    Notes
    -----
    p = p0 (T / T0)^(g / (L R)) below 11 km; above, p falls exponentially at a constant temperature.
    """
    height_m = _inside_m(altitude_ft)
    return (SEA_LEVEL_PRESSURE_HPA * _temperature_ratio(height_m) ** _PRESSURE_EXPONENT * _stratosphere_decay(height_m))[()]


def isa_density_kg_m3(altitude_ft):
    """Return the standard density at a pressure altitude, -16,400 to 65,600 ft. [kg/m3]"""
    return _density_kg_m3(isa_pressure_hpa(altitude_ft), isa_temperature_c(altitude_ft))


def pressure_altitude_ft(elevation_ft, qnh_hpa):
    """Return the pressure altitude of a place from its elevation [ft] and the altimeter setting QNH [hPa]. [ft]

    Notes
    -----
    elevation + (T0 / L) (1 - (QNH / p0)^(L R / g)): an altimeter set to QNH reads elevation at the place.
    """
    setting_m = SEA_LEVEL_TEMPERATURE_K / _LAPSE_K_PER_M * (1.0 - (qnh_hpa / SEA_LEVEL_PRESSURE_HPA) ** (1.0 / _PRESSURE_EXPONENT))
    return elevation_ft + feet_from_metres(setting_m)


def density_altitude_ft(pressure_altitude_ft, temperature_c):
    """Return the standard altitude whose density is that of the air at a pressure altitude [ft] and temperature [degC]. [ft]"""
    density_kg_m3 = _density_kg_m3(isa_pressure_hpa(pressure_altitude_ft), temperature_c)
    ratio = density_kg_m3 / SEA_LEVEL_DENSITY_KG_M3
    troposphere_m = SEA_LEVEL_TEMPERATURE_K / _LAPSE_K_PER_M * (1.0 - ratio ** (1.0 / (_PRESSURE_EXPONENT - 1.0)))
    at_tropopause = _temperature_ratio(_TROPOPAUSE_M) ** (_PRESSURE_EXPONENT - 1.0)
    stratosphere_m = _TROPOPAUSE_M - _STRATOSPHERE_SCALE_M * np.log(ratio / at_tropopause)
    return feet_from_metres(np.where(troposphere_m <= _TROPOPAUSE_M, troposphere_m, stratosphere_m))[()]


def true_airspeed_kt(calibrated_kt, pressure_altitude_ft, temperature_c):
    """Return the true airspeed for a calibrated airspeed [kt], pressure altitude [ft] and static air temperature [degC]. [kt]

    Notes
    -----
    Impact pressure qc / p0 = (1 + 0.2 (CAS / a0)^2)^3.5 - 1, then TAS = a sqrt(5 ((qc / p + 1)^(2/7) - 1)). Subsonic.

    References
    ----------
    Compressible pitot equation (Saint-Venant). Checked: tests/reference/test_atmosphere.py.
    """
    impact_hpa = SEA_LEVEL_PRESSURE_HPA * _impact_ratio(calibrated_kt / _sound_speed_kt(SEA_LEVEL_TEMPERATURE_K - KELVIN_AT_ZERO_CELSIUS))
    mach = _mach_of_impact_ratio(impact_hpa / isa_pressure_hpa(pressure_altitude_ft))
    return (_sound_speed_kt(temperature_c) * mach)[()]


def calibrated_airspeed_kt(true_kt, pressure_altitude_ft, temperature_c):
    """Return the calibrated airspeed for a true airspeed [kt]: ``true_airspeed_kt`` turned round. [kt]"""
    impact_hpa = isa_pressure_hpa(pressure_altitude_ft) * _impact_ratio(true_kt / _sound_speed_kt(temperature_c))
    mach = _mach_of_impact_ratio(impact_hpa / SEA_LEVEL_PRESSURE_HPA)
    return (_sound_speed_kt(SEA_LEVEL_TEMPERATURE_K - KELVIN_AT_ZERO_CELSIUS) * mach)[()]


def sound_speed_kt(temperature_c):
    """Return the speed of sound in dry air. [kt]"""
    return _sound_speed_kt(temperature_c)[()]


def _inside_m(altitude_ft):
    height_m = metres_from_feet(np.asarray(altitude_ft, dtype=float))
    return np.asarray(
        checked(
            height_m,
            valid=(height_m >= _LOWEST_M) & (height_m <= _HIGHEST_M),
            error=lambda: OutOfRange(
                f"{altitude_ft:,.0f} ft lies outside the standard atmosphere used here, -16,400 to 65,600 ft.",
                code="outside-atmosphere",
            ),
        )
    )


def _temperature_ratio(height_m):
    return 1.0 - _LAPSE_K_PER_M * np.minimum(height_m, _TROPOPAUSE_M) / SEA_LEVEL_TEMPERATURE_K


def _stratosphere_decay(height_m):
    return np.exp(-np.maximum(height_m - _TROPOPAUSE_M, 0.0) / _STRATOSPHERE_SCALE_M)


def _density_kg_m3(pressure_hpa, temperature_c):
    """Gas law, with the constant that makes sea-level density 1.225 exactly."""
    temperature_ratio = np.add(temperature_c, KELVIN_AT_ZERO_CELSIUS) / SEA_LEVEL_TEMPERATURE_K
    return SEA_LEVEL_DENSITY_KG_M3 * (pressure_hpa / SEA_LEVEL_PRESSURE_HPA) / temperature_ratio


def _sound_speed_kt(temperature_c):
    temperature_k = np.add(temperature_c, KELVIN_AT_ZERO_CELSIUS)
    return np.sqrt(_HEAT_RATIO * _GAS_CONSTANT_J_PER_KG_K * temperature_k) / METRES_PER_SECOND_PER_KNOT


def _impact_ratio(mach):
    return (1.0 + 0.2 * np.square(mach)) ** 3.5 - 1.0


def _mach_of_impact_ratio(ratio):
    return np.sqrt(5.0 * ((ratio + 1.0) ** (2.0 / 7.0) - 1.0))
