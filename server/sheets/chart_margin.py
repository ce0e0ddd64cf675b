"""What makes a drawing a chart: graticule, scale bar and legend."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from server.planning.log import NavigationLog
from server.radio.beacon import BeaconKind
from server.sheets import cautions, symbols
from server.sheets.chart_frame import ChartFrame
from server.sheets.relief import TINT_STOPS_M, tint_of_m
from server.sheets.state_marks import state_legend
from server.sheets.svg import HAIR, INK, PAPER, SEA, SOFT, element, group, line, moved, path, text
from server.units import feet_from_metres, metres_from_nautical_miles

WIDTH, MAP_HEIGHT, LEGEND_HEIGHT = 1200.0, 740.0, 108.0
GRATICULE_STEPS_MIN = (5, 10, 15, 30, 60, 120, 300, 600)
SCALE_STEPS_NM = (2, 5, 10, 20, 50, 100)
_LEGEND_KINDS = (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC, BeaconKind.TACAN, BeaconKind.DME, BeaconKind.NDB)


def graticule(frame: ChartFrame) -> str:
    south, north, west, east = frame.bounds_deg()
    step_min = next((step for step in GRATICULE_STEPS_MIN if (north - south) * 60.0 / step <= 5.0), GRATICULE_STEPS_MIN[-1])
    parts = []
    for minutes in range(math.ceil(south * 60.0 / step_min) * step_min, math.floor(north * 60.0) + 1, step_min):
        run = np.linspace(west, east, 41)
        points = frame.along(np.full_like(run, minutes / 60.0), run)
        parts += _graticule_line(points, _whole_minutes(minutes, "NS"), at_left=True)
    for minutes in range(math.ceil(west * 60.0 / step_min) * step_min, math.floor(east * 60.0) + 1, step_min):
        run = np.linspace(south, north, 21)
        folded = (minutes + 10800) % 21600 - 10800
        points = frame.along(run, np.full_like(run, minutes / 60.0))
        parts += _graticule_line(points, _whole_minutes(folded, "EW"), at_left=False)
    return group(*parts, class_="graticule")


def _graticule_line(points: list[tuple[float, float]], words: str, *, at_left: bool) -> list[str]:
    """A line, with its figures where it meets the left or the lower edge of the map."""
    drawn = [path(points, fill="none", stroke=SOFT, stroke_width=0.6, stroke_opacity="0.55")]
    axis, edge = (0, 0.0) if at_left else (1, MAP_HEIGHT)
    for first, second in pairwise(points):
        if min(first[axis], second[axis]) <= edge < max(first[axis], second[axis]):
            share = (edge - first[axis]) / (second[axis] - first[axis])
            x, y = (first[k] + share * (second[k] - first[k]) for k in (0, 1))
            drawn.append(text(words, x + 5.0, y - 4.0, size=11, halo=3.0, fill=SOFT))
    return drawn


def _whole_minutes(minutes: int, letters: str) -> str:
    degrees, rest = divmod(abs(minutes), 60)
    letter = letters[0] if minutes >= 0 else letters[1]
    return f"{degrees}°{rest:02d}'{letter}" if rest else f"{degrees}°{letter}"


def scale_bar(frame: ChartFrame) -> str:
    units_per_nm = metres_from_nautical_miles(1.0) / frame.metres_per_unit
    length_nm = next((step for step in reversed(SCALE_STEPS_NM) if step * units_per_nm <= WIDTH / 4.0), SCALE_STEPS_NM[0])
    length, x, y = length_nm * units_per_nm, WIDTH - 30.0, MAP_HEIGHT - 24.0
    parts = [element("rect", x=x - length - 14.0, y=y - 26.0, width=length + 28.0, height=40.0, fill=PAPER, fill_opacity="0.86")]
    parts += [line(x - length, y, x, y, stroke=INK, stroke_width=2.5)]
    parts += [line(x - length * share, y - 5.0, x - length * share, y + 5.0, stroke=INK, stroke_width=1.5) for share in (0.0, 0.5, 1.0)]
    parts += [
        text("0", x - length, y - 9.0, size=12, text_anchor="middle"),
        text(f"{length_nm} NM", x, y - 9.0, size=12, text_anchor="end"),
    ]
    return group(*parts, class_="scale-bar", data_length_nm=length_nm)


_LEGEND_KINDS = (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC, BeaconKind.TACAN, BeaconKind.DME, BeaconKind.NDB)


def legend(log: NavigationLog) -> str:
    top = MAP_HEIGHT + 24.0
    states, _ = state_legend(16.0, top)
    parts = [states, *_ground_legend(top)]
    places = (
        (symbols.airfield_symbol(closed=False), "airfield"),
        (symbols.visual_point_symbol(), "visual point"),
        (symbols.fix_symbol(), "fix"),
        (symbols.ridge_symbol(), "ground that hides a beacon"),
        (symbols.changeover_symbol(0.0), "change over"),
    )
    x, y = 28.0, top + 40.0
    for symbol, word in (*((symbols.beacon_symbol(kind), kind.value) for kind in _LEGEND_KINDS), *places):
        parts += [moved((x, y), symbol), text(word, x + 20.0, y + 4.5, size=13)]
        x += 42.0 + sum(9.0 if letter.isupper() else 6.4 for letter in word)
    words = "Conformal conic projection, WGS 84. The zero of each rose is the station's own zero radial."
    parts.append(text(words, 16.0, top + 74.0, size=12, fill=SOFT))
    if log.region_fictional:
        parts.append(text(cautions.FICTIONAL_NOTICE, WIDTH - 16.0, top + 74.0, size=12.5, font_weight="bold", text_anchor="end"))
    return group(*parts, class_="legend")


def _ground_legend(y: float) -> list[str]:
    """Paper tints with their elevations, the sea, and what is not known."""
    x = WIDTH - 460.0
    parts = [element("rect", x=x, y=y - 8.0, width=30.0, height=16.0, fill=SEA, stroke=HAIR), text("sea", x + 35.0, y + 4.5, size=12)]
    x += 66.0
    for elevation_m in TINT_STOPS_M[1:]:
        colour = "#" + "".join(f"{band:02x}" for band in tint_of_m(elevation_m))
        parts.append(element("rect", x=x, y=y - 8.0, width=24.0, height=16.0, fill=colour, stroke=HAIR))
        parts.append(text(f"{round(feet_from_metres(elevation_m) / 1000.0):d}", x + 12.0, y + 20.0, size=11, text_anchor="middle"))
        x += 24.0
    parts.append(text("thousand ft", x + 6.0, y + 20.0, size=11))
    parts.append(element("rect", x=x + 90.0, y=y - 8.0, width=30.0, height=16.0, fill="url(#chart-unknown)", stroke=HAIR))
    return [*parts, text("ground not known", x + 126.0, y + 4.5, size=12)]
