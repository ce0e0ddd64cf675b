"""Chart symbols of ground beacons, airfields and visual points, drawn round the origin in drawing units, and the compass rose.

Shapes follow ICAO Annex 4 (Appendix 2): VOR a hexagon with two corners on the horizontal, DME a square, VOR/DME the hexagon in the
square, TACAN three lobes at bearings 060, 180 and 300, VORTAC the hexagon with solid blocks there, NDB a stippled disc.
"""

from __future__ import annotations

import math

from server.radio.beacon import BeaconKind
from server.sheets.svg import BRICK, INK, PAPER, SLATE, element, group, line, path, text

RADIUS = 11.0  # of the hexagon's corners
HEXAGON_DEG = (0.0, 60.0, 120.0, 180.0, 240.0, 300.0)  # corners, counted from the horizontal
LOBES_DEG = (60.0, 180.0, 300.0)  # bearings from the centre, clockwise from up
STIPPLE_RINGS = ((5.5, 12), (8.5, 18), (11.5, 24))  # radius, dots
ROSE_RADIUS = 62.0

_OUTLINE = {"fill": PAPER, "stroke": SLATE, "stroke_width": 1.8, "stroke_linejoin": "miter"}


def beacon_symbol(kind: BeaconKind) -> str:
    """Draw the symbol of a kind of beacon."""
    parts = {
        BeaconKind.VOR: (_hexagon(),),
        BeaconKind.DME: (_square(),),
        BeaconKind.VOR_DME: (_square(), _hexagon()),
        BeaconKind.TACAN: (_tacan(),),
        BeaconKind.VORTAC: (_hexagon(), _blocks()),
        BeaconKind.NDB: (_stipple(),),
        BeaconKind.NDB_DME: (_stipple(), _square(fill="none")),
    }[kind]
    return group(*parts, element("circle", r=1.8, fill=INK), class_=f"beacon {kind.name.lower().replace('_', '-')}")


def _corner(angle_deg: float, radius: float = RADIUS) -> tuple[float, float]:
    return radius * math.cos(math.radians(angle_deg)), -radius * math.sin(math.radians(angle_deg))


def _hexagon() -> str:
    return path((_corner(angle) for angle in HEXAGON_DEG), closed=True, class_="hexagon", **_OUTLINE)


def _square(**changes) -> str:
    side = 2.0 * RADIUS + 2.0
    return element("rect", x=-side / 2.0, y=-side / 2.0, width=side, height=side, class_="square", **{**_OUTLINE, **changes})


def _lobe_corners(bearing_deg: float, outward: float) -> list[tuple[float, float]]:
    """The corners of a lobe that stands on the hexagon's side at this bearing: inner left, outer left, outer right, inner right."""
    along = (math.sin(math.radians(bearing_deg)), -math.cos(math.radians(bearing_deg)))
    across = (-along[1], along[0])
    inner, half = RADIUS * math.cos(math.radians(30.0)), RADIUS / 2.0
    spots = ((inner, -half), (inner + outward, -half), (inner + outward, half), (inner, half))
    return [(along[0] * out + across[0] * side, along[1] * out + across[1] * side) for out, side in spots]


def _tacan() -> str:
    outline = [corner for bearing in LOBES_DEG for corner in _lobe_corners(bearing, 5.0)]
    return path(outline, closed=True, class_="lobes", **_OUTLINE)


def _blocks() -> str:
    solid = {"fill": SLATE, "stroke": SLATE, "stroke_width": 1.0}
    blocks = [path(_lobe_corners(bearing, 5.0), closed=True, class_="block", **solid) for bearing in LOBES_DEG]
    return group(*blocks)


def _stipple() -> str:
    dots = [
        element("circle", cx=radius * math.cos(2 * math.pi * n / count), cy=radius * math.sin(2 * math.pi * n / count), r=0.8, fill=BRICK)
        for radius, count in STIPPLE_RINGS
        for n in range(count)
    ]
    return group(element("circle", r=3.2, fill=PAPER, stroke=BRICK, stroke_width=1.2), *dots, class_="stipple")


