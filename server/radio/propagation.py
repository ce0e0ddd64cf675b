"""Radio waves in free space: loss, power density, field strength, and the room a ray needs round it. No terrain here."""

from __future__ import annotations

import math

import numpy as np

from server.errors import OutOfRange
from server.navigation.validity import checked, plain

SPEED_OF_LIGHT_M_S = 299_792_458.0  # exact, SI

FREE_SPACE_IMPEDANCE_OHM = 120.0 * math.pi
"""Field squared over power density in free space, as ITU-R P.525 rounds it in e = sqrt(30 p) / d; the exact 376.73 ohm is 0.003 dB less."""


def wavelength_m(frequency_mhz):
    """Return the wavelength of a frequency > 0 MHz. [m]"""
    frequency_mhz = checked(
        frequency_mhz,
        valid=np.greater(frequency_mhz, 0.0),
        error=lambda: OutOfRange(f"A frequency of {frequency_mhz:g} MHz was given. A radio frequency is greater than 0."),
    )
    return SPEED_OF_LIGHT_M_S / (frequency_mhz * 1e6)


def free_space_loss_db(*, distance_m, frequency_mhz):
    """Return the basic transmission loss between isotropic antennas in free space. [dB]

    Parameters
    ----------
    distance_m : float or array (n,)
        Straight from antenna to antenna, > 0. [m]
    frequency_mhz : float or array (n,)
        > 0. [MHz]

    Notes
    -----
    The usual 32.4 + 20 log f_MHz + 20 log d_km is this, 0.05 dB low by its rounded constant.

    References
    ----------
    ITU-R P.525-4, equation (3). Checked: tests/reference/test_free_space.py.
    """
    return plain(20.0 * np.log10(4.0 * math.pi * _distance_m(distance_m) / wavelength_m(frequency_mhz)))  # (3)


def power_density_dbw_m2(*, eirp_w, distance_m):
    """Return the power that passes through a square metre in free space. [dBW/m2]

    Parameters
    ----------
    eirp_w : float or array (n,)
        Power radiated, as if equally to all sides (EIRP), > 0. [W]
    distance_m : float or array (n,)
        From the antenna, > 0. [m]

    References
    ----------
    ITU-R P.525-4, section 2.3: power over the surface of a sphere.
    """
    eirp_w = checked(
        eirp_w,
        valid=np.greater(eirp_w, 0.0),
        error=lambda: OutOfRange(f"A radiated power of {eirp_w:g} W was given. Give more than 0, or leave it out where it is not known."),
    )
    return plain(10.0 * np.log10(eirp_w / (4.0 * math.pi * _distance_m(distance_m) ** 2)))


def field_dbuv_m(power_density_dbw_m2):
    """Convert a power density [dBW/m2] to the field strength of the same wave [dB above 1 microvolt/m]: e = sqrt(120 pi s)."""
    return power_density_dbw_m2 + _FIELD_OVER_DENSITY_DB


def density_from_field_dbw_m2(field_dbuv_m):
    """Convert a field strength [dB above 1 microvolt/m] to the power density of the same wave [dBW/m2]."""
    return field_dbuv_m - _FIELD_OVER_DENSITY_DB


def fresnel_radius_m(*, to_one_end_m, to_other_end_m, frequency_mhz):
    """Return the radius of the first Fresnel zone: how much room the ray needs round it there to pass as in free space. [m]

    Parameters
    ----------
    to_one_end_m, to_other_end_m : float or array (n,)
        Distances to the two antennas, >= 0 and not both 0. [m]
    frequency_mhz : float or array (n,)
        > 0. [MHz]

    References
    ----------
    ITU-R P.526-15, equation (2) with n = 1. Checked: tests/reference/test_itu_diffraction.py.
    """
    product = np.multiply(_distance_m(to_one_end_m), to_other_end_m)
    return plain(np.sqrt(wavelength_m(frequency_mhz) * product / np.add(to_one_end_m, to_other_end_m)))  # (2)


_FIELD_OVER_DENSITY_DB = 10.0 * math.log10(FREE_SPACE_IMPEDANCE_OHM) + 120.0  # 120 dB: volts to microvolts


def _distance_m(distance_m):
    return checked(
        distance_m,
        valid=np.greater(distance_m, 0.0),
        error=lambda: OutOfRange(
            f"A distance of {distance_m:g} m from an antenna was given. Give more than 0: at the antenna no law holds."
        ),
    )
