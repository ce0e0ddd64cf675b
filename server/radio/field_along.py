"""The predicted field of one part of a beacon along a leg, as a curve: worked out every half mile, straight between."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.errors import OutOfRange
from server.navigation import points_along
from server.radio.beacon import Beacon, ComponentKind
from server.radio.field_strength import emission_of, margins_along
from server.radio.ground import Ground
from server.radio.leg_view import LegPath
from server.radio.sight import Antenna
from server.units import metres_from_feet

STEP_NM = 0.5
"""The field changes by a few dB within half a mile only beside a ridge, where the line of sight decides first."""


@dataclass(frozen=True, eq=False)
class FieldAlong:
    """Margins over the minimum field at rising distances from the start of the leg; empty where no field is predicted."""

    along_nm: np.ndarray
    margins_db: np.ndarray

    def margin_db(self, along_nm: np.ndarray) -> np.ndarray:
        """Return the margin at distances from the start of the leg; NaN where none is predicted. (n,) [dB]"""
        if self.along_nm.size == 0:
            return np.full(along_nm.shape, np.nan)
        return np.interp(along_nm, self.along_nm, self.margins_db)


def field_along(beacon: Beacon, component: ComponentKind, antenna: Antenna | None, path: LegPath, ground: Ground) -> FieldAlong:
    """Predict the field along a leg. None is predicted without an antenna, a frequency, or a power that can be."""
    nothing = FieldAlong(np.empty(0), np.empty(0))
    try:
        emission = emission_of(beacon, component)
    except OutOfRange:  # an impossible power is no power: the field is not predicted, and geometry and limits still rule
        return nothing
    if antenna is None or emission is None:
        return nothing
    along_nm = np.unique(
        np.concatenate(
            (np.linspace(0.0, path.distance_nm, max(2, math.ceil(path.distance_nm / STEP_NM) + 1)), [at for at, _ in path.profile])
        )
    )
    lat_deg, lon_deg = points_along(path.start, path.end, along_nm)
    margins = margins_along(
        antenna=antenna,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        altitude_m=metres_from_feet(path.altitudes_ft(along_nm)),
        frequency_mhz=emission.frequency_mhz,
        polarisation=emission.polarisation,
        eirp_w=emission.eirp_w,
        minimum_dbw_m2=emission.minimum_dbw_m2,
        ground=ground,
    )
    return FieldAlong(along_nm, margins.margin_db)
