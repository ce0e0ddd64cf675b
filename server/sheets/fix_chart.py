"""The chart of a region's fixes: where no beacon is received, where one is, and where a fix can be made."""

from __future__ import annotations

from typing import Any

import numpy as np

from server.navigation import Position
from server.planning.coverage import RegionFixes
from server.radio import LEAST_CUT_DEG, folded
from server.sheets import cautions, figures, symbols
from server.sheets.area_drawing import area, area_word, samples
from server.sheets.chart_frame import ChartFrame
from server.sheets.chart_ground import ground_picture, sheet_of_map
from server.sheets.chart_margin import MAP_HEIGHT, WIDTH, graticule, scale_bar
from server.sheets.coverage_areas import FIX_WORDS, area_where, fix_classes
from server.sheets.svg import BRICK, HAIR, INK, SLATE, SOFT, element, group, hatch, line, moved, picture, text
from server.sheets.words import plain_line

LEGEND_HEIGHT = 74.0
_LOOKS: tuple[dict[str, Any], ...] = (
    {"fill": "url(#fix-none)", "stroke": BRICK, "stroke_width": 1.4},
    {"fill": "url(#fix-one)", "stroke": BRICK, "stroke_width": 1.2, "stroke_dasharray": "7 4"},
    {"fill": "url(#fix-two)", "stroke": SLATE, "stroke_width": 1.2, "stroke_dasharray": "3 3"},
    {"fill": "url(#fix-made)", "stroke": SLATE, "stroke_width": 2.0},
)


def fix_chart_svg(found: RegionFixes) -> str:
    """Draw the chart of a region's fixes."""
    cover, classes = found.cover, fix_classes(found.cover)
    corners = [
        Position(lat_deg=float(lat), lon_deg=float(folded(np.array([lon]))[0]))
        for lat in (cover.lat_deg[0], cover.lat_deg[-1])
        for lon in (cover.lon_deg[0], cover.lon_deg[-1])
    ]
    frame = ChartFrame.round_positions(found.projection, corners, width=WIDTH, height=MAP_HEIGHT)
    areas = [area_where(cover.lat_deg, cover.lon_deg, classes == number) for number in range(len(FIX_WORDS))]
    drawn = group(
        ground_picture(frame, found.ground),
        *(area(frame, shape, name=f"fix-{number}", **_LOOKS[number]) for number, shape in enumerate(areas)),
        graticule(frame),
        *(area_word(frame, shape, FIX_WORDS[number]) for number, shape in enumerate(areas)),
        *(_station(frame, beacon) for beacon in found.beacons if frame.shows(beacon.position)),
        scale_bar(frame),
        clip_path="url(#fixes-clip)",
    )
    return picture(
        element("defs", *_patterns(), element("clipPath", sheet_of_map(), id="fixes-clip")),
        drawn,
        sheet_of_map(fill="none", stroke=INK, stroke_width=1.5),
        _legend(found),
        width=WIDTH,
        height=MAP_HEIGHT + LEGEND_HEIGHT,
        title=f"Where beacons make a fix in {plain_line(found.region.name)}",
        description="; ".join(f"{words}: {share} of what can be flown" for words, share in shares_in_words(found)),
        name="fixes",
    )


def shares_in_words(found: RegionFixes) -> tuple[tuple[str, str], ...]:
    """Tell each class with its share of the area where the height is above the ground. Cells count by the cosine of their latitude."""
    classes = fix_classes(found.cover)
    weight = np.broadcast_to(np.cos(np.radians(found.cover.lat_deg))[:, None], classes.shape)
    whole = float(weight[classes >= 0].sum())
    return tuple(
        (words, figures.share(float(weight[classes == number].sum()) / whole) if whole else figures.MISSING)
        for number, words in enumerate(FIX_WORDS)
    )


def _station(frame: ChartFrame, beacon) -> str:
    x, y = frame.at(beacon.position)
    return group(
        moved((x, y), symbols.beacon_symbol(beacon.kind)),
        text(plain_line(beacon.ident), x + 16.0, y - 8.0, size=12.5, halo=3.0, font_weight="bold"),
        data_ident=beacon.ident,
    )


def _patterns() -> tuple[str, ...]:
    """No beacon: crosses; one: dots; two that do not cross: wide lines; a fix: close lines."""
    cross = (line(3, 3, 9, 9, stroke=BRICK, stroke_width=1.1), line(9, 3, 3, 9, stroke=BRICK, stroke_width=1.1))
    square = {"patternUnits": "userSpaceOnUse"}
    turned = {"patternUnits": "userSpaceOnUse", "patternTransform": "rotate(-45)"}
    return (
        hatch("chart-unknown"),
        element("pattern", *cross, id="fix-none", width=22, height=22, **square),
        element("pattern", element("circle", cx=4.0, cy=4.0, r=1.2, fill=BRICK), id="fix-one", width=9, height=9, **square),
        element("pattern", line(0, 0, 0, 13, stroke=SLATE, stroke_width=1.2), id="fix-two", width=13, height=13, **turned),
        element(
            "pattern", line(0, 0, 0, 6, stroke=SLATE, stroke_width=1.4, stroke_opacity="0.5"), id="fix-made", width=6, height=6, **turned
        ),
    )


def _legend(found: RegionFixes) -> str:
    top = MAP_HEIGHT + 14.0
    items = [*zip(FIX_WORDS, _LOOKS, strict=True), ("ground not loaded", {"fill": "url(#chart-unknown)", "stroke": HAIR})]
    parts, x = samples(items, 16.0, top)
    height = found.cover.height
    words = f"At {figures.altitude(height.feet)} above {'the ground' if height.above_ground else 'sea level'}"
    parts.append(text(words, x, top + 14.5, size=14, font_weight="bold"))
    how = f"A fix: two radials {LEAST_CUT_DEG:.0f} degrees or more apart, or radial and DME of one. Bare: ground."
    parts.append(text(how, 16.0, top + 46.0, size=12, fill=SOFT))
    if found.region.fictional:
        parts.append(text(cautions.FICTIONAL_NOTICE, WIDTH - 16.0, top + 46.0, size=12.5, font_weight="bold", text_anchor="end"))
    return group(*parts, class_="legend")
