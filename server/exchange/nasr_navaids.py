"""Read NAV_BASE.csv of the FAA's 28 day NASR subscription (public domain).

Latin-1, 72 columns. FREQ is MHz for the VHF aids and kHz for NDBs. MAG_VARN with hemisphere and year is the station's alignment; for a
DME the layout says to ignore it. ALT_CODE is the class of the azimuth part, DME_SSV of the distance part, NDB_CLASS_CODE of the NDB.
The sectors of restricted stations are in another file, which is not read: the remarks say so, because the pilot must know.
"""

from __future__ import annotations

from datetime import date

from server.errors import OutOfRange
from server.exchange.beacon_checks import (
    NDB_KINDS,
    PARTS_OF_KIND,
    check_pairing,
    checked_channel,
    checked_dme_position,
    checked_elevation,
    checked_frequency,
    checked_ident,
    checked_name,
    checked_position,
)
from server.exchange.reading import Findings, Reading, RowProblem
from server.exchange.rows import read_rows
from server.exchange.table import Row, decode_table, read_table
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.position import Position
from server.radio import vor_khz_for_channel
from server.radio.beacon import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, ServiceClass

FORMAT_NAME = "FAA NASR NAV_BASE"
SOURCE = "FAA NASR"
KEY_PREFIX = "nasr:"
REQUIRED_COLUMNS = (
    "EFF_DATE",
    "NAV_ID",
    "NAV_TYPE",
    "CITY",
    "COUNTRY_CODE",
    "NAV_STATUS",
    "NAME",
    "NDB_CLASS_CODE",
    "OPER_HOURS",
    "PUBLIC_USE_FLAG",
    "LAT_DECIMAL",
    "LONG_DECIMAL",
    "TACAN_DME_STATUS",
    "TACAN_DME_LAT_DECIMAL",
    "TACAN_DME_LONG_DECIMAL",
    "ELEV",
    "MAG_VARN",
    "MAG_VARN_HEMIS",
    "MAG_VARN_YEAR",
    "SIMUL_VOICE_FLAG",
    "PWR_OUTPUT",
    "CHAN",
    "FREQ",
    "ALT_CODE",
    "DME_SSV",
)
KEY_COLUMNS = ("NAV_ID", "NAV_TYPE", "COUNTRY_CODE", "CITY")
KIND_OF_TYPE = {kind.value: kind for kind in BeaconKind}  # the FAA's words are ours: VOR/DME, NDB/DME, TACAN ...
NOT_OFFERED = {
    "VOT": "a test signal for checking receivers on the ground",
    "FAN MARKER": "a marker that is heard only overhead",
    "MARINE NDB": "a beacon for ships",
}
AZIMUTH_CLASSES = {"T", "L", "H", "VL", "VH"}
DISTANCE_CLASSES = {"T", "L", "H", "DL", "DH"}
NDB_CLASSES = {
    "MH": ServiceClass.MH,
    "H": ServiceClass.NDB_H,
    "HH": ServiceClass.HH,
    "LOM": ServiceClass.LOCATOR,
    "LMM": ServiceClass.LOCATOR,
}
FULL_TIME = {"24", "24 HOURS", "24HRS", "FULL-TIME"}


def read_nasr_navaids(source: bytes, *, region_id: int, name: str) -> Reading:
    """Read the whole file; every row becomes a Beacon or a RefusedRow."""
    text = decode_table(source, name=name, fallback_encoding="latin-1")
    table = read_table(text, name=name, required=REQUIRED_COLUMNS, format_name=FORMAT_NAME)
    return read_rows(
        table,
        format_name=FORMAT_NAME,
        sources=(KEY_PREFIX,),
        key_of=lambda row: KEY_PREFIX + "|".join(row.text(column) for column in KEY_COLUMNS),
        key_columns=KEY_COLUMNS,
        value_of=lambda row, findings: _beacon(row, findings, region_id=region_id),
    )


