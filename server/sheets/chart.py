"""The chart of a route as one SVG: shaded ground, graticule, beacons with their roses, places, and the route by reception state.

Drawn on the region's own conformal conic projection, so that a straight line is very nearly a track. Knows no file and no request.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from server.navigation import Airfield, Checkpoint, ConicProjection, PointKind, Position
from server.planning.log import LogLeg, NavigationLog
from server.radio.beacon import Beacon
from server.radio.ground import Ground
from server.radio.reception import ReceptionState
from server.sheets import cautions, figures, symbols
from server.sheets.area_drawing import rose
from server.sheets.chart_frame import ChartFrame
from server.sheets.chart_ground import ground_picture, sheet_of_map
from server.sheets.chart_margin import LEGEND_HEIGHT, MAP_HEIGHT, WIDTH, graticule, legend, scale_bar
from server.sheets.label_room import Box, LabelRoom
from server.sheets.log_sheet import beacons_used
from server.sheets.ridges import hiding_ridges
from server.sheets.route_marks import changeover_bar, leg_line, leg_points
from server.sheets.svg import HAIR, INK, MONO, PAPER, element, group, hatch, line, moved, picture, text
from server.sheets.words import STATE_WORDS, joined_by_state, morse_marks

MOST_PLACES = 30  # airfields and visual points beside the route that are drawn, those nearest to it first
LARGEST_CONVERGENCE_DEG = 20.0
LEADER_FROM = 22.0  # drawing units between symbol and label


@dataclass(frozen=True, kw_only=True)
class ChartInput:
    """What a chart shows: the log, and the region round it.

    ``estimated_declination_deg`` gives, for a beacon whose alignment nobody published, what the magnetic model says there. [deg]
    """

    log: NavigationLog
    projection: ConicProjection
    ground: Ground
    beacons: tuple[Beacon, ...] = ()
    airfields: tuple[Airfield, ...] = ()
    checkpoints: tuple[Checkpoint, ...] = ()
    estimated_declination_deg: Callable[[Beacon], float]
    off_the_air: tuple[Beacon, ...] = ()
    """Beacons no part of which can be used on the day: drawn faint, without their Morse."""


def route_chart_svg(chart: ChartInput) -> str:
    """Draw the chart of a planned route."""
    log = chart.log
    used = beacons_used(log)
    shown = [point.position for point in log.points] + [beacon.position for beacon in used]
    frame = ChartFrame.round_positions(_projection(chart.projection, shown), shown, width=WIDTH, height=MAP_HEIGHT)
    room = LabelRoom(frame=Box(left=4.0, top=4.0, right=WIDTH - 4.0, bottom=MAP_HEIGHT - 4.0))
    for x, y in (frame.at(point.position) for point in log.points):
        room.take(x, y, half=15.0)
    for leg in log.legs:
        room.take_line(leg_points(frame, leg, 0.0, leg.distance_nm), half=7.0)
    leg_labels = [_leg_label(frame, room, leg) for leg in log.legs]
    labels, roses = (
        _beacon_labels(frame, room, used, chart),
        [rose(frame, beacon, chart.estimated_declination_deg(beacon)) for beacon in used],
    )
    drawn = group(
        ground_picture(frame, chart.ground),
        graticule(frame),
        *roses,
        *(leg_line(frame, leg) for leg in log.legs),
        *(changeover_bar(frame, leg) for leg in log.legs),
        _places(frame, room, chart),
        *leg_labels,
        _ridges(frame, room, log),
        labels,
        scale_bar(frame),
        clip_path="url(#chart-clip)",
    )
    return picture(
        element("defs", hatch("chart-unknown"), element("clipPath", sheet_of_map(), id="chart-clip")),
        drawn,
        sheet_of_map(fill="none", stroke=INK, stroke_width=1.5),
        legend(log),
        width=WIDTH,
        height=MAP_HEIGHT + LEGEND_HEIGHT,
        title=f"Chart of the route {log.route.name}",
        description=_description(log),
        name="chart",
    )


def _projection(of_region: ConicProjection, shown: list[Position]) -> ConicProjection:
    """The region's own, unless the region is so large that its north would lie far from up here: then one fitted to the route."""
    if abs(of_region.convergence_deg(shown[0])) <= LARGEST_CONVERGENCE_DEG:
        return of_region
    first = shown[0].lon_deg
    east_of_first = [(place.lon_deg - first + 180.0) % 360.0 - 180.0 for place in shown]
    lats = [place.lat_deg for place in shown]
    west, east = first + min(east_of_first), first + max(east_of_first)
    return ConicProjection.for_bounds(south=min(lats), north=max(lats), west=west, east=east)


