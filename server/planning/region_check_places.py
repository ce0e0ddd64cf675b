"""The part of a region's check that needs the terrain and the region's box: elevations against the ground, and what lies outside."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from server.navigation import Airfield, Checkpoint, Position
from server.persistence import RegionRecord
from server.planning.region_findings import RegionFinding, advice, warning
from server.planning.second_look import FAR_OUTSIDE_NM, outside_nm
from server.radio import Beacon, Component, ComponentKind, ComponentStatus, Ground
from server.terrain import LowGround
from server.units import feet_from_metres, metres_from_feet

Thing = Beacon | Airfield | Checkpoint

MOST_APART_M = 50.0
"""Between a published elevation and the terrain. Posts 90 m apart on steep ground miss a hilltop by some tens of metres."""


@dataclass(frozen=True, kw_only=True)
class Elevations:
    """The terrain [m] at every place of a region that is asked for; NaN where it is not known."""

    at: Mapping[Position, float]

    @classmethod
    def of(cls, ground: Ground, things: Sequence[Thing]) -> Elevations:
        """Ask the ground once for all places, the parts of beacons that stand elsewhere too."""
        places = {thing.position for thing in things}
        places |= {part.position for thing in things if isinstance(thing, Beacon) for part in thing.components if part.position is not None}
        listed = sorted(places, key=lambda place: (place.lat_deg, place.lon_deg))
        if not listed:
            return cls(at={})
        elevations_m = ground.elevations_m(
            lat_deg=np.array([place.lat_deg for place in listed]), lon_deg=np.array([place.lon_deg for place in listed])
        )
        return cls(at=dict(zip(listed, map(float, elevations_m), strict=True)))

    def terrain_m(self, position: Position) -> float | None:
        """The terrain there [m], None where it is not known."""
        elevation_m = self.at[position]
        return None if np.isnan(elevation_m) else elevation_m

    @property
    def nothing_known(self) -> bool:
        """Whether the terrain is known at none of the places."""
        return all(np.isnan(elevation_m) for elevation_m in self.at.values())


def low_ground_findings(region: RegionRecord, low_ground: LowGround | None) -> Iterator[RegionFinding]:
    """Find ground that was taken as land and may be the floor of a sea."""
    if low_ground is not None:
        words = (
            f"{low_ground.in_words()}, and count as land. If that is the floor of a sea, signals seem to pass below its surface: "
            "reception comes out too good there."
        )
        yield warning("ground-below-zero", region, words, "If any of it is sea, load the elevation files again and say that it is sea.")


def place_findings(
    region: RegionRecord,
    beacons: Sequence[Beacon],
    airfields: Sequence[Airfield],
    checkpoints: Sequence[Checkpoint],
    elevations: Elevations,
) -> Iterator[RegionFinding]:
    """Find what stands where it cannot, or at a height it cannot."""
    things: tuple[Thing, ...] = (*beacons, *airfields, *checkpoints)
    for thing in things:
        yield from _outside(region, thing)
    if elevations.at and elevations.nothing_known:
        words = (
            "The terrain is known at none of the places of this region, so no elevation was compared and no line of sight can be judged."
        )
        yield warning("terrain-none", region, words, "Load elevation tiles for this area.")
        return
    for beacon in beacons:
        yield from _beacon_heights(beacon, elevations)
    for airfield in airfields:
        yield from _airfield_height(airfield, elevations)
    for checkpoint in checkpoints:
        if elevations.terrain_m(checkpoint.position) is None:
            yield _no_terrain(checkpoint)


def _outside(region: RegionRecord, thing: Thing) -> Iterator[RegionFinding]:
    away_nm = outside_nm(region, thing.position)
    if away_nm == 0.0:
        return
    words = f"It stands {away_nm:,.1f} NM outside the box of the region."
    if away_nm > FAR_OUTSIDE_NM:
        yield warning("outside-region", thing, words, "Look for a wrong letter (N S E W), a lost sign, or degrees and minutes mixed up.")
    else:
        yield advice("outside-region", thing, words, "Leave it if it serves the region from there; else correct the position.")


def _beacon_heights(beacon: Beacon, elevations: Elevations) -> Iterator[RegionFinding]:
    for label, position, published_ft, ndb_only in _sites(beacon):
        terrain_m = elevations.terrain_m(position)
        if terrain_m is None:
            yield _no_terrain(beacon, label)
        if published_ft is None:
            if not ndb_only:
                yield _elevation_unknown(beacon, label, terrain_m)
        elif terrain_m is not None:
            yield from _against_terrain(beacon, label, published_ft, terrain_m)
            antenna_m = metres_from_feet(published_ft + (beacon.antenna_height_ft or 0.0))
            if beacon.antenna_height_ft is not None and antenna_m < terrain_m:
                words = (
                    f"{label}antenna would stand at {feet_from_metres(antenna_m):,.0f} ft, below the terrain there, "
                    f"{feet_from_metres(terrain_m):,.0f} ft."
                )
                todo = "Correct elevation, antenna height or position; until then the antenna counts from the terrain."
                yield warning("antenna-below-ground", beacon, _capital(words), todo)


def _sites(beacon: Beacon) -> Iterator[tuple[str, Position, float | None, bool]]:
    """The station, then each part that stands elsewhere: a word for it, where, its published elevation [ft], whether no sight is needed."""
    on_air = [part for part in beacon.components if part.status is not ComponentStatus.WITHDRAWN]
    at_station = [part for part in on_air if part.position is None]
    needs_sight = any(_needs_sight(part) for part in at_station)
    yield "", beacon.position, beacon.elevation_ft, not needs_sight
    for part in on_air:
        if part.position is not None:
            yield f"the {part.kind} part's ", part.position, part.elevation_ft, not _needs_sight(part)


def _needs_sight(part: Component) -> bool:
    return part.kind is not ComponentKind.BEARING


def _airfield_height(airfield: Airfield, elevations: Elevations) -> Iterator[RegionFinding]:
    terrain_m = elevations.terrain_m(airfield.position)
    if terrain_m is None:
        yield _no_terrain(airfield)
    if airfield.elevation_ft is None:
        words = "Its elevation is not known: a flight from or to it gets no climb or descent."
        hint = "" if terrain_m is None else f" The terrain there is {feet_from_metres(terrain_m):,.0f} ft."
        yield advice("elevation-unknown", airfield, words, f"Enter it from the aerodrome chart.{hint}")
    elif terrain_m is not None:
        yield from _against_terrain(airfield, "", airfield.elevation_ft, terrain_m)


def _against_terrain(thing: Thing, label: str, published_ft: float, terrain_m: float) -> Iterator[RegionFinding]:
    apart_m = metres_from_feet(published_ft) - terrain_m
    if abs(apart_m) <= MOST_APART_M:
        return
    side = "above" if apart_m > 0.0 else "below"
    words = (
        f"{label}published elevation, {published_ft:,.0f} ft, is {abs(feet_from_metres(apart_m)):,.0f} ft {side} the terrain there, "
        f"{feet_from_metres(terrain_m):,.0f} ft; up to {feet_from_metres(MOST_APART_M):,.0f} ft is usual."
    )
    todo = "Compare position and elevation with another source: metres taken for feet, or a place that is some miles off."
    yield warning("elevation-against-terrain", thing, _capital(words if label else f"its {words}"), todo)


def _elevation_unknown(beacon: Beacon, label: str, terrain_m: float | None) -> RegionFinding:
    words = _capital(f"{label or 'its '}elevation is not known")
    if terrain_m is None:
        words += ", nor is the terrain there: what is received from it stays unknown."
        return warning("elevation-unknown", beacon, words, "Enter the elevation, or load the terrain there.")
    words += f": the terrain there, {feet_from_metres(terrain_m):,.0f} ft, stands in for it."
    return advice("elevation-unknown", beacon, words, "Enter the published elevation.")


def _no_terrain(thing: Thing, label: str = "") -> RegionFinding:
    words = _capital(f"{label}place has no terrain" if label else "there is no terrain at its place") + ": nothing there can be checked."
    return advice("terrain-unknown", thing, words, "Load the elevation tile of this place, or correct the position.")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
