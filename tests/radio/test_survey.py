"""A leg over synthetic ground: where a beacon is heard, lost and why, with edges worked out by hand."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from server.navigation import Alignment, AlignmentKind, Position, destination
from server.radio import (
    BeaconKind,
    Cause,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    LegPath,
    Outage,
    ReceptionState,
    ServiceClass,
    UnusableSector,
    first_heard_nm,
    leg_received,
    leg_usable,
    lost_nm,
)
from tests.builders import GridGround, flat_ground, ridge_ground
from tests.radio.radio_builders import DAY, EVERYWHERE, MAST, a_beacon, a_component, a_path, a_survey, meridian_arc_m

RECEIVED, MARGINAL = ReceptionState.RECEIVED, ReceptionState.MARGINAL
UNKNOWN, NOT_PROMISED, NOT_RECEIVED = ReceptionState.UNKNOWN, ReceptionState.NOT_PROMISED, ReceptionState.NOT_RECEIVED
RE_M = 6_371_008.8 * 4.0 / 3.0
"""4/3 of the mean earth radius (IUGG)."""
MAST_M = 30.48  # ground 0 m, antenna 100 ft
SEA = flat_ground(0.0)


def north(distance_nm: float, start: Position = MAST) -> Position:
    return destination(start, bearing_true_deg=0.0, distance_nm=distance_nm)


def states(survey) -> list[ReceptionState]:
    return [stretch.state for stretch in survey.stretches]


def horizon_nm(height_m: float) -> float:
    """Distance at which a sphere of radius RE_M drops a point of this height behind its horizon: arccos(R / (R + h))."""
    return RE_M * math.acos(RE_M / (RE_M + height_m)) / 1852.0


def altitude_over_ridge_m(distance_m: float, ridge_m: float, ridge_distance_m: float) -> float:
    """Altitude of the line from the mast over a ridge, on a sphere of radius RE_M: triangle at the earth's centre, solved by sines."""
    a, r = RE_M + MAST_M, RE_M + ridge_m
    t = ridge_distance_m / RE_M
    chord = math.sqrt(a * a + r * r - 2 * a * r * math.cos(t))
    at_mast = math.acos((a * a + chord * chord - r * r) / (2 * a * chord))  # angle between the vertical down and the ray
    at_target = math.pi - at_mast - distance_m / RE_M
    return a * math.sin(at_mast) / math.sin(at_target) - RE_M


def test_a_low_leg_over_the_sea_loses_the_beacon_at_the_radio_horizon():
    survey = a_survey(a_path(MAST, north(90.0), 2500.0), SEA, a_beacon(a_component(ComponentKind.DISTANCE)), ComponentKind.DISTANCE)
    assert states(survey) == [RECEIVED, NOT_RECEIVED]
    edge_nm = survey.stretches[1].from_nm
    assert edge_nm == pytest.approx(horizon_nm(762.0) + horizon_nm(MAST_M), abs=0.05)
    assert edge_nm == pytest.approx(1.23 * (math.sqrt(2500.0) + math.sqrt(100.0)), abs=0.3)  # the handbook's rule
    (finding,) = survey.stretches[1].findings
    assert finding.cause is Cause.TERRAIN and finding.ridge is None  # the curve of the earth, no ridge
    # altitude for 90 NM: the mast sees its horizon at 12.3 NM, so h = (90 / 1.23 - 10)^2 = 3,991 ft by the rule
    assert finding.lowest_altitude_ft == pytest.approx(3991.0, abs=60.0)
    assert survey.lowest_altitude_whole_leg_ft == pytest.approx(finding.lowest_altitude_ft)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_ridge_hides_the_beacon_beyond_the_line_over_its_crest(backwards):
    ground = ridge_ground(0.0, 1500.0, ridge_lat_deg=43.5)
    ridge_m = meridian_arc_m(43.0, 43.5)
    end = north(80.0)
    path = a_path(end, MAST, 8000.0) if backwards else a_path(MAST, end, 8000.0)
    survey = a_survey(path, ground, a_beacon(a_component(ComponentKind.DISTANCE)), ComponentKind.DISTANCE)
    lost = survey.stretches[0] if backwards else survey.stretches[1]
    edge_nm = 80.0 - lost.to_nm if backwards else lost.from_nm
    assert states(survey) == ([NOT_RECEIVED, RECEIVED] if backwards else [RECEIVED, NOT_RECEIVED])
    assert altitude_over_ridge_m(edge_nm * 1852.0, 1500.0, ridge_m) == pytest.approx(8000.0 * 0.3048, abs=1.0)
    (finding,) = lost.findings
    assert finding.ridge.elevation_m == pytest.approx(1500.0)
    assert finding.ridge.distance_from_beacon_nm == pytest.approx(ridge_m / 1852.0, abs=0.01)
    assert finding.ridge.position.lat_deg == pytest.approx(43.5, abs=1e-4)
    worst_m = altitude_over_ridge_m(80.0 * 1852.0, 1500.0, ridge_m)
    assert finding.lowest_altitude_ft == pytest.approx(worst_m / 0.3048, abs=5.0)


