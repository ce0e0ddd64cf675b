"""What is published about one beacon against what is predicted, at one altitude, as GeoJSON: the area from which its antenna is in sight,
its published volume, its unusable sectors, and how far the other stations on its channel are heard over a smooth earth."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from server.errors import OutOfRange
from server.navigation import Position, declination_used, destinations, three_digits, variation
from server.planning.coverage import BeaconCoverage
from server.planning.interference import transmission_of
from server.radio import (
    Beacon,
    Component,
    ComponentKind,
    CoverageSector,
    ReceptionState,
    UnusableSector,
    antenna_of,
    published_reach_nm,
    radio_horizon_nm,
    volume_range_nm,
)
from server.radio.limits import ALIGNMENT_DOUBT_DEG
from server.sheets import cautions, figures
from server.sheets.coverage_areas import area_feature, area_where
from server.sheets.words import plain_line
from server.units import feet_from_metres, metres_from_nautical_miles

ARC_STEP_DEG = 3.0


def limits_geojson(found: BeaconCoverage, others: Sequence[Beacon]) -> str:
    """Write the limits of a beacon's part as GeoJSON, each feature with ``what`` and ``words``. ``others`` are the region's beacons."""
    features = [*_in_sight(found), *_published(found), *_unusable(found), *_same_channel(found, others)]
    notice = f"{cautions.FICTIONAL_NOTICE} " if found.region.fictional else ""
    return json.dumps({"type": "FeatureCollection", "notice": notice + cautions.CAUTION, "features": features}, allow_nan=False)


def _in_sight(found: BeaconCoverage) -> list[dict[str, Any]]:
    coverage = found.coverage
    with np.errstate(invalid="ignore"):
        seen = coverage.surely_seen_ft <= coverage.height.altitudes_ft(coverage.ground_ft)
    return area_feature(
        area_where(coverage.lat_deg, coverage.lon_deg, seen),
        {"what": ReceptionState.RECEIVED.value, "words": "predicted: antenna in sight"},
    )


def _published(found: BeaconCoverage) -> Iterator[dict[str, Any]]:
    coverage = found.coverage
    part = coverage.beacon.component(coverage.component)
    altitude_ft = coverage.height.feet
    if part is None or coverage.height.above_ground:
        return
    for sector in part.coverage:
        if _in_heights(sector, altitude_ft):
            words = f"published: {_arc_words(sector.from_radial_deg, sector.to_radial_deg)}, {figures.distance_nm(sector.range_nm)}"
            told = {"what": "published", "words": words}
            arc = (sector.from_radial_deg, sector.to_radial_deg)
            yield from _sector(_site(found), *arc, 0.0, sector.range_nm, told, doubt_deg=-ALIGNMENT_DOUBT_DEG)
    if part.coverage or part.service_class is None:
        return
    antenna = antenna_of(coverage.beacon, part, found.ground)
    if antenna is None:
        return
    range_nm = volume_range_nm(part.service_class, altitude_ft - float(feet_from_metres(antenna.altitude_m)))
    if range_nm is not None:
        words = f"published: class {part.service_class}, {figures.distance_nm(range_nm)} at this altitude"
        yield from _sector(_site(found), 0.0, 360.0, 0.0, range_nm, {"what": "published", "words": words}, doubt_deg=0.0)


def _in_heights(sector: CoverageSector, altitude_ft: float) -> bool:
    above = sector.lowest_altitude_ft is None or altitude_ft >= sector.lowest_altitude_ft
    return above and (sector.highest_altitude_ft is None or altitude_ft <= sector.highest_altitude_ft)


def _unusable(found: BeaconCoverage) -> Iterator[dict[str, Any]]:
    """The sectors that forbid the part at this altitude."""
    coverage = found.coverage
    part = coverage.beacon.component(coverage.component)
    if part is None or coverage.height.above_ground:
        return
    for sector in part.unusable:
        if sector.below_altitude_ft is not None and coverage.height.feet >= sector.below_altitude_ft:
            continue
        yield from _of_sector(_site(found), part, sector)


def sector_geojson(beacon: Beacon, kind: ComponentKind, sector: UnusableSector, *, on: date) -> str:
    """Write one sector of a part of a beacon as GeoJSON, whatever the altitude; nothing where the station's radials cannot be told."""
    part = beacon.component(kind)
    features: list[dict[str, Any]] = []
    if part is not None:
        site = _Site(centre=beacon.component_position(kind), beacon=beacon, estimated_declination_deg=variation(beacon.position, on).deg)
        features += _of_sector(site, part, sector)
    return json.dumps({"type": "FeatureCollection", "features": features}, allow_nan=False)


def _of_sector(site: _Site, part: Component, sector: UnusableSector) -> Iterator[dict[str, Any]]:
    to_nm = sector.within_nm if sector.within_nm is not None else published_reach_nm(part)
    told = {"what": "unusable", "words": sector_in_words(sector)}
    yield from _sector(
        site, sector.from_radial_deg, sector.to_radial_deg, sector.beyond_nm or 0.0, to_nm, told, doubt_deg=ALIGNMENT_DOUBT_DEG
    )


