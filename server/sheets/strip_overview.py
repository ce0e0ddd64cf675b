"""The last page of a strip: how its pages lie along the route, and the signs used on them. This page alone is not to scale."""

from __future__ import annotations

from server.sheets.chart import ChartInput
from server.sheets.chart_frame import ChartFrame
from server.sheets.label_room import Box, LabelRoom
from server.sheets.strip_cut import UNIT_MM, StripCut
from server.sheets.strip_margin import symbols_key
from server.sheets.strip_marks import leg_points
from server.sheets.svg import INK, PAPER, SLATE, SOFT, element, group, path, picture, text

ROOM = 26.0
NUMBER_SIZE = 18.0


def overview_drawing(chart: ChartInput, cut: StripCut) -> str:
    """Draw the outlines of all pages with their numbers over the route, and under it the signs."""
    width = cut.paper.map_width_mm / UNIT_MM
    height = (cut.paper.map_height_mm + cut.paper.key_mm) / UNIT_MM
    _, needed = symbols_key(width, 0.0)
    map_height = height - needed - 6.0
    frame = _frame(cut, width, map_height)
    signs, _ = symbols_key(width, map_height + 6.0)
    room = LabelRoom(frame=Box(left=2.0, top=2.0, right=width - 2.0, bottom=map_height - 2.0))
    route = [path(leg_points(frame, leg, 0.0, leg.distance_nm), fill="none", stroke=INK, stroke_width=1.6) for leg in chart.log.legs]
    outlines = [_outline(frame, cut, west_m=part.west_m, north_m=part.north_m) for part in cut.parts]
    numbers = [_number(frame, cut, room, part.number, west_m=part.west_m, north_m=part.north_m) for part in cut.parts]
    ends = [_end(frame, room, point) for point in chart.log.points]
    alt = f"Overview of the {len(cut.parts)} pages of the strip"
    return picture(
        group(*outlines, *route, *ends, *numbers, class_="overview"),
        text("Not to scale.", 2.0, map_height - 4.0, size=12, fill=SOFT),
        signs,
        width=width,
        height=height,
        title=alt,
        description=alt,
        name="strip-overview",
    )


def _frame(cut: StripCut, width: float, height: float) -> ChartFrame:
    """All pages together, with a little room round them."""
    west, north = min(part.west_m for part in cut.parts), max(part.north_m for part in cut.parts)
    east = max(part.west_m for part in cut.parts) + cut.width_m
    south = min(part.north_m for part in cut.parts) - cut.height_m
    metres_per_unit = max((east - west) / (width - 2.0 * ROOM), (north - south) / (height - 2.0 * ROOM))
    return ChartFrame(
        projection=cut.projection,
        west_m=(west + east - metres_per_unit * width) / 2.0,
        north_m=(north + south + metres_per_unit * height) / 2.0,
        metres_per_unit=metres_per_unit,
        width=width,
        height=height,
    )


def _box(frame: ChartFrame, cut: StripCut, *, west_m: float, north_m: float) -> Box:
    left, top = (west_m - frame.west_m) / frame.metres_per_unit, (frame.north_m - north_m) / frame.metres_per_unit
    return Box(left=left, top=top, right=left + cut.width_m / frame.metres_per_unit, bottom=top + cut.height_m / frame.metres_per_unit)


def _outline(frame: ChartFrame, cut: StripCut, *, west_m: float, north_m: float) -> str:
    box = _box(frame, cut, west_m=west_m, north_m=north_m)
    sheet = {"x": box.left, "y": box.top, "width": box.right - box.left, "height": box.bottom - box.top}
    return element("rect", fill="none", stroke=SLATE, stroke_width=1.0, class_="page-outline", **sheet)


def _number(frame: ChartFrame, cut: StripCut, room: LabelRoom, number: int, *, west_m: float, north_m: float) -> str:
    """The page's number in a corner of its outline, where no other number stands."""
    box, half = _box(frame, cut, west_m=west_m, north_m=north_m), 0.34 * NUMBER_SIZE * len(str(number)) + 2.0
    corners = [
        (x, y)
        for y in (box.top + NUMBER_SIZE * 0.7, box.bottom - NUMBER_SIZE * 0.7)
        for x in (box.left + half + 2.0, box.right - half - 2.0, (box.left + box.right) / 2.0)
    ]
    spots = [(Box(left=x - half, top=y - NUMBER_SIZE / 2, right=x + half, bottom=y + NUMBER_SIZE / 2), x, y) for x, y in corners]
    taken, x, y = next((spot for spot in spots if room.free(spot[0])), spots[0])
    room.add(taken)
    back = element("rect", x=taken.left, y=taken.top, width=2.0 * half, height=NUMBER_SIZE, fill=PAPER)
    return back + text(str(number), x, y + NUMBER_SIZE * 0.35, size=NUMBER_SIZE, fill=SLATE, text_anchor="middle", font_weight="bold")


def _end(frame: ChartFrame, room: LabelRoom, point) -> str:
    """A dot at a point of the route, with its ident or name where there is room."""
    x, y = frame.at(point.position)
    room.take(x, y, half=4.0)
    words = (point.ident or point.name)[:16]
    box = room.place(x, y, width=len(words) * 7.4, height=15.0, gap=6.0, must=False)
    dot = element("circle", cx=x, cy=y, r=2.6, fill=INK)
    return dot + (text(words, box.left, box.bottom - 4.0, size=13, halo=3.0) if box is not None and words else "")