def test_flying_at_the_altitude_that_cures_it_receives_the_whole_leg():
    ground = ridge_ground(0.0, 1500.0, ridge_lat_deg=43.5)
    need_ft = a_survey(a_path(MAST, north(80.0), 8000.0), ground).lowest_altitude_whole_leg_ft
    assert leg_received(a_survey(a_path(MAST, north(80.0), need_ft + 1.0), ground).stretches)
    assert not leg_received(a_survey(a_path(MAST, north(80.0), need_ft - 20.0), ground).stretches)


def test_a_ridge_in_the_middle_of_a_crossing_leg_hides_only_the_part_behind_it():
    # The leg runs north 20 NM east of the mast; a wall of posts stands on 43.2 to 43.4 N, 35.8 W, between mast and leg.
    ground = flat_ground(0.0)
    rows = slice(round((45.0 - 43.4) * 120), round((45.0 - 43.2) * 120) + 1)
    ground.posts[rows, round((38.0 - 35.8) * 120)] = 1500.0
    start = destination(MAST, bearing_true_deg=90.0, distance_nm=20.0)
    survey = a_survey(a_path(start, north(60.0, start), 4000.0), ground)
    assert states(survey) == [RECEIVED, NOT_RECEIVED, RECEIVED]
    # Rays to the ends of the wall, on the plane (NM from the mast): east 0.2 deg, north 0.2 and 0.4 deg, drawn out to 20 NM east.
    east_nm = 0.2 * 60.0 * math.cos(math.radians(43.3)) * 1.003
    for edge_nm, wall_deg in zip((survey.stretches[1].from_nm, survey.stretches[1].to_nm), (0.2, 0.4), strict=True):
        assert edge_nm == pytest.approx(20.0 * wall_deg * 60.0 / east_nm, abs=20.0 * 60.0 / 120.0 / east_nm + 0.3)  # one post to spare
    hidden = survey.stretches[1]
    assert hidden.findings[0].ridge.position.lon_deg == pytest.approx(-35.8, abs=0.01)
    assert first_heard_nm(survey.stretches) == 0.0
    assert lost_nm(survey.stretches) == hidden.from_nm


def test_a_climbing_aircraft_hears_the_beacon_where_it_rises_over_the_horizon():
    # 1,000 ft at the start, 100 ft a mile, the mast 80 NM ahead
    path = LegPath(start=north(80.0), end=MAST, distance_nm=80.0, profile=((0.0, 1000.0), (40.0, 5000.0), (80.0, 5000.0)))
    survey = a_survey(path, SEA)
    low_nm, high_nm = 0.0, 40.0
    while high_nm - low_nm > 1e-6:
        middle_nm = (low_nm + high_nm) / 2.0
        height_m = (1000.0 + 100.0 * middle_nm) * 0.3048
        seen = horizon_nm(height_m) + horizon_nm(MAST_M) > 80.0 - middle_nm
        low_nm, high_nm = (low_nm, middle_nm) if seen else (middle_nm, high_nm)
    assert states(survey) == [NOT_RECEIVED, RECEIVED, NOT_RECEIVED]
    assert first_heard_nm(survey.stretches) == pytest.approx(high_nm, abs=0.05)
    assert lost_nm(survey.stretches) is None  # only the cone over the mast ends it
    assert survey.stretches[-1].has(Cause.OVERHEAD_CONE)


