"""The log as a PDF for A4 or Letter paper, set by typst from templates/log_sheet.typ.

Lays out a LogSheet: it is handed over as data and never becomes markup. Only the fonts carried by typst are used and the time stamp is
the flight's, so that one log always gives the same bytes.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

import typst

from server.planning.log import NavigationLog
from server.sheets.log_sheet import log_sheet

Paper = Literal["a4", "letter"]

TEMPLATE = Path(__file__).resolve().parent.parent.parent / "templates" / "log_sheet.typ"
TYPST_PAPER = {"a4": "a4", "letter": "us-letter"}
TIMESTAMP_WITHOUT_DEPARTURE = datetime(2000, 1, 1, tzinfo=UTC)


def log_as_pdf(log: NavigationLog, *, paper: Paper, chart_svg: str = "", section_svg: str = "") -> bytes:
    """Set the navigation log, with its chart and section when given, on pages lying on their long side.

    The file claims PDF/UA-1, unless a text holds a character that no carried font can show (an emoji in a name): typst then refuses the
    claim, and the same pages are set without it, tagged all the same.
    """
    inputs = {
        "sheet": json.dumps(asdict(log_sheet(log)), allow_nan=False),
        "paper": TYPST_PAPER[paper],
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
