"""The commands that serve, list, plan and print."""

from __future__ import annotations

import argparse
import socket
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from server.cli.opening import make_home, opened
from server.errors import InputProblem
from server.settings import Settings

if TYPE_CHECKING:  # imported where they are used: "beaconry --help" should not wait for them
    from server.persistence import Work
    from server.planning import PlannedRoute


def serve(asked: argparse.Namespace, settings: Settings) -> int:
    import uvicorn

    port = asked.port if asked.port is not None else settings.port
    make_home(settings)
    with _listener(port) as listener:
        config = uvicorn.Config("server.app:create_app", factory=True, log_level="warning")
        config.load()
        listener.listen(128)
        print(f"Beaconry is at http://127.0.0.1:{listener.getsockname()[1]}/  (stop with Ctrl-C)", flush=True)
        with suppress(KeyboardInterrupt):  # uvicorn has shut down in good order and hands the Ctrl-C on
            uvicorn.Server(config).run(sockets=[listener])
    return 0


def _listener(port: int) -> socket.socket:
    """A socket of this machine alone, bound but not yet listening, so that a taken port is told before anything is loaded."""
    if not 0 <= port <= 65535:
        raise InputProblem(f"Port {port} does not exist: give 1 to 65535, or 0 for a free one.", code="port", place="--port")
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
    except OSError as error:
        listener.close()
        text = f"Port {port} cannot be used ({error.strerror}). Is Beaconry running already? Choose another with --port or BEACONRY_PORT."
        raise InputProblem(text, code="port") from error
    return listener


def list_things(asked: argparse.Namespace, settings: Settings) -> int:
    from server.persistence import stored

    with opened(settings) as (library, _), library.read() as work:
        if asked.what == "regions":
            lines = [f"{region.slug:16} {region.name}{'  (fictional)' if region.fictional else ''}" for region in work.regions.list()]
        elif asked.what == "aircraft":
            lines = [f"{each.registration:10} {each.type_name}".rstrip() for each in work.aircraft.list()]
        else:
            region = work.regions.by_slug(_region_or_only(work, asked.region))
            lines = [_line_of(asked.what, each) for each in getattr(work, asked.what).list(stored(region.id))]
    print("\n".join(lines) if lines else f"There are no {asked.what} yet.")
    return 0


def _line_of(what: str, thing: Any) -> str:
    if what == "beacons":
        return f"{thing.ident:4} {thing.kind.value:8} {thing.name}"
    if what == "airfields":
        return f"{thing.ident:6} {thing.name}{'  (closed)' if thing.closed else ''}"
    if what == "checkpoints":
        return f"{thing.name}, {thing.feature}"
    return f"{thing.id:5} {thing.name}"


def _region_or_only(work: Work, slug: str | None) -> str:
    """The region named, or the only one there is."""
    if slug:
        return slug
    regions = work.regions.list()
    if len(regions) == 1:
        return regions[0].slug
    known = ", ".join(region.slug for region in regions) or "none yet; load one with: beaconry load region sample_region"
    raise InputProblem(f"Name the region. Known: {known}.", code="region-missing", place="--region")


def plan_flight(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning import build_chain, plan_route
    from server.planning.flight_request import FlightRequest, route_from_request

    _refuse_pdf_on_terminal(asked)
    with opened(settings) as (library, store):
        with library.read() as work:
            region = _region_or_only(work, asked.region)
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
            winds_aloft=asked.winds_aloft,
            qnh=asked.qnh,
            power=asked.power,
            alternate=asked.alternate,
            extra_fuel=asked.extra_fuel,
            level_rule=asked.levels,
        )
        route = route_from_request(library, request)
        if not request.via:
            chain = build_chain(library, store, route, take_restricted=asked.restricted)
            if not chain.found:
                raise InputProblem(chain.explanation, code="no-chain")
            print(chain.explanation, file=sys.stderr)
            route = chain.route
        _write_log(plan_route(library, store, route), asked)
    return 0


def print_log(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning import plan_route

    _refuse_pdf_on_terminal(asked)
    with opened(settings) as (library, store):
        _write_log(plan_route(library, store, asked.route), asked)
    return 0


def _refuse_pdf_on_terminal(asked: argparse.Namespace) -> None:
    if asked.form == "pdf" and asked.output is None and sys.stdout.isatty():
        text = "--as pdf writes a file, not words: name it with --output, such as --output log.pdf."
        raise InputProblem(text, code="file-unwritable", place="--output")


def _write_log(planned: PlannedRoute, asked: argparse.Namespace) -> None:
    from server.sheets import (
        chart_of,
        log_as_csv,
        log_as_geojson,
        log_as_gpx,
        log_as_json,
        log_as_pdf,
        log_as_text,
        route_as_text,
        section_of,
    )

    writers = {"text": log_as_text, "geojson": log_as_geojson, "csv": log_as_csv, "route": route_as_text}
    if asked.form == "pdf":
        content = log_as_pdf(planned.log, paper=asked.paper, chart_svg=chart_of(planned), section_svg=section_of(planned))
    elif asked.form == "json":
        content = log_as_json(planned.log) + b"\n"
    elif asked.form == "gpx":
        content = log_as_gpx(planned.log)
    else:
        content = writers[asked.form](planned.log).encode()
    if asked.output is None:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    try:
        asked.output.write_bytes(content)
    except OSError as error:
        raise InputProblem(f"{asked.output} cannot be written: {error.strerror}.", code="file-unwritable", place="--output") from error
