"""Everything that is known at one place and altitude: ground, variation, what is heard, the best fix, the airfields to go to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from server.errors import InputProblem, NotFound
from server.navigation import Position, Route, Variation
from server.navigation.indicator import Indication, vor_indication
from server.navigation.position_lines import FixError, dme_ground_error_nm, fix_error
from server.persistence import Library, stored
from server.planning.cross_checks import CheckPlace
from server.planning.diversion import Diversion, ways_to_fields
from server.planning.expected_picture import indicated_dme_nm, radial_at
from server.planning.listening import Ear, Spot
from server.planning.lost_strip import PlaceLine, PlaceLines, best_lines_at, lines_at
from server.planning.materials import Clock, Materials, gather, ground_ft_at, utc_now
from server.planning.plan import HIGHEST_PLANNED_FT, LOWEST_PLANNED_FT, flying_of
from server.radio import Beacon, Cause, ComponentKind, HeardPart, heard_at, severity
from server.terrain import TerrainStore

NO_AIRFIELD = 0
"""Stands for the ends of a route that is asked about before it has any."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tuned:
    """What the pilot has tuned and set while being there."""

    beacon_id: int
    selected_course_deg: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class StationFix:
    """A fix by the radial and the DME of one station: the two lines cross at right angles."""

    line: PlaceLine
    fix: FixError
    major_axis_true_deg: float
    """Which way the long axis of the error ellipse lies. [deg]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Probe:
    """The answer at one place. What is None is not known, or is not there."""

    position: Position
    altitude_ft: float
    ground_ft: float | None
    variation: Variation
    on: date
    materials: Materials
    parts: tuple[HeardPart, ...]
    """Every part of a beacon within 130 NM, best first."""
    dme_nm: dict[int, float | None]
    """What the DME of a beacon (by its number) reads there, slant, for every DME among the parts. [NM]"""
    tuned: Beacon | None
    selected_course_deg: float | None
    """What is set. [deg, as that station reads it]"""
    overhead: bool
    """Whether one is in the cone of the tuned station."""
    indication: Indication | None
    """Needle and flag of the tuned beacon on the selected course; None overhead, without one, or where its radials are not known."""
    place: PlaceLines
    """The best two directions."""
    one_station: StationFix | None
    """The best radial with the distance of the same station; None where none is received so."""
    outside: bool
    """Whether the place lies outside the region's box."""
    ways: tuple[Diversion, ...]


def probe(
    library: Library,
    terrain_store: TerrainStore,
    slug: str,
    *,
    position: Position,
    altitude_ft: float,
    route_number: int | None = None,
    tuned: Tuned | None = None,
    clock: Clock = utc_now,
) -> Probe:
    """Ask one place of a region; with a route, on its day, and with its aircraft in its winds.

    Raises
    ------
    InputProblem
        The altitude is impossible (code altitude) or below the ground there (code below-ground).
    NotFound
        The region has no such route.
    """
    with library.read() as work:
        region = work.regions.by_slug(slug)
        route = work.routes.get(route_number) if route_number is not None else None
    if route is None:
        route = Route(region_id=stored(region.id), name="", departure_airfield_id=NO_AIRFIELD, destination_airfield_id=NO_AIRFIELD)
    elif route.region_id != region.id:
        raise NotFound(f"{region.name} has no route number {route_number}. Choose one from the list.")
    return probe_of(gather(library, terrain_store, route, clock=clock), position=position, altitude_ft=altitude_ft, tuned=tuned)