def _description(log: NavigationLog) -> str:
    points = ", ".join(point.ident or point.name for point in log.points)
    states = []
    for leg in log.legs:
        lost = [part for part in joined_by_state(leg.stretches) if part.state is not ReceptionState.RECEIVED]
        told = [f"{STATE_WORDS[part.state]} from {figures.distance(part.from_nm)} to {figures.distance_nm(part.to_nm)}" for part in lost]
        states.append(f"Leg {leg.number}: {', '.join(told) if told else 'received all along'}.")
    notice = f"{cautions.FICTIONAL_NOTICE} " if log.region_fictional else ""
    return f"{notice}Route {points}, {figures.distance_nm(log.total_distance_nm)}. {' '.join(states)}"


def _beacon_labels(frame: ChartFrame, room: LabelRoom, used: tuple[Beacon, ...], chart: ChartInput) -> str:
    """Every beacon of the frame with its symbol; those of the route keep their label whatever the room."""
    others = [beacon for beacon in chart.beacons if beacon not in used and frame.shows(beacon.position, margin=8.0)]
    for beacon in others:
        room.take(*frame.at(beacon.position), half=14.0)
    drawn = [_beacon(frame, room, each, of_route=each in used, off=each in chart.off_the_air) for each in (*used, *others)]
    return group(*drawn, class_="beacons")


OFF_WORDS = "off the air"
FAINT = "0.45"


def _beacon(frame: ChartFrame, room: LabelRoom, beacon: Beacon, *, of_route: bool, off: bool) -> str:
    x, y = frame.at(beacon.position)
    symbol = moved((x, y), symbols.beacon_symbol(beacon.kind))
    size = 15.0 if of_route else 11.5
    first, marks = f"{beacon.ident} {figures.frequency(beacon)}", OFF_WORDS if off else morse_marks(beacon.ident)
    width = max(len(first) * size * (0.68 if of_route else 0.63), len(marks) * size * 0.52) + 8.0
    gap = symbols.ROSE_RADIUS * 0.75 if of_route else 16.0
    box = room.place(x, y, width=width, height=size * 2.35, gap=gap, must=of_route)
    faint = FAINT if off else None
    if box is None:
        return group(symbol, opacity=faint)
    back = element(
        "rect", x=box.left, y=box.top, width=width, height=size * 2.35, rx=2, fill=PAPER, fill_opacity="0.86",
        stroke=INK if of_route else HAIR, stroke_width=0.8,
    )  # fmt: skip
    words = text(first, box.left + 4.0, box.top + size, size=size, font_weight="bold" if of_route else None)
    code = text(marks, box.left + 4.0, box.top + size * 2.05, size=size * 0.8, font_family=MONO, font_weight="bold")
    return group(symbol, back, words, code, data_ident=beacon.ident, opacity=faint)


def _places(frame: ChartFrame, room: LabelRoom, chart: ChartInput) -> str:
    """The two ends and the fixes of the route with their names; beside it open airfields and visual points, names where there is room."""
    parts = []
    for field in (chart.log.departure, chart.log.destination):
        symbol, label = symbols.airfield_symbol(closed=field.closed), f"{field.ident} {field.name}"
        parts.append(_place(frame, room, field.position, symbol, label, must=True, size=13.5))
    for point in chart.log.points:
        if point.kind not in (PointKind.AIRFIELD, PointKind.BEACON):
            label = point.name or point.ident or point.definition
            parts.append(_place(frame, room, point.position, symbols.fix_symbol(), label, must=True, size=13.5))
    beside = _places_beside(frame, chart)
    for position, _, _ in beside:
        room.take(*frame.at(position), half=7.0)
    parts += [_place(frame, room, position, symbol, label, must=False, size=11.5) for position, symbol, label in beside]
    return group(*parts, class_="places")


