"""All that one antenna sees, in one compact table: for every ray round it the crests that hide what lies behind them.

Built once for an antenna on its ground, the table answers for any point within its reach in a fraction of a microsecond, and agrees with
the exact rays of server/radio/sight.py to a metre as a rule. The table knows no file; server/terrain/crest_store.py keeps it on disk.

Numba is loaded at the first table, not when this module is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from server.errors import OutOfRange
from server.navigation.geodesy import MEAN_EARTH_RADIUS_M, destinations
from server.radio.ground import UNKNOWN_BELOW_M, GridWindow, Ground
from server.radio.horizon import STANDARD_K
from server.radio.rays import NODE_SPACING_M, longitudes_on, window_round
from server.radio.sight import CLEAR_DISC_M, Antenna

TABLE_VERSION = 1
"""Raised with every change of the code that changes a table: tables kept on disk are then made anew."""

REACH_M = 240_760.0
"""130 NM, the greatest range for which a VHF beacon's volume is published (high-altitude class)."""

RAYS = 12_000
"""Rays of a full turn, 0.03 degrees apart: 126 m at 130 NM. As many as keep 95 % of the answers within a metre on steep ground."""

LEAST_STEP_M = 0.1
"""A crest is left out when the altitudes between it and the next become too low by less than this."""

HIGHEST_ANTENNA_LATITUDE_DEG = 80.0
"""Nearer to a pole a ray cannot be told from its neighbours in degrees: no table there, but single rays serve."""

_KNOTS = 360  # rays whose nodes are worked out on the ellipsoid; a cubic through four neighbours misses the others by less than 1 mm
_STEPS_A_PIECE = 27.9  # of the 28 that a large piece may cover
_DRIFT_UNIT = 1e-7  # for each ray: at most 6 mm of altitude at 130 NM, half-way to the next ray
_LARGEST_CODE = 65_535


@dataclass(frozen=True, kw_only=True, eq=False)
class CrestTable:
    """The crests round one antenna. Ray k has the bearing k * 360 / rays and the crests first_crest[k] to first_crest[k + 1].

    first_crest : (rays + 1,) int32.
    distance : (crests,) uint16, in units of ``reach_m`` / 65,535 (3.7 m); rising along each ray.
    slope : (crests,) float32, tangent of the angle above the antenna's horizontal, rising along each ray.
    drift : (crests,) int16, change of the slope from this ray to the next if the crest goes on as it stands, in units of 1e-7.
    unknown_from_m : (rays,) float32, where unknown ground begins, inf where the whole ray is known; rounded towards the antenna.
    """

    antenna: Antenna
    effective_radius_m: float
    reach_m: float
    first_crest: np.ndarray
    distance: np.ndarray
    slope: np.ndarray
    drift: np.ndarray
    unknown_from_m: np.ndarray

    @property
    def rays(self) -> int:
        """Number of rays of the full turn."""
        return self.first_crest.size - 1

    @property
    def size_bytes(self) -> int:
        """Memory that the table takes."""
        return sum(values.nbytes for values in (self.first_crest, self.distance, self.slope, self.drift, self.unknown_from_m))


@dataclass(frozen=True, eq=False)
class TableSight:
    """What a table says of n points. Arrays (n,).

    lowest_altitude_m, unknown_from_m : as in server.radio.sight.SightTable; both NaN beyond the reach of the table.
    crest_distance_m, crest_elevation_m : the last crest before the point, on the nearer of the two rays beside it; NaN where there is none.
    """

    lowest_altitude_m: np.ndarray
    unknown_from_m: np.ndarray
    crest_distance_m: np.ndarray
    crest_elevation_m: np.ndarray


