"""What a person should look at again in a thing as it is kept: contradictions that are possible, and so are not refused.

The rules for single values are those of the tables that are loaded (server.exchange); here are those that need the region round the thing.
"""

from __future__ import annotations

from datetime import date

from server.errors import ProjectError
from server.exchange import PARTS_OF_KIND, Findings, check_pairing, checked_frequency, checked_ident, warn_of_odd_alignment
from server.navigation import Aircraft, Position, difference_deg, distance_nm, three_digits, variation
from server.persistence import Library, RegionRecord, stored
from server.radio import Beacon, ComponentKind

FAR_OUTSIDE_NM = 60.0
"""A station may serve a region from beyond its edge; farther out than this it is more likely a slip."""

GREATEST_CORRECTION_DEG = 20.0
"""A compass that needs more is swung again, not flown."""


def doubts_about_beacon(library: Library, region: RegionRecord, beacon: Beacon, *, on: date) -> tuple[str, ...]:
    """Say what is odd about a beacon of this region, with the local variation of a day."""
    with library.read() as work:
        same = [other for other in work.beacons.find_by_ident(stored(region.id), beacon.ident) if other.kind is beacon.kind]
    others = [other for other in same if other.id != beacon.id]
    return (*_values_in_doubt(beacon, on), *_parts_in_doubt(beacon), *_twins(beacon, others), *doubts_about_place(region, beacon.position))


def doubts_about_place(region: RegionRecord, position: Position) -> tuple[str, ...]:
    """Say when something stands far outside its region."""
    away_nm = outside_nm(region, position)
    if away_nm <= FAR_OUTSIDE_NM:
        return ()
    return (f"It stands {away_nm:,.0f} NM from the edge of the region. Is a letter (N S E W) or a sign wrong?",)


def doubts_about_aircraft(aircraft: Aircraft) -> tuple[str, ...]:
    """Say which lines of the compass card correct by more than a compass is ever off."""
    return tuple(
        f"Compass card, for {three_digits(entry.magnetic_deg)} steer {three_digits(entry.steer_deg)}: "
        f"that is {abs(turn_deg):.0f}°, more than a compass in order is off. Is it a slip?"
        for entry in aircraft.compass_card
        if abs(turn_deg := difference_deg(entry.steer_deg, entry.magnetic_deg)) > GREATEST_CORRECTION_DEG
    )


def _values_in_doubt(beacon: Beacon, on: date) -> tuple[str, ...]:
    findings = Findings(0)
    try:
        checked_ident(beacon.ident, findings)
        if beacon.frequency_khz is not None:
            checked_frequency(beacon.kind, beacon.frequency_khz, findings)
    except ProjectError as problem:
        findings.warn("", problem.message)
    if beacon.channel or beacon.component(ComponentKind.DISTANCE) is not None:
        check_pairing(channel=beacon.channel, frequency_khz=beacon.frequency_khz, findings=findings)
    local_deg = variation(beacon.position, on).deg
    warn_of_odd_alignment(beacon.alignment, position=beacon.position, variation_deg=local_deg, findings=findings)
    return tuple(warning.message for warning in findings.warnings)


def _parts_in_doubt(beacon: Beacon) -> tuple[str, ...]:
    usual, present = PARTS_OF_KIND[beacon.kind], [part.kind for part in beacon.components]
    made_of = " and ".join(usual)
    missing = (f"A {beacon.kind} has {made_of}; this one has no {part} part." for part in usual if part not in present)
    extra = (f"A {beacon.kind} has no {part} part, and this one has." for part in present if part not in usual)
    return (*missing, *extra)


def _twins(beacon: Beacon, others: list[Beacon]) -> tuple[str, ...]:
    return tuple(
        f"There is another {other.kind} {other.ident} here already: {other.name}, "
        f"{distance_nm(beacon.position, other.position):,.0f} NM away."
        for other in others
    )


def outside_nm(region: RegionRecord, position: Position) -> float:
    """How far a position lies from the region's box; 0 inside it, and where the region has none. [NM]"""
    south, north, west, east = region.south_deg, region.north_deg, region.west_deg, region.east_deg
    if south is None or north is None or west is None or east is None:
        return 0.0
    lat_deg = min(max(position.lat_deg, south), north)
    beyond_west, beyond_east = (west - position.lon_deg) % 360.0, (position.lon_deg - east) % 360.0
    inside = (position.lon_deg - west) % 360.0 <= (east - west) % 360.0
    lon_deg = position.lon_deg if inside else west if beyond_west < beyond_east else east
    return float(distance_nm(position, Position(lat_deg=lat_deg, lon_deg=lon_deg)))