def sector_in_words(sector: UnusableSector) -> str:
    """Say where a part must not be used."""
    told = [f"unusable {_arc_words(sector.from_radial_deg, sector.to_radial_deg)}"]
    told += [f"beyond {figures.distance_nm(sector.beyond_nm)}"] if sector.beyond_nm is not None else []
    told += [f"within {figures.distance_nm(sector.within_nm)}"] if sector.within_nm is not None else []
    told += [f"below {figures.altitude(sector.below_altitude_ft)}"] if sector.below_altitude_ft is not None else []
    return " ".join(told)


def _arc_words(from_deg: float, to_deg: float) -> str:
    return "all round" if (to_deg - from_deg) % 360.0 == 0.0 else f"R-{three_digits(from_deg)} to R-{three_digits(to_deg)}"


@dataclass(frozen=True, kw_only=True)
class _Site:
    """Where a part stands, and what its radials are counted from where the beacon does not say. [deg]"""

    centre: Position
    beacon: Beacon
    estimated_declination_deg: float


def _site(found: BeaconCoverage) -> _Site:
    coverage = found.coverage
    centre = coverage.beacon.component_position(coverage.component)
    return _Site(centre=centre, beacon=coverage.beacon, estimated_declination_deg=found.estimated_declination_deg)


def _sector(
    site: _Site, from_deg: float, to_deg: float, near_nm: float, far_nm: float, properties: dict[str, str], *, doubt_deg: float
) -> Iterator[dict[str, Any]]:
    """A ring or a part of one between two radials, clockwise; none where the station's radials cannot be told. On an estimated alignment
    it is ``doubt_deg`` wider on both sides, as the reception check takes it; narrower where that is negative."""
    span_deg = (to_deg - from_deg) % 360.0 or 360.0
    declination_deg = 0.0
    if span_deg < 360.0:
        try:
            used = declination_used(site.beacon.alignment, site.estimated_declination_deg)
        except OutOfRange:
            return
        declination_deg = used.declination_deg
        if used.estimated:
            doubt_deg = math.copysign(max(abs(doubt_deg), used.contradicted_by_deg), doubt_deg)
            properties = properties | {"words": f"{properties['words']}, radials est., {abs(doubt_deg):.0f}° to the safe side"}
            from_deg, span_deg = from_deg - doubt_deg, min(span_deg + 2.0 * doubt_deg, 360.0)
    if far_nm <= near_nm or span_deg <= 0.0:
        return
    turns = from_deg + declination_deg + np.linspace(0.0, span_deg, max(2, math.ceil(span_deg / ARC_STEP_DEG)) + 1)
    outer, inner = _arc(site.centre, turns, far_nm), _arc(site.centre, turns[::-1], near_nm)
    if span_deg == 360.0:
        rings = [outer, *([inner] if near_nm > 0.0 else [])]
    else:
        rings = [[*outer, *(inner if near_nm > 0.0 else [[site.centre.lon_deg, site.centre.lat_deg]]), outer[0]]]
    yield {"type": "Feature", "geometry": {"type": "Polygon", "coordinates": rings}, "properties": properties}


def _arc(centre: Position, bearings_true_deg: np.ndarray, away_nm: float) -> list[list[float]]:
    lat_deg, lon_deg = destinations(
        centre, bearing_true_deg=bearings_true_deg % 360.0, distance_m=np.full(bearings_true_deg.shape, metres_from_nautical_miles(away_nm))
    )
    return [[float(lon), float(lat)] for lat, lon in zip(lat_deg, lon_deg, strict=True)]


def _same_channel(found: BeaconCoverage, others: Sequence[Beacon]) -> Iterator[dict[str, Any]]:
    """A ring round every other station on the channel, as far as it may be heard over a smooth earth at this altitude."""
    coverage = found.coverage
    own = transmission_of(coverage.beacon, coverage.component)
    if own is None or coverage.component is ComponentKind.BEARING or coverage.height.above_ground:
        return
    for other in others:
        if other.id == coverage.beacon.id:
            continue
        for kind in (ComponentKind.AZIMUTH, ComponentKind.DISTANCE):
            sends = transmission_of(other, kind)
            if sends is None or sends.frequency_mhz != own.frequency_mhz:
                continue
            part = other.component(kind)
            antenna = antenna_of(other, part, found.ground) if part is not None else None
            antenna_ft = 0.0 if antenna is None else max(0.0, float(feet_from_metres(antenna.altitude_m)))
            range_nm = float(radio_horizon_nm(max(0.0, coverage.height.feet), antenna_ft))
            centre = other.component_position(kind)
            ring = _arc(centre, np.linspace(0.0, 360.0, 121), range_nm)
            reaches = "it reaches" if antenna is not None else "it reaches, its height not known and taken as the sea,"
            words = f"{plain_line(other.ident)} is on the same channel; over a smooth earth {reaches} {figures.distance_nm(range_nm)}"
            yield {
                "type": "Feature",
                "geometry": {"type": "Polygon", "coordinates": [ring]},
                "properties": {"what": "same channel", "words": words},
            }
            break
