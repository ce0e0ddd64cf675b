"""Where one part of a beacon is received: over a lattice of places round it, or at one place; by the same findings as along a leg.

Field strength is left out: status, published volume, sectors, line of sight over terrain and the cone overhead decide. The areas drawn
round the lattice, and words for them, are made in server/sheets.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from server.errors import OutOfRange
from server.navigation import bearings_and_distances
from server.navigation.position import Position
from server.radio.band import STANDARD_DOUBT, SightDoubt, sight_band
from server.radio.beacon import Beacon, Component, ComponentKind
from server.radio.checks import Part, Points, checks_at, part_of
from server.radio.crest_table import HIGHEST_ANTENNA_LATITUDE_DEG, build_table
from server.radio.cure import lowest_received_ft
from server.radio.ground import Ground
from server.radio.reception import Cause, ReceptionState
from server.radio.service_volume import published_reach_nm
from server.radio.sight import SightTable, lowest_altitudes
from server.radio.sights import TableSights
from server.radio.stretches import severity
from server.radio.survey import antenna_of
from server.units import feet_from_metres, metres_from_nautical_miles

FARTHEST_NM = 130.0
"""The greatest range any class publishes; nothing is worked out beyond."""

ROOM_ROUND = 1.03
"""The lattice is this much larger than the range, so that every edge of reception lies inside it."""

STATES = tuple(sorted(ReceptionState, key=severity))
"""The state that each number in a raster of states stands for: its index is its severity."""

See = Callable[..., SightTable]
"""server.radio.sight.lowest_altitudes, or what does the same from tables."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ChosenHeight:
    """At which height reception is asked for: feet above sea level, or above the ground of each place."""

    feet: float
    above_ground: bool

    def altitudes_ft(self, ground_ft: np.ndarray) -> np.ndarray:
        """Return the altitudes above sea level over ground of these elevations; NaN where they cannot be told. [ft]"""
        return ground_ft + self.feet if self.above_ground else np.full(ground_ft.shape, self.feet)


@dataclass(frozen=True, kw_only=True, eq=False)
class Coverage:
    """Reception of one part of a beacon over a lattice of cell centres. Row 0 is the north edge, column 0 the west edge."""

    beacon: Beacon
    component: ComponentKind
    height: ChosenHeight
    range_nm: float
    """The greatest range that anything published gives the part, at most FARTHEST_NM. [NM]"""
    lat_deg: np.ndarray
    lon_deg: np.ndarray
    """Of the cell centres. (rows,) and (columns,); longitudes run on beyond +-180 where the lattice crosses the antimeridian. [deg]"""
    ground_ft: np.ndarray
    """Ground at the centres, NaN where not known. (rows, columns) [ft MSL]"""
    state: np.ndarray
    """Index into STATES. Below the ground, where nobody flies, it is not received. (rows, columns) of int8"""
    surely_seen_ft: np.ndarray
    """Altitude from which the antenna is surely seen, never below the ground; NaN out of range and where ground in question is not
    known, and for an NDB, which needs no line of sight. (rows, columns) [ft MSL]"""
    received_from_ft: np.ndarray
    """The lowest altitude at which it is received, never below the ground: sight beyond its band, published volume, sectors. NaN where no
    altitude does it or that is not known, and for an NDB. (rows, columns) [ft MSL]"""

    def holds(self, state: ReceptionState) -> np.ndarray:
        """Tell which cells have this state. (rows, columns) of bool"""
        return self.state == severity(state)


@dataclass(frozen=True, kw_only=True, slots=True)
class HeardPart:
    """One part of a beacon at one place: its state with what rules it, and how it lies to the beacon."""

    beacon: Beacon
    component: ComponentKind
    state: ReceptionState
    causes: tuple[Cause, ...]
    """What makes the state what it is; empty where it is received."""
    margin_ft: float | None
    """How far above the altitude from which the antenna is surely seen; negative below. None where not known, and for an NDB. [ft]"""
    distance_nm: float
    bearing_true_deg: float | None
    """From the part to the place, None overhead. [deg]"""


