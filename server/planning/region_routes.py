"""Turn the routes that come with a region, which name things as a person does, into routes of the library."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from server.errors import InputProblem, Problem
from server.exchange import BeaconName, PointDescription, RouteDescription
from server.navigation import PointKind, Route, RoutePoint
from server.persistence import Work
from server.planning.reserves import reserve_rule
from server.radio import Beacon


def add_new_routes(work: Work, descriptions: tuple[RouteDescription, ...], *, region_id: int, file_name: str) -> tuple[Route, ...]:
    """Add those routes whose name the region does not have yet, and return them. The caller owns the transaction.

    A route that is already there stays as it is, since somebody may have changed it.

    Raises
    ------
    InputProblem
        With every airfield, beacon, checkpoint, aircraft and reserve rule that a new route names and nobody knows.
    """
    present = {route.name for route in work.routes.list(region_id)}
    finder = _Finder.of(work, region_id, file_name)
    routes = [finder.route(description) for description in descriptions if description.name not in present]
    if finder.problems:
        raise InputProblem(
            " ".join(problem.message for problem in finder.problems[:3]),
            code="region-route-unusable",
            place=file_name,
            problems=tuple(finder.problems),
        )
    return tuple(work.routes.add(route) for route in routes)


@dataclass(frozen=True, kw_only=True)
class _Finder:
    """Finds things of a region by what people call them, and collects what is not there."""

    region_id: int
    file_name: str
    airfields: dict[str, int | None]
    checkpoints: dict[str, int | None]
    aircraft: dict[str, int | None]
    beacons: tuple[Beacon, ...]
    by_key: dict[str, dict[str, int | None]] = field(default_factory=dict)
    """Numbers by the key of a row, for each word."""
    problems: list[Problem]

    @classmethod
    def of(cls, work: Work, region_id: int, file_name: str) -> _Finder:
        airfields, checkpoints = work.airfields.list(region_id), work.checkpoints.list(region_id)
        beacons = tuple(work.beacons.list(region_id))
        return cls(
            region_id=region_id,
            file_name=file_name,
            airfields={airfield.ident: airfield.id for airfield in airfields},
            checkpoints={checkpoint.name: checkpoint.id for checkpoint in checkpoints},
            aircraft={aircraft.registration: aircraft.id for aircraft in work.aircraft.list()},
            beacons=beacons,
            by_key={"airfield": _by_key(airfields), "checkpoint": _by_key(checkpoints), "beacon": _by_key(beacons)},
            problems=[],
        )

    def route(self, description: RouteDescription) -> Route:
        of = f'The route "{description.name}"'
        if description.reserve_rule:
            self._check_reserve_rule(description.reserve_rule, of)
        return Route(
            region_id=self.region_id,
            name=description.name,
            departure_airfield_id=self._number(self.airfields, description.departure, "airfield", of, description.departure_key),
            destination_airfield_id=self._number(self.airfields, description.destination, "airfield", of, description.destination_key),
            points=tuple(self._point(point, of) for point in description.points),
            altitude_ft=description.altitude_ft,
            departure_utc=description.departure_utc,
            aircraft_id=self._number(self.aircraft, description.aircraft, "aircraft", of) if description.aircraft else None,
            winds=description.winds,
            isa_deviation_c=description.isa_deviation_c,
            fuel_on_board_l=description.fuel_on_board_l,
            reserve_rule=description.reserve_rule,
            remarks=description.remarks,
            onward=description.onward,
            qnh_hpa=description.qnh_hpa,
            cruise_power=description.cruise_power,
            alternate_airfield_id=self._number(self.airfields, description.alternate, "airfield", of, description.alternate_key)
            if description.alternate
            else None,
            extra_fuel_l=description.extra_fuel_l,
            level_rule=description.level_rule,
            corridor_nm=description.corridor_nm,
            winds_source=description.winds_source,
            winds_from_utc=description.winds_from_utc,
            winds_to_utc=description.winds_to_utc,
        )

    def _point(self, point: PointDescription, of: str) -> RoutePoint:
        return replace(self._place(point, of), onward=point.onward)

    def _place(self, point: PointDescription, of: str) -> RoutePoint:
        if point.kind is PointKind.AIRFIELD:
            return RoutePoint(kind=point.kind, place_id=self._number(self.airfields, point.place.upper(), "airfield", of, point.place_key))
        if point.kind is PointKind.CHECKPOINT:
            return RoutePoint(kind=point.kind, place_id=self._number(self.checkpoints, point.place, "checkpoint", of, point.place_key))
        if point.kind is PointKind.POSITION:
            return RoutePoint(kind=point.kind, name=point.name, position=point.position)
        assert point.beacon is not None, "the other kinds are made of beacons"
        if point.kind is PointKind.BEACON:
            return RoutePoint(kind=point.kind, place_id=self._beacon(point.beacon, of))
        return RoutePoint(
            kind=point.kind,
            name=point.name,
            beacon_id=self._beacon(point.beacon, of),
            radial_deg=point.radial_deg,
            distance_nm=point.distance_nm,
            second_beacon_id=self._beacon(point.second_beacon, of) if point.second_beacon is not None else None,
            second_radial_deg=point.second_radial_deg,
        )

    def _number(self, known: dict[str, int | None], name: str, word: str, of: str, key: str = "") -> int:
        """Return the number of a thing; 0, with a problem noted, when nobody knows it."""
        number = self.by_key[word].get(key) if key else known.get(name)
        if number is None:
            self._refuse(f"{of} names the {word} {name}, which is not there. Correct the name, or load the {word} first.")
        return number or 0

    def _beacon(self, name: BeaconName, of: str) -> int:
        fitting = [beacon for beacon in self.beacons if beacon.ident == name.ident and name.kind in (None, beacon.kind)]
        if name.key:
            fitting = [beacon for beacon in fitting if beacon.external_key == name.key]
        if len(fitting) == 1:
            return fitting[0].id or 0
        called = f"{name.kind} {name.ident}" if name.kind else name.ident
        if not fitting:
            self._refuse(f"{of} names the beacon {called}, which is not there. Correct the ident, or load the beacon first.")
        else:
            kinds = ", ".join(beacon.kind.value for beacon in fitting)
            self._refuse(f"{of} names the beacon {called}, and {len(fitting)} bear that ident ({kinds}). Say which kind is meant.")
        return 0

    def _check_reserve_rule(self, key: str, of: str) -> None:
        try:
            reserve_rule(key)
        except InputProblem as problem:
            self._refuse(f"{of}: {problem.message}")

    def _refuse(self, message: str) -> None:
        self.problems.append(Problem(place=self.file_name, message=f"{self.file_name}: {message}", code="region-route-unusable"))


def _by_key(things: Iterable) -> dict[str, int | None]:
    return {thing.external_key: thing.id for thing in things if thing.external_key}
