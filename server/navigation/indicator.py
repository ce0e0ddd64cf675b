"""What the instruments in the cockpit show: the needle and flag of a VOR indicator, and the pointer to an NDB.

A VOR indicator knows the radial the aircraft is on and the course selected on it, and nothing else: the heading never enters.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from server.errors import OutOfRange
from server.navigation.bearings import difference_deg, fold_deg
from server.navigation.validity import checked, plain

FULL_SCALE_DEG = 10.0
"""Common practice. FAA-H-8083-15 has 12 degrees or more, an FAA item 10 to 12: beyond this the needle rests at its stop on any of them."""

DOT_DEG = 2.0
"""On an indicator with five dots; one with two dots has 5 degrees a dot (common practice)."""

ABEAM_DOUBT_DEG = 10.0
"""So near to the line abeam, across the selected course through the station, the flag may be OFF (common practice)."""

_ON_THE_LINE_DEG = 1e-9


class Flag(StrEnum):
    TO = "TO"
    FROM = "FROM"
    OFF = "OFF"


class Side(StrEnum):
    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, kw_only=True, slots=True)
class Indication:
    """Flag and needle of a VOR indicator. The needle shows where the selected course lies, seen facing along it.

    ``course_lies_deg`` is the angle at the station between the aircraft and the selected course or its reciprocal, right positive, -90 to
    90 and not clipped. [deg]
    """

    flag: Flag
    course_lies_deg: float

    @property
    def needle_deg(self) -> float:
        """Deflection shown: right positive, at most FULL_SCALE_DEG. [deg]"""
        return min(FULL_SCALE_DEG, max(-FULL_SCALE_DEG, self.course_lies_deg))

    @property
    def needle_dots(self) -> float:
        """The same in dots of an indicator with five, without a sign."""
        return abs(self.needle_deg) / DOT_DEG

    @property
    def side(self) -> Side:
        """Where the needle stands. Right of the line the needle is left: fly toward the needle."""
        if abs(self.course_lies_deg) <= _ON_THE_LINE_DEG:
            return Side.CENTRE
        return Side.RIGHT if self.course_lies_deg > 0.0 else Side.LEFT

    @property
    def full(self) -> bool:
        """Whether the needle rests at its stop and tells no more than the side."""
        return abs(self.course_lies_deg) >= FULL_SCALE_DEG

    @property
    def flag_doubtful(self) -> bool:
        """Whether the aircraft is so near to abeam that the flag may be OFF."""
        return abs(self.course_lies_deg) > 90.0 - ABEAM_DOUBT_DEG


def vor_indication(*, radial_deg: float, selected_course_deg: float) -> Indication:
    """Tell what a VOR indicator shows on a radial with a course selected.

    Parameters
    ----------
    radial_deg, selected_course_deg : float
        Both as the station counts them. [deg]

    Notes
    -----
    x = selected course - radial, folded to -180 < x <= 180. Nearer than 90 the selected course leads away from the station: FROM, and
    the needle stands at x. Beyond 90 it leads to it: TO, and the needle stands at 180 - x. On the line abeam itself the flag is OFF.

    References
    ----------
    FAA-H-8083-15, VOR receiver. Checked: tests/reference/test_vor_indicator.py.
    """
    x_deg = difference_deg(selected_course_deg, radial_deg)
    if abs(abs(x_deg) - 90.0) <= _ON_THE_LINE_DEG:
        return Indication(flag=Flag.OFF, course_lies_deg=x_deg)
    if abs(x_deg) < 90.0:
        return Indication(flag=Flag.FROM, course_lies_deg=x_deg)
    return Indication(flag=Flag.TO, course_lies_deg=difference_deg(180.0, x_deg))


def sensing_reversed(*, heading_deg: float, selected_course_deg: float) -> bool:
    """Tell whether the needle points away from the course: the aircraft flies more than 90 degrees from what is selected."""
    return abs(difference_deg(heading_deg, selected_course_deg)) > 90.0


def relative_bearing_deg(*, bearing_deg, heading_deg):
    """Return where the pointer of an NDB stands, clockwise from the nose, for a bearing to the station from the same north. [deg]"""
    return fold_deg(np.subtract(bearing_deg, heading_deg))


def off_course_nm(distance_nm, angle_deg):
    """Return how far off a line through the station an angle at the station is, at a distance from it along the line. [NM]

    Raises
    ------
    OutOfRange
        Scalars only: the angle is 90 degrees or more. Arrays hold NaN there.

    Notes
    -----
    d tan(angle). One in sixty (d angle / 60) and 200 ft a dot a mile read 5 to 6 % less.
    """
    within = np.abs(angle_deg) < 90.0
    return checked(
        plain(np.multiply(distance_nm, np.tan(np.radians(np.where(within, angle_deg, 0.0))))),
        valid=within,
        error=lambda: OutOfRange(
            f"{angle_deg:g} degrees off a line is abeam of the station or behind it, where no distance off can be told. "
            "Give less than 90 degrees.",
            code="off-course-angle",
        ),
    )
