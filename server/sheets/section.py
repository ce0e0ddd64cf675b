"""The section along a route as one SVG: the ground under it, the planned altitude, where each beacon is heard, and the ridge that hides it.

Ground is sampled along each leg's geodesic; where it is not known it is hatched, never drawn at a height. Knows no file and no request.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from server.navigation import distance_and_offset_from_leg, points_along
from server.planning.log import BeaconReception, NavigationLog
from server.radio.ground import Ground
from server.radio.reception import Stretch
from server.sheets import cautions, figures, symbols
from server.sheets.label_room import Box, LabelRoom
from server.sheets.ridges import hiding_ridges
from server.sheets.state_marks import state_legend, state_line
from server.sheets.svg import BRICK, GROUND, HAIR, INK, PAPER, SLATE, SOFT, element, group, hatch, line, path, picture, text
from server.sheets.words import STATE_WORDS, joined_by_state, station
from server.units import feet_from_metres

WIDTH, PLOT_LEFT, PLOT_RIGHT, PLOT_TOP, PLOT_HEIGHT = 1200.0, 76.0, 1180.0, 46.0, 380.0
STRIP_HEIGHT, LEGEND_HEIGHT = 26.0, 74.0
SAMPLE_NM = 0.04  # about 75 m: one 3-second post or less
HEADROOM = 1.22
HIGHEST_OVER_PLAN = 1.8  # a lowest-altitude line may leave the drawing above this multiple of the highest planned altitude
ALTITUDE_STEPS_FT = (500, 1000, 2000, 5000, 10000)
DISTANCE_STEPS_NM = (1, 2, 5, 10, 20, 50, 100, 200)
NEAR_TRACK_NM = 0.3  # a ridge nearer to the track than this is called on it
_CURVE_DASHES = ("7 3", "2 3", "10 3 2 3", "4 6")


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionCurve:
    """The lowest altitude at which a beacon's antenna is in sight, along the route. Arrays (n,): [NM] from departure, [ft], NaN unknown."""

    beacon_ident: str
    distance_nm: np.ndarray
    lowest_altitude_ft: np.ndarray


@dataclass(frozen=True, kw_only=True)
class _Axes:
    """Turns a distance from departure [NM] and an altitude [ft] into drawing units."""

    total_nm: float
    bottom_ft: float
    top_ft: float

    @property
    def bottom(self) -> float:
        return PLOT_TOP + PLOT_HEIGHT

    def x(self, distance_nm: float) -> float:
        return PLOT_LEFT + (PLOT_RIGHT - PLOT_LEFT) * distance_nm / self.total_nm

    def y(self, altitude_ft: float) -> float:
        return self.bottom - PLOT_HEIGHT * (altitude_ft - self.bottom_ft) / (self.top_ft - self.bottom_ft)

    def told(self) -> dict[str, str]:
        """What a browser needs to tell the place and the altitude under its pointer, in drawing units, NM and feet."""
        plot = {"left": PLOT_LEFT, "right": PLOT_RIGHT, "top": PLOT_TOP, "bottom": self.bottom}
        values = {**plot, "total_nm": self.total_nm, "bottom_ft": self.bottom_ft, "top_ft": self.top_ft}
        return {f"data_{name}": repr(float(value)) for name, value in values.items()}


def route_section_svg(log: NavigationLog, ground: Ground, *, curves: Sequence[SectionCurve] = ()) -> str:
    """Draw the section along a planned route."""
    along_nm, ground_ft = _ground_along(log, ground)
    axes = _axes(log, ground_ft)
    strips = _strips(log, axes)
    height = axes.bottom + 40.0 + STRIP_HEIGHT * len(strips) + LEGEND_HEIGHT
    room = LabelRoom(frame=Box(left=PLOT_LEFT + 4.0, top=PLOT_TOP + 2.0, right=PLOT_RIGHT - 4.0, bottom=axes.bottom - 4.0))
    room.take_line([(axes.x(point.distance_nm), axes.y(point.altitude_ft)) for point in log.true_profile], half=5.0)
    plan, ridges = _plan(log, axes, room), _ridges(log, axes, room)
    drawn = group(
        _unknown_ground(axes, along_nm, ground_ft),
        _ground_shape(axes, along_nm, ground_ft),
        *_curves(axes, curves, room),
        plan,
    )
    plot = {"x": PLOT_LEFT, "y": PLOT_TOP, "width": PLOT_RIGHT - PLOT_LEFT, "height": PLOT_HEIGHT}
    return picture(
        element("defs", hatch("section-unknown"), element("clipPath", element("rect", **plot), id="section-clip")),
        *_altitude_axis(axes),
        group(drawn, clip_path="url(#section-clip)"),
        element("rect", **plot, fill="none", stroke=INK, stroke_width=1.2),
        *_distance_axis(axes),
        *_leg_ends(log, axes),
        *_unknown_labels(axes, along_nm, ground_ft),
        ridges,
        *strips,
        _legend(log, height),
        width=WIDTH,
        height=height,
        title=f"Section along the route {log.route.name}",
        description=_description(log, ground_ft),
        name="section",
        **axes.told(),
    )


