"""The geography as drawn by hand: coasts, ranges, plateau. Latitude and longitude in degrees; x and y in NM from 43.5 N 36 W."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from server.terrain.seeded_noise import layered, noise

COS_MIDDLE = 0.7254  # cosine of 43.5 degrees

COASTS = (
    (  # Great Vessune
        (44.84, -36.98), (44.72, -36.45), (44.47, -36.08), (44.33, -35.62), (44.02, -35.42), (43.80, -35.42), (43.58, -35.18),
        (43.40, -35.40), (43.18, -35.42), (43.02, -35.12), (42.72, -34.92), (42.36, -35.12), (42.40, -35.52), (42.62, -35.88),
        (42.80, -36.30), (43.08, -36.78), (43.36, -36.86), (43.55, -36.60), (43.72, -36.72), (43.92, -37.02), (44.16, -37.24),
        (44.52, -37.30),
    ),
    ((43.62, -37.66), (43.74, -37.42), (43.62, -37.22), (43.42, -37.28), (43.28, -37.46), (43.36, -37.68)),  # Pelvora, west
    ((44.46, -34.84), (44.52, -34.58), (44.38, -34.42), (44.16, -34.46), (44.08, -34.70), (44.24, -34.90)),  # Ulmare, east
    ((42.24, -37.88), (42.28, -37.76), (42.20, -37.72), (42.15, -37.82)),  # the Zelune group, far south-west
    ((42.14, -37.70), (42.16, -37.60), (42.10, -37.58), (42.08, -37.66)),
    ((42.36, -37.66), (42.38, -37.60), (42.33, -37.58)),
)  # fmt: skip

# Each range: (latitude, longitude, uplift in mm a year, half width in NM) along its crest.
RANGES = (
    (
        (44.62, -36.82, 0.55, 11), (44.40, -36.62, 0.95, 14), (44.15, -36.44, 1.25, 16), (43.90, -36.30, 1.35, 17),
        (43.62, -36.14, 1.15, 15), (43.46, -36.08, 0.80, 13), (43.30, -36.00, 1.10, 15), (43.08, -35.86, 1.20, 15),
        (42.88, -35.62, 0.90, 13), (42.66, -35.38, 0.55, 11), (42.50, -35.28, 0.30, 9),
    ),
    ((43.30, -36.00, 0.80, 9), (43.16, -36.24, 0.55, 9), (42.98, -36.36, 0.35, 8)),  # a spur to the south-west
    ((43.62, -36.14, 0.80, 9), (43.70, -35.82, 0.60, 10), (43.68, -35.56, 0.40, 9)),  # a spur to the east, south of the plateau
    ((44.40, -36.62, 0.70, 9), (44.46, -36.92, 0.45, 9)),
    ((43.55, -37.44, 0.45, 8), (43.40, -37.50, 0.35, 7)),
    ((44.38, -34.62, 0.40, 7), (44.22, -34.66, 0.35, 6)),
    ((42.22, -37.80, 0.30, 4), (42.18, -37.78, 0.25, 4)),
    ((42.12, -37.64, 0.20, 3), (42.115, -37.63, 0.20, 3)),
)  # fmt: skip

RISE = 2.0  # all ranges, so that the highest summit comes near 9,000 ft

PLATEAU = (44.02, -35.92, 17.0, 9.0)  # latitude, longitude, half length beside the range and half width in NM
PLATEAU_M = 1_480.0

# Latitude, longitude of a reach of a river, and how deep a moraine or a dam ponds it [m].
LAKES = (
    (43.37, -35.72, 24.0),
    (43.88, -36.60, 70.0),
    (43.93, -35.88, 30.0),
    (42.90, -35.95, 34.0),
    (44.33, -36.33, 32.0),
    (43.20, -36.42, 30.0),
    (43.68, -36.05, 60.0),
    (44.22, -36.86, 26.0),
)


def to_nm(lat_deg: float, lon_deg: float) -> tuple[float, float]:
    """Return x east and y north of 43.5 N 36 W. [NM]"""
    return (lon_deg + 36.0) * 60.0 * COS_MIDDLE, (lat_deg - 43.5) * 60.0


def _warped(x, y, *, nm: float, seed: int):
    """Push places about by up to ``nm``, so that what is drawn with straight lines comes out crooked."""
    return x + nm * layered(x / 14.0, y / 14.0, seed=seed, layers=3), y + nm * layered(x / 14.0, y / 14.0, seed=seed + 1, layers=3)


def inland_nm(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return how far inside the nearest coast a place lies, negative at sea. [NM]"""
    x, y = _warped(x, y, nm=5.0, seed=21)
    nearest = np.full(np.shape(x), -1e9)
    for coast in COASTS:
        corners = [to_nm(*corner) for corner in coast]
        away = np.full(np.shape(x), 1e9)
        inside = np.zeros(np.shape(x), dtype=bool)
        for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
            away = np.minimum(away, _segment(x, y, ax, ay, bx, by)[0])
            crosses = (ay > y) != (by > y)
            inside ^= crosses & (x < ax + (y - ay) * (bx - ax) / (by - ay if by != ay else 1.0))
        away = np.sqrt(away)
        nearest = np.maximum(nearest, np.where(inside, away, -away))
    return nearest


