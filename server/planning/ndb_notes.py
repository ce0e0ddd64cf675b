"""What bends the bearing of an NDB that guides a leg: the night, mountains, and a coast crossed at a small angle.

The rules are common practice of radio navigation handbooks (from memory); each constant says what it takes from where. A guided leg lies
on one line through the NDB, so one line from the NDB to the far end of the guided part is looked at.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import shapely
from shapely import affinity

from server.exchange import read_sea
from server.navigation import Position, bearings_and_distances, destinations, points_along
from server.planning.log_legs import Guidance, LogLeg, Note, NoteLevel
from server.planning.materials import Materials
from server.planning.sun_times import sun_is_down
from server.radio import NIGHT_RANGE_NM, ComponentKind, Ground
from server.units import feet_from_metres, metres_from_nautical_miles

MOUNTAIN_FT, MOUNTAIN_WITHIN_NM = 3_000.0, 10.0
"""Mountains: ground that changes by more than 3,000 ft within 10 NM (ICAO Doc 8168, mountainous area, from memory)."""

SMALL_ANGLE_DEG = 30.0
"""A bearing that crosses the coast at less is bent too much to be used (common practice)."""

_COAST_HALF_NM = 0.5  # the coast's direction is that of its chord, this far to both sides of the crossing
_STEP_NM = 2.0
_GROUND_STEP_NM = 0.1


def ndb_notes(leg: LogLeg, materials: Materials) -> list[Note]:
    """Warn of what spoils the bearing of each NDB that guides the leg."""
    notes: list[Note] = []
    for guidance in leg.guidance:
        if guidance.component is ComponentKind.BEARING:
            notes += _night_notes(leg, guidance)
            line = _line_of(leg, guidance)
            if line is not None:
                notes += _mountain_notes(leg, guidance, line, materials.ground)
                notes += _coast_notes(leg, guidance, line, materials)
    return notes


def _night_notes(leg: LogLeg, guidance: Guidance) -> list[Note]:
    ident = guidance.beacon.ident
    along_nm = np.linspace(guidance.from_nm, guidance.to_nm, max(2, int(np.ceil((guidance.to_nm - guidance.from_nm) / _STEP_NM)) + 1))
    lat_deg, lon_deg = points_along(leg.start.position, leg.end.position, along_nm)
    _, away_nm = bearings_and_distances(guidance.beacon.component_position(guidance.component), lat_deg, lon_deg)
    far = np.flatnonzero(away_nm > NIGHT_RANGE_NM)
    if far.size == 0:
        return []
    if leg.arrival_utc is None or leg.time_min is None:
        text = (
            f"Leg {leg.number} goes more than {NIGHT_RANGE_NM:.0f} NM from {ident}, and its time is not known: "
            "by night do not trust an NDB there."
        )
        return [Note(code="ndb-night", level=NoteLevel.ADVICE, message=text, leg_number=leg.number)]
    start_utc = leg.arrival_utc - timedelta(minutes=leg.time_min)
    for k in far:
        at_utc = start_utc + timedelta(minutes=leg.time_min * float(along_nm[k]) / leg.distance_nm)
        if sun_is_down(Position(lat_deg=float(lat_deg[k]), lon_deg=float(lon_deg[k])), at_utc):
            text = (
                f"{ident} by night: at {along_nm[k]:.1f} NM of leg {leg.number} the sun is down and {ident} is {away_nm[k]:.0f} NM away. "
                f"Beyond {NIGHT_RANGE_NM:.0f} NM the needle may wander by night: check it against another aid."
            )
            return [Note(code="ndb-night", level=NoteLevel.WARNING, message=text, leg_number=leg.number)]
    return []


class _Line:
    """The geodesic from an NDB through the guided part of a leg to its far end."""

    def __init__(self, ndb: Position, bearing_true_deg: float, length_nm: float):
        self.ndb, self.bearing_true_deg, self.length_nm = ndb, bearing_true_deg, length_nm

    def places(self, away_nm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Latitudes and longitudes at distances (n,) from the NDB. [deg]"""
        return destinations(
            self.ndb, bearing_true_deg=np.full(away_nm.shape, self.bearing_true_deg), distance_m=metres_from_nautical_miles(away_nm)
        )


def _line_of(leg: LogLeg, guidance: Guidance) -> _Line | None:
    ndb = guidance.beacon.component_position(guidance.component)
    lat_deg, lon_deg = points_along(leg.start.position, leg.end.position, np.array([guidance.from_nm, guidance.to_nm]))
    bearing_true_deg, away_nm = bearings_and_distances(ndb, lat_deg, lon_deg)
    far = int(np.argmax(away_nm))
    if away_nm[far] < _GROUND_STEP_NM or np.isnan(bearing_true_deg[far]):
        return None
    return _Line(ndb, float(bearing_true_deg[far]), float(away_nm[far]))


