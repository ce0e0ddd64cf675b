"""The ground of a strip page as lines and quiet areas, none of it a picture: tints by height, contours, coast, hatching where unknown.

The highest of the places looked at stands for each cell, so that a contour errs towards high ground. Darker is higher, so the page reads
in grey too.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from contourpy import FillType, LineType, contour_generator
from shapely import LineString, Polygon

from server.radio.ground import Ground
from server.sheets.chart_frame import ChartFrame
from server.sheets.label_room import Box, LabelRoom
from server.sheets.relief import SEA_WITHIN_M
from server.sheets.svg import HAIR, SEA, SOFT, element, group, line, number, path, text
from server.units import metres_from_feet

TINT_FROM_FT = (0.0, 1000.0, 2000.0, 3000.0, 4500.0, 6000.0, 8000.0, 10_000.0)
TINTS = ("#f8f3e7", "#f0e7d2", "#e6d9bd", "#dac8a5", "#ccb48c", "#bc9f76", "#ab8b64", "#987752")
SHORE, WAVE, CONTOUR = "#5f6f7a", "#a3b1b8", "#8d7350"
CONTOUR_STEP_FT = {500_000: 500.0, 250_000: 250.0}
FIGURE_EVERY_FT = 1000.0

LOOK_STEP = 1.5  # drawing units between the places looked at
CELL = 2  # so many of them across make a cell
TOLERANCE = 0.25  # drawing units by which a line may be simplified: a twentieth of a millimetre
SMALLEST_AREA = 6.0  # drawing units squared; smaller areas are left out, but never an island or a lake
FIGURES_APART = 170.0
FIGURE_SIZE = 11.0


def ground_drawing(frame: ChartFrame, ground: Ground, room: LabelRoom, *, scale: int, unknown: str, waves: str) -> tuple[str, str]:
    """Draw the ground and, apart, the figures of its contours, which take their room last.

    ``unknown`` and ``waves`` name the patterns of unknown ground and of water.
    """
    xs, ys, elevations_m, sea = _cells(frame, ground)
    known = np.isfinite(elevations_m)
    ground_m = np.where(known, elevations_m, 0.0)
    parts = [_whole(frame, fill=f"url(#{unknown})", class_="unknown-ground")] if not known.all() else []
    lines: list[str] = []
    worded: list[tuple[float, np.ndarray]] = []
    if known.any():
        parts.append(_areas(xs, ys, known.astype(float), 0.5, fill=TINTS[0], smallest=0.0, class_="known-ground"))
        lines += _lines(xs, ys, known.astype(float), 0.5, stroke=SOFT, stroke_width=0.9, stroke_dasharray="7 3", class_="limit")[0]
        heights_m = np.ma.masked_array(ground_m, mask=~known)
        for from_ft, tint in zip(TINT_FROM_FT[1:], TINTS[1:], strict=True):
            parts.append(_areas(xs, ys, heights_m, metres_from_feet(from_ft), fill=tint, class_="tint", data_from_ft=int(from_ft)))
        if sea.any():
            wet = np.ma.masked_array(sea, mask=~known)
            parts += [
                _areas(xs, ys, wet, 0.5, smallest=0.0, **look) for look in ({"fill": SEA, "class_": "sea"}, {"fill": f"url(#{waves})"})
            ]
            lines += _lines(xs, ys, wet, 0.5, stroke=SHORE, stroke_width=1.6, class_="coast")[0]
        step_ft = CONTOUR_STEP_FT[scale]
        for level_ft in np.arange(step_ft, math.floor(ground_m.max() / metres_from_feet(1.0)), step_ft):
            main = level_ft % FIGURE_EVERY_FT == 0.0
            look = {"stroke": CONTOUR, "stroke_width": 0.9 if main else 0.45, "class_": "contour", "data_ft": int(level_ft)}
            drawn, traced = _lines(xs, ys, heights_m, metres_from_feet(level_ft), **look)
            lines += drawn
            worded += [(float(level_ft), points) for points in traced] if main else []
    return group(*parts, *lines, class_="ground"), _figures(frame, room, worded)


def tint_key(x: float, y: float) -> tuple[str, float]:
    """Draw the tints with the heights they begin at; return them and where they end."""
    parts = []
    for from_ft, tint in zip(TINT_FROM_FT, TINTS, strict=True):
        parts.append(element("rect", x=x, y=y, width=26.0, height=13.0, fill=tint, stroke=HAIR, stroke_width=0.8))
        parts.append(text(f"{from_ft / 1000.0:g}", x, y + 23.5, size=11, text_anchor="middle"))
        x += 26.0
    return group(*parts, text("thousand ft and above", x + 6.0, y + 11.0, size=12), class_="tint-key"), x + 124.0


def waves(pattern_id: str) -> str:
    """Define the sign of water: short level strokes."""
    strokes = (line(2, 4, 10, 4, stroke=WAVE, stroke_width=0.7), line(16, 12, 24, 12, stroke=WAVE, stroke_width=0.7))
    return element("pattern", *strokes, id=pattern_id, width=28, height=16, patternUnits="userSpaceOnUse")


def _whole(frame: ChartFrame, **look: Any) -> str:
    return element("rect", width=frame.width, height=frame.height, **look)


def _cells(frame: ChartFrame, ground: Ground) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Middles of cells that reach beyond the frame [drawing units], their heights [m], and what share of each and its neighbours is sea.

    A cell with an unknown place is unknown.
    """
    cell = LOOK_STEP * CELL
    columns, rows = (math.ceil(size / cell) + 4 for size in (frame.width, frame.height))
    out = 2.0 * cell
    wider = replace(
        frame,
        west_m=frame.west_m - out * frame.metres_per_unit,
        north_m=frame.north_m + out * frame.metres_per_unit,
        width=columns * cell - LOOK_STEP * 0.25,
        height=rows * cell - LOOK_STEP * 0.25,
    )
    looked_m = wider.elevations_m(ground, unit_step=LOOK_STEP)
    by_cell = (rows, CELL, columns, CELL)
    sea = _smooth((np.abs(looked_m) < SEA_WITHIN_M).astype(float).reshape(by_cell).mean(axis=(1, 3)))
    return (np.arange(columns) + 0.5) * cell - out, (np.arange(rows) + 0.5) * cell - out, looked_m.reshape(by_cell).max(axis=(1, 3)), sea


