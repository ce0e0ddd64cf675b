"""What is marked on a strip page: the route by reception state, beacons, places, ridges, each with a label where nothing else stands."""

from __future__ import annotations

import math
from itertools import groupby, pairwise

import numpy as np

from server.navigation import PointKind, Position
from server.planning.log import LogLeg
from server.radio.beacon import Beacon
from server.sheets import figures, symbols
from server.sheets.area_drawing import ROSE_KINDS, rose
from server.sheets.chart import FAINT, OFF_WORDS, ChartInput
from server.sheets.chart_frame import ChartFrame
from server.sheets.label_room import Box, LabelRoom
from server.sheets.log_sheet import beacons_used
from server.sheets.ridges import hiding_ridges
from server.sheets.route_marks import changeover_bar, changes_in_flight, leg_line, leg_points
from server.sheets.strip_cut import StripPart
from server.sheets.strip_labels import label_beside, leader, place_box, width_of
from server.sheets.svg import HAIR, INK, MONO, PAPER, element, group, moved, text
from server.sheets.words import morse_marks

LEG_SIZE, NAME_SIZE, BESIDE_SIZE = 14.0, 14.0, 12.5
RING_HALF = 10.0
SHORT_LEG = 70.0

Points = list[tuple[float, float]]


def take_route(frame: ChartFrame, room: LabelRoom, chart: ChartInput) -> None:
    """Mark the route's own line and points, and all symbols, as taken before any label looks for room."""
    for point in chart.log.points:
        if frame.shows(point.position, margin=-20.0):
            room.take(*frame.at(point.position), half=14.0)
    for leg in chart.log.legs:
        for run in _visible_runs(frame, leg, margin=-10.0):
            room.take_line(run, half=5.0)
    for beacon in (beacon for beacon in beacons_used(chart.log) if beacon.kind in ROSE_KINDS):
        if frame.shows(beacon.position, margin=-symbols.ROSE_RADIUS):
            x, y = frame.at(beacon.position)
            turns, radius = np.linspace(0.0, 2.0 * math.pi, 37), symbols.ROSE_RADIUS - RING_HALF
            room.take_line([(x + radius * math.sin(turn), y - radius * math.cos(turn)) for turn in turns], half=RING_HALF)
    ridges = [hiding.ridge.position for hiding in hiding_ridges(chart.log)]
    beside = [field.position for field in chart.airfields if not field.closed] + [checkpoint.position for checkpoint in chart.checkpoints]
    for positions, half in (([beacon.position for beacon in chart.beacons], 13.0), (ridges, 9.0), (beside, 8.0)):
        for position in positions:
            if frame.shows(position):
                room.take(*frame.at(position), half=half)
    for leg in (leg for leg in chart.log.legs if changes_in_flight(leg)):
        for x, y in leg_points(frame, leg, leg.changeover_nm or 0.0, leg.changeover_nm or 0.0, count=1):
            room.take(x, y, half=11.0)


def roses(frame: ChartFrame, chart: ChartInput) -> str:
    """The rose of each beacon of the route that reaches into the map, turned to the station's own alignment."""
    reaching = [beacon for beacon in beacons_used(chart.log) if frame.shows(beacon.position, margin=-symbols.ROSE_RADIUS - 20.0)]
    return group(*(rose(frame, beacon, chart.estimated_declination_deg(beacon)) for beacon in reaching), class_="roses")


def route_lines(frame: ChartFrame, chart: ChartInput) -> str:
    """Every leg that touches the map, by reception state, with its changeover bar."""
    touching = [leg for leg in chart.log.legs if _visible_runs(frame, leg, margin=-15.0)]
    return group(*(leg_line(frame, leg) for leg in touching), *(changeover_bar(frame, leg) for leg in touching), class_="route")


def changeover_words(frame: ChartFrame, room: LabelRoom, chart: ChartInput) -> str:
    """At each bar what is tuned there, and how far along the leg, where there is room."""
    drawn = []
    for leg in (leg for leg in chart.log.legs if changes_in_flight(leg)):
        at = leg_points(frame, leg, leg.changeover_nm or 0.0, leg.changeover_nm or 0.0, count=1)
        next_one = next((part.beacon.ident for part in leg.guidance if part.from_nm >= (leg.changeover_nm or 0.0) - 0.05), "")
        if at and next_one and _inside(frame, at[0], 8.0):
            words = f"{next_one} from {figures.distance_nm(leg.changeover_nm)}"
            drawn.append(label_beside(room, *at[0], words, size=BESIDE_SIZE, must=False, gap=15.0))
    return group(*drawn, class_="changes")


