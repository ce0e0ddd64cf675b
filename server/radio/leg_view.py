"""How one part of a beacon sees the points of a leg: distance, bearing, and the lowest altitude in sight over terrain."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from server.errors import OutOfRange
from server.navigation import bearings_and_distances, distance_and_offset_from_leg, distance_nm, inverse, points_along, position_along
from server.navigation.geodesy import MEAN_EARTH_RADIUS_M
from server.navigation.position import Position
from server.radio.band import SightDoubt, band_m, sight_band
from server.radio.checks import Points
from server.radio.ground import Ground
from server.radio.horizon import STANDARD_K
from server.radio.reception import Ridge
from server.radio.sight import LONGEST_RAY_M, Antenna, SightLine, SightTable, lowest_altitudes, sight_line
from server.units import feet_from_metres, metres_from_feet, metres_from_nautical_miles, nautical_miles_from_metres

ON_LEG_END_NM = 0.05
"""A beacon this near to an end of the leg stands on it: the leg is then one ray of the beacon."""


@dataclass(frozen=True, kw_only=True)
class LegPath:
    """A leg as it is flown: the geodesic from start to end, and the altitude above each place.

    ``profile`` holds (distance from the start [NM], altitude [ft]) in the order of distance, the first at 0 and the last at
    ``distance_nm``; straight between them.
    """

    start: Position
    end: Position
    distance_nm: float
    profile: tuple[tuple[float, float], ...]

    def __post_init__(self):
        along_nm = [point_nm for point_nm, _ in self.profile]
        assert along_nm and along_nm == sorted(along_nm), "the profile must run along the leg"
        assert abs(along_nm[0]) < 1e-6 and abs(along_nm[-1] - self.distance_nm) < 1e-6, "the profile must cover the whole leg"

    def altitudes_ft(self, along_nm: np.ndarray) -> np.ndarray:
        """Return the planned altitudes [ft] at distances from the start [NM]. Shapes (n,) in and out."""
        distances_nm, altitudes_ft = zip(*self.profile, strict=True)
        return np.interp(along_nm, distances_nm, altitudes_ft)


class AcrossRays:
    """The view of a beacon that stands beside the leg: a ray to every point. Without an antenna no sight is worked out."""

    step_nm = 0.2
    """First spacing of the samples. [NM]"""
    edge_nm = 0.04
    """How closely two samples must enclose an edge. [NM]"""

    def __init__(
        self, position: Position, antenna: Antenna | None, path: LegPath, ground: Ground, doubt: SightDoubt, see: Callable[..., SightTable]
    ):
        self.position, self.antenna, self.path, self.ground, self.doubt, self.see = position, antenna, path, ground, doubt, see
        try:
            self.landmarks_nm = np.array([distance_and_offset_from_leg(path.start, path.end, position).along_nm])
        except OutOfRange:  # a quarter of the globe away no place of the leg is near
            self.landmarks_nm = np.empty(0)

    def points(self, along_nm: np.ndarray) -> Points:
        """See the points at distances (n,) from the start of the leg. [NM]"""
        lat_deg, lon_deg = points_along(self.path.start, self.path.end, along_nm)
        bearing_true_deg, away_nm = bearings_and_distances(self.position, lat_deg, lon_deg)
        lowest_m = hidden_m = seen_m = np.full(along_nm.shape, np.nan)
        ground_unknown = np.zeros(along_nm.shape, dtype=bool)
        if self.antenna is not None:
            away_m = metres_from_nautical_miles(away_nm)
            band = sight_band(
                antenna=self.antenna,
                lat_deg=lat_deg,
                lon_deg=lon_deg,
                distance_m=away_m,
                ground=self.ground,
                doubt=self.doubt,
                see=self.see,
            )
            lowest_m, hidden_m, seen_m = band.table.lowest_altitude_m, band.surely_hidden_m, band.surely_seen_m
            ground_unknown = band.table.unknown_from_m <= away_m
        return Points(
            along_nm=along_nm,
            altitude_ft=self.path.altitudes_ft(along_nm),
            distance_nm=away_nm,
            bearing_true_deg=bearing_true_deg,
            lowest_altitude_ft=feet_from_metres(lowest_m),
            surely_hidden_ft=feet_from_metres(hidden_m),
            surely_seen_ft=feet_from_metres(seen_m),
            margin_db=np.full(along_nm.shape, np.nan),
            ground_unknown=ground_unknown,
        )


class AlongRay:
    """The view of a beacon that stands on an end of the leg: the leg is one of its rays, exact at every distance."""

    step_nm = 0.05
    """First spacing of the samples. [NM]"""
    edge_nm = 0.002
    """How closely two samples must enclose an edge. [NM]"""

    def __init__(self, path: LegPath, line: SightLine, *, weak: SightLine, strong: SightLine, from_start: bool, doubt: SightDoubt):
        self.path, self.line, self.weak, self.strong = path, line, weak, strong
        self.from_start, self.doubt = from_start, doubt
        self.landmarks_nm = self._turned(nautical_miles_from_metres(line.crest_distance_m))

    def points(self, along_nm: np.ndarray) -> Points:
        """See the points at distances (n,) from the start of the leg. [NM]"""
        away_nm = self._turned(along_nm)
        away_m = np.clip(metres_from_nautical_miles(away_nm), 0.0, self.line.length_m)
        hidden_m, seen_m = band_m(
            weak_m=self.weak.lowest_altitude_m(away_m),
            strong_m=self.strong.lowest_altitude_m(away_m),
            distance_m=away_m,
            crest_distance_m=self._crest_distance_m(away_m),
            antenna_assumed=self.line.antenna.height_assumed,
            doubt=self.doubt,
        )
        return Points(
            along_nm=along_nm,
            altitude_ft=self.path.altitudes_ft(along_nm),
            distance_nm=away_nm,
            bearing_true_deg=np.full(along_nm.shape, self.line.bearing_true_deg),
            lowest_altitude_ft=feet_from_metres(self.line.lowest_altitude_m(away_m)),
            surely_hidden_ft=feet_from_metres(hidden_m),
            surely_seen_ft=feet_from_metres(seen_m),
            margin_db=np.full(along_nm.shape, np.nan),
            ground_unknown=away_m >= self.line.unknown_from_m,
        )

    def _crest_distance_m(self, away_m: np.ndarray) -> np.ndarray:
        """How far the crest that decides at each distance is from the antenna; NaN before the first. (n,) [m]"""
        crests_m = np.concatenate(([np.nan], self.line.crest_distance_m))
        return crests_m[np.searchsorted(self.line.crest_distance_m, away_m)]

    def _turned(self, along_nm: np.ndarray) -> np.ndarray:
        """Turn distances from the start of the leg into distances from the beacon, or back."""
        return along_nm if self.from_start else self.path.distance_nm - along_nm


def view_of_leg(
    *,
    position: Position,
    antenna: Antenna | None,
    path: LegPath,
    ground: Ground,
    doubt: SightDoubt,
    see: Callable[..., SightTable] = lowest_altitudes,
) -> AlongRay | AcrossRays:
    """Choose how a part at a position sees a leg; no antenna where no sight is to be worked out."""
    for near, far in ((path.start, path.end), (path.end, path.start)):
        if antenna is not None and distance_nm(position, near) <= ON_LEG_END_NM:
            ray = inverse(position, far)
            if ray.initial_true_deg is not None and ray.distance_m <= LONGEST_RAY_M:
                line, weak, strong = (
                    sight_line(
                        antenna=antenna,
                        bearing_true_deg=ray.initial_true_deg,
                        length_m=ray.distance_m,
                        ground=ground,
                        effective_earth_factor=k,
                    )
                    for k in (STANDARD_K, doubt.weak_k, doubt.strong_k)
                )
                return AlongRay(path, line, weak=weak, strong=strong, from_start=near is path.start, doubt=doubt)
    return AcrossRays(position, antenna, path, ground, doubt, see)


def first_samples_nm(path: LegPath, view: AlongRay | AcrossRays) -> np.ndarray:
    """Return where to look first: evenly spaced, at the vertices of the profile and at the view's own landmarks. (n,) [NM]"""
    even_nm = np.linspace(0.0, path.distance_nm, max(2, math.ceil(path.distance_nm / view.step_nm) + 1))
    vertices_nm = [point_nm for point_nm, _ in path.profile]
    samples_nm = np.concatenate((even_nm, vertices_nm, view.landmarks_nm))
    return np.unique(samples_nm[(samples_nm >= 0.0) & (samples_nm <= path.distance_nm)])


