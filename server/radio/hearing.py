"""What one part of a beacon is heard like at many places at once: the findings of a single place, asked for a whole flight in one go.

Field strength is left out, as in coverage.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from server.radio.band import STANDARD_DOUBT, SightDoubt
from server.radio.beacon import Beacon, Component, ComponentKind
from server.radio.checks import Check, Part, checks_at, part_of
from server.radio.coverage import STATES, See, points_seen, states_at
from server.radio.ground import Ground
from server.radio.reception import Cause, ReceptionState
from server.radio.sight import lowest_altitudes
from server.radio.stretches import severity
from server.radio.survey import antenna_of


@dataclass(frozen=True, kw_only=True, eq=False)
class HeardAlong:
    """One part of a beacon at n places, in their order."""

    beacon: Beacon
    component: ComponentKind
    antenna_altitude_ft: float | None
    """None where it is not known. [ft]"""
    states: tuple[ReceptionState, ...]
    causes: tuple[tuple[Cause, ...], ...]
    """What makes each state what it is; empty where it is received."""
    margins_ft: tuple[float | None, ...]
    """How far above the altitude from which the antenna is surely seen; None where not known, and for an NDB. [ft]"""
    distance_nm: np.ndarray
    bearing_true_deg: np.ndarray
    """Along the ground from the part [NM], and true at the part, NaN overhead [deg]. (n,)"""


def heard_at_places(
    *,
    beacon: Beacon,
    component: Component,
    lat_deg: np.ndarray,
    lon_deg: np.ndarray,
    altitude_ft: np.ndarray,
    ground: Ground,
    on: date,
    estimated_declination_deg: float | None,
    night: str = "",
    doubt: SightDoubt = STANDARD_DOUBT,
    see: See = lowest_altitudes,
) -> HeardAlong:
    """Ask one part of a beacon at many places (n,), each at its own altitude, whether it is received there. ``night`` as for survey_leg."""
    antenna = antenna_of(beacon, component, ground)
    part = part_of(
        beacon=beacon,
        component=component,
        antenna=antenna,
        on=on,
        estimated_declination_deg=estimated_declination_deg,
        night=night,
    )
    points = points_seen(part, lat_deg=lat_deg, lon_deg=lon_deg, altitude_ft=altitude_ft, ground=ground, doubt=doubt, see=see)
    worst = states_at(part, points)
    margin_ft = np.where(points.ground_unknown, np.nan, altitude_ft - points.surely_seen_ft)
    checks = checks_at(part, points)
    return HeardAlong(
        beacon=beacon,
        component=component.kind,
        antenna_altitude_ft=_known(part),
        states=tuple(STATES[each] for each in worst),
        causes=tuple(_ruling(checks, place, int(worst[place])) for place in range(worst.size)),
        margins_ft=tuple(float(each) if math.isfinite(each) else None for each in margin_ft),
        distance_nm=points.distance_nm,
        bearing_true_deg=points.bearing_true_deg,
    )


def _ruling(checks: tuple[Check, ...], place: int, worst: int) -> tuple[Cause, ...]:
    ruling = [check.cause for check in checks if check.holds[place] and severity(check.state) == worst]
    return tuple(dict.fromkeys(ruling)) if worst else ()


def _known(part: Part) -> float | None:
    return part.altitude_ft if math.isfinite(part.altitude_ft) else None