def _ground_along(log: NavigationLog, ground: Ground) -> tuple[np.ndarray, np.ndarray]:
    """Sample the ground along every leg: distances from departure [NM] and elevations [ft], NaN where not known."""
    distances, elevations = [np.empty(0)], [np.empty(0)]
    for leg in log.legs:
        on_leg_nm = np.linspace(0.0, leg.distance_nm, max(2, math.ceil(leg.distance_nm / SAMPLE_NM) + 1))
        lat_deg, lon_deg = points_along(leg.start.position, leg.end.position, on_leg_nm)
        distances.append(leg.start_nm + on_leg_nm)
        elevations.append(feet_from_metres(ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)))
    return np.concatenate(distances), np.concatenate(elevations)


def _axes(log: NavigationLog, ground_ft: np.ndarray) -> _Axes:
    planned_ft = [point.altitude_ft for point in log.true_profile] + [leg.altitude_ft for leg in log.legs]
    ridges_ft = [feet_from_metres(hiding.ridge.elevation_m) for hiding in hiding_ridges(log)]
    known_ft = ground_ft[np.isfinite(ground_ft)]
    highest_ft = max([1000.0, *planned_ft, *ridges_ft, *known_ft])
    lowest_ft = min([0.0, *planned_ft, *known_ft])
    return _Axes(total_nm=max(log.total_distance_nm, 0.1), bottom_ft=lowest_ft, top_ft=lowest_ft + (highest_ft - lowest_ft) * HEADROOM)


def _ground_shape(axes: _Axes, along_nm: np.ndarray, ground_ft: np.ndarray) -> str:
    """One filled shape for each run of known ground, a point a drawing unit, each the highest sample there."""
    shapes = []
    for first, last in _runs(np.isfinite(ground_ft)):
        xs = [axes.x(at) for at in along_nm[first:last]]
        tops: dict[int, tuple[float, float]] = {}
        for x, feet in zip(xs, ground_ft[first:last], strict=True):
            column = round(x)
            if column not in tops or feet > tops[column][1]:
                tops[column] = (x, float(feet))
        surface = [(x, axes.y(feet)) for x, feet in tops.values()]
        outline = [(xs[0], axes.bottom), (xs[0], surface[0][1]), *surface, (xs[-1], surface[-1][1]), (xs[-1], axes.bottom)]
        shapes.append(path(outline, closed=True, fill=GROUND, stroke="none"))
        shapes.append(path(surface, fill="none", stroke=INK, stroke_width=1.3, stroke_linejoin="round"))
    return group(*shapes, class_="ground")


def _runs(flags: np.ndarray) -> list[tuple[int, int]]:
    """Return first and past-the-last index of every run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _unknown_ground(axes: _Axes, along_nm: np.ndarray, ground_ft: np.ndarray) -> str:
    parts = []
    for first, last in _runs(~np.isfinite(ground_ft)):
        left, right = axes.x(along_nm[first]), axes.x(along_nm[last - 1])
        box = {"x": left, "y": PLOT_TOP, "width": max(right - left, 2.0), "height": PLOT_HEIGHT}
        parts.append(element("rect", **box, fill="url(#section-unknown)", class_="unknown-ground"))
    return group(*parts)


def _unknown_labels(axes: _Axes, along_nm: np.ndarray, ground_ft: np.ndarray) -> list[str]:
    ends = [min(axes.x(along_nm[last - 1]), PLOT_RIGHT) - 6.0 for _, last in _runs(~np.isfinite(ground_ft))]
    return [text("ground not known", max(x, PLOT_LEFT + 120.0), PLOT_TOP + 20.0, size=12.5, halo=3.0, text_anchor="end") for x in ends]


def _label(room: LabelRoom, words: str, x: float, y: float, *, size: float, **attributes) -> str:
    """Write words beside a point, where there is room."""
    width = len(words) * size * 0.58
    box = room.place(x, y, width=width, height=size * 1.2, gap=10.0, must=True)
    middle = (box.left + box.right) / 2.0 if box is not None else x
    return text(words, middle, box.bottom - size * 0.25 if box is not None else y, size=size, halo=3.0, text_anchor="middle", **attributes)


def _curves(axes: _Axes, curves: Sequence[SectionCurve], room: LabelRoom) -> list[str]:
    parts = []
    idents = list(dict.fromkeys(curve.beacon_ident for curve in curves))
    for curve in curves:
        shown = np.isfinite(curve.lowest_altitude_ft) & (curve.lowest_altitude_ft < axes.top_ft * HIGHEST_OVER_PLAN)
        for first, last in _runs(shown):
            points = _thinned(
                [
                    (axes.x(at), axes.y(ft))
                    for at, ft in zip(curve.distance_nm[first:last], curve.lowest_altitude_ft[first:last], strict=True)
                ]
            )
            dashes = _CURVE_DASHES[idents.index(curve.beacon_ident) % len(_CURVE_DASHES)]
            parts.append(path(points, fill="none", stroke=SLATE, stroke_width=1.7, stroke_dasharray=dashes, class_="lowest-altitude"))
            words = f"{curve.beacon_ident} in sight from this line up"
            box = room.place_along(points, width=len(words) * 6.9, height=14.0, gap=5.0)
            if box is not None:
                parts.append(
                    text(words, (box.left + box.right) / 2.0, box.bottom - 3.0, size=12, halo=3.0, fill=SLATE, text_anchor="middle")
                )
    return parts


def _thinned(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Leave out points that lie on the line between their neighbours for the eye: less than a drawing unit on, and as little up or down."""
    kept = points[:1]
    for before, point in pairwise(points[1:]):
        if before[0] - kept[-1][0] >= 1.0 or abs(before[1] - kept[-1][1]) >= 1.0 or abs(point[1] - before[1]) >= 1.0:
            kept.append(before)
    return kept + points[-1:] if len(points) > 1 else kept


