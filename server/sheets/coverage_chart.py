"""The chart of where one beacon is received: areas by pattern, edge and word on shaded ground, on the region's conic projection."""

from __future__ import annotations

from typing import Any

import numpy as np

from server.navigation import Position
from server.planning.coverage import BeaconCoverage
from server.radio import Coverage, ReceptionState, folded
from server.sheets import cautions, figures, symbols
from server.sheets.area_drawing import area, area_word, rose, samples
from server.sheets.chart_frame import ChartFrame
from server.sheets.chart_ground import ground_picture, sheet_of_map
from server.sheets.chart_margin import MAP_HEIGHT, WIDTH, graticule, scale_bar
from server.sheets.coverage_areas import DRAWN, area_of
from server.sheets.svg import BRICK, HAIR, INK, PAPER, SLATE, SOFT, element, group, hatch, line, moved, picture, text
from server.sheets.words import STATE_WORDS, station

LEGEND_HEIGHT = 74.0
_EDGE: dict[ReceptionState, dict[str, Any]] = {
    ReceptionState.RECEIVED: {"stroke": SLATE, "stroke_width": 2.2},
    ReceptionState.MARGINAL: {"stroke": BRICK, "stroke_width": 1.4, "stroke_dasharray": "7 4"},
    ReceptionState.UNKNOWN: {"stroke": SOFT, "stroke_width": 1.2, "stroke_dasharray": "9 4 2 4"},
    ReceptionState.NOT_PROMISED: {"stroke": SOFT, "stroke_width": 1.0, "stroke_dasharray": "2 4"},
}


def _fill(state: ReceptionState) -> str:
    return f"url(#coverage-{state.value.replace(' ', '-')})"


def height_in_words(coverage: Coverage) -> str:
    """Say at which height: "6,500 ft above sea level"."""
    return f"{figures.altitude(coverage.height.feet)} above {'the ground' if coverage.height.above_ground else 'sea level'}"


def coverage_chart_svg(found: BeaconCoverage) -> str:
    """Draw the chart of a coverage."""
    coverage = found.coverage
    position = coverage.beacon.component_position(coverage.component)
    frame = ChartFrame.round_positions(found.projection, [position, *_extent(coverage)], width=WIDTH, height=MAP_HEIGHT)
    areas = {state: area_of(coverage, state) for state in DRAWN}
    drawn = group(
        ground_picture(frame, found.ground),
        *(area(frame, shape, name=state.value, fill=_fill(state), **_EDGE[state]) for state, shape in areas.items()),
        graticule(frame),
        rose(frame, coverage.beacon, found.estimated_declination_deg),
        *(area_word(frame, shape, STATE_WORDS[state]) for state, shape in areas.items()),
        station_mark(frame, coverage, position),
        scale_bar(frame),
        clip_path="url(#coverage-clip)",
    )
    return picture(
        element("defs", *_patterns(), element("clipPath", sheet_of_map(), id="coverage-clip")),
        drawn,
        sheet_of_map(fill="none", stroke=INK, stroke_width=1.5),
        _legend(found),
        width=WIDTH,
        height=MAP_HEIGHT + LEGEND_HEIGHT,
        title=f"Where {station(coverage.beacon, coverage.component)} is received at {height_in_words(coverage)}",
        description=_description(found),
        name="coverage",
    )


def _patterns() -> tuple[str, ...]:
    """Received: close lines; marginal: dots; not known: dashes; not promised: thin wide lines. Not received stays bare."""
    lines = line(0, 0, 0, 7, stroke=SLATE, stroke_width=1.6, stroke_opacity="0.5")
    dots = element("circle", cx=4.0, cy=4.0, r=1.3, fill=BRICK)
    dashes = line(2, 4, 9, 4, stroke=SOFT, stroke_width=1.6)
    thin = line(6, 0, 6, 12, stroke=SOFT, stroke_width=0.8)
    turned = {"width": 7, "height": 7, "patternUnits": "userSpaceOnUse", "patternTransform": "rotate(-45)"}
    return (
        hatch("chart-unknown"),
        element("pattern", lines, id="coverage-received", **turned),
        element("pattern", dots, id="coverage-marginal", width=8, height=8, patternUnits="userSpaceOnUse"),
        element("pattern", dashes, id="coverage-unknown", width=14, height=9, patternUnits="userSpaceOnUse"),
        element("pattern", thin, id="coverage-not-promised", width=12, height=12, patternUnits="userSpaceOnUse"),
    )


def _extent(coverage: Coverage) -> list[Position]:
    """The corners of all that is received or marginal; where nothing is, of what is not known; no place where all is not received."""
    told = coverage.holds(ReceptionState.RECEIVED) | coverage.holds(ReceptionState.MARGINAL)
    rows, columns = np.nonzero(told if told.any() else coverage.holds(ReceptionState.UNKNOWN))
    if not rows.size:
        return []
    return [
        Position(lat_deg=float(coverage.lat_deg[row]), lon_deg=float(folded(coverage.lon_deg[column])))
        for row in (rows.min(), rows.max())
        for column in (columns.min(), columns.max())
    ]


def station_mark(frame: ChartFrame, coverage: Coverage, position: Position) -> str:
    """Draw the station with its ident and frequency."""
    x, y = frame.at(position)
    label = f"{station(coverage.beacon, coverage.component)} {figures.frequency(coverage.beacon)}"
    words = text(label, x + 20.0, y - 12.0, size=15, halo=4.0, font_weight="bold")
    return group(moved((x, y), symbols.beacon_symbol(coverage.beacon.kind)), words, data_ident=coverage.beacon.ident)


def _legend(found: BeaconCoverage) -> str:
    top = MAP_HEIGHT + 14.0
    items = [(STATE_WORDS[state], {"fill": _fill(state)} | _EDGE[state]) for state in DRAWN]
    items.append((STATE_WORDS[ReceptionState.NOT_RECEIVED], {"fill": PAPER, "stroke": SOFT}))
    items.append(("ground not loaded", {"fill": "url(#chart-unknown)", "stroke": HAIR}))
    parts, x = samples(items, 16.0, top)
    parts.append(text(f"At {height_in_words(found.coverage)}", x + 10.0, top + 14.5, size=14, font_weight="bold"))
    words = "Conformal conic projection, WGS 84. Bare: not received, or nothing published."
    parts.append(text(words, 16.0, top + 46.0, size=12, fill=SOFT))
    if found.region.fictional:
        parts.append(text(cautions.FICTIONAL_NOTICE, WIDTH - 16.0, top + 46.0, size=12.5, font_weight="bold", text_anchor="end"))
    return group(*parts, class_="legend")


def _description(found: BeaconCoverage) -> str:
    notice = f"{cautions.FICTIONAL_NOTICE} " if found.region.fictional else ""
    told = ", ".join(STATE_WORDS[state] for state in DRAWN if found.coverage.holds(state).any()) or "nowhere received"
    return f"{notice}Areas at {height_in_words(found.coverage)}: {told}; elsewhere not received, or nothing is published."
