"""Plans that were made lately, for whoever asks again: the page, then its PDF, then the page once more.

A plan depends on nothing but its materials, so it is used again just when they are equal; nobody has to say that something changed. Where
the database can tell that nothing at all was changed, they are not even read.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from server.navigation import Route
from server.persistence import Library
from server.planning.materials import Materials, gather
from server.planning.plan import PlannedRoute, plan
from server.terrain import TerrainStore

MOST_TRIED = 8
"""So many routes are dragged at one time, and their last steps are asked for again when they are let go."""


class PlanMemory:
    """Keeps the last plans of some routes. Safe for threads; two that ask for one plan at once may both make it."""

    def __init__(self, library: Library, terrain_store: TerrainStore, *, clock: Callable[[], datetime], most: int = 24):
        self._library, self._terrain_store, self._clock, self._most = library, terrain_store, clock, most
        self._plans: OrderedDict[int, _Kept] = OrderedDict()
        self._tried: list[_Tried] = []
        self._lock = threading.Lock()

    def tried(self, route: Route) -> PlannedRoute:
        """Return the plan, without its checks, of a route that need not be stored. Who asks for one that is just being made waits for it
        and gets the same. Raises what planning raises."""
        rests_on = _rests_on(materials := gather(self._library, self._terrain_store, route, clock=self._clock))
        with self._lock:
            present = next((tried for tried in self._tried if tried.rests_on == rests_on), None)
            if present is None:
                self._tried = [*self._tried[1 - MOST_TRIED :], mine := _Tried(rests_on=rests_on, plan=Future())]
        if present is not None:
            return present.plan.result()
        try:
            mine.plan.set_result(plan(materials, checks=False))
        except BaseException as error:
            with self._lock:
                self._tried = [tried for tried in self._tried if tried is not mine]
            mine.plan.set_exception(error)
            raise
        return mine.plan.result()

    def planned(self, number: int) -> PlannedRoute:
        """Return the plan of a stored route as it is now. Raises what planning raises."""
        stamp, today = self._library.change_stamp(), self._clock().date()
        with self._lock:
            kept = self._plans.get(number)
        if kept is not None and stamp is not None and (kept.stamp, kept.today) == (stamp, today):
            return kept.planned
        materials = gather(self._library, self._terrain_store, number, clock=self._clock)
        rests_on = _rests_on(materials)
        same = kept is not None and kept.rests_on == rests_on
        made = kept.planned if kept is not None and same else plan(materials)
        with self._lock:
            self._plans[number] = _Kept(planned=made, rests_on=rests_on, stamp=stamp, today=today)
            self._plans.move_to_end(number)
            while len(self._plans) > self._most:
                self._plans.popitem(last=False)
        return made


@dataclass(frozen=True, kw_only=True, eq=False)
class _Kept:
    """A plan, what it rests on, and when that was last looked at: the stamp was taken before the database was read."""

    planned: PlannedRoute
    rests_on: tuple[Any, ...]
    stamp: int | None
    today: date


@dataclass(frozen=True, kw_only=True, eq=False)
class _Tried:
    """A plan that is being made, or was made, of a route that may not be stored."""

    rests_on: tuple[Any, ...]
    plan: Future[PlannedRoute]


def _rests_on(materials: Materials) -> tuple[Any, ...]:
    """All that the plan depends on, to be compared. The ground is named by its content. Sight is found
    by exact rays in every plan."""
    return (
        materials.route,
        materials.region,
        materials.aircraft,
        materials.on,
        materials.doubt,
        materials.ground.fingerprint,
        dict(materials.beacons),
        dict(materials.airfields),
        dict(materials.checkpoints),
    )
