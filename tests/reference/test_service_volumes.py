"""Service volumes, sectors and cones against published tables.

Sources: FAA Aeronautical Information Manual 1-1-8, TBL 1-1-1 and TBL 1-1-2 (edition of 2021 onward, heights above the transmitter).
"""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import destination
from server.radio import (
    Cause,
    CoverageSector,
    ReceptionState,
    ServiceClass,
    UnusableSector,
    unusable_at,
    volume_range_nm,
    volume_state,
)
from tests.builders import flat_ground
from tests.radio.radio_builders import MAST, a_beacon, a_component, a_path, a_survey

# (row, class, height above the transmitter [ft], range [NM], inside). S12, H at exactly 14,500 ft, lies in two lines of the table:
# not asserted here.
SSV_ROWS = [
    ("S1", "T", 12000, 25, True),
    ("S2", "T", 12001, 10, False),
    ("S3", "T", 5000, 25.1, False),
    ("S4", "L", 1000, 40, True),
    ("S5", "L", 18000, 40, True),
    ("S6", "VL", 18000, 40, False),
    ("S7", "VL", 4999, 41, False),
    ("S8", "VL", 5000, 70, True),
    ("S9", "L", 5000, 41, False),
    ("S10", "VH", 14499, 71, False),
    ("S11", "VH", 14500, 100, True),
    ("S13", "H", 14501, 100, True),
    ("S14", "H", 17999, 101, False),
    ("S15", "VH", 18000, 130, True),
    ("S16", "H", 45001, 101, False),
    *[("S17", letters, 60001, 1, False) for letters in ("T", "L", "H", "VL", "VH", "DL", "DH")],
]


@pytest.mark.parametrize(("row", "letters", "height_ft", "distance_nm", "inside"), SSV_ROWS)
def test_agrees_with_aim_table_1_1_1(row, letters, height_ft, distance_nm, inside):
    answer = volume_state(service_class=ServiceClass(letters), height_ft=np.array([height_ft]), distance_nm=np.array([distance_nm]))
    assert bool(answer.inside[0]) is inside, row


@pytest.mark.parametrize("letters", ["T", "L", "H", "VL", "VH"])
def test_agrees_with_aim_that_directly_overhead_is_not_covered(letters):  # row S18
    beacon = a_beacon(a_component(coverage=(), service_class=ServiceClass(letters)))
    path = a_path(MAST, destination(MAST, bearing_true_deg=0.0, distance_nm=10.0), 5000.0)
    first = a_survey(path, flat_ground(0.0), beacon).stretches[0]
    assert first.state is ReceptionState.NOT_RECEIVED
    assert first.has(Cause.OVERHEAD_CONE) and not first.has(Cause.OUTSIDE_VOLUME)


@pytest.mark.parametrize(("letters", "radius_nm"), [("locator", 15), ("MH", 25), ("NDB H", 50), ("HH", 75)])
def test_agrees_with_aim_table_1_1_2(letters, radius_nm):
    assert volume_range_nm(ServiceClass(letters), 2000.0) == radius_nm


# Common practice of US station remarks (from memory): clockwise sector, beyond and below together, MSL.
@pytest.mark.parametrize(
    ("row", "sector", "radial_deg", "distance_nm", "altitude_ft", "unusable"),
    [
        ("U1", (10, 30, 20, 5000), 20, 25, 4000, True),
        ("U2", (10, 30, 20, 5000), 20, 15, 4000, False),
        ("U3", (10, 30, 20, 5000), 20, 25, 5000, False),
        ("U4", (350, 20, 0, 3000), 5, 5, 2500, True),
        ("U5", (350, 20, 0, 3000), 180, 5, 2500, False),
    ],
)
def test_agrees_with_the_meaning_of_us_unusable_sectors(row, sector, radial_deg, distance_nm, altitude_ft, unusable):
    from_deg, to_deg, beyond_nm, below_ft = sector
    limit = UnusableSector(from_radial_deg=from_deg, to_radial_deg=to_deg, beyond_nm=beyond_nm, below_altitude_ft=below_ft)
    assert bool(unusable_at(limit, radial_deg=radial_deg, distance_nm=distance_nm, altitude_ft=altitude_ft)) is unusable, row


# r = h tan 50 deg; half-angle from ICAO Doc 8168 volume II (from memory). Tolerance: the table's last digit and the 0.001 NM of an edge.
@pytest.mark.parametrize(("height_ft", "radius_nm"), [(1000, 0.196), (3000, 0.588), (5000, 0.981), (8000, 1.569), (10000, 1.961)])
def test_agrees_with_the_cone_radii_of_doc_8168(height_ft, radius_nm):
    path = a_path(MAST, destination(MAST, bearing_true_deg=0.0, distance_nm=5.0), 100.0 + height_ft)
    first = a_survey(path, flat_ground(0.0)).stretches[0]
    assert first.has(Cause.OVERHEAD_CONE)
    assert first.to_nm == pytest.approx(radius_nm, abs=0.002)


def test_two_low_class_circles_leave_a_gap_of_2_nm_on_a_leg_of_82_nm():
    # R1/derived: class L reaches 40 NM, so on 82 NM the middle 2 NM belong to neither
    end = destination(MAST, bearing_true_deg=0.0, distance_nm=82.0)
    low = (CoverageSector(from_radial_deg=0, to_radial_deg=360, range_nm=40.0),)
    path = a_path(MAST, end, 4500.0)
    for component in (a_component(coverage=(), service_class=ServiceClass.L), a_component(coverage=low)):
        from_start = a_survey(path, flat_ground(0.0), a_beacon(component))
        from_end = a_survey(path, flat_ground(0.0), a_beacon(component, position=end))
        assert from_start.stretches[-1].from_nm == pytest.approx(40.0, abs=0.01)
        assert from_end.stretches[0].to_nm == pytest.approx(42.0, abs=0.01)
        assert from_end.stretches[0].has(Cause.OUTSIDE_VOLUME)
