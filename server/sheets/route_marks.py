"""The route as every chart draws it: its legs by reception state, and a bar where it changes beacons in flight."""

from __future__ import annotations

import math

import numpy as np

from server.navigation import points_along
from server.planning.log import LogLeg
from server.sheets import symbols
from server.sheets.chart_frame import ChartFrame
from server.sheets.state_marks import state_line
from server.sheets.svg import INK, group, moved, path
from server.sheets.words import joined_by_state

AT_AN_END_NM = 0.1
"""A changeover nearer to an end of the leg is not one in flight."""


def leg_points(frame: ChartFrame, leg: LogLeg, from_nm: float, to_nm: float, *, count: int = 9) -> list[tuple[float, float]]:
    """Return places along a part of a leg, on the drawing."""
    lat_deg, lon_deg = points_along(leg.start.position, leg.end.position, np.linspace(from_nm, to_nm, count))
    return frame.along(lat_deg, lon_deg)


def leg_line(frame: ChartFrame, leg: LogLeg) -> str:
    """Draw a leg by reception state."""
    parts = [
        state_line(leg_points(frame, leg, part.from_nm, min(part.to_nm, leg.distance_nm)), part.state)
        for part in joined_by_state(leg.stretches)
        if part.length_nm > 0.0
    ]
    if not parts:  # no beacon guides it: a plain line, since there is no state to tell
        parts = [path(leg_points(frame, leg, 0.0, leg.distance_nm), fill="none", stroke=INK, stroke_width=1.2, class_="unguided")]
    return group(*parts, class_="leg", data_leg=leg.number)


def changes_in_flight(leg: LogLeg) -> bool:
    """Whether a leg changes beacons somewhere between its ends."""
    return leg.changeover_nm is not None and AT_AN_END_NM < leg.changeover_nm < leg.distance_nm - AT_AN_END_NM


def changeover_bar(frame: ChartFrame, leg: LogLeg) -> str:
    """Draw a bar across a leg where it changes beacons in flight; none at its very ends."""
    at_nm = leg.changeover_nm
    if at_nm is None or not changes_in_flight(leg):
        return ""
    before, at, after = (leg_points(frame, leg, place, place, count=1)[0] for place in (at_nm - 0.05, at_nm, at_nm + 0.05))
    along_deg = math.degrees(math.atan2(after[0] - before[0], -(after[1] - before[1])))
    return moved(at, symbols.changeover_symbol(along_deg + 90.0))
