"""A home of its own for every command, empty or with a small region in it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from server.cli import main
from tests.exchange.table_builders import AIRCRAFT, OUR_AIRFIELD, OUR_BEACON, OUR_CHECKPOINT, REGION, table

SKERRY = {
    **OUR_BEACON,
    "azimuth_status": "operating",
    "azimuth_class": "VL",
    "distance_status": "operating",
    "distance_class": "DL",
}
MULL = {
    **SKERRY,
    "key": "club:mul",
    "ident": "MUL",
    "name": "Mull",
    "lat_deg": "43.7",
    "lon_deg": "-36.8",
    "frequency_khz": "112300",
    "channel": "70X",
}
TWIN = {**OUR_BEACON, "key": "club:skr2", "name": "Skerry Point", "kind": "NDB", "frequency_khz": "373", "channel": "", "alignment_deg": ""}
FAR_SIDE = {"key": "club:xsou", "ident": "XSOU", "name": "Southfield", "lat_deg": "43.8", "lon_deg": "-36.5", "elevation_ft": "90"}


def tile(elevation_m: int) -> bytes:
    """A level .hgt tile."""
    return np.full((1201, 1201), elevation_m, dtype=">i2").tobytes()


@pytest.fixture(scope="session")
def region_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A region as it is given away: two beacons and an NDB, two airfields, a checkpoint, an aircraft, one level tile."""
    folder = tmp_path_factory.mktemp("given") / "skerry"
    (folder / "terrain").mkdir(parents=True)
    (folder / "terrain" / "N43W037.hgt").write_bytes(tile(30))
    (folder / "region.toml").write_text(REGION, encoding="utf-8")
    (folder / "aircraft.toml").write_text(AIRCRAFT, encoding="utf-8")
    (folder / "beacons.csv").write_bytes(table(SKERRY, MULL, TWIN))
    (folder / "airfields.csv").write_bytes(table(OUR_AIRFIELD, FAR_SIDE))
    (folder / "checkpoints.csv").write_bytes(table(OUR_CHECKPOINT))
    return folder


@dataclass(frozen=True)
class Told:
    """What a command said and how it ended."""

    code: int
    out: str
    err: str

    @property
    def refusal(self) -> str:
        """The one line of a refusal, with nothing else said."""
        assert self.code == 2 and self.out == "", self
        (line,) = self.err.splitlines()
        assert line.startswith("beaconry: ")
        return line


Run = Callable[..., Told]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty home that the commands use."""
    home = tmp_path / "home"
    for name in [name for name in os.environ if name.startswith("BEACONRY_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("BEACONRY_HOME", str(home))
    monkeypatch.setenv("NUMBA_CACHE_DIR", os.environ.get("NUMBA_CACHE_DIR", ""))  # a command sets it once and for all
    return home


@pytest.fixture
def run(home: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> Run:
    """Run a command in this process."""

    def run_one(*arguments: object) -> Told:
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as stop:  # how argparse ends
            code = int(stop.code or 0)
        out, err = capfdbinary.readouterr()
        return Told(code, out.decode("utf-8", "replace"), err.decode())

    return run_one


@pytest.fixture(scope="session")
def furnished_home(region_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with the region loaded, built once."""
    home = tmp_path_factory.mktemp("furnished")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BEACONRY_HOME", str(home))
        patch.delenv("BEACONRY_DATABASE_URL", raising=False)
        patch.setenv("NUMBA_CACHE_DIR", os.environ.get("NUMBA_CACHE_DIR", ""))
        assert main(["load", "region", str(region_folder)]) == 0
    return home


@pytest.fixture
def furnished(furnished_home: Path, home: Path) -> Path:
    """A copy of the furnished home for one test."""
    return Path(shutil.copytree(furnished_home, home))
