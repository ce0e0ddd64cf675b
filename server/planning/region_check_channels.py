"""The part of a region's check that holds its stations against each other: one channel, one ident, one place."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from server.navigation import Position, bearings_and_distances
from server.planning.interference import PROTECTION_DB, transmission_of
from server.planning.load_report import label_of
from server.planning.plan import HIGHEST_PLANNED_FT
from server.planning.region_check_places import Elevations
from server.planning.region_findings import RegionFinding, advice, subject_of, warning
from server.radio import (
    Beacon,
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    Emission,
    published_reach_nm,
    radio_horizon_nm,
    service_bands,
    smallest_class,
)
from server.radio.sight import ASSUMED_ANTENNA_HEIGHT_M
from server.units import feet_from_metres

Paired = TypeVar("Paired")

SAME_PLACE_NM = 0.1
ONE_AIRPORT_NM = 10.0
"""Within this a VOR and an NDB of one ident belong to one airport, which is common and leads nobody astray by much."""

FARTHEST_HORIZON_NM = 600.0
"""No aircraft under 90,000 ft above the sea has an antenna at 32,000 ft above its horizon from beyond this."""

LINE_OF_SIGHT = (ComponentKind.AZIMUTH, ComponentKind.DISTANCE)


def shared_ident_findings(beacons: Sequence[Beacon]) -> Iterator[RegionFinding]:
    """Find stations that send one ident; those that are wholly withdrawn send none."""
    by_ident: dict[str, list[Beacon]] = {}
    for beacon in beacons:
        if any(part.status is not ComponentStatus.WITHDRAWN for part in beacon.components):
            by_ident.setdefault(beacon.ident, []).append(beacon)
    for one, other, apart_nm in itertools.chain.from_iterable(_apart(group, _station) for group in by_ident.values()):
        words = f"{label_of(other)} sends the ident {one.ident} too, {apart_nm:,.1f} NM away."
        if one.kind is not other.kind and apart_nm <= ONE_AIRPORT_NM:
            found = advice("ident-twice", one, words, "Usual for aids of one airport: say which kind is meant when you name it.")
        else:
            found = warning("ident-twice", one, words, "One of the two idents is wrong, or one station is listed twice. Compare both.")
        yield replace(found, others=(subject_of(other),))


def twin_findings(beacons: Sequence[Beacon]) -> Iterator[RegionFinding]:
    """Find stations of one kind that stand at one place."""
    by_kind: dict[tuple[BeaconKind, int, int], list[Beacon]] = {}
    for beacon in beacons:  # cells of a tenth of a degree, and the pairs across their edges: all within SAME_PLACE_NM meet in one
        for lat in {int((beacon.position.lat_deg + edge) * 10 // 1) for edge in (-0.01, 0.01)}:
            for lon in {int((beacon.position.lon_deg + edge) * 10 // 1) for edge in (-0.01, 0.01)}:
                by_kind.setdefault((beacon.kind, lat, lon), []).append(beacon)
    seen: set[frozenset[int]] = set()
    for one, other, apart_nm in itertools.chain.from_iterable(_apart(group, _station, SAME_PLACE_NM) for group in by_kind.values()):
        pair = frozenset((id(one), id(other)))
        if pair in seen:
            continue
        seen.add(pair)
        words = f"{label_of(other)} is a {one.kind} at the same place ({apart_nm:.2f} NM)."
        found = warning("same-place", one, words, "One station is listed twice: remove the one that is not published.")
        yield replace(found, others=(subject_of(other),))


@dataclass(frozen=True, kw_only=True)
class _Sender:
    """One part of a station that sends on a channel."""

    beacon: Beacon
    part: Component
    sends: Emission


@dataclass(frozen=True, kw_only=True)
class _Protection:
    """How far apart two stations on one channel must be: ``least_nm`` for every point of the wanted one's volume [NM], its greatest range
    there [NM], and whether something was assumed."""

    least_nm: float
    range_nm: float
    assumed: bool


def shared_channel_findings(beacons: Sequence[Beacon], elevations: Elevations) -> Iterator[RegionFinding]:
    """Find stations on one channel that stand nearer to each other than their service volumes and the radio horizon allow.

    Notes
    -----
    Two stations are far enough apart if in the whole volume of each the other is below the horizon of a smooth 4/3 earth, or, in free
    space, weaker by ``PROTECTION_DB``; the second is worst at the edge nearest to the other. Terrain and antenna patterns are left out.
    Of the parts of two stations the pair that lacks most is told.
    """
    senders: dict[float, list[_Sender]] = {}
    for beacon in beacons:
        frequencies: set[float] = set()
        for kind in LINE_OF_SIGHT:
            sends, part = transmission_of(beacon, kind), beacon.component(kind)
            if sends is not None and part is not None and sends.frequency_mhz not in frequencies:
                frequencies.add(sends.frequency_mhz)
                senders.setdefault(sends.frequency_mhz, []).append(_Sender(beacon=beacon, part=part, sends=sends))
    worst: dict[tuple[int, int], tuple[float, RegionFinding]] = {}
    for group in senders.values():
        farthest_nm = max(published_reach_nm(sender.part) for sender in group) + FARTHEST_HORIZON_NM
        for one, other, apart_nm in _apart(group, _place, farthest_nm):
            found = _too_near(one, other, apart_nm, elevations)
            pair = (id(one.beacon), id(other.beacon))
            if found is not None and (pair not in worst or found[0] > worst[pair][0]):
                worst[pair] = found
    yield from (found for _, found in worst.values())
    yield from _shared_ndb_frequencies(beacons)


def _too_near(one: _Sender, other: _Sender, apart_nm: float, elevations: Elevations) -> tuple[float, RegionFinding] | None:
    """By how much two stations are too near [NM], and the finding; None where they are not."""
    protections = [_protection(one, other, elevations), _protection(other, one, elevations)]
    least = max(protections, key=lambda each: each.least_nm)
    if apart_nm >= least.least_nm:
        return None
    channel = _channel_words(one)
    assumed = " Where no class, height or power is published the usual one was taken." if any(each.assumed for each in protections) else ""
    words = (
        f"{label_of(other.beacon)} is on {channel} too, {apart_nm:,.0f} NM away; their service volumes and the radio horizon ask for "
        f"{least.least_nm:,.0f} NM.{assumed}"
    )
    if apart_nm < sum(each.range_nm for each in protections):
        todo = "Their volumes meet: listen to the ident before and while you follow either, and look for a wrong frequency."
        found = warning("same-channel-near", one.beacon, words, todo)
    else:
        todo = "High up, near the edge of one volume, the other may be heard: listen to the ident."
        found = advice("same-channel-near", one.beacon, words, todo)
    return least.least_nm - apart_nm, replace(found, others=(subject_of(other.beacon),))


def _protection(wanted: _Sender, unwanted: _Sender, elevations: Elevations) -> _Protection:
    base_ft, base_assumed = _antenna_ft(wanted, elevations)
    unwanted_ft, unwanted_assumed = _antenna_ft(unwanted, elevations)
    bands = _bands(wanted.part)
    ratio = 10.0 ** ((PROTECTION_DB + 10.0 * math.log10(unwanted.sends.eirp_w / wanted.sends.eirp_w)) / 20.0)
    least_nm = 0.0
    for top_ft, range_nm in bands:
        horizon_nm = float(radio_horizon_nm(max(0.0, base_ft + top_ft), max(0.0, unwanted_ft)))
        least_nm = max(least_nm, range_nm + min(horizon_nm, range_nm * ratio))
    classless = wanted.part.service_class is None and not wanted.part.coverage
    assumed = base_assumed or unwanted_assumed or classless or wanted.sends.power_assumed or unwanted.sends.power_assumed
    return _Protection(least_nm=least_nm, range_nm=max(range_nm for _, range_nm in bands), assumed=assumed)


def _bands(part: Component) -> list[tuple[float, float]]:
    """The top of each band of the service volume [ft above the antenna] and its range [NM]. A coverage's tops count from the sea."""
    if part.coverage:
        return [(sector.highest_altitude_ft or HIGHEST_PLANNED_FT, sector.range_nm) for sector in part.coverage]
    return [(band.highest_ft, band.range_nm) for band in service_bands(part.service_class or smallest_class(part.kind))]


