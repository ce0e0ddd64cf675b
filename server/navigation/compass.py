"""The compass correction card: from the magnetic heading to what the compass should read."""

from __future__ import annotations

import numpy as np

from server.errors import InputProblem
from server.navigation.aircraft import CompassCardEntry
from server.navigation.bearings import difference_deg, fold_deg, three_digits


def compass_heading_deg(card: tuple[CompassCardEntry, ...], heading_magnetic_deg: float) -> float | None:
    """Return the compass heading to steer for a magnetic heading, or None where the aircraft has no card. [deg]

    The correction (steer less magnetic) is interpolated linearly between the two neighbouring lines of the card, round through north.
    """
    if not card:
        return None
    corrections_deg: dict[float, float] = {}
    for entry in card:
        magnetic_deg = fold_deg(entry.magnetic_deg)
        correction_deg = difference_deg(entry.steer_deg, entry.magnetic_deg)
        if abs(corrections_deg.setdefault(magnetic_deg, correction_deg) - correction_deg) > 1e-9:
            raise InputProblem(
                f"The compass card names {three_digits(magnetic_deg)} twice with different values. Keep one of them.",
                code="compass-card-twice",
                place="compass card",
            )
    headings_deg = sorted(corrections_deg)
    correction_deg = np.interp(heading_magnetic_deg, headings_deg, [corrections_deg[heading] for heading in headings_deg], period=360.0)
    return fold_deg(heading_magnetic_deg + float(correction_deg))
