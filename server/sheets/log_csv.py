"""The legs of a log as a table (RFC 4180) for a spreadsheet: one row a leg, the figures as the sheet prints them."""

from __future__ import annotations

import csv
import io

from server.planning.log import NavigationLog
from server.sheets.leg_sheet import LegSheet
from server.sheets.log_sheet import log_sheet

COLUMNS = {
    "leg": "number",
    "from": "start",
    "to": "end",
    "distance_nm": "distance",
    "distance_so_far_nm": "distance_so_far",
    "track_true_deg": "track_true",
    "variation": "variation",
    "track_magnetic_deg": "track_magnetic",
    "wind_true": "wind",
    "wind_correction": "wind_correction",
    "heading_true_deg": "heading_true",
    "heading_magnetic_deg": "heading_magnetic",
    "heading_compass_deg": "heading_compass",
    "altitude": "altitude",
    "true_airspeed_kt": "true_airspeed",
    "groundspeed_kt": "groundspeed",
    "time_h_min": "time",
    "arrival_utc": "arrival",
    "fuel": "fuel",
    "fuel_left": "fuel_remaining",
    "changeover": "changeover",
    "highest_ground": "highest_ground",
}
"""Heading of each column, and the figure of the sheet in it."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def log_as_csv(log: NavigationLog) -> str:
    """Write the table, with a heading and CRLF line ends; what stands for "not known" stays as the sheet writes it.

    A name that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([*COLUMNS, "tune_1", "set_1", "flag_1", "tune_2", "set_2", "flag_2"])
    for leg in log_sheet(log).legs:
        writer.writerow([_safe(getattr(leg, name)) for name in COLUMNS.values()] + [_safe(cell) for cell in _tuned(leg)])
    return text.getvalue()


def _tuned(leg: LegSheet) -> list[str]:
    cells = [cell for row in leg.tune[:2] for cell in (f"{row.ident} {row.frequency}", row.set_course, row.flag)]
    return cells + [""] * (6 - len(cells))


def _safe(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) and text != "--" else text
