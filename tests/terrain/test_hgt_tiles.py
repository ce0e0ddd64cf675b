"""The .hgt format: names, sizes, byte order, packing, and what a bad file is told.

Source: USGS/NASA, The SRTM Collection User Guide (from memory): file named by the south-west corner, 1201 or 3601 posts a side, rows from
north to south, big-endian signed 16 bit, metres, void -32768.
"""

from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from server.errors import InputProblem, TerrainMissing
from tests.terrain.files import hgt_bytes, hilly_tile, level_tile, write_tile, zip_bytes

TILE_BYTES = 2_884_802  # 2 x 1201 x 1201


@pytest.mark.parametrize(
    ("name", "south_deg", "west_deg"),
    [
        ("N44W072", 44, -72),
        ("n44w072", 44, -72),
        ("N00E000", 0, 0),
        ("S00E000", 0, 0),
        ("N00W000", 0, 0),
        ("S01W001", -1, -1),
        ("S10W120", -10, -120),
        ("N50E179", 50, 179),
        ("N50W180", 50, -180),
        ("S90E000", -90, 0),
        ("N44W072.SRTMGL3", 44, -72),
    ],
)
def test_a_name_gives_the_south_west_corner(store, tiles, name, south_deg, west_deg):
    write_tile(tiles, name, level_tile(100))
    bounds = store.load([tiles]).bounds
    assert (bounds.south_lat_deg, bounds.west_lon_deg) == (pytest.approx(south_deg, abs=1e-9), west_deg)
    assert (bounds.north_lat_deg, bounds.east_lon_deg) == (south_deg + 1, pytest.approx(west_deg + 1, abs=1e-9))


def test_posts_are_big_endian_rows_from_the_north_west_corner(store, tiles):
    content = bytearray(hgt_bytes(level_tile(5)))
    content[0:2] = bytes([0x01, 0x02])  # 258 in the north-west corner
    content[2400:2402] = bytes([0x00, 0x07])  # 7 in the north-east corner
    content[-2:] = struct.pack(">h", -3)  # -3 in the south-east corner
    (tiles / "S34W071.hgt").write_bytes(content)
    ground = store.open(store.load([tiles]).fingerprint)
    corners = ground.elevations_m(lat_deg=np.array([-33.0, -33.0, -34.0, -34.0]), lon_deg=np.array([-71.0, -70.0, -70.0, -71.0]))
    assert corners.tolist() == [258.0, 7.0, -3.0, 5.0]


def test_one_second_tiles_load(store, tiles):
    posts = level_tile(10, side=3601)
    posts[1800, 1800] = 1010
    write_tile(tiles, "N47E011", posts)
    ground = store.open(store.load([tiles]).fingerprint)
    lat_deg, lon_deg = np.array([47.5, 47.5 + 0.5 / 3600]), np.array([11.5, 11.5])
    assert ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg) == pytest.approx([1010.0, 510.0], abs=1e-6)


@pytest.mark.parametrize("packing", [".hgt", ".HGT", ".hgt.zip", ".HGT.ZIP", ".zip", ".hgt.gz", ".Hgt.Gz"])
def test_packing_and_case_make_no_difference(store, tiles, tmp_path, packing):
    posts = hilly_tile(1)
    plain = store.load([write_tile(tmp_path / "plain", "N44W072", posts)])
    packed = store.load([write_tile(tiles, "N44W072", posts, packing)])
    assert packed.fingerprint == plain.fingerprint
    assert packed.refused == ()