def airfield_symbol(*, closed: bool) -> str:
    """Draw a landing place: a ring with four ticks; crossed out when closed."""
    ticks = [line(0, -6.0, 0, -9.0, transform=f"rotate({angle})") for angle in (0, 90, 180, 270)]
    cross = [line(-4.0, -4.0, 4.0, 4.0), line(-4.0, 4.0, 4.0, -4.0)] if closed else []
    return group(element("circle", r=6.0, fill=PAPER), *ticks, *cross, stroke=INK, stroke_width=1.5, class_="airfield")


def visual_point_symbol() -> str:
    """Draw a feature a pilot can recognise from the air: a small diamond."""
    return path(((0, -4.5), (4.5, 0), (0, 4.5), (-4.5, 0)), closed=True, fill=PAPER, stroke=INK, stroke_width=1.2, class_="visual-point")


def place_symbols() -> dict[str, str]:
    """Return the symbols of places that are no beacons, by the names the browser uses."""
    return {
        "airfield": airfield_symbol(closed=False),
        "closed airfield": airfield_symbol(closed=True),
        "checkpoint": visual_point_symbol(),
        "fix": fix_symbol(),
    }


def fix_symbol() -> str:
    """Draw a point of the route that is neither beacon nor airfield: an open triangle."""
    return path(((0, -7.0), (6.1, 3.5), (-6.1, 3.5)), closed=True, fill=PAPER, stroke=INK, stroke_width=1.6, class_="fix")


def changeover_symbol(across_deg: float = 90.0) -> str:
    """A bar across the route where the next beacon is tuned; ``across_deg`` is the direction of the bar, clockwise from up."""
    x, y = 11.0 * math.sin(math.radians(across_deg)), -11.0 * math.cos(math.radians(across_deg))
    casing = line(-x, -y, x, y, stroke=PAPER, stroke_width=7.0)
    return group(casing, line(-x, -y, x, y, stroke=INK, stroke_width=3.0), class_="changeover")


def ridge_symbol() -> str:
    """Draw high ground that hides a beacon: a solid peak."""
    return path(((0, -7.0), (7.0, 5.0), (-7.0, 5.0)), closed=True, fill=BRICK, stroke=PAPER, stroke_width=1.2, class_="ridge")


def compass_rose(*, zero_on_chart_deg: float, zero_true_deg: float, ident: str, mark: str) -> str:
    """Draw a rose whose 0, the station's zero radial, points ``zero_on_chart_deg`` clockwise from up. ``mark`` tells its north."""
    ticks = [_tick(angle) for angle in range(0, 360, 10)]
    figures = [_rose_figure(angle, zero_on_chart_deg) for angle in range(30, 360, 30)]
    arrow = path(((0, -ROSE_RADIUS - 9.0), (4.0, -ROSE_RADIUS + 2.0), (-4.0, -ROSE_RADIUS + 2.0)), closed=True, fill=SLATE)
    words = text(mark, 0.0, -ROSE_RADIUS - 12.0, size=10.5, halo=2.5, fill=SLATE, text_anchor="middle", class_="rose-mark")
    return group(
        element("circle", r=ROSE_RADIUS, fill="none", stroke=SLATE, stroke_width=0.9),
        *ticks,
        arrow,
        *figures,
        words,
        transform=f"rotate({zero_on_chart_deg:.3f})",
        class_="rose",
        data_ident=ident,
        data_zero_true_deg=f"{zero_true_deg:.3f}",
    )


def _tick(angle_deg: int) -> str:
    long = angle_deg % 30 == 0
    return line(
        0, -ROSE_RADIUS, 0, -ROSE_RADIUS + (9.0 if long else 5.0),
        stroke=SLATE, stroke_width=1.2 if long else 0.8, transform=f"rotate({angle_deg})", class_="rose-zero" if angle_deg == 0 else None,
    )  # fmt: skip


def _rose_figure(angle_deg: int, zero_on_chart_deg: float) -> str:
    """A figure inside the ring, upright on the page whatever the rose's turn."""
    radius = ROSE_RADIUS - 17.0
    x, y = radius * math.sin(math.radians(angle_deg)), -radius * math.cos(math.radians(angle_deg))
    upright = f"rotate({-zero_on_chart_deg:.3f} {x:.2f} {y:.2f})"
    return text(f"{angle_deg:03d}", x, y + 3.5, size=9.5, halo=2.0, fill=SLATE, text_anchor="middle", transform=upright)
