"""The form of a beacon: from typed text to a Beacon, and back."""

from __future__ import annotations

from server.errors import ProjectError
from server.exchange import Findings, checked_channel, checked_frequency, checked_ident
from server.navigation import Alignment, AlignmentKind
from server.radio import (
    Beacon,
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ServiceClass,
    UnusableSector,
)
from server.web.forms import FormReader, FormText, day_text, number_text

PARTS = tuple(ComponentKind)
NDB_KINDS = (BeaconKind.NDB, BeaconKind.NDB_DME)
VOICES = {"yes": True, "no": False, "": None}


def read_beacon(form: FormText, *, region_id: int, number: int | None = None) -> Beacon:
    """Read a beacon out of its form, or raise InputProblem with everything that is wrong."""
    reader = FormReader(form)
    kind = reader.required_choice("kind", "Kind", BeaconKind)
    beacon = Beacon(
        id=number,
        region_id=region_id,
        ident=_ident(reader),
        name=reader.text("name", "Name", longest=80, required=True),
        kind=kind,
        frequency_khz=_frequency_khz(reader, kind),
        channel=_channel(reader),
        position=reader.required_position("", "Position"),
        elevation_ft=reader.number("elevation_ft", "Elevation", unit="ft", lowest=-1_500, highest=29_100),
        antenna_height_ft=reader.number("antenna_height_ft", "Antenna height", unit="ft", lowest=0, highest=1_000),
        alignment=_alignment(reader),
        components=_components(reader),
        voice=VOICES.get(form.text("voice")),
        remarks=reader.text("remarks", "Remarks", longest=2_000),
        source=reader.text("source", "Source", longest=200),
    )
    reader.finish()
    return beacon


def beacon_form(beacon: Beacon) -> FormText:
    """Write a beacon into its form."""
    in_khz = beacon.kind in NDB_KINDS
    frequency = None if beacon.frequency_khz is None else beacon.frequency_khz if in_khz else beacon.frequency_khz / 1000
    fields = {
        "ident": beacon.ident,
        "name": beacon.name,
        "kind": beacon.kind.value,
        "frequency": number_text(frequency),
        "channel": beacon.channel,
        "lat": number_text(beacon.position.lat_deg),
        "lon": number_text(beacon.position.lon_deg),
        "elevation_ft": number_text(beacon.elevation_ft),
        "antenna_height_ft": number_text(beacon.antenna_height_ft),
        "alignment_kind": beacon.alignment.kind.value,
        "declination_deg": number_text(beacon.alignment.declination_deg),
        "alignment_year": number_text(beacon.alignment.year),
        "alignment_source": beacon.alignment.source,
        "voice": {True: "yes", False: "no", None: ""}[beacon.voice],
        "remarks": beacon.remarks,
        "source": beacon.source,
    }
    for part in beacon.components:
        fields |= _component_fields(part)
    return FormText(fields=fields | _limit_fields(beacon.components))


def _ident(reader: FormReader) -> str:
    text = reader.text("ident", "Ident", longest=10, required=True)
    try:
        return checked_ident(text, Findings(0)) if text else ""
    except ProjectError as problem:
        reader.refuse("ident", f"Ident: {problem.message}")
        return ""


def _frequency_khz(reader: FormReader, kind: BeaconKind) -> int | None:
    unit, khz = ("kHz", 1.0) if kind in NDB_KINDS else ("MHz", 1000.0)
    given = reader.number("frequency", "Frequency", unit=unit, lowest=0)
    if given is None:
        return None
    frequency_khz = round(given * khz)
    if abs(frequency_khz - given * khz) > 1e-6:
        reader.refuse("frequency", f"Frequency: {given:g} {unit} is not a whole number of kHz. For an NDB give kHz, for all others MHz.")
        return None
    try:
        return checked_frequency(kind, frequency_khz, Findings(0))
    except ProjectError as problem:
        reader.refuse("frequency", f"Frequency: {problem.message}")
        return None


def _channel(reader: FormReader) -> str:
    try:
        return checked_channel(reader.text("channel", "Channel", longest=10))
    except ProjectError as problem:
        reader.refuse("channel", f"Channel: {problem.message}")
        return ""


