"""Looking round every beacon ahead of time: crest tables are made by one thread while the pages are already served.

Nothing waits for it: coverage maps make the table they miss. Plans use exact rays, so that what is printed has one truth.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from server.errors import ProjectError
from server.navigation import Position, bearings_and_distances
from server.persistence import Library, stored
from server.planning.materials import open_ground
from server.radio import STANDARD_DOUBT, STANDARD_K, Antenna, Beacon, ComponentKind, Ground, antenna_of
from server.terrain import TerrainStore

FACTORS = (STANDARD_K, STANDARD_DOUBT.weak_k, STANDARD_DOUBT.strong_k)
"""The refractions that every answer is asked with."""

MOST_UNASKED = 200
"""A region with more beacons (a whole country's) gets tables only for those near its stored routes: 200 beacons are about 1 GB of disk."""

NEAR_ROUTE_NM = 130.0
"""The greatest range any class publishes."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CrestProgress:
    """How far the work is: so many of so many tables. Nothing is being made where they are equal."""

    done: int
    total: int


class CrestWork:
    """One thread that makes the tables nobody has made yet, whenever it is asked to look again.

    ``quiet_s`` is how long it lets pass before it looks again, so that somebody who changes a route step by step is not slowed by it. [s]
    ``first_after_s`` is how long it waits before it begins at all: only coverage maps use its tables, and the first pages come first. [s]
    """

    def __init__(self, library: Library, terrain_store: TerrainStore, *, quiet_s: float = 0.0, first_after_s: float = 0.0):
        self._library, self._terrain_store, self._quiet_s = library, terrain_store, quiet_s
        self._first_after_s = first_after_s
        self._look, self._stopped, self._idle = threading.Event(), threading.Event(), threading.Event()
        self._progress = CrestProgress(done=0, total=0)
        self._thread = threading.Thread(target=self._run, name="crest-work", daemon=True)

    @property
    def progress(self) -> CrestProgress:
        """How far the work is at this moment."""
        return self._progress

    def start(self) -> None:
        """Begin, with what there is now."""
        self.look_again()
        self._thread.start()

    def look_again(self) -> None:
        """Something may have changed: a beacon, a region, its ground, a route."""
        self._idle.clear()
        self._look.set()

    def stop(self) -> None:
        """End after the table that is being made, within a fraction of a second, and wait for it."""
        self._stopped.set()
        self._look.set()
        if self._thread.is_alive():
            self._thread.join()

    def wait_until_done(self, timeout_s: float) -> bool:
        """Wait until there is nothing left to make; False where that takes longer."""
        return self._idle.wait(timeout_s)

    def _run(self) -> None:
        first = True
        self._stopped.wait(self._first_after_s)
        while not self._stopped.is_set():
            self._look.wait()
            while not first and self._look.is_set() and not self._stopped.is_set():
                self._look.clear()
                self._stopped.wait(self._quiet_s)
            first = False
            self._look.clear()
            with contextlib.suppress(ProjectError):  # a region removed meanwhile, ground that is damaged: the pages tell of it
                self._make_missing()
            if not self._look.is_set():
                self._idle.set()

    def _make_missing(self) -> None:
        crests = self._terrain_store.crests
        missing = [each for each in wanted_tables(self._library, self._terrain_store) if not crests.has(*each)]
        for done, (antenna, ground, factor) in enumerate(missing):
            self._progress = CrestProgress(done=done, total=len(missing))
            if self._stopped.is_set() or self._look.is_set():
                break
            crests.get(antenna, ground, factor)
        self._progress = CrestProgress(done=0, total=0)


def wanted_tables(library: Library, terrain_store: TerrainStore) -> Iterator[tuple[Antenna, Ground, float]]:
    """Name every table an answer may ask for: each antenna that needs a line of sight, with each refraction; near routes first."""
    with library.read() as work:
        regions = [region for region in work.regions.list() if region.ground_fingerprint]
        found = [(region, work.beacons.list(stored(region.id)), _places_of_routes(work, stored(region.id))) for region in regions]
    for region, beacons, places in found:
        try:
            ground = open_ground(terrain_store, region.ground_fingerprint)
        except ProjectError:  # damaged: its own pages tell of it, and the other regions get their tables all the same
            continue
        for beacon in _by_need(beacons, places):
            for antenna in antennas_of(beacon, ground):
                for factor in FACTORS:
                    yield antenna, ground, factor


def antennas_of(beacon: Beacon, ground: Ground) -> tuple[Antenna, ...]:
    """The antennas of a beacon's parts that need a line of sight, each once."""
    parts = [part for part in beacon.components if part.kind is not ComponentKind.BEARING]
    antennas = [antenna_of(beacon, part, ground) for part in parts]
    return tuple(dict.fromkeys(antenna for antenna in antennas if antenna is not None))


def _by_need(beacons: Sequence[Beacon], places: Sequence[Position]) -> list[Beacon]:
    """Order beacons by their distance from the places of routes; leave far ones out where there are too many to do unasked."""
    if not places:
        return list(beacons) if len(beacons) <= MOST_UNASKED else []

    lat_deg, lon_deg = [place.lat_deg for place in places], [place.lon_deg for place in places]
    near = sorted(((float(bearings_and_distances(beacon.position, lat_deg, lon_deg)[1].min()), n) for n, beacon in enumerate(beacons)))
    return [beacons[n] for away_nm, n in near if len(beacons) <= MOST_UNASKED or away_nm <= NEAR_ROUTE_NM]


def _places_of_routes(work, region_id: int) -> list[Position]:
    """Where the stored routes of a region begin, turn and end, as far as they are places of the region."""
    fields = {stored(airfield.id): airfield.position for airfield in work.airfields.list(region_id)}
    stations = {stored(beacon.id): beacon.position for beacon in work.beacons.list(region_id)}
    places: list[Position] = []
    for route in work.routes.list(region_id):
        places += [fields[route.departure_airfield_id], fields[route.destination_airfield_id]]
        for point in route.points:
            station_id = point.beacon_id or (point.place_id if point.kind == "beacon" else None)
            if point.position is not None:
                places.append(point.position)
            elif station_id in stations:
                places.append(stations[station_id])
    return places