def _smooth(values: np.ndarray) -> np.ndarray:
    """Each value with its neighbours, weighted 1, 2, 1 both ways: a shore of cells becomes a line."""
    wider = np.pad(values, 1, mode="edge")
    down = (wider[:-2] + 2.0 * wider[1:-1] + wider[2:]) / 4.0
    return (down[:, :-2] + 2.0 * down[:, 1:-1] + down[:, 2:]) / 4.0


def _areas(xs: np.ndarray, ys: np.ndarray, values: Any, level: float, *, smallest: float = SMALLEST_AREA, **look: Any) -> str:
    """Draw where values exceed a level, as one path with holes."""
    filled: Any = contour_generator(x=xs, y=ys, z=values, fill_type=FillType.OuterOffset).filled(level, math.inf)
    steps = []
    for points, cuts in zip(*filled, strict=True):
        rings = [points[a:b] for a, b in pairwise(cuts)]
        if Polygon(rings[0]).area < smallest:
            continue
        steps += [_ring(ring) for ring in rings if Polygon(ring).area >= smallest]
    return element("path", d=" ".join(steps), fill_rule="evenodd", **look) if steps else ""


def _ring(points: np.ndarray) -> str:
    return f"M{' L'.join(f'{number(x)},{number(y)}' for x, y in _simple(points)[:-1])} Z"


def _simple(points: np.ndarray) -> np.ndarray:
    return np.asarray(LineString(points).simplify(TOLERANCE).coords)


def _lines(xs: np.ndarray, ys: np.ndarray, values: Any, level: float, **look: Any) -> tuple[list[str], list[np.ndarray]]:
    """Draw the line at a level; return its drawings and its points. Rings too small to be read are left out."""
    lines: Any = contour_generator(x=xs, y=ys, z=values, line_type=LineType.Separate).lines(level)
    kept = [_simple(points) for points in lines if np.ptp(points, axis=0).max() ** 2 > SMALLEST_AREA]
    return [path(points, fill="none", stroke_linejoin="round", **look) for points in kept], kept


def _figures(frame: ChartFrame, room: LabelRoom, worded: list[tuple[float, np.ndarray]]) -> str:
    """Write the height of main contours in feet on their lines, where there is room and no other figure near."""
    drawn, spots = [], np.empty((0, 2))
    for level_ft, points in sorted(worded, key=lambda one: -len(one[1])):
        words = f"{int(level_ft)}"
        half_width = 0.28 * FIGURE_SIZE * len(words) + 1.5
        for x, y in points[:: max(1, len(points) // 12)]:
            box = Box(left=x - half_width, top=y - 6.0, right=x + half_width, bottom=y + 6.0)
            near = len(spots) and np.hypot(*(spots - (x, y)).T).min() < FIGURES_APART
            if near or not box.inside(room.frame) or not room.free(box):
                continue
            room.add(box)
            spots = np.vstack([spots, (x, y)])
            drawn.append(
                text(words, float(x), float(y) + 3.8, size=FIGURE_SIZE, halo=3.0, fill=SOFT, text_anchor="middle", class_="height")
            )
            break
    return group(*drawn, class_="heights")
