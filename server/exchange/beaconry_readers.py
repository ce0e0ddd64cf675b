"""Read our own tables. The format is written down in beaconry_csv, which also writes them."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from server.exchange.beacon_checks import (
    NDB_KINDS,
    PARTS_OF_KIND,
    check_pairing,
    checked_channel,
    checked_dme_position,
    checked_elevation,
    checked_field_ident,
    checked_frequency,
    checked_ident,
    checked_name,
    checked_position,
    says_closed,
)
from server.exchange.beaconry_csv import (
    ABSENT,
    AIRFIELD_FORMAT,
    BEACON_FORMAT,
    CHECKPOINT_FORMAT,
    PART_COLUMNS,
    REQUIRED_AIRFIELD_COLUMNS,
    REQUIRED_BEACON_COLUMNS,
    REQUIRED_CHECKPOINT_COLUMNS,
    RESTRICTED,
)
from server.exchange.limits_text import Entries, read_coverage, read_outages, read_runways, read_unusable
from server.exchange.reading import Findings, Reading, RowProblem
from server.exchange.rows import read_keyed_rows
from server.exchange.table import Row, decode_table, read_table
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.places import Airfield, Checkpoint
from server.navigation.position import Position
from server.radio.beacon import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, ServiceClass

CLASSES_OF_PART = {
    ComponentKind.AZIMUTH: (ServiceClass.T, ServiceClass.L, ServiceClass.H, ServiceClass.VL, ServiceClass.VH),
    ComponentKind.DISTANCE: (ServiceClass.T, ServiceClass.L, ServiceClass.H, ServiceClass.DL, ServiceClass.DH),
    ComponentKind.BEARING: (ServiceClass.LOCATOR, ServiceClass.MH, ServiceClass.NDB_H, ServiceClass.HH),
}
Word = TypeVar("Word", bound=StrEnum)


def read_beaconry_beacons(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read our beacon table; every row becomes a Beacon or a RefusedRow. ``key_source`` is the source of rows that name none."""
    table = read_table(
        decode_table(source, name=name),
        name=name,
        required=REQUIRED_BEACON_COLUMNS,
        format_name=BEACON_FORMAT,
        may_be_empty=bool(key_source),
    )

    def told_by(row: Row) -> str:
        kind, ident = row.text("kind").upper(), row.text("ident").upper()
        return f"{kind} {ident} {row.text('name')}" if key_source else f"{kind}|{ident}"

    return read_keyed_rows(
        table,
        format_name=BEACON_FORMAT,
        key_source=key_source,
        told_by=told_by,
        key_columns=("key", "kind", "ident", "name"),
        value_of=lambda row, findings: _beacon(row, findings, region_id=region_id),
    )


