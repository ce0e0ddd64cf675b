"""What people type for a number, a latitude, a longitude or a position, and what they must not get away with."""

from __future__ import annotations

import math

import pytest

from server.errors import InputProblem
from server.navigation import Position, format_dm, parse_latitude, parse_longitude, parse_number, parse_position

FIFTY_3_12 = 50 + 3 / 60 + 12 / 3600


@pytest.mark.parametrize(
    "text",
    [
        "50°03′12″N",
        "50º03’12”N",
        "50°03'12\"N",
        "50°03'12''N",
        "N50 03.2",
        "n50 03 12",
        "N 50° 03.2'",
        "500312N",
        "N500312",
        "5003.2N",
        "50 3 12",
        "50:03:12",
        "50-03-12N",
        "50°03,2'",
        "+50 03 12",
        " 50 03 12.0 ",
        "50 3 12 N",
    ],
)
def test_many_ways_to_write_one_latitude(text):
    assert parse_latitude(text) == pytest.approx(FIFTY_3_12, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("-0 30 00", -0.5),
        ("−0°30′", -0.5),
        ("0 30 S", -0.5),
        ("S0030", -0.5),
        ("50.0533", 50.0533),
        ("-50,0533", -50.0533),
        ("90", 90.0),
        ("S90", -90.0),
        ("48° 30,6410'", 48 + 30.6410 / 60),
    ],
)
def test_signs_survive_a_zero_and_commas_may_stand_for_points(text, degrees):
    assert parse_latitude(text) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("005°15.0'W", -5.25),
        ("W005 15 00", -5.25),
        ("0051500W", -5.25),
        ("00515W", -5.25),
        ("-5.25", -5.25),
        ("E 5", 5.0),
        ("180", -180.0),
        ("W180", -180.0),
        ("-0 15", -0.25),
    ],
)
def test_longitudes_are_read(text, degrees):
    assert parse_longitude(text) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize("text", ["50 60", "50 75 00", "50 03 60", "50°59'60\"N", "506000N"])
def test_sixty_minutes_or_seconds_are_refused(text):
    with pytest.raises(InputProblem, match="from 0 to less than 60"):
        parse_latitude(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "N",
        "nan",
        "inf",
        "-inf",
        "1_0",
        "５０",
        "²",
        "50e0",
        "1e1",
        "0x10",
        "50°03''N",
        "50.5 30",
        "50 03.5 12",
        "50 03 12 13",
        "50031N",
        "50'",
        "--50",
        "50..5",
        "50°°",
        "north 50",
        "50 degrees",
        "٥٠",
        "50\n03",
        "5" * 200,
        "50,",
        "50 -5",
        "<b>50</b>",
    ],
)
def test_what_cannot_be_read_is_refused_with_an_example(text):
    with pytest.raises(InputProblem, match=r"cannot be read as a latitude\. Write it like"):
        parse_latitude(text)


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (parse_latitude, "90 00 01", "a latitude runs from 0 to 90"),
        (parse_latitude, "95", "a latitude runs from 0 to 90"),
        (parse_longitude, "190E", "a longitude runs from 0 to 180"),
        (parse_longitude, "181 00", "a longitude runs from 0 to 180"),
        (parse_longitude, "-200", "a longitude runs from 0 to 180"),
        (parse_longitude, "474", "a longitude runs from 0 to 180"),
        (parse_latitude, "50E", "letter E: that is not a latitude"),
        (parse_longitude, "N5", "letter N: that is not a longitude"),
        (parse_latitude, "-50N", "direction twice"),
        (parse_latitude, "N50N", "direction twice"),
        (parse_longitude, "0515W", "cannot be read as a longitude"),
    ],
)
def test_wrong_angles_are_refused_in_words(read, text, words):
    with pytest.raises(InputProblem, match=words) as caught:
        read(text)
    assert caught.value.place in ("latitude", "longitude")


@pytest.mark.parametrize(
    ("text", "lat_deg", "lon_deg"),
    [
        ("50.0533, -5.25", 50.0533, -5.25),
        ("50.0533 -5.25", 50.0533, -5.25),
        ("50.0533;-5.25", 50.0533, -5.25),
        ("50,0533,-5,25", 50.0533, -5.25),
        ("48,5 2,25", 48.5, 2.25),
        ("48° 30,6410' , 2° 15,1'", 48 + 30.6410 / 60, 2 + 15.1 / 60),
        ("50 3 12 -5 15 0", FIFTY_3_12, -5.25),
        ("50 3.2 5 15", FIFTY_3_12, 5.25),
        ("N50 03.2 W005.25", FIFTY_3_12, -5.25),
        ("500312N0051500W", FIFTY_3_12, -5.25),
        ("N500312W0051500", FIFTY_3_12, -5.25),
        ("50°03'12\"N/005°15'00\"W", FIFTY_3_12, -5.25),
        ("W005 15 N50 03.2", FIFTY_3_12, -5.25),
        ("-5 53", -5.0, 53.0),
        ("90 0", 90.0, 0.0),
    ],
)
def test_positions_are_read_in_mixed_forms(text, lat_deg, lon_deg):
    position = parse_position(text)
    assert (position.lat_deg, position.lon_deg) == pytest.approx((lat_deg, lon_deg), abs=1e-9)


@pytest.mark.parametrize(
    "text", ["", "50", "1,2,3", "50 3 5", "5 5 5 5 5", "nan, nan", "50N 5", "100, 50", "50N 60N", "50 60 5 0", "x" * 500, ", ,", "50 ,"]
)
def test_what_is_no_position_or_could_be_two_is_refused(text):
    with pytest.raises(InputProblem, match=r"as one position|too long"):
        parse_position(text)


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "text"),
    [
        (FIFTY_3_12, -5.25, "50°03.20'N 005°15.00'W"),
        (-0.5, 0.0, "00°30.00'S 000°00.00'E"),
        (-1e-9, -1e-9, "00°00.00'N 000°00.00'E"),
        (49.99999, 179.99999, "50°00.00'N 180°00.00'E"),
        (-90.0, -180.0, "90°00.00'S 180°00.00'W"),
    ],
)
def test_positions_are_written_in_degrees_and_minutes(lat_deg, lon_deg, text):
    assert format_dm(Position(lat_deg=lat_deg, lon_deg=lon_deg)) == text


@pytest.mark.parametrize(("text", "value"), [("12", 12.0), ("-12.5", -12.5), ("+.5", 0.5), ("5.", 5.0), (" 007 ", 7.0), ("−3", -3.0)])
def test_plain_numbers_are_read(text, value):
    assert parse_number(text) == value


@pytest.mark.parametrize(
    "text",
    ["", "nan", "inf", "-inf", "1_0", "１２", "²", "1e5", "1e999", "0x10", "1,5", "1 000", "--1", "1-", ".", "+", "9" * 400, "٣", "1\n2"],
)
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(InputProblem, match="not a plain number"):
        parse_number(text)


def test_minus_zero_keeps_its_sign():
    assert math.copysign(1.0, parse_latitude("-0 00 00")) == -1.0
