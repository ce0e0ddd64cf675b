"""Tell by its header which format a table has, and read it. The file's name is never asked."""

from __future__ import annotations

from collections.abc import Callable

from server.errors import InputProblem
from server.exchange import beaconry_csv, nasr_navaids, ourairports_airfields, ourairports_navaids
from server.exchange.beaconry_readers import read_beaconry_airfields, read_beaconry_beacons, read_beaconry_checkpoints
from server.exchange.nasr_navaids import read_nasr_navaids
from server.exchange.ourairports_airfields import read_ourairports_airfields
from server.exchange.ourairports_navaids import read_ourairports_navaids
from server.exchange.reading import Reading
from server.exchange.table import decode_table, read_columns

Reader = Callable[..., Reading]

# What tells a format apart from its neighbours; the reader then checks that all its columns are there.
BEACON_FORMATS: tuple[tuple[str, set[str], Reader], ...] = (
    (ourairports_navaids.FORMAT_NAME, {"usageType", "frequency_khz"}, read_ourairports_navaids),
    (nasr_navaids.FORMAT_NAME, {"NAV_ID", "NAV_TYPE"}, read_nasr_navaids),
    (beaconry_csv.BEACON_FORMAT, {"kind", "frequency_khz"}, read_beaconry_beacons),
)
AIRFIELD_FORMATS: tuple[tuple[str, set[str], Reader], ...] = (
    (ourairports_airfields.FORMAT_NAME, {"iso_country", "latitude_deg", "type"}, read_ourairports_airfields),
    (beaconry_csv.AIRFIELD_FORMAT, {"ident", "lat_deg"}, read_beaconry_airfields),
)


def read_beacons(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read a beacon table of any known format. ``key_source`` owns rows without a key in our own; by default the file does."""
    reader = _reader(source, BEACON_FORMATS, "beacons", name=name)
    if reader is read_beaconry_beacons:
        return reader(source, region_id=region_id, name=name, key_source=key_source)
    return reader(source, region_id=region_id, name=name)


def read_airfields(source: bytes, *, region_id: int, name: str, key_source: str = "", runways: bytes | None = None) -> Reading:
    """Read an airfield table as ``read_beacons`` does; ``runways`` is the runway table that OurAirports keeps apart."""
    _refuse_beacons(source, name=name)
    reader = _reader(source, AIRFIELD_FORMATS, "airfields", name=name)
    if reader is read_ourairports_airfields:
        return reader(source, region_id=region_id, name=name, runways=runways)
    if runways is not None:
        raise InputProblem(f"{name} holds its own runways; the second table cannot be used with it.", code="runways-not-wanted", place=name)
    return reader(source, region_id=region_id, name=name, key_source=key_source)


def read_checkpoints(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read a checkpoint table."""
    return read_beaconry_checkpoints(source, region_id=region_id, name=name, key_source=key_source)


def _refuse_beacons(source: bytes, *, name: str) -> None:
    """Our own beacon table has all the columns that an airfield needs; its beacons must not become airfields."""
    columns = set(read_columns(decode_table(source, name=name, fallback_encoding="latin-1")))
    if any(telling <= columns for _, telling, _ in BEACON_FORMATS):
        raise InputProblem(f"{name} is a table of beacons, not of airfields. Load it as beacons.", code="beacons-not-airfields", place=name)


def _reader(source: bytes, formats: tuple[tuple[str, set[str], Reader], ...], what: str, *, name: str) -> Reader:
    columns = read_columns(decode_table(source, name=name, fallback_encoding="latin-1"))
    for _, telling, reader in formats:
        if telling <= set(columns):
            return reader
    known = ", ".join(f"{format_name} (by {' and '.join(sorted(telling))})" for format_name, telling, _ in formats)
    raise InputProblem(
        f"{name}, line 1: these columns belong to no known table of {what}: {', '.join(columns)[:200]}. Known: {known}.",
        code="format-not-known",
        place=f"{name}, line 1",
    )
