"""What makes a strip page a chart to measure on: graticule with a tick for each minute, scale bar, key, and where the next page lies."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from server.radio.beacon import BeaconKind
from server.sheets import symbols
from server.sheets.chart_frame import ChartFrame
from server.sheets.label_room import Box, LabelRoom
from server.sheets.state_marks import state_legend
from server.sheets.strip_cut import UNIT_MM, StripCut, StripPart
from server.sheets.strip_ground import tint_key
from server.sheets.svg import HAIR, INK, PAPER, SOFT, element, group, line, moved, path, text
from server.units import metres_from_nautical_miles

GRATICULE_STEP_MIN = {500_000: 15, 250_000: 10}
BAR_LENGTHS_NM = (20, 10, 5)
BAR_STROKE = 2.2
"""Width of the scale bar's own line; nothing else on the page has it."""
TICK, LONG_TICK = 2.6, 5.0
FIGURE = 12.0
TAB_SIZE, TAB_ARROW = 15.0, 17.0


def graticule(frame: ChartFrame, room: LabelRoom, scale: int) -> str:
    """Draw parallels and meridians with a tick for each minute; a minute of latitude is a nautical mile, near enough to measure by."""
    south, north, west, east = frame.bounds_deg()
    step = GRATICULE_STEP_MIN[scale]
    parts = []
    for minutes in range(math.ceil(south * 60.0 / step) * step, math.floor(north * 60.0) + 1, step):
        each = np.arange(math.floor(west * 60.0), math.ceil(east * 60.0) + 1) / 60.0
        points = frame.along(np.full_like(each, minutes / 60.0), each)
        parts += [_graticule_line(frame, points, round(each[0] * 60.0)), _edge_figures(frame, room, points, _angle(minutes, "NS"), axis=0)]
    for minutes in range(math.ceil(west * 60.0 / step) * step, math.floor(east * 60.0) + 1, step):
        each = np.arange(math.floor(south * 60.0), math.ceil(north * 60.0) + 1) / 60.0
        points = frame.along(each, np.full_like(each, minutes / 60.0))
        folded = (minutes + 10800) % 21600 - 10800
        parts += [_graticule_line(frame, points, round(each[0] * 60.0)), _edge_figures(frame, room, points, _angle(folded, "EW"), axis=1)]
    return group(*parts, class_="graticule")


def _graticule_line(frame: ChartFrame, points: list[tuple[float, float]], first_minute: int) -> str:
    """The line, and across it a tick at each of its points, which are a minute apart; each fifth is longer."""
    ticks = []
    for index, ((x1, y1), (x2, y2)) in enumerate(pairwise(points)):
        length = math.dist((x1, y1), (x2, y2))
        if not (0.0 <= x1 <= frame.width and 0.0 <= y1 <= frame.height) or length == 0.0:
            continue
        half = LONG_TICK if (first_minute + index) % 5 == 0 else TICK
        across_x, across_y = -(y2 - y1) / length * half, (x2 - x1) / length * half
        ticks.append(f"M{x1 - across_x:.2f},{y1 - across_y:.2f} L{x1 + across_x:.2f},{y1 + across_y:.2f}")
    drawn = path(points, fill="none", stroke=SOFT, stroke_width=0.7)
    return drawn + (element("path", d=" ".join(ticks), fill="none", stroke=SOFT, stroke_width=0.6, class_="minutes") if ticks else "")


def _edge_figures(frame: ChartFrame, room: LabelRoom, points: list[tuple[float, float]], words: str, *, axis: int) -> str:
    """The line's latitude at both sides of the map, or its longitude above and below."""
    drawn = []
    width = 0.5 * FIGURE * len(words) + 4.0
    for edge, far in ((0.0, False), ((frame.width, frame.height)[axis], True)):
        for first, second in pairwise(points):
            if min(first[axis], second[axis]) <= edge < max(first[axis], second[axis]):
                share = (edge - first[axis]) / (second[axis] - first[axis])
                x, y = (first[k] + share * (second[k] - first[k]) for k in (0, 1))
                left = (x - width - 4.0 if far else x + 4.0) if axis == 0 else x + 4.0
                bottom = y - 4.0 if axis == 0 or far else y + FIGURE + 3.0
                box = Box(left=left, top=bottom - FIGURE, right=left + width, bottom=bottom)
                if box.inside(Box(left=0.0, top=0.0, right=frame.width, bottom=frame.height)):
                    room.add(box)
                    drawn.append(text(words, left, bottom - 1.5, size=FIGURE, halo=3.0, fill=SOFT))
    return group(*drawn)


def _angle(minutes: int, letters: str) -> str:
    degrees, rest = divmod(abs(minutes), 60)
    return f"{degrees}°{rest:02d}'{letters[0] if minutes >= 0 else letters[1]}"


def neighbour_marks(frame: ChartFrame, room: LabelRoom, cut: StripCut, part: StripPart) -> str:
    """Name the page before and the page after at the edge they lie beyond."""
    marks = []
    for other in (one for one in cut.parts if abs(one.number - part.number) == 1):
        right, down = (other.west_m - part.west_m) / frame.metres_per_unit, (part.north_m - other.north_m) / frame.metres_per_unit
        if right or down:
            marks.append(_neighbour(frame, room, f"page {other.number}", right, down))
    return group(*marks, class_="neighbours")


