"""Labels of a strip page: how wide a text is, where it finds room, and the thin line back to what it names."""

from __future__ import annotations

import math

from server.sheets.label_room import Box, LabelRoom
from server.sheets.svg import INK, line, text

LONGEST_LABEL = 36
LEADER_FROM = 30.0  # drawing units between a symbol and its label
GAPS = (1.0, 1.5, 2.5, 5.0, 9.0)
"""How much further out a label that must be shown looks for room."""


def width_of(words: str, size: float, *, bold: bool = False) -> float:
    """How wide a text is, near enough to find room for it: Libertinus Serif by kinds of letters."""
    ems = sum(0.69 if letter.isupper() else 0.8 if letter in "mw" else 0.28 if letter in " .,:;'il·" else 0.49 for letter in words)
    return ems * size * (1.07 if bold else 1.0)


def label_beside(room: LabelRoom, x: float, y: float, words: str, *, size: float, must: bool, gap: float, bold: bool = False) -> str:
    """Write a label near a place, with a leader where it had to go far; nothing where there is no room and it need not be shown."""
    words = words if len(words) <= LONGEST_LABEL else words[: LONGEST_LABEL - 1] + "…"
    box = place_box(room, x, y, width=width_of(words, size, bold=bold), height=size * 1.15, gap=gap, must=must)
    if box is None:
        return ""
    style = {"font_weight": "bold"} if bold else {"font_style": "italic"}
    return leader(x, y, box) + text(words, box.left, box.bottom - size * 0.27, size=size, halo=3.5, **style)


def place_box(room: LabelRoom, x: float, y: float, *, width: float, height: float, gap: float, must: bool) -> Box | None:
    """Find room ever further out; a label that must be shown covers something only where there is no room at all."""
    for times in GAPS if must else GAPS[:1]:
        box = room.place(x, y, width=width, height=height, gap=gap * times, must=False)
        if box is not None:
            return box
    return room.place(x, y, width=width, height=height, gap=gap, must=True) if must else None


def leader(x: float, y: float, box: Box) -> str:
    """A thin line from a symbol to a label that found room only further away."""
    to_x, to_y = min(max(x, box.left), box.right), min(max(y, box.top), box.bottom)
    return line(x, y, to_x, to_y, stroke=INK, stroke_width=0.8) if math.dist((x, y), (to_x, to_y)) > LEADER_FROM else ""
