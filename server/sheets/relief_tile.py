"""Shaded ground in square tiles on the region's own conic projection, for a chart that is moved and enlarged in the browser.

Zoom z shows METRES_AT_ZOOM_0 / 2^z metres of the plane in a pixel. Tile (0, 0) begins at the origin of the plane and runs east and south.
"""

from __future__ import annotations

import hashlib

import numpy as np

from server.navigation import ConicProjection
from server.radio.ground import Ground
from server.sheets.relief import relief_tile

TILE_PIXELS = 256
METRES_AT_ZOOM_0 = 4096.0
WIDEST_ZOOM, CLOSEST_ZOOM = -2, 8
"""16 km a pixel, a continent in a window; and 16 m a pixel, five to a post of 3-second ground."""
LOOK = "1"
"""Changed whenever the same ground is to be drawn otherwise, so that kept tiles are not taken for new ones."""

_MARGIN = 1
_NODE_STEP = 16  # places are projected this many pixels apart, and between them taken as straight: within 0.02 pixels at every zoom


def relief_state(projection: ConicProjection, ground: Ground) -> str:
    """Name what the tiles of a region show: two regions of one state have equal tiles."""
    parallels = (projection.lat_1, projection.lat_2, projection.lat_0, projection.lon_0)
    told = f"{LOOK} {ground.fingerprint} {' '.join(repr(float(each)) for each in parallels)}"
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def metres_a_pixel(zoom: int) -> float:
    """Return the size of a pixel on the plane. [m]"""
    return METRES_AT_ZOOM_0 / 2.0**zoom


def relief_tile_webp(projection: ConicProjection, ground: Ground, *, zoom: int, x: int, y: int) -> bytes:
    """Draw one tile as WebP, transparent where the ground is not known."""
    pixel_m = metres_a_pixel(zoom)
    lat_deg, lon_deg = _places(projection, west_m=x * TILE_PIXELS * pixel_m, north_m=-y * TILE_PIXELS * pixel_m, pixel_m=pixel_m)
    elevations_m = ground.elevations_m(lat_deg=lat_deg.ravel(), lon_deg=lon_deg.ravel()).reshape(lat_deg.shape)
    return relief_tile(elevations_m, pixel_m=pixel_m, margin=_MARGIN)


def _places(projection: ConicProjection, *, west_m: float, north_m: float, pixel_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Return latitude and longitude of the middle of each pixel, a margin round the tile included. [deg], NaN beyond the projection."""
    nodes = np.arange(-_NODE_STEP, TILE_PIXELS + 2 * _NODE_STEP, _NODE_STEP)
    x_m, y_m = np.meshgrid(west_m + nodes * pixel_m, north_m - nodes * pixel_m)
    lat_deg, lon_deg = projection.from_plane_m(x_m.ravel(), y_m.ravel())
    turned_deg = projection.lon_0 + (lon_deg - projection.lon_0 + 180.0) % 360.0 - 180.0
    pixels = np.arange(-_MARGIN, TILE_PIXELS + _MARGIN) + 0.5
    before = np.floor((pixels - nodes[0]) / _NODE_STEP).astype(int)
    share = (pixels - nodes[0]) / _NODE_STEP - before
    return tuple(_between(values.reshape(x_m.shape), before, share) for values in (lat_deg, turned_deg))  # type: ignore[return-value]


def _between(values: np.ndarray, before: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Interpolate node values to every pixel, down and across."""
    down = values[before] * (1.0 - share)[:, np.newaxis] + values[before + 1] * share[:, np.newaxis]
    return down[:, before] * (1.0 - share) + down[:, before + 1] * share
