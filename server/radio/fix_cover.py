"""How many beacons are received where, and where a fix can be made of them.

A radial fixes nothing by itself: two that cross well do, and so does a radial with a distance from one place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from server.navigation import bearings_and_distances
from server.radio.band import STANDARD_DOUBT, SightDoubt
from server.radio.beacon import Beacon, Component, ComponentKind
from server.radio.checks import part_of
from server.radio.coverage import FARTHEST_NM, ChosenHeight, See, folded, points_seen, states_at
from server.radio.ground import Ground
from server.radio.reception import ReceptionState
from server.radio.service_volume import published_reach_nm
from server.radio.sight import lowest_altitudes
from server.radio.stretches import severity
from server.radio.survey import antenna_of
from server.units import feet_from_metres

LEAST_CUT_DEG = 30.0
"""Two radials that cross at less make no fix (common practice: 60 to 120 degrees is good, below 30 is not used)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FixCover:
    """Over a lattice of cell centres. Row 0 is the north edge, column 0 the west edge. arrays (rows, columns)"""

    height: ChosenHeight
    lat_deg: np.ndarray
    lon_deg: np.ndarray
    """Of the cell centres. (rows,) and (columns,); longitudes may run on beyond +-180. [deg]"""
    ground_ft: np.ndarray
    """NaN where not known. [ft MSL]"""
    flyable: np.ndarray
    """Whether the height is above the ground there; False where the ground is not known and the height counts from it. bool"""
    bearings: np.ndarray
    """How many azimuths for a VOR receiver are received. int"""
    crossing: np.ndarray
    """Whether two of them cross at LEAST_CUT_DEG or more. bool"""
    with_distance: np.ndarray
    """Whether one of them is received together with its own DME. bool"""

    @property
    def fix(self) -> np.ndarray:
        """Whether a fix can be made, one way or the other. bool"""
        return self.crossing | self.with_distance


def fix_cover_of(
    *,
    beacons: Sequence[Beacon],
    lat_deg: np.ndarray,
    lon_deg: np.ndarray,
    height: ChosenHeight,
    ground: Ground,
    on: date,
    estimated_declination_deg: Callable[[Beacon], float],
    doubt: SightDoubt = STANDARD_DOUBT,
    see: See = lowest_altitudes,
) -> FixCover:
    """Count what is received at the centres of a lattice, row by row from the north.

    Parameters
    ----------
    beacons : sequence of Beacon
        Those that a VOR receiver cannot use are passed over.
    lat_deg, lon_deg : arrays (rows,), (columns,)
        Falling latitudes, rising longitudes, which may run on beyond 180. [deg]
    height, ground, on, estimated_declination_deg, doubt, see
        As for server.radio.coverage.coverage_of; ``see`` is asked three times for each antenna.

    Notes
    -----
    Received means received: marginal and unknown do not count. Lines of position are bearings without a sense, so two cross at the angle
    between them folded to 90 degrees. Of many bearings two cross at LEAST_CUT_DEG or more just where their spread, counted from one of them
    through at most 90 degrees to each side, is that much: a spread beyond 90 holds one that is 45 or more from the first.
    """
    rows, columns = lat_deg.size, lon_deg.size
    grid_lat_deg, grid_lon_deg = (grid.ravel() for grid in np.meshgrid(lat_deg, lon_deg, indexing="ij"))
    where = (grid_lat_deg, folded(grid_lon_deg))
    ground_ft = feet_from_metres(ground.elevations_m(lat_deg=where[0], lon_deg=where[1]))
    altitude_ft = height.altitudes_ft(ground_ft)
    flyable = np.isfinite(altitude_ft) & ~(altitude_ft < ground_ft)
    bearings, with_distance = np.zeros(grid_lat_deg.size, dtype=int), np.zeros(grid_lat_deg.size, dtype=bool)
    first_deg, least_deg, most_deg = np.full((3, grid_lat_deg.size), np.nan)

    def received(beacon: Beacon, component: Component) -> tuple[np.ndarray, np.ndarray]:
        """Which cells receive a part, and under which true bearing from it. (n,) of bool, (n,) [deg]"""
        bearing_deg, away_nm = bearings_and_distances(beacon.component_position(component.kind), *where)
        asked = flyable & (away_nm <= min(published_reach_nm(component), FARTHEST_NM))
        good = np.zeros(asked.shape, dtype=bool)
        if asked.any():
            part = part_of(
                beacon=beacon,
                component=component,
                antenna=antenna_of(beacon, component, ground),
                on=on,
                estimated_declination_deg=estimated_declination_deg(beacon),
            )
            points = points_seen(
                part, lat_deg=where[0][asked], lon_deg=where[1][asked], altitude_ft=altitude_ft[asked], ground=ground, doubt=doubt, see=see
            )
            good[asked] = states_at(part, points) == severity(ReceptionState.RECEIVED)
        return good, bearing_deg

    for beacon in beacons:
        azimuth, distance = beacon.component(ComponentKind.AZIMUTH), beacon.component(ComponentKind.DISTANCE)
        if azimuth is None or not beacon.guides_vor_receiver:
            continue
        good, bearing_deg = received(beacon, azimuth)
        bearings += good
        first_deg = np.where(good & np.isnan(first_deg), bearing_deg, first_deg)
        from_first_deg = np.where(good, (bearing_deg - first_deg + 90.0) % 180.0 - 90.0, np.nan)
        least_deg, most_deg = np.fmin(least_deg, from_first_deg), np.fmax(most_deg, from_first_deg)
        if distance is not None and good.any():
            with_distance |= good & received(beacon, distance)[0]
    shape = (rows, columns)
    return FixCover(
        height=height,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        ground_ft=ground_ft.reshape(shape),
        flyable=flyable.reshape(shape),
        bearings=bearings.reshape(shape),
        crossing=(most_deg - least_deg >= LEAST_CUT_DEG).reshape(shape),
        with_distance=with_distance.reshape(shape),
    )