def test_only_azimuth_has_a_cone_overhead():
    south = destination(MAST, bearing_true_deg=180.0, distance_nm=10.0)
    beacon = a_beacon(a_component(), a_component(ComponentKind.DISTANCE))
    path = a_path(south, north(10.0), 5100.0)  # 5,000 ft over the antenna: a cone of 0.981 NM on each side
    azimuth = a_survey(path, SEA, beacon)
    assert states(azimuth) == [RECEIVED, NOT_RECEIVED, RECEIVED]
    assert azimuth.stretches[1].from_nm == pytest.approx(10.0 - 0.981, abs=0.03)
    assert azimuth.stretches[1].to_nm == pytest.approx(10.0 + 0.981, abs=0.03)
    assert leg_received(azimuth.stretches) and lost_nm(azimuth.stretches) is None
    assert states(a_survey(path, SEA, beacon, ComponentKind.DISTANCE)) == [RECEIVED]


def test_a_low_pass_over_the_mast_does_not_slip_between_two_samples():
    start = destination(MAST, bearing_true_deg=180.0, distance_nm=10.07)
    survey = a_survey(a_path(start, north(10.0), 300.0), SEA)  # 200 ft over the antenna: 0.039 NM each side
    assert [stretch.has(Cause.OVERHEAD_CONE) for stretch in survey.stretches] == [False, True, False]


def test_a_sector_belongs_to_the_stations_own_alignment_and_to_one_part():
    # true 090 from a station turned 8 W is its radial 098
    sector = UnusableSector(from_radial_deg=95.0, to_radial_deg=100.0, beyond_nm=20.0, below_altitude_ft=9000.0)
    beacon = a_beacon(a_component(unusable=(sector,)), a_component(ComponentKind.DISTANCE))
    path = a_path(MAST, destination(MAST, bearing_true_deg=90.0, distance_nm=40.0), 8000.0)
    azimuth = a_survey(path, SEA, beacon)
    bad = azimuth.stretches[-1]
    assert bad.from_nm == pytest.approx(20.0, abs=0.01)
    assert [(f.cause, f.state, f.lowest_altitude_ft) for f in bad.findings] == [(Cause.UNUSABLE_SECTOR, NOT_RECEIVED, 9000.0)]
    assert leg_received(a_survey(path, SEA, beacon, ComponentKind.DISTANCE).stretches)
    turned = a_beacon(*beacon.components, alignment=Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0))
    assert leg_received(a_survey(path, SEA, turned).stretches)


@pytest.mark.parametrize(("bearing_true_deg", "usable"), [(356.0, False), (3.0, False), (350.0, True), (20.0, True)])
def test_a_sector_that_crosses_north_is_met_on_both_sides_of_it(bearing_true_deg, usable):
    beacon = a_beacon(
        a_component(unusable=(UnusableSector(from_radial_deg=355.0, to_radial_deg=10.0),)),
        alignment=Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0),
    )
    path = a_path(MAST, destination(MAST, bearing_true_deg=bearing_true_deg, distance_nm=30.0), 8000.0)
    assert leg_received(a_survey(path, SEA, beacon).stretches) is usable


def test_an_estimated_alignment_widens_a_sector_and_says_why():
    sector = UnusableSector(from_radial_deg=90.0, to_radial_deg=100.0)
    unknown = Alignment(kind=AlignmentKind.UNKNOWN)
    beacon = a_beacon(a_component(unusable=(sector,)), alignment=unknown)
    for bearing_true_deg, usable in ((74.0, True), (78.0, False), (96.0, False), (98.0, True)):  # 090 to 100 less 8, 5 more each side
        path = a_path(MAST, destination(MAST, bearing_true_deg=bearing_true_deg, distance_nm=30.0), 8000.0)
        survey = a_survey(path, SEA, beacon, estimated_declination_deg=-8.0)
        assert leg_received(survey.stretches) is usable, bearing_true_deg
        if not usable:
            assert "widened by 5 degrees" in survey.stretches[-1].findings[0].detail
    nowhere = a_survey(path, SEA, beacon, estimated_declination_deg=None)
    assert nowhere.stretches[-1].state is UNKNOWN
    assert "may lie on any side" in nowhere.stretches[-1].findings[0].detail


