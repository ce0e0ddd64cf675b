"""How good a line of position is, and a fix made of two: errors of radials, bearings and DME distances, and what the cut makes of them.

Every error here is the one that is kept to 95 times in a hundred, about two standard deviations, unless its name says otherwise. Errors of
two lines are taken as independent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.errors import OutOfRange
from server.navigation.indicator import off_course_nm
from server.navigation.validity import checked, plain

VOR_ERROR_DEG = 5.0
"""Station, receiver, setting and reading together: the usual total (common practice). ICAO Doc 8168 counts 4.5 degrees for a crossing
radial and 5.2 for the one that is flown (from memory)."""

NDB_ERROR_DEG = 6.9
"""ICAO Doc 8168, the tracking tolerance of an NDB (from memory). By night and over a coast it may be more."""

DME_ERROR_NM, DME_ERROR_SHARE = 0.25, 0.0125
"""0.25 NM and 1.25 % of the distance: ICAO Annex 10 volume I, 3.5.3.1.3.2 (2006), recommended for older equipment; newer keeps 0.2 NM."""

GOOD_CUT_DEG = 45.0
"""A line that cuts the track at less is a weak one (common practice; a national rule asks for it)."""

_95_OF_ONE = 1.959964  # standard deviations to each side that hold 95 % of a normal error
_95_OF_TWO = math.sqrt(-2.0 * math.log(0.05))  # and of a pair: P(r <= k) = 1 - exp(-k^2 / 2)


@dataclass(frozen=True, kw_only=True, slots=True)
class FixError:
    """The ellipse round a fix that holds the aircraft 95 times in a hundred: its half axes; and the worst corner. [NM]"""

    major_nm: float
    minor_nm: float
    corner_nm: float
    """How far off one is with both lines wrong at once by their error, to the worse side. [NM]"""


def radial_error_nm(distance_nm, error_deg=VOR_ERROR_DEG):
    """Return the error across a radial or a bearing at a distance from its station. [NM]"""
    return off_course_nm(distance_nm, error_deg)


def dme_error_nm(indicated_nm):
    """Return the error of a DME distance. [NM]

    References
    ----------
    ICAO Annex 10 volume I, 3.5.3.1.3.2. Checked: tests/reference/test_position_lines.py.
    """
    return plain(DME_ERROR_NM + DME_ERROR_SHARE * np.asarray(indicated_nm, dtype=float))


def dme_ground_error_nm(*, ground_nm, indicated_nm):
    """Return the error along the ground that an error of the DME reading makes: the steeper the station lies, the more. [NM]

    Infinite overhead, where the reading does not change with the place.

    Notes
    -----
    slant^2 = ground^2 + height^2, so d ground = d slant x slant / ground. The height is taken as known.
    """
    ground_nm, indicated_nm = np.asarray(ground_nm, dtype=float), np.asarray(indicated_nm, dtype=float)
    with np.errstate(divide="ignore"):
        return plain(np.where(ground_nm > 0.0, dme_error_nm(indicated_nm) * np.divide(indicated_nm, ground_nm), np.inf))


def along_track_error_nm(line_error_nm, cut_deg):
    """Return the error along a track that a line crossing it has, from the error across the line. [NM]

    Raises
    ------
    OutOfRange
        Scalars only: the line does not cross the track (a cut of 0, or beyond 90). Arrays hold NaN there.

    Notes
    -----
    error / sin(cut): a crossing radial at distance d gives d tan(error) / sin(cut).
    """
    valid = (np.asarray(cut_deg) > 0.0) & (np.asarray(cut_deg) <= 90.0)
    sine = np.where(valid, np.sin(np.radians(cut_deg)), 1.0)
    return checked(plain(np.divide(line_error_nm, sine)), valid=valid, error=lambda: _no_cut(cut_deg))


def fix_error(*, line_a_nm: float, line_b_nm: float, cut_deg: float) -> FixError:
    """Return the error ellipse of a fix by two lines from the error across each, for a cut above 0 up to 90 degrees.

    Raises
    ------
    OutOfRange
        The lines do not cross.

    Notes
    -----
    The standard deviations a, b across the lines give axes with squares (a^2 + b^2 +- sqrt((a^2 + b^2)^2 - 4 a^2 b^2 sin^2 c)) / 2 sin^2 c
    for a cut c: the eigenvalues of the inverse of n1 n1'/a^2 + n2 n2'/b^2, n the unit normals of the lines.
    """
    if not 0.0 < cut_deg <= 90.0:
        raise _no_cut(cut_deg)
    a_squared, b_squared = (line_a_nm / _95_OF_ONE) ** 2, (line_b_nm / _95_OF_ONE) ** 2
    sine_squared = math.sin(math.radians(cut_deg)) ** 2
    both = a_squared + b_squared
    root = math.sqrt(max(0.0, both**2 - 4.0 * a_squared * b_squared * sine_squared))
    major = (both + root) / (2.0 * sine_squared)
    minor = 2.0 * a_squared * b_squared / (both + root) if both > 0.0 else 0.0  # the other root, without the difference of two near equals
    # half the long diagonal of the parallelogram in which two bands of these half widths cross
    corner_squared = line_a_nm**2 + line_b_nm**2 + 2.0 * line_a_nm * line_b_nm * math.cos(math.radians(cut_deg))
    return FixError(
        major_nm=_95_OF_TWO * math.sqrt(major),
        minor_nm=_95_OF_TWO * math.sqrt(minor),
        corner_nm=math.sqrt(corner_squared / sine_squared),
    )


def major_axis_deg(*, line_a_nm: float, line_a_deg: float, line_b_nm: float, line_b_deg: float) -> float:
    """Return the direction of the long axis of the error ellipse of a fix, 0 <= x < 180, from the lines' directions and errors. [deg]

    Notes
    -----
    With the unit normals n of the lines, J = n1 n1'/a^2 + n2 n2'/b^2 is largest along the short axis. With east and north as axes and a
    line in direction d, n = (cos d, -sin d); the direction of the largest J is half the angle atan2(2 Jxy, Jxx - Jyy), counted from east.
    """
    weights = [(1.0 / nm**2, math.radians(deg)) for nm, deg in ((line_a_nm, line_a_deg), (line_b_nm, line_b_deg))]
    east = sum(weight * math.cos(d) ** 2 for weight, d in weights)
    north = sum(weight * math.sin(d) ** 2 for weight, d in weights)
    both = -sum(weight * math.sin(d) * math.cos(d) for weight, d in weights)
    short_from_east = math.degrees(math.atan2(2.0 * both, east - north)) / 2.0
    return -short_from_east % 180.0  # the long axis is 90 degrees from it: bearing = 90 - (short + 90)


def _no_cut(cut_deg: float) -> OutOfRange:
    return OutOfRange(
        f"Two lines that cut at {cut_deg:g} degrees make no fix: the cut must be more than 0 and at most 90 degrees. "
        "Choose another beacon.",
        code="no-cut",
    )
