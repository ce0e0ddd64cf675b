"""Coverage over a lattice and at one place: the same findings as along a leg, on ground small enough to be told by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.errors import OutOfRange
from server.navigation import Position, destination, distance_nm
from server.radio import (
    NO_DOUBT,
    Cause,
    ChosenHeight,
    ComponentKind,
    ReceptionState,
    ServiceClass,
    coverage_of,
    heard_at,
    place_antenna,
    sight_line,
)
from server.units import feet_from_metres, metres_from_nautical_miles
from tests.builders import flat_ground, ridge_ground
from tests.radio.radio_builders import DAY, MAST, STRONG_W, a_beacon, a_component, a_path, a_survey

RECEIVED, MARGINAL, UNKNOWN, NOT_RECEIVED = (
    ReceptionState.RECEIVED,
    ReceptionState.MARGINAL,
    ReceptionState.UNKNOWN,
    ReceptionState.NOT_RECEIVED,
)
CELLS = 41


def low_class(service_class: ServiceClass = ServiceClass.L, **changes):
    return a_beacon(a_component(coverage=(), service_class=service_class, power_w=STRONG_W), **changes)


def covered(beacon=None, *, feet: float = 6000.0, above_ground: bool = False, ground=None, component=ComponentKind.AZIMUTH, **changes):
    values = {"on": DAY, "estimated_declination_deg": None, "doubt": NO_DOUBT, "cells": CELLS} | changes
    return coverage_of(
        beacon=beacon or low_class(),
        component=component,
        height=ChosenHeight(feet=feet, above_ground=above_ground),
        ground=ground if ground is not None else flat_ground(0.0),
        **values,
    )


def away_nm(coverage) -> np.ndarray:
    return np.array(
        [
            [distance_nm(MAST, Position(lat_deg=lat, lon_deg=(lon + 180.0) % 360.0 - 180.0)) for lon in coverage.lon_deg]
            for lat in coverage.lat_deg
        ]
    )


def test_over_flat_ground_a_low_class_vor_is_received_in_a_circle_of_40_nm_but_for_the_cone():
    """40 NM: AIM 1-1-8, TBL 1-1-1, class L; the cone of 50 degrees from the vertical is 1.2 times the height wide (from memory)."""
    coverage = covered()
    distance = away_nm(coverage)
    cone_nm = (6000.0 - 100.0) * np.tan(np.radians(50.0)) / 6076.115
    assert coverage.range_nm == 40.0
    assert (coverage.holds(RECEIVED) == ((distance <= 40.0) & (distance > cone_nm))).all()
    assert (coverage.holds(NOT_RECEIVED) == ~coverage.holds(RECEIVED)).all()


def test_a_wall_makes_a_shadow_behind_it_only():
    ground = ridge_ground(0.0, 1500.0, ridge_lon_deg=-35.8)
    coverage = covered(feet=4000.0, ground=ground)
    row = CELLS // 2
    behind = (coverage.lon_deg > -35.75) & (away_nm(coverage)[row] < 40.0)
    before = (coverage.lon_deg > MAST.lon_deg - 0.6) & (coverage.lon_deg < -36.05)
    assert behind.sum() > 5 and before.sum() > 5
    assert coverage.holds(NOT_RECEIVED)[row, behind].all()
    assert coverage.holds(RECEIVED)[row, before].all()


def test_agrees_with_the_survey_of_a_leg_at_the_places_it_samples():
    """A leg across the lattice's own row, over a ridge: where the survey has one state round a cell, the cell has it too."""
    ground = ridge_ground(0.0, 900.0, ridge_lon_deg=-35.7)
    beacon = low_class()
    coverage = covered(beacon, feet=5000.0, ground=ground)
    agreed = 0
    for row in (8, 15, 25):
        for column in range(3, CELLS - 3):
            here = Position(lat_deg=float(coverage.lat_deg[row]), lon_deg=float(coverage.lon_deg[column]))
            path = a_path(here, destination(here, bearing_true_deg=0.0, distance_nm=0.02), 5000.0)
            survey = a_survey(path, ground, beacon)
            if len(survey.stretches) == 1:
                agreed += 1
                beyond = away_nm(coverage)[row, column] > coverage.range_nm  # where nothing is published nothing is asked
                state = NOT_RECEIVED if beyond else survey.stretches[0].state
                assert coverage.holds(state)[row, column], (row, column)
    assert agreed > 90


def test_lowest_altitude_surely_seen_is_that_of_the_exact_ray():
    ground = ridge_ground(0.0, 1500.0, ridge_lon_deg=-35.8)
    coverage = covered(ground=ground)
    row, column = CELLS // 2, CELLS - 8
    antenna = place_antenna(position=MAST, published_elevation_ft=0.0, antenna_height_ft=100.0, ground=ground)
    distance = away_nm(coverage)[row, column]
    line = sight_line(antenna=antenna, bearing_true_deg=90.0, length_m=metres_from_nautical_miles(60.0), ground=ground)
    exact_ft = feet_from_metres(line.lowest_altitude_m(metres_from_nautical_miles(distance))[0])
    assert exact_ft > 5000.0
    assert coverage.surely_seen_ft[row, column] == pytest.approx(exact_ft, rel=0.01)


