"""Where to go instead: from each place of a flight the nearest airfields, how to get there, and the beacon that leads to them.

Flown level, at the altitude of the place and in the wind there, until over the airfield. Airspace, weather and runways are not looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np

from server.errors import NoHeadingHoldsTrack
from server.navigation import (
    Airfield,
    Position,
    bearings_and_distances,
    compass_heading_deg,
    decimal_year,
    distance_nm,
    magnetic_from_true_deg,
    position_along,
    track,
    variations_deg,
    wind_at,
)
from server.planning.cross_checks import CheckPlace
from server.planning.field_aids import AidQuestion, AidsAsked, FieldAid, aids_to_fields, ask_for_aids
from server.planning.flown import Flying, held
from server.planning.leg_times import fuel_left_at
from server.planning.listening import Ear
from server.planning.log_legs import LogLeg, Note, NoteLevel, ProfilePoint
from server.planning.materials import Materials
from server.planning.profile import CIRCUIT_HEIGHT_FT, altitude_at

FIELDS_EACH = 3
"""So many airfields are told for each place, the alternate among them."""

OVER_NM = 0.25
"""An airfield no farther away is where one is already."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Diversion:
    """One airfield, and the way to it from one place. What is None cannot be told from what was given."""

    airfield: Airfield
    alternate: bool
    """Whether it is the alternate chosen for the flight."""
    distance_nm: float
    track_true_deg: float | None
    track_magnetic_deg: float | None
    """At the middle of the way, with the variation there; None from a pole. [deg]"""
    heading_magnetic_deg: float | None
    heading_compass_deg: float | None
    groundspeed_kt: float | None
    minutes: float | None
    fuel_l: float | None
    fuel_left_l: float | None
    """On arrival over the airfield; negative where the fuel does not reach. [L]"""
    aid: FieldAid | None
    """The beacon that leads there; None where none that is received leads near it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DiversionsFrom:
    """The airfields to divert to from a place of the flight, the nearest first; none where the region has no other open one."""

    place: CheckPlace
    fuel_left_l: float | None
    """There, by the plan. [L]"""
    here: Airfield | None
    """The open airfield one is over; not among the others."""
    diversions: tuple[Diversion, ...]


def places_of_flight(
    legs: Sequence[LogLeg], checked: Sequence[CheckPlace], profile: tuple[ProfilePoint, ...], materials: Materials
) -> tuple[CheckPlace, ...]:
    """The departure and the places where one checks where one is; near the ground, 1,000 ft above the field."""
    first = next((leg for leg in legs if leg.track_true_deg is not None), None)
    if first is None or first.track_true_deg is None:
        return ()
    departure = materials.airfields[materials.route.departure_airfield_id]
    at_ft = altitude_at(profile, first.start_nm)
    start = CheckPlace(
        leg_number=first.number,
        name=first.start.name,
        at_nm=0.0,
        minutes=None if first.time_min is None else 0.0,
        position=first.start.position,
        altitude_ft=at_ft if departure.elevation_ft is None else max(at_ft, departure.elevation_ft + CIRCUIT_HEIGHT_FT),
        track_true_deg=first.track_true_deg,
    )
    return (start, *checked)


@dataclass(frozen=True, kw_only=True, slots=True)
class DiversionsAsked:
    """The places and the airfields that may be flown to from each, the beacons to listen to told to an ear."""

    places: tuple[CheckPlace, ...]
    near: tuple[tuple[Airfield | None, list[Airfield]], ...]
    """The open airfield one is over, and the others."""
    aids: AidsAsked

    @property
    def pairs(self) -> list[tuple[CheckPlace, Airfield]]:
        return [(place, field) for place, (_, fields) in zip(self.places, self.near, strict=True) for field in fields]


def ask_for_diversions(places: Sequence[CheckPlace], ear: Ear) -> DiversionsAsked:
    """Choose the airfields for each place."""
    near = tuple(_nearest_fields(place, ear.materials) for place in places)
    questions = [
        AidQuestion(position=place.position, altitude_ft=place.altitude_ft, airfield=field)
        for place, (_, fields) in zip(places, near, strict=True)
        for field in fields
    ]
    return DiversionsAsked(places=tuple(places), near=near, aids=ask_for_aids(questions, ear))


def diversions_of_flight(legs: Sequence[LogLeg], asked: DiversionsAsked, flying: Flying | None, ear: Ear) -> tuple[DiversionsFrom, ...]:
    """Find the way out from each place, in their order; without ``flying`` (an aircraft) no headings and times."""
    leg_of, pairs = {leg.number: leg for leg in legs}, asked.pairs
    variations = _variations_half_way_deg(pairs, ear.materials)
    ways = iter(zip(pairs, variations, aids_to_fields(asked.aids, ear), strict=True))
    found = []
    for place, (here, fields) in zip(asked.places, asked.near, strict=True):
        left_l = fuel_left_at(leg_of[place.leg_number], place.at_nm)
        diversions = tuple(_diversion(*pair, deg, aid, left_l, flying, ear.materials) for pair, deg, aid in islice(ways, len(fields)))
        found.append(DiversionsFrom(place=place, fuel_left_l=left_l, here=here, diversions=diversions))
    return tuple(found)


def ways_to_fields(place: CheckPlace, flying: Flying | None, ear: Ear) -> tuple[Diversion, ...]:
    """Find the nearest airfields to fly to from one place that need not be on a flight; no fuel left is told."""
    asked = ask_for_diversions([place], ear)
    variations = _variations_half_way_deg(asked.pairs, ear.materials)
    told = zip(asked.pairs, variations, aids_to_fields(asked.aids, ear), strict=True)
    return tuple(_diversion(*pair, deg, aid, None, flying, ear.materials) for pair, deg, aid in told)


def diversion_notes(found: Sequence[DiversionsFrom]) -> list[Note]:
    """Warn where there is nowhere to go, and where the fuel does not reach; over an open airfield neither matters."""
    notes, away = [], [each for each in found if each.here is None]
    nowhere = [each.place for each in away if not each.diversions]
    if nowhere:
        text = f"No other open airfield of the region is known to divert to from {_where(nowhere[0])}. Look for one before you go."
        notes.append(Note(code="diversion-none", level=NoteLevel.WARNING, message=text))
    dry = [each for each in away if each.diversions and all((way.fuel_left_l or 0.0) < 0.0 for way in each.diversions)]
    if dry:
        nearest = dry[0].diversions[0]
        text = (
            f"From {_where(dry[0].place)} the fuel left does not reach another airfield: the nearest, "
            f"{nearest.airfield.name}, is {nearest.distance_nm:.0f} NM away. Take more fuel, or turn back earlier."
        )
        notes.append(Note(code="diversion-beyond-fuel", level=NoteLevel.WARNING, message=text))
    return notes


def _where(place: CheckPlace) -> str:
    return place.name or f"{place.at_nm:.0f} NM into leg {place.leg_number}"


def _nearest_fields(place: CheckPlace, materials: Materials) -> tuple[Airfield | None, list[Airfield]]:
    """The open airfield one is over, and the nearest others; the alternate always among them, unless it is closed or here."""
    known = [field for field in materials.airfields.values() if not field.closed]
    if not known:
        return None, []
    lat_deg, lon_deg = np.array([(field.position.lat_deg, field.position.lon_deg) for field in known]).T
    _, away_nm = bearings_and_distances(place.position, lat_deg, lon_deg)
    order = [int(k) for k in np.argsort(away_nm, kind="stable")]
    here = known[order[0]] if away_nm[order[0]] <= OVER_NM else None
    others = [k for k in order if away_nm[k] > OVER_NM]
    alternate_id = materials.route.alternate_airfield_id
    alternate = [k for k in others if alternate_id is not None and known[k].id == alternate_id]
    nearest = [k for k in others if k not in alternate][: FIELDS_EACH - len(alternate)]
    return here, [known[k] for k in others if k in nearest or k in alternate]


def _variations_half_way_deg(pairs: Sequence[tuple[CheckPlace, Airfield]], materials: Materials) -> list[float]:
    """The variation half way from each place to its airfield, all asked at once."""
    if not pairs:
        return []
    middles = [_half_way(place, airfield) for place, airfield in pairs]
    lat_deg, lon_deg = np.array([(at.lat_deg, at.lon_deg) for at in middles]).T
    at_m = np.zeros(len(pairs))  # as for the legs
    return [float(each) for each in variations_deg(lat_deg, lon_deg, decimal_year=decimal_year(materials.on), altitude_m=at_m)]


def _half_way(place: CheckPlace, airfield: Airfield) -> Position:
    away_nm = distance_nm(place.position, airfield.position)
    return position_along(place.position, airfield.position, away_nm / 2.0)


def _diversion(
    place: CheckPlace,
    airfield: Airfield,
    variation_deg: float,
    aid: FieldAid | None,
    left_l: float | None,
    flying: Flying | None,
    materials: Materials,
) -> Diversion:
    way = track(place.position, airfield.position)
    true_deg = way.middle_true_deg
    speed = None if true_deg is None else _speed(true_deg, place, variation_deg, flying, materials)
    heading_deg = None if speed is None else magnetic_from_true_deg(speed.heading_true_deg, variation_deg)
    card = materials.aircraft.compass_card if materials.aircraft is not None else ()
    minutes = None if speed is None else way.distance_nm / speed.groundspeed_kt * 60.0
    fuel_l = None if speed is None or minutes is None else minutes / 60.0 * speed.fuel_l_per_h
    return Diversion(
        airfield=airfield,
        alternate=airfield.id is not None and airfield.id == materials.route.alternate_airfield_id,
        distance_nm=way.distance_nm,
        track_true_deg=true_deg,
        track_magnetic_deg=None if true_deg is None else magnetic_from_true_deg(true_deg, variation_deg),
        heading_magnetic_deg=heading_deg,
        heading_compass_deg=None if heading_deg is None else compass_heading_deg(card, heading_deg),
        groundspeed_kt=None if speed is None else speed.groundspeed_kt,
        minutes=minutes,
        fuel_l=fuel_l,
        fuel_left_l=None if fuel_l is None or left_l is None else left_l - fuel_l,
        aid=aid,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Speed:
    heading_true_deg: float
    groundspeed_kt: float
    fuel_l_per_h: float


def _speed(track_true_deg: float, place: CheckPlace, variation_deg: float, flying: Flying | None, materials: Materials) -> _Speed | None:
    """Heading and groundspeed in level flight; None without an aircraft, a wind or an airspeed, or where no heading holds the track."""
    level, layers = flying.performance.level(place.altitude_ft) if flying is not None else None, materials.route.winds
    if level is None or not layers:
        return None
    wind = wind_at(layers, place.altitude_ft, variation_deg=variation_deg)
    try:
        steered = held(track_true_deg, level.true_airspeed_kt, wind)
    except NoHeadingHoldsTrack:
        return None
    return _Speed(heading_true_deg=steered.heading_true_deg, groundspeed_kt=steered.groundspeed_kt, fuel_l_per_h=level.fuel_l_per_h)
