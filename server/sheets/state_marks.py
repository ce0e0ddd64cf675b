"""How a reception state looks on chart and section: a line pattern, a colour and a word, so that none of the three is needed alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from server.radio.reception import ReceptionState
from server.sheets.svg import BRICK, INK, PAPER, SOFT, group, path, text
from server.sheets.words import STATE_WORDS

_PATTERNS: dict[ReceptionState, dict[str, Any]] = {
    ReceptionState.RECEIVED: {"stroke": INK, "stroke_width": 3.4},
    ReceptionState.MARGINAL: {"stroke": BRICK, "stroke_width": 3.4, "stroke_dasharray": "13 5"},
    ReceptionState.UNKNOWN: {"stroke": SOFT, "stroke_width": 3.4, "stroke_dasharray": "14 5 2 5"},
    ReceptionState.NOT_PROMISED: {"stroke": SOFT, "stroke_width": 5.0, "stroke_dasharray": "2 6"},
    ReceptionState.NOT_RECEIVED: {"stroke": BRICK, "stroke_width": 5.0, "stroke_dasharray": "0.1 9", "stroke_linecap": "round"},
}


def state_line(points: Sequence[tuple[float, float]], state: ReceptionState) -> str:
    """Draw a line in the pattern of a state, on a casing of paper."""
    casing = path(points, fill="none", stroke=PAPER, stroke_width=8.0, stroke_opacity="0.8", stroke_linecap="round")
    return group(casing, path(points, fill="none", class_="line", **_PATTERNS[state]), class_=f"state {state.value.replace(' ', '-')}")


def state_legend(x: float, y: float) -> tuple[str, float]:
    """Draw one sample of each pattern with its word, in a row; return it and where it ends."""
    parts = []
    for state in ReceptionState:
        parts.append(state_line(((x, y), (x + 46.0, y)), state))
        parts.append(text(STATE_WORDS[state], x + 54.0, y + 4.5, size=14))
        x += 54.0 + 7.2 * len(STATE_WORDS[state]) + 24.0
    return group(*parts, class_="legend-states"), x