def _neighbour(frame: ChartFrame, room: LabelRoom, words: str, right: float, down: float) -> str:
    """A tab with an arrow at the edge, where a line from the middle towards the other page meets it, or beside that, off the route."""
    half_width, half_height = (0.55 * TAB_SIZE * len(words) + 12.0) / 2.0, TAB_SIZE * 0.75
    share = min(frame.width / 2.0 / abs(right) if right else math.inf, frame.height / 2.0 / abs(down) if down else math.inf)
    edge_x, edge_y = frame.width / 2.0 + right * share, frame.height / 2.0 + down * share
    sideways = abs(right) * frame.height >= abs(down) * frame.width  # it lies beyond the left or right edge
    boxes = []
    for step in sorted(range(-400, 401, 20), key=abs):
        x, y = (edge_x, edge_y + step) if sideways else (edge_x + step, edge_y)
        x = min(max(x, half_width + TAB_ARROW), frame.width - half_width - TAB_ARROW)
        y = min(max(y, half_height + TAB_ARROW), frame.height - half_height - TAB_ARROW)
        boxes.append(Box(left=x - half_width, top=y - half_height, right=x + half_width, bottom=y + half_height))
    box = next((box for box in boxes if room.free(box)), boxes[0])
    room.add(box)
    x, y = (box.left + box.right) / 2.0, (box.top + box.bottom) / 2.0
    turn = (0.0 if right > 0 else 180.0) if sideways else (90.0 if down > 0 else -90.0)
    reach = half_width if sideways else half_height
    head = path(((reach + 2.0, -6.0), (reach + 13.0, 0.0), (reach + 2.0, 6.0)), closed=True, fill=INK, transform=f"rotate({turn:.0f})")
    sheet = {"x": box.left, "y": box.top, "width": 2.0 * half_width, "height": 2.0 * half_height}
    back = element("rect", rx=3, fill=PAPER, stroke=INK, stroke_width=1.0, **sheet)
    return group(
        back, moved((x, y), head), text(words, x, y + 5.0, size=TAB_SIZE, text_anchor="middle", font_weight="bold"), class_="neighbour"
    )


def scale_bar(x: float, y: float, *, metres_per_unit: float, room_units: float) -> str:
    """Draw a bar in nautical miles, exactly as long as they are on this paper; the longest that has room."""
    units_per_nm = metres_from_nautical_miles(1.0) / metres_per_unit
    length_nm = next((length for length in BAR_LENGTHS_NM if length * units_per_nm <= room_units), BAR_LENGTHS_NM[-1])
    length = length_nm * units_per_nm
    parts = [line(x, y, x + length, y, stroke=INK, stroke_width=BAR_STROKE, class_="bar")]
    for mile in range(length_nm + 1):
        high = 8.0 if mile % 5 == 0 else 4.0
        parts.append(line(x + mile * units_per_nm, y - high, x + mile * units_per_nm, y, stroke=INK, stroke_width=0.9))
    for mile in range(0, length_nm + 1, 5):
        words, anchor = (f"{mile} NM", "end") if mile == length_nm else (str(mile), "start" if mile == 0 else "middle")
        parts.append(text(words, x + mile * units_per_nm, y + 12.5, size=12, text_anchor=anchor))
    return group(*parts, class_="scale-bar", data_length_nm=length_nm)


def key(cut: StripCut, top: float, *, unknown: str) -> str:
    """Draw what stands under the map: scale bar, states of reception, tints; on a wide page the tints stand beside the states."""
    width = cut.paper.map_width_mm / UNIT_MM
    bar = scale_bar(2.0, top + 17.0, metres_per_unit=cut.scale * UNIT_MM / 1000.0, room_units=0.62 * width)
    states, end = state_legend(2.0, top + 53.0)
    left, down = (2.0, top + 61.0) if cut.paper.narrow else (end + 14.0, top + 40.0)
    tints, tints_end = tint_key(left, down)
    sample = element("rect", x=tints_end + 12.0, y=down, width=30.0, height=13.0, fill=f"url(#{unknown})", stroke=HAIR)
    return group(bar, states, tints, sample, text("ground not known", tints_end + 48.0, down + 11.0, size=12), class_="key")


def symbols_key(width: float, top: float) -> tuple[str, float]:
    """Draw the signs of the chart with their words, in as many rows as the width asks for; return it and where it ends."""
    places = (
        (symbols.airfield_symbol(closed=False), "airfield"),
        (symbols.visual_point_symbol(), "visual point"),
        (symbols.fix_symbol(), "fix"),
        (symbols.ridge_symbol(), "ground that hides a beacon"),
        (symbols.changeover_symbol(0.0), "change over"),
    )
    parts, x, y = [], 16.0, top + 16.0
    for symbol, word in (*((symbols.beacon_symbol(kind), kind.value) for kind in BeaconKind), *places):
        needs = 26.0 + sum(9.5 if letter.isupper() else 6.8 for letter in word)
        if x + needs > width:
            x, y = 16.0, y + 36.0
        parts += [moved((x, y), symbol), text(word, x + 22.0, y + 4.5, size=14)]
        x += needs + 26.0
    return group(*parts, class_="symbols-key"), y + 20.0