def _plan(log: NavigationLog, axes: _Axes, room: LabelRoom) -> str:
    if not log.true_profile:
        return ""
    points = [(axes.x(point.distance_nm), axes.y(point.altitude_ft)) for point in log.true_profile]
    highest = max(log.true_profile, key=lambda point: point.altitude_ft)
    words = f"planned, {figures.altitude(highest.altitude_ft)}"
    label = _label(room, words, axes.x(highest.distance_nm) + 70.0, axes.y(highest.altitude_ft), size=13.5, font_weight="bold")
    casing = path(points, fill="none", stroke=PAPER, stroke_width=5.0)
    return group(casing, path(points, fill="none", stroke=INK, stroke_width=2.4, class_="planned"), label)


def _altitude_axis(axes: _Axes) -> list[str]:
    step = next((step for step in ALTITUDE_STEPS_FT if (axes.top_ft - axes.bottom_ft) / step <= 9), ALTITUDE_STEPS_FT[-1])
    parts = [text("ft", PLOT_LEFT - 10.0, PLOT_TOP - 8.0, size=12, text_anchor="end")]
    for feet in range(math.ceil(axes.bottom_ft / step) * step, math.floor(axes.top_ft) + 1, step):
        y = axes.y(feet)
        parts.append(line(PLOT_LEFT, y, PLOT_RIGHT, y, stroke=HAIR, stroke_width=0.6))
        parts.append(text(f"{feet:,}", PLOT_LEFT - 8.0, y + 4.5, size=12.5, text_anchor="end"))
    return parts


def _distance_axis(axes: _Axes) -> list[str]:
    step = next((step for step in DISTANCE_STEPS_NM if axes.total_nm / step <= 14), DISTANCE_STEPS_NM[-1])
    parts = [text("NM", PLOT_LEFT - 8.0, axes.bottom + 18.0, size=12, text_anchor="end")]
    for at_nm in range(0, math.floor(axes.total_nm) + 1, step):
        x = axes.x(at_nm)
        parts.append(line(x, axes.bottom, x, axes.bottom + 5.0, stroke=INK, stroke_width=1.0))
        parts.append(text(str(at_nm), x, axes.bottom + 18.0, size=12.5, text_anchor="middle"))
    return parts


def _leg_ends(log: NavigationLog, axes: _Axes) -> list[str]:
    parts = []
    for index, point in enumerate(log.points):
        at_nm = log.legs[index].start_nm if index < len(log.legs) else log.total_distance_nm
        x = axes.x(at_nm)
        anchor = "start" if index == 0 else "end" if index == len(log.points) - 1 else "middle"
        parts.append(line(x, PLOT_TOP - 6.0, x, axes.bottom, stroke=SOFT, stroke_width=0.9, stroke_dasharray="2 4"))
        words = (point.ident or point.name)[:18]
        parts.append(text(words, x, PLOT_TOP - 26.0, size=14, font_weight="bold", text_anchor=anchor))
        parts.append(text(figures.distance_nm(at_nm), x, PLOT_TOP - 11.0, size=12, text_anchor=anchor, fill=SOFT))
    return parts


