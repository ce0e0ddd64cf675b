"""The log as a PDF for four papers, set by typst from templates/log_sheet.typ.

Lays out a LogSheet: it is handed over as data and never becomes markup. Only the fonts carried by typst are used and the time stamp is
the flight's, so that one log always gives the same bytes.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import typst

from server.planning.log import NavigationLog
from server.sheets.log_sheet import LogSheet, log_sheet

PaperName = Literal["a4", "letter", "a5", "half-letter"]


@dataclass(frozen=True, kw_only=True)
class Paper:
    """A page as it is held. [mm]"""

    width_mm: float
    height_mm: float
    columns: int
    """Blocks of a leg side by side."""

    @property
    def body_mm(self) -> float:
        """Height between head and foot."""
        return self.height_mm - 28.5


# ISO 216 and ANSI/ASME Y14.1: A4 is 210 x 297 mm, A5 148 x 210; Letter 8.5 x 11 in, half of it 5.5 x 8.5.
PAPERS: dict[PaperName, Paper] = {
    "a4": Paper(width_mm=297.0, height_mm=210.0, columns=2),
    "letter": Paper(width_mm=279.4, height_mm=215.9, columns=2),
    "a5": Paper(width_mm=148.0, height_mm=210.0, columns=1),
    "half-letter": Paper(width_mm=139.7, height_mm=215.9, columns=1),
}

TEMPLATE = Path(__file__).resolve().parent.parent.parent / "templates" / "log_sheet.typ"
TIMESTAMP_WITHOUT_DEPARTURE = datetime(2000, 1, 1, tzinfo=UTC)


def log_as_pdf(log: NavigationLog, *, paper: PaperName, chart_svg: str = "", section_svg: str = "", sheet: LogSheet | None = None) -> bytes:
    """Set the navigation log, with its chart and section when given; two blocks side by side on lying A4 and Letter, one on their halves.

    ``sheet`` is set in the place of the log's own, with some columns left to fill in. The file claims PDF/UA-1, unless a text holds a
    character that no carried font can show (an emoji in a name): typst then refuses the claim, and the same pages are set without it,
    tagged all the same.
    """
    size = PAPERS[paper]
    inputs = {
        "sheet": json.dumps(_data(sheet or log_sheet(log)), allow_nan=False),
        "paper": json.dumps(asdict(size) | {"body_mm": size.body_mm}),
        "chart": chart_svg,
        "section": section_svg,
    }
    timestamp = int((log.departure_utc or TIMESTAMP_WITHOUT_DEPARTURE).timestamp())
    try:
        return _set(inputs, timestamp, standard="ua-1")
    except typst.TypstError as refused:
        if "could not be displayed" not in str(refused):
            raise
        return _set(inputs, timestamp, standard=None)


def _data(sheet: LogSheet) -> dict[str, Any]:
    """The sheet as plain values, less the working of each number, which is not printed here."""
    return asdict(replace(sheet, fuel_working=(), legs=tuple(replace(leg, working=()) for leg in sheet.legs)))


def _set(inputs: dict[str, str], timestamp: int, *, standard: Literal["ua-1"] | None) -> bytes:
    return typst.compile(
        str(TEMPLATE),
        root=str(TEMPLATE.parent),
        format="pdf",
        ignore_system_fonts=True,
        sys_inputs=inputs,
        pdf_standards=standard,
        timestamp=timestamp,
    )
