"""The picture of a VOR indicator, read back from its SVG and held against the truth table of the indicator (see the reference test)."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ElementTree

import pytest

from server.navigation.indicator import vor_indication
from server.sheets import indicator_svg
from tests.reference.test_vor_indicator import TRUTH_TABLE

SVG = "{http://www.w3.org/2000/svg}"


class Picture:
    """An indicator as it is drawn."""

    def __init__(self, radial_deg: float, selected_course_deg: float):
        shown = vor_indication(radial_deg=radial_deg, selected_course_deg=selected_course_deg)
        self.root = ElementTree.fromstring(indicator_svg(shown, selected_course_deg))
        self.middle = float(self.root.get("viewBox").split()[2]) / 2.0
        self.words = {text.text: (float(text.get("x")), float(text.get("y"))) for text in self.root.iter(f"{SVG}text")}

    @property
    def needle_x(self) -> float:
        """Right of the middle is positive."""
        (needle,) = [line for line in self.root.iter(f"{SVG}line") if line.get("class") == "needle"]
        assert needle.get("x1") == needle.get("x2"), "the needle stands upright"
        return float(needle.get("x1")) - self.middle

    @property
    def dots_x(self) -> list[float]:
        return sorted(float(dot.get("cx")) - self.middle for dot in self.root.iter(f"{SVG}circle") if dot.get("r") == "2")

    @property
    def flags(self) -> set[str]:
        return set(self.words) & {"TO", "FROM", "OFF", "or OFF"}

    def turn_deg(self, words: str) -> float:
        """Where a figure of the card stands, clockwise from the top."""
        x, y = self.words[words]
        return math.degrees(math.atan2(x - self.middle, self.middle - (y - 4.0))) % 360.0  # a figure hangs 4 units under its middle


@pytest.mark.parametrize(("radial", "selected", "flag", "lies_deg"), TRUTH_TABLE)
def test_needle_and_flag_agree_with_the_truth_table_of_the_indicator(radial, selected, flag, lies_deg):
    picture = Picture(radial, selected)
    assert flag in picture.flags and len(picture.flags - {"or OFF"}) == 1
    dot = picture.dots_x[-1] / 5.0
    assert picture.needle_x == pytest.approx(dot * max(-5.0, min(5.0, lies_deg / 2.0)), abs=0.01)


def test_there_are_five_dots_to_each_side():
    dots = Picture(30, 30).dots_x
    assert len(dots) == 10
    assert dots == pytest.approx([-each for each in reversed(dots)])
    assert dots[5:] == pytest.approx([dots[5] * step for step in range(1, 6)])


@pytest.mark.parametrize(("radial", "doubtful"), [(30, False), (109, False), (111, True), (129, True), (131, False)])
def test_near_abeam_the_picture_says_that_the_flag_may_be_off(radial, doubtful):
    """Common practice: within about 10 degrees of the line abeam, here at 120."""
    assert ("or OFF" in Picture(radial, 30).flags) is doubtful


def test_on_the_line_abeam_off_is_told_once():
    assert Picture(310, 40).flags == {"OFF"}


@pytest.mark.parametrize("selected", [0, 30, 123, 270, 359.5, 360])
def test_the_card_is_turned_so_that_the_selected_course_stands_at_the_top(selected):
    picture = Picture(100, selected)
    for mark in range(0, 36, 3):
        away = (picture.turn_deg(str(mark)) - (mark * 10.0 - selected) + 180.0) % 360.0 - 180.0
        assert away == pytest.approx(0.0, abs=0.1)


def test_the_picture_says_in_words_what_it_shows():
    root = Picture(35, 30).root
    assert root.find(f"{SVG}title").text == "Indicator with 030 set"
    spoken = root.find(f"{SVG}desc").text
    assert "FROM" in spoken and "left" in spoken and "right" not in spoken


def test_the_heading_never_enters():
    """The same radial and course draw the same picture, and turning both turns only the card."""
    one, other = Picture(35, 30), Picture(135, 130)
    assert one.needle_x == other.needle_x and one.flags == other.flags
