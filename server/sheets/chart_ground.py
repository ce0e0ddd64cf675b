"""The shaded ground that a chart is drawn on."""

from __future__ import annotations

import numpy as np

from server.radio.ground import Ground
from server.sheets.chart_frame import ChartFrame
from server.sheets.chart_margin import MAP_HEIGHT, WIDTH
from server.sheets.relief import relief_png_uri
from server.sheets.svg import element, group

RELIEF_LIMIT_BYTES = 380_000
RELIEF_STEPS = (1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0)  # drawing units a pixel; the first that keeps to the limit is used


def sheet_of_map(**attributes) -> str:
    """Draw the rectangle of the map."""
    return element("rect", width=WIDTH, height=MAP_HEIGHT, **attributes)


def ground_picture(frame: ChartFrame, ground: Ground) -> str:
    """Hatching everywhere (the pattern "chart-unknown"), and over it the ground that is known."""
    for step in RELIEF_STEPS:
        elevations_m = frame.elevations_m(ground, unit_step=step)
        uri = relief_png_uri(elevations_m, pixel_m=step * frame.metres_per_unit)
        if len(uri) <= RELIEF_LIMIT_BYTES:
            break
    rows, columns = elevations_m.shape
    image = element(
        "image", href=uri, width=columns * step, height=rows * step, preserveAspectRatio="none", image_rendering="auto"
    )  # fmt: skip
    hatched = sheet_of_map(fill="url(#chart-unknown)", class_="unknown-ground") if np.isnan(elevations_m).any() else ""
    return group(hatched, image, class_="relief")
