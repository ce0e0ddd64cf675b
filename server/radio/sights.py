"""The line of sight from crest tables, asked as the exact rays of server/radio/sight.py are, with their answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

import numpy as np

from server.navigation.geodesy import bearings_and_distances, destinations
from server.radio.crest_table import CrestTable, look_up
from server.radio.ground import Ground
from server.radio.horizon import STANDARD_K
from server.radio.sight import AT_POINT_M, SMOOTH_EARTH_MARGIN_M, Antenna, SightTable, lowest_altitudes, smooth_earth_altitudes
from server.units import metres_from_nautical_miles


class TableSights:
    """Looks points up in the antenna's table where ``find(antenna, ground, effective_earth_factor)`` has one; exact rays else."""

    def __init__(self, find: Callable[[Antenna, Ground, float], CrestTable | None]):
        self._find = find

    def lowest_altitudes(
        self, *, antenna: Antenna, lat_deg: np.ndarray, lon_deg: np.ndarray, ground: Ground, effective_earth_factor: float = STANDARD_K
    ) -> SightTable:
        """Do what server.radio.sight.lowest_altitudes does, to a metre as a rule (tests/benchmarks/crest_table.py measures it).

        Two things are told a little differently. Unknown ground begins where it does on either of the two rays beside a point. Whether
        a ridge or the curve of the earth hides the antenna is judged by the lowest of the ground at antenna, crest and point, for the table
        does not hold what lies between; ridges stand on the bearing of the point, at the crest of the nearer ray.
        """
        table = self._find(antenna, ground, effective_earth_factor)
        if table is None:
            return lowest_altitudes(
                antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=ground, effective_earth_factor=effective_earth_factor
            )
        lat_deg, lon_deg = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
        bearing_true_deg, distance_nm = bearings_and_distances(antenna.position, lat_deg, lon_deg)
        seen = _from_table(table, bearing_true_deg, metres_from_nautical_miles(distance_nm), lat_deg, lon_deg, ground)
        beyond = ~(metres_from_nautical_miles(distance_nm) <= table.reach_m)
        if beyond.any():
            exact = lowest_altitudes(
                antenna=antenna,
                lat_deg=lat_deg[beyond],
                lon_deg=lon_deg[beyond],
                ground=ground,
                effective_earth_factor=effective_earth_factor,
            )
            for field in fields(SightTable):
                getattr(seen, field.name)[beyond] = getattr(exact, field.name)
        return seen


def _from_table(
    table: CrestTable, bearing_true_deg: np.ndarray, distance_m: np.ndarray, lat_deg: np.ndarray, lon_deg: np.ndarray, ground: Ground
) -> SightTable:
    antenna = table.antenna
    ground_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    seen = look_up(table=table, bearing_true_deg=bearing_true_deg, distance_m=distance_m, ground_m=ground_m)
    crest_m = seen.crest_distance_m
    foot_m = antenna.altitude_m if antenna.ground_m is None else antenna.ground_m
    lowest_ground_m = np.fmin(np.fmin(seen.crest_elevation_m, ground_m), foot_m)
    smooth_m = smooth_earth_altitudes(antenna.altitude_m, lowest_ground_m, distance_m, table.effective_radius_m)
    is_ridge = (crest_m < distance_m - AT_POINT_M) & (seen.lowest_altitude_m > smooth_m + SMOOTH_EARTH_MARGIN_M)
    ridge_m = np.where(is_ridge, crest_m, np.nan)
    ridge_lat_deg, ridge_lon_deg = destinations(antenna.position, bearing_true_deg=bearing_true_deg, distance_m=ridge_m)
    return SightTable(
        lowest_altitude_m=seen.lowest_altitude_m,
        unknown_from_m=seen.unknown_from_m,
        ridge_lat_deg=ridge_lat_deg,
        ridge_lon_deg=ridge_lon_deg,
        ridge_elevation_m=np.where(is_ridge, seen.crest_elevation_m, np.nan),
        ridge_distance_m=ridge_m,
        crest_distance_m=np.where(seen.lowest_altitude_m == ground_m, distance_m, crest_m),
    )
