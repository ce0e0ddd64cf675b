"""Where a region says that void ground is sea. Nothing else ever makes a void a zero."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import affinity

from server.errors import InputProblem


class Sea:
    """One or more polygons in longitude and latitude [deg]; their edge counts as sea."""

    def __init__(self, geometry: shapely.Geometry):
        if geometry.geom_type not in ("Polygon", "MultiPolygon") or not geometry.is_valid:
            raise InputProblem(
                f"The sea must be valid polygons in longitude and latitude; this {geometry.geom_type} is not. "
                "Draw each coast as one closed line that does not cross itself.",
                code="sea-not-polygons",
                place="sea",
            )
        west_deg, south_deg, east_deg, north_deg = geometry.bounds
        if south_deg < -90.0 or north_deg > 90.0 or west_deg < -360.0 or east_deg > 360.0:
            raise InputProblem(
                f"The sea reaches from latitude {south_deg:g} to {north_deg:g} and longitude {west_deg:g} to {east_deg:g}, off the earth. "
                "Give longitude first, then latitude, in degrees.",
                code="sea-off-the-earth",
                place="sea",
            )
        self._parts = list(getattr(geometry, "geoms", [geometry]))

    def bounds_near(self, lon_deg: float) -> tuple[float, float, float, float]:
        """Return south, north, west, east [deg], each polygon counted on the turn round the earth that is nearest to a longitude."""
        south, north, west, east = [], [], [], []
        for part in self._parts:
            part_west, part_south, part_east, part_north = part.bounds
            turn_deg = 360.0 * round((lon_deg - (part_west + part_east) / 2) / 360.0)
            south.append(part_south)
            north.append(part_north)
            west.append(part_west + turn_deg)
            east.append(part_east + turn_deg)
        return min(south), max(north), min(west), max(east)

    def covers(self, *, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
        """Tell for each place, shape (n,), whether it lies in the sea or on its edge."""
        wet = np.zeros(lat_deg.shape, dtype=bool)
        if lat_deg.size == 0:
            return wet
        for part in self._parts:
            part_west_deg, _, part_east_deg, _ = part.bounds
            first = int(np.ceil((lon_deg.min() - part_east_deg) / 360.0 - 1e-9))
            last = int(np.floor((lon_deg.max() - part_west_deg) / 360.0 + 1e-9))
            for turn in range(first, last + 1):
                turned = affinity.translate(part, xoff=360.0 * turn)
                shapely.prepare(turned)
                wet |= shapely.intersects_xy(turned, lon_deg, lat_deg)
        return wet
