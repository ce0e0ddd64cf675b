"""The commands about a whole region: check it, write it as one file, load that file elsewhere."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import Run


def test_the_check_prints_findings_with_counts_then_what_is_not_checked(run: Run, furnished: Path):
    told = run("check-region", "skerry")
    lines = told.out.splitlines()
    assert (told.code, told.err) == (0, "")
    assert lines[0].startswith("WARNING  ") and lines[0].endswith("Elevation does not fit the terrain: 3")
    assert any(line.startswith("  SKR VOR/DME Skerry: Its published elevation") for line in lines)
    assert "NOT CHECKED" in lines
    assert lines[-1].startswith("Skerry Sound, ") and "3 beacons, 2 airfields, 1 checkpoints; " in lines[-1]


def test_a_region_that_is_not_there_is_refused(run: Run, furnished: Path):
    assert 'There is no region called "nowhere"' in run("check-region", "nowhere").refusal
    assert 'There is no region called "nowhere"' in run("export-region", "nowhere", furnished / "x.zip").refusal


def test_a_region_goes_away_as_one_file_and_comes_in_elsewhere(run: Run, furnished: Path, tmp_path: Path, monkeypatch):
    file, second = tmp_path / "skerry.region.zip", tmp_path / "second.region.zip"
    told = run("export-region", "skerry", file)
    assert (told.code, told.err) == (0, "")
    assert told.out.splitlines()[-1] == "Load it elsewhere with: beaconry load region skerry.region.zip"
    assert run("export-region", "skerry", second).code == 0 and second.read_bytes() == file.read_bytes()
    monkeypatch.setenv("BEACONRY_HOME", str(tmp_path / "elsewhere"))
    told = run("load", "region", file)
    assert told.code == 0 and "1 terrain files taken, 0 refused; ground " in told.out
    assert told.out.endswith("Skerry Sound: 0 aircraft and 0 routes added; 0 rows and 0 terrain files refused.\n")
    assert run("list", "beacons").out == run("list", "beacons", "--region", "skerry").out != ""
    assert "already" in run("load", "region", file).refusal
    assert run("load", "region", file).refusal.endswith("Add --as NAME.")
    assert run("load", "region", file, "--as", "skerry-2").code == 0
    assert "skerry-2" in run("list", "regions").out


def test_a_file_that_cannot_be_written_is_refused_and_leaves_nothing(run: Run, furnished: Path, tmp_path: Path):
    assert "cannot be written: No such file or directory" in run("export-region", "skerry", tmp_path / "no" / "x.zip").refusal
    folder = tmp_path / "full"
    folder.mkdir()
    assert "cannot be written: Is a directory" in run("export-region", "skerry", folder).refusal
    assert sorted(path.name for path in tmp_path.iterdir()) == ["full", "home"]


def test_a_cut_file_is_refused_in_one_line(run: Run, furnished: Path, tmp_path: Path):
    file = tmp_path / "skerry.region.zip"
    run("export-region", "skerry", file)
    whole = file.read_bytes()
    file.write_bytes(whole[:1000])
    assert "cut short or damaged" in run("load", "region", file, "--as", "other").refusal
    file.write_bytes(whole[:-40])  # the last thing in it that looks like the end of a ZIP is that of a tile
    assert "not a region file, or cut short" in run("load", "region", file, "--as", "other").refusal
    assert run("list", "regions").out.count("\n") == 1


def test_another_short_name_is_not_for_a_folder(run: Run, region_folder: Path):
    assert "--as is for a region that comes in one file" in run("load", "region", region_folder, "--as", "other").refusal
