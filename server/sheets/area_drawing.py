"""Areas on a chart: outline, pattern and word, and the row of samples in the legend. Shared by every chart of areas."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shapely import MultiPolygon
from shapely.ops import polylabel

from server.navigation import AlignmentKind
from server.radio.beacon import Beacon, BeaconKind
from server.sheets import figures, symbols
from server.sheets.chart_frame import ChartFrame
from server.sheets.coverage_areas import corners_deg
from server.sheets.label_room import Box, LabelRoom
from server.sheets.svg import element, group, moved, number, text

_WORDED_PARTS = 3
"""So many of an area's parts are tried for room, the largest first."""
_WIDEST_WITHIN = 0.03
"""How near to the widest place of a part, as a share of its size."""

ROSE_KINDS = (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC)


def area(frame: ChartFrame, shape: MultiPolygon, *, name: str, **look: Any) -> str:
    """Draw an area with its holes; nothing where it has no place on the chart."""
    rings = [ring for polygon in shape.geoms for ring in (polygon.exterior, *polygon.interiors)]
    steps = [" L".join(f"{number(x)},{number(y)}" for x, y in frame.along(*corners_deg(ring))) for ring in rings]
    outline = " ".join(f"M{step} Z" for step in steps if step)
    return element("path", d=outline, fill_rule="evenodd", class_=f"area {name}", **look) if outline else ""


def area_word(frame: ChartFrame, shape: MultiPolygon, words: str, *, size: float = 14.0) -> str:
    """Write a word inside the largest part of an area."""
    if shape.is_empty:
        return ""
    inside = max(shape.geoms, key=lambda polygon: polygon.area).representative_point()
    spots = frame.along([inside.y], [inside.x])
    return text(words, *spots[0], size=size, halo=4.0, text_anchor="middle", class_="area-word") if spots else ""


def area_words(frame: ChartFrame, worded: Sequence[tuple[MultiPolygon, str]], room: LabelRoom, *, size: float = 14.0) -> str:
    """Write words inside areas, each where its area is widest; an area without room for its word goes without."""
    drawn = []
    for shape, words in worded:
        half_width, half_height = 0.3 * size * len(words), 0.6 * size
        for polygon in sorted(shape.geoms, key=lambda each: -each.area)[:_WORDED_PARTS]:
            widest = polylabel(polygon, tolerance=_WIDEST_WITHIN * polygon.area**0.5)
            for x, y in frame.along([widest.y], [widest.x]):
                box = Box(left=x - half_width, top=y - half_height, right=x + half_width, bottom=y + half_height)
                if room.free(box):
                    room.add(box)
                    drawn.append(text(words, x, y + 0.35 * size, size=size, halo=4.0, text_anchor="middle", class_="area-word"))
                    break
            else:
                continue
            break
    return group(*drawn)


def samples(items: list[tuple[str, dict[str, Any]]], x: float, top: float) -> tuple[list[str], float]:
    """Draw a row of samples with their words from ``x`` on; return it and where it ends."""
    parts = []
    for words, look in items:
        parts.append(element("rect", x=x, y=top, width=44.0, height=20.0, **look))
        parts.append(text(words, x + 52.0, top + 14.5, size=14))
        x += 52.0 + 7.4 * len(words) + 26.0
    return parts, x


def rose_zero(beacon: Beacon, estimated_declination_deg: float) -> tuple[float, str] | None:
    """Return where a station's zero radial points [deg true] and the words beside it; None where a grid station's angle is not known, or
    it has no radials."""
    alignment = beacon.alignment
    if beacon.kind not in ROSE_KINDS or (alignment.kind is AlignmentKind.GRID and alignment.declination_deg is None):
        return None
    if alignment.kind is AlignmentKind.TRUE:
        return alignment.declination_deg or 0.0, "TRUE"
    if alignment.kind is AlignmentKind.UNKNOWN or alignment.declination_deg is None:
        return estimated_declination_deg, f"{figures.variation(estimated_declination_deg)} est."
    return alignment.declination_deg, figures.alignment(alignment)


def rose(frame: ChartFrame, beacon: Beacon, estimated_declination_deg: float) -> str:
    """Draw a rose turned to the station's own alignment; none where its zero is not known."""
    zero = rose_zero(beacon, estimated_declination_deg)
    if zero is None:
        return ""
    zero_true_deg, mark = zero
    drawn = symbols.compass_rose(
        zero_on_chart_deg=frame.chart_direction_deg(beacon.position, zero_true_deg),
        zero_true_deg=zero_true_deg,
        ident=beacon.ident,
        mark=mark,
    )
    return moved(frame.at(beacon.position), drawn)
