"""Limits a station publishes for its own parts: sectors, outages between dates, and status."""

from __future__ import annotations

from datetime import date

import numpy as np

from server.radio.beacon import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, CoverageSector, Outage, UnusableSector
from server.radio.reception import Cause, Finding, ReceptionState

ALIGNMENT_DOUBT_DEG = 5.0
"""How far an estimated alignment may be off; arcs are taken this much to the safe side. Common practice: estimates from a magnetic model
miss old alignments by 3 to 5 degrees."""

_ROUNDING_DEG = 1e-6  # an arc's end that is missed only by rounding is on the arc


def off_the_air_on(beacon: Beacon, on: date) -> bool:
    """Tell whether every part of a beacon is withdrawn or out of service on a day; a beacon without parts is not told to be."""
    gone = (ComponentStatus.WITHDRAWN, ComponentStatus.OUT_OF_SERVICE)
    return bool(beacon.components) and all(part.status in gone or outage_on(part, on) is not None for part in beacon.components)


def in_arc(radial_deg, *, from_radial_deg: float, to_radial_deg: float, widen_deg: float = 0.0):
    """Tell which radials lie on the clockwise arc from the first to the second, both included.

    Parameters
    ----------
    radial_deg : float or array (n,)
        [deg]
    from_radial_deg, to_radial_deg : float
        The arc may cross 360. Equal radials, and 0 to 360, are the full circle. [deg]
    widen_deg : float
        Added at both ends; negative narrows, and an arc narrowed to nothing holds no radial. The full circle stays full. [deg]

    Returns
    -------
    bool or array (n,) of bool
    """
    span_deg = (to_radial_deg - from_radial_deg) % 360.0
    if span_deg == 0.0 or span_deg + 2.0 * widen_deg >= 360.0:
        return np.ones(np.shape(radial_deg), dtype=bool)
    rim_deg = widen_deg + _ROUNDING_DEG
    return (np.asarray(radial_deg) - from_radial_deg + rim_deg) % 360.0 <= span_deg + 2.0 * rim_deg


def unusable_at(sector: UnusableSector, *, radial_deg, distance_nm, altitude_ft, widen_deg: float = 0.0):
    """Tell at which points a sector forbids the use of its part.

    Parameters
    ----------
    sector : UnusableSector
    radial_deg, distance_nm, altitude_ft : float or array (n,)
        As the station reads them [deg], along the ground [NM], above mean sea level [ft]. A radial of NaN, overhead, is in no sector.
    widen_deg : float
        See ``in_arc``. [deg]

    Returns
    -------
    bool or array (n,) of bool

    Notes
    -----
    Beyond is farther than the distance, within is up to and including it, below is lower than the altitude; all that are given must hold.

    References
    ----------
    Clockwise arcs through 360: AIXM conceptual model. Beyond and below: common practice of US station remarks, from memory.
    """
    holds = in_arc(radial_deg, from_radial_deg=sector.from_radial_deg, to_radial_deg=sector.to_radial_deg, widen_deg=widen_deg)
    if sector.beyond_nm is not None:
        holds = holds & (np.asarray(distance_nm) > sector.beyond_nm)
    if sector.within_nm is not None:
        holds = holds & (np.asarray(distance_nm) <= sector.within_nm)
    if sector.below_altitude_ft is not None:
        holds = holds & (np.asarray(altitude_ft) < sector.below_altitude_ft)
    return holds


def covers_at(sector: CoverageSector, *, radial_deg, distance_nm, altitude_ft, widen_deg: float = 0.0):
    """Tell which points lie in one sector of a designated coverage; range and both altitudes are included.

    Parameters and result as ``unusable_at``. Overhead, where the radial is NaN, every sector begins.
    """
    holds = in_arc(radial_deg, from_radial_deg=sector.from_radial_deg, to_radial_deg=sector.to_radial_deg, widen_deg=widen_deg)
    holds = (holds | np.isnan(radial_deg)) & (np.asarray(distance_nm) <= sector.range_nm)
    if sector.lowest_altitude_ft is not None:
        holds = holds & (np.asarray(altitude_ft) >= sector.lowest_altitude_ft)
    if sector.highest_altitude_ft is not None:
        holds = holds & (np.asarray(altitude_ft) <= sector.highest_altitude_ft)
    return holds


def outage_on(component: Component, on: date) -> Outage | None:
    """Return the first notified outage that covers the day, or None."""
    return next((outage for outage in component.outages if _covers_day(outage, on)), None)


def status_findings(*, beacon: Beacon, kind: ComponentKind, on: date) -> tuple[Finding, ...]:
    """List what the station's own records say against using one part on a day, whatever the place.

    Parameters
    ----------
    beacon : Beacon
    kind : ComponentKind
        The part to be used. Azimuth means by a VOR receiver.
    on : date

    Returns
    -------
    tuple of Finding
        Empty when the part is stated as operating and nothing is notified.
    """
    component = beacon.component(kind)
    if component is None:
        return (_against(Cause.NO_SUCH_COMPONENT, detail=f"{beacon.ident} has no {kind} part"),)
    findings = []
    if kind is ComponentKind.AZIMUTH and beacon.kind is BeaconKind.TACAN:
        findings.append(_against(Cause.NOT_FOR_VOR_RECEIVER, detail="a VOR receiver does not hear the azimuth of a TACAN"))
    if component.status is ComponentStatus.OUT_OF_SERVICE:
        findings.append(_against(Cause.OUT_OF_SERVICE))
    elif component.status is ComponentStatus.WITHDRAWN:
        findings.append(_against(Cause.WITHDRAWN))
    elif component.status is ComponentStatus.UNKNOWN:
        detail = "not confirmed on the air"
        findings.append(Finding(cause=Cause.STATUS_UNKNOWN, state=ReceptionState.MARGINAL, detail=detail))
    if restrictions_not_read(component):
        findings.append(Finding(cause=Cause.RESTRICTED, state=ReceptionState.MARGINAL))
    outage = outage_on(component, on)
    if outage is not None:
        findings.append(_against(Cause.OUTAGE, detail=_outage_words(outage)))
    return tuple(findings)


def restrictions_not_read(component: Component) -> bool:
    """Tell whether a part is published as restricted while neither its unusable sectors nor a reason to leave them out are entered."""
    return component.restrictions is not None and not component.restrictions.strip() and not component.unusable


def _against(cause: Cause, detail: str = "") -> Finding:
    return Finding(cause=cause, state=ReceptionState.NOT_RECEIVED, detail=detail)


def _covers_day(outage: Outage, on: date) -> bool:
    return (outage.first_day is None or outage.first_day <= on) and (outage.last_day is None or on <= outage.last_day)


def _outage_words(outage: Outage) -> str:
    days = [f"from {outage.first_day.isoformat()}"] if outage.first_day else []
    days += [f"to {outage.last_day.isoformat()}"] if outage.last_day else ["until further notice"]
    return " ".join(days) + (f": {outage.reason}" if outage.reason else "")
