"""The commands that load: a region folder, an empty region, a table, terrain."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from server.cli.opening import opened, read_file
from server.errors import Conflict, InputProblem
from server.settings import Settings

if TYPE_CHECKING:  # imported where they are used: "beaconry --help" should not wait for them
    from server.persistence import Library
    from server.planning.load_region import RegionLoad
    from server.planning.load_report import LoadReport
    from server.terrain import BelowZero, TerrainLoad, TerrainProgress, TerrainStore

MOST_LINES_PRINTED = 200
"""Of each kind in the report of a load; the rest is counted."""


def _region_number(library: Library, slug: str) -> int:
    from server.persistence import stored

    with library.read() as work:
        return stored(work.regions.by_slug(slug).id)


def region(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.load_region import load_region

    with opened(settings) as (library, store):
        if asked.folder.is_file():
            loaded = _region_file(library, store, asked)
        elif asked.slug:
            text = "--as is for a region that comes in one file. In a folder the short name stands in region.toml: change it there."
            raise InputProblem(text, code="region-name", place="--as")
        else:
            _, below_zero = _sea(asked.sea)
            with _asking():
                loaded = load_region(
                    library, store, asked.folder, accept_shrink=asked.accept_fewer, below_zero=below_zero, on_progress=_progress
                )
    for report in loaded.reports:
        _print_report(report)
    if loaded.terrain is not None:
        _print_terrain(loaded.terrain)
    _print_some("aircraft that stays as it is here, and differs in the region:", loaded.aircraft_kept)
    rows = sum(len(report.refused) for report in loaded.reports)
    files = len(loaded.terrain.refused) if loaded.terrain else 0
    print(
        f"{loaded.region.name}: {len(loaded.aircraft_added)} aircraft and {len(loaded.routes_added)} routes added; "
        f"{rows} rows and {files} terrain files refused."
    )
    return 0


def _region_file(library: Library, store: TerrainStore, asked: argparse.Namespace) -> RegionLoad:
    """A region that comes in one file becomes a new one; the refusal of a short name that is taken says how to give another."""
    from server.planning.load_region_file import load_region_file

    try:
        stream = asked.folder.open("rb")
    except OSError as error:
        raise InputProblem(f"{asked.folder} cannot be read: {error.strerror}.", code="file-unreadable") from error
    with stream:
        try:
            return load_region_file(library, store, stream, name=asked.folder.name, slug=asked.slug, on_progress=_progress)
        except Conflict as taken:
            raise Conflict(f"{taken.message} Add --as NAME.", code=taken.code) from taken


def empty_region(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.region_book import add_region

    with opened(settings) as (library, _):
        made = add_region(library, slug=asked.region, name=asked.name, level_rule=asked.levels)
    print(f"{made.name} is ready. Load beacons into it with: beaconry load beacons FILE --region {made.slug}")
    return 0


def table(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning import load

    what = {"content": read_file(asked.file), "source_name": asked.file.name}
    how = {"dry_run": asked.dry_run, "accept_shrink": asked.accept_fewer}
    loaders: dict[str, Callable[..., LoadReport]] = {
        "beacons": load.load_beacons,
        "airfields": load.load_airfields,
        "checkpoints": load.load_checkpoints,
    }
    more = {"runways": read_file(asked.runways)} if getattr(asked, "runways", None) else {}
    with opened(settings) as (library, _):
        report = loaders[asked.what](library, region_id=_region_number(library, asked.region), **what, **how, **more)
    _print_report(report)
    return 0


def terrain(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.load_region import load_terrain

    sea, below_zero = _sea(asked.sea)
    with opened(settings) as (library, store), _asking():
        loaded = load_terrain(
            library, store, region_slug=asked.region, paths=asked.paths, sea=sea, below_zero=below_zero, on_progress=_progress
        )
    _print_terrain(loaded)
    return 0


def _sea(given: list[str]) -> tuple[bytes | None, BelowZero]:
    """Read what --sea was given: an outline, a word on the ground below zero, or both."""
    from server.terrain import BelowZero

    outline, below_zero = None, BelowZero.ASK
    for word in given:
        if word in (BelowZero.SEA, BelowZero.LAND):
            below_zero = BelowZero(word)
        else:
            outline = read_file(Path(word))
    return outline, below_zero


@contextmanager
def _asking() -> Iterator[None]:
    """Tell how to answer the question whether ground below zero is sea."""
    try:
        yield
    except InputProblem as problem:
        if problem.code != "below-zero":
            raise
        raise InputProblem(f"{problem.message} Answer with --sea sea or --sea land.", code=problem.code, place="--sea") from problem


def _print_terrain(loaded: TerrainLoad) -> None:
    _print_some("refused", [f"{file.name}: {file.reason}" for file in loaded.refused])
    _print_some("note", [f"{file.name}: {file.note}" for file in loaded.taken if file.note])
    print(f"{len(loaded.taken)} terrain files taken, {len(loaded.refused)} refused; ground {loaded.fingerprint[:12]}: {loaded.in_words()}.")


def _progress(step: TerrainProgress) -> None:
    if sys.stderr.isatty():
        print(f"\r\x1b[K{step.doing} {step.done} of {step.total}", end="" if step.done < step.total else "\n", file=sys.stderr, flush=True)


def _print_report(report: LoadReport) -> None:
    """What a load took, refused and changed, refusals and warnings with their lines."""
    would = "would be " if report.dry_run else ""
    _print_some("refused", [f"line {row.line_number} {row.key}: {row.reason}" for row in report.refused])
    _print_some("warning", [f"line {row.line_number} {row.key}: {row.message}" for row in report.warnings])
    _print_some("changed", [f"{change.label}: {change.field} was {change.old}, is {change.new}" for change in report.changed])
    _print_some("gone", report.gone)
    _print_some("gone from the file, kept because routes use it:", report.kept_in_use)
    print(
        f"{report.format_name}: {report.taken} rows taken, {len(report.refused)} refused, {len(report.warnings)} warnings; "
        f"{len(report.added)} {would}added, {report.changed_count} {would}changed, {len(report.gone)} {would}gone, "
        f"{report.unchanged} unchanged."
    )


def _print_some(word: str, lines: Iterable[str]) -> None:
    lines = list(lines)
    for line in lines[:MOST_LINES_PRINTED]:
        print(f"{word} {line}")
    if len(lines) > MOST_LINES_PRINTED:
        print(f"{word} ... and {len(lines) - MOST_LINES_PRINTED:,} more")
