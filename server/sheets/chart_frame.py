"""The frame of a chart: which part of the region it shows, and where a place falls on it.

The region's own conformal conic projection, turned to drawing units; up on the chart is the plane's north.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.navigation import ConicProjection, Position
from server.radio.ground import Ground
from server.units import metres_from_nautical_miles

LEAST_HALF_WIDTH_NM = 12.0
ROOM_ROUND = 1.22  # the frame is this much larger than what it must show


@dataclass(frozen=True, kw_only=True)
class ChartFrame:
    """A rectangle of the plane [m] and the drawing it is shown on, ``width`` by ``height`` drawing units, y downwards."""

    projection: ConicProjection
    west_m: float
    north_m: float
    metres_per_unit: float
    width: float
    height: float

    @classmethod
    def round_positions(cls, projection: ConicProjection, positions: Sequence[Position], *, width: float, height: float) -> ChartFrame:
        """Fit the frame round the positions it must show."""
        x_m, y_m = projection.to_plane_m(np.array([place.lat_deg for place in positions]), np.array([place.lon_deg for place in positions]))
        x_m, y_m = x_m[np.isfinite(x_m)], y_m[np.isfinite(y_m)]
        least_m = metres_from_nautical_miles(LEAST_HALF_WIDTH_NM)
        half_x_m = max((x_m.max() - x_m.min()) / 2.0 * ROOM_ROUND, least_m)
        half_y_m = max((y_m.max() - y_m.min()) / 2.0 * ROOM_ROUND, least_m * height / width)
        metres_per_unit = float(max(2.0 * half_x_m / width, 2.0 * half_y_m / height))
        return cls(
            projection=projection,
            west_m=float((x_m.max() + x_m.min()) / 2.0 - metres_per_unit * width / 2.0),
            north_m=float((y_m.max() + y_m.min()) / 2.0 + metres_per_unit * height / 2.0),
            metres_per_unit=metres_per_unit,
            width=width,
            height=height,
        )

    def at(self, position: Position) -> tuple[float, float]:
        """Return where a place falls on the drawing."""
        return self.along([position.lat_deg], [position.lon_deg])[0]

    def along(self, lat_deg, lon_deg) -> list[tuple[float, float]]:
        """Return where places fall on the drawing; those the projection does not reach are left out."""
        x_m, y_m = self.projection.to_plane_m(np.asarray(lat_deg), np.asarray(lon_deg))
        xs, ys = (x_m - self.west_m) / self.metres_per_unit, (self.north_m - y_m) / self.metres_per_unit
        return [(float(x), float(y)) for x, y in zip(xs, ys, strict=True) if np.isfinite(x) and np.isfinite(y)]

    def shows(self, position: Position, *, margin: float = 0.0) -> bool:
        """Tell whether a place falls on the drawing, at least ``margin`` units inside its edge."""
        x, y = self.at(position) if np.isfinite(self.projection.to_plane_m(position.lat_deg, position.lon_deg)).all() else (-1e9, -1e9)
        return margin <= x <= self.width - margin and margin <= y <= self.height - margin

    def chart_direction_deg(self, position: Position, true_deg: float) -> float:
        """Turn a true direction at a place into a direction on the chart, clockwise from up. [deg]"""
        return true_deg - self.projection.convergence_deg(position)

    def elevations_m(self, ground: Ground, *, unit_step: float) -> np.ndarray:
        """Sample the ground under every ``unit_step`` drawing units: rows from the top, NaN where not known. [m]"""
        xs = np.arange(unit_step / 2.0, self.width, unit_step)
        ys = np.arange(unit_step / 2.0, self.height, unit_step)
        x_m, y_m = np.meshgrid(self.west_m + xs * self.metres_per_unit, self.north_m - ys * self.metres_per_unit)
        lat_deg, lon_deg = self.projection.from_plane_m(x_m.ravel(), y_m.ravel())
        on_earth = np.isfinite(lat_deg) & np.isfinite(lon_deg)
        elevations = np.full(lat_deg.shape, np.nan)
        elevations[on_earth] = ground.elevations_m(lat_deg=lat_deg[on_earth], lon_deg=lon_deg[on_earth])
        return elevations.reshape(x_m.shape)

    def bounds_deg(self) -> tuple[float, float, float, float]:
        """Return south, north, west, east of the frame; east runs beyond 180 where the frame crosses the antimeridian. [deg]"""
        edge = np.linspace(0.0, 1.0, 25)
        right_m, down_m = self.width * self.metres_per_unit, self.height * self.metres_per_unit
        x_m = self.west_m + right_m * np.concatenate([edge, edge, 0 * edge, 0 * edge + 1])
        y_m = self.north_m - down_m * np.concatenate([0 * edge, 0 * edge + 1, edge, edge])
        lat_deg, lon_deg = self.projection.from_plane_m(x_m, y_m)
        middle = self.projection.lon_0
        unfolded = middle + (lon_deg - middle + 180.0) % 360.0 - 180.0
        return float(np.nanmin(lat_deg)), float(np.nanmax(lat_deg)), float(np.nanmin(unfolded)), float(np.nanmax(unfolded))