def _antenna_ft(sender: _Sender, elevations: Elevations) -> tuple[float, bool]:
    """The antenna above the sea [ft] and whether any of it was assumed; an elevation nobody knows counts as sea level."""
    beacon, part = sender.beacon, sender.part
    published_ft = part.elevation_ft if part.elevation_ft is not None else beacon.elevation_ft
    terrain_m = elevations.terrain_m(_place(sender))
    known = [feet for feet in (published_ft, None if terrain_m is None else feet_from_metres(terrain_m)) if feet is not None]
    height_ft = beacon.antenna_height_ft
    assumed = not known or height_ft is None
    return max(known, default=0.0) + (feet_from_metres(ASSUMED_ANTENNA_HEIGHT_M) if height_ft is None else height_ft), assumed


def _shared_ndb_frequencies(beacons: Sequence[Beacon]) -> Iterator[RegionFinding]:
    """NDBs of one frequency whose published ranges meet: their needles would be drawn between the two."""
    by_khz: dict[int, list[Beacon]] = {}
    for beacon in beacons:
        part = beacon.component(ComponentKind.BEARING)
        if beacon.frequency_khz is not None and part is not None and part.status is not ComponentStatus.WITHDRAWN:
            by_khz.setdefault(beacon.frequency_khz, []).append(beacon)
    for one, other, apart_nm in itertools.chain.from_iterable(_apart(group, _station) for group in by_khz.values()):
        reach_nm = sum(published_reach_nm(part) for beacon in (one, other) if (part := beacon.component(ComponentKind.BEARING)))
        if apart_nm < reach_nm:
            words = (
                f"{label_of(other)} is on {one.frequency_khz} kHz too, {apart_nm:,.0f} NM away; their published ranges add up to "
                f"{reach_nm:,.0f} NM."
            )
            found = warning("same-channel-near", one, words, "A needle may be drawn between the two: listen to the ident all the time.")
            yield replace(found, others=(subject_of(other),))


