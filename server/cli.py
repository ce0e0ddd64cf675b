"""The command line: serve the pages, load data, list what there is, plan a flight and print its log.

Words for people only; the work is in planning. Every refusal is one sentence on standard error and exit code 2.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from server.errors import InputProblem, ProjectError
from server.settings import Settings

MOST_REFUSALS_PRINTED = 200


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 2 refused with a reason."""
    parser = _parser()
    asked = parser.parse_args(arguments)
    command: Callable[[argparse.Namespace, Settings], int] | None = getattr(asked, "command", None)
    if command is None:
        parser.print_help()
        return 2
    try:
        return command(asked, Settings.from_environment())
    except InputProblem as problem:
        for each in problem.problems:
            place = f"{each.place}: " if each.place else ""
            print(f"beaconry: {place}{each.message}", file=sys.stderr)
        return 2
    except ProjectError as problem:
        print(f"beaconry: {problem.message}", file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader of our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="beaconry", description="Plan VFR flights from beacon to beacon, check that each will be received, and print the log."
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    serve = commands.add_parser("serve", help="serve the pages on this machine and print their address")
    serve.add_argument("--port", type=int, help="TCP port (default: BEACONRY_PORT, else 8077; 0 takes a free one)")
    serve.set_defaults(command=_serve)

    _add_load(commands)

    listing = commands.add_parser("list", help="list regions, beacons, airfields, checkpoints, aircraft or routes")
    listing.add_argument("what", choices=["regions", "beacons", "airfields", "checkpoints", "aircraft", "routes"])
    listing.add_argument("--region", help="short name of the region")
    listing.set_defaults(command=_list)

    _add_plan(commands)

    log = commands.add_parser("log", help="print the log of a stored route")
    log.add_argument("route", type=int, help="number of the route, see: beaconry list routes --region NAME")
    _add_output(log)
    log.set_defaults(command=_log)
    return parser


def _add_load(commands) -> None:
    load = commands.add_parser("load", help="load a region, beacons, airfields, checkpoints or terrain")
    kinds = load.add_subparsers(title="what to load", metavar="WHAT", required=True)
    region = kinds.add_parser("region", help="a whole region folder (region.toml, beacons.csv, terrain/ and so on)")
    region.add_argument("folder", type=Path)
    region.set_defaults(command=_load_region)
    new = kinds.add_parser("empty-region", help="make an empty region to load tables and terrain into")
    new.add_argument("region", help="short name: letters, digits and hyphens")
    new.add_argument("name", help="name for people")
    new.add_argument("--levels", choices=["ICAO", "US"], default="ICAO", help="rule for cruising levels (default ICAO)")
    new.set_defaults(command=_load_empty_region)
    for what in ("beacons", "airfields", "checkpoints"):
        table = kinds.add_parser(what, help=f"a table of {what} (CSV of a known format)")
        table.add_argument("file", type=Path)
        table.add_argument("--region", required=True, help="short name of the region")
        table.add_argument("--dry-run", action="store_true", help="only say what would change")
        table.add_argument("--accept-fewer", action="store_true", help="take a file with less than half of the rows it had before")
        if what == "airfields":
            table.add_argument("--runways", type=Path, help="the runway table, where the format keeps it apart")
        table.set_defaults(command=_load_table, what=what)
    terrain = kinds.add_parser("terrain", help="elevation tiles (.hgt, .hgt.zip, .hgt.gz, GeoTIFF): files or folders")
    terrain.add_argument("paths", type=Path, nargs="+")
    terrain.add_argument("--region", required=True, help="short name of the region")
    terrain.add_argument("--sea", type=Path, help="GeoJSON outline inside which missing ground is sea; nowhere else is it")
    terrain.set_defaults(command=_load_terrain)


def _add_plan(commands) -> None:
    plan = commands.add_parser("plan", help="plan a flight between two airfields and print its log")
    plan.add_argument("departure", help="ident of the airfield")
    plan.add_argument("destination", help="ident of the airfield")
    plan.add_argument("--region", help="short name of the region (may be left out when there is only one)")
    plan.add_argument("--altitude", required=True, help="feet above sea level")
    plan.add_argument(
        "--via",
        default="",
        help="points between, with commas: ABC (beacon), ABC-045@12 (radial and NM), ABC-045+DEF-120 (two radials), '43 10.5N 36 20W'; "
        "without it the chain of beacons is found for you",
    )
    plan.add_argument("--depart", default="", help="date and time in UTC, 2026-05-01T09:00Z")
    plan.add_argument("--aircraft", default="", help="registration")
    plan.add_argument("--wind", action="append", default=[], help="250T/15@6000: from, T(rue) or M(agnetic), kt, ft; may be repeated")
    plan.add_argument("--isa", default="", help="difference from standard temperature, degrees Celsius")
    plan.add_argument("--fuel", default="", help="usable fuel on board with its unit: 90L or 24gal")
    plan.add_argument("--reserve", default="", help="reserve rule: us-day, us-night, icao-day, icao-night, eu-day, eu-night, hour")
    _add_output(plan)
    plan.set_defaults(command=_plan)


def _add_output(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--as", dest="form", choices=["text", "json", "pdf"], default="text", help="form of the log (default text)")
    parser.add_argument("--paper", choices=["a4", "letter"], default="a4", help="paper of the PDF (default a4)")
    parser.add_argument("--output", type=Path, help="write to this file instead of standard output")


def _serve(asked: argparse.Namespace, settings: Settings) -> int:
    import socket

    import uvicorn

    port = asked.port if asked.port is not None else settings.port
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
    except OSError as error:
        raise InputProblem(
            f"Port {port} cannot be used ({error.strerror}). Is Beaconry running already? Choose another with --port or BEACONRY_PORT."
        ) from error
    config = uvicorn.Config("server.app:create_app", factory=True, log_level="warning")
    config.load()
    listener.listen(128)
    print(f"Beaconry is at http://127.0.0.1:{listener.getsockname()[1]}/  (stop with Ctrl-C)", flush=True)
    uvicorn.Server(config).run(sockets=[listener])
    return 0


def _open(settings: Settings):
    """The database, migrated, and the terrain store."""
    from server.persistence import Library
    from server.terrain import TerrainStore

    os.environ.setdefault("NUMBA_CACHE_DIR", str(settings.kernel_cache_folder))
    settings.home.mkdir(parents=True, exist_ok=True)
    library = Library.open(settings.effective_database_url)
    library.migrate(settings.migrations_folder)
    return library, TerrainStore(settings.terrain_folder)


def _read_file(path: Path) -> bytes:
    from server.exchange import MAX_TABLE_BYTES

    try:
        if path.stat().st_size > MAX_TABLE_BYTES:
            raise InputProblem(f"{path}: {path.stat().st_size:,} bytes is more than a table may have ({MAX_TABLE_BYTES:,}).", place="file")
        return path.read_bytes()
    except OSError as error:
        raise InputProblem(f"{path} cannot be read: {error.strerror}.", code="file-unreadable", place="file") from error


def _region_number(library, slug: str) -> int:
    with library.read() as work:
        return work.regions.by_slug(slug).id


def _load_region(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.load_region import load_region

    library, store = _open(settings)
    loaded = load_region(library, store, asked.folder, on_progress=_progress)
    for report in loaded.reports:
        _print_report(report)
    return 0


def _load_empty_region(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.region_book import add_region

    library, _ = _open(settings)
    region = add_region(library, slug=asked.region, name=asked.name, level_rule=asked.levels)
    print(f"{region.name} is ready. Load beacons into it with: beaconry load beacons FILE --region {region.slug}")
    return 0


def _load_table(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning import load

    library, _ = _open(settings)
    loaders = {"beacons": load.load_beacons, "airfields": load.load_airfields, "checkpoints": load.load_checkpoints}
    more = {"runways": _read_file(asked.runways)} if getattr(asked, "runways", None) else {}
    report = loaders[asked.what](
        library,
        region_id=_region_number(library, asked.region),
        content=_read_file(asked.file),
        source_name=asked.file.name,
        dry_run=asked.dry_run,
        accept_shrink=asked.accept_fewer,
        **more,
    )
    _print_report(report)
    return 0


def _load_terrain(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.load_region import load_terrain

    library, store = _open(settings)
    sea = _read_file(asked.sea) if asked.sea else None
    loaded = load_terrain(library, store, region_slug=asked.region, paths=asked.paths, sea=sea, on_progress=_progress)
    for file in loaded.refused:
        print(f"refused {file.name}: {file.reason}")
    print(f"{len(loaded.taken)} terrain files taken, {len(loaded.refused)} refused; ground {loaded.fingerprint[:12]}.")
    return 0


def _progress(step) -> None:
    if sys.stderr.isatty():
        print(f"\r{step}", end="", file=sys.stderr, flush=True)


def _print_report(report) -> None:
    """What a load took, refused and changed, refusals with their lines."""
    for row in report.refused[:MOST_REFUSALS_PRINTED]:
        print(f"refused line {row.line_number} {row.key}: {row.reason}")
    if len(report.refused) > MOST_REFUSALS_PRINTED:
        print(f"... and {len(report.refused) - MOST_REFUSALS_PRINTED} more refused")
    for change in report.changed:
        print(f"changed {change.label}: {change.field} was {change.old}, is {change.new}")
    for label in report.gone:
        print(f"gone {label}")
    would = "would be " if report.dry_run else ""
    print(
        f"{report.format_name}: {report.taken} rows taken, {len(report.refused)} refused, {len(report.warnings)} warnings; "
        f"{len(report.added)} {would}added, {len(report.changed)} {would}changed, {len(report.gone)} gone, {report.unchanged} unchanged."
    )


def _list(asked: argparse.Namespace, settings: Settings) -> int:
    library, _ = _open(settings)
    with library.read() as work:
        if asked.what == "regions":
            lines = [f"{region.slug:16} {region.name}{'  (fictional)' if region.fictional else ''}" for region in work.regions.list()]
        elif asked.what == "aircraft":
            lines = [f"{each.registration:10} {each.type_name}" for each in work.aircraft.list()]
        else:
            region = work.regions.by_slug(_only_region(work, asked.region))
            lines = [_line_of(asked.what, each) for each in getattr(work, asked.what).list(region.id)]
    print("\n".join(lines) if lines else f"There are no {asked.what} yet.")
    return 0


def _line_of(what: str, thing) -> str:
    if what == "beacons":
        return f"{thing.ident:4} {thing.kind.value:8} {thing.name}"
    if what == "airfields":
        return f"{thing.ident:6} {thing.name}"
    if what == "checkpoints":
        return f"{thing.name}, {thing.feature}"
    return f"{thing.id:5} {thing.name}"


def _only_region(work, slug: str | None) -> str:
    if slug:
        return slug
    regions = work.regions.list()
    if len(regions) == 1:
        return regions[0].slug
    known = ", ".join(region.slug for region in regions) or "none yet; load one with: beaconry load region sample_region"
    raise InputProblem(f"Name the region with --region. Known: {known}.", code="region-missing", place="--region")


def _plan(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning import build_chain, plan_route
    from server.planning.flight_request import FlightRequest, route_from_request

    library, store = _open(settings)
    with library.read() as work:
        region = _only_region(work, asked.region)
    request = FlightRequest(
        region=region,
        departure=asked.departure,
        destination=asked.destination,
        altitude=asked.altitude,
        via=tuple(word.strip() for word in asked.via.split(",") if word.strip()),
        depart_at=asked.depart,
        aircraft=asked.aircraft,
        winds=tuple(asked.wind),
        isa_deviation=asked.isa,
        fuel=asked.fuel,
        reserve=asked.reserve,
    )
    route = route_from_request(library, request)
    if not request.via:
        chain = build_chain(library, store, route)
        print(chain.explanation, file=sys.stderr)
        if not chain.found:
            return 2
        route = chain.route
    return _write_log(plan_route(library, store, route), asked)


def _log(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning import plan_route

    library, store = _open(settings)
    return _write_log(plan_route(library, store, asked.route), asked)


def _write_log(planned, asked: argparse.Namespace) -> int:
    from server.sheets.drawings import chart_of, section_of
    from server.sheets.log_json import log_as_json
    from server.sheets.log_pdf import log_as_pdf
    from server.sheets.log_text import log_as_text

    if asked.form == "pdf":
        content = log_as_pdf(planned.log, paper=asked.paper, chart_svg=chart_of(planned), section_svg=section_of(planned))
    elif asked.form == "json":
        content = log_as_json(planned.log) + b"\n"
    else:
        content = log_as_text(planned.log).rstrip().encode() + b"\n"
    if asked.output is None:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return 0
    try:
        asked.output.write_bytes(content)
    except OSError as error:
        raise InputProblem(f"{asked.output} cannot be written: {error.strerror}.", code="file-unwritable", place="--output") from error
    return 0
