"""How sure a line of sight is: between which altitudes the real edge of reception lies.

Three things are not known exactly: how the air bends the ray that day, how high the ground really is, and, where nobody published it, how
high the antenna stands. Above the band the antenna is seen whatever they are, below it it is hidden, inside it the answer is marginal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from server.radio.ground import Ground
from server.radio.horizon import STANDARD_K
from server.radio.sight import Antenna, SightTable, lowest_altitudes


@dataclass(frozen=True, kw_only=True, slots=True)
class SightDoubt:
    """What is not known exactly: the effective earth factor lies between two, a post is so far from the ground, and an assumed antenna
    height is so far wrong. [m]"""

    weak_k: float
    strong_k: float
    ground_error_m: float
    antenna_error_m: float


STANDARD_DOUBT = SightDoubt(weak_k=1.2, strong_k=1.5, ground_error_m=10.0, antenna_error_m=4.0)
"""Most days lie between k = 1.2 and 1.5: gradients of -26 and -52 N/km, k = 157 / (157 + dN/dh), ITU-R P.834. SRTM states 16 m absolute at
90 %, and is found to be 6 to 10 m off (both from memory)."""

NO_DOUBT = SightDoubt(weak_k=STANDARD_K, strong_k=STANDARD_K, ground_error_m=0.0, antenna_error_m=0.0)
"""The middle alone: for checks of the geometry."""


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

    The same holds on smooth ground with its tangent for a crest: (d - t)^2 / 2R + g with t^2 = 2R (h0 - g) changes by d / t with g. Where
    nothing is in the way (NaN) an error does not grow.
    """
    return np.where(np.isnan(crest_distance_m), 1.0, np.maximum(1.0, distance_m / np.maximum(crest_distance_m, 1.0)))


def band_m(
    *,
    weak_m: np.ndarray,
    strong_m: np.ndarray,
    distance_m: np.ndarray,
    crest_distance_m: np.ndarray,
    antenna_assumed: bool,
    doubt: SightDoubt,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the altitudes below which the antenna is surely hidden and from which it is surely seen. (n,), (n,) [m]

    Parameters
    ----------
    weak_m, strong_m : array (n,)
        Lowest altitudes with the weakest and the strongest refraction. [m]
    distance_m, crest_distance_m : array (n,)
        From the antenna to the point, and to the crest or tangent that decides (NaN: nothing is in the way). [m]
    antenna_assumed : bool
        Whether the antenna's height is assumed.
    doubt : SightDoubt
    """
    error_m = doubt.ground_error_m + (doubt.antenna_error_m if antenna_assumed else 0.0)
    spread_m = error_m * lever(distance_m=distance_m, crest_distance_m=crest_distance_m)
    return strong_m - spread_m, weak_m + spread_m


def sight_band(
    *,
    antenna: Antenna,
    lat_deg: np.ndarray,
    lon_deg: np.ndarray,
    distance_m: np.ndarray,
    ground: Ground,
    doubt: SightDoubt = STANDARD_DOUBT,
    see: Callable[..., SightTable] = lowest_altitudes,
) -> SightBand:
    """Work out the band over points, each seen with three refractions. ``distance_m``: from the antenna. (n,) [m]

    ``see`` is lowest_altitudes, or does the same as server.radio.sights.TableSights does.
    """
    middle = see(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground)
    weak, strong = (
        see(antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground, effective_earth_factor=k).lowest_altitude_m
        for k in (doubt.weak_k, doubt.strong_k)
    )
    hidden_m, seen_m = band_m(
        weak_m=weak,
        strong_m=strong,
        distance_m=distance_m,
        crest_distance_m=middle.crest_distance_m,
        antenna_assumed=antenna.height_assumed,
        doubt=doubt,
    )
    return SightBand(table=middle, surely_hidden_m=hidden_m, surely_seen_m=seen_m)
