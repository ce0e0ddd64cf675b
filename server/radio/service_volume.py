"""The published service volume of a beacon's part: how far it is promised to reach, at which height above the transmitter.

A service volume is a class and not a physical answer: it says nothing of terrain. The cone overhead is a finding of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.radio.beacon import Component, ComponentKind, ServiceClass

FLOOR_FT = 1000.0
"""Lower edge of the tabulated volumes of T, L, H, VL and VH, above the transmitter. [ft]"""

DME_CORNER_FT, DME_CORNER_NM = 12900.0, 130.0
"""Where the line-of-sight curve of DL and DH meets their full range."""


@dataclass(frozen=True, slots=True)
class Band:
    """Heights above the transmitter [ft], the lower one included, and the range [NM] (included) that is published between them."""

    lowest_ft: float
    highest_ft: float
    highest_included: bool
    range_nm: float

    def holds(self, height_ft):
        """Tell whether a height lies in the band. Scalars or arrays."""
        return (height_ft >= self.lowest_ft) & ((height_ft <= self.highest_ft) if self.highest_included else (height_ft < self.highest_ft))


# AIM 1-1-8, TBL 1-1-1 (2021 onward): bands that overlap (H at 14,500; 18,000 to 45,000) give the greater range.
# DL and DH above their curve: from memory.
_BANDS: dict[ServiceClass, tuple[Band, ...]] = {
    ServiceClass.T: (Band(1000.0, 12000.0, True, 25.0),),
    ServiceClass.L: (Band(1000.0, 18000.0, True, 40.0),),
    ServiceClass.H: (Band(1000.0, 14500.0, True, 40.0), Band(14500.0, 60000.0, True, 100.0), Band(18000.0, 45000.0, True, 130.0)),
    ServiceClass.VL: (Band(1000.0, 5000.0, False, 40.0), Band(5000.0, 18000.0, False, 70.0)),
    ServiceClass.VH: (
        Band(1000.0, 5000.0, False, 40.0),
        Band(5000.0, 14500.0, False, 70.0),
        Band(14500.0, 60000.0, True, 100.0),
        Band(18000.0, 45000.0, True, 130.0),
    ),
    ServiceClass.DL: (Band(12900.0, 18000.0, False, 130.0),),
    ServiceClass.DH: (Band(12900.0, 45000.0, False, 130.0), Band(45000.0, 60000.0, True, 100.0)),
    # AIM 1-1-8, TBL 1-1-2: the same at all heights.
    ServiceClass.LOCATOR: (Band(-math.inf, math.inf, True, 15.0),),
    ServiceClass.MH: (Band(-math.inf, math.inf, True, 25.0),),
    ServiceClass.NDB_H: (Band(-math.inf, math.inf, True, 50.0),),
    ServiceClass.HH: (Band(-math.inf, math.inf, True, 75.0),),
}
_DME_CURVED = (ServiceClass.DL, ServiceClass.DH)
_NDB = (ServiceClass.LOCATOR, ServiceClass.MH, ServiceClass.NDB_H, ServiceClass.HH)


@dataclass(frozen=True, kw_only=True, eq=False)
class VolumeAnswer:
    """Where points lie against a class. At most one of the two holds at a point. arrays (n,) of bool"""

    inside: np.ndarray
    """In the published volume."""
    below_floor: np.ndarray
    """Under the tabulated volume, within the range it has at its floor: the published floor curve is a drawing, not a table."""


def smallest_class(component: ComponentKind) -> ServiceClass:
    """Return the smallest class a part of this kind may have, for a station that publishes none."""
    return ServiceClass.LOCATOR if component is ComponentKind.BEARING else ServiceClass.T


def service_bands(service_class: ServiceClass) -> tuple[Band, ...]:
    """Return the tabulated bands of a class, lowest first; DL and DH have a curve below theirs (``volume_range_nm``)."""
    return _BANDS[service_class]


def greatest_range_nm(service_class: ServiceClass) -> float:
    """Return the range beyond which the class covers no height. [NM]"""
    return max(band.range_nm for band in _BANDS[service_class])


def has_curve(service_class: ServiceClass) -> bool:
    """Tell whether the range of a class is published as a curve over the height, as for DL and DH."""
    return service_class in _DME_CURVED


def published_reach_nm(component: Component) -> float:
    """Return the greatest range that anything published gives a part; of the smallest plausible class where nothing is. [NM]"""
    if component.coverage:
        return max(sector.range_nm for sector in component.coverage)
    return greatest_range_nm(component.service_class or smallest_class(component.kind))


def volume_range_nm(service_class: ServiceClass, height_ft: float) -> float | None:
    """Return the published range at a height above the transmitter, or None where the class publishes none.

    Parameters
    ----------
    service_class : ServiceClass
    height_ft : float
        Aircraft altitude less transmitter altitude. [ft]

    Returns
    -------
    float or None
        [NM]; None above the volume, below 1,000 ft for T, L, H, VL and VH, and below the transmitter.

    Notes
    -----
    DL and DH below 12,900 ft: published as a line-of-sight drawing that reaches 130 NM at 12,900 ft. The curve used here is
    130 sqrt(h / 12,900), the 4/3-earth parabola drawn through that corner, which stays inside the 4/3 horizon 1.23 sqrt(h).

    References
    ----------
    FAA Aeronautical Information Manual 1-1-8, TBL 1-1-1 and 1-1-2. DL and DH other than their 12,900 ft corner: from memory.
    """
    ranges_nm = [band.range_nm for band in _BANDS[service_class] if band.holds(height_ft)]
    if service_class in _DME_CURVED and 0.0 <= height_ft < DME_CORNER_FT:
        ranges_nm.append(DME_CORNER_NM * math.sqrt(height_ft / DME_CORNER_FT))
    return max(ranges_nm, default=None)


def volume_state(*, service_class: ServiceClass, height_ft: np.ndarray, distance_nm: np.ndarray) -> VolumeAnswer:
    """Tell for many points whether a class covers them.

    Parameters
    ----------
    service_class : ServiceClass
    height_ft : array (n,)
        Above the transmitter; not used for an NDB. [ft]
    distance_nm : array (n,)
        Along the ground from the transmitter. [NM]

    Returns
    -------
    VolumeAnswer

    Notes
    -----
    Below the tabulated volume ``below_floor`` holds out to the range published at the floor, for DL and DH below the curve of
    ``volume_range_nm`` out to its corner; below the transmitter too. Whether the signal comes there is a question of the line of sight,
    which is asked over the terrain.

    References
    ----------
    As volume_range_nm.
    """
    inside = np.zeros(np.shape(height_ft), dtype=bool)
    for band in _BANDS[service_class]:
        inside |= band.holds(height_ft) & (distance_nm <= band.range_nm)
    if service_class in _NDB:
        return VolumeAnswer(inside=inside, below_floor=np.zeros_like(inside))
    if service_class in _DME_CURVED:
        under = height_ft < DME_CORNER_FT
        curve_nm = DME_CORNER_NM * np.sqrt(np.maximum(height_ft, 0.0) / DME_CORNER_FT)
        inside |= under & (height_ft >= 0.0) & (distance_nm <= curve_nm)
        below_floor = under & ~inside & (distance_nm <= DME_CORNER_NM)
    else:
        below_floor = (height_ft < FLOOR_FT) & (distance_nm <= _BANDS[service_class][0].range_nm)
    return VolumeAnswer(inside=inside, below_floor=below_floor)


def lowest_covered_height_ft(service_class: ServiceClass, distance_nm: np.ndarray) -> np.ndarray:
    """Return the lowest height above the transmitter [ft] that the published class covers at a distance [NM], NaN where none does."""
    lowest_ft = np.full(np.shape(distance_nm), np.nan)
    for band in _BANDS[service_class]:
        lowest_ft = np.where(distance_nm <= band.range_nm, np.fmin(lowest_ft, band.lowest_ft), lowest_ft)
    if service_class in _DME_CURVED:
        curve_ft = DME_CORNER_FT * (distance_nm / DME_CORNER_NM) ** 2
        lowest_ft = np.where(distance_nm <= DME_CORNER_NM, np.fmin(lowest_ft, curve_ft), lowest_ft)
    return lowest_ft