def test_a_designated_coverage_counts_from_sea_level_and_only_in_its_sectors():
    coverage = (
        CoverageSector(from_radial_deg=0.0, to_radial_deg=180.0, range_nm=60.0, lowest_altitude_ft=5000.0),
        CoverageSector(from_radial_deg=180.0, to_radial_deg=360.0, range_nm=30.0, highest_altitude_ft=20000.0),
    )
    beacon = a_beacon(a_component(coverage=coverage), elevation_ft=4000.0)
    ground = flat_ground(4000.0 * 0.3048)
    east = destination(MAST, bearing_true_deg=90.0, distance_nm=70.0)
    west = destination(MAST, bearing_true_deg=250.0, distance_nm=70.0)
    assert a_survey(a_path(MAST, east, 7000.0), ground, beacon).stretches[-1].from_nm == pytest.approx(60.0, abs=0.01)
    assert a_survey(a_path(MAST, west, 7000.0), ground, beacon).stretches[-1].from_nm == pytest.approx(30.0, abs=0.01)
    low = a_survey(a_path(MAST, east, 4900.0), ground, beacon).stretches
    assert low[1].has(Cause.OUTSIDE_VOLUME) and low[1].findings[0].lowest_altitude_ft == 5000.0


def test_the_edge_of_a_coverage_sector_is_unknown_while_the_alignment_is():
    coverage = (CoverageSector(from_radial_deg=0.0, to_radial_deg=180.0, range_nm=60.0),)
    beacon = a_beacon(a_component(ComponentKind.DISTANCE, coverage=coverage), alignment=Alignment(kind=AlignmentKind.UNKNOWN))
    for bearing_true_deg, expected in ((90.0, RECEIVED), (3.0, UNKNOWN), (357.0, UNKNOWN), (353.0, NOT_PROMISED)):
        path = a_path(MAST, destination(MAST, bearing_true_deg=bearing_true_deg, distance_nm=30.0), 8000.0)
        survey = a_survey(path, SEA, beacon, ComponentKind.DISTANCE, estimated_declination_deg=0.0)
        assert states(survey) == [expected], bearing_true_deg


def test_an_ndb_with_coverage_by_sectors_is_received_to_the_very_station():
    # Overhead there is no bearing: the place lies on every radial, so in one of the two half circles.
    coverage = (
        CoverageSector(from_radial_deg=0.0, to_radial_deg=180.0, range_nm=60.0),
        CoverageSector(from_radial_deg=180.0, to_radial_deg=360.0, range_nm=30.0),
    )
    beacon = a_beacon(a_component(ComponentKind.BEARING, coverage=coverage), kind=BeaconKind.NDB, frequency_khz=350)
    assert states(a_survey(a_path(north(20.0), MAST, 2000.0), SEA, beacon, ComponentKind.BEARING)) == [RECEIVED]


def test_an_altitude_above_the_published_volume_is_no_cure_for_a_ridge():
    # The line over a 1,500 m wall 5 NM away rises to more than 18,000 ft at 30 NM, where class VL ends (AIM TBL 1-1-1).
    ground = ridge_ground(0.0, 1500.0, ridge_lat_deg=43.0 + 5.0 / 60.0)
    path = a_path(MAST, north(30.0), 6000.0)
    (low,) = a_survey(path, ground, a_beacon(a_component(coverage=(), service_class=ServiceClass.VL))).stretches[-1].findings
    (high,) = a_survey(path, ground, a_beacon(a_component(coverage=(), service_class=ServiceClass.VH))).stretches[-1].findings
    assert low.cause is high.cause is Cause.TERRAIN
    assert high.lowest_altitude_ft > 18000.0 and low.lowest_altitude_ft is None


