"""How far a radio ray reaches over a smooth earth. A cross-check only: real legs are checked over terrain."""

from __future__ import annotations

import numpy as np

from server.errors import OutOfRange
from server.navigation.geodesy import MEAN_EARTH_RADIUS_M
from server.navigation.validity import checked, plain
from server.units import metres_from_feet, nautical_miles_from_metres

STANDARD_K = 4.0 / 3.0
"""Effective earth radius over true radius in the standard atmosphere: ITU-R P.310, the default of P.526 and P.834."""


def radio_horizon_nm(height_ft, other_height_ft=0.0, k: float = STANDARD_K):
    """Return the greatest distance at which two antennas see each other over a smooth earth. [NM along the ground]

    Parameters
    ----------
    height_ft, other_height_ft : float or array (n,)
        Heights of the two antennas above the same smooth ground, >= 0. [ft]
    k : float
        Effective earth radius over true radius; 4/3 is the standard atmosphere.

    Notes
    -----
    Each antenna sees to a arccos(a / (a + h)), with a = k times the earth's radius. For small heights this is sqrt(2 a h): with k = 4/3
    the textbook 1.23 (sqrt(h1) + sqrt(h2)), h in feet, which gives 0.2 NM more at 18,000 ft.

    References
    ----------
    ITU-R P.310 (effective earth radius). Checked: tests/reference/test_radio_horizon.py.
    """
    radius_m = k * MEAN_EARTH_RADIUS_M
    return plain(nautical_miles_from_metres(_to_tangent_m(height_ft, radius_m) + _to_tangent_m(other_height_ft, radius_m)))


def _to_tangent_m(height_ft, radius_m: float):
    height_m = checked(
        metres_from_feet(np.asarray(height_ft, dtype=float)),
        valid=np.greater_equal(height_ft, 0.0),
        error=lambda: OutOfRange(f"An antenna {height_ft:g} ft below the ground has no horizon.", code="height-below-ground"),
    )
    return radius_m * np.arccos(radius_m / (radius_m + height_m))
