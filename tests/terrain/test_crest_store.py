"""Crest tables on disk: kept, shared, and made anew whatever happened to the file, the ground, the beacon or the disk."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from server.navigation import Position
from server.radio import Antenna
from server.settings import PROJECT_ROOT
from server.terrain import crest_store
from server.terrain.crest_store import CrestStore
from tests.builders import flat_ground, ridge_ground

ANTENNA = Antenna(
    position=Position(lat_deg=43.5, lon_deg=-36.0), altitude_m=30.0, ground_m=0.0, height_assumed=False, elevation_estimated=False
)
RIDGE = ridge_ground(0.0, 900.0, ridge_lon_deg=-35.5)
ARRAYS = ("first_crest", "distance", "slope", "drift", "unknown_from_m")


def assert_same(one, other):
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert (one.antenna, one.effective_radius_m, one.reach_m) == (other.antenna, other.effective_radius_m, other.reach_m)


@pytest.fixture
def made(monkeypatch):
    """The antennas of all tables made during a test."""
    antennas = []
    build_table = crest_store.build_table

    def counted(**asked):
        antennas.append(asked["antenna"])
        return build_table(**asked)

    monkeypatch.setattr(crest_store, "build_table", counted)
    return antennas


def the_file(folder: Path) -> Path:
    (file,) = folder.glob("*.crests")
    return file


def test_a_table_is_made_once_and_then_read_from_its_file(tmp_path, made):
    assert CrestStore(tmp_path).find(ANTENNA, RIDGE) is None
    table = CrestStore(tmp_path).get(ANTENNA, RIDGE)
    again = CrestStore(tmp_path).get(ANTENNA, RIDGE)
    assert made == [ANTENNA]
    assert table.distance.size > 1000
    assert_same(table, again)
    assert_same(table, CrestStore(tmp_path).find(ANTENNA, RIDGE))
    assert [file.suffix for file in tmp_path.iterdir()] == [".crests"]


def test_a_table_from_a_file_cannot_be_written_to(tmp_path):
    table = CrestStore(tmp_path).get(ANTENNA, RIDGE)
    for name in ARRAYS:
        assert not getattr(table, name).flags.writeable


@pytest.mark.parametrize(
    "moved",
    [
        replace(ANTENNA, position=Position(lat_deg=43.5 + 1.0 / 111_100.0, lon_deg=-36.0)),
        replace(ANTENNA, position=Position(lat_deg=44.5, lon_deg=-36.0)),
        replace(ANTENNA, altitude_m=31.0),
    ],
    ids=["moved by 1 m", "moved by 1 degree", "1 m higher"],
)
def test_another_antenna_has_another_table(tmp_path, made, moved):
    store = CrestStore(tmp_path)
    store.get(ANTENNA, RIDGE)
    assert store.get(moved, RIDGE).antenna == moved
    assert made == [ANTENNA, moved]
    assert len(list(tmp_path.iterdir())) == 2


def test_an_antenna_that_only_became_better_known_keeps_its_table(tmp_path, made):
    store = CrestStore(tmp_path)
    store.get(replace(ANTENNA, height_assumed=True), RIDGE)
    assert CrestStore(tmp_path).get(ANTENNA, RIDGE).antenna == ANTENNA
    assert len(made) == 1


def test_changed_ground_has_another_table(tmp_path, made):
    store = CrestStore(tmp_path)
    before = store.get(ANTENNA, RIDGE)
    after = store.get(ANTENNA, ridge_ground(0.0, 1200.0, ridge_lon_deg=-35.5))
    assert len(made) == 2
    assert after.slope.max() > before.slope.max()


def test_removed_ground_leaves_an_open_table_as_it_was_and_is_unknown_from_then_on(tmp_path):
    store = CrestStore(tmp_path)
    store.get(ANTENNA, RIDGE)
    nothing = flat_ground(np.nan)
    table = store.get(ANTENNA, nothing)
    assert (table.unknown_from_m <= 200.0).all()
    assert store.find(ANTENNA, RIDGE).distance.size > 1000


def test_another_refraction_has_another_table(tmp_path):
    store = CrestStore(tmp_path)
    assert store.get(ANTENNA, RIDGE, 1.2).effective_radius_m < store.get(ANTENNA, RIDGE).effective_radius_m


def test_new_code_makes_tables_anew(tmp_path, made, monkeypatch):
    CrestStore(tmp_path).get(ANTENNA, RIDGE)
    monkeypatch.setattr(crest_store, "TABLE_VERSION", crest_store.TABLE_VERSION + 1)
    CrestStore(tmp_path).get(ANTENNA, RIDGE)
    assert len(made) == 2


def cut_in_half(data: bytes) -> bytes:
    return data[: len(data) // 2]


def emptied(data: bytes) -> bytes:
    return b""


def one_bit_changed(data: bytes) -> bytes:
    return data[:-9] + bytes([data[-9] ^ 1]) + data[-8:]


def of_another_kind(data: bytes) -> bytes:
    return b"x" * len(data)


@pytest.mark.parametrize("damage", [cut_in_half, emptied, one_bit_changed, of_another_kind])
def test_a_damaged_file_is_replaced_without_a_word(tmp_path, made, damage):
    table = CrestStore(tmp_path).get(ANTENNA, RIDGE)
    file = the_file(tmp_path)
    good = file.read_bytes()
    del table
    file.unlink()
    file.write_bytes(damage(good))
    assert CrestStore(tmp_path).find(ANTENNA, RIDGE) is None
    CrestStore(tmp_path).get(ANTENNA, RIDGE)
    assert len(made) == 2
    assert file.read_bytes() == good


def test_a_full_disk_leaves_the_table_in_memory(tmp_path, made, monkeypatch):
    def no_space(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_space)
    store = CrestStore(tmp_path)
    table = store.get(ANTENNA, RIDGE)
    assert table.distance.size > 1000
    assert store.get(ANTENNA, RIDGE) is table
    assert len(made) == 1
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_leaves_the_table_in_memory(tmp_path):
    (tmp_path / "file").write_text("in the way")
    assert CrestStore(tmp_path / "file" / "folder").get(ANTENNA, RIDGE).distance.size > 1000


def test_a_folder_that_may_only_be_read_serves(tmp_path, made, monkeypatch):
    CrestStore(tmp_path).get(ANTENNA, RIDGE)

    def refuse(file):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "utime", refuse)
    assert CrestStore(tmp_path).find(ANTENNA, RIDGE) is not None


def test_threads_that_ask_at_once_share_one_table(tmp_path, made):
    store = CrestStore(tmp_path)
    tables = []
    threads = [threading.Thread(target=lambda: tables.append(store.get(ANTENNA, RIDGE))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 1
    assert all(table is tables[0] for table in tables)


TWO_PROCESSES = """
import sys
from pathlib import Path
from tests.terrain.test_crest_store import ANTENNA, RIDGE, CrestStore
table = CrestStore(Path(sys.argv[1])).get(ANTENNA, RIDGE)
print(table.distance.size, float(table.slope.sum()))
"""


def test_processes_that_ask_at_once_leave_one_good_file(tmp_path):
    runs = [
        subprocess.Popen([sys.executable, "-c", TWO_PROCESSES, tmp_path], cwd=PROJECT_ROOT, stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    answers = [run.communicate()[0] for run in runs]
    assert [run.returncode for run in runs] == [0, 0]
    assert answers[0] == answers[1] != ""
    assert the_file(tmp_path)
    assert CrestStore(tmp_path).find(ANTENNA, RIDGE) is not None


def test_all_are_made_in_the_background_and_progress_is_told(tmp_path, made):
    antennas = [replace(ANTENNA, altitude_m=30.0 + k) for k in range(3)]
    told = []
    CrestStore(tmp_path).build_all(antennas, RIDGE, on_progress=told.append)
    assert [(progress.done, progress.total) for progress in told] == [(1, 3), (2, 3), (3, 3)]
    assert len(made) == 3
    assert all(CrestStore(tmp_path).find(antenna, RIDGE) is not None for antenna in antennas)


def test_a_failure_in_the_background_is_told(tmp_path, monkeypatch):
    def broken(**asked):
        raise RuntimeError("no ground today")

    monkeypatch.setattr(crest_store, "build_table", broken)
    with pytest.raises(RuntimeError, match="no ground today"):
        CrestStore(tmp_path).build_all([ANTENNA], RIDGE)


def test_near_a_pole_there_is_no_table(tmp_path, made):
    polar = replace(ANTENNA, position=Position(lat_deg=85.0, lon_deg=0.0))
    assert CrestStore(tmp_path).get(polar, RIDGE) is None
    CrestStore(tmp_path).build_all([polar], RIDGE)
    assert made == []


def test_tables_longest_unused_make_room(tmp_path):
    antennas = [replace(ANTENNA, altitude_m=30.0 + k) for k in range(3)]
    CrestStore(tmp_path).get(antennas[0], RIDGE)
    first = the_file(tmp_path)
    CrestStore(tmp_path).get(antennas[1], RIDGE)
    for file in tmp_path.iterdir():
        os.utime(file, (1e9, 1e9 + (file == first)))  # the first was used later than the second
    CrestStore(tmp_path, largest_folder_bytes=int(first.stat().st_size * 1.5)).get(antennas[2], RIDGE)
    kept = CrestStore(tmp_path)
    assert [kept.find(antenna, RIDGE) is not None for antenna in antennas] == [True, False, True]


def test_what_a_cut_off_process_left_is_swept(tmp_path):
    old, fresh = tmp_path / "making-old", tmp_path / "making-fresh"
    for file in (old, fresh):
        file.write_bytes(b"half")
    os.utime(old, (1e9, 1e9))
    CrestStore(tmp_path).get(ANTENNA, RIDGE)
    assert (old.exists(), fresh.exists()) == (False, True)
