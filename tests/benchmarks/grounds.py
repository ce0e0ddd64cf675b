"""Grounds for the benchmarks: synthetic mountains at 3 seconds of arc, or a folder of elevation files."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np

from server.terrain import Terrain, TerrainStore
from server.terrain.ground import Mosaic
from server.terrain.lattice import Lattice

POSTS_A_DEGREE = 1200
NORTH, WEST, ROWS, COLUMNS = 49.3, 2.0, 5521, 8161
"""Holds 130 NM round any place near 47 N 5.4 E: 4.6 by 6.8 degrees."""


def mountains(seed: int = 11) -> Terrain:
    """Fractal mountains from the sea to about 3,000 m, a third of it sea; the land has a median slope of 9 degrees, 5 % above 19.

    Noise of ever finer grain, down to two posts, each of 0.64 of the height of the one before.
    """
    random = np.random.default_rng(seed)
    size = max(ROWS, COLUMNS)
    height = np.zeros((ROWS, COLUMNS), np.float32)
    for octave in range(2, 13):
        grain = random.normal(size=(2**octave + 1, 2**octave + 1)) * 0.64**octave
        across, down = np.linspace(0.0, 2**octave * COLUMNS / size, COLUMNS), np.linspace(0.0, 2**octave * ROWS / size, ROWS)
        along = np.array([np.interp(across, np.arange(2**octave + 1), line) for line in grain], np.float32)
        low = np.minimum(down.astype(int), 2**octave - 1)
        part = (down - low).astype(np.float32)[:, np.newaxis]
        height += along[low] * (1.0 - part) + along[low + 1] * part
    height = np.maximum(0.0, (height - height.mean()) / height.std() * 700.0 + 250.0)
    lattice = Lattice(
        north_lat_deg=NORTH,
        west_lon_deg=WEST,
        step_lat_deg=1 / POSTS_A_DEGREE,
        step_lon_deg=1 / POSTS_A_DEGREE,
        rows=ROWS,
        columns=COLUMNS,
    )
    fingerprint = hashlib.sha256(f"mountains {seed}".encode()).hexdigest()
    return Terrain(fingerprint=fingerprint, mosaics=[Mosaic(lattice=lattice, posts=height.astype(np.int16))])


def from_files(folder: Path, scratch: Path) -> Terrain:
    """The ground in a folder of elevation files, loaded into a scratch folder."""
    store = TerrainStore(scratch)
    return store.open(store.load([folder]).fingerprint)
