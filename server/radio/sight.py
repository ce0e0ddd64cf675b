"""Radio line of sight over terrain: the lowest altitude from which an antenna is seen, and the ridge that hides it below.

A ray follows the geodesic from the antenna. It walks every patch of four posts that it crosses and takes the highest slope of sight over
the bilinear surface of each, so no summit can fall between two samples. The bending of radio waves is a larger, airless earth
(effective earth factor, 4/3 as usual). Knows nothing of aircraft, legs or beacons' classes.

Numba is loaded at the first ray, not when this module is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from server.errors import OutOfRange
from server.navigation.geodesy import MEAN_EARTH_RADIUS_M, bearings_and_distances, destinations
from server.navigation.position import Position
from server.radio.ground import UNKNOWN_BELOW_M, Ground
from server.radio.horizon import STANDARD_K
from server.radio.rays import Rays, rays_on_lattice
from server.units import metres_from_feet, metres_from_nautical_miles

ASSUMED_ANTENNA_HEIGHT_M = 8.0
"""Used, and said so, when the height of the antenna is not published: a VOR antenna on its shelter (common practice)."""

CLEAR_DISC_M = 200.0
"""Ground nearer to the antenna than this counts as level and never hides anything: stations stand on graded sites, and posts 90 m apart
do not resolve them."""

LONGEST_RAY_M = 1_000_000.0
"""No VHF beacon is heard by line of sight so far; longer rays are refused."""

SMOOTH_EARTH_MARGIN_M = 30.0
"""When ground that was smooth and as low as the lowest ground on the ray would hide the antenna within this height (about 100 ft) as much,
the curve of the earth rules, not a ridge."""

AT_POINT_M = 1.0
"""Ground this near to a point is the ground at the point, not a ridge before it."""


@dataclass(frozen=True, kw_only=True)
class Antenna:
    """Where a beacon radiates from. ``altitude_m`` is the antenna above sea level, ``ground_m`` the terrain at its foot (None: unknown)."""

    position: Position
    altitude_m: float
    ground_m: float | None
    height_assumed: bool
    elevation_estimated: bool


def place_antenna(
    *, position: Position, published_elevation_ft: float | None, antenna_height_ft: float | None, ground: Ground
) -> Antenna | None:
    """Set up an antenna on its ground.

    Parameters
    ----------
    position : Position
        Where it stands.
    published_elevation_ft : float or None
        Elevation of the site as published. [ft MSL]
    antenna_height_ft : float or None
        Antenna above the site; None takes 8 m and marks it assumed. [ft]
    ground : Ground
        Terrain.

    Returns
    -------
    Antenna or None
        On the higher of the published elevation and the terrain (posts average a summit away); marked estimated when only the terrain is
        known, None when neither is.
    """
    terrain_m = float(ground.elevations_m(lat_deg=np.array([position.lat_deg]), lon_deg=np.array([position.lon_deg]))[0])
    ground_m = None if math.isnan(terrain_m) else terrain_m
    published_m = None if published_elevation_ft is None else metres_from_feet(published_elevation_ft)
    known = [elevation_m for elevation_m in (ground_m, published_m) if elevation_m is not None]
    if not known:
        return None
    height_m = ASSUMED_ANTENNA_HEIGHT_M if antenna_height_ft is None else metres_from_feet(antenna_height_ft)
    return Antenna(
        position=position,
        altitude_m=max(known) + height_m,
        ground_m=ground_m,
        height_assumed=antenna_height_ft is None,
        elevation_estimated=published_m is None,
    )


@dataclass(frozen=True, eq=False)
class SightTable:
    """What the antenna sees of n points. Arrays (n,).

    lowest_altitude_m : lowest altitude from which the antenna is seen, never below the known ground there; -inf where nothing known is in
        the way (within CLEAR_DISC_M, or all unknown), +inf where no height helps, NaN for a point beyond LONGEST_RAY_M. [m MSL]
    unknown_from_m : distance from the antenna where unknown ground begins, inf where the whole ray is known. Where it is not inf,
        lowest_altitude_m is only what the known ground proves: a lower bound.
    ridge_lat_deg, ridge_lon_deg, ridge_elevation_m, ridge_distance_m : the place that hides the antenna below that altitude; NaN where
        the curve of the earth alone does, or only the ground at the point itself.
    crest_distance_m : where the ray touches the ground that decides, ridge or not: on smooth ground the tangent. NaN where nothing is
        in the way.
    """

    lowest_altitude_m: np.ndarray
    unknown_from_m: np.ndarray
    ridge_lat_deg: np.ndarray
    ridge_lon_deg: np.ndarray
    ridge_elevation_m: np.ndarray
    ridge_distance_m: np.ndarray
    crest_distance_m: np.ndarray


def lowest_altitudes(
    *, antenna: Antenna, lat_deg: np.ndarray, lon_deg: np.ndarray, ground: Ground, effective_earth_factor: float = STANDARD_K
) -> SightTable:
    """Find for each of n points the lowest altitude from which the antenna is seen, one ray per point.

    Parameters
    ----------
    antenna : Antenna
        From place_antenna.
    lat_deg, lon_deg : arrays (n,)
        The points. [deg]
    ground : Ground
        Terrain; asked once, for one window round all rays.
    effective_earth_factor : float
        Radius of the effective earth over that of the earth, > 0; 4/3 for the standard atmosphere.

    Returns
    -------
    SightTable
        Arrays (n,).

    Notes
    -----
    On a sphere of effective radius re, ground of elevation z at distance d is seen from an antenna at h0 with the slope
    (z - h0) / ((re + z) sin(d / re)) - tan(d / 2 re); the highest slope up to D gives the altitude
    (re + h0) / (cos(D / re) - slope sin(D / re)) - re. Both are exact for the sphere. Along one patch the slope of the parabola,
    A / d + B + C d, has at most one level place, d = sqrt(A / C): the walk takes both ends of the patch and that place.

    References
    ----------
    Effective earth: ITU-R P.834 and P.526 (default radius 8,500 km). Geometry derived in DEVELOPERS.md.
    Checked: tests/reference/test_line_of_sight.py.
    """
    from server.radio import _kernels

    lat_deg = np.asarray(lat_deg, dtype=float)
    lon_deg = np.asarray(lon_deg, dtype=float)
    radius_m = effective_earth_factor * MEAN_EARTH_RADIUS_M
    bearing_true_deg, distance_nm = bearings_and_distances(antenna.position, lat_deg, lon_deg)
    bearing_true_deg = np.nan_to_num(bearing_true_deg)  # no direction at the antenna or from a pole: any serves
    distance_m = metres_from_nautical_miles(distance_nm)
    usable = distance_m <= LONGEST_RAY_M
    rays = rays_on_lattice(antenna.position, bearing_true_deg[usable], distance_m[usable], ground)

    n = int(usable.sum())
    slope, crest_m, crest_elevation_m, lowest_ground_m, unknown_m = (np.empty(n) for _ in range(5))
    _kernels.walk_many(
        rays.posts, UNKNOWN_BELOW_M, rays.row, rays.column, rays.distance_m, rays.first_node, CLEAR_DISC_M, antenna.altitude_m, radius_m,
        slope, crest_m, crest_elevation_m, lowest_ground_m, unknown_m,
    )  # fmt: skip
    altitude_m = np.empty(n)
    _kernels.altitudes_on_slopes(distance_m[usable], slope, antenna.altitude_m, radius_m, altitude_m)
    smooth_m = smooth_earth_altitudes(antenna.altitude_m, lowest_ground_m, distance_m[usable], radius_m)
    before_point = crest_m < distance_m[usable] - AT_POINT_M
    is_ridge = before_point & (altitude_m > smooth_m + SMOOTH_EARTH_MARGIN_M)
    ridge_lat_deg, ridge_lon_deg = destinations(
        antenna.position, bearing_true_deg=bearing_true_deg[usable], distance_m=np.where(is_ridge, crest_m, np.nan)
    )

    def spread(values, elsewhere=np.nan):
        table = np.full(lat_deg.shape, elsewhere)
        table[usable] = values
        return table

    return SightTable(
        lowest_altitude_m=spread(altitude_m),
        unknown_from_m=spread(unknown_m, elsewhere=0.0),
        ridge_lat_deg=spread(ridge_lat_deg),
        ridge_lon_deg=spread(ridge_lon_deg),
        ridge_elevation_m=spread(np.where(is_ridge, crest_elevation_m, np.nan)),
        ridge_distance_m=spread(np.where(is_ridge, crest_m, np.nan)),
        crest_distance_m=spread(np.where(np.isfinite(altitude_m), crest_m, np.nan)),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class SightLine:
    """One ray from an antenna, and its crests: the places where the highest slope of sight so far stops rising, nearest first.

    ``crest_slope`` is the tangent of the angle above the antenna's horizontal. ``unknown_from_m`` is where unknown ground begins, inf when
    the whole ray is known; crests beyond it are still real ground, so altitudes are a lower bound there.
    """

    antenna: Antenna
    bearing_true_deg: float
    length_m: float
    effective_radius_m: float
    crest_distance_m: np.ndarray
    crest_elevation_m: np.ndarray
    crest_slope: np.ndarray
    unknown_from_m: float
    _ray: Rays = field(repr=False)

    def ground_m(self, distance_m) -> np.ndarray:
        """Return the ground [m] at distances (n,) along the ray, NaN where it is not known."""
        from server.radio import _kernels

        distance_m = np.atleast_1d(np.asarray(distance_m, dtype=float))
        row = np.interp(distance_m, self._ray.distance_m, self._ray.row, left=np.nan, right=np.nan)
        column = np.interp(distance_m, self._ray.distance_m, self._ray.column, left=np.nan, right=np.nan)
        elevation_m = np.empty(distance_m.size)
        _kernels.elevations_at(self._ray.posts, UNKNOWN_BELOW_M, row, column, elevation_m)
        return elevation_m

    def lowest_altitude_m(self, distance_m) -> np.ndarray:
        """Return the lowest altitudes [m MSL] from which the antenna is seen at distances (n,); same meaning as in SightTable.

        NaN beyond the end of the ray or before its start.
        """
        from server.radio import _kernels

        distance_m = np.atleast_1d(np.asarray(distance_m, dtype=float))
        slopes = np.concatenate(([-np.inf], self.crest_slope))
        slope = slopes[np.searchsorted(self.crest_distance_m, distance_m, side="right")]
        altitude_m = np.empty(distance_m.size)
        _kernels.altitudes_on_slopes(distance_m, slope, self.antenna.altitude_m, self.effective_radius_m, altitude_m)
        ground_m = np.where(distance_m > CLEAR_DISC_M, self.ground_m(distance_m), np.nan)
        on_ray = (distance_m >= 0.0) & (distance_m <= self.length_m)
        return np.where(on_ray, np.fmax(altitude_m, ground_m), np.nan)

    def crest_before(self, distance_m: float) -> int | None:
        """Return the index of the last crest nearer than a distance [m]: the one that rules there. None when there is none."""
        index = int(np.searchsorted(self.crest_distance_m, distance_m)) - 1
        return index if index >= 0 else None

    def crest_position(self, index: int) -> Position:
        """Return where a crest stands."""
        lat_deg, lon_deg = destinations(
            self.antenna.position, bearing_true_deg=self.bearing_true_deg, distance_m=self.crest_distance_m[[index]]
        )
        return Position(lat_deg=float(lat_deg[0]), lon_deg=float(lon_deg[0]))


def sight_line(
    *, antenna: Antenna, bearing_true_deg: float, length_m: float, ground: Ground, effective_earth_factor: float = STANDARD_K
) -> SightLine:
    """Walk one ray from the antenna.

    Parameters
    ----------
    antenna : Antenna
        From place_antenna.
    bearing_true_deg : float
        Direction of the ray at the antenna. [deg]
    length_m : float
        Its length, > 0 and at most LONGEST_RAY_M. [m]
    ground, effective_earth_factor
        As for lowest_altitudes.

    Raises
    ------
    OutOfRange
        The length is not between 0 and LONGEST_RAY_M.

    Notes
    -----
    See lowest_altitudes: same walk, same answer.
    """
    from server.radio import _kernels

    if not 0.0 < length_m <= LONGEST_RAY_M:
        raise OutOfRange(
            f"A line of sight of {length_m / 1000.0:g} km was asked for. Ask for more than 0 and at most {LONGEST_RAY_M / 1000.0:g} km.",
            code="sight-line-length",
        )
    radius_m = effective_earth_factor * MEAN_EARTH_RADIUS_M
    ray = rays_on_lattice(antenna.position, np.array([bearing_true_deg]), np.array([length_m]), ground)
    distance_m, elevation_m, slope = (np.empty(_kernels.turning_points_at_most(ray.row, ray.column)) for _ in range(3))
    count = _kernels.walk(
        ray.posts, UNKNOWN_BELOW_M, ray.row, ray.column, ray.distance_m, CLEAR_DISC_M, antenna.altitude_m, radius_m, distance_m, elevation_m
    )
    unknown_from_m = float(_kernels.first_unknown(distance_m, elevation_m, count))
    crests = _kernels.keep_crests(distance_m, elevation_m, count, antenna.altitude_m, radius_m, slope)
    return SightLine(
        antenna=antenna,
        bearing_true_deg=bearing_true_deg,
        length_m=length_m,
        effective_radius_m=radius_m,
        crest_distance_m=distance_m[:crests].copy(),
        crest_elevation_m=elevation_m[:crests].copy(),
        crest_slope=slope[:crests].copy(),
        unknown_from_m=unknown_from_m,
        _ray=ray,
    )


def smooth_earth_altitudes(antenna_m: float, ground_m: np.ndarray, distance_m: np.ndarray, radius_m: float) -> np.ndarray:
    """Return the lowest altitudes (n,) from which the antenna would be seen over smooth ground of one elevation a ray."""
    tangent_m = radius_m * np.arccos(np.minimum(1.0, (radius_m + ground_m) / (radius_m + antenna_m)))
    beyond = np.maximum(0.0, distance_m - tangent_m) / radius_m
    return (radius_m + ground_m) / np.cos(beyond) - radius_m