def _segment(x, y, ax, ay, bx, by):
    """Return the squared distance to a segment and how far along it [0 to 1] its nearest point lies."""
    dx, dy = bx - ax, by - ay
    along = np.minimum(1.0, np.maximum(0.0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)))
    ex, ey = x - ax - along * dx, y - ay - along * dy
    return ex * ex + ey * ey, along


def land(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Tell where land is before the sea rose."""
    return inland_nm(x, y) + 1.2 * noise(x / 2.5, y / 2.5, seed=31) > -1.0


def uplift_m_per_year(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return how fast the land rises: little at the coast, most along the ranges."""
    inland = inland_nm(x, y)
    wx, wy = _warped(x, y, nm=6.0, seed=41)
    highest = np.zeros(np.shape(x))
    for crest in RANGES:
        points = [(*to_nm(lat, lon), rate, width) for lat, lon, rate, width in crest]
        for (ax, ay, a_rate, a_width), (bx, by, b_rate, b_width) in pairwise(points):
            squared, along = _segment(wx, wy, ax, ay, bx, by)
            rate, width = a_rate + (b_rate - a_rate) * along, a_width + (b_width - a_width) * along
            shape = np.maximum(0.0, 1.0 - squared / (width * width))
            highest = np.maximum(highest, rate * shape * shape)
    shore = np.minimum(1.0, np.maximum(0.0, (inland + 2.0) / 10.0))
    hills = 0.30 + 0.24 * layered(x / 9.0, y / 9.0, seed=51, layers=2)
    return (0.12 + hills * shore + RISE * highest * np.minimum(1.0, np.maximum(0.0, (inland + 2.0) / 6.0))) * 1e-3


def softness(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return how easily the rock wears, 0.3 to 1.7: in long belts beside the main range, so that some valleys run along it."""
    x, y = _warped(x, y, nm=3.0, seed=63)
    along, across = 0.47 * x - 0.88 * y, 0.88 * x + 0.47 * y
    return 1.0 + 0.7 * layered(across / 5.0, along / 22.0, seed=61, layers=2)


def plateau(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return how much of the plateau a place belongs to (1 on it, 0 outside, its edge between) and the plateau's height there [m]."""
    lat, lon, half_length, half_width = PLATEAU
    cx, cy = to_nm(lat, lon)
    wx, wy = _warped(x, y, nm=9.0, seed=71)
    along, across = 0.47 * (wx - cx) - 0.88 * (wy - cy), 0.88 * (wx - cx) + 0.47 * (wy - cy)
    away = along * along / (half_length * half_length) + across * across / (half_width * half_width)
    t = np.minimum(1.0, np.maximum(0.0, (1.5 - away) / 0.9))
    return t * t * (3.0 - 2.0 * t), PLATEAU_M - 9.0 * (0.88 * (x - cx) + 0.47 * (y - cy))