def _beacon(row: Row, findings: Findings, *, region_id: int) -> Beacon:
    kind = _kind(row)
    channel = checked_channel(row.text("CHAN"))
    position = checked_position(row.number("LAT_DECIMAL"), row.number("LONG_DECIMAL"), findings)
    frequency_khz = _frequency_khz(row, kind, channel, findings)
    if ComponentKind.DISTANCE in PARTS_OF_KIND[kind] and kind not in NDB_KINDS:
        check_pairing(channel=channel, frequency_khz=frequency_khz, findings=findings)
    return Beacon(
        region_id=region_id,
        ident=checked_ident(row.cells["NAV_ID"], findings),
        name=checked_name(row.cells["NAME"], findings),
        kind=kind,
        frequency_khz=frequency_khz,
        channel=channel,
        position=position,
        elevation_ft=checked_elevation(row.number("ELEV"), findings),
        alignment=_alignment(row, kind, findings),
        components=tuple(_component(part, row, kind, position, findings) for part in PARTS_OF_KIND[kind]),
        voice={"Y": True, "N": False}.get(row.text("SIMUL_VOICE_FLAG")),
        remarks=_remarks(row, findings),
        source=SOURCE,
        external_key=findings.key,
    )


def _kind(row: Row) -> BeaconKind:
    published = row.required("NAV_TYPE")
    if published in KIND_OF_TYPE:
        return KIND_OF_TYPE[published]
    what = NOT_OFFERED.get(published, "not a beacon that guides along a route")
    raise RowProblem(f"The type {published[:30]} is {what}: not offered for guidance.", code="not-for-guidance")


def _frequency_khz(row: Row, kind: BeaconKind, channel: str, findings: Findings) -> int | None:
    published = row.number("FREQ")
    if published is None:
        if not channel:
            raise RowProblem("FREQ and CHAN are blank: nothing can be tuned.", code="frequency-unknown")
        try:
            paired_khz = vor_khz_for_channel(channel)
        except OutOfRange as problem:
            findings.warn("frequency-unknown", f"FREQ is blank. {problem.message}")
            return None
        findings.warn("frequency-from-channel", f"FREQ is blank; channel {channel} pairs with {paired_khz / 1000:.2f} MHz.")
        return checked_frequency(kind, paired_khz, findings)
    in_khz = published if kind in NDB_KINDS else published * 1000.0
    if abs(in_khz - round(in_khz)) > 1e-6:
        raise RowProblem(f"FREQ {row.text('FREQ')} is not a whole number of kHz.", code="frequency-out-of-band")
    return checked_frequency(kind, round(in_khz), findings)


def _alignment(row: Row, kind: BeaconKind, findings: Findings) -> Alignment:
    if ComponentKind.AZIMUTH not in PARTS_OF_KIND[kind]:
        return Alignment(kind=AlignmentKind.UNKNOWN)
    size_deg = row.number("MAG_VARN", lowest=0.0, highest=180.0)
    hemisphere = row.text("MAG_VARN_HEMIS")
    if size_deg is None or (hemisphere not in ("E", "W") and size_deg != 0.0):
        findings.warn("alignment-unknown", "MAG_VARN or its hemisphere is blank: radials can only be estimated.")
        return Alignment(kind=AlignmentKind.UNKNOWN, source=SOURCE)
    return Alignment(
        kind=AlignmentKind.MAGNETIC,
        declination_deg=-size_deg if hemisphere == "W" and size_deg else size_deg,
        year=row.whole("MAG_VARN_YEAR"),
        source=SOURCE,
    )


def _component(part: ComponentKind, row: Row, kind: BeaconKind, position: Position, findings: Findings) -> Component:
    return Component(
        kind=part,
        status=_status(part, row, kind, findings),
        service_class=_service_class(part, row, kind, findings),
        position=_dme_position(row, position, findings) if part is ComponentKind.DISTANCE else None,
        power_w=row.number("PWR_OUTPUT", lowest=0.0) if part is not ComponentKind.DISTANCE else None,
        restrictions="" if _restricted(part, row) else None,
        last_confirmed=_effective_date(row),
        source=SOURCE,
    )


def _restricted(part: ComponentKind, row: Row) -> bool:
    """The distance part has its own status where one is given."""
    own = row.text("TACAN_DME_STATUS") if part is ComponentKind.DISTANCE else ""
    return "RESTRICTED" in (own or row.text("NAV_STATUS"))