def look_up(*, table: CrestTable, bearing_true_deg: np.ndarray, distance_m: np.ndarray, ground_m: np.ndarray) -> TableSight:
    """Find the lowest altitudes from which the antenna of a table is seen.

    Parameters
    ----------
    table : CrestTable
    bearing_true_deg, distance_m : arrays (n,)
        Of the points from the antenna. A bearing that is NaN (a point at the antenna) counts as north. [deg], [m]
    ground_m : array (n,)
        Elevation of the ground at the points, NaN where not known. [m MSL]

    Notes
    -----
    Between two rays the slope is taken from two straight lines, one through each ray with the drift of its crest. They meet where the
    crest crosses a line of posts or another ridge takes over: there the slope bends. Where the lines do not meet between the rays the
    altitude is interpolated instead. Measured errors: tests/benchmarks/crest_table.py.
    """
    from server.radio import _crest_kernels

    within = distance_m <= table.reach_m
    found = tuple(np.empty(int(within.sum())) for _ in range(4))
    _crest_kernels.look_up(
        table.first_crest, table.distance, table.slope, table.drift, table.unknown_from_m, table.reach_m / _LARGEST_CODE, _DRIFT_UNIT,
        np.mod(np.nan_to_num(bearing_true_deg[within]), 360.0), distance_m[within], np.asarray(ground_m, dtype=float)[within],
        CLEAR_DISC_M, table.antenna.altitude_m, table.effective_radius_m, *found,
    )  # fmt: skip
    all_points = tuple(np.full(distance_m.shape, np.nan) for _ in found)
    for values, found_values in zip(all_points, found, strict=True):
        values[within] = found_values
    return TableSight(*all_points)


def build_table(
    *,
    antenna: Antenna,
    ground: Ground,
    effective_earth_factor: float = STANDARD_K,
    rays: int = RAYS,
    reach_m: float = REACH_M,
    map_chunks: Callable = map,
) -> CrestTable:
    """Walk the rays round an antenna and keep their crests.

    Parameters
    ----------
    antenna : Antenna
        From place_antenna; within 80 degrees of the equator.
    ground : Ground
    effective_earth_factor : float
        As for server.radio.sight.lowest_altitudes.
    rays : int
        Rays of the full turn, at least 360.
    reach_m : float
        Length of the rays, at most 400 km. [m]
    map_chunks : callable
        Used as ``map``: a thread pool's map walks the rays with all its threads (the loops hold no lock).

    Raises
    ------
    OutOfRange
        The antenna stands too near to a pole (code no-crest-table).

    Notes
    -----
    The walk is that of server.radio.sight, post by post with the highest slope over every bilinear patch, and crests are the same. Ground
    that lies below the line of sight over the last crest hides nothing: maxima over blocks of 8 and 32 posts tell where that is, and the
    walk leaps over it. Walking it all gives the same numbers, bit by bit.
    """
    from server.radio import _crest_kernels

    if abs(antenna.position.lat_deg) > HIGHEST_ANTENNA_LATITUDE_DEG:
        raise OutOfRange(
            f"A table of crests was asked for at latitude {antenna.position.lat_deg:.1f}. "
            f"Beyond {HIGHEST_ANTENNA_LATITUDE_DEG:g} degrees ask for single rays.",
            code="no-crest-table",
        )
    assert rays >= _KNOTS and 0.0 < reach_m <= 400_000.0
    radius_m = effective_earth_factor * MEAN_EARTH_RADIUS_M
    chords = max(1, math.ceil(reach_m / NODE_SPACING_M))
    spacing_m = reach_m / chords
    window, row, column = _knots_on_lattice(antenna, chords, spacing_m, ground)
    posts = window.posts
    steps = max(_longest(row), _longest(column))
    pieces = max(1, math.ceil(steps / _STEPS_A_PIECE)) * _crest_kernels.SMALL_IN_LARGE
    angle = np.arange(chords * pieces) * (spacing_m / pieces / radius_m)
    small, large = _bounds_of(posts)

    def walk(chunk: range):
        crests, unknown_m = np.empty(len(chunk), np.int64), np.empty(len(chunk))
        return crests, unknown_m, *_crest_kernels.walk_rays(
            chunk.start, chunk.stop, rays, row, column, posts, UNKNOWN_BELOW_M, small, large, spacing_m, CLEAR_DISC_M,
            antenna.altitude_m, radius_m, np.sin(angle), np.cos(angle), LEAST_STEP_M, crests, unknown_m,
        )  # fmt: skip

    chunks = [range(rays)[first : first + 900] for first in range(0, rays, 900)]
    crests, unknown_m, distance_m, slope, drift = (np.concatenate(parts) for parts in zip(*map_chunks(walk, chunks), strict=True))
    return CrestTable(
        antenna=antenna,
        effective_radius_m=radius_m,
        reach_m=reach_m,
        first_crest=np.concatenate(([0], np.cumsum(crests))).astype(np.int32),
        distance=np.rint(distance_m * (_LARGEST_CODE / reach_m)).astype(np.uint16),
        slope=slope,
        drift=np.clip(np.rint(drift / _DRIFT_UNIT), -_crest_kernels.LARGEST_DRIFT, _crest_kernels.LARGEST_DRIFT).astype(np.int16),
        unknown_from_m=_rounded_down(unknown_m),
    )