def probe_of(materials: Materials, *, position: Position, altitude_ft: float, tuned: Tuned | None = None) -> Probe:
    """Ask one place of materials already gathered. Raises InputProblem as ``probe`` does."""
    ground_ft = _checked_ground_ft(materials, position, altitude_ft)
    ear, spot = Ear((), materials), Spot(position=position, altitude_ft=altitude_ft)
    parts = heard_at(
        beacons=tuple(materials.beacons.values()),
        position=position,
        altitude_ft=altitude_ft,
        ground=materials.ground,
        on=materials.on,
        estimated_declination_deg=materials.estimated_declination_deg,
        doubt=materials.doubt,
    )
    beacon = materials.beacons.get(tuned.beacon_id) if tuned is not None else None
    overhead = any(part.beacon == beacon and Cause.OVERHEAD_CONE in part.causes for part in parts)
    selected_deg = tuned.selected_course_deg if tuned is not None else None
    return Probe(
        position=position,
        altitude_ft=altitude_ft,
        ground_ft=ground_ft,
        variation=materials.variation_at(position),
        on=materials.on,
        materials=materials,
        parts=parts,
        dme_nm=_dme_readings(parts, position, altitude_ft, materials),
        tuned=beacon,
        selected_course_deg=selected_deg,
        overhead=overhead,
        indication=None if overhead else _indication(beacon, selected_deg, position, materials),
        place=best_lines_at(spot, ear),
        one_station=_best_station(lines_at(spot, ear)),
        outside=_is_outside(materials, position),
        ways=ways_to_fields(_as_place(position, altitude_ft), flying_of(materials), ear),
    )


def _best_station(lines: Sequence[PlaceLine]) -> StationFix | None:
    """The station whose radial and distance together place the aircraft best."""
    fixes = []
    for line in lines:
        if line.component is not ComponentKind.AZIMUTH or line.dme_nm is None or line.distance_nm <= 0.0:
            continue
        along_nm = float(dme_ground_error_nm(ground_nm=line.distance_nm, indicated_nm=line.dme_nm))
        fix = fix_error(line_a_nm=line.error_nm, line_b_nm=along_nm, cut_deg=90.0)
        turned_deg = line.line_true_deg if along_nm > line.error_nm else line.line_true_deg + 90.0
        fixes.append(StationFix(line=line, fix=fix, major_axis_true_deg=turned_deg % 180.0))
    return min(fixes, key=lambda each: (severity(each.line.state), each.fix.corner_nm), default=None)


def _is_outside(materials: Materials, position: Position) -> bool:
    region = materials.region
    south, north, west, east = region.south_deg, region.north_deg, region.west_deg, region.east_deg
    if south is None or north is None or west is None or east is None:
        return False
    return not south <= position.lat_deg <= north or (position.lon_deg - west) % 360.0 > (east - west) % 360.0


def _checked_ground_ft(materials: Materials, position: Position, altitude_ft: float) -> float | None:
    if not LOWEST_PLANNED_FT <= altitude_ft <= HIGHEST_PLANNED_FT:
        text = f"{altitude_ft:g} ft is not an altitude to ask for: give {LOWEST_PLANNED_FT:,.0f} to {HIGHEST_PLANNED_FT:,.0f} ft."
        raise InputProblem(text, code="altitude", place="altitude_ft")
    ground_ft = ground_ft_at(materials.ground, position)
    if ground_ft is not None and altitude_ft < ground_ft:
        text = f"{altitude_ft:,.0f} ft is below the ground there, which stands at {ground_ft:,.0f} ft. Give a higher altitude."
        raise InputProblem(text, code="below-ground", place="altitude_ft")
    return ground_ft


def _dme_readings(parts: Sequence[HeardPart], position: Position, altitude_ft: float, materials: Materials) -> dict[int, float | None]:
    stations = [part.beacon for part in parts if part.component is ComponentKind.DISTANCE]
    return {stored(beacon.id): indicated_dme_nm(beacon, position, altitude_ft, materials) for beacon in stations}


def _indication(beacon: Beacon | None, selected_deg: float | None, position: Position, materials: Materials) -> Indication | None:
    if beacon is None or selected_deg is None or not beacon.guides_vor_receiver:
        return None
    radial = radial_at(beacon, position, materials)
    return None if radial is None else vor_indication(radial_deg=radial.value_deg, selected_course_deg=selected_deg)


def _as_place(position: Position, altitude_ft: float) -> CheckPlace:
    """A place by itself, on no leg."""
    return CheckPlace(leg_number=0, name="", at_nm=0.0, minutes=None, position=position, altitude_ft=altitude_ft, track_true_deg=0.0)
