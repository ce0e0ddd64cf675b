"""A plan is used again just while everything it rests on is the same."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from server.errors import InputProblem, NotFound
from server.persistence import Library
from server.planning import plan_memory
from server.planning.plan_memory import PlanMemory
from tests.planning.planning_builders import FROM, TO, GroundInHand, a_tourer, a_vor, an_airfield, level, materials_for, over, shelve

NOW = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def memory(shelf: Library):
    aaa = a_vor("AAA", FROM)
    shelved = shelve(shelf, beacons=(aaa,), airfields=(an_airfield(1, "QFRO", FROM), an_airfield(2, "QTOO", TO)), aircraft=a_tourer())
    with shelf.begin() as work:
        (beacon,) = work.beacons.list(shelved.region.id)
        fields = {field.ident: field.id for field in work.airfields.list(shelved.region.id)}
        (aircraft,) = work.aircraft.list()
        route = replace(
            materials_for(over(beacon), beacons=(beacon,)).route,
            region_id=shelved.region.id,
            departure_airfield_id=fields["QFRO"],
            destination_airfield_id=fields["QTOO"],
            aircraft_id=aircraft.id,
            departure_utc=None,
        )
        number = work.routes.add(route).id
    clock = {"now": NOW}
    return PlanMemory(shelf, GroundInHand(level()), clock=lambda: clock["now"], most=1), number, clock


def test_nothing_changed_gives_the_same_plan(memory):
    plans, number, _ = memory
    assert plans.planned(number) is plans.planned(number)


@pytest.mark.parametrize("thing", ["route", "beacon", "airfield", "aircraft", "day"])
def test_whatever_changes_is_planned_anew(shelf: Library, memory, thing):
    plans, number, clock = memory
    before = plans.planned(number)
    with shelf.begin() as work:
        route = work.routes.get(number)
        if thing == "route":
            work.routes.update(replace(route, altitude_ft=7500.0))
        elif thing == "beacon":
            (beacon,) = work.beacons.list(route.region_id)
            work.beacons.update(replace(beacon, remarks="moved"))
        elif thing == "airfield":
            work.airfields.update(replace(work.airfields.get(route.departure_airfield_id), elevation_ft=77.0))
        elif thing == "aircraft":
            work.aircraft.update(replace(work.aircraft.get(route.aircraft_id), cruise_speed_kt=99.0))
        else:
            clock["now"] = datetime(2026, 5, 2, 12, 0, tzinfo=UTC)
    after = plans.planned(number)
    assert after is not before
    if thing == "aircraft":
        assert after.log.legs[1].true_airspeed_kt != before.log.legs[1].true_airspeed_kt


def test_a_route_that_is_gone_is_not_found(shelf: Library, memory):
    plans, number, _ = memory
    plans.planned(number)
    with shelf.begin() as work:
        work.routes.remove(number)
    with pytest.raises(NotFound):
        plans.planned(number)


def test_only_so_many_are_kept(shelf: Library, memory):
    plans, number, _ = memory
    first = plans.planned(number)
    with shelf.begin() as work:
        other = work.routes.add(replace(work.routes.get(number), id=None, name="Other", version=1)).id
    plans.planned(other)
    assert plans.planned(number) is not first


def route_of(shelf: Library, number: int):
    with shelf.read() as work:
        return work.routes.get(number)


def test_what_is_tried_is_the_plan_without_its_checks_and_need_not_be_stored(shelf: Library, memory):
    plans, number, _ = memory
    tried = plans.tried(replace(route_of(shelf, number), id=None, altitude_ft=8_500.0))
    assert tried.log.route.altitude_ft == 8_500.0 and tried.log.cross_checks == ()
    assert plans.planned(number).log.route.altitude_ft != 8_500.0


def test_who_asks_for_what_is_just_being_tried_waits_for_it_and_gets_the_same(shelf: Library, memory, monkeypatch):
    plans, number, _ = memory
    route, begun, go_on, made, got = route_of(shelf, number), threading.Event(), threading.Event(), [], []
    asked, all_asked = [], threading.Event()
    really, gather = plan_memory.plan, plan_memory.gather

    def gathered(*all_of_it, **more):
        materials = gather(*all_of_it, **more)
        asked.append(materials)
        if len(asked) == 3:
            all_asked.set()
        return materials

    def slowly(materials, **more):
        made.append(materials)
        begun.set()
        assert go_on.wait(10.0)
        return really(materials, **more)

    monkeypatch.setattr(plan_memory, "plan", slowly)
    monkeypatch.setattr(plan_memory, "gather", gathered)
    askers = [threading.Thread(target=lambda: got.append(plans.tried(route))) for _ in range(3)]
    askers[0].start()
    assert begun.wait(10.0)
    for asker in askers[1:]:
        asker.start()
    assert all_asked.wait(10.0) and got == [], "all have asked, none has an answer"
    go_on.set()
    for asker in askers:
        asker.join(30.0)
    assert len(made) == 1 and len(got) == 3 and got[0] is got[1] is got[2]


def test_what_could_not_be_tried_is_tried_again(shelf: Library, memory, monkeypatch):
    plans, number, _ = memory
    route = route_of(shelf, number)
    with monkeypatch.context() as broken:
        broken.setattr(plan_memory, "plan", lambda *_all, **_more: (_ for _ in ()).throw(InputProblem("no luck")))
        with pytest.raises(InputProblem, match="no luck"):
            plans.tried(route)
    assert plans.tried(route).log.route == route
