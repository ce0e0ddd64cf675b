"""Every independent finding about one part of a beacon, at a number of points.

The points come with what terrain lets the part's antenna see; how they were chosen, and what becomes of them, is not known here.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import date

import numpy as np

from server.errors import OutOfRange
from server.navigation import cone_radius_nm, declination_used
from server.radio.beacon import Beacon, Component, ComponentKind
from server.radio.limits import ALIGNMENT_DOUBT_DEG, covers_at, status_findings, unusable_at
from server.radio.reception import Cause, Finding, ReceptionState
from server.radio.service_volume import greatest_range_nm, has_curve, lowest_covered_height_ft, smallest_class, volume_state
from server.radio.sight import Antenna
from server.radio.stretches import severity
from server.units import feet_from_metres

NIGHT_RANGE_NM = 30.0
"""From here on the sky wave may spoil the bearing of an NDB by night. Handbooks say 30 to 60 NM (common practice); the nearer is taken."""

_EVERYWHERE = np.array(True)


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Points along a leg as one part of a beacon sees them. arrays (n,), in the order of ``along_nm``"""

    along_nm: np.ndarray
    """From the start of the leg. [NM]"""
    altitude_ft: np.ndarray
    """Of the aircraft. [ft]"""
    distance_nm: np.ndarray
    bearing_true_deg: np.ndarray
    """From the part: along the ground [NM], and true at the part [deg], NaN overhead."""
    lowest_altitude_ft: np.ndarray
    """From which the antenna is in sight over the ground that is known. NaN where nothing is known. [ft]"""
    surely_hidden_ft: np.ndarray
    surely_seen_ft: np.ndarray
    """Below the one the antenna is hidden and from the other on it is seen, whatever refraction, ground and antenna may be. [ft]"""
    margin_db: np.ndarray
    """Predicted field above the minimum, NaN where none is predicted. [dB]"""
    ground_unknown: np.ndarray
    """Whether the ray crosses ground that is not known. bool"""

    def merged_with(self, other: Points) -> Points:
        """Return both sets as one, in the order of ``along_nm``."""
        order = np.argsort(np.concatenate((self.along_nm, other.along_nm)), kind="stable")
        return Points(**{f.name: np.concatenate((getattr(self, f.name), getattr(other, f.name)))[order] for f in fields(self)})


@dataclass(frozen=True, kw_only=True, eq=False)
class Check:
    """One possible finding and where it holds. arrays (n,)"""

    cause: Cause
    state: ReceptionState
    holds: np.ndarray
    cure_ft: np.ndarray
    """Altitude that would cure it, NaN where none does or none is known. [ft]"""
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of a beacon, ready to be checked. ``declination_deg`` is None where its radials cannot be told."""

    beacon: Beacon
    component: Component
    antenna: Antenna | None
    declination_deg: float | None
    alignment_doubt_deg: float
    """How far its radials may be out: nothing where its alignment is published and can be true. [deg]"""
    status: tuple[Finding, ...]
    night: str = ""
    """Why it is to be taken as night, in words; empty by day. Only an NDB minds."""

    @property
    def needs_sight(self) -> bool:
        """Whether it works along the line of sight, as VHF and UHF do; an NDB's ground wave does not ask for it."""
        return self.component.kind is not ComponentKind.BEARING

    @property
    def altitude_ft(self) -> float:
        """Altitude of the antenna, NaN where not known. [ft]"""
        return np.nan if self.antenna is None else feet_from_metres(self.antenna.altitude_m)


def part_of(
    *,
    beacon: Beacon,
    component: Component,
    antenna: Antenna | None,
    on: date,
    estimated_declination_deg: float | None,
    night: str = "",
) -> Part:
    """Gather what the checks ask of a beacon's part on a day."""
    declination_deg, doubt_deg = None, 180.0
    try:
        used = declination_used(beacon.alignment, estimated_declination_deg)
        declination_deg = used.declination_deg
        doubt_deg = max(ALIGNMENT_DOUBT_DEG, used.contradicted_by_deg) if used.estimated else 0.0
    except OutOfRange:
        pass  # its sectors are then taken as possible all round: see _sector_checks
    return Part(
        beacon=beacon,
        component=component,
        antenna=antenna,
        declination_deg=declination_deg,
        alignment_doubt_deg=doubt_deg,
        status=status_findings(beacon=beacon, kind=component.kind, on=on),
        night=night,
    )


