"""The part of a region's check that looks at each beacon by itself: channel, alignment, class, status, and how old that is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

import numpy as np

from server.errors import ProjectError
from server.exchange import PARTS_OF_KIND, Findings, check_pairing, checked_frequency, checked_ident
from server.navigation import CONTRADICTION_DEG, AlignmentKind, decimal_year, difference_deg, variations_deg
from server.planning.region_check_places import Elevations
from server.planning.region_findings import FindingLevel, RegionFinding, advice, subject_of, warning
from server.radio import Beacon, Component, ComponentKind, ComponentStatus, outage_on
from server.units import metres_from_feet

LOOK_AT_ALIGNMENT_DEG = 2.0
"""From today's variation: so much a station may be off before it is worth a look (common practice: turned back within 2 degrees)."""

WRONG_ALIGNMENT_DEG = CONTRADICTION_DEG
"""More than this is true or grid north, a polar station, or a slip."""

CONFIRMED_WITHIN_YEARS = 2

ADVICE_ONLY = ("frequency-beyond-vor", "frequency-unusual-for-ndb", "ident-of-four", "ident-normalised", "channel-missing")
"""Codes of single values that are possible as they are."""

AT_THE_SOURCE = "Compare it with the aeronautical publication and correct it."


def beacon_findings(beacons: Sequence[Beacon], elevations: Elevations, *, on: date) -> Iterator[RegionFinding]:
    """Find what is wrong or old in single beacons on a day. Withdrawn parts are named once and asked nothing more."""
    for beacon, variation_deg in zip(beacons, _variations_deg(beacons, elevations, on), strict=True):
        yield from _values(beacon)
        yield from _parts(beacon)
        yield from _status(beacon, on)
        yield from _alignment(beacon, variation_deg, on)
        yield from _age(beacon, on)


def _variations_deg(beacons: Sequence[Beacon], elevations: Elevations, on: date) -> list[float]:
    if not beacons:
        return []
    heights_m = [metres_from_feet(beacon.elevation_ft) if beacon.elevation_ft is not None else 0.0 for beacon in beacons]
    found = variations_deg(
        np.array([beacon.position.lat_deg for beacon in beacons]),
        np.array([beacon.position.lon_deg for beacon in beacons]),
        decimal_year=decimal_year(on),
        altitude_m=np.array(heights_m),
    )
    return [float(one) for one in found]


def _values(beacon: Beacon) -> Iterator[RegionFinding]:
    """What the rules of single values say, which are those of the tables that are loaded."""
    findings = Findings(0)
    try:
        checked_ident(beacon.ident, findings)
    except ProjectError as problem:
        yield warning("ident-not-usable", beacon, problem.message, AT_THE_SOURCE)
    try:
        if beacon.frequency_khz is not None:
            checked_frequency(beacon.kind, beacon.frequency_khz, findings)
        elif not beacon.channel:
            yield warning("frequency-unknown", beacon, "No frequency and no channel is given: it cannot be tuned.", AT_THE_SOURCE)
    except ProjectError as problem:
        yield warning("frequency-out-of-band", beacon, problem.message, AT_THE_SOURCE)
    if beacon.channel or _on_air(beacon, ComponentKind.DISTANCE):
        check_pairing(channel=beacon.channel, frequency_khz=beacon.frequency_khz, findings=findings)
    for found in findings.warnings:
        level = FindingLevel.ADVICE if found.code in ADVICE_ONLY else FindingLevel.WARNING
        yield RegionFinding(
            level=level, code=found.code, subject=subject_of(beacon), words=found.message, what_to_do="Compare it with another source."
        )


def _on_air(beacon: Beacon, kind: ComponentKind) -> Component | None:
    part = beacon.component(kind)
    return None if part is None or part.status is ComponentStatus.WITHDRAWN else part


def _parts(beacon: Beacon) -> Iterator[RegionFinding]:
    usual, present = PARTS_OF_KIND[beacon.kind], [part.kind for part in beacon.components]
    missing, extra = [part for part in usual if part not in present], [part for part in present if part not in usual]
    if missing:
        words = f"A {beacon.kind} has {' and '.join(usual)}; this one has no {' and no '.join(missing)} part."
        yield advice("parts-of-kind", beacon, words, "Leave it if that part was taken down; else add it on the card.")
    if extra:
        words = f"A {beacon.kind} has no {' and no '.join(extra)} part, and this one has."
        yield advice("parts-of-kind", beacon, words, "Change its kind, or take the part out.")


