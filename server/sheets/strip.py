"""The chart strip of a route at a true scale: north-up pages, each a drawing with its words, for the sheet that sets them.

Everything is drawn as lines, areas and letters; no page holds a picture. Knows no file and no request.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.sheets import cautions, figures, words
from server.sheets.chart import ChartInput
from server.sheets.chart_frame import ChartFrame
from server.sheets.label_room import Box, LabelRoom
from server.sheets.log_pdf import PaperName
from server.sheets.strip_cut import UNIT_MM, StripCut, StripPaper, StripPart, cut_strip
from server.sheets.strip_ground import CELL, LOOK_STEP, ground_drawing, waves
from server.sheets.strip_margin import graticule, key, neighbour_marks
from server.sheets.strip_marks import beacons, changeover_words, leg_labels, places, roses, route_lines, take_route
from server.sheets.strip_overview import overview_drawing
from server.sheets.svg import INK, SOFT, element, group, hatch, picture

FINGERPRINT_SHOWN = 12


@dataclass(frozen=True, kw_only=True)
class StripPage:
    """One page: the drawing, what its head says of it, and the same for those who hear the page."""

    drawing: str
    about: str
    alt: str


@dataclass(frozen=True, kw_only=True)
class Strip:
    """The whole strip in words and drawings."""

    title: str
    scale_words: str
    """ "1:500,000"."""
    paper: StripPaper
    pages: tuple[StripPage, ...]
    true_scale: str
    """What a millimetre is, and by how much the projection differs from the earth on these pages."""
    ground_words: str
    sources: tuple[str, ...]
    caution: str
    fictional_notice: str


def scale_words(scale: int) -> str:
    """Write a scale as it is spoken of: "1:500,000"."""
    return f"1:{scale:,}"


def route_strip(chart: ChartInput, *, scale: int, paper: PaperName) -> Strip:
    """Draw the strip of a planned route; the last page shows how the pages lie, and the signs.

    Raises
    ------
    InputProblem
        The route needs more pages than a strip may have.
    """
    log = chart.log
    cut = cut_strip(log.legs, chart.projection, scale=scale, paper=paper)
    maps = [_map_page(chart, cut, part) for part in cut.parts]
    overview = StripPage(
        drawing=overview_drawing(chart, cut),
        about="How the pages lie, and the signs",
        alt=f"Overview of the {len(cut.parts)} pages along the route, not to scale, and the signs used",
    )
    model = words.plain_line(log.magnetic_model)
    return Strip(
        title=words.plain_line(log.route.name) or f"{words.plain_line(log.departure.ident)} to {words.plain_line(log.destination.ident)}",
        scale_words=scale_words(scale),
        paper=cut.paper,
        pages=(*maps, overview),
        true_scale=_true_scale(cut),
        ground_words=_ground_words(scale),
        sources=(
            f"Beacon data {words.plain_line(log.beacon_data_date) or 'not dated'}.",
            f"Ground {words.plain_line(log.ground_fingerprint)[:FINGERPRINT_SHOWN] or 'none loaded'}.",
            f"Magnetic tracks: {model}{'' if log.magnetic_model_valid else ', outside its span'}; roses: each station's own zero.",
        ),
        caution=cautions.CAUTION,
        fictional_notice=cautions.FICTIONAL_NOTICE if log.region_fictional else "",
    )


def _ground_words(scale: int) -> str:
    look_m = LOOK_STEP * UNIT_MM * scale / 1000.0
    return (
        f"Contours and tints in feet, from the highest ground of {look_m * CELL:.0f} m cells looked at every {look_m:.0f} m: "
        "a summit between may stand higher. No obstacles, no airspace."
    )


def _true_scale(cut: StripCut) -> str:
    whose = "a conic fitted to this route, since the region's own is not true enough here" if cut.fitted else "the region's conic"
    percent = max(0.01, float(figures.rounded(cut.scale_error * 100.0 + 0.0049, decimals=2)))
    return (
        f"{scale_words(cut.scale)}: 1 mm is {cut.scale / 1000:.0f} m on the plane ({whose}, WGS 84), "
        f"whose own scale differs from the earth's by at most {percent:.2f} % on these pages. "
        "Print at 100 %, not fitted to the page, and check the bar."
    )


def _map_page(chart: ChartInput, cut: StripCut, part: StripPart) -> StripPage:
    legs = f"Leg {part.first_leg}" if part.first_leg == part.last_leg else f"Legs {part.first_leg} to {part.last_leg}"
    about = f"{legs}, {figures.distance(part.from_nm)} to {figures.distance_nm(part.to_nm)}"
    alt = f"Chart page {part.number} of {len(cut.parts)} at {scale_words(cut.scale)}, north up. {about}."
    return StripPage(drawing=strip_page_svg(chart, cut, part, alt=alt), about=about, alt=alt)


def frame_of(cut: StripCut, part: StripPart) -> ChartFrame:
    """The frame of a page: a drawing unit is UNIT_MM on paper, and so exactly that times the scale on the plane."""
    return ChartFrame(
        projection=cut.projection,
        west_m=part.west_m,
        north_m=part.north_m,
        metres_per_unit=UNIT_MM * cut.scale / 1000.0,
        width=cut.paper.map_width_mm / UNIT_MM,
        height=cut.paper.map_height_mm / UNIT_MM,
    )


def strip_page_svg(chart: ChartInput, cut: StripCut, part: StripPart, *, alt: str) -> str:
    """Draw one page: the map, and the key under it. Labels look for room in order of need, and are painted above all lines."""
    frame, name = frame_of(cut, part), f"strip-{part.number}"
    room = LabelRoom(frame=Box(left=3.0, top=3.0, right=frame.width - 3.0, bottom=frame.height - 3.0))
    take_route(frame, room, chart)
    neighbours = neighbour_marks(frame, room, cut, part)
    stations = beacons(frame, room, chart)
    legs = leg_labels(frame, room, chart, part)
    named = places(frame, room, chart)
    changes = changeover_words(frame, room, chart)
    lines = graticule(frame, room, cut.scale)
    unknown, water = f"{name}-unknown", f"{name}-water"
    ground, heights = ground_drawing(frame, chart.ground, room, scale=cut.scale, unknown=unknown, waves=water)
    sheet = {"width": frame.width, "height": frame.height}
    return picture(
        element("defs", hatch(unknown, ink=SOFT), waves(water), element("clipPath", element("rect", **sheet), id=f"{name}-clip")),
        group(
            ground, lines, heights, roses(frame, chart), route_lines(frame, chart), changes, named, stations, legs, neighbours,
            clip_path=f"url(#{name}-clip)",
        ),
        element("rect", x=0.7, y=0.7, width=frame.width - 1.4, height=frame.height - 1.4, fill="none", stroke=INK, stroke_width=1.4),
        key(cut, frame.height, unknown=unknown),
        width=frame.width,
        height=frame.height + cut.paper.key_mm / UNIT_MM,
        title=alt,
        description=alt,
        name=name,
    )  # fmt: skip
