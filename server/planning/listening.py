"""Which parts of which beacons may serve at the places of a flight, and what they are heard like there.

A light aircraft's receivers only: no azimuth of a TACAN. A part is best asked once for all the places where it matters: an ``Ear`` is told
first what will be wanted, and remembers every answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, timedelta

import numpy as np

from server.navigation import Position
from server.planning.log_legs import LogLeg
from server.planning.materials import Materials
from server.planning.sun_times import night_between
from server.radio import Beacon, Component, ComponentKind, ReceptionState, outage_on, published_reach_nm
from server.radio.coverage import FARTHEST_NM
from server.radio.hearing import HeardAlong, heard_at_places

FARTHEST_NDB_NM = 30.0
"""An NDB makes no fix from farther away (a national rule; common practice)."""

HEARD = (ReceptionState.RECEIVED, ReceptionState.MARGINAL)


@dataclass(frozen=True, kw_only=True, slots=True)
class Spot:
    """A place in the air."""

    position: Position
    altitude_ft: float


def reach_of_part_nm(part: Component) -> float:
    """How far away a part may serve at all. [NM]"""
    return min(published_reach_nm(part), FARTHEST_NDB_NM if part.kind is ComponentKind.BEARING else FARTHEST_NM)


def parts_within_reach(positions: Sequence[Position], materials: Materials) -> list[tuple[Beacon, Component]]:
    """List the parts that a light aircraft can use and that may reach one of the places; by a sphere, with a little room."""
    parts = [
        (beacon, part)
        for beacon in materials.beacons.values()
        for part in beacon.components
        if part.kind is not ComponentKind.AZIMUTH or beacon.guides_vor_receiver
    ]
    if not parts or not positions:
        return []
    stations = _unit_vectors([beacon.component_position(part.kind) for beacon, part in parts])
    apart_nm = np.degrees(np.arccos(np.clip(stations @ _unit_vectors(positions).T, -1.0, 1.0))) * 60.0
    return [each for each, away_nm in zip(parts, apart_nm.min(axis=1), strict=True) if away_nm <= reach_of_part_nm(each[1]) * 1.01 + 1.0]


def days_of(legs: Sequence[LogLeg], materials: Materials) -> list[date]:
    """The UTC days of the flight; the day of planning where its times are not known."""
    return sorted({materials.on, *(leg.arrival_utc.astimezone(UTC).date() for leg in legs if leg.arrival_utc is not None)})


class Ear:
    """Listens to parts of beacons on one flight. Asked about a spot, it asks the part for all spots that were wanted of it."""

    def __init__(self, legs: Sequence[LogLeg], materials: Materials):
        self.materials = materials
        self._days = days_of(legs, materials)
        self._night = _night_on(legs)
        self._wanted: dict[tuple[int, ComponentKind], dict[Spot, None]] = {}
        self._known: dict[tuple[int, ComponentKind], dict[Spot, tuple[HeardAlong, int]]] = {}

    def want(self, beacon: Beacon, part: Component, spots: Iterable[Spot]) -> None:
        """Say that these spots will be asked about."""
        known = self._known.get((id(beacon), part.kind), {})
        wanted = self._wanted.setdefault((id(beacon), part.kind), {})
        wanted.update((spot, None) for spot in spots if spot not in known)

    def at(self, beacon: Beacon, part: Component, spot: Spot) -> tuple[HeardAlong, int]:
        """What the part is heard like at a spot: the answer for several, and which of them it is."""
        known = self._known.setdefault((id(beacon), part.kind), {})
        if spot not in known:
            self.want(beacon, part, [spot])
            spots = list(self._wanted.pop((id(beacon), part.kind)))
            heard = _hear(beacon, part, spots, days=self._days, night=self._night, materials=self.materials)
            known.update({each: (heard, row) for row, each in enumerate(spots)})
        return known[spot]


def _hear(beacon: Beacon, part: Component, spots: Sequence[Spot], *, days: Sequence[date], night: str, materials: Materials) -> HeardAlong:
    """Ask one part at all spots. On a flight of two days a part that is notified out of service on one of them serves on neither."""
    lat_deg, lon_deg, altitude_ft = np.array([(spot.position.lat_deg, spot.position.lon_deg, spot.altitude_ft) for spot in spots]).T
    return heard_at_places(
        beacon=beacon,
        component=part,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        altitude_ft=altitude_ft,
        ground=materials.ground,
        on=next((day for day in days if outage_on(part, day) is not None), days[0]),
        estimated_declination_deg=materials.estimated_declination_deg(beacon),
        night=night,
        doubt=materials.doubt,
        see=materials.see,
    )


def _night_on(legs: Sequence[LogLeg]) -> str:
    """Why the flight is to be taken as flown by night, in whole: one leg of it is, or its times are not known. Empty by day."""
    nights = []
    for leg in legs:
        known = leg.arrival_utc is not None and leg.time_min is not None
        start_utc = leg.arrival_utc - timedelta(minutes=leg.time_min or 0.0) if leg.arrival_utc is not None and known else None
        nights.append(night_between(leg.start.position, leg.end.position, start_utc, leg.arrival_utc))
    return next((words for words in nights if words), "")


def _unit_vectors(positions: Sequence[Position]) -> np.ndarray:
    """Directions from the middle of a sphere. (n, 3)"""
    lat, lon = np.radians([(at.lat_deg, at.lon_deg) for at in positions]).T
    return np.stack((np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)), axis=1)