def _status(beacon: Beacon, on: date) -> Iterator[RegionFinding]:
    """What is known to be off the air on the day, what is withdrawn, and what nobody has said."""
    off: dict[str, list[ComponentKind]] = {}
    for part in beacon.components:
        outage = outage_on(part, on)
        if part.status is ComponentStatus.OUT_OF_SERVICE:
            off.setdefault("out of service", []).append(part.kind)
        elif part.status is not ComponentStatus.WITHDRAWN and outage is not None:
            until = f"until {outage.last_day.isoformat()}" if outage.last_day else "until further notice"
            reason = f" ({outage.reason})" if outage.reason else ""
            off.setdefault(f"out of service on {on.isoformat()}, {until}{reason}", []).append(part.kind)
    for what, kinds in off.items():
        words = f"Its {' and '.join(kinds)} {'is' if len(kinds) == 1 else 'are'} {what}."
        yield warning("out-of-service", beacon, words, "Plan without it; change the status when it is back for good.")
    gone = _kinds(part for part in beacon.components if part.status is ComponentStatus.WITHDRAWN)
    if gone:
        words = f"Withdrawn for good: its {gone}."
        yield advice("withdrawn", beacon, words, "Remove what is gone, once no route uses it.")
    unknown = _kinds(part for part in beacon.components if part.status is ComponentStatus.UNKNOWN)
    if unknown:
        words = f"Nobody says whether its {unknown} is on the air: what is received from it is marginal at best."
        yield advice("status-unknown", beacon, words, "Enter its status from the aeronautical publication.")


def _alignment(beacon: Beacon, variation_deg: float, on: date) -> Iterator[RegionFinding]:
    if _on_air(beacon, ComponentKind.AZIMUTH) is None:
        return
    alignment = beacon.alignment
    if alignment.kind is AlignmentKind.UNKNOWN or alignment.declination_deg is None:
        words = f"Its alignment is not known: radials count from an estimate, today's variation ({_signed(variation_deg)})."
        yield warning("alignment-unknown", beacon, words, "Enter the station's declination, with its year.")
        return
    if alignment.kind is AlignmentKind.MAGNETIC:
        apart_deg = abs(difference_deg(alignment.declination_deg, variation_deg))
        words = (
            f"Its alignment, {_signed(alignment.declination_deg)}, is {apart_deg:.1f}° from the variation there on {on.isoformat()}, "
            f"{_signed(variation_deg)}. A radial counts from the first, a heading from the second."
        )
        if apart_deg > WRONG_ALIGNMENT_DEG:
            todo = "Is it aligned to true or grid north, or is a sign wrong? Compare it with the chart."
            yield warning("alignment-far-from-variation", beacon, words, todo)
        elif apart_deg > LOOK_AT_ALIGNMENT_DEG:
            todo = "Likely an old alignment: keep it if the chart has it so, and never put the variation in its place."
            yield advice("alignment-old", beacon, words, todo)
    if alignment.year is None and alignment.kind is not AlignmentKind.TRUE:
        words = "Its alignment has no year, so nobody can tell whether the station was turned since."
        yield advice("alignment-without-year", beacon, words, "Enter the year of the alignment.")


def _age(beacon: Beacon, on: date) -> Iterator[RegionFinding]:
    in_use = [part for part in beacon.components if part.status is not ComponentStatus.WITHDRAWN]
    if classless := _kinds(part for part in in_use if part.service_class is None and not part.coverage):
        words = f"No class is published for its {classless}: the smallest service volume is assumed, and inside it marginal at best."
        yield advice("class-unknown", beacon, words, "Enter the class, or the designated coverage.")
    if never := _kinds(part for part in in_use if part.last_confirmed is None):
        words = f"Nobody has confirmed its {never}."
        yield advice("never-confirmed", beacon, words, "Compare it with the current publication and enter the day.")
    oldest = _years_before(on, CONFIRMED_WITHIN_YEARS)
    old = [part for part in in_use if part.last_confirmed is not None and part.last_confirmed < oldest]
    if old:
        day = min(part.last_confirmed for part in old if part.last_confirmed is not None)
        words = (
            f"Its {_kinds(old)} was last confirmed on {day.isoformat()}, more than {CONFIRMED_WITHIN_YEARS} years before {on.isoformat()}."
        )
        yield advice("confirmed-long-ago", beacon, words, "Compare it with the current publication and enter the day.")


def _kinds(parts) -> str:
    return " and ".join(part.kind for part in parts)


def _years_before(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year - years)
    except ValueError:  # 29 February
        return day.replace(year=day.year - years, day=28)


def _signed(east_deg: float) -> str:
    return f"{abs(east_deg):.1f}° {'E' if east_deg > 0.0 else 'W'}" if abs(east_deg) >= 0.05 else "0.0°"
