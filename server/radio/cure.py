"""The lowest altitude at which everything is satisfied at once: published volume, line of sight beyond its band, sectors.

Asks the same checks as the survey, at other altitudes. The cone overhead is left out, which every flight over a beacon crosses in a moment,
and so is the field strength, which is predicted for the planned altitude only.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from server.radio.checks import Part, Points, checks_at
from server.radio.reception import Cause, ReceptionState

_ON_FT = 1e-3
"""An altitude that cures is where the trouble ends; just above it, it has ended."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ReceivedFrom:
    """From which altitude a beacon is received over a stretch flown level [ft]; None where none cures a cause, which is then named, and
    for an NDB, whose reception does not depend on height."""

    altitude_ft: float | None
    incurable: Cause | None


def received_from(part: Part, points: Points, group: np.ndarray) -> tuple[ReceivedFrom, ...]:
    """Find for each group of points the lowest altitude at which all of them are received: what lowest_received_ft finds, as records."""
    lowest_ft, causes = lowest_received_ft(part, points, group)
    return tuple(
        ReceivedFrom(altitude_ft=float(lowest) if np.isfinite(lowest) else None, incurable=cause)
        for lowest, cause in zip(lowest_ft, causes, strict=True)
    )


def lowest_received_ft(part: Part, points: Points, group: np.ndarray) -> tuple[np.ndarray, list[Cause | None]]:
    """Find for each group of points the lowest altitude at which all of them are received.

    Parameters
    ----------
    part : Part
    points : Points
        (n,)
    group : array (n,) of int
        The number of the stretch that each point belongs to, from 0 without gaps.

    Returns
    -------
    altitudes : array (groups,)
        NaN where no altitude cures something, and for an NDB, whose reception does not depend on height. [ft]
    causes : list of Cause or None
        What no altitude cures, for each group.

    Notes
    -----
    Begins at the altitude from which the antenna is surely seen over every point, and goes up to what cures each finding that is left. A
    finding that no altitude cures, such as a place beyond the published range, ends it. Where a WEAK_FIELD is found at the planned altitude
    nothing is promised: how strong the field is elsewhere has not been worked out.
    """
    count = int(group.max()) + 1
    incurable = np.full(count, -1)
    causes = list(Cause)
    lowest_ft = np.full(count, part.altitude_ft if np.isfinite(part.altitude_ft) else 0.0)
    if not part.needs_sight:
        return np.full(count, np.nan), [None] * count

    def note(groups: np.ndarray, cause: Cause) -> None:
        new = groups[incurable[groups] < 0]
        incurable[new] = causes.index(cause)

    planned = checks_at(part, points)
    for check in planned:
        if check.cause is Cause.WEAK_FIELD:
            note(group[check.holds], Cause.WEAK_FIELD)
    np.maximum.at(lowest_ft, group, np.where(np.isfinite(points.surely_seen_ft), points.surely_seen_ft, -np.inf))
    for _ in range(len(planned) + 2):  # each try raises the altitude to what cures another of the checks
        needed_ft = lowest_ft.copy()
        raised = replace(points, altitude_ft=lowest_ft[group], margin_db=np.full(group.shape, np.nan))
        for check in checks_at(part, raised):
            if check.state is ReceptionState.RECEIVED or check.cause is Cause.OVERHEAD_CONE or not check.holds.any():
                continue
            held, cure_ft = group[check.holds], check.cure_ft[check.holds] + _ON_FT
            note(held[~(cure_ft > lowest_ft[held])], check.cause)
            np.maximum.at(needed_ft, held, np.where(np.isfinite(cure_ft), cure_ft, -np.inf))
        if (needed_ft == lowest_ft).all():
            break
        lowest_ft = needed_ft
    return np.where(incurable < 0, lowest_ft, np.nan), [causes[number] if number >= 0 else None for number in incurable]
