"""Levels to choose from: legal by the rule, planned as the log would be, and kept as they were offered."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from server.navigation import LevelRule, Position, cruising_level_advice, destination
from server.planning import plan
from server.planning.level_advice import advise_levels, with_levels
from server.planning.plan import planned_levels_ft
from server.radio import ComponentKind, ComponentStatus
from tests.planning.planning_builders import a_part, a_tourer, a_vor, level, materials_for, over
from tests.planning.test_flown_by_tables import STANDARD, TABLES

AAA = a_vor("AAA", Position(lat_deg=43.5, lon_deg=-36.9), number=1)
BBB = a_vor("BBB", Position(lat_deg=43.2, lon_deg=-37.6), number=2)  # the leg to it turns back westward
ROUTE = {"start": Position(lat_deg=43.3, lon_deg=-37.2), "end": Position(lat_deg=43.3, lon_deg=-35.9), "beacons": (AAA, BBB)}


@pytest.fixture(scope="module")
def materials():
    return materials_for(over(AAA), over(BBB), ground=level(300.0), level_rule="US", **ROUTE)


@pytest.fixture(scope="module")
def choices(materials):
    return advise_levels(materials)


def test_every_level_offered_is_legal_for_its_leg(materials, choices):
    """14 CFR 91.159(a): by magnetic course, more than 3,000 ft above the ground."""
    legs = plan(materials).log.legs
    assert len({leg.track_magnetic_deg >= 180.0 for leg in legs}) == 2  # both directions are flown
    for choice in choices[1:]:
        for leg, level_ft in zip(legs, choice.levels_ft, strict=True):
            advice = cruising_level_advice(LevelRule.US, leg.track_magnetic_deg, level_ft, leg.highest_ground_ft)
            assert advice.applies is False or advice.complies


def test_levels_rise_and_stand_above_the_ground(choices):
    offered = [choice.levels_ft for choice in choices[1:]]
    assert len(offered) == 8 and len(set(offered)) == 8
    assert all(max(before) <= max(after) for before, after in pairwise(offered))
    assert min(min(levels) for levels in offered) > 300.0 / 0.3048


def test_each_tells_what_its_own_log_would_tell(materials, choices):
    for choice in choices:
        log = plan(replace(materials, route=with_levels(materials.route, choice.levels_ft))).log
        assert tuple(leg.altitude_ft for leg in log.legs) == choice.levels_ft
        assert choice.time_min == pytest.approx(log.total_time_min) and choice.fuel_l == pytest.approx(log.fuel.trip_l)
        silent_nm = sum(gap.length_nm for leg in log.legs for gap in log.gaps_on(leg))
        assert choice.without_guidance_nm == pytest.approx(silent_nm)


def test_what_is_planned_now_stands_first(materials, choices):
    assert choices[0].as_planned and choices[0].levels_ft == planned_levels_ft(materials.route)
    assert not any(choice.as_planned for choice in choices[1:])


def test_low_legs_are_named(materials):
    low = advise_levels(replace(materials, route=replace(materials.route, altitude_ft=1500.0)))[0]
    assert low.low_legs == (1, 2, 3)


def test_without_an_aircraft_times_are_not_told():
    told = advise_levels(materials_for(over(AAA), over(BBB), aircraft_id=None, **ROUTE), most=1)
    assert all(choice.time_min is None and choice.fuel_l is None for choice in told)


def test_no_level_is_offered_above_what_the_aircrafts_tables_hold():
    """The tables of test_flown_by_tables end at 8,000 ft of pressure altitude."""
    aircraft = a_tourer(**TABLES)
    told = advise_levels(
        materials_for(
            over(AAA), over(BBB), aircraft=aircraft, level_rule="US", altitude_ft=9500.0, ground=level(300.0), **STANDARD, **ROUTE
        )
    )
    assert told[0].as_planned and told[0].above_tables
    assert max(max(choice.levels_ft) for choice in told[1:]) in (7000.0, 7500.0) and not any(choice.above_tables for choice in told[1:])
    low = advise_levels(
        materials_for(
            over(AAA), over(BBB), aircraft=aircraft, level_rule="US", ground=level(300.0), **{**STANDARD, "qnh_hpa": 983.25}, **ROUTE
        )
    )  # 30 hPa low: 7,500 ft are 8,300 ft of pressure altitude (ICAO Doc 7488, 27.7 ft a hPa)
    assert max(max(choice.levels_ft) for choice in low[1:]) < 7500.0


def test_what_is_flown_on_a_marginal_beacon_is_not_received_all_along(choices):
    assert choices[0].marginal_nm == 0.0
    doubtful = a_vor("AAA", AAA.position, number=1, components=(a_part(ComponentKind.AZIMUTH, status=ComponentStatus.UNKNOWN),))
    route = {**ROUTE, "beacons": (doubtful, BBB)}
    (told, *_) = advise_levels(materials_for(over(doubtful), over(BBB), level_rule="US", ground=level(300.0), **route), most=1)
    assert told.without_guidance_nm == choices[0].without_guidance_nm
    assert told.marginal_nm > 10.0


def test_levels_that_a_leg_is_too_short_for_are_named():
    """600 ft a minute at 75 kt: 12,500 ft are 26 NM up, more than the whole route."""
    (told, *_) = advise_levels(
        materials_for(start=ROUTE["start"], end=destination(ROUTE["start"], bearing_true_deg=90.0, distance_nm=20.0), altitude_ft=12_500.0),
        most=1,
    )
    assert [(missed.legs, missed.level_ft) for missed in told.missed] == [((1,), 12_500.0)]
    assert told.missed[0].nearest_ft == told.reached_ft < 12_500.0