def _station(beacon: Beacon) -> Position:
    return beacon.position


def _place(sender: _Sender) -> Position:
    return sender.beacon.component_position(sender.part.kind)


def _channel_words(sender: _Sender) -> str:
    beacon = sender.beacon
    if sender.part.kind is ComponentKind.AZIMUTH and beacon.kind is not BeaconKind.TACAN and beacon.frequency_khz is not None:
        return f"{beacon.frequency_khz / 1000.0:.2f} MHz"
    return f"channel {beacon.channel}" if beacon.channel else f"the DME channel of {(beacon.frequency_khz or 0) / 1000.0:.2f} MHz"


def _apart(
    group: Sequence[Paired], place: Callable[[Paired], Position], within_nm: float = math.inf
) -> Iterator[tuple[Paired, Paired, float]]:
    """Every two of a group that stand within a distance of each other, and that distance [NM]."""
    lat_deg, lon_deg = (np.array([getattr(place(one), name) for one in group]) for name in ("lat_deg", "lon_deg"))
    for at, one in enumerate(group[:-1], 1):
        _, away_nm = bearings_and_distances(place(one), lat_deg[at:], lon_deg[at:])
        for later in np.flatnonzero(away_nm <= within_nm):
            yield one, group[at + int(later)], float(away_nm[later])