def _status(part: ComponentKind, row: Row, kind: BeaconKind, findings: Findings) -> ComponentStatus:
    """The distance part has its own status where one is given; a DME alone that one column shuts down is shut down."""
    station = row.required("NAV_STATUS")
    published = row.text("TACAN_DME_STATUS") if part is ComponentKind.DISTANCE else ""
    if kind is BeaconKind.DME and published and "SHUTDOWN" in station and "SHUTDOWN" not in published:
        findings.warn("status-contradicts", f"NAV_STATUS is {station}, TACAN_DME_STATUS is {published}: taken as out of service.")
        published = station
    published = published or station
    if published.startswith("OPERATIONAL"):
        return ComponentStatus.OPERATING
    if "SHUTDOWN" in published or "OUT OF SERVICE" in published:
        findings.warn("out-of-service", f"The {part.value} part is listed as {published}.")
        return ComponentStatus.OUT_OF_SERVICE
    if "DECOMMISSIONED" in published:
        return ComponentStatus.WITHDRAWN
    findings.warn("status-unknown", f"The status {published[:40]!r} of the {part.value} part is not known here.")
    return ComponentStatus.UNKNOWN


def _service_class(part: ComponentKind, row: Row, kind: BeaconKind, findings: Findings) -> ServiceClass | None:
    if part is ComponentKind.BEARING:
        return _ndb_class(row, findings)
    if part is ComponentKind.AZIMUTH and kind is BeaconKind.TACAN:
        return None  # no civil receiver uses it, and ALT_CODE is blank for every TACAN
    column, known = ("ALT_CODE", AZIMUTH_CLASSES) if part is ComponentKind.AZIMUTH else ("DME_SSV", DISTANCE_CLASSES)
    published = row.text(column)
    if published in known:
        return ServiceClass(published)
    findings.warn("class-unknown", f"{column} is {published or 'blank'}: no service class is known for the {part.value} part.")
    return None


def _ndb_class(row: Row, findings: Findings) -> ServiceClass | None:
    """Read MHW/LOM as MH: the first word is the station's power class; W and Z say voice and weather, LOM what else it serves for."""
    published = row.text("NDB_CLASS_CODE")
    service_class = NDB_CLASSES.get(published.split("/")[0].rstrip("WZ"))
    if service_class is None:
        findings.warn("class-unknown", f"NDB_CLASS_CODE is {published or 'blank'}: no service class is known for the bearing part.")
    return service_class


def _dme_position(row: Row, position: Position, findings: Findings) -> Position | None:
    lat_deg, lon_deg = row.number("TACAN_DME_LAT_DECIMAL"), row.number("TACAN_DME_LONG_DECIMAL")
    if lat_deg is None and lon_deg is None:
        return None
    return checked_dme_position(position, checked_position(lat_deg, lon_deg, findings, of="DME position"), findings)


def _effective_date(row: Row) -> date | None:
    published = row.text("EFF_DATE")
    try:
        return date.fromisoformat(published.replace("/", "-"))
    except ValueError:
        raise RowProblem(f"EFF_DATE is {published[:20]!r}; a date such as 2026/01/22 is needed.", code="not-a-date") from None


def _remarks(row: Row, findings: Findings) -> str:
    remarks = [f"{row.text('CITY').title()}, {row.text('STATE_CODE') or row.text('COUNTRY_CODE')}."]
    restricted = [column for column in ("NAV_STATUS", "TACAN_DME_STATUS") if "RESTRICTED" in row.text(column)]
    if restricted:
        findings.warn("restricted", "Listed as restricted: somewhere its signal is unusable, and the sectors are not in this file.")
        part = "DME" if restricted == ["TACAN_DME_STATUS"] else "station"
        remarks.append(
            f"RESTRICTED: part of this {part}'s coverage is unusable; the sectors are not loaded. Look them up in current publications."
        )
    if row.text("OPER_HOURS") not in FULL_TIME:
        findings.warn("hours-limited", f"Hours of operation: {row.text('OPER_HOURS') or 'not given'}.")
        remarks.append(f"Hours: {row.text('OPER_HOURS') or 'not given'}.")
    if "VFR ONLY" in row.text("NAV_STATUS"):
        remarks.append("Listed for VFR use only.")
    if row.text("PUBLIC_USE_FLAG") == "N":
        remarks.append("Not listed for public use.")
    return " ".join(remarks)