def _alignment(reader: FormReader) -> Alignment:
    kind = reader.required_choice("alignment_kind", "Alignment", AlignmentKind)
    declination_deg = reader.number("declination_deg", "Declination", unit="degrees, east positive", lowest=-180, highest=180)
    if kind is AlignmentKind.TRUE and declination_deg not in (None, 0.0):
        reader.refuse("declination_deg", "Declination: a station aligned to true north has 0. Leave it empty or choose another alignment.")
    if kind is AlignmentKind.UNKNOWN and declination_deg is not None:
        reader.refuse("declination_deg", "Declination: you gave one, so choose what it is counted from: magnetic, true or grid.")
    if kind in (AlignmentKind.MAGNETIC, AlignmentKind.GRID) and declination_deg is None:
        reader.refuse("declination_deg", "Declination: please give it in degrees, east positive, or choose alignment unknown.")
    return Alignment(
        kind=kind,
        declination_deg=0.0 if kind is AlignmentKind.TRUE else declination_deg,
        year=reader.whole_number("alignment_year", "Year of the alignment", lowest=1940, highest=2200),
        source=reader.text("alignment_source", "Source of the alignment", longest=200),
    )


def _components(reader: FormReader) -> tuple[Component, ...]:
    coverage, unusable, outages = _coverage(reader), _unusable(reader), _outages(reader)
    present = [part for part in PARTS if reader.checked(f"{part}.present")]
    if not present:
        reader.refuse(f"{PARTS[0]}.present", "Parts: tick at least one part that this station has.")
    for table, rows in (("coverage", coverage), ("unusable", unusable), ("outages", outages)):
        for row, part, _limit in rows:
            if part not in present:
                reader.refuse(f"{table}.{row}.part", f'Row {row + 1}: the station has no part "{part}". Tick that part, or change the row.')
    return tuple(
        Component(
            kind=part,
            status=reader.choice(f"{part}.status", f"Status of the {part} part", ComponentStatus) or ComponentStatus.UNKNOWN,
            service_class=reader.choice(f"{part}.class", f"Class of the {part} part", ServiceClass),
            position=reader.position(f"{part}.", f"Position of the {part} part", required=False),
            elevation_ft=reader.number(f"{part}.elevation_ft", f"Elevation of the {part} part", unit="ft", lowest=-1_500, highest=29_100),
            coverage=tuple(limit for _row, owner, limit in coverage if owner is part),
            unusable=tuple(limit for _row, owner, limit in unusable if owner is part),
            outages=tuple(limit for _row, owner, limit in outages if owner is part),
            power_w=reader.number(f"{part}.power_w", f"Power of the {part} part", unit="W", lowest=0, highest=100_000),
            restrictions=_restrictions(reader, part),
            last_confirmed=reader.day(f"{part}.last_confirmed", f"Last confirmed, {part} part"),
            source=reader.text(f"{part}.source", f"Source of the {part} part", longest=200),
        )
        for part in present
    )


def _restrictions(reader: FormReader, part: ComponentKind) -> str | None:
    """A reason says why none matters here, so it needs the mark that some are published."""
    reason = reader.text(f"{part}.restrictions", f"Why no restriction of the {part} part matters here", longest=300)
    if reader.form.text(f"{part}.restricted"):
        return reason
    if reason:
        words = "You say why no restriction matters, but not that the part is published as restricted. Tick that too, or empty this field."
        reader.refuse(f"{part}.restrictions", words)
    return None


def _filled(reader: FormReader, table: str, names: tuple[str, ...]) -> list[tuple[int, str, ComponentKind]]:
    """The rows of a table that hold anything: number, prefix of their fields, and the part they belong to."""
    rows = []
    for row in reader.form.rows(table, spare=0):
        prefix = f"{table}.{row}."
        if any(reader.form.text(prefix + name).strip() for name in names):
            part = reader.required_choice(f"{prefix}part", f"Row {row + 1}, part", ComponentKind)
            rows.append((row, prefix, part))
    return rows


def _radials(reader: FormReader, prefix: str) -> dict[str, float]:
    return {
        "from_radial_deg": reader.required_number(f"{prefix}from", "From radial", unit="degrees", lowest=0, highest=360),
        "to_radial_deg": reader.required_number(f"{prefix}to", "To radial", unit="degrees", lowest=0, highest=360),
    }


