"""Read airports.csv, and runways.csv beside it, of OurAirports (public domain).

Aeroplane and seaplane fields are taken, closed ones marked as closed; heliports and balloon ports are refused. A blank elevation stays
unknown. The ident is not always an ICAO indicator ("US-0001", "01CL", "1E5"): it is text.
"""

from __future__ import annotations

import re

from server.exchange.beacon_checks import checked_elevation, checked_field_ident, checked_name, checked_position
from server.exchange.reading import Findings, Reading, RowProblem
from server.exchange.rows import read_rows
from server.exchange.table import Row, decode_table, read_table
from server.navigation.places import Airfield, Runway
from server.units import metres_from_feet

FORMAT_NAME = "OurAirports airports"
RUNWAY_FORMAT_NAME = "OurAirports runways"
SOURCE = "OurAirports"
KEY_PREFIX = "ourairports:"
REQUIRED_COLUMNS = ("id", "ident", "type", "name", "latitude_deg", "longitude_deg", "elevation_ft", "municipality")
REQUIRED_RUNWAY_COLUMNS = ("airport_ref", "length_ft", "surface", "closed", "le_ident", "he_ident")
TAKEN_TYPES = {"small_airport", "medium_airport", "large_airport", "seaplane_base", "closed"}
REFUSED_TYPES = {"heliport": "a heliport", "balloonport": "a balloon port"}
_HELIPAD = re.compile(r"H[0-9]*", re.IGNORECASE)


def read_ourairports_airfields(source: bytes, *, region_id: int, name: str, runways: bytes | None = None) -> Reading:
    """Read airports.csv and, when given, the runways that belong to it; runway rows that cannot be read become warnings."""
    table = read_table(decode_table(source, name=name), name=name, required=REQUIRED_COLUMNS, format_name=FORMAT_NAME)
    runways_of_airport = _runways_by_airport(runways) if runways is not None else {}
    return read_rows(
        table,
        format_name=FORMAT_NAME,
        sources=(KEY_PREFIX,),
        key_of=lambda row: KEY_PREFIX + row.text("id"),
        key_columns=("id",),
        value_of=lambda row, findings: _airfield(row, findings, region_id=region_id, runways_of_airport=runways_of_airport),
    )


def _airfield(row: Row, findings: Findings, *, region_id: int, runways_of_airport: dict[str, list[Row]]) -> Airfield:
    row.required("id")
    published_type = row.required("type")
    if published_type not in TAKEN_TYPES:
        what = REFUSED_TYPES.get(published_type, f"of the type {published_type[:30]!r}")
        raise RowProblem(f"It is {what}, not a field for aeroplanes.", code="not-for-aeroplanes")
    remarks = [row.text("municipality")] if row.text("municipality") else []
    if published_type == "seaplane_base":
        remarks.append("Seaplane base.")
    return Airfield(
        region_id=region_id,
        ident=checked_field_ident(row.cells["ident"], findings),
        name=checked_name(row.cells["name"], findings),
        position=checked_position(row.number("latitude_deg"), row.number("longitude_deg"), findings),
        elevation_ft=checked_elevation(row.number("elevation_ft"), findings),
        runways=_runways(runways_of_airport.get(row.text("id"), []), findings),
        closed=published_type == "closed",
        remarks=" ".join(remarks),
        source=SOURCE,
        external_key=findings.key,
    )


def _runways_by_airport(source: bytes) -> dict[str, list[Row]]:
    name = "runways.csv"
    table = read_table(decode_table(source, name=name), name=name, required=REQUIRED_RUNWAY_COLUMNS, format_name=RUNWAY_FORMAT_NAME)
    by_airport: dict[str, list[Row]] = {}
    for row in table.rows:
        by_airport.setdefault(row.text("airport_ref"), []).append(row)
    return by_airport


def _runways(rows: list[Row], findings: Findings) -> tuple[Runway, ...]:
    """Return the runways that are open, in the order of the file. Helipads are left out."""
    runways = []
    for row in rows:
        ends = [end.upper() for end in (row.text("le_ident"), row.text("he_ident")) if end]
        if row.text("closed") == "1" or (ends and all(_HELIPAD.fullmatch(end) for end in ends)):
            continue
        try:
            length_ft = row.number("length_ft", lowest=0.0, highest=30_000.0)
        except RowProblem as problem:
            findings.warn("runway-length-unread", f"runways.csv, line {row.line_number}: {problem.message} The length is left unknown.")
            length_ft = None
        runways.append(
            Runway(
                designator="/".join(ends) or "not given",
                length_m=round(metres_from_feet(length_ft), 1) if length_ft else None,
                surface=row.text("surface"),
            )
        )
    return tuple(runways)
