"""The chart of a route as one SVG: shaded ground, graticule, beacons with their roses, places, and the route by reception state.

Drawn on the region's own conformal conic projection, so that a straight line is very nearly a track. Knows no file and no request.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from server.navigation import Airfield, AlignmentKind, Checkpoint, ConicProjection, PointKind, Position, distance_nm, points_along
from server.planning.log import LogLeg, NavigationLog
from server.radio.beacon import Beacon, BeaconKind
from server.radio.ground import Ground
from server.radio.reception import Cause, ReceptionState, Ridge
from server.sheets import cautions, figures, symbols
from server.sheets.chart_frame import ChartFrame
from server.sheets.label_room import Box, LabelRoom
from server.sheets.log_sheet import beacons_used
from server.sheets.relief import TINT_STOPS_M, relief_png_uri, tint_of_m
from server.sheets.state_marks import state_legend, state_line
from server.sheets.svg import HAIR, INK, MONO, PAPER, SEA, SOFT, element, group, hatch, line, path, picture, text
from server.sheets.words import STATE_WORDS, joined_by_state, morse_marks
from server.units import feet_from_metres, metres_from_nautical_miles

WIDTH, MAP_HEIGHT, LEGEND_HEIGHT = 1200.0, 740.0, 108.0
RELIEF_LIMIT_BYTES = 380_000
RELIEF_STEPS = (1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0)  # drawing units a pixel; the first that keeps to the limit is used
GRATICULE_STEPS_MIN = (5, 10, 15, 30, 60, 120, 300, 600)
ONE_RIDGE_NM = 1.5  # two posts nearer than this are one ridge to a reader
MOST_PLACES = 30  # airfields and visual points beside the route that are drawn, those nearest to it first
LARGEST_CONVERGENCE_DEG = 20.0
LEADER_FROM = 22.0  # drawing units between symbol and label
SCALE_STEPS_NM = (2, 5, 10, 20, 50, 100)
_LEGEND_KINDS = (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC, BeaconKind.TACAN, BeaconKind.DME, BeaconKind.NDB)
_ROSE_KINDS = (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC, BeaconKind.TACAN)


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
        room.take_line(_leg_points(frame, leg, 0.0, leg.distance_nm), half=7.0)
    leg_labels = [_leg_label(frame, room, leg) for leg in log.legs]
    labels, roses = _beacon_labels(frame, room, used, chart), [_rose(frame, beacon, chart) for beacon in used]
    drawn = group(
        _relief(frame, chart.ground),
        _graticule(frame),
        *roses,
        *(_state_lines(frame, leg) for leg in log.legs),
        _places(frame, room, chart),
        *leg_labels,
        _ridges(frame, room, log),
        labels,
        _scale_bar(frame),
        clip_path="url(#chart-clip)",
    )
    return picture(
        element("defs", hatch("chart-unknown"), element("clipPath", _sheet_of_map(), id="chart-clip")),
        drawn,
        _sheet_of_map(fill="none", stroke=INK, stroke_width=1.5),
        _legend(log),
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


def _sheet_of_map(**attributes) -> str:
    return element("rect", width=WIDTH, height=MAP_HEIGHT, **attributes)


def _relief(frame: ChartFrame, ground: Ground) -> str:
    """Hatching everywhere, and over it the ground that is known."""
    for step in RELIEF_STEPS:
        elevations_m = frame.elevations_m(ground, unit_step=step)
        uri = relief_png_uri(elevations_m, pixel_m=step * frame.metres_per_unit)
        if len(uri) <= RELIEF_LIMIT_BYTES:
            break
    rows, columns = elevations_m.shape
    image = element(
        "image", href=uri, width=columns * step, height=rows * step, preserveAspectRatio="none", image_rendering="auto"
    )  # fmt: skip
    hatched = _sheet_of_map(fill="url(#chart-unknown)", class_="unknown-ground") if np.isnan(elevations_m).any() else ""
    return group(hatched, image, class_="relief")


def _graticule(frame: ChartFrame) -> str:
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


def _leg_points(frame: ChartFrame, leg: LogLeg, from_nm: float, to_nm: float) -> list[tuple[float, float]]:
    lat_deg, lon_deg = points_along(leg.start.position, leg.end.position, np.linspace(from_nm, to_nm, 9))
    return frame.along(lat_deg, lon_deg)


def _state_lines(frame: ChartFrame, leg: LogLeg) -> str:
    parts = [
        state_line(_leg_points(frame, leg, part.from_nm, min(part.to_nm, leg.distance_nm)), part.state) for part in _by_state_alone(leg)
    ]
    return group(*parts, class_="leg", data_leg=leg.number)


def _by_state_alone(leg: LogLeg):
    return [part for part in joined_by_state(leg.stretches) if part.length_nm > 0.0]


def _rose(frame: ChartFrame, beacon: Beacon, chart: ChartInput) -> str:
    """A rose turned to the station's own alignment; none where a grid station's angle is not known."""
    alignment = beacon.alignment
    if beacon.kind not in _ROSE_KINDS or (alignment.kind is AlignmentKind.GRID and alignment.declination_deg is None):
        return ""
    if alignment.kind is AlignmentKind.TRUE:
        zero_true_deg, mark = alignment.declination_deg or 0.0, "TRUE"
    elif alignment.kind is AlignmentKind.UNKNOWN or alignment.declination_deg is None:
        zero_true_deg = chart.estimated_declination_deg(beacon)
        mark = f"{figures.variation(zero_true_deg)} est."
    else:
        zero_true_deg, mark = alignment.declination_deg, figures.alignment(alignment)
    rose = symbols.compass_rose(
        zero_on_chart_deg=frame.chart_direction_deg(beacon.position, zero_true_deg),
        zero_true_deg=zero_true_deg,
        ident=beacon.ident,
        mark=mark,
    )
    return _moved(frame.at(beacon.position), rose)


def _moved(at: tuple[float, float], drawing: str) -> str:
    return group(drawing, transform=f"translate({at[0]:.2f} {at[1]:.2f})")


def _beacon_labels(frame: ChartFrame, room: LabelRoom, used: tuple[Beacon, ...], chart: ChartInput) -> str:
    """Every beacon of the frame with its symbol; those of the route keep their label whatever the room."""
    others = [beacon for beacon in chart.beacons if beacon not in used and frame.shows(beacon.position, margin=8.0)]
    for beacon in others:
        room.take(*frame.at(beacon.position), half=14.0)
    parts = [_beacon(frame, room, beacon, of_route=True) for beacon in used]
    return group(*parts, *(_beacon(frame, room, beacon, of_route=False) for beacon in others), class_="beacons")


def _beacon(frame: ChartFrame, room: LabelRoom, beacon: Beacon, *, of_route: bool) -> str:
    x, y = frame.at(beacon.position)
    symbol = _moved((x, y), symbols.beacon_symbol(beacon.kind))
    size = 15.0 if of_route else 11.5
    first, marks = f"{beacon.ident} {figures.frequency(beacon)}", morse_marks(beacon.ident)
    width = max(len(first) * size * (0.68 if of_route else 0.63), len(marks) * size * 0.52) + 8.0
    gap = symbols.ROSE_RADIUS * 0.75 if of_route else 16.0
    box = room.place(x, y, width=width, height=size * 2.35, gap=gap, must=of_route)
    if box is None:
        return symbol
    back = element(
        "rect", x=box.left, y=box.top, width=width, height=size * 2.35, rx=2, fill=PAPER, fill_opacity="0.86",
        stroke=INK if of_route else HAIR, stroke_width=0.8,
    )  # fmt: skip
    words = text(first, box.left + 4.0, box.top + size, size=size, font_weight="bold" if of_route else None)
    code = text(marks, box.left + 4.0, box.top + size * 2.05, size=size * 0.8, font_family=MONO, font_weight="bold")
    return group(symbol, back, words, code, data_ident=beacon.ident)


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
    route = [point for leg in chart.log.legs for point in _leg_points(frame, leg, 0.0, leg.distance_nm)]
    shown = [place for place in places if frame.shows(place[0], margin=4.0)]
    return sorted(shown, key=lambda place: min((math.dist(frame.at(place[0]), point) for point in route), default=0.0))[:MOST_PLACES]


def _place(frame: ChartFrame, room: LabelRoom, position: Position, symbol: str, label: str, *, must: bool, size: float) -> str:
    if not frame.shows(position, margin=4.0):
        return ""
    x, y = frame.at(position)
    box = room.place(x, y, width=min(len(label), 40) * size * (0.58 if must else 0.5), height=size * 1.2, gap=9.0, must=must)
    style = {"font_weight": "bold"} if must else {"font_style": "italic"}
    if box is None:
        return _moved((x, y), symbol)
    words = text(_cut(label), box.left, box.bottom - size * 0.3, size=size, halo=3.0, **style)
    return group(_leader(x, y, box), _moved((x, y), symbol), words)


def _leader(x: float, y: float, box: Box) -> str:
    """A thin line from a symbol to a label that found room only further away."""
    to_x, to_y = min(max(x, box.left), box.right), min(max(y, box.top), box.bottom)
    return line(x, y, to_x, to_y, stroke=INK, stroke_width=0.8) if math.dist((x, y), (to_x, to_y)) > LEADER_FROM else ""


def _cut(label: str) -> str:
    return label if len(label) <= 40 else label[:39] + "…"


def _leg_label(frame: ChartFrame, room: LabelRoom, leg: LogLeg) -> str:
    """Track and distance beside the middle of the leg, along its direction and never upside down."""
    points = _leg_points(frame, leg, 0.0, leg.distance_nm)
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


@dataclass(frozen=True, kw_only=True)
class HidingRidge:
    """A ridge, the first leg on which it hides a guiding beacon, and the beacons it hides."""

    ridge: Ridge
    leg: LogLeg
    idents: tuple[str, ...]

    @property
    def words(self) -> str:
        return f"{figures.altitude(feet_from_metres(self.ridge.elevation_m))} hides {' and '.join(self.idents)}"


def hiding_ridges(log: NavigationLog) -> tuple[HidingRidge, ...]:
    """Return the ridges that hide a guiding beacon, each once, in the order of the legs."""
    found: list[HidingRidge] = []
    for leg in log.legs:
        guiding = [part.beacon for part in leg.guidance]
        for reception in (reception for reception in leg.receptions if reception.beacon in guiding):
            for finding in (finding for stretch in reception.stretches for finding in stretch.findings):
                if finding.cause is Cause.TERRAIN and finding.state is ReceptionState.NOT_RECEIVED and finding.ridge is not None:
                    _add_ridge(found, finding.ridge, leg, reception.beacon.ident)
    return tuple(found)


def _add_ridge(found: list[HidingRidge], ridge: Ridge, leg: LogLeg, ident: str) -> None:
    """Add a ridge, or the beacon it hides to a ridge already found there."""
    for index, known in enumerate(found):
        if distance_nm(ridge.position, known.ridge.position) < ONE_RIDGE_NM:
            found[index] = replace(known, idents=tuple(dict.fromkeys((*known.idents, ident))))
            return
    found.append(HidingRidge(ridge=ridge, leg=leg, idents=(ident,)))


def _ridges(frame: ChartFrame, room: LabelRoom, log: NavigationLog) -> str:
    parts = []
    for hiding in hiding_ridges(log):
        parts.append(_place(frame, room, hiding.ridge.position, symbols.ridge_symbol(), hiding.words, must=True, size=12.0))
    return group(*parts, class_="ridges")


def _scale_bar(frame: ChartFrame) -> str:
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


def _legend(log: NavigationLog) -> str:
    top = MAP_HEIGHT + 24.0
    states, _ = state_legend(16.0, top)
    parts = [states, *_ground_legend(top)]
    places = (
        (symbols.airfield_symbol(closed=False), "airfield"),
        (symbols.visual_point_symbol(), "visual point"),
        (symbols.fix_symbol(), "fix"),
        (symbols.ridge_symbol(), "ground that hides a beacon"),
    )
    x, y = 28.0, top + 40.0
    for symbol, word in (*((symbols.beacon_symbol(kind), kind.value) for kind in _LEGEND_KINDS), *places):
        parts += [_moved((x, y), symbol), text(word, x + 20.0, y + 4.5, size=13)]
        x += 46.0 + 7.4 * len(word) + 8.0
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