def read_beaconry_airfields(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read our airfield table; every row becomes an Airfield or a RefusedRow. ``key_source`` is the source of rows that name none."""
    table = read_table(
        decode_table(source, name=name),
        name=name,
        required=REQUIRED_AIRFIELD_COLUMNS,
        format_name=AIRFIELD_FORMAT,
        may_be_empty=bool(key_source),
    )

    def told_by(row: Row) -> str:
        ident = row.text("ident").upper()
        return f"{ident} {row.text('name')}" if key_source else ident

    return read_keyed_rows(
        table,
        format_name=AIRFIELD_FORMAT,
        key_source=key_source,
        told_by=told_by,
        key_columns=("key", "ident", "name"),
        value_of=lambda row, findings: Airfield(
            ident=checked_field_ident(row.cells["ident"], findings),
            runways=read_runways(row.text("runways")),
            time_zone=_time_zone(row, findings),
            closed=_yes(row, "closed") or False,
            **_place_fields(row, findings, region_id=region_id),
        ),
    )


def read_beaconry_checkpoints(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read our checkpoint table; every row becomes a Checkpoint or a RefusedRow. ``key_source`` is the source of rows that name none."""
    table = read_table(
        decode_table(source, name=name),
        name=name,
        required=REQUIRED_CHECKPOINT_COLUMNS,
        format_name=CHECKPOINT_FORMAT,
        may_be_empty=bool(key_source),
    )

    def told_by(row: Row) -> str:
        return f"{row.text('name')} {row.text('feature')}" if key_source else row.text("name")

    return read_keyed_rows(
        table,
        format_name=CHECKPOINT_FORMAT,
        key_source=key_source,
        told_by=told_by,
        key_columns=("key", "name", "feature"),
        value_of=lambda row, findings: Checkpoint(feature=row.text("feature"), **_place_fields(row, findings, region_id=region_id)),
    )


def _place_fields(row: Row, findings: Findings, *, region_id: int) -> dict:
    row.required("name")
    return {
        "region_id": region_id,
        "name": checked_name(row.cells["name"], findings),
        "position": checked_position(row.number("lat_deg"), row.number("lon_deg"), findings),
        "elevation_ft": checked_elevation(row.number("elevation_ft"), findings),
        "remarks": row.text("remarks"),
        "source": row.text("source"),
        "external_key": findings.key,
    }


def _beacon(row: Row, findings: Findings, *, region_id: int) -> Beacon:
    kind = _word(row, "kind", BeaconKind)
    if kind is None:
        raise RowProblem("kind is blank, and it is needed.", code="value-missing")
    shared = _place_fields(row, findings, region_id=region_id)
    frequency_khz = row.whole("frequency_khz")
    if frequency_khz is None:
        findings.warn("frequency-unknown", "No frequency is given: the station cannot be tuned.")
    else:
        frequency_khz = checked_frequency(kind, frequency_khz, findings)
    channel = checked_channel(row.text("channel"))
    if channel and kind not in NDB_KINDS:
        check_pairing(channel=channel, frequency_khz=frequency_khz, findings=findings)
    return Beacon(
        ident=checked_ident(row.cells["ident"], findings),
        kind=kind,
        frequency_khz=frequency_khz,
        channel=channel,
        antenna_height_ft=row.number("antenna_height_ft", lowest=0.0, highest=2_000.0),
        alignment=_alignment(row),
        components=_components(row, kind, shared["name"], shared["position"], findings),
        voice=_yes(row, "voice"),
        **shared,
    )


def _alignment(row: Row) -> Alignment:
    declination_deg = row.number("alignment_deg", lowest=-180.0, highest=180.0)
    kind = _word(row, "alignment_kind", AlignmentKind)
    if kind is None:
        kind = AlignmentKind.UNKNOWN if declination_deg is None else AlignmentKind.MAGNETIC
    if kind is AlignmentKind.UNKNOWN and declination_deg is not None:
        raise RowProblem(
            "alignment_kind is unknown, and yet alignment_deg is given. Say magnetic, true or grid.", code="alignment-contradicts"
        )
    if kind in (AlignmentKind.MAGNETIC, AlignmentKind.GRID) and declination_deg is None:
        raise RowProblem(f"alignment_kind is {kind.value}, and alignment_deg is blank. Say unknown if it is.", code="alignment-contradicts")
    if kind is AlignmentKind.TRUE and declination_deg not in (None, 0.0):
        raise RowProblem(f"alignment_kind is true, and alignment_deg is {declination_deg:g}; it must be 0.", code="alignment-contradicts")
    return Alignment(
        kind=kind,
        declination_deg=0.0 if kind is AlignmentKind.TRUE else declination_deg,
        year=_year(row),
        source=row.text("alignment_source"),
    )


def _year(row: Row) -> int | None:
    row.number("alignment_year", lowest=1900.0, highest=2100.0)
    return row.whole("alignment_year")


def _components(row: Row, kind: BeaconKind, name: str, position: Position, findings: Findings) -> tuple[Component, ...]:
    coverage, unusable, outages = (
        read_coverage(row.text("coverage")),
        read_unusable(row.text("unusable")),
        read_outages(row.text("outages")),
    )
    present = [part for part in PARTS_OF_KIND[kind] if row.text(f"{part.value}_status").lower() != ABSENT]
    _refuse_data_of_other_parts(row, kind, present, (coverage, unusable, outages))
    if says_closed(name):
        findings.warn("closed-by-name", f"The name {name!r} says that the station has gone; its status is kept as written.")
    return tuple(
        Component(
            kind=part,
            status=_word(row, f"{part.value}_status", ComponentStatus) or ComponentStatus.UNKNOWN,
            service_class=_service_class(row, part),
            position=_part_position(row, part, position, findings),
            elevation_ft=checked_elevation(row.number(f"{part.value}_elevation_ft"), findings),
            coverage=coverage.get(part, ()),
            unusable=unusable.get(part, ()),
            outages=outages.get(part, ()),
            power_w=row.number(f"{part.value}_power_w", lowest=0.0, highest=1_000_000.0),
            restrictions=_restrictions(row, part),
            last_confirmed=_day(row, f"{part.value}_last_confirmed") or _day(row, "last_confirmed"),
            source=row.text(f"{part.value}_source"),
        )
        for part in present
    )


def _refuse_data_of_other_parts(row: Row, kind: BeaconKind, present: list[ComponentKind], limits: tuple[Entries, ...]) -> None:
    for part in ComponentKind:
        if part in present:
            continue
        columns = [f"{part.value}_{column}" for column in PART_COLUMNS]
        filled = [column for column in columns if row.text(column) and row.text(column).lower() != ABSENT]
        if filled or any(part in entries for entries in limits):
            where = filled[0] if filled else "coverage, unusable or outages"
            raise RowProblem(f"{where} speaks of {part.value}, which this {kind.value} does not have.", code="part-not-there")


def _restrictions(row: Row, part: ComponentKind) -> str | None:
    words = row.text(f"{part.value}_restrictions")
    return "" if words.lower() == RESTRICTED else words or None


def _service_class(row: Row, part: ComponentKind) -> ServiceClass | None:
    service_class = _word(row, f"{part.value}_class", ServiceClass)
    if service_class is not None and service_class not in CLASSES_OF_PART[part]:
        allowed = ", ".join(CLASSES_OF_PART[part])
        raise RowProblem(f"{part.value}_class is {service_class.value}; for this part it can be {allowed}.", code="class-of-another-part")
    return service_class


def _part_position(row: Row, part: ComponentKind, station: Position, findings: Findings) -> Position | None:
    lat_deg, lon_deg = row.number(f"{part.value}_lat_deg"), row.number(f"{part.value}_lon_deg")
    if lat_deg is None and lon_deg is None:
        return None
    position = checked_position(lat_deg, lon_deg, findings, of=f"{part.value} position")
    return checked_dme_position(station, position, findings) if part is ComponentKind.DISTANCE else position


def _word(row: Row, column: str, words: type[Word]) -> Word | None:
    """Return the cell as one of the words, in upper or lower case; None when it is blank."""
    given = row.text(column)
    if not given:
        return None
    for word in words:
        if given.casefold() == word.value.casefold():
            return word
    raise RowProblem(f"{column} is {given[:30]!r}; it can be {', '.join(words)}.", code="word-not-known")


def _yes(row: Row, column: str) -> bool | None:
    given = row.text(column).lower()
    if given not in ("", "yes", "no"):
        raise RowProblem(f"{column} is {given[:20]!r}; it can be yes, no or blank.", code="word-not-known")
    return None if not given else given == "yes"


def _day(row: Row, column: str) -> date | None:
    given = row.text(column)
    if not given:
        return None
    try:
        return date.fromisoformat(given)
    except ValueError:
        raise RowProblem(f"{column} is {given[:20]!r}; a date such as 2026-05-01 is needed.", code="not-a-date") from None


def _time_zone(row: Row, findings: Findings) -> str:
    given = row.text("time_zone")
    if given:
        try:
            ZoneInfo(given)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            findings.warn("time-zone-unknown", f"time_zone {given[:40]!r} is no IANA name such as Atlantic/Azores; it is left unknown.")
            return ""
    return given
