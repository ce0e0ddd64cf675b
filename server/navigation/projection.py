"""The region's own chart projection: Lambert conformal conic on WGS 84, on which a straight line is very nearly a track."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pyproj import Transformer

from server.errors import InputProblem
from server.navigation.bearings import difference_deg
from server.navigation.position import Position

_LEAST_CONE_LATITUDE_DEG = 1.0
_HIGHEST_PARALLEL_DEG = 89.0
_ECCENTRICITY = math.sqrt(0.00669437999014)  # WGS 84, NIMA TR8350.2


@dataclass(frozen=True, kw_only=True, slots=True)
class ConicProjection:
    """Two standard parallels, and the origin of the plane, by the names PROJ gives them. [deg]

    References
    ----------
    EPSG method 9802, IOGP Guidance Note 7-2. Checked: tests/reference/test_conic_projection.py.
    """

    lat_1: float
    lat_2: float
    lat_0: float
    lon_0: float

    def __post_init__(self):
        if abs(self.lat_1 + self.lat_2) < 1e-6 or not max(abs(self.lat_1), abs(self.lat_2), abs(self.lat_0)) < 90.0:
            raise InputProblem(
                f"A conic chart needs standard parallels between the poles that are not opposites; {self.lat_1:g} and {self.lat_2:g} "
                f"with the middle parallel {self.lat_0:g} make none.",
                code="conic-parallels",
                place="standard parallels",
            )

    @classmethod
    def for_bounds(cls, *, south: float, north: float, west: float, east: float) -> ConicProjection:
        """Fit a projection to a rectangle: parallels one sixth of its height in from the edges, origin in its middle.

        East of west always: 170 to -170 crosses the antimeridian. Where the middle parallel is within 1 deg of the equator the cone would
        be a cylinder of endless radius, so the standard parallels are moved until it is 1 deg off.
        """
        margin_deg = (north - south) / 6.0
        middle_deg = (north + south) / 2.0
        moved_deg = 0.0
        if abs(middle_deg) < _LEAST_CONE_LATITUDE_DEG:
            moved_deg = (_LEAST_CONE_LATITUDE_DEG if middle_deg >= 0.0 else -_LEAST_CONE_LATITUDE_DEG) - middle_deg
        width_deg = east - west if east >= west else east - west + 360.0
        return cls(
            lat_1=_off_pole(south + margin_deg + moved_deg),
            lat_2=_off_pole(north - margin_deg + moved_deg),
            lat_0=_off_pole(middle_deg),
            lon_0=difference_deg(west + width_deg / 2.0, 0.0),
        )

    def to_plane_m(self, lat_deg, lon_deg) -> tuple[np.ndarray, np.ndarray]:
        """Return east and north of the origin on the plane [m]; NaN where the projection does not reach. Arrays of one shape."""
        x_m, y_m = _plane(self).transform(np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float))
        return _finite(x_m), _finite(y_m)

    def from_plane_m(self, x_m, y_m) -> tuple[np.ndarray, np.ndarray]:
        """Return latitudes and longitudes [deg] of points on the plane; NaN where there are none. Arrays of one shape."""
        lon_deg, lat_deg = _plane(self).transform(np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float), direction="INVERSE")
        return _finite(lat_deg), _finite(lon_deg)

    def convergence_deg(self, position: Position) -> float:
        """Return the direction of the plane's north at a place, from true north: true direction = direction on the plane + this. [deg]"""
        return _cone_constant(self) * difference_deg(position.lon_deg, self.lon_0)


@lru_cache(maxsize=64)
def _plane(projection: ConicProjection) -> Transformer:
    """Return PROJ's own form of the projection; a Transformer may be shared by threads, which a Proj may not."""
    names = ("lat_1", "lat_2", "lat_0", "lon_0")
    parameters = " ".join(f"+{name}={getattr(projection, name):.15g}" for name in names)
    return Transformer.from_pipeline(f"+proj=lcc {parameters} +ellps=WGS84")


@lru_cache(maxsize=64)
def _cone_constant(projection: ConicProjection) -> float:
    """Return how much a meridian turns on the plane for each degree of longitude: n of IOGP Guidance Note 7-2, method 9802."""
    phi_1, phi_2 = math.radians(projection.lat_1), math.radians(projection.lat_2)
    if abs(phi_1 - phi_2) < 1e-9:
        return math.sin(phi_1)
    return (math.log(_parallel_radius(phi_1)) - math.log(_parallel_radius(phi_2))) / (math.log(_t(phi_1)) - math.log(_t(phi_2)))


def _parallel_radius(phi: float) -> float:
    """m of Guidance Note 7-2: radius of a parallel over the semi-major axis."""
    return math.cos(phi) / math.sqrt(1.0 - (_ECCENTRICITY * math.sin(phi)) ** 2)


def _t(phi: float) -> float:
    """t of Guidance Note 7-2."""
    e_sin = _ECCENTRICITY * math.sin(phi)
    return math.tan(math.pi / 4.0 - phi / 2.0) / ((1.0 - e_sin) / (1.0 + e_sin)) ** (_ECCENTRICITY / 2.0)


def _off_pole(lat_deg: float) -> float:
    return min(max(lat_deg, -_HIGHEST_PARALLEL_DEG), _HIGHEST_PARALLEL_DEG)


def _finite(values) -> np.ndarray:
    values = np.asarray(values, dtype=float)
    return np.where(np.isfinite(values), values, np.nan)