def _places_beside(frame: ChartFrame, chart: ChartInput) -> list[tuple[Position, str, str]]:
    ends = (chart.log.departure.position, chart.log.destination.position)
    fields = [field for field in chart.airfields if not field.closed and field.position not in ends]
    places = [(field.position, symbols.airfield_symbol(closed=False), field.ident or field.name) for field in fields]
    places += [(checkpoint.position, symbols.visual_point_symbol(), checkpoint.name) for checkpoint in chart.checkpoints]
    route = [point for leg in chart.log.legs for point in leg_points(frame, leg, 0.0, leg.distance_nm)]
    shown = [place for place in places if frame.shows(place[0], margin=4.0)]
    return sorted(shown, key=lambda place: min((math.dist(frame.at(place[0]), point) for point in route), default=0.0))[:MOST_PLACES]


def _place(frame: ChartFrame, room: LabelRoom, position: Position, symbol: str, label: str, *, must: bool, size: float) -> str:
    if not frame.shows(position, margin=4.0):
        return ""
    x, y = frame.at(position)
    box = room.place(x, y, width=min(len(label), 40) * size * (0.58 if must else 0.5), height=size * 1.2, gap=9.0, must=must)
    style = {"font_weight": "bold"} if must else {"font_style": "italic"}
    if box is None:
        return moved((x, y), symbol)
    words = text(_cut(label), box.left, box.bottom - size * 0.3, size=size, halo=3.0, **style)
    return group(_leader(x, y, box), moved((x, y), symbol), words)


def _leader(x: float, y: float, box: Box) -> str:
    """A thin line from a symbol to a label that found room only further away."""
    to_x, to_y = min(max(x, box.left), box.right), min(max(y, box.top), box.bottom)
    return line(x, y, to_x, to_y, stroke=INK, stroke_width=0.8) if math.dist((x, y), (to_x, to_y)) > LEADER_FROM else ""


def _cut(label: str) -> str:
    return label if len(label) <= 40 else label[:39] + "…"


def _leg_label(frame: ChartFrame, room: LabelRoom, leg: LogLeg) -> str:
    """Track and distance beside the middle of the leg, along its direction and never upside down."""
    points = leg_points(frame, leg, 0.0, leg.distance_nm)
    if len(points) < 9 or math.dist(points[0], points[-1]) < 1.0:
        return ""
    (x1, y1), (x2, y2), (x, y) = points[3], points[5], points[4]
    turn = math.degrees(math.atan2(y2 - y1, x2 - x1))
    turn = turn - 180.0 if turn > 90.0 else turn + 180.0 if turn < -90.0 else turn
    tracks = f"{figures.course(leg.track_true_deg)}T · {figures.course(leg.track_magnetic_deg)}M"
    words = f"Leg {leg.number}: {tracks} · {figures.distance_nm(leg.distance_nm)}"
    along, up = math.radians(turn), math.radians(turn - 90.0)
    reach, rise = len(words) * 13.5 * 0.29, 17.0
    middle_x, middle_y = x + math.cos(up) * rise, y + math.sin(up) * rise
    ends = [(middle_x + side * reach * math.cos(along), middle_y + side * reach * math.sin(along)) for side in (-1, 1)]
    room.take_line(ends, half=8.0)
    upright = f"rotate({turn:.2f} {x:.2f} {y:.2f})"
    return text(words, x, y - 13.0, size=13.5, halo=3.0, text_anchor="middle", font_weight="bold", transform=upright)


def _ridges(frame: ChartFrame, room: LabelRoom, log: NavigationLog) -> str:
    parts = []
    for hiding in hiding_ridges(log):
        parts.append(_place(frame, room, hiding.ridge.position, symbols.ridge_symbol(), hiding.words, must=True, size=12.0))
    return group(*parts, class_="ridges")
