"""Ground that is being chosen for a region: as a picture in the region's own projection, and in words."""

from __future__ import annotations

import numpy as np

from server.navigation import ConicProjection, Position
from server.planning.region_ground import GroundSeen
from server.planning.region_wish import Box
from server.sheets import figures
from server.sheets.chart_frame import ChartFrame
from server.sheets.chart_ground import ground_picture, sheet_of_map
from server.sheets.chart_margin import MAP_HEIGHT, WIDTH, graticule, scale_bar
from server.sheets.svg import BRICK, INK, element, group, hatch, path, picture
from server.units import feet_from_metres

EDGE_POINTS = 25


def ground_preview_svg(seen: GroundSeen, box: Box, projection: ConicProjection) -> str:
    """Draw the ground with the edges of the region's box."""
    lat_deg, lon_deg = _round_the_box(box)
    corners = [Position(lat_deg=float(lat), lon_deg=float(lon)) for lat, lon in zip(lat_deg, lon_deg, strict=True)]
    frame = ChartFrame.round_positions(projection, corners, width=WIDTH, height=MAP_HEIGHT)
    return picture(
        element("defs", hatch("chart-unknown"), element("clipPath", sheet_of_map(), id="ground-preview-clip")),
        group(
            ground_picture(frame, seen.ground),
            graticule(frame),
            path(frame.along(lat_deg, lon_deg), closed=True, fill="none", stroke=BRICK, stroke_width=2.0),
            scale_bar(frame),
            clip_path="url(#ground-preview-clip)",
        ),
        sheet_of_map(fill="none", stroke=INK, stroke_width=1.5),
        width=WIDTH,
        height=MAP_HEIGHT,
        title="The ground of the region",
        description=". ".join(f"{what}: {words}" for what, words in ground_in_figures(seen)) + ".",
        name="ground-preview",
    )


def ground_in_figures(seen: GroundSeen) -> tuple[tuple[str, str], ...]:
    """Say what the ground is like: pairs of a name and words."""
    lie = seen.lie
    if lie.highest_m is None or lie.lowest_m is None or lie.highest_lat_deg is None or lie.highest_lon_deg is None:
        return (("Ground", "not known anywhere in the box"),)
    summit = figures.position(Position(lat_deg=lie.highest_lat_deg, lon_deg=lie.highest_lon_deg))
    told = [
        ("Highest ground", f"{_feet_and_metres(lie.highest_m)}, at {summit}"),
        ("Sea", f"{figures.share(lie.sea_share)} of the ground that is known" if lie.known_share < 1.0 else figures.share(lie.sea_share)),
        ("Coast", f"about {round(lie.coast_nm):,} NM" if lie.coast_nm else "none in the box"),
        ("Land", _lands(lie.lands_sq_nm)),
    ]
    if not lie.sea_share:
        told.append(("Lowest ground", _feet_and_metres(lie.lowest_m)))
    if lie.known_share < 1.0:
        told.append(("Known", f"{figures.share(lie.known_share)} of the box; the rest is hatched and stays unknown"))
    return tuple(told)


def _lands(areas_sq_nm: tuple[float, ...]) -> str:
    if not areas_sq_nm:
        return "none of a square mile or more"
    words = f"the largest has about {round(areas_sq_nm[0]):,} NM²"
    others = len(areas_sq_nm) - 1
    return words if not others else f"{words}; {others} smaller {'one' if others == 1 else 'ones'} of 1 NM² or more"


def _feet_and_metres(metres: float) -> str:
    return f"{figures.elevation(feet_from_metres(metres))} ({round(metres):,} m)"


def _round_the_box(box: Box) -> tuple[np.ndarray, np.ndarray]:
    """Return places [deg] all round the edges, from the south-west corner by way of the south-east one."""
    part = np.linspace(0.0, 1.0, EDGE_POINTS)
    down, up = np.full(EDGE_POINTS, box.south_deg), np.full(EDGE_POINTS, box.north_deg)
    lat_deg = np.concatenate([down, box.south_deg + box.high_deg * part, up, box.north_deg - box.high_deg * part])
    along = np.concatenate([part, np.ones(EDGE_POINTS), part[::-1], np.zeros(EDGE_POINTS)])
    return lat_deg, (box.west_deg + box.wide_deg * along + 180.0) % 360.0 - 180.0
