"""Survey one part of a beacon along a leg: the stretches where it is received, marginal, unknown or not received, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from itertools import pairwise

import numpy as np

from server.navigation import distance_nm
from server.radio.band import STANDARD_DOUBT, SightDoubt
from server.radio.beacon import Beacon, Component, ComponentKind
from server.radio.checks import Check, Part, Points, checks_at, in_cone, part_of
from server.radio.cure import ReceivedFrom, received_from
from server.radio.field_along import FieldAlong, field_along
from server.radio.ground import Ground
from server.radio.leg_view import AcrossRays, AlongRay, LegPath, first_samples_nm, ridge_at, view_of_leg
from server.radio.limits import status_findings
from server.radio.reception import Cause, Finding, ReceptionState, Ridge, Stretch
from server.radio.sight import Antenna, SightTable, lowest_altitudes, place_antenna
from server.radio.stretches import severity, worst_state

SAME_PLACE_NM = 0.1
"""A part this near to the station stands on ground of the same elevation."""


@dataclass(frozen=True, kw_only=True, eq=False)
class LegSurvey:
    """Reception of one part of a beacon along a leg. ``stretches`` tile the leg from 0 to its length."""

    beacon: Beacon
    component: ComponentKind
    stretches: tuple[Stretch, ...]
    lowest_altitude_whole_leg_ft: float | None
    """Lowest altitude at which terrain hides no point of the leg outside the cone overhead. None where any ground in question is not
    known, where no height helps, and for an NDB, which needs no line of sight."""
    received_from: ReceivedFrom
    """The lowest altitude at which the whole leg, flown level, is received: every finding counted, the band of the sight too."""
    sample_nm: np.ndarray
    """From the start of the leg, rising. (n,) [NM]"""
    lowest_altitude_ft: np.ndarray
    """From which the antenna is in sight over each sample; NaN where not known, and beside the antenna, where nothing hides it. [ft]"""
    spare_ft: np.ndarray
    """How far each sample of the path is above the altitude from which the antenna is surely seen, negative below; NaN where not known, and
    for a part that needs no line of sight. [ft]"""
    states: tuple[ReceptionState, ...]
    """State at each sample."""


def survey_leg(
    *,
    beacon: Beacon,
    component: ComponentKind,
    path: LegPath,
    ground: Ground,
    on: date,
    estimated_declination_deg: float | None,
    night: str = "",
    doubt: SightDoubt = STANDARD_DOUBT,
    see: Callable[..., SightTable] = lowest_altitudes,
) -> LegSurvey:
    """Find out where along a leg one part of a beacon will be received, and why not elsewhere.

    Parameters
    ----------
    beacon : Beacon
    component : ComponentKind
        The part asked for. One that the beacon does not have is not received anywhere.
    path : LegPath
    ground : Ground
    on : date
        Day of the flight, for outages.
    estimated_declination_deg : float or None
        Variation by the magnetic model at the station, used for the radials of sectors where its alignment is not known. [deg]
    night : str
        Why it is to be taken as night, in words; empty by day. Beyond NIGHT_RANGE_NM the bearing of an NDB is then marginal.
    doubt : SightDoubt
        What is not known exactly of refraction, ground and antenna: inside the band it makes, the state is marginal.
    see : callable
        lowest_altitudes, or one that does the same from tables made before (server.radio.sights.TableSights). It is asked about antennas
        beside the leg; one that stands on an end of the leg always looks along its own exact ray.

    Returns
    -------
    LegSurvey

    Notes
    -----
    The state at a point is the worst of independent findings: status and outages, published volume or designated coverage, unusable
    sectors, line of sight over terrain on a 4/3 earth, the cone overhead. Points are sampled, and every gap between two that differ is
    halved until it is 0.002 NM where the beacon stands on an end of the leg (one ray, exact on the posts) and 0.04 NM elsewhere; the
    edge is its middle. A change and its return between two first samples (0.05 and 0.2 NM apart: 2 and 7 seconds at 100 kt) may be
    missed. Vertices of the profile, the point nearest to the beacon and the crests of the ray are always samples.
    """
    own_part = beacon.component(component)
    if own_part is None:
        return _survey_of_nothing(beacon, component, path, on)
    antenna = antenna_of(beacon, own_part, ground)
    part = part_of(
        beacon=beacon,
        component=own_part,
        antenna=antenna,
        on=on,
        estimated_declination_deg=estimated_declination_deg,
        night=night,
    )
    view = view_of_leg(
        position=beacon.component_position(component),
        antenna=antenna if part.needs_sight else None,
        path=path,
        ground=ground,
        doubt=doubt,
        see=see,
    )
    field = field_along(beacon, component, antenna if part.needs_sight else None, path, ground)
    points, checks = _refined(part, view, field, first_samples_nm(path, view))

    keys = _keys(checks)
    changes = np.flatnonzero(keys[1:] != keys[:-1]) + 1
    bounds = [0, *changes.tolist(), keys.size]
    edges_nm = [0.0, *((points.along_nm[changes - 1] + points.along_nm[changes]) / 2.0).tolist(), path.distance_nm]
    ridge = partial(_ridge, antenna, path, ground, points)
    number = np.repeat(np.arange(len(bounds) - 1), np.diff(bounds))
    stretches = []
    for (first, last), from_nm, to_nm, cured in zip(
        pairwise(bounds), edges_nm, edges_nm[1:], received_from(part, points, number), strict=False
    ):
        run = slice(first, last)
        findings = _findings(checks, points, run, ridge)
        margin_ft, tightest_nm = _tightest(part, points, run)
        stretches.append(
            Stretch(
                from_nm=from_nm,
                to_nm=to_nm,
                state=worst_state(findings),
                findings=findings,
                margin_ft=margin_ft,
                tightest_nm=tightest_nm,
                margin_db=_finite(np.fmin.reduce(points.margin_db[run])),
                received_from_ft=cured.altitude_ft,
                incurable=cured.incurable,
            )
        )
    known_ft = np.where(points.ground_unknown | ~np.isfinite(points.lowest_altitude_ft), np.nan, points.lowest_altitude_ft)
    return LegSurvey(
        beacon=beacon,
        component=component,
        stretches=tuple(stretches),
        lowest_altitude_whole_leg_ft=_lowest_altitude_whole_leg_ft(part, points),
        received_from=received_from(part, points, np.zeros(number.shape, dtype=int))[0],
        sample_nm=points.along_nm,
        lowest_altitude_ft=known_ft,
        spare_ft=_spare_ft(part, points),
        states=tuple(stretch.state for stretch, a, b in zip(stretches, bounds, bounds[1:], strict=False) for _ in range(a, b)),
    )


def _survey_of_nothing(beacon: Beacon, component: ComponentKind, path: LegPath, on: date) -> LegSurvey:
    findings = status_findings(beacon=beacon, kind=component, on=on)
    whole = Stretch(from_nm=0.0, to_nm=path.distance_nm, state=worst_state(findings), findings=findings)
    return LegSurvey(
        beacon=beacon,
        component=component,
        stretches=(whole,),
        lowest_altitude_whole_leg_ft=None,
        received_from=ReceivedFrom(altitude_ft=None, incurable=findings[0].cause),
        sample_nm=np.array([0.0, path.distance_nm]),
        lowest_altitude_ft=np.full(2, np.nan),
        spare_ft=np.full(2, np.nan),
        states=(whole.state, whole.state),
    )


def antenna_of(beacon: Beacon, component: Component, ground: Ground) -> Antenna | None:
    """Stand the part's antenna at its own place; a part beside the station shares the station's elevation."""
    position = component.position or beacon.position
    elevation_ft = component.elevation_ft
    if elevation_ft is None and distance_nm(position, beacon.position) <= SAME_PLACE_NM:
        elevation_ft = beacon.elevation_ft
    return place_antenna(position=position, published_elevation_ft=elevation_ft, antenna_height_ft=beacon.antenna_height_ft, ground=ground)


def _refined(part: Part, view: AlongRay | AcrossRays, field: FieldAlong, samples_nm: np.ndarray) -> tuple[Points, tuple[Check, ...]]:
    """Halve the gap between neighbours that differ until it is as small as the view asks."""

    def seen(along_nm: np.ndarray) -> Points:
        return replace(view.points(along_nm), margin_db=field.margin_db(along_nm))

    points = seen(samples_nm)
    while True:
        checks = checks_at(part, points)
        keys = _keys(checks)
        gaps_nm = np.diff(points.along_nm)
        wide = np.flatnonzero((keys[1:] != keys[:-1]) & (gaps_nm > view.edge_nm))
        if wide.size == 0:
            return points, checks
        points = points.merged_with(seen(points.along_nm[wide] + gaps_nm[wide] / 2.0))


def _keys(checks: tuple[Check, ...]) -> np.ndarray:
    """Number the set of (cause, state) that holds at each point: equal numbers, equal sets. (n,) of int"""
    masks: dict[tuple[Cause, ReceptionState], np.ndarray] = {}
    for check in checks:
        found = (check.cause, check.state)
        masks[found] = masks[found] | check.holds if found in masks else check.holds
    return sum((mask.astype(np.int64) << bit for bit, mask in enumerate(masks.values())), start=np.zeros(1, dtype=np.int64))


def _findings(checks: tuple[Check, ...], points: Points, run: slice, ridge: Callable[[int], Ridge | None]) -> tuple[Finding, ...]:
    """Say each cause that holds in a run of points once, the worst first."""
    by_cause: dict[Cause, list[Check]] = {}
    for check in checks:
        if check.holds[run].any():
            by_cause.setdefault(check.cause, []).append(check)
    findings = [_finding(held, points, run, ridge) for held in by_cause.values()]
    return tuple(sorted(findings, key=lambda finding: -severity(finding.state)))


def _finding(held: list[Check], points: Points, run: slice, ridge: Callable[[int], Ridge | None]) -> Finding:
    """Sum up one cause: its worst state, the altitude that cures its worst point, and the ridge there."""
    state = max((check.state for check in held), key=severity)
    held = [check for check in held if check.state is state]
    cures_ft = np.concatenate([check.cure_ft[run][check.holds[run]] for check in held])
    holds = np.logical_or.reduce([check.holds[run] for check in held])
    worst = run.start + int(np.argmax(np.where(holds, points.surely_seen_ft[run], -np.inf)))
    hides, weak = held[0].cause is Cause.TERRAIN, held[0].cause is Cause.WEAK_FIELD
    return Finding(
        cause=held[0].cause,
        state=state,
        ridge=ridge(worst) if hides else None,
        lowest_altitude_ft=float(cures_ft.max()) if np.isfinite(cures_ft).all() else None,
        band_ft=(float(points.surely_hidden_ft[worst]), float(points.surely_seen_ft[worst])) if hides else None,
        margin_db=float(np.nanmin(points.margin_db[run])) if weak else None,
        detail="; ".join(dict.fromkeys(check.detail for check in held if check.detail)),
    )


def _spare_ft(part: Part, points: Points) -> np.ndarray:
    """How far each point is above what is surely seen; NaN where that is not known. (n,) [ft]"""
    over_ft = points.altitude_ft - points.surely_seen_ft
    return np.where(points.ground_unknown | ~np.isfinite(over_ft) | (not part.needs_sight), np.nan, over_ft)


def _tightest(part: Part, points: Points, run: slice) -> tuple[float | None, float | None]:
    """Where in a run of points the aircraft is least above what is surely seen, and how much that is. [ft], [NM]"""
    over_ft = np.nan_to_num(_spare_ft(part, points)[run], nan=np.inf)
    tightest = int(np.argmin(over_ft))
    if not np.isfinite(over_ft[tightest]):
        return None, None
    return float(over_ft[tightest]), float(points.along_nm[run][tightest])


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _ridge(antenna: Antenna | None, path: LegPath, ground: Ground, points: Points, index: int) -> Ridge | None:
    assert antenna is not None, "terrain hides nothing without an antenna"
    return ridge_at(
        antenna=antenna, path=path, along_nm=float(points.along_nm[index]), altitude_ft=float(points.altitude_ft[index]), ground=ground
    )


def _lowest_altitude_whole_leg_ft(part: Part, points: Points) -> float | None:
    if part.antenna is None or not part.needs_sight:
        return None
    counted = np.ones(points.along_nm.shape, dtype=bool)
    if part.component.kind is ComponentKind.AZIMUTH:
        counted = ~in_cone(part, points)
    highest_ft = points.lowest_altitude_ft[counted].max(initial=-np.inf)
    return float(highest_ft) if np.isfinite(highest_ft) and not points.ground_unknown[counted].any() else None