def coverage_of(
    *,
    beacon: Beacon,
    component: ComponentKind,
    height: ChosenHeight,
    ground: Ground,
    on: date,
    estimated_declination_deg: float | None,
    cells: int = 200,
    doubt: SightDoubt = STANDARD_DOUBT,
    see: See | None = None,
) -> Coverage:
    """Find out where round a beacon one part of it is received at a height.

    Parameters
    ----------
    beacon, component, ground, on, estimated_declination_deg, doubt
        As for survey_leg.
    height : ChosenHeight
    cells : int
        Rows and columns of the lattice over twice the range of the part.
    see : See, optional
        How the line of sight is found; without it from tables made for this question.

    Raises
    ------
    OutOfRange
        The beacon has no such part (code no-such-part), or its range comes too near to a pole (code coverage-near-pole).

    Notes
    -----
    The state of a cell is the worst of the findings at its centre: what lies between two centres is not seen. The line of sight comes
    from three tables of crests (server/radio/crest_table.py), one for each refraction.
    """
    own_part = _part_asked_for(beacon, component)
    position = beacon.component_position(component)
    range_nm = min(published_reach_nm(own_part), FARTHEST_NM)
    part = part_of(
        beacon=beacon,
        component=own_part,
        antenna=antenna_of(beacon, own_part, ground),
        on=on,
        estimated_declination_deg=estimated_declination_deg,
    )
    lat_deg, lon_deg = lattice_round(position, range_nm, cells)
    grid_lat_deg, grid_lon_deg = (grid.ravel() for grid in np.meshgrid(lat_deg, lon_deg, indexing="ij"))
    ground_ft = feet_from_metres(ground.elevations_m(lat_deg=grid_lat_deg, lon_deg=folded(grid_lon_deg)))
    within = bearings_and_distances(position, grid_lat_deg, grid_lon_deg)[1] <= range_nm
    state = np.full(grid_lat_deg.shape, severity(ReceptionState.NOT_RECEIVED), dtype=np.int8)
    seen_ft, from_ft = np.full((2, grid_lat_deg.size), np.nan)
    points = points_seen(
        part,
        lat_deg=grid_lat_deg[within],
        lon_deg=folded(grid_lon_deg[within]),
        altitude_ft=height.altitudes_ft(ground_ft[within]),
        ground=ground,
        doubt=doubt,
        see=see or _see_from_tables(range_nm),
    )
    state[within] = np.where(points.altitude_ft < ground_ft[within], severity(ReceptionState.NOT_RECEIVED), states_at(part, points))
    known = ~points.ground_unknown & np.isfinite(ground_ft[within])
    seen_ft[within] = np.where(known & part.needs_sight, np.fmax(points.surely_seen_ft, ground_ft[within]), np.nan)
    lowest_ft, _ = lowest_received_ft(part, points, np.arange(within.sum()))
    from_ft[within] = np.where(known, np.fmax(lowest_ft, ground_ft[within]), np.nan) if part.needs_sight else np.nan
    shape = (lat_deg.size, lon_deg.size)
    return Coverage(
        beacon=beacon,
        component=component,
        height=height,
        range_nm=range_nm,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        ground_ft=ground_ft.reshape(shape),
        state=state.reshape(shape),
        surely_seen_ft=seen_ft.reshape(shape),
        received_from_ft=from_ft.reshape(shape),
    )


def heard_at(
    *,
    beacons: Sequence[Beacon],
    position: Position,
    altitude_ft: float,
    ground: Ground,
    on: date,
    estimated_declination_deg: Callable[[Beacon], float],
    doubt: SightDoubt = STANDARD_DOUBT,
    see: See = lowest_altitudes,
) -> tuple[HeardPart, ...]:
    """Ask every part of every beacon within FARTHEST_NM of a place whether it is received there, by a ray of its own, best first.

    Best is the better state; among equals the greater margin over the sight limit, those without a line of sight by their distance last.
    """
    heard = [
        _heard(beacon, own_part, position, altitude_ft, ground, on, estimated_declination_deg(beacon), doubt, see)
        for beacon in _perhaps_near(beacons, position)
        for own_part in beacon.components
    ]
    near = [one for one in heard if one.distance_nm <= FARTHEST_NM]
    return tuple(
        sorted(near, key=lambda one: (severity(one.state), -(one.margin_ft if one.margin_ft is not None else -math.inf), one.distance_nm))
    )


def _perhaps_near(beacons: Sequence[Beacon], position: Position) -> list[Beacon]:
    """Leave out the beacons that are surely too far away, wherever their parts stand."""
    parts = [(number, beacon.component_position(part.kind)) for number, beacon in enumerate(beacons) for part in beacon.components]
    if not parts:
        return []
    lat_deg, lon_deg = np.array([(at.lat_deg, at.lon_deg) for _, at in parts]).T
    _, away_nm = bearings_and_distances(position, lat_deg, lon_deg)
    near = {number for (number, _), nm in zip(parts, away_nm, strict=True) if nm <= FARTHEST_NM + 1.0}
    return [beacon for number, beacon in enumerate(beacons) if number in near]


def lattice_round(position: Position, range_nm: float, cells: int) -> tuple[np.ndarray, np.ndarray]:
    """Return latitudes from the north and longitudes from the west of the cell centres of a square round a place. (cells,) each [deg]"""
    half_lat_deg = range_nm * ROOM_ROUND / 60.0
    edge_lat_deg = abs(position.lat_deg) + half_lat_deg
    if edge_lat_deg > HIGHEST_ANTENNA_LATITUDE_DEG:
        raise OutOfRange(
            f"The range of {range_nm:.0f} NM round latitude {position.lat_deg:.1f} comes too near to a pole: coverage is worked out up to "
            f"{HIGHEST_ANTENNA_LATITUDE_DEG:g} degrees. Ask for single places or legs there.",
            code="coverage-near-pole",
        )
    half_lon_deg = half_lat_deg / math.cos(math.radians(edge_lat_deg))
    steps = (np.arange(cells) + 0.5) / cells * 2.0 - 1.0
    return position.lat_deg - half_lat_deg * steps, position.lon_deg + half_lon_deg * steps