def _inside(frame: ChartFrame, at: tuple[float, float], margin: float) -> bool:
    return margin <= at[0] <= frame.width - margin and margin <= at[1] <= frame.height - margin


def _visible_runs(frame: ChartFrame, leg: LogLeg, *, margin: float) -> list[Points]:
    """The parts of a leg that lie on the map, as points close together."""
    count = max(9, min(600, math.ceil(leg.distance_nm * 8.0)))
    points = leg_points(frame, leg, 0.0, leg.distance_nm, count=count)
    runs = [list(run) for seen, run in groupby(points, key=lambda at: _inside(frame, at, margin)) if seen]
    return [run for run in runs if len(run) > 1]


def leg_labels(frame: ChartFrame, room: LabelRoom, chart: ChartInput, part: StripPart) -> str:
    """Track and distance of each leg along its line, or beside it where the line is too short. A leg of this page always has them."""
    drawn = []
    for leg in chart.log.legs:
        runs = _visible_runs(frame, leg, margin=10.0)
        if not runs:
            continue
        run = max(runs, key=_length)
        ours = part.first_leg <= leg.number <= part.last_leg
        must = ours and (_length(run) >= SHORT_LEG or _length(run) > 0.6 * _length(leg_points(frame, leg, 0.0, leg.distance_nm)))
        magnetic, distance = figures.course(leg.track_magnetic_deg), figures.distance_nm(leg.distance_nm)
        words = f"Leg {leg.number}: {figures.course(leg.track_true_deg)}T · {magnetic}M · {distance}"
        shorter = (words, f"Leg {leg.number}: {magnetic}M · {distance}", f"Leg {leg.number}: {magnetic}M")
        label = next((drawn_along for each in shorter if (drawn_along := _along(room, run, each))), "")
        if not label and must:
            label = _beside_run(room, run, words)
        drawn.append(group(label, class_="leg-label", data_leg=leg.number) if label else "")
    return group(*drawn)


