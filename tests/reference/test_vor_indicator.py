"""The VOR indicator, the NDB pointer, distances off course, and items on the time to a station.

Sources: the rule of the indicator is that of FAA-H-8083-15 (VOR receiver); its rows were worked out by it with pencil and paper, other than
those named as published items. Items of the FAA's commercial and instrument banks as public copies give them; US Navy P-1215; AFMAN 11-217.
"""

from __future__ import annotations

import pytest

from server.errors import OutOfRange
from server.navigation import minutes_to_station, radial_from, three_digits
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.indicator import (
    Flag,
    Side,
    off_course_nm,
    relative_bearing_deg,
    sensing_reversed,
    vor_indication,
)
from server.navigation.position import Position

# radial, selected course, flag, where the course lies [deg, right positive]
TRUTH_TABLE = [
    (30, 30, "FROM", 0),
    (210, 30, "TO", 0),
    (35, 30, "FROM", -5),
    (25, 30, "FROM", 5),
    (215, 30, "TO", 5),
    (205, 30, "TO", -5),
    (119, 30, "FROM", -89),
    (121, 30, "TO", -89),
    (301, 30, "FROM", 89),
    (299, 30, "TO", 89),
    (310, 40, "OFF", 90),  # published item: OBS 040, full right, OFF: on the 310 radial
    (130, 40, "OFF", -90),
    (180, 360, "TO", 0),
    (360, 360, "FROM", 0),
    (80, 253, "TO", 7),  # published item: OBS 253, TO, needle right: east-northeast of the station
    (60, 253, "TO", -13),
    (73, 253, "TO", 0),
    (184, 360, "TO", 4),  # inbound on 360, drifted to the west: two dots
    (4, 360, "FROM", -4),
]


@pytest.mark.parametrize(("radial", "selected", "flag", "lies_deg"), TRUTH_TABLE)
def test_agrees_with_the_truth_table_of_the_indicator(radial, selected, flag, lies_deg):
    shown = vor_indication(radial_deg=radial, selected_course_deg=selected)
    assert shown.flag == flag
    assert shown.course_lies_deg == pytest.approx(lies_deg, abs=1e-9)
    assert shown.needle_deg == pytest.approx(max(-10, min(10, lies_deg)), abs=1e-9)
    assert shown.full is (abs(lies_deg) >= 10)
    assert shown.side is (Side.CENTRE if lies_deg == 0 else Side.RIGHT if lies_deg > 0 else Side.LEFT)


@pytest.mark.parametrize(("lies_deg", "dots"), [(2, 1), (4, 2), (5, 2.5), (10, 5), (60, 5)])
def test_five_dots_of_two_degrees(lies_deg, dots):
    """Common practice for the five-dot indicator."""
    assert vor_indication(radial_deg=90 - lies_deg, selected_course_deg=90).needle_dots == pytest.approx(dots)


def test_near_abeam_the_flag_is_in_doubt():
    """Common practice: about 10 degrees to either side of the line abeam."""
    assert [vor_indication(radial_deg=30 + off, selected_course_deg=30).flag_doubtful for off in (79, 81, 90, 99, 101)] == [
        False, True, True, True, False,
    ]  # fmt: skip


def test_agrees_with_the_faa_item_on_where_the_aircraft_is():
    """Airborne check, OBS 0 with TO and the needle centred: only due south of the station."""
    centred = [
        radial
        for radial in range(360)
        if (shown := vor_indication(radial_deg=radial, selected_course_deg=0)).flag is Flag.TO and shown.side is Side.CENTRE
    ]
    assert centred == [180]


def test_agrees_with_the_faa_item_on_the_215_radial():
    """Track inbound on the 215 radial: select 035; the needle is corrected toward."""
    shown = vor_indication(radial_deg=215, selected_course_deg=35)
    assert (shown.flag, shown.side) == (Flag.TO, Side.CENTRE)
    assert not sensing_reversed(heading_deg=35, selected_course_deg=35)
    assert sensing_reversed(heading_deg=35, selected_course_deg=215)


def test_a_station_true_aligned_is_set_by_its_own_radial_and_not_by_the_heading():
    """AFMAN 11-217V1, 8.4.7.5: Thule, true-aligned, inbound on the 180 radial with variation 60 W: heading 060, select 360."""
    station = Position(lat_deg=76.5, lon_deg=-68.7)
    south = Position(lat_deg=76.0, lon_deg=-68.7)
    radial = radial_from(station, Alignment(kind=AlignmentKind.TRUE), south, estimated_declination_deg=None)
    assert radial is not None and three_digits(radial.value_deg) == "180"
    shown = vor_indication(radial_deg=radial.value_deg, selected_course_deg=360)
    assert (shown.flag, shown.side) == (Flag.TO, Side.CENTRE)


@pytest.mark.parametrize(
    ("heading", "relative", "to_station"),
    [(350, 240, 230), (315, 140, 95), (40, 290, 330)],  # FAA items, from memory
)
def test_agrees_with_faa_items_on_the_pointer_of_an_ndb(heading, relative, to_station):
    assert relative_bearing_deg(bearing_deg=to_station, heading_deg=heading) == relative


# NM, degrees, exact, as published (None: not published) and how far the published figure may differ: one in sixty is 5 to 6 % short
OFF_COURSE = [
    (60, 1, 1.047, 1.0),  # US Navy P-1215
    (60, 2, 2.095, 2.0),  # FAA commercial item
    (30, 1, 0.524, 0.5),  # US Navy P-1215
    (30, 2, 1.048, 1.0),  # FAA item
    (30, 4, 2.098, 2.0),  # FAA instrument item, from memory
    (24, 6, 2.523, 2.4),  # FAA item
    (10, 10, 1.763, None),
    (15, 5, 1.312, None),
    (20, 4, 1.399, None),
    (40, 2, 1.397, None),
    (50, 10, 8.816, None),
    (5, 2, 0.175, None),
]


@pytest.mark.parametrize(("away_nm", "angle_deg", "exact_nm", "published_nm"), OFF_COURSE)
def test_agrees_with_published_distances_off_course(away_nm, angle_deg, exact_nm, published_nm):
    """The exact column is d tan(angle) by hand; 0.002 NM is its rounding."""
    assert off_course_nm(away_nm, angle_deg) == pytest.approx(exact_nm, abs=0.002)
    assert published_nm is None or off_course_nm(away_nm, angle_deg) == pytest.approx(published_nm, rel=0.06)


def test_no_distance_off_is_told_abeam():
    with pytest.raises(OutOfRange, match=r"Give less than 90 degrees") as refusal:
        off_course_nm(10.0, 90.0)
    assert refusal.value.code == "off-course-angle"


@pytest.mark.parametrize(
    ("between_min", "change_deg", "minutes"),
    [
        (2, 10, 12),  # AFMAN 11-217V1, 7.7.1
        (1.5, 5, 18),  # FAA commercial items, here and below
        (2, 5, 24),
        (2.5, 5, 30),
        (6, 5, 72),
        (6, 15, 24),
        (5, 10, 30),
    ],
)
def test_agrees_with_items_on_the_time_to_a_station(between_min, change_deg, minutes):
    assert minutes_to_station(between_min, change_deg) == pytest.approx(minutes)
