"""Sectors, outages and status. Rows U1 to U5 stand in tests/reference/test_service_volumes.py."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from server.radio import (
    BeaconKind,
    Cause,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ReceptionState,
    UnusableSector,
    in_arc,
    outage_on,
    status_findings,
    unusable_at,
)
from server.radio.limits import covers_at
from tests.radio.radio_builders import DAY, a_beacon, a_component


@pytest.mark.parametrize(
    ("from_deg", "to_deg", "radial_deg", "on_arc"),
    [
        (10, 30, 10, True),
        (10, 30, 30, True),
        (10, 30, 9.99, False),
        (10, 30, 30.01, False),
        (350, 20, 359, True),
        (350, 20, 0, True),
        (350, 20, 20, True),
        (350, 20, 21, False),
        (350, 20, 349, False),
        (30, 10, 20, False),  # clockwise: from 030 the long way round to 010
        (30, 10, 200, True),
        (0, 360, 123, True),
        (75, 75, 300, True),
        (360, 360, 1, True),
        (355, 360, 0, True),
    ],
)
def test_an_arc_runs_clockwise_and_may_cross_north(from_deg, to_deg, radial_deg, on_arc):
    assert bool(in_arc(radial_deg, from_radial_deg=from_deg, to_radial_deg=to_deg)) is on_arc


def test_an_arc_can_be_widened_and_narrowed():
    radials_deg = np.array([4.0, 6.0, 14.0, 16.0, 24.0, 26.0, 34.0, 36.0])
    arc = {"from_radial_deg": 10.0, "to_radial_deg": 30.0}
    assert in_arc(radials_deg, **arc, widen_deg=5.0).tolist() == [False, True, True, True, True, True, True, False]
    assert in_arc(radials_deg, **arc, widen_deg=-5.0).tolist() == [False, False, False, True, True, False, False, False]
    assert not in_arc(radials_deg, **arc, widen_deg=-11.0).any()
    assert in_arc(radials_deg, from_radial_deg=0.0, to_radial_deg=360.0, widen_deg=-11.0).all()
    assert in_arc(radials_deg, from_radial_deg=40.0, to_radial_deg=35.0, widen_deg=5.0).all()


def test_beyond_below_and_within_must_all_hold_and_only_those_given_count():
    sector = UnusableSector(from_radial_deg=0, to_radial_deg=360, beyond_nm=20, within_nm=30, below_altitude_ft=5000)
    distance_nm = np.array([20.0, 20.01, 30.0, 30.01, 25.0])
    altitude_ft = np.array([4000.0, 4000.0, 4000.0, 4000.0, 5000.0])
    assert unusable_at(sector, radial_deg=90, distance_nm=distance_nm, altitude_ft=altitude_ft).tolist() == [
        False,
        True,
        True,
        False,
        False,
    ]
    whole = UnusableSector(from_radial_deg=90, to_radial_deg=180)
    assert unusable_at(whole, radial_deg=100, distance_nm=0.5, altitude_ft=45000.0)


def test_a_coverage_sector_includes_its_range_and_both_altitudes():
    sector = CoverageSector(from_radial_deg=90, to_radial_deg=180, range_nm=60, lowest_altitude_ft=3000, highest_altitude_ft=20000)
    distance_nm = np.array([60.0, 60.1, 30.0, 30.0, 30.0, 30.0])
    altitude_ft = np.array([5000.0, 5000.0, 3000.0, 2999.0, 20000.0, 20001.0])
    inside = covers_at(sector, radial_deg=120, distance_nm=distance_nm, altitude_ft=altitude_ft)
    assert inside.tolist() == [True, False, True, False, True, False]


@pytest.mark.parametrize(
    ("first_day", "last_day", "out"),
    [
        (date(2026, 8, 1), date(2026, 8, 1), True),
        (date(2026, 7, 1), date(2026, 8, 1), True),
        (date(2026, 8, 1), date(2026, 8, 9), True),
        (date(2026, 7, 1), date(2026, 7, 31), False),
        (date(2026, 8, 2), date(2026, 8, 9), False),
        (None, date(2026, 8, 1), True),
        (None, date(2026, 7, 31), False),
        (date(2026, 8, 1), None, True),
        (date(2026, 8, 2), None, False),
        (None, None, True),
    ],
)
def test_an_outage_covers_both_its_days_and_open_ends(first_day, last_day, out):
    component = a_component(outages=(Outage(first_day=first_day, last_day=last_day),))
    assert (outage_on(component, DAY) is not None) is out


def test_an_outage_is_not_received_and_says_when_and_why():
    outage = Outage(first_day=date(2026, 7, 20), last_day=date(2026, 8, 10), reason="new antenna")
    (finding,) = status_findings(beacon=a_beacon(a_component(outages=(outage,))), kind=ComponentKind.AZIMUTH, on=DAY)
    assert (finding.cause, finding.state) == (Cause.OUTAGE, ReceptionState.NOT_RECEIVED)
    assert finding.detail == "from 2026-07-20 to 2026-08-10: new antenna"


@pytest.mark.parametrize(
    ("status", "expected"),
    [
        (ComponentStatus.OPERATING, []),
        (ComponentStatus.UNKNOWN, [(Cause.STATUS_UNKNOWN, ReceptionState.MARGINAL)]),
        (ComponentStatus.OUT_OF_SERVICE, [(Cause.OUT_OF_SERVICE, ReceptionState.NOT_RECEIVED)]),
        (ComponentStatus.WITHDRAWN, [(Cause.WITHDRAWN, ReceptionState.NOT_RECEIVED)]),
    ],
)
def test_a_part_that_is_not_stated_as_operating_is_never_plainly_received(status, expected):
    findings = status_findings(beacon=a_beacon(a_component(status=status)), kind=ComponentKind.AZIMUTH, on=DAY)
    assert [(finding.cause, finding.state) for finding in findings] == expected


def test_each_part_has_a_status_of_its_own():
    beacon = a_beacon(a_component(status=ComponentStatus.WITHDRAWN), a_component(ComponentKind.DISTANCE))
    assert status_findings(beacon=beacon, kind=ComponentKind.DISTANCE, on=DAY) == ()
    assert status_findings(beacon=beacon, kind=ComponentKind.AZIMUTH, on=DAY)[0].cause is Cause.WITHDRAWN
    assert status_findings(beacon=beacon, kind=ComponentKind.BEARING, on=DAY)[0].cause is Cause.NO_SUCH_COMPONENT


def test_the_azimuth_of_a_tacan_is_not_for_a_vor_receiver_but_its_distance_is():
    beacon = a_beacon(a_component(), a_component(ComponentKind.DISTANCE), kind=BeaconKind.TACAN)
    assert [f.cause for f in status_findings(beacon=beacon, kind=ComponentKind.AZIMUTH, on=DAY)] == [Cause.NOT_FOR_VOR_RECEIVER]
    assert status_findings(beacon=beacon, kind=ComponentKind.DISTANCE, on=DAY) == ()