def _beside_run(room: LabelRoom, run: Points, words: str) -> str:
    """A level label as near to a line as there is room."""
    for gap in (18.0, 40.0, 80.0):
        for share in (0.5, 0.3, 0.7, 0.1, 0.9):
            label = label_beside(room, *run[round(share * (len(run) - 1))], words, size=LEG_SIZE - 1.0, must=False, gap=gap, bold=True)
            if label:
                return label
    return label_beside(room, *run[len(run) // 2], words, size=LEG_SIZE - 1.0, must=True, gap=18.0, bold=True)


def _length(points: Points) -> float:
    return sum(math.dist(first, second) for first, second in pairwise(points))


def _along(room: LabelRoom, run: Points, words: str) -> str:
    """A label along a line, never upside down, at the first of its places where nothing stands; nothing where there is none."""
    half = width_of(words, LEG_SIZE, bold=True) / 2.0
    if _length(run) < 2.0 * half + 12.0:
        return ""
    for share in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82):
        index = min(max(round(share * (len(run) - 1)), 1), len(run) - 2) if len(run) > 2 else 0
        (x1, y1), (x2, y2), (x, y) = run[max(index - 1, 0)], run[min(index + 1, len(run) - 1)], run[index]
        turn = math.degrees(math.atan2(y2 - y1, x2 - x1))
        turn = turn - 180.0 if turn > 90.0 else turn + 180.0 if turn <= -90.0 else turn
        for side in (-1.0, 1.0):
            boxes = _boxes_along(x, y, turn, half, rise=side * 17.5)
            if all(room.free(box) for box in boxes):
                for box in boxes:
                    room.add(box)
                baseline = -13.0 if side < 0 else 22.0
                look = {"text_anchor": "middle", "font_weight": "bold", "transform": f"rotate({turn:.2f} {x:.2f} {y:.2f})"}
                return text(words, x, y + baseline, size=LEG_SIZE, halo=3.5, **look)
    return ""


def _boxes_along(x: float, y: float, turn_deg: float, half: float, *, rise: float) -> list[Box]:
    """Small squares that cover a turned label."""
    along, size = math.radians(turn_deg), 6.0
    middle_x, middle_y = x - rise * math.sin(along), y + rise * math.cos(along)
    steps = np.arange(-half, half + size, size)
    places = [(middle_x + step * math.cos(along), middle_y + step * math.sin(along)) for step in steps]
    return [Box(left=px - size, top=py - size, right=px + size, bottom=py + size) for px, py in places]


def beacons(frame: ChartFrame, room: LabelRoom, chart: ChartInput) -> str:
    """Every beacon on the map with its symbol, ident, frequency and Morse; those of the route keep their label whatever the room."""
    used = beacons_used(chart.log)
    shown = [*used, *(beacon for beacon in chart.beacons if beacon not in used)]
    seen = [beacon for beacon in shown if frame.shows(beacon.position)]
    drawn = [_beacon(frame, room, beacon, of_route=beacon in used, off=beacon in chart.off_the_air) for beacon in seen]
    return group(*drawn, class_="beacons")


def _beacon(frame: ChartFrame, room: LabelRoom, beacon: Beacon, *, of_route: bool, off: bool) -> str:
    x, y = frame.at(beacon.position)
    symbol = moved((x, y), symbols.beacon_symbol(beacon.kind))
    size = 16.0 if of_route else 13.0
    first, marks = f"{beacon.ident} {figures.frequency(beacon)}", OFF_WORDS if off else morse_marks(beacon.ident)
    width, height = max(width_of(first, size, bold=of_route), len(marks) * size * 0.49) + 8.0, size * 2.3
    box = place_box(room, x, y, width=width, height=height, gap=symbols.ROSE_RADIUS * 0.75 if of_route else 16.0, must=of_route)
    faint = FAINT if off else None
    if box is None:
        return group(symbol, opacity=faint)
    edge = {"stroke": INK if of_route else HAIR, "stroke_width": 0.9}
    back = element("rect", x=box.left, y=box.top, width=width, height=height, rx=2, fill=PAPER, fill_opacity="0.9", **edge)
    words = text(first, box.left + 4.0, box.top + size, size=size, font_weight="bold" if of_route else None)
    code = text(marks, box.left + 4.0, box.top + size * 2.0, size=size * 0.8, font_family=MONO, font_weight="bold")
    return group(leader(x, y, box), symbol, back, words, code, data_ident=beacon.ident, opacity=faint)


def places(frame: ChartFrame, room: LabelRoom, chart: ChartInput) -> str:
    """The ends and fixes of the route with their names, the ridges that hide a beacon; beside them open airfields and visual points."""
    log, drawn = chart.log, []
    for field in (log.departure, log.destination):
        label = f"{field.ident} {field.name}"
        drawn.append(_named(frame, room, field.position, symbols.airfield_symbol(closed=field.closed), label, must=True))
    for point in log.points:
        if point.kind not in (PointKind.AIRFIELD, PointKind.BEACON):
            label = point.name or point.ident or point.definition
            drawn.append(_named(frame, room, point.position, symbols.fix_symbol(), label, must=True))
    ends = (log.departure.position, log.destination.position)
    fields = [field for field in chart.airfields if not field.closed and field.position not in ends]
    beside = [(field.position, symbols.airfield_symbol(closed=False), f"{field.ident} {field.name}".strip()) for field in fields]
    beside += [(checkpoint.position, symbols.visual_point_symbol(), checkpoint.name) for checkpoint in chart.checkpoints]
    for hiding in hiding_ridges(log):
        drawn.append(_named(frame, room, hiding.ridge.position, symbols.ridge_symbol(), hiding.words, must=True))
    drawn += [_named(frame, room, position, symbol, label, must=False) for position, symbol, label in beside]
    return group(*drawn, class_="places")


def _named(frame: ChartFrame, room: LabelRoom, position: Position, symbol: str, label: str, *, must: bool) -> str:
    if not frame.shows(position, margin=2.0):
        return ""
    x, y = frame.at(position)
    size = NAME_SIZE if must else BESIDE_SIZE
    return moved((x, y), symbol) + label_beside(room, x, y, label, size=size, must=must, gap=11.0, bold=must)