def ridge_at(*, antenna: Antenna, path: LegPath, along_nm: float, altitude_ft: float, ground: Ground) -> Ridge | None:
    """Return the ground that hides the antenna from an altitude over a point of the leg, None where the curve of the earth alone does."""
    point = position_along(path.start, path.end, along_nm)
    table = lowest_altitudes(antenna=antenna, lat_deg=np.array([point.lat_deg]), lon_deg=np.array([point.lon_deg]), ground=ground)
    if not math.isfinite(table.ridge_distance_m[0]):
        return None
    away_m = inverse(antenna.position, point).distance_m
    line_m = line_of_sight_altitude_m(
        antenna_m=antenna.altitude_m, aircraft_m=metres_from_feet(altitude_ft), away_m=away_m, at_m=float(table.ridge_distance_m[0])
    )
    return Ridge(
        position=Position(lat_deg=float(table.ridge_lat_deg[0]), lon_deg=float(table.ridge_lon_deg[0])),
        elevation_m=float(table.ridge_elevation_m[0]),
        distance_from_beacon_nm=nautical_miles_from_metres(float(table.ridge_distance_m[0])),
        above_line_ft=feet_from_metres(float(table.ridge_elevation_m[0]) - line_m),
    )


def line_of_sight_altitude_m(*, antenna_m: float, aircraft_m: float, away_m: float, at_m: float) -> float:
    """Return how high the straight line from an antenna to an aircraft runs over a place between them, on the 4/3 earth.

    Parameters
    ----------
    antenna_m, aircraft_m : float
        Altitudes. [m]
    away_m, at_m : float
        Distances along the ground from the antenna to the aircraft and to the place, ``0 <= at_m <= away_m``, 0 < away_m. [m]

    Notes
    -----
    In polar coordinates round the centre of the earth, radius vectors r0 and r1 an angle c apart, the line stands at
    r = r0 r1 sin c / (r0 sin a + r1 sin(c - a)) where the place is an angle a from r0.
    """
    radius_m = STANDARD_K * MEAN_EARTH_RADIUS_M
    r0_m, r1_m = radius_m + antenna_m, radius_m + aircraft_m
    whole, part = away_m / radius_m, at_m / radius_m
    return r0_m * r1_m * math.sin(whole) / (r0_m * math.sin(part) + r1_m * math.sin(whole - part)) - radius_m
