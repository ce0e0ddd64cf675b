"""The compass correction card: from the magnetic heading to what the compass should read.

Three ways of writing the same line are in use. The card in the aircraft says "for 090 steer 088". A log of the FAA's handbook adds a
correction, here -2: compass = magnetic + correction. Deviation as taught in Europe is what the compass is off, east positive, and is taken
away: compass = magnetic - deviation, here +2, 2 E. We keep the card's own way, so that no sign can be lost.
"""

from __future__ import annotations

import numpy as np

from server.errors import InputProblem
from server.navigation.aircraft import CompassCardEntry
from server.navigation.bearings import difference_deg, fold_deg, three_digits


def compass_correction_deg(entry: CompassCardEntry) -> float:
    """Return what a line of the card adds to the magnetic heading, -180 to 180. Its deviation, east positive, is the opposite. [deg]"""
    return difference_deg(entry.steer_deg, entry.magnetic_deg)


def entry_from_correction(magnetic_deg: float, correction_deg: float) -> CompassCardEntry:
    """Return the line of the card that adds a correction to a magnetic heading. [deg]"""
    return CompassCardEntry(magnetic_deg=magnetic_deg, steer_deg=fold_deg(magnetic_deg + correction_deg))


def entry_from_deviation(magnetic_deg: float, deviation_deg: float) -> CompassCardEntry:
    """Return the line of the card for a deviation, east positive, which is taken away from the magnetic heading. [deg]"""
    return entry_from_correction(magnetic_deg, -deviation_deg)


def compass_heading_deg(card: tuple[CompassCardEntry, ...], heading_magnetic_deg: float) -> float | None:
    """Return the compass heading to steer for a magnetic heading, or None where the aircraft has no card. [deg]

    The correction (steer less magnetic) is interpolated linearly between the two neighbouring lines of the card, round through north.
    """
    if not card:
        return None
    corrections_deg: dict[float, float] = {}
    for entry in card:
        magnetic_deg = fold_deg(entry.magnetic_deg)
        correction_deg = compass_correction_deg(entry)
        if abs(corrections_deg.setdefault(magnetic_deg, correction_deg) - correction_deg) > 1e-9:
            raise InputProblem(
                f"The compass card names {three_digits(magnetic_deg)} twice with different values. Keep one of them.",
                code="compass-card-twice",
                place="compass card",
            )
    headings_deg = sorted(corrections_deg)
    correction_deg = np.interp(heading_magnetic_deg, headings_deg, [corrections_deg[heading] for heading in headings_deg], period=360.0)
    return fold_deg(heading_magnetic_deg + float(correction_deg))
