"""The ICAO Standard Atmosphere up to 20 km, pressure and density altitude, and true airspeed.

Altitudes here are geopotential, as altimeters are scaled; the difference from geometric height is left alone below 20,000 ft (20 ft).
Dry air.
"""

from __future__ import annotations

import numpy as np

from server.errors import OutOfRange
from server.navigation.validity import checked, plain
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
    return plain(SEA_LEVEL_TEMPERATURE_K - _LAPSE_K_PER_M * np.minimum(height_m, _TROPOPAUSE_M) - KELVIN_AT_ZERO_CELSIUS)


def isa_deviation_c(temperature_c, pressure_altitude_ft):
    """Return how much warmer (+) or colder (-) than standard air of a temperature [degC] at a pressure altitude [ft] is. [degC]"""
    return plain(np.subtract(temperature_c, isa_temperature_c(pressure_altitude_ft)))


def isa_pressure_hpa(altitude_ft):
    """Return the standard pressure at a pressure altitude, -16,400 to 65,600 ft. [hPa]

    Notes
    -----
    p = p0 (T / T0)^(g / (L R)) below 11 km; above, p falls exponentially at a constant temperature.
    """
    height_m = _inside_m(altitude_ft)
    return plain(SEA_LEVEL_PRESSURE_HPA * _temperature_ratio(height_m) ** _PRESSURE_EXPONENT * _stratosphere_decay(height_m))


def isa_density_kg_m3(altitude_ft):
    """Return the standard density at a pressure altitude, -16,400 to 65,600 ft. [kg/m3]"""
    return plain(_density_kg_m3(isa_pressure_hpa(altitude_ft), isa_temperature_c(altitude_ft)))


def pressure_altitude_ft(elevation_ft, qnh_hpa):
    """Return the pressure altitude of a place from its elevation [ft] and the altimeter setting QNH [hPa]. [ft]

    Notes
    -----
    elevation + (T0 / L) (1 - (QNH / p0)^(L R / g)): an altimeter set to QNH reads elevation at the place.
    """
    possible_hpa = checked(
        qnh_hpa,
        valid=np.greater(qnh_hpa, 0.0),
        error=lambda: OutOfRange(f"An altimeter setting of {qnh_hpa:g} hPa is not possible. Near 1013 is usual.", code="qnh-impossible"),
    )
    setting_m = SEA_LEVEL_TEMPERATURE_K / _LAPSE_K_PER_M * (1.0 - (possible_hpa / SEA_LEVEL_PRESSURE_HPA) ** (1.0 / _PRESSURE_EXPONENT))
    return plain(elevation_ft + feet_from_metres(setting_m))


def density_altitude_ft(pressure_altitude_ft, temperature_c):
    """Return the standard altitude whose density is that of the air at a pressure altitude [ft] and temperature [degC]. [ft]"""
    density_kg_m3 = _density_kg_m3(isa_pressure_hpa(pressure_altitude_ft), temperature_c)
    ratio = density_kg_m3 / SEA_LEVEL_DENSITY_KG_M3
    troposphere_m = SEA_LEVEL_TEMPERATURE_K / _LAPSE_K_PER_M * (1.0 - ratio ** (1.0 / (_PRESSURE_EXPONENT - 1.0)))
    at_tropopause = _temperature_ratio(_TROPOPAUSE_M) ** (_PRESSURE_EXPONENT - 1.0)
    stratosphere_m = _TROPOPAUSE_M - _STRATOSPHERE_SCALE_M * np.log(ratio / at_tropopause)
    return plain(feet_from_metres(np.where(troposphere_m <= _TROPOPAUSE_M, troposphere_m, stratosphere_m)))


def true_airspeed_kt(calibrated_kt, pressure_altitude_ft, temperature_c):
    """Return the true airspeed for a calibrated airspeed [kt], pressure altitude [ft] and static air temperature [degC]. [kt]

    Notes
    -----
    Impact pressure qc / p0 = (1 + 0.2 (CAS / a0)^2)^3.5 - 1, then TAS = a sqrt(5 ((qc / p + 1)^(2/7) - 1)). Subsonic.

    References
    ----------
    Compressible pitot equation (Saint-Venant). Checked: tests/reference/test_atmosphere.py.
    """
    impact_hpa = SEA_LEVEL_PRESSURE_HPA * _impact_ratio(calibrated_kt, _SEA_LEVEL_SOUND_KT)
    return _subsonic_kt(impact_hpa / isa_pressure_hpa(pressure_altitude_ft), sound_speed_kt(temperature_c))


def calibrated_airspeed_kt(true_kt, pressure_altitude_ft, temperature_c):
    """Return the calibrated airspeed for a true airspeed [kt]: ``true_airspeed_kt`` turned round. [kt]"""
    impact_hpa = isa_pressure_hpa(pressure_altitude_ft) * _impact_ratio(true_kt, sound_speed_kt(temperature_c))
    return _subsonic_kt(impact_hpa / SEA_LEVEL_PRESSURE_HPA, _SEA_LEVEL_SOUND_KT)


def sound_speed_kt(temperature_c):
    """Return the speed of sound in dry air. [kt]"""
    return plain(np.sqrt(_HEAT_RATIO * _GAS_CONSTANT_J_PER_KG_K * _kelvin(temperature_c)) / METRES_PER_SECOND_PER_KNOT)


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


def _kelvin(temperature_c):
    temperature_k = np.add(temperature_c, KELVIN_AT_ZERO_CELSIUS)
    return checked(
        temperature_k,
        valid=np.greater(temperature_k, 0.0),
        error=lambda: OutOfRange(f"No air is as cold as {temperature_c:g} degrees Celsius.", code="temperature-impossible"),
    )


def _density_kg_m3(pressure_hpa, temperature_c):
    """Gas law, with the constant that makes sea-level density 1.225 exactly."""
    return SEA_LEVEL_DENSITY_KG_M3 * (pressure_hpa / SEA_LEVEL_PRESSURE_HPA) / (_kelvin(temperature_c) / SEA_LEVEL_TEMPERATURE_K)


def _impact_ratio(speed_kt, sound_kt):
    """Return impact pressure over static pressure, (1 + 0.2 M^2)^3.5 - 1; NaN for a speed below 0."""
    mach = np.where(np.less(speed_kt, 0.0), np.nan, speed_kt) / sound_kt
    return (1.0 + 0.2 * np.square(mach)) ** 3.5 - 1.0


def _subsonic_kt(impact_ratio, sound_kt):
    mach = np.sqrt(5.0 * ((impact_ratio + 1.0) ** (2.0 / 7.0) - 1.0))
    return checked(
        sound_kt * mach,
        valid=mach < 1.0,
        error=lambda: OutOfRange("That airspeed is below zero or above the speed of sound.", code="airspeed-impossible"),
    )


_SEA_LEVEL_SOUND_KT = sound_speed_kt(SEA_LEVEL_TEMPERATURE_K - KELVIN_AT_ZERO_CELSIUS)
