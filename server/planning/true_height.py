"""What an altitude on the altimeter is worth above the sea on this flight, wherever a height meets ground or a signal.

Only what makes the aircraft lower counts: the gain in warm air is left out, since nobody should lean on it. The QNH is taken as that of the
lower end of the flight, over which the most cold air lies. Without a temperature nothing is corrected, and a note says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from server.navigation import WindLayer, air_at, indicated_altitude_ft, true_altitude_ft
from server.planning.log_legs import BeaconReception, ProfilePoint
from server.planning.materials import Materials
from server.radio import Finding, Stretch

TOLD_FROM_FT = 100.0
"""A smaller difference is not told."""
_SLOPE_STEP_FT = 1_000.0


@dataclass(frozen=True, kw_only=True, slots=True)
class TrueHeights:
    """The true altitudes of one flight. ``station_ft`` is the elevation of the station of the QNH. [ft MSL]"""

    station_ft: float
    qnh_hpa: float | None
    layers: tuple[WindLayer, ...]
    isa_deviation_c: float | None

    @property
    def known(self) -> bool:
        """Whether a temperature is given."""
        return self.isa_deviation_c is not None or any(layer.temperature_c is not None for layer in self.layers)

    def true_ft(self, indicated_ft: float) -> float:
        """Where the aircraft really is at an altitude on the altimeter, never higher than that. [ft MSL]"""
        if not self.known:
            return indicated_ft
        return min(indicated_ft, true_altitude_ft(indicated_ft, **self._air()))

    def indicated_ft(self, true_ft: float) -> float:
        """What the altimeter must show to be at a true altitude, never less than that. [ft]"""
        if not self.known:
            return true_ft
        return max(true_ft, indicated_altitude_ft(true_ft, **self._air()))

    def lower_ft(self, indicated_ft: float) -> float:
        """How much lower the aircraft is than its altimeter shows. [ft]"""
        return indicated_ft - self.true_ft(indicated_ft)

    def profile(self, points: tuple[ProfilePoint, ...]) -> tuple[ProfilePoint, ...]:
        """A vertical profile by the altimeter as it really is; climbs and descents keep their bend."""
        if not self.known:
            return points
        return tuple(replace(point, altitude_ft=self.true_ft(point.altitude_ft)) for point in _with_steps(points))

    def _air(self) -> dict:
        zero = air_at(0.0, qnh_hpa=self.qnh_hpa, layers=(), isa_deviation_c=None)
        return {"station_elevation_ft": self.station_ft, "deviation_c": self._deviation_c, "setting_ft": zero.pressure_altitude_ft}

    def _deviation_c(self, indicated_ft: float) -> float:
        air = air_at(indicated_ft, qnh_hpa=self.qnh_hpa, layers=self.layers, isa_deviation_c=self.isa_deviation_c)
        return air.isa_deviation_c or 0.0


def true_heights(materials: Materials) -> TrueHeights:
    """The true altitudes of a flight."""
    route = materials.route
    ends = [materials.airfields[number].elevation_ft for number in (route.departure_airfield_id, route.destination_airfield_id)]
    known = [elevation_ft for elevation_ft in ends if elevation_ft is not None]
    return TrueHeights(
        station_ft=min(known) if len(known) == len(ends) else min((0.0, *known)),
        qnh_hpa=route.qnh_hpa,
        layers=route.winds,
        isa_deviation_c=route.isa_deviation_c,
    )


def indicated_reception(reception: BeaconReception, heights: TrueHeights) -> BeaconReception:
    """A reception with every altitude that is to be flown as the altimeter shows it."""
    if not heights.known:
        return reception
    return replace(
        reception,
        stretches=tuple(_indicated_stretch(stretch, heights) for stretch in reception.stretches),
        lowest_altitude_whole_leg_ft=_indicated(reception.lowest_altitude_whole_leg_ft, heights),
        received_from_ft=_indicated(reception.received_from_ft, heights),
    )


def indicated_stretches(stretches: Iterable[Stretch], heights: TrueHeights) -> tuple[Stretch, ...]:
    """Stretches with every altitude that is to be flown as the altimeter shows it."""
    return tuple(_indicated_stretch(stretch, heights) for stretch in stretches) if heights.known else tuple(stretches)


def _indicated_stretch(stretch: Stretch, heights: TrueHeights) -> Stretch:
    return replace(
        stretch,
        findings=tuple(_indicated_finding(finding, heights) for finding in stretch.findings),
        received_from_ft=_indicated(stretch.received_from_ft, heights),
    )


def _indicated_finding(finding: Finding, heights: TrueHeights) -> Finding:
    band_ft = finding.band_ft
    if band_ft is not None:
        band_ft = (_above(band_ft[0], heights), _above(band_ft[1], heights))
    return replace(finding, lowest_altitude_ft=_indicated(finding.lowest_altitude_ft, heights), band_ft=band_ft)


def _indicated(altitude_ft: float | None, heights: TrueHeights) -> float | None:
    return None if altitude_ft is None else _above(altitude_ft, heights)


def _above(altitude_ft: float, heights: TrueHeights) -> float:
    """As indicated; altitudes beyond the air of the model, where nobody flies, stay."""
    return heights.indicated_ft(altitude_ft) if -5_000.0 < altitude_ft < 50_000.0 else altitude_ft


def _with_steps(points: tuple[ProfilePoint, ...]) -> Iterable[ProfilePoint]:
    """Put vertices into long climbs and descents."""
    yield points[0]
    for before, after in pairwise(points):
        parts = max(1, int(abs(after.altitude_ft - before.altitude_ft) // _SLOPE_STEP_FT))
        for part in range(1, parts + 1):
            share = part / parts
            yield ProfilePoint(
                distance_nm=before.distance_nm + share * (after.distance_nm - before.distance_nm),
                altitude_ft=before.altitude_ft + share * (after.altitude_ft - before.altitude_ft),
            )
