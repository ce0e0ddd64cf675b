"""The commands that list, plan and print, and how they refuse."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from server.navigation import Route
from server.persistence import Library
from server.settings import PROJECT_ROOT
from tests.cli.conftest import Run

FLIGHT = (
    *("plan", "XNOR", "XSOU", "--altitude", "4500", "--aircraft", "x-abcd", "--depart", "2026-05-01T09:00Z"),
    *("--wind", "250T/15@4000", "--fuel", "80L", "--reserve", "us-day"),
)


def changed(**words: str) -> tuple[str, ...]:
    """The flight with some of its words changed; an option is named without its dashes."""
    flight = list(FLIGHT)
    for option, word in words.items():
        if f"--{option}" in flight:
            flight[flight.index(f"--{option}") + 1] = word
        elif option in ("departure", "destination"):
            flight[1 if option == "departure" else 2] = word
        else:
            flight += [f"--{option}", word]
    return tuple(flight)


def test_a_flight_is_planned_and_its_log_printed_as_text(run: Run, furnished: Path):
    told = run(*FLIGHT)
    assert told.code == 0
    assert "LOG       XNOR to XSOU" in told.out and "Data      All data given" in told.out
    assert "FICTIONAL REGION" in told.out
    (explanation,) = told.err.splitlines()
    assert explanation.startswith("Northfield - ") and "Every leg is received at 4,500 ft" in explanation


def test_points_given_by_hand_are_flown_as_given(run: Run, furnished: Path):
    told = run(*changed(via="SKR, SKR-330@10, MUL-080+SKR-320, 43 45N 36 35W"))
    assert (told.code, told.err) == (0, "")
    assert "R-330 SKR, 10.0 NM" in told.out and "R-080 MUL and R-320 SKR" in told.out
    assert told.out.count("\nLEG ") == 5


def test_the_log_as_json_is_one_object_with_the_same_flight(run: Run, furnished: Path):
    log = json.loads(run(*FLIGHT, "--as", "json").out)
    assert (log["format"], log["departure"]["ident"], log["destination"]["ident"], log["complete"]) == (
        "beaconry-log-1",
        "XNOR",
        "XSOU",
        True,
    )


@pytest.mark.parametrize(("paper", "points"), [("a4", (842, 595)), ("letter", (792, 612))])  # ISO 216; ANSI A, in points, lying
def test_the_log_as_pdf_goes_into_a_file_on_the_paper_asked_for(
    run: Run, furnished: Path, tmp_path: Path, paper: str, points: tuple[int, int]
):
    file = tmp_path / "log.pdf"
    told = run(*FLIGHT, "--as", "pdf", "--paper", paper, "--output", file)
    assert (told.code, told.out) == (0, "")
    first = pypdf.PdfReader(io.BytesIO(file.read_bytes())).pages[0]
    assert (round(first.mediabox.width), round(first.mediabox.height)) == points
    assert "XNOR" in first.extract_text()


def on_a_terminal(*arguments: str) -> tuple[int, bytes, bytes]:
    """Run a command whose output goes to a terminal; return its code, what the terminal got and what was refused."""
    ours, theirs = os.openpty()
    try:
        done = subprocess.run(
            [sys.executable, "-m", "server.cli", *arguments], cwd=PROJECT_ROOT, stdout=theirs, stderr=subprocess.PIPE, check=False
        )
        os.write(theirs, b"end\n")
        return done.returncode, os.read(ours, 100_000), done.stderr
    finally:
        os.close(ours)
        os.close(theirs)


@pytest.mark.parametrize("command", [FLIGHT, ("log", "1")])
def test_a_pdf_is_never_poured_onto_a_terminal(furnished: Path, command: tuple[str, ...]):
    code, shown, refused = on_a_terminal(*command, "--as", "pdf")
    assert (code, shown) == (2, b"end\r\n")
    assert refused.decode() == "beaconry: --as pdf writes a file, not words: name it with --output, such as --output log.pdf.\n"


def test_a_pdf_may_still_go_to_another_program(run: Run, furnished: Path):
    assert run(*FLIGHT, "--as", "pdf").out.startswith("%PDF-")


def test_a_negative_number_is_read_as_one_and_not_as_an_option(run: Run, furnished: Path):
    warm, cold = run(*FLIGHT, "--isa=-12"), run(*FLIGHT, "--isa", "-12")
    assert (cold.code, cold.out) == (0, warm.out)


def test_a_flight_with_little_given_prints_a_log_that_is_not_complete(run: Run, furnished: Path):
    told = run("plan", "XNOR", "XSOU", "--altitude", "4500", "--via", "SKR")
    assert told.code == 0
    assert "NOT COMPLETE" in told.out and "NO FUEL PLAN" in told.out


def test_a_stored_route_is_listed_and_its_log_printed(run: Run, furnished: Path):
    library = Library.open(f"sqlite:///{furnished / 'beaconry.sqlite3'}")
    with library.begin() as work:
        region = work.regions.by_slug("skerry")
        ends = {field.ident: field.id for field in work.airfields.list(region.id)}
        route = work.routes.add(
            Route(
                region_id=region.id,
                name="Round the sound",
                departure_airfield_id=ends["XNOR"],
                destination_airfield_id=ends["XSOU"],
                altitude_ft=4500.0,
            )
        )
    library.close()
    assert run("list", "routes", "--region", "skerry").out == f"{route.id:5} Round the sound\n"
    told = run("log", route.id)
    assert told.code == 0 and "LOG       Round the sound" in told.out


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ({"region": "nowhere"}, 'There is no region called "nowhere"'),
        ({"departure": "XXXX"}, 'Skerry Sound has no airfield "XXXX"'),
        ({"destination": "XXXX"}, 'Skerry Sound has no airfield "XXXX"'),
        ({"via": "ZZZ"}, 'Skerry Sound has no beacon "ZZZ"'),
        ({"via": "SKR:DME"}, 'no beacon "SKR:DME"'),
        ({"via": "SKR-090@900"}, "A fix 900 NM from its station cannot be used"),
        ({"via": "SKR-090+MUL-270"}, "Point 1"),
        ({"altitude": "high"}, '--altitude "high" cannot be read: give feet above sea level'),
        ({"altitude": "99999"}, "99999 ft is not an altitude to plan at"),
        ({"wind": "250/15@4000"}, '"250/15@4000" is not a wind'),
        ({"depart": "2026-05-01 09:00"}, "is not a moment in UTC"),
        ({"depart": "2500-05-01T09:00Z"}, "The year 2500 of the departure is outside 1900 to 2200"),
        ({"aircraft": "N1"}, 'There is no aircraft "N1". Known: X-ABCD'),
        ({"fuel": "80"}, '"80" is not an amount of fuel. Write the unit'),
        ({"fuel": "-3gal"}, '--fuel: "-3gal" is less than no fuel. Write what is on board with its unit: 90L, or 24gal for US gallons.'),
        ({"extra-fuel": "10"}, '--extra-fuel: "10" is not an amount of fuel. Write the unit'),
        ({"winds-aloft": "XYZ 1910 2115+12"}, '"1910" at 34,000 ft: there is no temperature'),
        ({"wind": "-20T/15@4000"}, '"-20T/15@4000" is not a wind'),
        ({"reserve": "none"}, 'There is no reserve rule "none"'),
        ({"isa": "hot"}, '--isa "hot" cannot be read'),
        ({"output": "/dev/null/log.txt", "via": "SKR"}, "/dev/null/log.txt cannot be written: Not a directory."),
        ({"as": "picture"}, "invalid choice: 'picture'"),
    ],
)
def test_what_cannot_be_planned_is_refused_in_one_line(run: Run, furnished: Path, words: dict[str, str], text: str):
    if words.keys() & {"wind", "winds-aloft", "depart"}:
        words = {**words, "via": "SKR"}
    assert text in run(*changed(**words)).refusal


def test_an_ident_that_several_share_asks_for_the_kind(run: Run, furnished: Path):
    library = Library.open(f"sqlite:///{furnished / 'beaconry.sqlite3'}")
    with library.begin() as work:
        region = work.regions.by_slug("skerry")
        twin = next(beacon for beacon in work.beacons.find_by_ident(region.id, "SKR") if beacon.kind.value == "NDB")
        original = next(beacon for beacon in work.beacons.find_by_ident(region.id, "SKR") if beacon.guides_vor_receiver)
        work.beacons.add(replace(original, id=None, name="Second Skerry", external_key="club:third"))
    library.close()
    refusal = run(*changed(via="SKR")).refusal
    assert "fits several beacons:" in refusal and "Second Skerry" in refusal and f"SKR:NDB ({twin.name}" in refusal
    assert run(*changed(via="SKR:NDB")).code == 0


def test_without_a_chain_the_reason_is_told_and_nothing_is_printed(run: Run, furnished: Path):
    refusal = run(*changed(altitude="300")).refusal
    assert "There is no chain at 300 ft whose every leg is received" in refusal


def test_a_route_that_is_not_there_is_named(run: Run, furnished: Path):
    assert "There is no route with number 99" in run("log", "99").refusal
    assert "There is no route with number" in run("log", "99999999999999999999999").refusal
    assert "invalid int value: 'first'" in run("log", "first").refusal


def test_without_any_region_it_says_how_to_load_one(run: Run):
    assert "Known: none yet; load one with: beaconry load region sample_region" in run("list", "beacons").refusal
    assert run("list", "regions").out == "There are no regions yet.\n"


def test_of_several_regions_one_must_be_named(run: Run, furnished: Path):
    run("load", "empty-region", "north", "North Coast")
    assert "--region: Name the region. Known: north, skerry." in run("list", "beacons").refusal
    assert len(run("list", "beacons", "--region", "skerry").out.splitlines()) == 3


def test_without_a_command_the_help_is_shown(run: Run):
    told = run()
    assert told.code == 2
    assert all(word in told.out for word in ("serve", "load", "list", "plan", "log"))
    assert run("--help").code == 0


@pytest.mark.parametrize(
    ("variable", "value", "text"),
    [
        ("BEACONRY_PORT", "many", "BEACONRY_PORT: Input should be a valid integer"),
        ("BEACONRY_PORT", "70000", "BEACONRY_PORT: Input should be less than or equal to 65535"),
        ("BEACONRY_HOME", "/dev/null/home", "The folder /dev/null/home cannot be made: Not a directory. Name another with BEACONRY_HOME."),
        ("BEACONRY_DATABASE_URL", "nonsense", "BEACONRY_DATABASE_URL is not a database address"),
        ("BEACONRY_DATABASE_URL", "mysql://somewhere/db", 'not in "mysql"'),
        ("BEACONRY_DATABASE_URL", "sqlite:////dev/null/db.sqlite3", "The database cannot be used"),
    ],
)
def test_a_setting_that_cannot_be_used_is_named(run: Run, monkeypatch: pytest.MonkeyPatch, variable: str, value: str, text: str):
    monkeypatch.setenv(variable, value)
    assert text in run("list", "regions").refusal


def test_a_reader_that_has_seen_enough_is_no_error(furnished: Path):
    for command in (["list", "beacons"], ["plan", "XNOR", "XSOU", "--altitude", "4500", "--via", "SKR"]):
        read_end, write_end = os.pipe()
        os.close(read_end)
        try:
            done = subprocess.run(
                [sys.executable, "-m", "server.cli", *command], cwd=PROJECT_ROOT, stdout=write_end, stderr=subprocess.PIPE, check=False
            )
        finally:
            os.close(write_end)
        assert (done.returncode, done.stderr) == (0, b"")


def test_the_log_is_set_for_the_knee_too(run: Run, furnished: Path, tmp_path: Path):
    """ISO 216: A5 is 148 x 210 mm."""
    told = run(*changed(altitude="4,500", qnh="1009"), "--as", "pdf", "--paper", "a5", "--output", str(tmp_path / "log.pdf"))
    assert told.code == 0
    page = pypdf.PdfReader(tmp_path / "log.pdf").pages[0]
    assert [round(float(side) * 25.4 / 72.0) for side in page.mediabox[2:]] == [148, 210]
