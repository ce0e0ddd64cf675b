"""Ground written as files and loaded again is the same ground: same posts on the same lattice, hence the same fingerprint."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
import shapely

from server.errors import InputProblem
from server.terrain import TerrainStore, write_tiles
from server.terrain import tiles as tiles_module
from server.terrain.geotiff import write_geotiff
from server.terrain.lattice import Lattice

VOID = -32768


def hgt(folder: Path, name: str, posts: np.ndarray) -> Path:
    file = folder / f"{name}.hgt"
    file.write_bytes(posts.astype(">i2").tobytes())
    return file


def hills(rows: int, columns: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 2000, (rows, columns)).astype(np.int16)


def round_trip(tmp_path: Path, paths: list[Path], sea=None) -> list[str]:
    """Load, write, load elsewhere; check the fingerprint and return the names of the files between."""
    here, there = TerrainStore(tmp_path / "here"), TerrainStore(tmp_path / "there")
    loaded = here.load(paths, sea=sea)
    files = write_tiles(here.open(loaded.fingerprint), tmp_path / "out")
    again = there.load([tmp_path / "out"], sea=sea)
    assert again.refused == ()
    assert again.fingerprint == loaded.fingerprint
    return [file.relative_to(tmp_path / "out").as_posix() for file in files]


def test_whole_tiles_with_voids_and_sea_go_out_as_packed_tiles(tmp_path: Path):
    posts = hills(1201, 1201, 1)
    posts[100:130, 40:900] = VOID
    posts[-200:] = VOID
    sea = shapely.box(-37.0, 43.0, -35.0, 43.1)
    names = round_trip(tmp_path, [hgt(tmp_path, "N43W037", posts), hgt(tmp_path, "N43W036", hills(1201, 1201, 2))], sea)
    assert names == ["N43W036.hgt.zip", "N43W037.hgt.zip"]


def test_tiles_beyond_the_antimeridian_and_south_of_the_equator_keep_their_names(tmp_path: Path):
    files = [hgt(tmp_path, name, hills(1201, 1201, seed)) for seed, name in enumerate(("S01E179", "S01W180"))]
    assert round_trip(tmp_path, files) == ["S01E179.hgt.zip", "S01W180.hgt.zip"]


def test_ground_of_another_step_goes_out_as_a_geotiff_to_the_last_bit(tmp_path: Path):
    lattice = Lattice(
        north_lat_deg=43.9 + 1 / 7, west_lon_deg=-36.7 - 1 / 11, step_lat_deg=1 / 777, step_lon_deg=1 / 555, rows=90, columns=120
    )
    posts = hills(90, 120, 3)
    posts[10:20, 30:50] = VOID
    file = tmp_path / "made.tif"
    write_geotiff(posts, lattice, file)
    store = TerrainStore(tmp_path / "read")
    (mosaic,) = store.open(store.load([file]).fingerprint).mosaics
    assert mosaic.lattice == lattice
    assert np.array_equal(mosaic.posts, posts)
    assert round_trip(tmp_path, [file]) == ["ground-001.tif"]


def test_parts_of_a_metre_are_kept(tmp_path: Path):
    lattice = Lattice(north_lat_deg=44.0, west_lon_deg=-37.0, step_lat_deg=0.01, step_lon_deg=0.01, rows=50, columns=60)
    posts = (np.random.default_rng(4).random((50, 60)) * 900).astype(np.float32)
    posts[3:9, 5:50] = np.nan
    file = tmp_path / "made.tif"
    write_geotiff(posts, lattice, file)
    assert round_trip(tmp_path, [file]) == ["ground-001.tif"]


def test_a_large_ground_is_written_in_strips_that_join_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(tiles_module, "MOST_POSTS_IN_A_WRITTEN_FILE", 2_000)
    lattice = Lattice(north_lat_deg=44.0, west_lon_deg=-37.0, step_lat_deg=0.01, step_lon_deg=0.01, rows=50, columns=60)
    file = tmp_path / "made.tif"
    write_geotiff(hills(50, 60, 5), lattice, file)
    assert round_trip(tmp_path, [file]) == ["ground-001.tif", "ground-002.tif"]


def test_two_lattices_of_one_place_are_kept_apart(tmp_path: Path):
    fine, coarse = hgt(tmp_path, "N43W037", hills(1201, 1201, 6)), tmp_path / "coarse.tif"
    lattice = Lattice(north_lat_deg=44.0, west_lon_deg=-37.0, step_lat_deg=0.05, step_lon_deg=0.05, rows=41, columns=41)
    write_geotiff(hills(41, 41, 7), lattice, coarse)
    assert round_trip(tmp_path, [fine, coarse]) == ["1/N43W037.hgt.zip", "2/ground-001.tif"]


def test_the_same_ground_is_written_as_the_same_bytes_with_a_fixed_date(tmp_path: Path):
    store = TerrainStore(tmp_path / "store")
    ground = store.open(store.load([hgt(tmp_path, "N43W037", hills(1201, 1201, 8))]).fingerprint)
    (one,), (two,) = write_tiles(ground, tmp_path / "one"), write_tiles(ground, tmp_path / "two")
    assert one.read_bytes() == two.read_bytes()
    with zipfile.ZipFile(one) as archive:
        assert [entry.date_time[0] for entry in archive.infolist()] == [1980]


def test_more_posts_than_are_taken_at_once_are_refused_as_they_come(tmp_path: Path):
    files = [hgt(tmp_path, name, hills(1201, 1201, 9)) for name in ("N43W037", "N43W036")]
    store = TerrainStore(tmp_path / "store")
    with pytest.raises(InputProblem, match="more than 2,000,000 posts") as caught:
        store.load(files, most_posts=2_000_000)
    assert caught.value.code == "terrain-too-large"
    assert store.load(files, most_posts=2 * 1201 * 1201).refused == ()
