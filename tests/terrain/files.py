"""Writes small elevation files for tests, byte by byte where a standard decides what they mean."""

from __future__ import annotations

import gzip
import io
import struct
import zipfile
from pathlib import Path

import numpy as np


def hgt_bytes(posts: np.ndarray) -> bytes:
    """Write posts as an .hgt tile: rows from north to south, big-endian int16."""
    return np.asarray(posts).astype(">i2").tobytes()


def level_tile(elevation_m: int, side: int = 1201) -> np.ndarray:
    return np.full((side, side), elevation_m, dtype=np.int16)


def hilly_tile(seed: int, side: int = 1201) -> np.ndarray:
    """Posts that differ everywhere, whole metres from 0 to 3,000."""
    return np.random.default_rng(seed).integers(0, 3000, size=(side, side), dtype=np.int16)


def zip_bytes(entries: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    return packed.getvalue()


def write_tile(folder: Path, name: str, posts: np.ndarray, packing: str = ".hgt") -> Path:
    """Write a tile named after its corner, plain or packed, and return its path."""
    folder.mkdir(parents=True, exist_ok=True)
    content = hgt_bytes(posts)
    if packing.lower().endswith(".zip"):
        content = zip_bytes({f"{name}.hgt": content})
    elif packing.lower().endswith(".gz"):
        content = gzip.compress(content, compresslevel=1)
    path = folder / f"{name}{packing}"
    path.write_bytes(content)
    return path


# TIFF 6.0 (Adobe, 1992): field types and tags. GeoTIFF keys: OGC 19-008r4, GeoTIFF Standard. Both from memory.
SHORT, LONG, ASCII, DOUBLE = 3, 4, 2, 12
AREA, POINT = 1, 2  # GTRasterTypeGeoKey
GEOGRAPHIC, PROJECTED = 2, 1  # GTModelTypeGeoKey
VERTICAL_UNITS_KEY = 4099


def geotiff_bytes(
    posts: np.ndarray,
    *,
    tie: tuple[float, float] = (0.0, 0.0),
    step: float = 0.01,
    raster_type: int = AREA,
    model: int | None = GEOGRAPHIC,
    epsg: int = 4326,
    axes: tuple[float, float, float, float, float, float] | None = None,
    extra_keys: tuple[tuple[int, int], ...] = (),
    nodata: str | None = None,
    stated_size: tuple[int, int] | None = None,
    written: bool = True,
) -> bytes:
    """Write a little-endian, one-strip, one-band GeoTIFF.

    ``tie`` is the x and y of raster place (0, 0): for AREA the outer corner of the north-west pixel, for POINT its centre. ``axes``
    (a, b, c, d, e, f) puts a model transformation in place of tie and step. ``written`` False leaves the strip out, as sparse files do.
    """
    rows, columns = posts.shape
    width, height = stated_size or (columns, rows)
    sample_format = {"u": 1, "i": 2, "f": 3}[posts.dtype.kind]
    tags: list[tuple[int, int, list]] = [
        (256, LONG, [width]),
        (257, LONG, [height]),
        (258, SHORT, [posts.dtype.itemsize * 8]),
        (259, SHORT, [1]),
        (262, SHORT, [1]),
        (273, LONG, [8 if written else 0]),
        (277, SHORT, [1]),
        (278, LONG, [height]),
        (279, LONG, [posts.nbytes if written else 0]),
        (339, SHORT, [sample_format]),
    ]
    if axes is not None:
        a, b, c, d, e, f = axes
        tags.append((34264, DOUBLE, [a, b, 0.0, c, d, e, 0.0, f, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0]))
    else:
        tags += [(33550, DOUBLE, [step, step, 0.0]), (33922, DOUBLE, [0.0, 0.0, 0.0, tie[0], tie[1], 0.0])]
    if model is not None:
        keys = sorted([(1024, model), (1025, raster_type), (2048 if model == GEOGRAPHIC else 3072, epsg), *extra_keys])
        flat = [1, 1, 0, len(keys)]
        for key, value in keys:
            flat += [key, 0, 1, value]
        tags.append((34735, SHORT, flat))
    if nodata is not None:
        tags.append((42113, ASCII, [nodata.encode() + b"\0"]))
    return _tiff(posts.astype(posts.dtype.newbyteorder("<")).tobytes(), sorted(tags))


def _tiff(pixels: bytes, tags: list[tuple[int, int, list]]) -> bytes:
    directory_at = 8 + len(pixels) + len(pixels) % 2
    values_at = directory_at + 2 + 12 * len(tags) + 4
    directory, values = struct.pack("<H", len(tags)), b""
    for tag, kind, content in tags:
        if kind == ASCII:
            packed, count = content[0], len(content[0])
        else:
            packed, count = struct.pack(f"<{len(content)}{ {SHORT: 'H', LONG: 'I', DOUBLE: 'd'}[kind] }", *content), len(content)
        if len(packed) <= 4:
            field = packed.ljust(4, b"\0")
        else:
            field = struct.pack("<I", values_at + len(values))
            values += packed + b"\0" * (len(packed) % 2)
        directory += struct.pack("<HHI", tag, kind, count) + field
    return b"II*\0" + struct.pack("<I", directory_at) + pixels.ljust(directory_at - 8, b"\0") + directory + b"\0\0\0\0" + values
