"""The chart strip as a PDF, set by typst from templates/strip.typ.

The drawings are handed over as vector and set at the size they were drawn for, so that the scale on paper is true. Only the fonts carried
by typst are used and the time stamp is the flight's, so that one plan always gives the same bytes.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import Literal

import typst

from server.planning import PlannedRoute
from server.sheets.chart import ChartInput
from server.sheets.drawings import chart_input
from server.sheets.log_pdf import TIMESTAMP_WITHOUT_DEPARTURE, PaperName
from server.sheets.strip import Strip, route_strip
from server.sheets.strip_cut import EDGE_MM, HEAD_MM, pages_needed

TEMPLATE = Path(__file__).resolve().parent.parent.parent / "templates" / "strip.typ"
STRIPS_KEPT, PAGE_COUNTS_KEPT = 4, 32


@lru_cache(maxsize=STRIPS_KEPT)
def strip_of(planned: PlannedRoute, scale: int, paper: PaperName) -> bytes:
    """Set the strip of a planned route.

    Raises
    ------
    InputProblem
        The route needs more pages than a strip may have.
    """
    return strip_as_pdf(chart_input(planned), scale=scale, paper=paper)


@lru_cache(maxsize=PAGE_COUNTS_KEPT)
def strip_pages(planned: PlannedRoute, scale: int, paper: PaperName) -> int:
    """Count the chart pages of a strip, without the overview."""
    return pages_needed(planned.log.legs, planned.projection, scale=scale, paper=paper)


def strip_as_pdf(chart: ChartInput, *, scale: int, paper: PaperName) -> bytes:
    """Set a strip. The file claims PDF/UA-1, unless a text holds a character that no carried font can show: then the same pages without."""
    strip = route_strip(chart, scale=scale, paper=paper)
    timestamp = int((chart.log.departure_utc or TIMESTAMP_WITHOUT_DEPARTURE).timestamp())
    try:
        return _set(strip, timestamp, standard="ua-1")
    except typst.TypstError as refused:
        if "could not be displayed" not in str(refused):
            raise
        return _set(strip, timestamp, standard=None)


def _set(strip: Strip, timestamp: int, *, standard: Literal["ua-1"] | None) -> bytes:
    sizes = {
        "edge_mm": EDGE_MM,
        "head_mm": HEAD_MM,
        "words_mm": strip.paper.words_mm,
        "drawing_width_mm": strip.paper.map_width_mm,
        "drawing_height_mm": strip.paper.map_height_mm + strip.paper.key_mm,
    }
    return typst.compile(
        str(TEMPLATE),
        root=str(TEMPLATE.parent),
        format="pdf",
        ignore_system_fonts=True,
        sys_inputs={"strip": json.dumps(asdict(strip), allow_nan=False), "sizes": json.dumps(sizes)},
        pdf_standards=standard,
        timestamp=timestamp,
    )
