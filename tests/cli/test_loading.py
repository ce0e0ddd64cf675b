"""The commands that load: what they report, and every refusal in one line."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import MULL, SKERRY, Run, tile
from tests.exchange.table_builders import table


@pytest.fixture
def beacons(tmp_path: Path) -> Path:
    """A table of two good rows and a bad one."""
    file = tmp_path / "beacons.csv"
    file.write_bytes(table(SKERRY, {**MULL, "kind": "VOT"}, MULL))
    return file


def test_an_empty_region_is_made_and_says_what_to_do_next(run: Run):
    told = run("load", "empty-region", "north", "North Coast", "--levels", "US")
    assert (told.code, told.err) == (0, "")
    assert told.out == "North Coast is ready. Load beacons into it with: beaconry load beacons FILE --region north\n"
    assert run("list", "regions").out == "north            North Coast\n"


def test_a_dry_run_says_what_would_change_and_changes_nothing(run: Run, beacons: Path):
    run("load", "empty-region", "north", "North Coast")
    told = run("load", "beacons", beacons, "--region", "north", "--dry-run")
    assert told.code == 0
    assert "2 rows taken, 1 refused" in told.out and "2 would be added, 0 would be changed" in told.out
    assert run("list", "beacons").out == "There are no beacons yet.\n"


def test_a_load_names_each_refused_row_with_its_line_and_loads_the_rest(run: Run, beacons: Path):
    run("load", "empty-region", "north", "North Coast")
    told = run("load", "beacons", beacons, "--region", "north")
    refused = [line for line in told.out.splitlines() if line.startswith("refused ")]
    assert len(refused) == 1 and refused[0].startswith("refused line 3 club:mul: ") and "VOT" in refused[0]
    assert told.out.splitlines()[-1].startswith("Beaconry beacons: 2 rows taken, 1 refused,")
    assert run("list", "beacons").out.splitlines() == ["MUL  VOR/DME  Mull", "SKR  VOR/DME  Skerry"]


def test_a_second_load_tells_old_and_new_values_and_what_has_gone(run: Run, beacons: Path, tmp_path: Path):
    run("load", "empty-region", "north", "North Coast")
    run("load", "beacons", beacons, "--region", "north")
    later = tmp_path / "later.csv"
    later.write_bytes(table({**SKERRY, "elevation_ft": "815"}))
    told = run("load", "beacons", later, "--region", "north")
    assert "changed SKR VOR/DME Skerry: elevation_ft was 812, is 815" in told.out
    assert "gone MUL VOR/DME Mull" in told.out
    assert "0 added, 1 changed, 1 gone, 0 unchanged." in told.out


def test_a_file_that_looks_cut_off_is_refused_until_it_is_accepted(run: Run, tmp_path: Path):
    whole, cut = tmp_path / "whole.csv", tmp_path / "cut.csv"
    rows = [{**SKERRY, "key": f"club:{number}", "ident": f"A{number:02d}", "lat_deg": f"43.{number:02d}"} for number in range(20)]
    whole.write_bytes(table(*rows))
    cut.write_bytes(table(*rows[:5]))
    run("load", "empty-region", "north", "North Coast")
    run("load", "beacons", whole, "--region", "north")
    refusal = run("load", "beacons", cut, "--region", "north").refusal
    assert "cut off" in refusal and "--accept-fewer" in refusal
    assert run("load", "beacons", cut, "--region", "north", "--accept-fewer").code == 0
    assert len(run("list", "beacons").out.splitlines()) == 5


def test_very_many_refusals_are_counted_after_the_first_two_hundred(run: Run, tmp_path: Path):
    file = tmp_path / "bad.csv"
    file.write_bytes(table(SKERRY, *({**SKERRY, "key": f"club:{number}", "kind": "VOT"} for number in range(250))))
    run("load", "empty-region", "north", "North Coast")
    lines = run("load", "beacons", file, "--region", "north").out.splitlines()
    assert sum(line.startswith("refused line ") for line in lines) == 200
    assert "refused ... and 50 more" in lines


def test_a_region_folder_is_loaded_whole(run: Run, region_folder: Path):
    told = run("load", "region", region_folder)
    assert told.code == 0
    assert "Beaconry beacons: 3 rows taken" in told.out and "Beaconry checkpoints: 1 rows taken" in told.out
    assert "1 terrain files taken, 0 refused; ground " in told.out
    assert told.out.endswith("Skerry Sound: 1 aircraft and 0 routes added; 0 rows and 0 terrain files refused.\n")
    assert run("list", "airfields").out.splitlines() == ["XNOR   Northfield", "XSOU   Southfield"]
    assert run("list", "checkpoints").out == "Long Lake, lake\n"
    assert run("list", "aircraft").out == "X-ABCD\n"
    assert run("list", "regions").out == "skerry           Skerry Sound  (fictional)\n"
    assert run("list", "routes").out == "There are no routes yet.\n"


def test_a_region_folder_that_looks_cut_off_is_refused_until_it_is_accepted(run: Run, region_folder: Path, tmp_path: Path):
    folder = Path(shutil.copytree(region_folder, tmp_path / "skerry"))
    assert run("load", "region", folder).code == 0
    (folder / "beacons.csv").write_bytes(table(MULL))
    assert "--accept-fewer" in run("load", "region", folder).refusal
    assert run("load", "region", folder, "--accept-fewer").code == 0
    assert run("list", "beacons").out == "MUL  VOR/DME  Mull\n"


def test_the_last_line_of_a_region_load_counts_what_was_refused(run: Run, region_folder: Path, tmp_path: Path):
    folder = Path(shutil.copytree(region_folder, tmp_path / "skerry"))
    (folder / "beacons.csv").write_bytes(table(SKERRY, {**MULL, "kind": "VOT"}))
    (folder / "terrain" / "N43W036.hgt").write_bytes(b"cut")
    told = run("load", "region", folder)
    assert told.code == 0
    assert told.out.splitlines()[-1].endswith("; 1 rows and 1 terrain files refused.")


def test_the_same_table_under_another_name_adds_nothing(run: Run, tmp_path: Path):
    run("load", "empty-region", "north", "North Coast")
    for name in ("self.csv", "self_july.csv"):
        (tmp_path / name).write_bytes(table({**SKERRY, "key": ""}))
        assert run("load", "beacons", tmp_path / name, "--region", "north").code == 0
    assert run("list", "beacons").out == "SKR  VOR/DME  Skerry\n"


def test_terrain_is_loaded_tile_by_tile_and_a_cut_tile_is_named(run: Run, tmp_path: Path):
    good, cut = tmp_path / "N43W037.hgt", tmp_path / "N44W037.hgt"
    good.write_bytes(tile(100))
    cut.write_bytes(tile(100)[:70])
    run("load", "empty-region", "north", "North Coast")
    told = run("load", "terrain", good, cut, "--region", "north")
    assert told.code == 0
    assert told.out.startswith("refused ") and "N44W037.hgt: " in told.out
    assert "1 terrain files taken, 1 refused; ground " in told.out


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (("load", "beacons", "{file}", "--region", "nowhere"), 'There is no region called "nowhere"'),
        (("load", "beacons", "{missing}", "--region", "north"), "missing.csv cannot be read: No such file or directory."),
        (("load", "beacons", "{folder}", "--region", "north"), "cannot be read: Is a directory."),
        (("load", "beacons", "{html}", "--region", "north"), "is a web page or XML, not a comma-separated table"),
        (("load", "airfields", "{empty}", "--region", "north"), "is empty"),
        (("load", "airfields", "{file}", "--region", "north"), "beacons.csv is a table of beacons, not of airfields. Load it as beacons."),
        (("load", "checkpoints", "{file}", "--region", "north"), "beacons.csv is a table of beacons, not of checkpoints."),
        (("load", "beacons", "{pdf}", "--region", "north"), "beaconry: log1.pdf is a PDF file, not a table."),
        (("load", "checkpoints", "{pdf}", "--region", "north"), "beaconry: log1.pdf is a PDF file, not a table."),
        (("load", "checkpoints", "{other}", "--region", "north"), "beaconry: other.csv, line 1: as Beaconry checkpoints it must have"),
        (("load", "beacons", "{file}"), "the following arguments are required: --region"),
        (("load", "terrain", "{missing}", "--region", "north"), "missing.csv"),
        (("load", "terrain", "{html}", "--region", "north"), "page.html"),
        (("load", "terrain", "{tile}", "--region", "nowhere"), 'There is no region called "nowhere"'),
        (("load", "terrain", "{tile}", "--region", "north", "--sea", "{html}"), "sea"),
        (("load", "region", "{missing}"), "There is no folder"),
        (("load", "empty-region", "north", "Again"), 'There is a region "north" already'),
        (("load", "empty-region", "North Coast", "Again"), '"North Coast" cannot be a short name'),
        (("load", "empty-region", "south", " "), "Give the region a name for people"),
        (("load", "moon"), "invalid choice: 'moon'"),
        (("load",), "the following arguments are required: WHAT"),
    ],
)
def test_what_cannot_be_loaded_is_refused_in_one_line(run: Run, tmp_path: Path, beacons: Path, arguments: tuple[str, ...], text: str):
    (tmp_path / "page.html").write_bytes(b"<!DOCTYPE html><title>404</title>")
    (tmp_path / "empty.csv").write_bytes(b"")
    (tmp_path / "log1.pdf").write_bytes(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
    (tmp_path / "other.csv").write_bytes(b"name,colour\nA,red\n")
    (tmp_path / "N43W037.hgt").write_bytes(tile(100))
    places = {
        "file": beacons,
        "missing": tmp_path / "missing.csv",
        "folder": tmp_path,
        "html": tmp_path / "page.html",
        "empty": tmp_path / "empty.csv",
        "pdf": tmp_path / "log1.pdf",
        "other": tmp_path / "other.csv",
        "tile": tmp_path / "N43W037.hgt",
    }
    run("load", "empty-region", "north", "North Coast")
    assert text in run(*(word.format(**places) for word in arguments)).refusal
