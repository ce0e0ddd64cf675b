"""Looks from points along airways at the VORs that define them, and says of each point whether one is received. Reads no file."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from server.navigation import Position, bearings_and_distances, distance_nm, format_dm, points_along
from server.radio import Antenna, Ground, ReceptionState, place_antenna, volume_state
from server.radio.band import SightBand, sight_band
from server.units import feet_from_metres, metres_from_nautical_miles, nautical_miles_from_metres
from tests.validation.airway_folder import Segment, Station

STEP_NM = 2.0
RECEIVED, MARGINAL = ReceptionState.RECEIVED, ReceptionState.MARGINAL
NOT_RECEIVED, INCONCLUSIVE = ReceptionState.NOT_RECEIVED, ReceptionState.UNKNOWN


@dataclass(frozen=True, kw_only=True)
class Look:
    """How one station is seen from over one point: altitudes from which it is (lowest: k 4/3; hidden to seen: the band). [ft MSL]"""

    station: Station
    distance_nm: float
    lowest_ft: float
    hidden_ft: float
    seen_ft: float
    doubt: str
    """Why the ray is not known, or empty."""
    ridge: str
    in_class: bool | None
    """Whether the MEA lies in the published volume here; None without a class."""


@dataclass(kw_only=True)
class Point:
    """A point of a segment that has an MEA, and how its stations are seen from there."""

    segment: Segment
    mea_ft: float
    along_nm: float
    position: Position
    known: list[Look] = field(default_factory=list)
    doubtful: list[Look] = field(default_factory=list)
    """Stations whose ray is not known."""

    def state_at(self, altitude_ft: float) -> ReceptionState:
        """The best of its stations; inconclusive where none of those known is received and one is not known, which may be."""
        if any(altitude_ft >= look.seen_ft for look in self.known):
            return RECEIVED
        if len(self.known) < len(self.segment.stations) or self.segment.missing:
            return INCONCLUSIVE
        return MARGINAL if any(altitude_ft >= look.hidden_ft for look in self.known) else NOT_RECEIVED

    @property
    def state(self) -> ReceptionState:
        """State at the MEA."""
        return self.state_at(self.mea_ft)

    @property
    def best(self) -> Look | None:
        """The known station that is surely seen from the lowest altitude."""
        return min(self.known, key=lambda look: look.seen_ft, default=None)

    @property
    def margin_ft(self) -> float:
        """How far the MEA lies over the altitude from which the best station is in sight with k 4/3. [ft]"""
        return self.mea_ft - min((look.lowest_ft for look in self.known), default=math.inf)

    @property
    def doubt(self) -> str:
        """What keeps the point from being conclusive."""
        looked_at = {look.station for look in (*self.known, *self.doubtful)}
        reasons = [look.doubt for look in self.doubtful]
        reasons += [f"the elevation of {station.ident} is not known" for station in self.segment.stations if station not in looked_at]
        reasons += [f"{ident} is not among the VORs of beacons.csv" for ident in self.segment.missing]
        reasons += [f"{look.station.ident} is marginal" for look in self.known if self.mea_ft >= look.hidden_ft]
        return "; ".join(reasons)


@dataclass(frozen=True, kw_only=True)
class Validation:
    """What a folder came to. ``whole``: points of segments wholly on the terrain; ``partly``: those of the others that lie on it."""

    whole: tuple[Point, ...]
    partly: tuple[Point, ...]
    untested: dict[str, list[str]]
    """Names of segments that are not counted, by the reason."""


def look_along(segments: tuple[Segment, ...], ground: Ground, report: Callable[[str], None]) -> Validation:
    """Look from points every 2 NM along the segments at the stations that define each, at its MEA."""
    antennas = _antennas(segments, ground)
    whole: list[Point] = []
    partly: list[Point] = []
    untested: dict[str, list[str]] = defaultdict(list)
    for segment in segments:
        if segment.mea_ft is None:
            untested["no MEA published in feet"].append(segment.name)
        elif not segment.stations and not segment.missing:
            untested["no VOR defines it"].append(segment.name)
        elif not any(station in antennas and antennas[station].ground_m is not None for station in segment.stations):
            untested["no VOR that defines it stands on the terrain"].append(segment.name)
        else:
            points, on_terrain = _points(segment, segment.mea_ft, ground)
            if on_terrain[0] and on_terrain[-1]:
                whole += points
            else:
                untested["not wholly on the terrain"].append(segment.name)
                partly += [point for point, known in zip(points, on_terrain, strict=True) if known]
    _look([*whole, *partly], antennas, ground, report)
    return Validation(whole=tuple(whole), partly=tuple(partly), untested=dict(untested))


def _antennas(segments: tuple[Segment, ...], ground: Ground) -> dict[Station, Antenna]:
    """Place the antennas of all stations that define a segment; one whose elevation nobody knows is left out."""
    placed = {
        station: place_antenna(
            position=station.position, published_elevation_ft=station.elevation_ft, antenna_height_ft=None, ground=ground
        )
        for station in dict.fromkeys(station for segment in segments for station in segment.stations)
    }
    return {station: antenna for station, antenna in placed.items() if antenna is not None}


def _points(segment: Segment, mea_ft: float, ground: Ground) -> tuple[list[Point], np.ndarray]:
    """Points from end to end in equal steps, as near to 2 NM as can be; and whether each lies on known ground."""
    length_nm = distance_nm(segment.start, segment.end)
    along_nm = np.linspace(0.0, length_nm, max(1, round(length_nm / STEP_NM)) + 1)
    lat_deg, lon_deg = points_along(segment.start, segment.end, along_nm)
    points = [
        Point(segment=segment, mea_ft=mea_ft, along_nm=float(at_nm), position=Position(lat_deg=float(lat), lon_deg=float(lon)))
        for at_nm, lat, lon in zip(along_nm, lat_deg, lon_deg, strict=True)
    ]
    return points, np.isfinite(ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg))


def _look(points: list[Point], antennas: dict[Station, Antenna], ground: Ground, report: Callable[[str], None]) -> None:
    """Give every point its looks, station by station: one window of terrain serves all rays of a station."""
    under: dict[Station, list[Point]] = defaultdict(list)
    for point in points:
        for station in point.segment.stations:
            if station in antennas:
                under[station].append(point)
    for number, (station, its_points) in enumerate(under.items(), start=1):
        report(f"Station {number} of {len(under)}, {station.ident}: {len(its_points)} points")
        antenna = antennas[station]
        lat_deg = np.array([point.position.lat_deg for point in its_points])
        lon_deg = np.array([point.position.lon_deg for point in its_points])
        _, to_points_nm = bearings_and_distances(station.position, lat_deg, lon_deg)
        band = sight_band(
            antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, distance_m=metres_from_nautical_miles(to_points_nm), ground=ground
        )
        in_class = _in_class(station, antenna, its_points, to_points_nm)
        for k, point in enumerate(its_points):
            look = _one_look(station, antenna, band, k, float(to_points_nm[k]), in_class[k])
            (point.doubtful if look.doubt else point.known).append(look)


def _one_look(station: Station, antenna: Antenna, band: SightBand, k: int, to_point_nm: float, in_class: bool | None) -> Look:
    table, doubt, ridge = band.table, "", "the curve of the earth or the ground below"
    if antenna.ground_m is None:
        doubt = f"{station.ident} stands off the terrain"
    elif not math.isinf(table.unknown_from_m[k]):
        doubt = f"the ground between {station.ident} and the point is not all known"
    if not math.isnan(table.ridge_distance_m[k]):
        top = Position(lat_deg=float(table.ridge_lat_deg[k]), lon_deg=float(table.ridge_lon_deg[k]))
        away_nm = nautical_miles_from_metres(table.ridge_distance_m[k])
        ridge = f"a ridge of {feet_from_metres(table.ridge_elevation_m[k]):,.0f} ft at {format_dm(top)}, {away_nm:.1f} NM from the station"
    return Look(
        station=station,
        distance_nm=to_point_nm,
        lowest_ft=float(feet_from_metres(table.lowest_altitude_m[k])),
        hidden_ft=float(feet_from_metres(band.surely_hidden_m[k])),
        seen_ft=float(feet_from_metres(band.surely_seen_m[k])),
        doubt=doubt,
        ridge=ridge,
        in_class=in_class,
    )


def _in_class(station: Station, antenna: Antenna, points: list[Point], to_points_nm: np.ndarray) -> list[bool] | list[None]:
    if station.service_class is None:
        return [None] * len(points)
    height_ft = np.array([point.mea_ft for point in points]) - feet_from_metres(antenna.altitude_m)
    return volume_state(service_class=station.service_class, height_ft=height_ft, distance_nm=to_points_nm).inside.tolist()
