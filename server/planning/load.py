"""Load a table of beacons, airfields or checkpoints into a region: what would change, and then, in one transaction, the change.

A row is known again by its external key, whose first part names the source. A file says of which sources it is the complete list: what
they no longer name is removed, or kept and marked when a route still uses it. Rows made by hand, and of other sources, are never touched.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace

from server.exchange import read_airfields, read_beacons, read_checkpoints
from server.persistence import Library, LoadRecord, Work
from server.planning.load_comparison import Comparison, TableToLoad, compare_with_region, shelf_of
from server.planning.load_report import LoadReport, Place, changes_between, label_of
from server.planning.materials import utc_now
from server.radio.beacon import Beacon, ComponentStatus


def load_beacons(
    library: Library, *, region_id: int, content: bytes, source_name: str, dry_run: bool, accept_shrink: bool = False
) -> LoadReport:
    """Load a beacon table of any known format, or with ``dry_run`` only report what it would change.

    Raises
    ------
    InputProblem
        The file is no table of beacons, or (unless ``accept_shrink``) has less than half of the rows its source had before.
    """
    reading = read_beacons(content, region_id=region_id, name=source_name)
    table = TableToLoad(what="beacons", reading=reading, content=content, source_name=source_name, accept_shrink=accept_shrink)
    return _load(library, table, region_id=region_id, dry_run=dry_run)


def load_airfields(
    library: Library,
    *,
    region_id: int,
    content: bytes,
    source_name: str,
    dry_run: bool,
    accept_shrink: bool = False,
    runways: bytes | None = None,
) -> LoadReport:
    """Load an airfield table as ``load_beacons`` does; ``runways`` is the runway table that OurAirports keeps apart."""
    reading = read_airfields(content, region_id=region_id, name=source_name, runways=runways)
    table = TableToLoad(what="airfields", reading=reading, content=content, source_name=source_name, accept_shrink=accept_shrink)
    return _load(library, table, region_id=region_id, dry_run=dry_run)


def load_checkpoints(
    library: Library, *, region_id: int, content: bytes, source_name: str, dry_run: bool, accept_shrink: bool = False
) -> LoadReport:
    """Load a checkpoint table as ``load_beacons`` does."""
    reading = read_checkpoints(content, region_id=region_id, name=source_name)
    table = TableToLoad(what="checkpoints", reading=reading, content=content, source_name=source_name, accept_shrink=accept_shrink)
    return _load(library, table, region_id=region_id, dry_run=dry_run)


def _load(library: Library, table: TableToLoad, *, region_id: int, dry_run: bool) -> LoadReport:
    if dry_run:
        with library.read() as work:
            return _report(table, compare_with_region(work, table, region_id), dry_run=True)
    with library.begin() as work:
        return store_table(work, table, region_id=region_id)


def store_table(work: Work, table: TableToLoad, *, region_id: int) -> LoadReport:
    """Make a region follow a table. The caller owns the transaction."""
    comparison = compare_with_region(work, table, region_id)
    report = _report(table, comparison, dry_run=False)
    _apply(shelf_of(work, table.what), comparison)
    work.loads.add(_record(table, report, region_id=region_id))
    return report


def _apply(shelf, comparison: Comparison) -> None:
    shelf.remove_many(place.id for place in comparison.gone)
    for place in comparison.kept_in_use:
        unsure = _with_status_unknown(place)
        if unsure != place:
            shelf.update(unsure)
    for _, place in comparison.updated:
        shelf.update(place)
    shelf.add_many(comparison.added)


def _with_status_unknown(place: Place) -> Place:
    """A source that no longer lists a beacon does not say that it is off the air; it stops saying that it is on."""
    if not isinstance(place, Beacon):
        return place
    return replace(place, components=tuple(replace(part, status=ComponentStatus.UNKNOWN) for part in place.components))


def _report(table: TableToLoad, comparison: Comparison, *, dry_run: bool) -> LoadReport:
    changes = [listed for old, new in comparison.updated if (listed := changes_between(old, new))]
    return LoadReport(
        format_name=table.reading.format_name,
        source_name=table.source_name,
        dry_run=dry_run,
        taken=len(table.reading.rows) - len(comparison.doubles),
        refused=(*table.reading.refused, *comparison.doubles),
        warnings=(*table.reading.warnings, *comparison.undecided),
        added=tuple(label_of(place) for place in comparison.added),
        changed=tuple(change for listed in changes for change in listed),
        changed_count=len(changes),
        gone=tuple(label_of(place) for place in comparison.gone),
        kept_in_use=tuple(label_of(place) for place in comparison.kept_in_use),
        unchanged=comparison.unchanged + len(comparison.updated) - len(changes),
    )


def _record(table: TableToLoad, report: LoadReport, *, region_id: int) -> LoadRecord:
    return LoadRecord(
        region_id=region_id,
        what=table.what,
        source_name=table.source_name,
        content_sha256=hashlib.sha256(table.content).hexdigest(),
        loaded_at_utc=utc_now(),
        taken=report.taken,
        refused=len(report.refused),
        added=len(report.added),
        changed=report.changed_count,
        gone=len(report.gone) + len(report.kept_in_use),
    )