def test_a_height_above_ground_follows_the_ground():
    """1,500 ft above a plateau of 1,000 m is 4,781 ft above the sea (1 ft = 0.3048 m)."""
    plateau = flat_ground(1000.0)
    on_hill = low_class(elevation_ft=3280.84)
    high, same = covered(on_hill, feet=1500.0, above_ground=True, ground=plateau), covered(on_hill, feet=4780.84, ground=plateau)
    assert high.holds(RECEIVED).sum() > 100
    assert (high.state == same.state).all()


def test_nothing_is_received_below_the_ground():
    coverage = covered(low_class(elevation_ft=3280.84), feet=3000.0, ground=flat_ground(1000.0))
    assert coverage.holds(NOT_RECEIVED).all()


def test_ground_that_is_not_known_stays_unknown():
    ground = flat_ground(0.0, east=-35.8)
    coverage, above = covered(ground=ground), covered(feet=3000.0, above_ground=True, ground=ground)
    far = (coverage.lon_deg[None, :] > -35.75) & (away_nm(coverage) < 39.0)
    assert far.sum() > 50
    assert coverage.holds(UNKNOWN)[far].all() and above.holds(UNKNOWN)[far].all()
    assert np.isnan(coverage.surely_seen_ft[far]).all()


def test_the_band_of_doubt_is_marginal():
    ground = ridge_ground(0.0, 900.0, ridge_lon_deg=-35.7)
    sure, doubtful = (covered(feet=5000.0, ground=ground, doubt=replace(NO_DOUBT, ground_error_m=error_m)) for error_m in (0.0, 60.0))
    assert doubtful.holds(MARGINAL).sum() > sure.holds(MARGINAL).sum()
    assert not (doubtful.holds(RECEIVED) & ~sure.holds(RECEIVED)).any()


def test_an_ndb_needs_no_line_of_sight():
    """25 NM: AIM 1-1-8, TBL 1-1-2, class MH."""
    ndb = a_beacon(a_component(ComponentKind.BEARING, coverage=(), service_class=ServiceClass.MH))
    coverage = covered(ndb, component=ComponentKind.BEARING, feet=2000.0, ground=ridge_ground(0.0, 1500.0, ridge_lon_deg=-35.8))
    below = np.nan_to_num(coverage.ground_ft, nan=-1.0) > 2000.0
    assert (coverage.holds(RECEIVED) == ((away_nm(coverage) <= 25.0) & ~below)).all()
    assert np.isnan(coverage.surely_seen_ft).all()


def test_across_the_antimeridian_it_is_as_elsewhere():
    beyond = low_class(position=Position(lat_deg=43.0, lon_deg=179.9))
    coverage, usual = covered(beyond, ground=flat_ground(0.0, west=178.0, east=182.0)), covered()
    assert coverage.lon_deg.max() > 180.0
    assert (coverage.state == usual.state).all()


def test_near_a_pole_and_without_the_part_it_is_refused():
    with pytest.raises(OutOfRange, match="comes too near to a pole") as refused:
        covered(low_class(position=Position(lat_deg=79.9, lon_deg=10.0)))
    assert refused.value.code == "coverage-near-pole"
    with pytest.raises(OutOfRange, match="MST has no distance part: it has azimuth") as refused:
        covered(component=ComponentKind.DISTANCE)
    assert refused.value.code == "no-such-part"


def heard(*beacons, at: Position, altitude_ft: float = 6000.0, ground=None):
    return heard_at(
        beacons=beacons,
        position=at,
        altitude_ft=altitude_ft,
        ground=ground if ground is not None else flat_ground(0.0),
        on=DAY,
        estimated_declination_deg=lambda _: -8.0,
        doubt=NO_DOUBT,
    )


def test_best_heard_comes_first_and_the_hidden_last():
    here = Position(lat_deg=43.0, lon_deg=-35.5)
    ground = ridge_ground(0.0, 2500.0, ridge_lon_deg=-35.8)
    near = low_class(ident="NER", position=Position(lat_deg=43.2, lon_deg=-35.4))
    parts = heard(low_class(), near, at=here, altitude_ft=5000.0, ground=ground)
    assert [(part.beacon.ident, part.state) for part in parts] == [("NER", RECEIVED), ("MST", NOT_RECEIVED)]
    assert Cause.TERRAIN in parts[1].causes and parts[0].causes == ()
    assert parts[0].margin_ft > 0.0 > parts[1].margin_ft
    assert parts[1].bearing_true_deg == pytest.approx(90.0, abs=0.5)


def test_what_stands_beyond_130_nm_is_not_listed():
    assert heard(low_class(), at=destination(MAST, bearing_true_deg=0.0, distance_nm=131.0)) == ()


def test_heard_at_a_place_has_the_state_of_the_survey_there():
    ground = ridge_ground(0.0, 900.0, ridge_lon_deg=-35.7)
    beacon = low_class()
    for distance in (10.0, 20.0, 30.0, 39.0, 41.0):
        here = destination(MAST, bearing_true_deg=95.0, distance_nm=distance)
        survey = a_survey(a_path(here, destination(here, bearing_true_deg=0.0, distance_nm=0.02), 2500.0), ground, beacon)
        (part,) = heard(beacon, at=here, altitude_ft=2500.0, ground=ground)
        assert part.state is survey.states[0]