def test_a_ridge_and_the_floor_of_the_volume_are_cured_together():
    # Low behind a low wall: the line of sight clears it under the floor of the volume, 1,000 ft over the antenna; the floor rules.
    ground = ridge_ground(0.0, 100.0, ridge_lat_deg=43.0 + 5.0 / 60.0)
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass.VL))
    findings = {f.cause: f for f in a_survey(a_path(MAST, north(10.0), 90.0), ground, beacon).stretches[-1].findings}
    assert findings[Cause.TERRAIN].lowest_altitude_ft < 1100.0
    assert findings[Cause.BELOW_VOLUME].lowest_altitude_ft == pytest.approx(1100.0)


def test_a_class_counts_heights_from_the_transmitter():
    # VL: 40 NM below 5,000 ft above the transmitter, 70 NM from there; the antenna stands at 4,100 ft
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass.VL), elevation_ft=4000.0)
    ground = flat_ground(4000.0 * 0.3048)
    end = north(75.0)
    assert a_survey(a_path(MAST, end, 9099.0), ground, beacon).stretches[-1].from_nm == pytest.approx(40.0, abs=0.01)
    assert a_survey(a_path(MAST, end, 9101.0), ground, beacon).stretches[-1].from_nm == pytest.approx(70.0, abs=0.01)
    far = a_survey(a_path(MAST, north(60.0), 9099.0), ground, beacon).stretches[-1]
    assert far.findings[0].lowest_altitude_ft == pytest.approx(9100.0)  # what would bring it into the 70 NM band


def test_below_the_transmitter_in_sight_is_marginal_and_never_a_reason_that_a_signal_is_absent():
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass.VH), elevation_ft=4000.0)
    stretch = a_survey(a_path(MAST, north(10.0), 3000.0), SEA, beacon).stretches[-1]
    assert stretch.state is MARGINAL and not stretch.has(Cause.OUTSIDE_VOLUME)
    (finding,) = [finding for finding in stretch.findings if finding.cause is Cause.BELOW_VOLUME]
    assert finding.lowest_altitude_ft == pytest.approx(5100.0)


def test_under_the_floor_of_the_volume_reception_is_marginal_out_to_the_horizon():
    # 364 ft over the sea, the antenna at 100 ft: 1.23 (sqrt 364 + sqrt 100) = 35.8 NM, the trade's rounded closed form
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass.L))
    survey = a_survey(a_path(MAST, north(39.0), 364.0), SEA, beacon)
    assert states(survey)[-2:] == [MARGINAL, NOT_RECEIVED]
    assert survey.stretches[-2].has(Cause.BELOW_VOLUME)
    assert survey.stretches[-1].from_nm == pytest.approx(35.8, abs=0.2)


def test_in_sight_beyond_the_published_volume_a_station_is_not_promised_and_behind_a_ridge_not_received():
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass.L))
    clear = a_survey(a_path(MAST, north(60.0), 9000.0), SEA, beacon).stretches[-1]
    assert clear.state is NOT_PROMISED and clear.from_nm == pytest.approx(40.0, abs=0.01)  # class L: 40 NM, AIM TBL 1-1-1
    walled = ridge_ground(0.0, 2400.0, ridge_lat_deg=43.4)
    hidden = a_survey(a_path(MAST, north(60.0), 5000.0), walled, beacon).stretches[-1]
    assert hidden.state is NOT_RECEIVED and hidden.has(Cause.TERRAIN) and hidden.has(Cause.OUTSIDE_VOLUME)
    designated = a_beacon(a_component(coverage=(CoverageSector(from_radial_deg=0.0, to_radial_deg=360.0, range_nm=80.0),)))
    assert a_survey(a_path(MAST, north(60.0), 9000.0), SEA, designated).stretches[-1].state is RECEIVED  # designated coverage lifts it


def test_an_unknown_class_is_never_received():
    beacon = a_beacon(a_component(coverage=(), service_class=None))
    survey = a_survey(a_path(MAST, north(60.0), 6000.0), SEA, beacon)
    assert states(survey)[-2:] == [MARGINAL, UNKNOWN]
    assert survey.stretches[-1].from_nm == pytest.approx(25.0, abs=0.01)
    assert all(stretch.has(Cause.CLASS_UNKNOWN) for stretch in survey.stretches)
    assert leg_usable(survey.stretches) is False and leg_received(survey.stretches) is False


