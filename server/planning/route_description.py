"""Turn routes of the library into what routes.toml says of them: things by the names people call them. The other way: region_routes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from server.exchange import BeaconName, PointDescription, RouteDescription
from server.navigation import Aircraft, Airfield, Checkpoint, PointKind, Route, RoutePoint
from server.persistence import stored
from server.radio import Beacon


@dataclass(frozen=True, kw_only=True)
class PlaceNames:
    """What the things of a region are called, by their numbers: name, and a key where another bears the same name."""

    beacons: dict[int, BeaconName]
    airfields: dict[int, tuple[str, str]]
    checkpoints: dict[int, tuple[str, str]]
    aircraft: dict[int, str]

    @classmethod
    def of(
        cls,
        *,
        beacons: Iterable[Beacon],
        airfields: Iterable[Airfield],
        checkpoints: Iterable[Checkpoint],
        aircraft: Iterable[Aircraft],
    ) -> PlaceNames:
        """Name things; all have keys."""
        beacons = tuple(beacons)
        idents, kinds = Counter(beacon.ident for beacon in beacons), Counter((beacon.ident, beacon.kind) for beacon in beacons)
        return cls(
            beacons={
                stored(beacon.id): BeaconName(
                    ident=beacon.ident,
                    kind=beacon.kind if idents[beacon.ident] > 1 else None,
                    key=beacon.external_key if kinds[beacon.ident, beacon.kind] > 1 else "",
                )
                for beacon in beacons
            },
            airfields=_names((stored(field.id), field.ident, field.external_key) for field in airfields),
            checkpoints=_names((stored(place.id), place.name, place.external_key) for place in checkpoints),
            aircraft={stored(one.id): one.registration for one in aircraft},
        )


def described_route(route: Route, names: PlaceNames, name: str) -> RouteDescription:
    """Say what a route is under this name."""
    departure, departure_key = names.airfields[route.departure_airfield_id]
    destination, destination_key = names.airfields[route.destination_airfield_id]
    alternate, alternate_key = names.airfields[route.alternate_airfield_id] if route.alternate_airfield_id is not None else ("", "")
    return RouteDescription(
        name=name,
        departure=departure,
        departure_key=departure_key,
        destination=destination,
        destination_key=destination_key,
        points=tuple(_point(point, names) for point in route.points),
        altitude_ft=route.altitude_ft,
        departure_utc=route.departure_utc,
        aircraft=names.aircraft[route.aircraft_id] if route.aircraft_id is not None else "",
        winds=route.winds,
        isa_deviation_c=route.isa_deviation_c,
        fuel_on_board_l=route.fuel_on_board_l,
        reserve_rule=route.reserve_rule,
        remarks=route.remarks,
        onward=route.onward,
        qnh_hpa=route.qnh_hpa,
        cruise_power=route.cruise_power,
        alternate=alternate,
        alternate_key=alternate_key,
        extra_fuel_l=route.extra_fuel_l,
        level_rule=route.level_rule,
        corridor_nm=route.corridor_nm,
        winds_source=route.winds_source,
        winds_from_utc=route.winds_from_utc,
        winds_to_utc=route.winds_to_utc,
    )


def _point(point: RoutePoint, names: PlaceNames) -> PointDescription:
    place, key = "", ""
    if point.kind is PointKind.AIRFIELD:
        place, key = names.airfields[stored(point.place_id)]
    elif point.kind is PointKind.CHECKPOINT:
        place, key = names.checkpoints[stored(point.place_id)]
    first = point.place_id if point.kind is PointKind.BEACON else point.beacon_id
    return PointDescription(
        kind=point.kind,
        name=point.name,
        place=place,
        place_key=key,
        position=point.position,
        beacon=names.beacons[first] if first is not None else None,
        radial_deg=point.radial_deg,
        distance_nm=point.distance_nm,
        second_beacon=names.beacons[point.second_beacon_id] if point.second_beacon_id is not None else None,
        second_radial_deg=point.second_radial_deg,
        onward=point.onward,
    )


def _names(things: Iterable[tuple[int, str, str]]) -> dict[int, tuple[str, str]]:
    things = tuple(things)
    borne = Counter(name for _, name, _ in things)
    return {number: (name, key if borne[name] > 1 else "") for number, name, key in things}
