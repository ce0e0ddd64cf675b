"""The picture on a VOR indicator: the selected course under the index, the needle by its dots, and the flag in a window."""

from __future__ import annotations

import math

from server.navigation.indicator import DOT_DEG, FULL_SCALE_DEG, Flag, Indication
from server.sheets import figures
from server.sheets.check_words import needle_in_words
from server.sheets.svg import BRICK, HAIR, INK, PAPER, SOFT, element, group, line, path, picture, text

SIZE = 200.0
_MIDDLE, _RIM, _CARD = SIZE / 2.0, 96.0, 84.0
_DOT_STEP = 11.0


def indicator_svg(shown: Indication, selected_course_deg: float | None) -> str:
    """Draw what an indicator shows with a course selected. [deg]"""
    return picture(
        element("circle", cx=_MIDDLE, cy=_MIDDLE, r=_RIM, fill=PAPER, stroke=INK, stroke_width=2.0),
        _card(selected_course_deg or 0.0),
        path(((_MIDDLE, 6.0), (_MIDDLE - 6.0, -1.0 + 2.0), (_MIDDLE + 6.0, 1.0)), closed=True, fill=BRICK),
        _dots(),
        _needle(shown),
        _flag(shown),
        width=SIZE,
        height=SIZE,
        title=f"Indicator with {figures.course(selected_course_deg)} set",
        description=needle_in_words(shown),
        name="indicator",
    )


def _card(selected_course_deg: float) -> str:
    """The course card, turned so that the selected course stands at the top."""
    parts = []
    for mark in range(0, 360, 10):
        turn = mark - selected_course_deg
        inner = _RIM - (9.0 if mark % 30 == 0 else 5.0)
        (x1, y1), (x2, y2) = _at(turn, _RIM - 1.0), _at(turn, inner)
        parts.append(line(x1, y1, x2, y2, stroke=INK, stroke_width=1.4 if mark % 30 == 0 else 0.8))
        if mark % 30 == 0:
            x, y = _at(turn, _CARD - 6.0)
            parts.append(text(f"{mark // 10:d}", x, y + 4.0, size=11.0, text_anchor="middle"))
    return group(*parts)


def _at(turn_deg: float, radius: float) -> tuple[float, float]:
    turn = math.radians(turn_deg)
    return _MIDDLE + radius * math.sin(turn), _MIDDLE - radius * math.cos(turn)


def _dots() -> str:
    count = int(FULL_SCALE_DEG / DOT_DEG)
    spots = [_MIDDLE + side * step * _DOT_STEP for step in range(1, count + 1) for side in (-1.0, 1.0)]
    ring = element("circle", cx=_MIDDLE, cy=_MIDDLE, r=6.0, fill="none", stroke=SOFT, stroke_width=1.2)
    return group(ring, *(element("circle", cx=x, cy=_MIDDLE, r=2.0, fill=SOFT) for x in spots))


def _needle(shown: Indication) -> str:
    x = _MIDDLE + shown.needle_deg / DOT_DEG * _DOT_STEP
    return line(x, _MIDDLE - 56.0, x, _MIDDLE + 56.0, stroke=INK, stroke_width=3.5, stroke_linecap="round", class_="needle")


def _flag(shown: Indication) -> str:
    off = shown.flag is Flag.OFF
    box = {"x": _MIDDLE + 14.0, "y": _MIDDLE + 22.0, "width": 44.0, "height": 20.0}
    window = element("rect", **box, rx=2, fill=PAPER, stroke=BRICK if off else INK, stroke_width=1.4)
    words = text(
        shown.flag.value, _MIDDLE + 36.0, _MIDDLE + 37.0, size=13.0, text_anchor="middle", font_weight="bold", fill=BRICK if off else INK
    )
    doubt = (
        text("or OFF", _MIDDLE + 36.0, _MIDDLE + 55.0, size=10.0, text_anchor="middle", fill=SOFT)
        if shown.flag_doubtful and not off
        else ""
    )
    rule = line(_MIDDLE + 14.0, _MIDDLE + 22.0, _MIDDLE + 58.0, _MIDDLE + 22.0, stroke=HAIR, stroke_width=0.6)
    return group(window, rule, words, doubt)