def checks_at(part: Part, points: Points) -> tuple[Check, ...]:
    """Check every point for everything. The list has the same length and order for any set of points of one part."""
    checks = [_check(points, found.cause, found.state, _EVERYWHERE, detail=found.detail) for found in part.status]
    checks += _volume_checks(part, points)
    checks += _sector_checks(part, points)
    if part.needs_sight:
        checks += _sight_checks(part, points)
    if part.component.kind is ComponentKind.BEARING and part.night:
        checks.append(_check(points, Cause.NIGHT, ReceptionState.MARGINAL, points.distance_nm > NIGHT_RANGE_NM, detail=part.night))
    if part.component.kind is ComponentKind.AZIMUTH:
        checks.append(_check(points, Cause.OVERHEAD_CONE, ReceptionState.NOT_RECEIVED, in_cone(part, points)))
    return tuple(checks)


def in_cone(part: Part, points: Points) -> np.ndarray:
    """Tell which points lie in the cone over an azimuth antenna, where the needle means nothing. (n,) of bool

    Half-angle 50 degrees from the vertical: ICAO Doc 8168 volume II, design value for a VOR (from memory).
    """
    height_ft = points.altitude_ft - part.altitude_ft
    return (height_ft > 0.0) & (points.distance_nm <= cone_radius_nm(height_ft, half_angle_deg=50.0))


def _check(points: Points, cause: Cause, state: ReceptionState, holds, *, cure_ft=np.nan, detail: str = "") -> Check:
    shape = points.along_nm.shape
    return Check(
        cause=cause, state=state, holds=np.broadcast_to(holds, shape), cure_ft=np.broadcast_to(cure_ft, shape).astype(float), detail=detail
    )


def _volume_checks(part: Part, points: Points) -> list[Check]:
    if part.component.coverage:
        return _coverage_checks(part, points)
    service_class = part.component.service_class or smallest_class(part.component.kind)
    height_ft = points.altitude_ft - part.altitude_ft if part.needs_sight else points.altitude_ft
    answer = volume_state(service_class=service_class, height_ft=height_ft, distance_nm=points.distance_nm)
    covered = answer.inside | answer.below_floor
    if part.component.service_class is None:
        words = f"no class is published; the smallest, {service_class}, is assumed"
        return [
            _check(points, Cause.CLASS_UNKNOWN, ReceptionState.MARGINAL, covered, detail=words),
            _check(points, Cause.CLASS_UNKNOWN, ReceptionState.UNKNOWN, ~covered, detail=words),
        ]
    cure_ft = lowest_covered_height_ft(service_class, points.distance_nm) + (part.altitude_ft if part.needs_sight else 0.0)
    cure_ft = np.where(cure_ft > points.altitude_ft, cure_ft, np.nan)
    outside = ~covered
    if np.isnan(part.altitude_ft) and part.needs_sight:
        outside = points.distance_nm > greatest_range_nm(service_class)  # no height is known, so only this much can be said
    words = f"outside service volume {service_class}"
    floor_words = f"under the published curve of class {service_class}" if has_curve(service_class) else ""
    return [
        _check(points, Cause.OUTSIDE_VOLUME, ReceptionState.NOT_PROMISED, outside, cure_ft=cure_ft, detail=words),
        _check(points, Cause.BELOW_VOLUME, ReceptionState.MARGINAL, answer.below_floor, cure_ft=cure_ft, detail=floor_words),
    ]


def _where_promised(part: Part, points: Points, cure_ft) -> np.ndarray:
    """Keep the altitudes from which on the published volume or coverage reaches a point; a climb out of its top cures nothing. (n,) [ft]"""
    raised = replace(points, altitude_ft=np.broadcast_to(cure_ft, points.along_nm.shape).astype(float))
    for check in _volume_checks(part, raised):
        if severity(check.state) >= severity(ReceptionState.UNKNOWN):
            cure_ft = np.where(check.holds & np.isnan(check.cure_ft), np.nan, cure_ft)
    return cure_ft


def _radial_deg(part: Part, points: Points) -> np.ndarray:
    return points.bearing_true_deg - (part.declination_deg or 0.0)


