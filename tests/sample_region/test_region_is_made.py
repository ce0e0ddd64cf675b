"""The script makes the committed files again, post for post and byte for byte."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest

from sample_region.make_region import make
from server.settings import PROJECT_ROOT

FOLDER = PROJECT_ROOT / "sample_region"
MEBIBYTE = 1 << 20


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    make(folder)
    return folder


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "terrain").iterdir())


def posts(packed: Path) -> np.ndarray:
    with zipfile.ZipFile(packed) as archive:
        (entry,) = archive.infolist()
        return np.frombuffer(archive.read(entry), dtype=">i2").reshape(1201, 1201)


@pytest.mark.parametrize(
    "name", ["beacons.csv", "airfields.csv", "checkpoints.csv", "sea.geojson", "region.toml", "aircraft.toml", "routes.toml"]
)
def test_the_script_makes_the_committed_tables_byte_for_byte(made: Path, name: str):
    assert (made / name).read_bytes() == (FOLDER / name).read_bytes()


def test_the_script_makes_the_committed_posts(made: Path):
    """The unpacked posts are compared: two versions of zlib may pack the same posts into different bytes."""
    assert names(made) == names(FOLDER)
    for name in names(FOLDER):
        assert np.array_equal(posts(made / "terrain" / name), posts(FOLDER / "terrain" / name)), name


def test_archives_carry_no_time_of_making():
    for name in names(FOLDER):
        with zipfile.ZipFile(FOLDER / "terrain" / name) as archive:
            assert [entry.date_time for entry in archive.infolist()] == [(2026, 1, 1, 0, 0, 0)]


def test_the_terrain_stays_small():
    """Limits: the terrain under 8 MB by the issue, and no file of 2 MB."""
    sizes = [(FOLDER / "terrain" / name).stat().st_size for name in names(FOLDER)]
    assert sum(sizes) < 8 * MEBIBYTE
    assert max(sizes) < 2 * MEBIBYTE


def test_neighbouring_tiles_repeat_the_posts_of_their_common_edge():
    """The .hgt layout: edge posts stand in both tiles (USGS/NASA, The SRTM Collection User Guide, from memory)."""
    tiles = {name[:7]: posts(FOLDER / "terrain" / name) for name in names(FOLDER)}
    for south in (42, 43, 44):
        for west in (38, 37, 36, 35):
            here = tiles.get(f"N{south}W{west:03d}")
            east, north = tiles.get(f"N{south}W{west - 1:03d}"), tiles.get(f"N{south + 1}W{west:03d}")
            if here is not None and east is not None:
                assert np.array_equal(here[:, -1], east[:, 0])
            if here is not None and north is not None:
                assert np.array_equal(here[0], north[-1])
