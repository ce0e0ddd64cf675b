"""The chart of the lowest altitude at which one part of a beacon is received.

Bands of altitude, the lower the darker, each with its figure.
"""

from __future__ import annotations

from server.navigation import Position
from server.planning.coverage import BeaconCoverage
from server.radio import folded
from server.sheets import cautions, figures
from server.sheets.area_drawing import area, area_words, rose, samples
from server.sheets.chart_frame import ChartFrame
from server.sheets.chart_ground import ground_picture, sheet_of_map
from server.sheets.chart_margin import MAP_HEIGHT, WIDTH, graticule, scale_bar
from server.sheets.coverage_areas import BAND_EDGES_FT, band_areas
from server.sheets.coverage_chart import LEGEND_HEIGHT, station_mark
from server.sheets.label_room import Box, LabelRoom
from server.sheets.svg import HAIR, INK, SLATE, SOFT, element, group, hatch, picture, text
from server.sheets.words import station


def lowest_chart_svg(found: BeaconCoverage) -> str:
    """Draw the chart of the lowest altitude of reception."""
    coverage = found.coverage
    position = coverage.beacon.component_position(coverage.component)
    bands = band_areas(coverage)
    frame = ChartFrame.round_positions(found.projection, [position, *_corners(bands)], width=WIDTH, height=MAP_HEIGHT)
    drawn = group(
        ground_picture(frame, found.ground),
        *(area(frame, shape, name="band", **_look(to_ft)) for _, to_ft, shape in bands),
        graticule(frame),
        rose(frame, coverage.beacon, found.estimated_declination_deg),
        station_mark(frame, coverage, position),
        area_words(frame, [(shape, figures.altitude(to_ft)) for _, to_ft, shape in bands], _room_round(*frame.at(position))),
        scale_bar(frame),
        clip_path="url(#lowest-clip)",
    )
    return picture(
        element("defs", hatch("chart-unknown"), element("clipPath", sheet_of_map(), id="lowest-clip")),
        drawn,
        sheet_of_map(fill="none", stroke=INK, stroke_width=1.5),
        _legend(found),
        width=WIDTH,
        height=MAP_HEIGHT + LEGEND_HEIGHT,
        title=f"From which altitude {station(coverage.beacon, coverage.component)} is received",
        description=f"Bands up to {figures.altitude(bands[-1][1])}." if bands else "Nowhere received at any altitude that is known.",
        name="lowest",
    )


def _room_round(x: float, y: float) -> LabelRoom:
    """The map less the station with its label."""
    room = LabelRoom(frame=Box(left=0.0, top=0.0, right=WIDTH, bottom=MAP_HEIGHT))
    room.take(x, y, half=14.0)
    room.add(Box(left=x + 14.0, top=y - 28.0, right=x + 200.0, bottom=y - 6.0))
    return room


def _look(to_ft: float) -> dict:
    """The lower the darker; every band has an edge."""
    step = BAND_EDGES_FT.index(to_ft) / (len(BAND_EDGES_FT) - 1)
    return {"fill": SLATE, "fill_opacity": f"{0.62 - 0.54 * step:.2f}", "stroke": SLATE, "stroke_width": 1.0}


def _corners(bands) -> list[Position]:
    """The corners of the box round all bands."""
    if not bands:
        return []
    boxes = [shape.bounds for _, _, shape in bands]
    west, south = min(box[0] for box in boxes), min(box[1] for box in boxes)
    east, north = max(box[2] for box in boxes), max(box[3] for box in boxes)
    return [Position(lat_deg=lat, lon_deg=float(folded(lon))) for lat in (south, north) for lon in (west, east)]


def _legend(found: BeaconCoverage) -> str:
    top = MAP_HEIGHT + 14.0
    shown = (2000.0, 4000.0, 6000.0, 10_000.0, 18_000.0)
    items = [(f"up to {figures.altitude(to_ft)}", _look(to_ft)) for to_ft in shown]
    parts, _end = samples([*items, ("ground not loaded", {"fill": "url(#chart-unknown)", "stroke": HAIR})], 16.0, top)
    words = "Figure in an area: the altitude above sea level from which it is received all over it."
    parts.append(text(words, 16.0, top + 46.0, size=12, fill=SOFT))
    if found.region.fictional:
        parts.append(text(cautions.FICTIONAL_NOTICE, WIDTH - 16.0, top + 46.0, size=12.5, font_weight="bold", text_anchor="end"))
    return group(*parts, class_="legend")