def folded(lon_deg: np.ndarray) -> np.ndarray:
    """Return longitudes from -180 up to 180. [deg]"""
    return (lon_deg + 180.0) % 360.0 - 180.0


def _part_asked_for(beacon: Beacon, component: ComponentKind) -> Component:
    own_part = beacon.component(component)
    if own_part is None:
        has = ", ".join(part.kind for part in beacon.components) or "no part at all"
        raise OutOfRange(f"{beacon.ident} has no {component} part: it has {has}. Ask for one of those.", code="no-such-part")
    return own_part


def _heard(
    beacon: Beacon,
    own_part: Component,
    position: Position,
    altitude_ft: float,
    ground: Ground,
    on: date,
    estimated_declination_deg: float,
    doubt: SightDoubt,
    see: See,
) -> HeardPart:
    antenna = antenna_of(beacon, own_part, ground)
    part = part_of(beacon=beacon, component=own_part, antenna=antenna, on=on, estimated_declination_deg=estimated_declination_deg)

    lat_deg, lon_deg = np.array([position.lat_deg]), np.array([position.lon_deg])
    points = points_seen(part, lat_deg=lat_deg, lon_deg=lon_deg, altitude_ft=np.array([altitude_ft]), ground=ground, doubt=doubt, see=see)
    worst = int(states_at(part, points)[0])
    ruling = [check.cause for check in checks_at(part, points) if check.holds[0] and severity(check.state) == worst]
    margin_ft, bearing_deg = float(altitude_ft - points.surely_seen_ft[0]), float(points.bearing_true_deg[0])
    return HeardPart(
        beacon=beacon,
        component=own_part.kind,
        state=STATES[worst],
        causes=tuple(dict.fromkeys(ruling)) if worst else (),
        margin_ft=None if points.ground_unknown[0] or not math.isfinite(margin_ft) else margin_ft,
        distance_nm=float(points.distance_nm[0]),
        bearing_true_deg=None if math.isnan(bearing_deg) else bearing_deg,
    )


def points_seen(
    part: Part,
    *,
    lat_deg: np.ndarray,
    lon_deg: np.ndarray,
    altitude_ft: np.ndarray,
    ground: Ground,
    doubt: SightDoubt,
    see: See,
) -> Points:
    """See places anywhere as a part sees the points of a leg; no field is predicted. (n,)"""
    bearing_true_deg, away_nm = bearings_and_distances(part.beacon.component_position(part.component.kind), lat_deg, lon_deg)
    nothing = np.full(lat_deg.shape, np.nan)
    lowest_m = hidden_m = seen_m = nothing
    ground_unknown = np.zeros(lat_deg.shape, dtype=bool)
    if part.antenna is not None and part.needs_sight:
        away_m = metres_from_nautical_miles(away_nm)
        band = sight_band(antenna=part.antenna, lat_deg=lat_deg, lon_deg=lon_deg, distance_m=away_m, ground=ground, doubt=doubt, see=see)
        lowest_m, hidden_m, seen_m = band.table.lowest_altitude_m, band.surely_hidden_m, band.surely_seen_m
        ground_unknown = band.table.unknown_from_m <= away_m
    return Points(
        along_nm=np.zeros(lat_deg.shape),
        altitude_ft=altitude_ft,
        distance_nm=away_nm,
        bearing_true_deg=bearing_true_deg,
        lowest_altitude_ft=feet_from_metres(lowest_m),
        surely_hidden_ft=feet_from_metres(hidden_m),
        surely_seen_ft=feet_from_metres(seen_m),
        margin_db=nothing,
        ground_unknown=ground_unknown,
    )


def states_at(part: Part, points: Points) -> np.ndarray:
    """Return the index into STATES of the worst finding at each point; unknown where the altitude is. (n,) of int8"""
    worst = np.zeros(points.along_nm.shape, dtype=np.int8)
    for check in checks_at(part, points):
        worst = np.where(check.holds, np.maximum(worst, severity(check.state)), worst)
    return np.where(np.isnan(points.altitude_ft), severity(ReceptionState.UNKNOWN), worst).astype(np.int8)


def _see_from_tables(reach_nm: float) -> See:
    """Look the line of sight up in crest tables, one for each refraction, built when it is first asked for."""
    reach_m = metres_from_nautical_miles(reach_nm) * 1.001  # the edge itself is looked up too
    sights = TableSights(lambda asked, over, k: build_table(antenna=asked, ground=over, effective_earth_factor=k, reach_m=reach_m))
    return sights.lowest_altitudes
