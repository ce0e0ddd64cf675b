"""Hand-size grounds, and the slow, obvious way to find what an antenna on them is seen from. NumPy and pyproj; no code of server.radio."""

from __future__ import annotations

import numpy as np
from pyproj import Geod

from server.navigation.position import Position
from tests.builders import GridGround
from tests.radio.slow_sight import exact_slope

WGS84 = Geod(ellps="WGS84")
HERE = Position(lat_deg=43.5, lon_deg=-36.0)
STEP_DEG = 1 / 1200
REACH_M = 24_000.0
RADIUS_M = 6_371_008.8 * 4 / 3


def square_ground(height_m, *, middle: Position = HERE, half_deg: float = 0.4, step_deg: float = STEP_DEG) -> GridGround:
    """Ground round a place, its posts given by height_m(rows south, columns east of the middle)."""
    half = round(half_deg / step_deg)
    south, east = np.meshgrid(np.arange(-half, half + 1), np.arange(-half, half + 1), indexing="ij")
    posts = np.broadcast_to(height_m(south, east), south.shape).astype(np.float32)
    return GridGround(posts, middle.lat_deg + half * step_deg, middle.lon_deg - half * step_deg, step_deg, step_deg)


def rough_posts(seed: int, south: np.ndarray) -> np.ndarray:
    """Hills and valleys from 0 to about 900 m, rough at the scale of two posts."""
    random = np.random.default_rng(seed)
    size = max(south.shape)
    height = np.zeros((size, size))
    for grain in (size // 160, size // 40, size // 10, size // 2):
        coarse = random.uniform(size=(grain + 2, grain + 2))
        place = np.linspace(0.0, grain, size)
        low, part = place.astype(int), place % 1.0
        along = coarse[:, low] * (1.0 - part) + coarse[:, low + 1] * part
        height += (along[low].T * (1.0 - part) + along[low + 1].T * part).T * 60.0 * (160.0 / grain) ** 0.5
    return np.maximum(0.0, height - 250.0)[: south.shape[0], : south.shape[1]]


def random_points(antenna: Position, count: int, seed: int, *, nearest_m: float = 1_000.0, farthest_m: float = REACH_M):
    """Bearings, distances, latitudes and longitudes of points spread evenly over a disc."""
    random = np.random.default_rng(seed)
    bearing_true_deg = random.uniform(0.0, 360.0, count)
    distance_m = np.sqrt(random.uniform(nearest_m**2, farthest_m**2, count))
    lat_deg, lon_deg = places(antenna, bearing_true_deg, distance_m)
    return bearing_true_deg, distance_m, lat_deg, lon_deg


def places(antenna: Position, bearing_true_deg, distance_m):
    same = np.ones_like(distance_m)
    lon_deg, lat_deg, _ = WGS84.fwd(antenna.lon_deg * same, antenna.lat_deg * same, bearing_true_deg * same, distance_m)
    return np.asarray(lat_deg), np.asarray(lon_deg)


def elevations_m(ground: GridGround, lat_deg, lon_deg):
    """Bilinear elevations of many places, NaN off the posts."""
    row = (ground.north_lat_deg - lat_deg) / ground.step_lat_deg
    column = np.mod(lon_deg - ground.west_lon_deg, 360.0) / ground.step_lon_deg
    rows, columns = ground.posts.shape
    inside = (row >= 0.0) & (row <= rows - 1) & (column >= 0.0) & (column <= columns - 1)
    i, j = np.where(inside, row, 0).astype(int).clip(0, rows - 2), np.where(inside, column, 0).astype(int).clip(0, columns - 2)
    down, across = row - i, column - j
    posts = np.where(ground.posts > -32000.0, ground.posts, np.nan).astype(float)
    north = posts[i, j] * (1.0 - across) + posts[i, j + 1] * across
    south = posts[i + 1, j] * (1.0 - across) + posts[i + 1, j + 1] * across
    return np.where(inside, north + (south - north) * down, np.nan)


def marched_altitudes_m(ground, antenna, bearing_true_deg, distance_m, *, step_m=4.0, start_m=200.0):
    """Lowest altitudes in sight by samples on the geodesic every few metres: too low by what lies between two samples."""
    altitude_m = np.empty(distance_m.size)
    for k, (bearing, end_m) in enumerate(zip(bearing_true_deg, distance_m, strict=True)):
        along_m = np.append(np.arange(start_m, end_m, step_m), end_m)
        slope = np.nanmax(
            exact_slope(along_m, elevations_m(ground, *places(antenna.position, bearing, along_m)), antenna.altitude_m, RADIUS_M)
        )
        angle = end_m / RADIUS_M
        altitude_m[k] = (RADIUS_M + antenna.altitude_m) / (np.cos(angle) - slope * np.sin(angle)) - RADIUS_M
    return altitude_m
