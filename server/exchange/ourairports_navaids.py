"""Read navaids.csv, the open world table of radio beacons of OurAirports (public domain).

One row is one station; ``id`` is the stable key, the ident is not (MA is used 20 times). Frequencies are kHz for every kind, for DME and
TACAN the paired VHF frequency. The table knows no service class and no status: the class stays unknown and so does the status, except
where the name says "(Closed ...)". ``slaved_variation_deg`` is the station's alignment in whole degrees with junk decimals (17.001).
"""

from __future__ import annotations

import math

from server.exchange.beacon_checks import (
    PARTS_OF_KIND,
    check_pairing,
    checked_channel,
    checked_dme_position,
    checked_elevation,
    checked_frequency,
    checked_ident,
    checked_name,
    checked_position,
    says_closed,
    warn_of_odd_alignment,
)
from server.exchange.reading import Findings, Reading, RowProblem
from server.exchange.rows import read_rows
from server.exchange.table import Row, decode_table, read_table
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.position import Position
from server.radio.beacon import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus

FORMAT_NAME = "OurAirports navaids"
SOURCE = "OurAirports"
KEY_PREFIX = "ourairports:"
REQUIRED_COLUMNS = (
    "id",
    "ident",
    "name",
    "type",
    "frequency_khz",
    "latitude_deg",
    "longitude_deg",
    "elevation_ft",
    "dme_frequency_khz",
    "dme_channel",
    "dme_latitude_deg",
    "dme_longitude_deg",
    "dme_elevation_ft",
    "slaved_variation_deg",
    "magnetic_variation_deg",
    "usageType",
    "power",
)

KIND_OF_TYPE = {
    "NDB": BeaconKind.NDB,
    "NDB-DME": BeaconKind.NDB_DME,
    "VOR": BeaconKind.VOR,
    "VOR-DME": BeaconKind.VOR_DME,
    "VORTAC": BeaconKind.VORTAC,
    "TACAN": BeaconKind.TACAN,
    "DME": BeaconKind.DME,
}


def read_ourairports_navaids(source: bytes, *, region_id: int, name: str) -> Reading:
    """Read the whole table; every row becomes a Beacon or a RefusedRow."""
    table = read_table(decode_table(source, name=name), name=name, required=REQUIRED_COLUMNS, format_name=FORMAT_NAME)
    return read_rows(
        table,
        format_name=FORMAT_NAME,
        sources=(KEY_PREFIX,),
        key_of=lambda row: KEY_PREFIX + row.text("id"),
        key_columns=("id",),
        value_of=lambda row, findings: _beacon(row, findings, region_id=region_id),
    )


def _beacon(row: Row, findings: Findings, *, region_id: int) -> Beacon:
    row.required("id")
    kind = _kind(row)
    ident = checked_ident(row.cells["ident"], findings)
    name = checked_name(row.cells["name"], findings)
    frequency_khz = row.whole("frequency_khz")
    if frequency_khz is None:
        raise RowProblem("frequency_khz is blank: nothing can be tuned.", code="frequency-unknown")
    frequency_khz = checked_frequency(kind, frequency_khz, findings)
    position = checked_position(row.number("latitude_deg"), row.number("longitude_deg"), findings)
    return Beacon(
        region_id=region_id,
        ident=ident,
        name=name,
        kind=kind,
        frequency_khz=frequency_khz,
        channel=_channel(row, kind, frequency_khz, findings),
        position=position,
        elevation_ft=checked_elevation(row.number("elevation_ft"), findings),
        alignment=_alignment(row, kind, position, findings),
        components=_components(row, kind, name, position, findings),
        remarks=_remarks(row),
        source=SOURCE,
        external_key=findings.key,
    )


def _kind(row: Row) -> BeaconKind:
    published = row.required("type")
    if published not in KIND_OF_TYPE:
        raise RowProblem(f"The type {published[:30]!r} is not a beacon that guides along a route.", code="not-for-guidance")
    return KIND_OF_TYPE[published]


def _channel(row: Row, kind: BeaconKind, frequency_khz: int, findings: Findings) -> str:
    if ComponentKind.DISTANCE not in PARTS_OF_KIND[kind]:
        return ""
    channel = checked_channel(row.text("dme_channel"))
    dme_frequency_khz = row.whole("dme_frequency_khz")
    if kind is BeaconKind.NDB_DME:
        check_pairing(channel=channel, frequency_khz=dme_frequency_khz, findings=findings)
        return channel
    if dme_frequency_khz is not None and dme_frequency_khz != frequency_khz:
        findings.warn(
            "dme-frequency-differs",
            f"The DME is listed on {dme_frequency_khz / 1000:.2f} MHz, the station on {frequency_khz / 1000:.2f} MHz: "
            "the DME may have to be tuned by itself.",
        )
    check_pairing(channel=channel, frequency_khz=dme_frequency_khz or frequency_khz, findings=findings)
    return channel


def _alignment(row: Row, kind: BeaconKind, position: Position, findings: Findings) -> Alignment:
    """Return the alignment: whole degrees, cut toward zero, because the decimals of this table are junk. Blank is unknown; 0 is 0."""
    unknown = Alignment(kind=AlignmentKind.UNKNOWN, source=SOURCE)
    if ComponentKind.AZIMUTH not in PARTS_OF_KIND[kind]:
        return Alignment(kind=AlignmentKind.UNKNOWN)
    published_deg = row.number("slaved_variation_deg", lowest=-180.0, highest=180.0)
    if published_deg is None:
        findings.warn("alignment-unknown", "The alignment (slaved variation) is blank: radials can only be estimated.")
        return unknown
    declination_deg = float(math.trunc(published_deg))
    if 0.05 < abs(published_deg - declination_deg) < 0.95:
        findings.warn(
            "alignment-cut", f"The alignment {published_deg:+g} is read as {declination_deg:+.0f}: the table holds whole degrees."
        )
    alignment = Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=declination_deg, source=SOURCE)
    warn_of_odd_alignment(alignment, position=position, variation_deg=row.number("magnetic_variation_deg"), findings=findings)
    return alignment


def _components(row: Row, kind: BeaconKind, name: str, position: Position, findings: Findings) -> tuple[Component, ...]:
    status = ComponentStatus.UNKNOWN
    if says_closed(name):
        status = ComponentStatus.WITHDRAWN
        findings.warn("closed-by-name", f"The name {name!r} says that the station has gone: every part is marked withdrawn.")
    parts = []
    for part in PARTS_OF_KIND[kind]:
        if part is ComponentKind.DISTANCE:
            parts.append(
                Component(
                    kind=part,
                    status=status,
                    position=checked_dme_position(position, _dme_position(row, findings), findings),
                    elevation_ft=checked_elevation(row.number("dme_elevation_ft"), findings),
                    source=SOURCE,
                )
            )
        else:
            parts.append(Component(kind=part, status=status, source=SOURCE))
    return tuple(parts)


def _dme_position(row: Row, findings: Findings) -> Position | None:
    lat_deg, lon_deg = row.number("dme_latitude_deg"), row.number("dme_longitude_deg")
    if lat_deg is None and lon_deg is None:
        return None
    return checked_position(lat_deg, lon_deg, findings, of="DME position")


def _remarks(row: Row) -> str:
    """Hand on what the table hints at, named as a hint: its power word is no published service class."""
    hints = []
    if row.text("iso_country"):
        hints.append(f"Country {row.text('iso_country')}.")
    if row.text("power") or row.text("usageType"):
        hints.append(f"Listed as power {row.text('power') or 'not given'}, use {row.text('usageType') or 'not given'}: hints, not a class.")
    return " ".join(hints)
