"""The words of the command line and what they mean. Only argparse here; the commands are in the modules beside this one."""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import Any, NoReturn

from server.cli import commands, loading, regions


class OneLineParser(argparse.ArgumentParser):
    """Refuses in one line, as every other refusal is told; --help shows the rest."""

    def parse_args(self, args=None, namespace=None):  # type: ignore[override]
        """Read a word such as -3gal after an option as what it is given, not as another option."""
        words = list(sys.argv[1:] if args is None else args)
        for at in range(len(words) - 1, 0, -1):
            if re.match(r"-\.?[0-9]", words[at]) and re.fullmatch(r"--[a-z-]+", words[at - 1]):
                words[at - 1 : at + 1] = [f"{words[at - 1]}={words[at]}"]
        return super().parse_args(words, namespace)

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"beaconry: {message}. See: {self.prog} --help\n")


def parser_of_commands() -> argparse.ArgumentParser:
    """Every command with its arguments; what a command line asks for is in ``command`` of the result."""
    parser = OneLineParser(
        prog="beaconry", description="Plan VFR flights from beacon to beacon, check that each will be received, and print the log."
    )
    words = parser.add_subparsers(title="commands", metavar="COMMAND")

    serve = words.add_parser("serve", help="serve the pages on this machine and print their address")
    serve.add_argument("--port", type=int, help="TCP port (default: BEACONRY_PORT, else 8077; 0 takes a free one)")
    serve.set_defaults(command=commands.serve)

    _add_load(words)

    _add_regions(words)

    listing = words.add_parser("list", help="list regions, beacons, airfields, checkpoints, aircraft or routes")
    listing.add_argument("what", choices=["regions", "beacons", "airfields", "checkpoints", "aircraft", "routes"])
    listing.add_argument("--region", help="short name of the region")
    listing.set_defaults(command=commands.list_things)

    _add_plan(words)

    log = words.add_parser("log", help="print the log of a stored route")
    log.add_argument("route", type=int, help="number of the route, see: beaconry list routes --region NAME")
    _add_output(log)
    log.set_defaults(command=commands.print_log)
    return parser


def _add_regions(words: Any) -> None:
    check = words.add_parser("check-region", help="say what is wrong, doubtful or old in a region, and which routes use it")
    check.add_argument("region", help="short name of the region")
    check.set_defaults(command=regions.check)
    export = words.add_parser("export-region", help="write a whole region, with its routes and terrain, as one file")
    export.add_argument("region", help="short name of the region")
    export.add_argument("file", type=Path, help="such as north.region.zip")
    export.set_defaults(command=regions.export)


def _add_load(words: Any) -> None:
    load = words.add_parser("load", help="load a region, beacons, airfields, checkpoints or terrain")
    kinds = load.add_subparsers(title="what to load", metavar="WHAT", required=True)
    region = kinds.add_parser("region", help="a whole region: a folder (region.toml, beacons.csv, terrain/ and so on) or one file")
    region.add_argument("folder", type=Path, metavar="FOLDER-OR-FILE")
    region.add_argument("--as", dest="slug", default="", metavar="NAME", help="another short name for a region that comes in one file")
    _add_accept_fewer(region)
    _add_sea(region, outline=False)
    region.set_defaults(command=loading.region)
    new = kinds.add_parser("empty-region", help="make an empty region to load tables and terrain into")
    new.add_argument("region", help="short name: letters, digits and hyphens")
    new.add_argument("name", help="name for people")
    new.add_argument("--levels", choices=["ICAO", "US"], default="ICAO", help="rule for cruising levels (default ICAO)")
    new.set_defaults(command=loading.empty_region)
    for what in ("beacons", "airfields", "checkpoints"):
        table = kinds.add_parser(what, help=f"a table of {what} (CSV of a known format)")
        table.add_argument("file", type=Path)
        table.add_argument("--region", required=True, help="short name of the region")
        table.add_argument("--dry-run", action="store_true", help="only say what would change")
        _add_accept_fewer(table)
        if what == "airfields":
            table.add_argument("--runways", type=Path, help="the runway table, where the format keeps it apart")
        table.set_defaults(command=loading.table, what=what)
    terrain = kinds.add_parser("terrain", help="elevation tiles (.hgt, .hgt.zip, .hgt.gz, GeoTIFF): files or folders")
    terrain.add_argument("paths", type=Path, nargs="+")
    terrain.add_argument("--region", required=True, help="short name of the region")
    _add_sea(terrain, outline=True)
    terrain.set_defaults(command=loading.terrain)


def _add_sea(parser: argparse.ArgumentParser, *, outline: bool) -> None:
    files = "a GeoJSON outline inside which void ground and ground below zero is sea; " if outline else ""
    words = f"{files}'sea' or 'land' says what connected ground below zero is, where the load asks; may be given twice"
    parser.add_argument("--sea", action="append", default=[], metavar="FILE|sea|land" if outline else "sea|land", help=words)


def _add_accept_fewer(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--accept-fewer", action="store_true", help="take a table with less than half of the rows its source had before")


def _add_plan(words: Any) -> None:
    plan = words.add_parser("plan", help="plan a flight between two airfields and print its log")
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
    plan.add_argument(
        "--restricted", action="store_true", help="let the chain take stations published as restricted too; it then names them"
    )
    plan.add_argument("--depart", default="", help="date and time in UTC, 2026-05-01T09:00Z")
    plan.add_argument("--aircraft", default="", help="registration")
    plan.add_argument("--wind", action="append", default=[], help="250T/15@6000: from, T(rue) or M(agnetic), kt, ft; may be repeated")
    plan.add_argument("--winds-aloft", default="", help="a coded line of winds and temperatures, or '3000 270T/14 +5; 6000 280T/22 -1'")
    plan.add_argument("--isa", default="", help="difference from standard temperature, degrees Celsius")
    plan.add_argument("--qnh", default="", help="altimeter setting: 1013, or in inches 29.92")
    plan.add_argument("--power", default="", help="power setting of the aircraft's cruise table")
    plan.add_argument("--alternate", default="", help="ident of the alternate")
    plan.add_argument("--extra-fuel", type=_fuel, default="", help="fuel besides all that a rule asks, with its unit")
    plan.add_argument("--levels", choices=["US", "ICAO"], default="", help="whose rule for levels (default: that of the region)")
    plan.add_argument("--fuel", type=_fuel, default="", help="usable fuel on board with its unit: 90L or 24gal")
    plan.add_argument("--reserve", default="", help="reserve rule: us-day, us-night, icao-day, icao-night, eu-day, eu-night, hour")
    _add_output(plan)
    plan.set_defaults(command=commands.plan_flight)


def _fuel(word: str) -> str:
    if word.lstrip().startswith("-"):
        raise argparse.ArgumentTypeError(
            f'"{word}" is less than no fuel. Write what is on board with its unit: 90L, or 24gal for US gallons'
        )
    return word


FORMS = ("text", "json", "pdf", "gpx", "geojson", "csv", "route")
"""Forms of a log; route is the route alone, as text to keep and bring in again."""


def _add_output(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--as", dest="form", choices=list(FORMS), default="text", help="form of the log (default text)")
    parser.add_argument("--paper", choices=["a4", "letter", "a5", "half-letter"], default="a4", help="paper of the PDF (default a4)")
    parser.add_argument("--output", type=Path, help="write to this file instead of standard output")
