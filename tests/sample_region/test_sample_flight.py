"""The flight of the README: its second leg loses its beacon behind the main range, and the log says so."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.planning import NavigationLog, build_chain, plan_route
from server.planning.log import LogLeg, NoteLevel
from server.radio import Cause, ComponentKind, leg_received
from server.sheets import log_as_text
from server.units import feet_from_metres


@pytest.fixture(scope="module")
def log(sample) -> NavigationLog:
    (route,) = sample.routes
    return plan_route(sample.library, sample.terrain_store, route.id).log


@pytest.fixture(scope="module")
def second(log: NavigationLog) -> LogLeg:
    return log.legs[1]


def test_the_flight_goes_over_three_beacons(log: NavigationLog):
    assert [point.ident for point in log.points] == ["QMAR", "ILV", "TSY", "ULR", "QSEN"]


def test_the_log_is_complete_and_nothing_stops_the_flight(log: NavigationLog):
    assert log.complete
    notes = (*log.notes, *(note for leg in log.legs for note in leg.notes))
    assert not [note for note in notes if note.level is NoteLevel.STOP]
    assert log.fuel is not None and log.fuel.margin_l > 0.0


def test_the_second_leg_loses_its_beacon_behind_the_range_well_before_half_way(second: LogLeg):
    behind = next(reception for reception in second.receptions if reception.beacon.ident == "ILV")
    assert behind.component is ComponentKind.AZIMUTH
    assert behind.lost_nm is not None and behind.lost_nm < 0.7 * second.distance_nm / 2.0
    lost = next(stretch for stretch in behind.stretches if stretch.from_nm == behind.lost_nm)
    ridge = next(finding.ridge for finding in lost.findings if finding.cause is Cause.TERRAIN)
    assert ridge is not None
    assert feet_from_metres(ridge.elevation_m) > behind.beacon.elevation_ft + 3_000.0
    assert ridge.distance_from_beacon_nm > 4.0


def test_changing_over_half_way_fails_and_the_log_moves_the_changeover(second: LogLeg):
    half_way_nm = second.distance_nm / 2.0
    behind = next(reception for reception in second.receptions if reception.beacon.ident == "ILV")
    at_half_way = next(stretch for stretch in behind.stretches if stretch.from_nm <= half_way_nm <= stretch.to_nm)
    assert at_half_way.has(Cause.TERRAIN)
    assert second.changeover_nm is not None and second.changeover_nm <= behind.lost_nm + 0.01
    assert leg_received(second.stretches), "the beacon ahead is heard before the one behind is lost"


def test_the_log_says_so_in_words(log: NavigationLog, second: LogLeg):
    assert "changeover-moved" in [note.code for note in second.notes]
    text = log_as_text(log)
    assert "ILV is lost at" in text and "not half way" in text


def test_lower_down_a_gap_opens(sample):
    """At 6,500 ft the beacon ahead is still behind the range when the one behind is lost."""
    (route,) = sample.routes
    lower = plan_route(sample.library, sample.terrain_store, replace(route, altitude_ft=6_500.0)).log.legs[1]
    assert not leg_received(lower.stretches)
    assert "guidance-gap" in [note.code for note in lower.notes]


def between(sample, departure: str, destination: str, altitude_ft: float):
    (route,) = sample.routes
    return replace(
        route,
        id=None,
        departure_airfield_id=sample.airfield(departure).id,
        destination_airfield_id=sample.airfield(destination).id,
        points=(),
        altitude_ft=altitude_ft,
    )


def test_the_builder_finds_a_chain_from_pelmora_to_yelmar(sample):
    result = build_chain(sample.library, sample.terrain_store, between(sample, "QPMO", "QYEL", 7_500.0))
    assert result.found
    assert len(result.route.points) >= 2
    log = plan_route(sample.library, sample.terrain_store, result.route).log
    assert all(leg_received(leg.stretches) for leg in log.legs[1:-1])


def test_there_is_no_chain_to_the_far_islands_low_down_and_the_answer_says_why(sample):
    result = build_chain(sample.library, sample.terrain_store, between(sample, "QMAR", "QZEL", 4_500.0))
    assert not result.found
    assert "Great Zelissa" in result.explanation
    assert "hidden by terrain" in result.explanation