def test_an_unconfirmed_status_is_marginal_at_worst():
    survey = a_survey(a_path(MAST, north(30.0), 6000.0), SEA, a_beacon(a_component(status=ComponentStatus.UNKNOWN)))
    assert leg_usable(survey.stretches) and not leg_received(survey.stretches)
    assert survey.stretches[-1].state is MARGINAL and survey.stretches[-1].has(Cause.STATUS_UNKNOWN)


def test_an_outage_silences_the_leg_on_its_days_only():
    beacon = a_beacon(a_component(outages=(Outage(first_day=date(2026, 8, 1), last_day=date(2026, 8, 3)),)))
    path = a_path(MAST, north(30.0), 6000.0)
    for day, received in ((31, True), (1, False), (3, False), (4, True)):
        on = date(2026, 7 if day == 31 else 8, day)
        assert leg_received(a_survey(path, SEA, beacon, on=on).stretches) is received
    assert all(state is NOT_RECEIVED for state in a_survey(path, SEA, beacon, on=DAY).states)


def test_a_part_the_beacon_does_not_have_is_received_nowhere():
    survey = a_survey(a_path(MAST, north(30.0), 6000.0), SEA, a_beacon(a_component()), ComponentKind.BEARING)
    assert states(survey) == [NOT_RECEIVED] and survey.stretches[0].has(Cause.NO_SUCH_COMPONENT)
    assert survey.stretches[0].to_nm == pytest.approx(30.0)


def test_a_tacan_gives_a_vor_receiver_distance_only():
    beacon = a_beacon(a_component(), a_component(ComponentKind.DISTANCE), kind=BeaconKind.TACAN)
    path = a_path(MAST, north(30.0), 6000.0)
    assert all(stretch.has(Cause.NOT_FOR_VOR_RECEIVER) for stretch in a_survey(path, SEA, beacon).stretches)
    assert leg_received(a_survey(path, SEA, beacon, ComponentKind.DISTANCE).stretches)


def test_a_dme_that_stands_elsewhere_is_seen_from_where_it_stands():
    # The wall hides the VOR from the leg's end; the DME stands beyond the wall.
    ground = ridge_ground(0.0, 1500.0, ridge_lat_deg=43.5)
    dme = a_component(ComponentKind.DISTANCE, position=north(45.0), elevation_ft=0.0, coverage=(), service_class=ServiceClass.L)
    beacon = a_beacon(a_component(), dme)
    path = a_path(MAST, north(80.0), 5000.0)
    assert states(a_survey(path, ground, beacon))[-1] is NOT_RECEIVED
    distance = a_survey(path, ground, beacon, ComponentKind.DISTANCE)
    assert states(distance)[-1] is RECEIVED
    heard = [stretch for stretch in distance.stretches if not stretch.has(Cause.OUTSIDE_VOLUME)]
    assert heard[0].from_nm == pytest.approx(5.0, abs=0.05)  # 40 NM before the DME


def test_an_ndb_needs_no_line_of_sight_and_has_no_cone():
    ground = ridge_ground(0.0, 3000.0, ridge_lat_deg=43.3)
    beacon = a_beacon(
        a_component(ComponentKind.BEARING, coverage=(), service_class=ServiceClass.MH), kind=BeaconKind.NDB, frequency_khz=350
    )
    survey = a_survey(a_path(MAST, north(40.0), 2000.0), ground, beacon, ComponentKind.BEARING)
    assert states(survey) == [RECEIVED, NOT_PROMISED]
    assert survey.stretches[1].from_nm == pytest.approx(25.0, abs=0.05)
    assert survey.lowest_altitude_whole_leg_ft is None


