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
CHECKPOINT_FORMATS: tuple[tuple[str, set[str], Reader], ...] = (
    (beaconry_csv.CHECKPOINT_FORMAT, {"feature", "lat_deg"}, read_beaconry_checkpoints),
)
FORMATS = {"beacons": BEACON_FORMATS, "airfields": AIRFIELD_FORMATS, "checkpoints": CHECKPOINT_FORMATS}
"""In the order in which a table is tried that has the columns of several: our own beacons have all that an airfield needs."""


def read_beacons(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read a beacon table of any known format. ``key_source`` is the source of rows without one in our own."""
    reader = _reader(source, "beacons", name=name)
    if reader is read_beaconry_beacons:
        return reader(source, region_id=region_id, name=name, key_source=key_source)
    return reader(source, region_id=region_id, name=name)


def read_airfields(source: bytes, *, region_id: int, name: str, key_source: str = "", runways: bytes | None = None) -> Reading:
    """Read an airfield table as ``read_beacons`` does; ``runways`` is the runway table that OurAirports keeps apart."""
    reader = _reader(source, "airfields", name=name)
    if reader is read_ourairports_airfields:
        return reader(source, region_id=region_id, name=name, runways=runways)
    if runways is not None:
        raise InputProblem(f"{name} holds its own runways; the second table cannot be used with it.", code="runways-not-wanted", place=name)
    return reader(source, region_id=region_id, name=name, key_source=key_source)


def read_checkpoints(source: bytes, *, region_id: int, name: str, key_source: str = "") -> Reading:
    """Read a checkpoint table as ``read_beacons`` does."""
    _refuse_another_kind(_columns(source, name=name), "checkpoints", name=name)
    return read_beaconry_checkpoints(source, region_id=region_id, name=name, key_source=key_source)


def _reader(source: bytes, what: str, *, name: str) -> Reader:
    columns = _columns(source, name=name)
    _refuse_another_kind(columns, what, name=name)
    for _, telling, reader in FORMATS[what]:
        if telling <= set(columns):
            return reader
    known = ", ".join(f"{format_name} (by {' and '.join(sorted(telling))})" for format_name, telling, _ in FORMATS[what])
    raise InputProblem(
        f"{name}, line 1: these columns belong to no known table of {what}: {', '.join(columns)[:200]}. Known: {known}.",
        code="format-not-known",
        place=f"{name}, line 1",
    )


def _columns(source: bytes, *, name: str) -> tuple[str, ...]:
    return read_columns(decode_table(source, name=name, fallback_encoding="latin-1"), name=name)


def _refuse_another_kind(columns: tuple[str, ...], what: str, *, name: str) -> None:
    """Refuse a table that lacks what tells ``what`` and has what tells another kind. Beacons are never taken for anything else."""
    kinds = [kind for kind, formats in FORMATS.items() if any(telling <= set(columns) for _, telling, _ in formats)]
    if kinds and kinds[0] != what and (kinds[0] == "beacons" or what not in kinds):
        raise InputProblem(f"{name} is a table of {kinds[0]}, not of {what}. Load it as {kinds[0]}.", code="format-not-known", place=name)
