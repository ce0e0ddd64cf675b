"""Writes a loaded ground as files that the readers of this package take again: packed .hgt tiles, else GeoTIFF.

Ground on whole degrees and the steps of .hgt tiles is cut into such tiles; any other is written as GeoTIFF, one for each mosaic. Loaded
again with the same sea, they give the same posts on the same lattice.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from server.radio.ground import UNKNOWN_BELOW_M
from server.terrain.ground import Mosaic, Terrain
from server.terrain.hgt import SIDE_OF_BYTES, tile_name, write_hgt_zip
from server.terrain.lattice import VOID

MOST_POSTS_IN_A_WRITTEN_FILE = 100_000_000
"""Less than a GeoTIFF that is read may have."""


def write_tiles(terrain: Terrain, folder: Path) -> tuple[Path, ...]:
    """Write the ground into a folder and return the files, in the order of their names; none for a part without a known post."""
    files: list[Path] = []
    for number, mosaic in enumerate(terrain.mosaics, 1):
        own = folder / str(number) if len(terrain.mosaics) > 1 else folder
        own.mkdir(parents=True, exist_ok=True)
        side = _hgt_side(mosaic)
        files += _hgt_tiles(mosaic, side, own) if side is not None else _geotiffs(mosaic, own)
    return tuple(sorted(files))


def _hgt_side(mosaic: Mosaic) -> int | None:
    """Return the posts along the side of an .hgt tile whose lattice this is, to the last bit; None where it is not of that kind."""
    lattice = mosaic.lattice
    if mosaic.posts.dtype.kind != "i" or not (lattice.north_lat_deg.is_integer() and lattice.west_lon_deg.is_integer()):
        return None
    for side in SIDE_OF_BYTES.values():
        step_deg = 1.0 / (side - 1)
        if lattice.step_lat_deg == lattice.step_lon_deg == step_deg and (lattice.rows - 1) % (side - 1) == 0:
            return side if (lattice.columns - 1) % (side - 1) == 0 else None
    return None


def _hgt_tiles(mosaic: Mosaic, side: int, folder: Path) -> Iterator[Path]:
    lattice, steps = mosaic.lattice, side - 1
    for row in range((lattice.rows - 1) // steps):
        for column in range((lattice.columns - 1) // steps):
            posts = mosaic.posts[row * steps : row * steps + side, column * steps : column * steps + side]
            if not _knows_anything(posts):
                continue
            west_deg = int(lattice.west_lon_deg) + column
            name = tile_name(south_deg=int(lattice.north_lat_deg) - row - 1, west_deg=(west_deg + 180) % 360 - 180)
            file = folder / f"{name}.hgt.zip"
            write_hgt_zip(np.where(posts > UNKNOWN_BELOW_M, posts, VOID), name, file)
            yield file


def _geotiffs(mosaic: Mosaic, folder: Path) -> Iterator[Path]:
    from server.terrain.geotiff import write_geotiff  # brings in rasterio, which takes longer to import than all the rest

    lattice = mosaic.lattice
    parts = -(-lattice.rows * lattice.columns // MOST_POSTS_IN_A_WRITTEN_FILE)
    edges = [round(part * lattice.rows / parts) for part in range(parts + 1)]
    for number, (top, bottom) in enumerate(itertools.pairwise(edges), 1):
        posts = mosaic.posts[top:bottom]
        if not _knows_anything(posts):
            continue
        file = folder / f"ground-{number:03d}.tif"
        write_geotiff(posts, lattice.cut(row=top, column=0, rows=bottom - top, columns=lattice.columns), file)
        yield file


def _knows_anything(posts: np.ndarray) -> bool:
    return bool(np.any(posts > UNKNOWN_BELOW_M))
