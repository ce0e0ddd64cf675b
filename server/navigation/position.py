"""A point on the WGS 84 ellipsoid. The only way a coordinate pair travels through the project."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.errors import InputProblem


@dataclass(frozen=True, kw_only=True, slots=True)
class Position:
    """Latitude and longitude in degrees, north and east positive, WGS 84.

    Longitude is folded into -180 <= lon < 180. A latitude beyond the poles or a number that is not finite is refused.
    """

    lat_deg: float
    lon_deg: float

    def __post_init__(self):
        if not (math.isfinite(self.lat_deg) and math.isfinite(self.lon_deg)):
            raise InputProblem(
                f"Latitude {self.lat_deg} and longitude {self.lon_deg} must both be ordinary numbers.",
                code="position-not-finite",
                place="position",
            )
        if not -90.0 <= self.lat_deg <= 90.0:
            raise InputProblem(
                f"Latitude {self.lat_deg:g} lies beyond a pole: latitudes run from -90 to 90 degrees. Were latitude and longitude swapped?",
                code="latitude-out-of-range",
                place="latitude",
            )
        folded = math.fmod(self.lon_deg + 180.0, 360.0)
        if folded < 0.0:
            folded += 360.0
        if folded >= 360.0:
            folded = 0.0
        object.__setattr__(self, "lat_deg", float(self.lat_deg))
        object.__setattr__(self, "lon_deg", folded - 180.0 if folded != self.lon_deg + 180.0 else float(self.lon_deg))
