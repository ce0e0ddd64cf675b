"""A slow, obvious line of sight to compare the compiled walk with. NumPy and shapely, no code of server.radio.

Two methods that share nothing but the bilinear surface: marching in small steps, and cutting the ray with every patch of the lattice.
"""

from __future__ import annotations

import math

import numpy as np
from shapely import LineString, Point, box

UNKNOWN_BELOW_M = -32000.0


def surface(posts, row, column):
    """Bilinear elevations at places on the lattice, NaN where a post that has weight is unknown or missing."""
    elevation = np.full(len(row), np.nan)
    for k, (r, c) in enumerate(zip(row, column, strict=True)):
        total = 0.0
        for i, down in ((math.floor(r), 1.0 - r % 1.0), (math.floor(r) + 1, r % 1.0)):
            for j, across in ((math.floor(c), 1.0 - c % 1.0), (math.floor(c) + 1, c % 1.0)):
                if down * across == 0.0:
                    continue
                inside = 0 <= i < posts.shape[0] and 0 <= j < posts.shape[1]
                post = float(posts[i, j]) if inside else math.nan
                total += down * across * post if post > UNKNOWN_BELOW_M else math.nan
        elevation[k] = total
    return elevation


def exact_slope(distance_m, elevation_m, antenna_m, radius_m):
    """Slope of sight by plain trigonometry: the point in a frame whose origin is the antenna and whose x axis is its horizontal."""
    angle = np.asarray(distance_m) / radius_m
    x = (radius_m + elevation_m) * np.sin(angle)
    y = (radius_m + elevation_m) * np.cos(angle) - (radius_m + antenna_m)
    return y / x


def marched(posts, row, column, node_distance, *, start, end, step, antenna_m, radius_m):
    """Highest slope over samples ``step`` apart, from start to end, and the distance of the first unknown sample (inf if none)."""
    distance = np.append(np.arange(start, end, step), end)
    elevation = surface(posts, np.interp(distance, node_distance, row), np.interp(distance, node_distance, column))
    slopes = exact_slope(distance, elevation, antenna_m, radius_m)
    unknown = distance[np.isnan(elevation)]
    return np.nanmax(slopes, initial=-np.inf), (unknown[0] if unknown.size else np.inf)


def cut_by_patches(posts, row, column, node_distance, *, start, antenna_m, radius_m):
    """Highest slope by cutting every chord with every patch: 41 samples of each piece, then 41 more round the best of them."""
    best = -np.inf
    unknown_from = np.inf
    for n in range(len(row) - 1):
        chord = LineString([(column[n], row[n]), (column[n + 1], row[n + 1])])
        for i in range(math.floor(min(row[n : n + 2])), math.ceil(max(row[n : n + 2]))):
            for j in range(math.floor(min(column[n : n + 2])), math.ceil(max(column[n : n + 2]))):
                piece = chord.intersection(box(j, i, j + 1, i + 1))
                if piece.length < 1e-9:
                    continue
                ends = np.sort([chord.project(Point(end)) for end in (piece.coords[0], piece.coords[-1])])
                near, far = node_distance[n] + ends / chord.length * (node_distance[n + 1] - node_distance[n])
                if far <= start:
                    continue
                near = max(near, start)
                if not _patch_known(posts, i, j):
                    unknown_from = min(unknown_from, near)
                    continue
                best = max(best, _best_in_piece(posts, row, column, node_distance, near, far, antenna_m, radius_m))
    return best, unknown_from


def _patch_known(posts, i, j):
    if not (i >= 0 and i + 1 < posts.shape[0] and j >= 0 and j + 1 < posts.shape[1]):
        return False
    return all(float(post) > UNKNOWN_BELOW_M for post in posts[i : i + 2, j : j + 2].ravel())


def _best_in_piece(posts, row, column, node_distance, near, far, antenna_m, radius_m):
    nudge = 1e-9 * (far - near)  # stay inside the patch: rounding must not read a neighbour's unknown post
    near, far = near + nudge, far - nudge
    for _ in range(2):
        distance = np.linspace(near, far, 41)
        elevation = surface(posts, np.interp(distance, node_distance, row), np.interp(distance, node_distance, column))
        slopes = exact_slope(distance, elevation, antenna_m, radius_m)
        k = int(np.argmax(slopes))
        near, far = distance[max(0, k - 1)], distance[min(40, k + 1)]
    return slopes[k]