def _coverage_checks(part: Part, points: Points) -> list[Check]:
    """Points in no sector are outside. With an estimated alignment a sector counts less its doubtful rims, which are unknown."""
    doubt_deg = part.alignment_doubt_deg
    certain, possible = np.zeros((2, points.along_nm.size), dtype=bool)
    cure_ft = np.full(points.along_nm.shape, np.nan)
    where = {"radial_deg": _radial_deg(part, points), "distance_nm": points.distance_nm}
    for sector in part.component.coverage:
        certain |= covers_at(sector, altitude_ft=points.altitude_ft, widen_deg=-doubt_deg, **where)
        possible |= covers_at(sector, altitude_ft=points.altitude_ft, widen_deg=doubt_deg, **where)
        if sector.lowest_altitude_ft is not None:
            reached = covers_at(sector, altitude_ft=sector.lowest_altitude_ft, widen_deg=-doubt_deg, **where)
            reached &= points.altitude_ft < sector.lowest_altitude_ft
            cure_ft = np.where(reached, np.fmin(cure_ft, sector.lowest_altitude_ft), cure_ft)
    return [
        _check(
            points,
            Cause.OUTSIDE_VOLUME,
            ReceptionState.NOT_PROMISED,
            ~possible,
            cure_ft=cure_ft,
            detail="outside the designated coverage",
        ),
        _check(
            points,
            Cause.OUTSIDE_VOLUME,
            ReceptionState.UNKNOWN,
            possible & ~certain,
            detail="the station's alignment is not known: near the edge of a coverage sector",
        ),
    ]


def _sector_checks(part: Part, points: Points) -> list[Check]:
    """An estimated alignment widens a sector; where radials cannot be told at all the sector may lie anywhere round the station."""
    state, doubt_deg, words = ReceptionState.NOT_RECEIVED, 0.0, ""
    if part.declination_deg is None:
        state, doubt_deg, words = ReceptionState.UNKNOWN, 180.0, "the station's alignment is not known: the sector may lie on any side"
    elif part.alignment_doubt_deg > 0.0:
        doubt_deg = part.alignment_doubt_deg
        words = f"the station's alignment is an estimate: the sector is widened by {doubt_deg:.0f} degrees on each side"
    radial_deg = _radial_deg(part, points)
    checks = []
    for sector in part.component.unusable:
        holds = unusable_at(
            sector, radial_deg=radial_deg, distance_nm=points.distance_nm, altitude_ft=points.altitude_ft, widen_deg=doubt_deg
        )
        cure_ft = np.nan if sector.below_altitude_ft is None else sector.below_altitude_ft
        full_circle = (sector.to_radial_deg - sector.from_radial_deg) % 360.0 == 0.0
        checks.append(
            _check(
                points,
                Cause.UNUSABLE_SECTOR,
                ReceptionState.NOT_RECEIVED if full_circle else state,
                holds,
                cure_ft=_where_promised(part, points, cure_ft),
                detail="" if full_circle else words,
            )
        )
    return checks


def _sight_checks(part: Part, points: Points) -> list[Check]:
    if part.antenna is None:
        words = "the station's elevation is not published and the ground there is not known"
        return [_check(points, Cause.TERRAIN_UNKNOWN, ReceptionState.UNKNOWN, _EVERYWHERE, detail=words)]
    hidden = points.altitude_ft < points.surely_hidden_ft
    doubtful = ~hidden & (points.altitude_ft < points.surely_seen_ft)
    cure_ft = _where_promised(part, points, points.surely_seen_ft)
    weak = ~hidden & (points.margin_db < 0.0)
    checks = [
        _check(points, Cause.TERRAIN, ReceptionState.NOT_RECEIVED, hidden, cure_ft=cure_ft),
        _check(points, Cause.TERRAIN, ReceptionState.MARGINAL, doubtful, cure_ft=cure_ft),
        _check(points, Cause.WEAK_FIELD, ReceptionState.MARGINAL, weak),
        _check(points, Cause.TERRAIN_UNKNOWN, ReceptionState.UNKNOWN, points.ground_unknown & ~hidden),
    ]
    if part.antenna.elevation_estimated:
        words = "station elevation not published: the ground there is used"
        checks.append(_check(points, Cause.ELEVATION_ESTIMATED, ReceptionState.RECEIVED, _EVERYWHERE, detail=words))
    if part.antenna.height_assumed:
        checks.append(_check(points, Cause.ANTENNA_ASSUMED, ReceptionState.RECEIVED, _EVERYWHERE))
    return checks
