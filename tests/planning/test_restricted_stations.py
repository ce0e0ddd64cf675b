"""A station published as restricted is never received without a word: by its state, by a note on each leg that uses it, by the chain."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from server.navigation import Position, destination
from server.persistence import Library
from server.planning import build_chain, plan
from server.planning.log_legs import NoteLevel
from server.radio import Beacon, Cause, ComponentKind, ReceptionState, UnusableSector, state_apart_from_cone
from tests.planning.planning_builders import GroundInHand, a_tourer, a_vor, an_airfield, an_ndb, codes, level, materials_for, over, shelve
from tests.planning.test_chain import DETOUR, DIRECT, EAST, WEST, route_of

SECTOR = UnusableSector(from_radial_deg=170.0, to_radial_deg=190.0)


def restricted(beacon: Beacon, reason: str = "", **changes) -> Beacon:
    """The beacon with all its parts published as restricted."""
    return replace(beacon, components=tuple(replace(part, restrictions=reason, **changes) for part in beacon.components))


def states_on_the_way(*beacons: Beacon) -> set[ReceptionState]:
    materials = materials_for(*(over(beacon) for beacon in beacons), beacons=beacons, ground=level())
    middle = plan(materials).log.legs[1]
    return {state_apart_from_cone(stretch) for stretch in middle.receptions[0].stretches}


AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.8))
BBB = a_vor("BBB", destination(AAA.position, bearing_true_deg=90.0, distance_nm=35.0))


def test_a_restricted_station_is_marginal_until_its_sectors_are_entered_or_a_reason_is_given():
    assert states_on_the_way(AAA, BBB) == {ReceptionState.RECEIVED}
    assert states_on_the_way(restricted(AAA), BBB) == {ReceptionState.MARGINAL}
    assert states_on_the_way(restricted(AAA, unusable=(SECTOR,)), BBB) == {ReceptionState.RECEIVED}
    assert states_on_the_way(restricted(AAA, "the sectors lie to the south, over the sea"), BBB) == {ReceptionState.RECEIVED}


def test_each_leg_that_uses_a_restricted_station_warns_of_it():
    station = restricted(AAA)
    log = plan(materials_for(over(station), over(BBB), beacons=(station, BBB), ground=level())).log
    for leg in log.legs[:2]:
        (note,) = [note for note in leg.notes if note.code == "restricted"]
        assert note.level is NoteLevel.WARNING and "AAA is published as restricted" in note.message
    assert "restricted" not in codes(plan(materials_for(over(AAA), over(BBB), beacons=(AAA, BBB), ground=level())).log)


def test_a_restricted_station_that_only_checks_a_position_is_warned_of_too():
    aside = restricted(a_vor("CHK", destination(AAA.position, bearing_true_deg=20.0, distance_nm=20.0)))
    log = plan(materials_for(over(AAA), over(BBB), beacons=(AAA, BBB, aside), ground=level())).log
    using = [leg for leg in log.legs if any(line.beacon == aside for check in log.checks_of(leg) for line in check.lines)]
    assert using, "the station checks a position somewhere"
    for leg in using:
        assert any(note.code == "restricted" and "CHK" in note.message for note in leg.notes)


def test_the_chain_offers_restricted_stations_and_names_them_when_it_takes_them(shelf: Library):
    fields = (an_airfield(1, "QWES", WEST), an_airfield(2, "QEAS", EAST))
    shelved = shelve(shelf, beacons=(restricted(DIRECT), restricted(DETOUR)), airfields=fields, aircraft=a_tourer())
    ground = GroundInHand(level())
    without = build_chain(shelf, ground, route_of(shelved))
    assert not without.found and without.restricted_left_out
    assert "2 stations near the way are published as restricted" in without.explanation
    taken = build_chain(shelf, ground, route_of(shelved), take_restricted=True)
    assert taken.found and not taken.restricted_left_out
    assert "Published as restricted, with the unusable sectors not entered: DIR." in taken.explanation


@pytest.mark.parametrize(("alignment_deg", "estimated"), [(-11.0, False), (-4.0, False), (-48.0, True)])
def test_a_north_far_from_the_variation_makes_the_radial_an_estimate_and_warns(alignment_deg, estimated):
    # The variation there is 11 W by WMM2025; alignments up to 8 degrees off are only old (open table of the FAA: at most 7.7).
    turned = replace(AAA, alignment=replace(AAA.alignment, declination_deg=alignment_deg))
    log = plan(materials_for(over(turned), over(BBB), beacons=(turned, BBB), ground=level())).log
    guidance = next(each for leg in log.legs for each in leg.guidance if each.beacon == turned)
    assert guidance.estimated is estimated
    assert ("alignment-contradicts" in codes(log)) is estimated


@pytest.mark.parametrize(("hour", "far"), [(12, ReceptionState.RECEIVED), (23, ReceptionState.MARGINAL), (None, ReceptionState.MARGINAL)])
def test_an_ndb_is_marginal_by_night_beyond_its_dependable_range(hour, far):
    ndb = an_ndb("NNN", AAA.position)
    end = a_vor("END", destination(ndb.position, bearing_true_deg=90.0, distance_nm=50.0))
    departure = None if hour is None else datetime(2026, 6, 16, hour, tzinfo=UTC)
    log = plan(materials_for(over(ndb), over(end), beacons=(ndb, end), ground=level(), departure_utc=departure)).log
    heard = next(each for each in log.legs[1].receptions if each.component is ComponentKind.BEARING)
    assert heard.stretches[0].state is ReceptionState.RECEIVED  # within 30 NM (common practice) by night too
    last = heard.stretches[-1]
    assert last.to_nm == pytest.approx(50.0) and last.state is far
    if far is ReceptionState.MARGINAL:
        assert last.from_nm == pytest.approx(30.0, abs=0.05) and last.has(Cause.NIGHT)
