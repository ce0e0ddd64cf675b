"""What persistence keeps that the core has no value for: regions, and the loads that filled them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class RegionRecord:
    """One self-contained area: its box and chart projection [deg], its sea outline (GeoJSON text) and its level rule.

    ``slug`` is the short name used in addresses. What is None has not been given yet. ``west_deg`` > ``east_deg`` means that the box
    crosses the antimeridian. ``notice`` is printed on every page and sheet of a fictional region.
    """

    id: int | None = None
    slug: str
    name: str
    fictional: bool
    notice: str = ""
    ground_fingerprint: str = ""
    south_deg: float | None = None
    north_deg: float | None = None
    west_deg: float | None = None
    east_deg: float | None = None
    standard_parallel_1_deg: float | None = None
    standard_parallel_2_deg: float | None = None
    central_meridian_deg: float | None = None
    central_parallel_deg: float | None = None
    sea_geojson: str = ""
    level_rule: str = "ICAO"
    source: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadRecord:
    """One load of a file into a region: what came in, from which content, and what it changed. ``what`` is "beacons", "airfields" …"""

    id: int | None = None
    region_id: int
    what: str
    source_name: str
    content_sha256: str
    loaded_at_utc: datetime
    taken: int
    refused: int
    added: int
    changed: int
    gone: int


def stored(number: int | None) -> int:
    """Return the number of a value that was read from the database, where each has one."""
    assert number is not None, "what comes from the database has a number"
    return number
