"""Rays from an antenna, laid along geodesics on the lattice of posts. What server/radio/sight.py walks.

A ray is a chain of nodes on the geodesic, straight on the lattice between two nodes. Longitude runs on over the antimeridian.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from server.navigation.geodesy import destinations
from server.navigation.position import Position
from server.radio.ground import GridWindow, Ground, on_post

NODE_SPACING_M = 4_000.0  # a straight chord on the lattice leaves the geodesic by less than 2 m up to 80 degrees of latitude
_HIGHEST_LATITUDE_DEG = 89.0  # beyond it meridians are too close for a lattice of degrees: unknown
_WINDOW_MARGIN_DEG = 0.01


@dataclass(frozen=True, kw_only=True, eq=False)
class Rays:
    """Rays on the lattice: ray k has the nodes first_node[k] to first_node[k + 1]. Row and column are NaN off any lattice."""

    posts: np.ndarray
    row: np.ndarray
    column: np.ndarray
    distance_m: np.ndarray
    first_node: np.ndarray


def rays_on_lattice(start: Position, bearing_true_deg: np.ndarray, length_m: np.ndarray, ground: Ground) -> Rays:
    """Lay rays (n,) on the lattice of the ground: nodes on the geodesic at most 4 km apart."""
    chords = np.maximum(1, np.ceil(length_m / NODE_SPACING_M).astype(int))
    first_node = np.concatenate(([0], np.cumsum(chords + 1)))
    ray = np.repeat(np.arange(length_m.size), chords + 1)
    part = np.arange(first_node[-1]) - first_node[ray]
    distance_m = length_m[ray] * part / chords[ray]
    lat_deg, lon_deg = destinations(start, bearing_true_deg=bearing_true_deg[ray], distance_m=distance_m)
    lon_deg = longitudes_on(start, lon_deg)
    pole_part = np.minimum.reduceat(np.where(np.abs(lat_deg) > _HIGHEST_LATITUDE_DEG, part, part.size), first_node[:-1])
    on_lattice = part < pole_part[ray]
    window = window_round(ground, lat_deg[on_lattice], lon_deg[on_lattice])
    if window is None:
        nowhere = np.full(part.size, np.nan)
        return Rays(posts=np.empty((0, 0), np.float32), row=nowhere, column=nowhere, distance_m=distance_m, first_node=first_node)
    row = np.where(on_lattice, on_post((window.north_lat_deg - lat_deg) / window.step_lat_deg), np.nan)
    column = np.where(on_lattice, on_post((lon_deg - window.west_lon_deg) / window.step_lon_deg), np.nan)
    return Rays(posts=np.ascontiguousarray(window.posts), row=row, column=column, distance_m=distance_m, first_node=first_node)


def longitudes_on(start: Position, lon_deg: np.ndarray) -> np.ndarray:
    """Count longitudes from the turn of the start, so that a ray runs on over the antimeridian. [deg]"""
    return start.lon_deg + (lon_deg - start.lon_deg + 180.0) % 360.0 - 180.0


def window_round(ground: Ground, lat_deg: np.ndarray, lon_deg: np.ndarray) -> GridWindow | None:
    """Ask the ground for one window round all nodes; none where there is no ground at all."""
    if lat_deg.size == 0:
        return None
    return ground.window(
        south_deg=max(-90.0, float(lat_deg.min()) - _WINDOW_MARGIN_DEG),
        north_deg=min(90.0, float(lat_deg.max()) + _WINDOW_MARGIN_DEG),
        west_deg=float(lon_deg.min()) - _WINDOW_MARGIN_DEG,
        east_deg=float(lon_deg.max()) + _WINDOW_MARGIN_DEG,
    )
