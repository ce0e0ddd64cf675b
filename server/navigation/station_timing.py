"""How far a beacon is, told by how fast its bearing changes while flying across it: the wingtip method of the handbooks."""

from __future__ import annotations

import numpy as np

from server.errors import OutOfRange
from server.navigation.validity import checked, plain


def minutes_to_station(minutes_between_bearings, bearing_change_deg):
    """Return the flying time to a beacon abeam whose bearing changed by so many degrees in so many minutes. [min]

    Notes
    -----
    One in sixty: minutes = 60 x minutes between bearings / degrees of change. Meant for 5 to 20 degrees in a wind that is weak beside
    the airspeed; the distance is the true airspeed times this.

    References
    ----------
    FAA-H-8083-25A, fig. 15-33. Checked: tests/reference/test_handbook_items.py.
    """
    changed_deg = checked(
        np.abs(bearing_change_deg),
        valid=np.abs(bearing_change_deg) > 0.0,
        error=lambda: OutOfRange(
            "The bearing has not changed, so it tells no distance. Fly across the bearing until it has changed by 10 degrees.",
            code="bearing-unchanged",
        ),
    )
    return plain(60.0 * np.divide(minutes_between_bearings, changed_deg))
