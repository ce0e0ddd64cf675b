"""How sure a line of sight is: between which altitudes the real edge of reception lies.

Three things are not known exactly: how the air bends the ray that day, how high the ground really is, and, where nobody published it, how
high the antenna stands. Above the band the antenna is seen whatever they are, below it it is hidden, inside it the answer is marginal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from server.radio.ground import Ground
from server.radio.sight import Antenna, SightTable, lowest_altitudes

WEAK_REFRACTION_K = 1.2
STRONG_REFRACTION_K = 1.5
"""Effective earth factors between which most days lie: gradients of about -26 and -52 N/km, k = 157 / (157 + dN/dh), ITU-R P.834."""

GROUND_ERROR_M = 10.0
"""How far a post may be from the ground: SRTM's own figure is 16 m absolute at 90 %, about 6 to 10 m as found (from memory)."""

ANTENNA_ERROR_M = 4.0
"""How far an assumed antenna height may be wrong."""


@dataclass(frozen=True, eq=False)
class SightBand:
    """Lowest altitudes from which an antenna is seen, over n points. [m]

    ``table`` holds the middle (k = 4/3) with its ridges; below ``surely_hidden_m`` it is hidden, from ``surely_seen_m`` on it is seen.
    """

    table: SightTable
    surely_hidden_m: np.ndarray
    surely_seen_m: np.ndarray


def lever(*, distance_m: np.ndarray, crest_distance_m: np.ndarray) -> np.ndarray:
    """By how much an error at the crest grows on its way to the point: distance over crest distance, at least 1. (n,)

    Where no crest but the curve of the earth decides (NaN), an error of ground or antenna reaches the point about twofold: at the
    tangent it tilts the ray about as far before as behind.
    """
    return np.where(np.isnan(crest_distance_m), 2.0, np.maximum(1.0, distance_m / np.maximum(crest_distance_m, 1.0)))


def band_m(
    *,
    weak_m: np.ndarray,
    strong_m: np.ndarray,
    distance_m: np.ndarray,
    crest_distance_m: np.ndarray,
    antenna_assumed: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the altitudes below which the antenna is surely hidden and from which it is surely seen. (n,), (n,) [m]

    Parameters
    ----------
    weak_m, strong_m : array (n,)
        Lowest altitudes with k = 1.2 and k = 1.5. [m]
    distance_m, crest_distance_m : array (n,)
        From the antenna to the point, and to the crest that decides (NaN: the curve of the earth). [m]
    antenna_assumed : bool
        Whether the antenna's height is assumed.
    """
    error_m = GROUND_ERROR_M + (ANTENNA_ERROR_M if antenna_assumed else 0.0)
    spread_m = error_m * lever(distance_m=distance_m, crest_distance_m=crest_distance_m)
    return strong_m - spread_m, weak_m + spread_m


def sight_band(*, antenna: Antenna, lat_deg: np.ndarray, lon_deg: np.ndarray, distance_m: np.ndarray, ground: Ground) -> SightBand:
    """Work out the band over points, a ray to each and one for each refraction. ``distance_m``: from the antenna. (n,) [m]"""
    middle = lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
    weak, strong = (
        lowest_altitudes(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground, effective_earth_factor=k).lowest_altitude_m
        for k in (WEAK_REFRACTION_K, STRONG_REFRACTION_K)
    )
    hidden_m, seen_m = band_m(
        weak_m=weak,
        strong_m=strong,
        distance_m=distance_m,
        crest_distance_m=middle.ridge_distance_m,
        antenna_assumed=antenna.height_assumed,
    )
    return SightBand(table=middle, surely_hidden_m=hidden_m, surely_seen_m=seen_m)