def _mountain_notes(leg: LogLeg, guidance: Guidance, line: _Line, ground: Ground) -> list[Note]:
    """Unknown ground is left out here: the log says so in a note of its own."""
    ident = guidance.beacon.ident
    away_nm = np.linspace(0.0, line.length_nm, int(np.ceil(line.length_nm / _GROUND_STEP_NM)) + 1)
    lat_deg, lon_deg = line.places(away_nm)
    elevations_ft = feet_from_metres(ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg))
    width = min(away_nm.size, round(MOUNTAIN_WITHIN_NM / _GROUND_STEP_NM) + 1)
    windows = np.lib.stride_tricks.sliding_window_view(elevations_ft, width)
    change_ft = np.fmax.reduce(windows, axis=1) - np.fmin.reduce(windows, axis=1)
    if not (change_ft > MOUNTAIN_FT).any():
        return []
    worst = int(np.nanargmax(change_ft))
    text = (
        f"Mountains between {ident} and leg {leg.number}: the ground changes by {change_ft[worst]:,.0f} ft from {away_nm[worst]:.0f} to "
        f"{away_nm[worst + width - 1]:.0f} NM from {ident}. "
        "They bend the bearing: expect the needle to be off, and check it against another aid."
    )
    return [Note(code="ndb-mountains", level=NoteLevel.WARNING, message=text, leg_number=leg.number)]


def _coast_notes(leg: LogLeg, guidance: Guidance, line: _Line, materials: Materials) -> list[Note]:
    ident = guidance.beacon.ident
    small = [(angle_deg, away_nm) for angle_deg, away_nm in _crossings(line, materials) if angle_deg < SMALL_ANGLE_DEG]
    if not small:
        return []
    angle_deg, away_nm = min(small)
    text = (
        f"The bearing to {ident} crosses the coast at {angle_deg:.0f}°, {away_nm:.1f} NM from {ident}: "
        f"at less than {SMALL_ANGLE_DEG:.0f}° the coast bends it. "
        f"On leg {leg.number} beyond it expect the needle to be off, and check it against another aid."
    )
    return [Note(code="ndb-coast", level=NoteLevel.WARNING, message=text, leg_number=leg.number)]


def _crossings(line: _Line, materials: Materials) -> list[tuple[float, float]]:
    """Where the line crosses the coast: angle between them [deg], distance from the NDB [NM].

    Worked out on a plane of true bearings and distances from the NDB (azimuthal equidistant): the line is straight on it.
    """
    if not materials.region.sea_geojson:
        return []
    bearing = np.radians(line.bearing_true_deg)
    ray = shapely.LineString([(0.0, 0.0), (line.length_nm * np.sin(bearing), line.length_nm * np.cos(bearing))])
    found = []
    for coast in _coasts_near(line, read_sea(materials.region.sea_geojson.encode(), name="the region's sea")):
        for x_nm, y_nm in shapely.get_coordinates(coast.intersection(ray)):
            away_nm = float(np.hypot(x_nm, y_nm))
            along_nm = coast.project(shapely.Point(x_nm, y_nm))
            before, after = (coast.interpolate(min(max(0.0, along_nm + by), coast.length)) for by in (-_COAST_HALF_NM, _COAST_HALF_NM))
            coast_rad = np.arctan2(after.x - before.x, after.y - before.y)
            if _has_land_beside(line.ndb, x_nm, y_nm, coast_rad, materials.ground):
                turn_deg = abs(np.degrees(coast_rad - bearing)) % 180.0
                found.append((float(min(turn_deg, 180.0 - turn_deg)), away_nm))
    return found


def _coasts_near(line: _Line, sea: shapely.Geometry) -> list[shapely.LineString]:
    """The edges of the sea near the line, on the plane round the NDB. [NM]"""
    lat_deg, lon_deg = line.places(np.linspace(0.0, line.length_nm, 50))
    lon_deg = np.unwrap(lon_deg, period=360.0)
    margin_deg = 0.2
    west, south, east, north = (
        lon_deg.min() - margin_deg,
        lat_deg.min() - margin_deg,
        lon_deg.max() + margin_deg,
        lat_deg.max() + margin_deg,
    )
    found = []
    for turn_deg in (-360.0, 0.0, 360.0):
        edges = shapely.clip_by_rect(affinity.translate(sea.boundary, xoff=turn_deg), west, south, east, north)
        for edge in shapely.get_parts(shapely.line_merge(shapely.segmentize(edges, 0.02))):
            if edge.geom_type != "LineString" or edge.is_empty:  # an outline may only touch a corner of the box
                continue
            edge_lon_deg, edge_lat_deg = shapely.get_coordinates(edge).T
            bearing_true_deg, away_nm = bearings_and_distances(line.ndb, edge_lat_deg, edge_lon_deg)
            angle = np.radians(np.nan_to_num(bearing_true_deg))  # at the NDB itself any direction serves
            found.append(shapely.LineString(np.column_stack((away_nm * np.sin(angle), away_nm * np.cos(angle)))))
    return found


def _has_land_beside(ndb: Position, x_nm: float, y_nm: float, coast_rad: float, ground: Ground) -> bool:
    """Whether there is land, or ground not known, beside an edge of the sea.

    A sea outline may also end in open water, where known ground goes on at sea level: that is no coast.
    """
    east, north = np.cos(coast_rad) * _COAST_HALF_NM, -np.sin(coast_rad) * _COAST_HALF_NM
    x, y = np.array([x_nm - east, x_nm + east]), np.array([y_nm - north, y_nm + north])
    lat_deg, lon_deg = destinations(
        ndb, bearing_true_deg=np.degrees(np.arctan2(x, y)), distance_m=metres_from_nautical_miles(np.hypot(x, y))
    )
    elevations_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    return bool((np.isnan(elevations_m) | (elevations_m > 0.0)).any())