def _ridges(log: NavigationLog, axes: _Axes, room: LabelRoom) -> str:
    """Every hiding ridge at its distance along the leg it hides a beacon on, at its own height; one beside the track says how far."""
    parts = []
    for hiding in hiding_ridges(log):
        leg, ridge = hiding.leg, hiding.ridge
        beside = distance_and_offset_from_leg(leg.start.position, leg.end.position, ridge.position)
        if not -1.0 <= beside.along_nm <= leg.distance_nm + 1.0:
            continue
        x, y = axes.x(leg.start_nm + min(max(beside.along_nm, 0.0), leg.distance_nm)), axes.y(feet_from_metres(ridge.elevation_m))
        side = "right" if beside.off_nm > 0.0 else "left"
        where = f", {figures.distance_nm(abs(beside.off_nm))} {side} of track" if abs(beside.off_nm) > NEAR_TRACK_NM else ""
        words = f"ground of {hiding.words}{where}"
        room.take(x, y, half=9.0)
        parts.append(group(symbols.ridge_symbol(), transform=f"translate({x:.2f} {y - 5.0:.2f})"))
        parts.append(_label(room, words, x, y, size=13, fill=BRICK, font_weight="bold"))
    return group(*parts, class_="ridges")


def _strips(log: NavigationLog, axes: _Axes) -> list[str]:
    """One strip a guiding beacon: where along the route it is received, in pattern, colour and word."""
    guiding = list(dict.fromkeys((part.beacon, part.component) for leg in log.legs for part in leg.guidance))
    strips = []
    for row, (beacon, component) in enumerate(guiding):
        y = axes.bottom + 42.0 + STRIP_HEIGHT * row
        parts = [text(station(beacon, component), PLOT_LEFT - 8.0, y + 4.5, size=13.5, font_weight="bold", text_anchor="end")]
        for leg in log.legs:
            for reception in leg.receptions:
                if (reception.beacon, reception.component) == (beacon, component):
                    parts += _strip_of_leg(axes, leg.start_nm, reception, y)
        strips.append(group(*parts, class_="strip", data_ident=beacon.ident))
    return strips


def _strip_of_leg(axes: _Axes, start_nm: float, reception: BeaconReception, y: float) -> list[str]:
    parts = []
    for stretch in joined_by_state(reception.stretches):
        left, right = axes.x(start_nm + stretch.from_nm), axes.x(start_nm + stretch.to_nm)
        parts.append(state_line(((left, y), (right, y)), stretch.state))
        wordings = (_with_margins(stretch, reception), STATE_WORDS[stretch.state])
        words = next((words for words in wordings if right - left > 7.0 * len(words) + 14.0), "")
        if words:
            parts.append(text(words, (left + right) / 2.0, y + 4.0, size=12, halo=6.0, text_anchor="middle"))
    return parts


def _with_margins(stretch: Stretch, reception: BeaconReception) -> str:
    """Say the state and, as far as known, the least margin over the line of sight and of the field in it."""
    inside = [part for part in reception.stretches if part.from_nm < stretch.to_nm and part.to_nm > stretch.from_nm]
    feet = min((part.margin_ft for part in inside if part.margin_ft is not None), default=None)
    field_db = min((part.margin_db for part in inside if part.margin_db is not None), default=None)
    told = [STATE_WORDS[stretch.state]]
    told += [figures.margin(feet)] if feet is not None else []
    told += [f"field {figures.decibels(field_db)}"] if field_db is not None else []
    return ", ".join(told)


def _legend(log: NavigationLog, height: float) -> str:
    states, x = state_legend(16.0, height - 48.0)
    parts = [states, element("rect", x=x, y=height - 57.0, width=32.0, height=18.0, fill="url(#section-unknown)", stroke=SOFT)]
    parts.append(text("ground not known", x + 40.0, height - 43.5, size=14))
    parts.append(
        text("Heights are above sea level; the curve of the earth is not drawn, but is counted.", 16.0, height - 14.0, size=12, fill=SOFT)
    )
    if log.region_fictional:
        parts.append(text(cautions.FICTIONAL_NOTICE, WIDTH - 16.0, height - 14.0, size=12.5, font_weight="bold", text_anchor="end"))
    return group(*parts, class_="legend")


def _description(log: NavigationLog, ground_ft: np.ndarray) -> str:
    known_ft = ground_ft[np.isfinite(ground_ft)]
    highest = f"Highest known ground under the route {figures.altitude(float(known_ft.max()))}." if known_ft.size else "No ground is known."
    partly = " Part of the ground is not known." if known_ft.size and known_ft.size < ground_ft.size else ""
    ridges = [f"Ground of {hiding.words}, first on leg {hiding.leg.number}." for hiding in hiding_ridges(log)]
    return " ".join([f"{highest}{partly}", *ridges])
