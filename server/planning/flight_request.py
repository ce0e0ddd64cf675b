"""A flight asked for in words, as on a command line: idents, an altitude, a wind like 250T/15@6000. Makes a Route of it, not stored."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime

from server.errors import InputProblem, NotFound
from server.navigation import (
    Aircraft,
    Airfield,
    NorthReference,
    PointKind,
    Route,
    RoutePoint,
    WindLayer,
    format_dm,
    parse_number,
    parse_position,
    winds_from_text,
)
from server.persistence import Library, RegionRecord, Work, stored
from server.planning.reserves import reserve_rule
from server.radio import Beacon
from server.units import litres_from_us_gallons


@dataclass(frozen=True, kw_only=True)
class FlightRequest:
    """What a person typed; every field is text as given, empty where nothing was."""

    region: str
    departure: str
    destination: str
    altitude: str
    via: tuple[str, ...] = ()
    depart_at: str = ""
    aircraft: str = ""
    winds: tuple[str, ...] = ()
    isa_deviation: str = ""
    fuel: str = ""
    reserve: str = ""
    winds_aloft: str = ""
    qnh: str = ""
    power: str = ""
    alternate: str = ""
    extra_fuel: str = ""
    level_rule: str = ""
    name: str = ""


def route_from_request(library: Library, request: FlightRequest) -> Route:
    """Look every name up and read every number; the first thing that cannot be is said with what is allowed.

    Raises
    ------
    InputProblem
        A word or number that cannot be read, or a name that fits several things (the message lists them).
    NotFound
        A name that fits nothing.
    """
    with library.read() as work:
        region = work.regions.by_slug(request.region)
        departure = _airfield(work, region, request.departure)
        destination = _airfield(work, region, request.destination)
        aircraft = _aircraft(work, request.aircraft) if request.aircraft else None
        points = tuple(_point(work, region, word) for word in request.via)
        alternate = _airfield(work, region, request.alternate) if request.alternate else None
    aloft = winds_from_text(request.winds_aloft) if request.winds_aloft else ()
    return Route(
        region_id=stored(region.id),
        name=request.name or f"{departure.ident} to {destination.ident}",
        departure_airfield_id=stored(departure.id),
        destination_airfield_id=stored(destination.id),
        points=points,
        altitude_ft=_number(request.altitude, "--altitude", "feet above sea level, such as 7500"),
        departure_utc=moment_utc(request.depart_at) if request.depart_at else None,
        aircraft_id=aircraft.id if aircraft is not None else None,
        winds=(*aloft, *(wind_from_words(word) for word in request.winds)),
        isa_deviation_c=_number(request.isa_deviation, "--isa", "degrees Celsius, such as +5") if request.isa_deviation else None,
        fuel_on_board_l=fuel_litres(request.fuel) if request.fuel else None,
        reserve_rule=reserve_rule(request.reserve).key if request.reserve else "",
        qnh_hpa=qnh_from_words(request.qnh) if request.qnh else None,
        cruise_power=request.power,
        alternate_airfield_id=stored(alternate.id) if alternate is not None else None,
        extra_fuel_l=fuel_litres(request.extra_fuel, "--extra-fuel") if request.extra_fuel else None,
        level_rule=request.level_rule,
    )


def _airfield(work: Work, region: RegionRecord, ident: str) -> Airfield:
    found = work.airfields.find_by_ident(stored(region.id), ident.strip().upper())
    if not found:
        raise NotFound(f'{region.name} has no airfield "{ident}". List them with: beaconry list airfields --region {region.slug}')
    if len(found) > 1:
        choices = ", ".join(f"{airfield.name} ({format_dm(airfield.position)})" for airfield in found)
        raise InputProblem(f'"{ident}" fits several airfields: {choices}. Give one of them another ident.', code="ident-ambiguous")
    return found[0]


def _aircraft(work: Work, registration: str) -> Aircraft:
    aircraft = work.aircraft.list()
    for each in aircraft:
        if each.registration.casefold() == registration.strip().casefold():
            return each
    known = ", ".join(each.registration for each in aircraft) or "none yet"
    raise NotFound(f'There is no aircraft "{registration}". Known: {known}.')


def _beacon(work: Work, region: RegionRecord, word: str) -> Beacon:
    """A beacon by ident, or by ident and kind ("ALD:VOR") where several share an ident.

    Of several, the only one that guides a VOR receiver is meant; a NDB of the same ident is asked for with its kind.
    """
    ident, _, kind = word.partition(":")
    found = work.beacons.find_by_ident(stored(region.id), ident.upper())
    if kind:
        found = tuple(beacon for beacon in found if beacon.kind.value.casefold() == kind.casefold())
    if not found:
        raise NotFound(f'{region.name} has no beacon "{word}". List them with: beaconry list beacons --region {region.slug}')
    if len(found) == 1:
        return found[0]
    guiding = [beacon for beacon in found if beacon.guides_vor_receiver]
    if len(guiding) == 1:
        return guiding[0]
    choices = ", ".join(f"{beacon.ident}:{beacon.kind.value} ({beacon.name}, {format_dm(beacon.position)})" for beacon in found)
    text = f'"{word}" fits several beacons: {choices}. Write the kind after the ident, or where that is not enough the position.'
    raise InputProblem(text, code="ident-ambiguous", place="--via")


_RADIAL = r"(?P<beacon>[A-Za-z0-9:/]+)-(?P<radial>[0-9]{1,3}(?:\.[0-9]+)?)"
_ONE_RADIAL = re.compile(_RADIAL)
_RADIAL_DISTANCE = re.compile(_RADIAL + r"@(?P<distance>[0-9]+(?:\.[0-9]+)?)")


def _point(work: Work, region: RegionRecord, word: str) -> RoutePoint:
    """A point of --via: a beacon ident, ABC-045@12 (radial and distance), ABC-045+DEF-120 (two radials), or a position."""
    if match := _RADIAL_DISTANCE.fullmatch(word):
        beacon, radial_deg = _radial(work, region, match)
        return RoutePoint(kind=PointKind.RADIAL_DISTANCE, beacon_id=beacon.id, radial_deg=radial_deg, distance_nm=float(match["distance"]))
    first, plus, second = word.partition("+")
    if plus and (one := _ONE_RADIAL.fullmatch(first)) and (two := _ONE_RADIAL.fullmatch(second)):
        beacon, radial_deg = _radial(work, region, one)
        second_beacon, second_radial_deg = _radial(work, region, two)
        return RoutePoint(
            kind=PointKind.TWO_RADIALS,
            beacon_id=beacon.id,
            radial_deg=radial_deg,
            second_beacon_id=second_beacon.id,
            second_radial_deg=second_radial_deg,
        )
    if " " in word:
        return RoutePoint(kind=PointKind.POSITION, position=parse_position(word))
    return RoutePoint(kind=PointKind.BEACON, place_id=_beacon(work, region, word).id)


def _radial(work: Work, region: RegionRecord, match: re.Match[str]) -> tuple[Beacon, float]:
    radial_deg = float(match["radial"])
    if radial_deg > 360.0:
        raise InputProblem(f'"{match[0]}": there is no radial {match["radial"]}. Give 000 to 360.', code="radial-words", place="--via")
    return _beacon(work, region, match["beacon"]), radial_deg


_WIND = re.compile(r"(?P<from>[0-9]{1,3})(?P<reference>[TM])/(?P<speed>[0-9]{1,3})@(?P<altitude>[0-9]{1,5})", re.IGNORECASE)


def wind_from_words(word: str) -> WindLayer:
    """Read "250T/15@6000": from 250 degrees true, 15 kt, at 6,000 ft. The T or M is never left out."""
    match = _WIND.fullmatch(word.strip())
    if match is None or int(match["from"]) > 360:
        raise InputProblem(
            f'"{word}" is not a wind. Write direction with T (true) or M (magnetic), speed in kt and altitude in ft: 250T/15@6000. '
            "Still air is 000T/0@0.",
            code="wind-words",
            place="--wind",
        )
    return WindLayer(
        altitude_ft=float(match["altitude"]),
        from_deg=float(match["from"]),
        speed_kt=float(match["speed"]),
        reference=NorthReference(match["reference"].upper()),
    )


def fuel_litres(word: str, place: str = "--fuel") -> float:
    """Read fuel with its unit: "90L" or "24gal" (US gallons). The unit is never left out."""
    match = re.fullmatch(r"(?P<amount>[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>L|gal)", word.strip(), re.IGNORECASE)
    if match is None:
        raise InputProblem(
            f'"{word}" is not an amount of fuel. Write the unit: 90L, or 24gal for US gallons.', code="fuel-words", place=place
        )
    amount = parse_number(match["amount"])
    return amount if match["unit"].upper() == "L" else litres_from_us_gallons(amount)


HPA_PER_INHG = 33.8639
"""Inch of mercury at 0 degrees C (NIST SP 811)."""

_HIGHEST_INHG = 40.0


def qnh_from_words(word: str) -> float:
    """Read an altimeter setting in hPa, or in inches of mercury where the number can only be that. [hPa]"""
    given = _number(word, "--qnh", "hPa such as 1013, or inches such as 29.92")
    hpa = given * HPA_PER_INHG if given < _HIGHEST_INHG else given
    if not 850.0 <= hpa <= 1100.0:
        text = f'"{word}" is no altimeter setting. Give hPa such as 1013, or inches such as 29.92.'
        raise InputProblem(text, code="qnh-impossible", place="--qnh")
    return hpa


def moment_utc(word: str) -> datetime:
    """Read a moment in UTC: 2026-05-01T09:00Z. Without the Z it is refused: local time and UTC must not be mixed up."""
    try:
        moment = datetime.fromisoformat(word.strip().upper())
        if moment.tzinfo is not None:
            return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    raise InputProblem(f'"{word}" is not a moment in UTC. Write it with Z: 2026-05-01T09:00Z.', code="moment-words", place="--depart")


_GROUPED = re.compile(r"-?[0-9]{1,3}(,[0-9]{3})+")


def _number(word: str, place: str, meaning: str) -> float:
    """Read a number; feet may be grouped by commas, as they are printed."""
    try:
        return parse_number(word.replace(",", "") if place == "--altitude" and _GROUPED.fullmatch(word.strip()) else word)
    except InputProblem as problem:
        raise InputProblem(f'{place} "{word}" cannot be read: give {meaning}.', code=problem.code, place=place) from problem