def _bad_files() -> dict[str, tuple[bytes, str]]:
    tile = hgt_bytes(level_tile(1))
    packed = zip_bytes({"N10E010.hgt": tile})
    locked = bytearray(packed)
    locked[6] |= 1  # general purpose bit 0, "encrypted", of the local header ...
    locked[locked.rindex(b"PK\x01\x02") + 8] |= 1  # ... and of the directory (APPNOTE.TXT 4.4.4)
    html = b"\n<!DOCTYPE html><html><body>Please sign in</body></html>"
    return {
        "N10E010.hgt": (b"x" * 70, "holds 70 bytes; an .hgt tile holds 2,884,802"),
        "N11E010.hgt": (b"", "empty"),
        "N12E010.hgt": (tile[:-2], "2,884,800 bytes"),
        "N13E010.hgt": (tile + b"\0\0", "2,884,804 bytes"),
        "N14E010.hgt": (html, "web page"),
        "N15E010.hgt.zip": (html, "web page"),
        "N16E010.hgt.zip": (packed[: len(packed) // 2], "damaged or cut short"),
        "N17E010.zip": (b"", "empty"),
        "N18E010.hgt.gz": (b"not gzip at all", "damaged or cut short"),
        "N10E010.hgt.zip": (zip_bytes({"N10E010.hgt": b"\0" * 60_000_000}), "more than 25,934,402 bytes"),
        "N10E011.hgt.zip": (zip_bytes({"../../N10E011.hgt": tile}), "outside itself"),
        "N10E012.hgt.zip": (zip_bytes({"/etc/N10E012.hgt": tile}), "outside itself"),
        "N10E013.zip": (zip_bytes({"N10E013.hgt": tile, "N10E014.hgt": tile}), "holds 2 .hgt tiles"),
        "N10E015.zip": (zip_bytes({"readme.txt": b"hello"}), "holds 0 .hgt tiles"),
        "N10E016.zip": (zip_bytes({f"{n}.txt": b"" for n in range(1001)}), "lists 1,001 files"),
        "N10E017.zip": (bytes(locked), "password"),
        "N10E018.zip": (zip_bytes({"N10E019.hgt": tile}), "one of the two names is wrong"),
        "hills.hgt": (tile, "does not begin with a south-west corner"),
        "N91E010.hgt": (tile, "off the earth"),
        "N10E180.hgt": (tile, "off the earth"),
        "N20E010.hgt": (hgt_bytes(level_tile(-32768)), "Every post in it is void"),
        "N21E010.hgt": (hgt_bytes(level_tile(12345)), "lie outside -12,000 to 9,000 m"),
    }


def test_bad_files_are_refused_one_by_one_and_good_ones_still_load(store, tiles):
    bad = _bad_files()
    for name, (content, _) in bad.items():
        (tiles / name).write_bytes(content)
    write_tile(tiles, "N44W072", level_tile(321))
    load = store.load([tiles])
    assert [file.name for file in load.taken] == ["N44W072.hgt"]
    reasons = {file.name: file.reason for file in load.refused}
    assert reasons.keys() == bad.keys()
    for name, (_, words) in bad.items():
        assert words in reasons[name], name
    ground = store.open(load.fingerprint)
    assert ground.elevations_m(lat_deg=np.array([44.5, 10.5]), lon_deg=np.array([-71.5, 10.5])).tolist() == pytest.approx(
        [321.0, np.nan], nan_ok=True
    )


def test_when_nothing_can_be_used_every_reason_is_told(store, tiles):
    (tiles / "N10E010.hgt").write_bytes(b"x" * 70)
    (tiles / "N11E010.hgt.zip").write_bytes(b"<html></html>")
    with pytest.raises(
        InputProblem, match=r"None of the elevation files could be used: N10E010\.hgt and 1 more\..*holds 70 bytes"
    ) as caught:
        store.load([tiles])
    assert [problem.place for problem in caught.value.problems] == ["N10E010.hgt", "N11E010.hgt.zip"]


def test_a_folder_without_elevation_files_says_what_is_wanted(store, tiles):
    (tiles / "README.md").write_text("no tiles here")
    (tiles / ".hidden.hgt").write_bytes(b"")
    with pytest.raises(TerrainMissing, match=r"No elevation file was found\. Give \.hgt"):
        store.load([tiles])


def test_a_missing_file_and_a_wrong_ending_are_refused_by_name(store, tiles):
    (tiles / "N10E010.txt").write_text("")
    good = write_tile(tiles, "N44W072", level_tile(1))
    load = store.load([tiles / "N10E010.txt", tiles / "nowhere", good])
    assert [file.name for file in load.refused] == ["N10E010.txt", "nowhere"]
    assert "does not end in .hgt" in load.refused[0].reason
    assert "There is no file or folder" in load.refused[1].reason


def test_a_few_implausible_posts_become_void_and_are_counted(store, tiles):
    posts = level_tile(100)
    posts[600, 600:603] = [9500, -12700, 9000]
    load = store.load([write_tile(tiles, "N44W072", posts)])
    assert load.taken[0].note == "2 heights outside -12,000 to 9,000 m were taken as void."
    ground = store.open(load.fingerprint)
    lon_deg = -72 + np.array([600, 601, 602]) / 1200
    assert ground.elevations_m(lat_deg=np.full(3, 44.5), lon_deg=lon_deg).tolist() == pytest.approx([np.nan, np.nan, 9000.0], nan_ok=True)


def test_tiles_in_subfolders_are_found_and_progress_is_told(store, tiles):
    write_tile(tiles / "north", "N45W072", level_tile(1))
    write_tile(tiles / "south", "N44W072", level_tile(2))
    told = []
    store.load([tiles], on_progress=told.append)
    assert [(step.doing, step.done, step.total) for step in told] == [
        ("Reading N45W072.hgt", 0, 2),
        ("Reading N44W072.hgt", 1, 2),
        ("Joining the tiles", 2, 2),
    ]


def test_loading_hgt_does_not_bring_in_rasterio(tiles, tmp_path):
    write_tile(tiles, "N44W072", level_tile(1))
    script = (
        "import sys; from pathlib import Path; from server.terrain import TerrainStore;"
        "TerrainStore(Path(sys.argv[1])).load([Path(sys.argv[2])]); print('rasterio' in sys.modules)"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "s"), str(tiles)], capture_output=True, text=True, cwd=root, check=True
    )
    assert done.stdout.strip() == "False"