def _coverage(reader: FormReader) -> list[tuple[int, ComponentKind, CoverageSector]]:
    return [
        (
            row,
            part,
            CoverageSector(
                **_radials(reader, prefix),
                range_nm=reader.required_number(f"{prefix}range", "Range", unit="NM", lowest=0.1, highest=400),
                lowest_altitude_ft=reader.number(f"{prefix}lowest", "Lowest altitude", unit="ft", lowest=-1_500, highest=100_000),
                highest_altitude_ft=reader.number(f"{prefix}highest", "Highest altitude", unit="ft", lowest=-1_500, highest=100_000),
            ),
        )
        for row, prefix, part in _filled(reader, "coverage", ("from", "to", "range", "lowest", "highest"))
    ]


def _unusable(reader: FormReader) -> list[tuple[int, ComponentKind, UnusableSector]]:
    return [
        (
            row,
            part,
            UnusableSector(
                **_radials(reader, prefix),
                beyond_nm=reader.number(f"{prefix}beyond", "Beyond", unit="NM", lowest=0, highest=400),
                within_nm=reader.number(f"{prefix}within", "Within", unit="NM", lowest=0, highest=400),
                below_altitude_ft=reader.number(f"{prefix}below", "Below", unit="ft", lowest=-1_500, highest=100_000),
                source=reader.text(f"{prefix}source", "Source", longest=200),
            ),
        )
        for row, prefix, part in _filled(reader, "unusable", ("from", "to", "beyond", "within", "below", "source"))
    ]


def _outages(reader: FormReader) -> list[tuple[int, ComponentKind, Outage]]:
    outages = []
    for row, prefix, part in _filled(reader, "outages", ("first", "last", "reason")):
        first, last = reader.day(f"{prefix}first", "First day"), reader.day(f"{prefix}last", "Last day")
        if first is not None and last is not None and last < first:
            reader.refuse(f"{prefix}last", f"Last day: {last} is before the first day, {first}.")
        reason = reader.text(f"{prefix}reason", "Reason", longest=200)
        outages.append((row, part, Outage(first_day=first, last_day=last, reason=reason)))
    return outages


def _component_fields(part: Component) -> dict[str, str]:
    return {
        f"{part.kind}.present": "yes",
        f"{part.kind}.status": part.status.value,
        f"{part.kind}.class": "" if part.service_class is None else part.service_class.value,
        f"{part.kind}.lat": number_text(part.position.lat_deg if part.position else None),
        f"{part.kind}.lon": number_text(part.position.lon_deg if part.position else None),
        f"{part.kind}.elevation_ft": number_text(part.elevation_ft),
        f"{part.kind}.power_w": number_text(part.power_w),
        f"{part.kind}.restricted": "" if part.restrictions is None else "yes",
        f"{part.kind}.restrictions": part.restrictions or "",
        f"{part.kind}.last_confirmed": day_text(part.last_confirmed),
        f"{part.kind}.source": part.source,
    }


def _limit_fields(parts: tuple[Component, ...]) -> dict[str, str]:
    tables: dict[str, list[dict[str, str]]] = {"coverage": [], "unusable": [], "outages": []}
    for part in parts:
        owner = {"part": part.kind.value}
        for sector in part.coverage:
            limits = {"lowest": number_text(sector.lowest_altitude_ft), "highest": number_text(sector.highest_altitude_ft)}
            tables["coverage"].append(owner | _radial_fields(sector) | limits | {"range": number_text(sector.range_nm)})
        for barred in part.unusable:
            limits = {"beyond": number_text(barred.beyond_nm), "within": number_text(barred.within_nm)}
            rest = {"below": number_text(barred.below_altitude_ft), "source": barred.source}
            tables["unusable"].append(owner | _radial_fields(barred) | limits | rest)
        for outage in part.outages:
            days = {"first": day_text(outage.first_day), "last": day_text(outage.last_day)}
            tables["outages"].append(owner | days | {"reason": outage.reason})
    return {
        f"{table}.{row}.{name}": text for table, rows in tables.items() for row, fields in enumerate(rows) for name, text in fields.items()
    }


def _radial_fields(sector: CoverageSector | UnusableSector) -> dict[str, str]:
    return {"from": number_text(sector.from_radial_deg), "to": number_text(sector.to_radial_deg)}
