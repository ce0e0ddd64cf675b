"""Our own tables of beacons, airfields and checkpoints: plain CSV that a person can write by hand, read and written without loss.

Comma-separated, UTF-8 (a byte order mark is allowed), any line ends, first row the column names below in any order; columns that are not
known are ignored, columns that are not required may be missing, a blank cell means "not known". Units are in the names. Yes and no are
written yes and no, dates 2026-05-01.

Beacons (required: ident, name, kind, frequency_khz, lat_deg, lon_deg)

    key                  stable name of the row, SOURCE:ANYTHING; without SOURCE: it is of the source own; blank makes own:KIND|IDENT
    ident, name, kind    kind: VOR, VOR/DME, VORTAC, TACAN, DME, NDB, NDB/DME
    frequency_khz        whole kHz for every kind: 114300 is 114.30 MHz, 373 an NDB; for DME and TACAN the paired VHF frequency
    channel              51X, 51Y
    lat_deg, lon_deg     decimal degrees WGS 84, north and east positive
    elevation_ft, antenna_height_ft
    alignment_kind       magnetic, true, grid, unknown (blank: magnetic when alignment_deg is given, else unknown)
    alignment_deg, alignment_year, alignment_source    the station's own declination, east positive
    azimuth_*, distance_*, bearing_*    one set for each part the kind has:
        _status          operating, out of service, withdrawn, unknown (blank), or absent: the station lacks this part
        _class           T L H VL VH (azimuth), T L H DL DH (distance), locator, MH, NDB H, HH (bearing)
        _lat_deg, _lon_deg, _elevation_ft    only when the part stands elsewhere
        _power_w, _last_confirmed, _source
        _restrictions    blank: none are published; restricted: some are, and they are not read; else why none of them matters here
    coverage, unusable, outages         see limits_text
    last_confirmed       for every part that has no date of its own
    voice, source, remarks

Airfields (required: ident, name, lat_deg, lon_deg): key (blank makes own:IDENT), ident, name, lat_deg, lon_deg, elevation_ft, runways (see
limits_text), time_zone (IANA name), closed, source, remarks.

Checkpoints (required: name, feature, lat_deg, lon_deg): key (blank makes own:NAME), name, feature, lat_deg, lon_deg, elevation_ft, source,
remarks.

The part of a key before its first colon names the source of the row. By its key a row is known again, in whatever file it comes: the same
rows under another file name change nothing. A table is the complete list of every source its keys name, and what it no longer names has
gone; but not of own, since people keep several tables, nor of ourairports and nasr, which have readers of their own: nothing of these has
gone because a table does not name it. To take out a row of own, remove it on its page.

Rows without a key that come to the same one (two NDBs of one ident, two checkpoints of one name) are all refused: they need a key column.
A row of own that lies more than 5 NM from the stored one of its key is another thing, and is refused too.

In a region folder the source of rows that name none is the region's short name, and the table is its complete list; a blank key makes
REGION:KIND IDENT NAME, REGION:IDENT NAME, REGION:NAME FEATURE.

Written tables quote every cell. A reader that honours quotes then keeps NAN, MAR1 or 1E5 as text; a spreadsheet that guesses must be told
to import the columns as text. A cell that begins with = + - or @ is written as it is, since changing it would change the data: do not open
a table from a stranger in a program that runs formulas.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from server.exchange.beacon_checks import PARTS_OF_KIND
from server.exchange.limits_text import plain_number, write_coverage, write_outages, write_runways, write_unusable
from server.navigation.places import Airfield, Checkpoint
from server.radio.beacon import Beacon, Component, ComponentKind

BEACON_FORMAT = "Beaconry beacons"
AIRFIELD_FORMAT = "Beaconry airfields"
CHECKPOINT_FORMAT = "Beaconry checkpoints"

REQUIRED_BEACON_COLUMNS = ("ident", "name", "kind", "frequency_khz", "lat_deg", "lon_deg")
REQUIRED_AIRFIELD_COLUMNS = ("ident", "name", "lat_deg", "lon_deg")
REQUIRED_CHECKPOINT_COLUMNS = ("name", "feature", "lat_deg", "lon_deg")

PART_COLUMNS = ("status", "class", "lat_deg", "lon_deg", "elevation_ft", "power_w", "restrictions", "last_confirmed", "source")
BEACON_COLUMNS = (
    "key",
    "ident",
    "name",
    "kind",
    "frequency_khz",
    "channel",
    "lat_deg",
    "lon_deg",
    "elevation_ft",
    "antenna_height_ft",
    "alignment_kind",
    "alignment_deg",
    "alignment_year",
    "alignment_source",
    *(f"{part.value}_{column}" for part in ComponentKind for column in PART_COLUMNS),
    "coverage",
    "unusable",
    "outages",
    "voice",
    "source",
    "remarks",
)
AIRFIELD_COLUMNS = (
    "key",
    "ident",
    "name",
    "lat_deg",
    "lon_deg",
    "elevation_ft",
    "runways",
    "time_zone",
    "closed",
    "source",
    "remarks",
)
CHECKPOINT_COLUMNS = ("key", "name", "feature", "lat_deg", "lon_deg", "elevation_ft", "source", "remarks")

ABSENT = "absent"
RESTRICTED = "restricted"


def write_beacons(beacons: Iterable[Beacon]) -> bytes:
    """Write beacons as a table that read_beaconry_beacons reads back without loss; without any, as an empty form to fill in."""
    return _written(BEACON_COLUMNS, (dict(_beacon_cells(beacon)) for beacon in beacons))


def write_airfields(airfields: Iterable[Airfield]) -> bytes:
    """Write airfields as a table that read_beaconry_airfields reads back without loss."""
    return _written(
        AIRFIELD_COLUMNS,
        (
            {
                **_place_cells(airfield),
                "ident": airfield.ident,
                "runways": write_runways(airfield.runways),
                "time_zone": airfield.time_zone,
                "closed": _yes_or_no(airfield.closed),
            }
            for airfield in airfields
        ),
    )


def write_checkpoints(checkpoints: Iterable[Checkpoint]) -> bytes:
    """Write checkpoints as a table that read_beaconry_checkpoints reads back without loss."""
    return _written(CHECKPOINT_COLUMNS, ({**_place_cells(checkpoint), "feature": checkpoint.feature} for checkpoint in checkpoints))


def _written(columns: tuple[str, ...], rows: Iterable[dict[str, str]]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, columns, restval="", quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode("utf-8")


def _place_cells(place: Beacon | Airfield | Checkpoint) -> dict[str, str]:
    return {
        "key": place.external_key,
        "name": place.name,
        "lat_deg": plain_number(place.position.lat_deg),
        "lon_deg": plain_number(place.position.lon_deg),
        "elevation_ft": _number(place.elevation_ft),
        "source": place.source,
        "remarks": place.remarks,
    }


def _beacon_cells(beacon: Beacon) -> Iterator[tuple[str, str]]:
    yield from _place_cells(beacon).items()
    yield "ident", beacon.ident
    yield "kind", beacon.kind.value
    yield "frequency_khz", _number(beacon.frequency_khz)
    yield "channel", beacon.channel
    yield "antenna_height_ft", _number(beacon.antenna_height_ft)
    yield "alignment_kind", beacon.alignment.kind.value
    yield "alignment_deg", _number(beacon.alignment.declination_deg)
    yield "alignment_year", _number(beacon.alignment.year)
    yield "alignment_source", beacon.alignment.source
    for part in beacon.components:
        yield from _part_cells(part)
    for kind in PARTS_OF_KIND[beacon.kind]:
        if beacon.component(kind) is None:
            yield f"{kind.value}_status", ABSENT
    yield "coverage", write_coverage((part.kind, part.coverage) for part in beacon.components)
    yield "unusable", write_unusable((part.kind, part.unusable) for part in beacon.components)
    yield "outages", write_outages((part.kind, part.outages) for part in beacon.components)
    yield "voice", "" if beacon.voice is None else _yes_or_no(beacon.voice)


def _part_cells(part: Component) -> Iterator[tuple[str, str]]:
    name = part.kind.value
    yield f"{name}_status", part.status.value
    yield f"{name}_class", part.service_class.value if part.service_class else ""
    if part.position is not None:
        yield f"{name}_lat_deg", plain_number(part.position.lat_deg)
        yield f"{name}_lon_deg", plain_number(part.position.lon_deg)
    yield f"{name}_elevation_ft", _number(part.elevation_ft)
    yield f"{name}_power_w", _number(part.power_w)
    if part.restrictions is not None:
        yield f"{name}_restrictions", part.restrictions or RESTRICTED
    yield f"{name}_last_confirmed", part.last_confirmed.isoformat() if part.last_confirmed else ""
    yield f"{name}_source", part.source


def _number(number: float | None) -> str:
    return "" if number is None else plain_number(number)


def _yes_or_no(answer: bool) -> str:
    return "yes" if answer else "no"
