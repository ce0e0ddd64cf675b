"""Coded and typed winds aloft. Examples: FAA aviation weather handbooks, wind and temperature aloft forecast (from memory)."""

from __future__ import annotations

import pytest

from server.errors import InputProblem
from server.navigation import NorthReference
from server.navigation.winds_aloft import winds_from_text

FORECAST = """FT  3000    6000    9000   12000   18000   24000  30000  34000  39000
MKC 9900 1709+06 2018+00 2130-06 2242-18 2361-30 247242 258848 550252"""


def told(text: str):
    return [(int(wind.altitude_ft), wind.from_deg, wind.speed_kt, wind.temperature_c) for wind in winds_from_text(text)]


def test_the_handbook_line_is_read_as_the_handbook_reads_it():
    """3,000 ft light and variable; 6,000 from 170 at 9 kt, 6 above; 30,000 from 240 at 72 kt, 42 below; 39,000 from 050 at 102 kt."""
    assert told(FORECAST) == [
        (3000, 0.0, 0.0, None),
        (6000, 170.0, 9.0, 6.0),
        (9000, 200.0, 18.0, 0.0),
        (12000, 210.0, 30.0, -6.0),
        (18000, 220.0, 42.0, -18.0),
        (24000, 230.0, 61.0, -30.0),
        (30000, 240.0, 72.0, -42.0),
        (34000, 250.0, 88.0, -48.0),
        (39000, 50.0, 102.0, -52.0),
    ]
    assert all(wind.reference is NorthReference.TRUE for wind in winds_from_text(FORECAST))


def test_a_wind_of_100_knots_or_more_adds_50_to_the_direction():
    """7319: from 230 at 119 kt. 731960: and 60 below zero."""
    assert told("FT 34000\nABC 731960") == [(34000, 230.0, 119.0, -60.0)]


def test_without_heights_the_standard_ones_are_meant_and_the_lowest_are_missing():
    assert [height for height, *_ in told("DEN 2321-04 2532-08 2434-19 2441-31 235347 236056 236262")] == [
        9000,
        12000,
        18000,
        24000,
        30000,
        34000,
        39000,
    ]


def test_typed_winds_say_true_or_magnetic():
    winds = winds_from_text("3000 270T/14 +5; 6,000 280m/22 -1; 9000 290T/30")
    assert [(w.altitude_ft, w.from_deg, w.reference, w.speed_kt, w.temperature_c) for w in winds] == [
        (3000.0, 270.0, NorthReference.TRUE, 14.0, 5.0),
        (6000.0, 280.0, NorthReference.MAGNETIC, 22.0, -1.0),
        (9000.0, 290.0, NorthReference.TRUE, 30.0, None),
    ]


BAD = {
    "": "There is no wind",
    "ABC 27": '"27"',
    "FT 3000 6000\nABC 2714 27X4": "27X4",
    "FT 3000 6000\nABC 4014 2714+02": "no direction 400",
    "FT 3000 6000\nABC 2714 271402": "no sign",
    "FT 3000\nABC 2714 2714+02": "2 groups of wind for 1 heights",
    "ABC 2714\nDEF 2714": "one station",
    "3000 270/14": "direction with T or M",
    "3000 270/14 +5; 6000 280/22 -1": "3000 270/14 +5",
    "ABI 1910": '"1910" at 39,000 ft: there is no temperature',
    "ABI 1910 2115+12 2318+08": '"1910" at 30,000 ft: there is no temperature',
    "ABI 2115+12 2318+08": '"2115+12" at 34,000 ft: the temperature has a sign',
    "FT 24000 30000\nABI 2361-30 2472-42": '"2472-42" at 30,000 ft: the temperature has a sign',
    "3000 400T/14": "400T/14",
    "3000 270T/14; nonsense T/": "NONSENSE",
}


@pytest.mark.parametrize("text", BAD)
def test_what_cannot_be_read_is_named(text):
    with pytest.raises(InputProblem) as refused:
        winds_from_text(text)
    assert refused.value.code == "wind-words" and BAD[text] in refused.value.message