def _knots_on_lattice(antenna: Antenna, chords: int, spacing_m: float, ground: Ground) -> tuple[GridWindow, np.ndarray, np.ndarray]:
    """Lay one ray a degree on the lattice; return rows and columns (knots, nodes) with one knot of the turn before and two after."""
    knot = np.arange(-1, _KNOTS + 2) % _KNOTS
    bearing_true_deg = np.repeat(np.arange(_KNOTS) * (360.0 / _KNOTS), chords + 1)
    distance_m = np.tile(np.arange(chords + 1) * spacing_m, _KNOTS)
    lat_deg, lon_deg = destinations(antenna.position, bearing_true_deg=bearing_true_deg, distance_m=distance_m)
    lon_deg = longitudes_on(antenna.position, lon_deg)
    window = window_round(ground, lat_deg, lon_deg) or _NOWHERE
    row = ((window.north_lat_deg - lat_deg) / window.step_lat_deg).reshape(_KNOTS, -1)
    column = ((lon_deg - window.west_lon_deg) / window.step_lon_deg).reshape(_KNOTS, -1)
    return window, row[knot], column[knot]


_NOWHERE = GridWindow(
    posts=np.full((2, 2), np.nan, np.float32), north_lat_deg=90.0, west_lon_deg=-180.0, step_lat_deg=1e-3, step_lon_deg=1e-3
)


def _longest(place: np.ndarray) -> float:
    """Return the largest step between two nodes of a ray."""
    return float(np.abs(np.diff(place)).max())


def _bounds_of(posts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return highest and lowest post of blocks of 8 and 32 posts a side, (rows, columns, 2) each."""
    from server.radio import _crest_kernels

    rows, columns = posts.shape
    small, large = (
        np.empty((2 + math.ceil(rows / side), 2 + math.ceil(columns / side), 2), np.float32)
        for side in (_crest_kernels.SMALL, _crest_kernels.LARGE)
    )
    if posts.strides[1] != posts.itemsize or posts.strides[0] < 0:
        posts = np.ascontiguousarray(posts)
    row_step = posts.strides[0] // posts.itemsize
    line = np.lib.stride_tricks.as_strided(posts, shape=((rows - 1) * row_step + columns,), strides=(posts.itemsize,), writeable=False)
    _crest_kernels.small_blocks(line, rows, columns, row_step, np.float32(UNKNOWN_BELOW_M), small)
    _crest_kernels.large_blocks(small, large)
    _crest_kernels.widen_blocks(small)
    _crest_kernels.widen_blocks(large)
    return small, large


def _rounded_down(distance_m: np.ndarray) -> np.ndarray:
    """Return float32 that are nowhere greater."""
    rounded = distance_m.astype(np.float32)
    return np.where(rounded > distance_m, np.nextafter(rounded, np.float32(0.0)), rounded).astype(np.float32)