def test_unknown_ground_is_never_received_but_a_known_ridge_before_it_still_hides():
    void = flat_ground(0.0, north=43.6)  # nothing is known north of 43.6 N, 36 NM away
    path = a_path(MAST, north(60.0), 8000.0)
    survey = a_survey(path, void)
    assert states(survey) == [NOT_RECEIVED, RECEIVED, UNKNOWN]  # the cone, the sea, the unknown
    assert survey.stretches[-1].from_nm == pytest.approx(meridian_arc_m(43.0, 43.6) / 1852.0, abs=0.05)
    assert survey.stretches[-1].has(Cause.TERRAIN_UNKNOWN)
    assert survey.lowest_altitude_whole_leg_ft is None
    assert np.isnan(survey.lowest_altitude_ft[-1])
    walled = ridge_ground(0.0, 2400.0, ridge_lat_deg=43.4, north=43.6)
    assert a_survey(a_path(MAST, north(60.0), 4000.0), walled).stretches[-1].has(Cause.TERRAIN)


def test_a_station_without_elevation_on_unknown_ground_is_unknown():
    nothing = flat_ground(0.0, south=10.0, north=11.0)
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass.VH), elevation_ft=None)
    survey = a_survey(a_path(MAST, north(150.0), 8000.0), nothing, beacon)
    assert states(survey) == [UNKNOWN, NOT_PROMISED]
    assert survey.stretches[-1].from_nm == pytest.approx(130.0, abs=0.05)  # no height of the class reaches farther
    assert survey.stretches[0].has(Cause.TERRAIN_UNKNOWN) and not survey.stretches[0].has(Cause.OUTSIDE_VOLUME)
    assert survey.lowest_altitude_whole_leg_ft is None


def test_an_estimated_elevation_and_an_assumed_antenna_are_told_but_do_not_lower_the_state():
    beacon = a_beacon(a_component(), elevation_ft=None, antenna_height_ft=None)
    stretch = a_survey(a_path(MAST, north(30.0), 8000.0), SEA, beacon).stretches[-1]
    assert stretch.state is RECEIVED
    assert {finding.cause for finding in stretch.findings} == {Cause.ELEVATION_ESTIMATED, Cause.ANTENNA_ASSUMED}


def test_a_leg_of_no_length_is_one_stretch():
    survey = a_survey(LegPath(start=north(20.0), end=north(20.0), distance_nm=0.0, profile=((0.0, 6000.0),)), SEA)
    assert [(stretch.from_nm, stretch.to_nm, stretch.state) for stretch in survey.stretches] == [(0.0, 0.0, RECEIVED)]


def test_a_leg_far_longer_than_any_ray_is_not_promised_at_its_end():
    far = destination(MAST, bearing_true_deg=0.0, distance_nm=700.0)
    survey = a_survey(a_path(MAST, far, 8000.0), SEA, a_beacon(a_component(coverage=(), service_class=ServiceClass.VH)))
    assert survey.stretches[-1].state is NOT_PROMISED and survey.stretches[-1].to_nm == pytest.approx(700.0)


def test_a_beacon_a_quarter_of_the_globe_away_is_simply_out_of_range():
    away = a_beacon(a_component(coverage=(), service_class=ServiceClass.VH), position=Position(lat_deg=-43.0, lon_deg=54.0))
    survey = a_survey(a_path(MAST, north(20.0), 8000.0), SEA, away)
    assert len(survey.stretches) == 1 and survey.stretches[0].has(Cause.OUTSIDE_VOLUME)


def test_a_leg_across_the_antimeridian_is_surveyed_like_any_other():
    west, east = Position(lat_deg=10.0, lon_deg=179.7), Position(lat_deg=10.0, lon_deg=-179.6)
    ground = GridGround(np.zeros((121, 361), dtype=np.int16), 10.5, 178.5, 1 / 120, 1 / 120)
    beacon = a_beacon(a_component(coverage=EVERYWHERE), position=west)
    survey = a_survey(a_path(west, east, 6000.0), ground, beacon)
    assert leg_received(survey.stretches) and survey.stretches[-1].to_nm == pytest.approx(41.4, abs=0.1)


def test_a_profile_must_cover_its_leg():
    with pytest.raises(AssertionError, match="cover the whole leg"):
        LegPath(start=MAST, end=north(20.0), distance_nm=20.0, profile=((0.0, 1000.0), (10.0, 1000.0)))
