"""The store: names by content, several processes at once, damage, and what a Terrain answers."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import shapely

from server.errors import InputProblem, TerrainMissing
from server.radio.ground import UNKNOWN_BELOW_M
from server.terrain import EmptyTerrain
from tests.terrain.files import hilly_tile, level_tile, write_tile

ROOT = Path(__file__).resolve().parents[2]


def kept(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_the_fingerprint_does_not_depend_on_order_names_of_folders_or_packing(store, tiles, tmp_path):
    first = [write_tile(tiles, "N44W072", hilly_tile(1)), write_tile(tiles, "N44W073", hilly_tile(2))]
    second = [write_tile(tmp_path / "b", "N44W073", hilly_tile(2), ".hgt.gz"), write_tile(tmp_path / "a", "N44W072", hilly_tile(1), ".zip")]
    prints = {store.load(paths).fingerprint for paths in (first, first[::-1], second, [tiles, *second])}
    assert len(prints) == 1


def test_the_fingerprint_changes_with_a_post_a_place_or_the_sea(store, tiles, tmp_path):
    posts = level_tile(100)
    posts[10, 10] = -32768
    plain = write_tile(tiles, "N44W072", posts)
    other_post = posts.copy()
    other_post[700, 700] = 101
    prints = [
        store.load([plain]).fingerprint,
        store.load([write_tile(tmp_path / "b", "N44W072", other_post)]).fingerprint,
        store.load([write_tile(tmp_path / "c", "N44W073", posts)]).fingerprint,
        store.load([plain], sea=shapely.box(-72, 44, -71, 45)).fingerprint,
    ]
    assert len(set(prints)) == 4


def test_loading_the_same_twice_changes_nothing(store, tiles, tmp_path):
    write_tile(tiles, "N44W072", hilly_tile(1))
    first = store.load([tiles])
    before = kept(tmp_path / "store")
    assert store.load([tiles]) == first
    assert kept(tmp_path / "store") == before
    assert len(before) == 2  # one mosaic, one manifest


def test_two_processes_may_load_and_read_at_once(tiles, tmp_path):
    write_tile(tiles, "N44W072", hilly_tile(1))
    write_tile(tiles, "N44W073", hilly_tile(2))
    script = (
        "import sys; import numpy as np; from pathlib import Path; from server.terrain import TerrainStore\n"
        "for _ in range(4):\n"
        "    store = TerrainStore(Path(sys.argv[1])); fingerprint = store.load([Path(sys.argv[2])]).fingerprint\n"
        "    height = store.open(fingerprint).elevations_m(lat_deg=np.array([44.5]), lon_deg=np.array([-71.5]))[0]\n"
        "    print(fingerprint, height)\n"
    )
    command = [sys.executable, "-c", script, str(tmp_path / "store"), str(tiles)]
    running = [subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for _ in range(3)]
    answers = [process.communicate() for process in running]
    assert [process.returncode for process in running] == [0, 0, 0], answers
    lines = {line for out, _ in answers for line in out.splitlines()}
    assert len(lines) == 1
    assert lines.pop().endswith(f" {float(hilly_tile(1)[600, 600])}")
    assert len(kept(tmp_path / "store")) == 2


def test_an_unknown_fingerprint_is_told(store, tiles):
    for fingerprint in ("0" * 64, "", "../secret"):
        with pytest.raises(TerrainMissing, match="holds no ground"):
            store.open(fingerprint)


def _flip_a_byte(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def _cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1000])


def _change_lattice(path: Path) -> None:
    manifest = json.loads(path.read_text())
    manifest["mosaics"][0]["lattice"]["north_lat_deg"] += 1.0
    path.write_text(json.dumps(manifest))


@pytest.mark.parametrize(
    ("ending", "damage"),
    [
        (".npy", _flip_a_byte),
        (".npy", _cut_short),
        (".npy", Path.unlink),
        (".npy", lambda path: path.write_bytes(b"")),
        (".json", _change_lattice),
        (".json", lambda path: path.write_text("{")),
        (".json", lambda path: path.write_bytes(b"\xff\xfe")),
    ],
)
def test_damage_is_told_and_loading_again_repairs_it(store, tiles, tmp_path, ending, damage):
    write_tile(tiles, "N44W072", hilly_tile(1))
    fingerprint = store.load([tiles]).fingerprint
    damage(next((tmp_path / "store").glob(f"*{ending}")))
    with pytest.raises(TerrainMissing, match=r"missing or damaged\. Load the region's elevation files again") as caught:
        store.open(fingerprint)
    assert caught.value.code == "terrain-damaged"
    store.load([tiles])
    assert store.open(fingerprint).fingerprint == fingerprint


def test_what_a_cut_off_load_left_is_swept_after_a_day_but_a_running_one_is_not(store, tiles, tmp_path):
    old, new = tmp_path / "store" / ".loading-old", tmp_path / "store" / ".loading-new"
    for folder in (old, new):
        folder.mkdir(parents=True)
        (folder / "sheet-0.npy").write_bytes(b"half")
    two_days_ago = time.time() - 2 * 24 * 3600
    os.utime(old, (two_days_ago, two_days_ago))
    write_tile(tiles, "N44W072", level_tile(1))
    store.load([tiles])
    assert not old.exists()
    assert new.exists()


def test_a_failed_load_leaves_nothing_behind(store, tiles, tmp_path):
    write_tile(tiles, "N44W072", level_tile(1))

    def give_up(step):
        if step.doing.startswith("Joining"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        store.load([tiles], on_progress=give_up)
    assert kept(tmp_path / "store") == {}


def test_a_full_disk_is_told(store, tiles, monkeypatch):
    def no_room(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    write_tile(tiles, "N44W072", level_tile(1))
    monkeypatch.setattr(os, "posix_fallocate", no_room)
    with pytest.raises(InputProblem, match="no room for 3 MB more"):
        store.load([tiles])


def test_a_window_is_a_read_only_view_of_the_mapped_file(store, tiles):
    write_tile(tiles, "N44W072", hilly_tile(1))
    ground = store.open(store.load([tiles]).fingerprint)
    first = ground.window(south_deg=44.2, north_deg=44.4, west_deg=-71.8, east_deg=-71.6)
    second = ground.window(south_deg=44.3, north_deg=44.5, west_deg=-71.7, east_deg=-71.5)
    assert np.shares_memory(first.posts, second.posts)
    with pytest.raises(ValueError, match="read-only"):
        first.posts[0, 0] = 1
    assert (first.posts == hilly_tile(1)[720:961, 240:481]).all()


def test_a_window_encloses_what_was_asked_and_stops_where_the_ground_ends(store, tiles):
    write_tile(tiles, "N44W072", hilly_tile(1))
    ground = store.open(store.load([tiles]).fingerprint)
    inner = ground.window(south_deg=44.20001, north_deg=44.20002, west_deg=-71.49999, east_deg=-71.49998)
    assert inner.posts.shape == (2, 2)
    assert inner.north_lat_deg - inner.step_lat_deg <= 44.20001 < 44.20002 <= inner.north_lat_deg
    assert inner.west_lon_deg <= -71.49999 < -71.49998 <= inner.west_lon_deg + inner.step_lon_deg
    outer = ground.window(south_deg=40.0, north_deg=50.0, west_deg=-80.0, east_deg=-60.0)
    assert (outer.posts.shape, outer.north_lat_deg, outer.west_lon_deg) == ((1201, 1201), 45.0, -72.0)
    corner = ground.window(south_deg=45.0, north_deg=46.0, west_deg=-73.0, east_deg=-72.0)
    assert corner.posts[0, 0] == hilly_tile(1)[0, 0]
    assert ground.window(south_deg=45.1, north_deg=46.0, west_deg=-72.0, east_deg=-71.0) is None
    assert ground.window(south_deg=44.0, north_deg=45.0, west_deg=-70.9, east_deg=-70.0) is None


def test_odd_places_are_unknown_and_longitudes_fold(store, tiles):
    write_tile(tiles, "N89W180", level_tile(100))
    ground = store.open(store.load([tiles]).fingerprint)
    odd = [(np.nan, -179.5), (np.inf, -179.5), (89.5, -np.inf), (89.5, np.nan), (90.1, -179.5), (-89.5, -179.5), (1e300, 1e300)]
    lat_deg, lon_deg = np.array(odd).T
    assert np.isnan(ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)).all()
    folded = ground.elevations_m(lat_deg=np.full(4, 90.0), lon_deg=np.array([-179.5, 180.5, -539.5, 180.0]))
    assert folded.tolist() == [100.0, 100.0, 100.0, 100.0]
    assert ground.elevations_m(lat_deg=np.array([]), lon_deg=np.array([])).shape == (0,)


def test_a_region_without_ground_is_unknown_everywhere():
    ground = EmptyTerrain()
    assert np.isnan(ground.elevations_m(lat_deg=np.array([0.0, 45.0]), lon_deg=np.array([0.0, 10.0]))).all()
    assert ground.window(south_deg=0, north_deg=1, west_deg=0, east_deg=1) is None
    assert ground.fingerprint


def test_loading_more_tiles_takes_no_more_memory(store, tiles):
    for lat in range(40, 44):
        write_tile(tiles, f"N{lat}E010", level_tile(lat, side=3601))
    peaks = []
    for paths in ([tiles / "N40E010.hgt"], [tiles]):
        tracemalloc.start()
        store.load(paths)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.2 * peaks[0]


def test_an_unknown_post_is_below_the_limit_that_the_radio_models_use(store, tiles):
    posts = level_tile(5)
    posts[0, 0] = -32768
    write_tile(tiles, "N44W072", posts)
    ground = store.open(store.load([tiles]).fingerprint)
    window = ground.window(south_deg=44.9, north_deg=45.0, west_deg=-72.0, east_deg=-71.9)
    assert (window.posts > UNKNOWN_BELOW_M).sum() == window.posts.size - 1
