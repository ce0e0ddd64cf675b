"""Reads .hgt tiles, plain or packed as .hgt.zip, .zip or .hgt.gz, and writes them as .hgt.zip.

An .hgt tile covers one degree square and is named after its south-west corner: N44W072 reaches from 44 to 45 north and from 72 to 71 west.
It holds rows from north to south of big-endian int16 metres, 1201 x 1201 posts (3 seconds apart) or 3601 x 3601 (1 second); the edge posts
repeat the neighbour's. Void is -32768. Source: USGS/NASA, The SRTM Collection User Guide (from memory).
"""

from __future__ import annotations

import gzip
import lzma
import re
import zipfile
import zlib
from pathlib import Path
from typing import IO

import numpy as np

from server.terrain.lattice import VOID, Lattice
from server.terrain.sheet import ROWS_AT_A_TIME, FileRefused, Scale, Sheet, lay_down

SIDE_OF_BYTES = {2 * side * side: side for side in (1201, 3601)}
MOST_BYTES = max(SIDE_OF_BYTES)
MOST_ZIP_ENTRIES = 1000
READ_AT_A_TIME = 1 << 20
FIRST_ZIP_DAY = (1980, 1, 1, 0, 0, 0)
"""On every tile that is written, so that the same posts make the same bytes."""
TILE_NAME = re.compile(r"(?P<ns>[NS])(?P<lat>\d{2})(?P<ew>[EW])(?P<lon>\d{3})(?![0-9A-Z])", re.IGNORECASE)


def read_hgt(path: Path, *, posts_file: Path) -> Sheet:
    """Read one tile into a scratch file.

    Raises
    ------
    FileRefused
        With the reason: damaged archive, wrong size, wrong name, no ground in it.
    """
    content, name = _unpack(path)
    south_deg, west_deg = _south_west_corner(name)
    side = SIDE_OF_BYTES.get(len(content))
    if side is None:
        raise FileRefused(_wrong_size(content))
    numbers = np.frombuffer(content, dtype=">i2").reshape(side, side)
    lattice = Lattice(
        north_lat_deg=south_deg + 1.0,
        west_lon_deg=float(west_deg),
        step_lat_deg=1.0 / (side - 1),
        step_lon_deg=1.0 / (side - 1),
        rows=side,
        columns=side,
    )
    strips = (numbers[top : top + ROWS_AT_A_TIME] for top in range(0, side, ROWS_AT_A_TIME))
    return lay_down(strips, lattice=lattice, scale=Scale(nodata=VOID), integers=True, posts_file=posts_file)


def tile_name(*, south_deg: int, west_deg: int) -> str:
    """Return the name of the tile with this south-west corner: "N43W037"."""
    return f"{'S' if south_deg < 0 else 'N'}{abs(south_deg):02d}{'W' if west_deg < 0 else 'E'}{abs(west_deg):03d}"


def write_hgt_zip(posts: np.ndarray, name: str, file: Path) -> None:
    """Write a square of posts (side, side) of int16 metres, void -32768, as the packed tile of this name."""
    entry = zipfile.ZipInfo(f"{name}.hgt", date_time=FIRST_ZIP_DAY)
    entry.external_attr = 0o644 << 16
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(entry, posts.astype(">i2").tobytes(), compress_type=zipfile.ZIP_DEFLATED, compresslevel=9)


def _south_west_corner(name: str) -> tuple[int, int]:
    """Return the latitude and longitude [deg] that a tile name gives."""
    found = TILE_NAME.match(name)
    if found is None:
        raise FileRefused(f"Its name {name!r} does not begin with a south-west corner such as N44W072, so nobody knows where it lies.")
    lat_deg = int(found["lat"]) * (-1 if found["ns"] in "Ss" else 1)
    lon_deg = int(found["lon"]) * (-1 if found["ew"] in "Ww" else 1)
    if not (-90 <= lat_deg <= 89 and -180 <= lon_deg <= 179):
        raise FileRefused(f"Its name {name!r} gives a corner off the earth: a tile begins at 90 south to 89 north, 180 west to 179 east.")
    return lat_deg, lon_deg


def _unpack(path: Path) -> tuple[bytes, str]:
    """Return the bytes of the tile (at most one more than a tile can hold) and the file name that gives its corner."""
    lower = path.name.lower()
    try:
        if lower.endswith(".zip"):
            return _unpack_zip(path)
        if lower.endswith(".gz"):
            with gzip.open(path, "rb") as stream:
                return _read_counted(stream), path.name
        with path.open("rb") as stream:
            return _read_counted(stream), path.name
    except (zipfile.BadZipFile, gzip.BadGzipFile, EOFError, zlib.error, lzma.LZMAError, NotImplementedError) as error:
        raise FileRefused(_damaged(path)) from error


def _unpack_zip(path: Path) -> tuple[bytes, str]:
    with zipfile.ZipFile(path) as archive:
        entries = archive.infolist()
        if len(entries) > MOST_ZIP_ENTRIES:
            raise FileRefused(f"The archive lists {len(entries):,} files; a packed tile holds one.")
        tiles = [entry for entry in entries if entry.filename.lower().endswith(".hgt") and not entry.filename.startswith("__MACOSX/")]
        if len(tiles) != 1:
            raise FileRefused(f"The archive holds {len(tiles)} .hgt tiles; it must hold exactly one. Unpack it and give the folder.")
        entry = tiles[0]
        parts = re.split(r"[/\\]", entry.filename)
        if ".." in parts or parts[0] == "" or ":" in parts[0]:
            raise FileRefused(f"The archive names its tile {entry.filename!r}, a place outside itself. It is not a plain packed tile.")
        if entry.flag_bits & 0x1:
            raise FileRefused("The archive is locked with a password. Unpack it and give the tile itself.")
        with archive.open(entry) as stream:
            content = _read_counted(stream)
    inner, outer = TILE_NAME.match(parts[-1]), TILE_NAME.match(path.name)
    if inner and outer and _south_west_corner(parts[-1]) != _south_west_corner(path.name):
        raise FileRefused(f"The archive is named {path.name} but the tile inside is {parts[-1]}; one of the two names is wrong.")
    return content, parts[-1] if inner else path.name


def _read_counted(stream: IO[bytes] | gzip.GzipFile) -> bytes:
    """Read until the end or until one byte more than a tile can hold, whatever the header promised."""
    content = bytearray()
    while len(content) <= MOST_BYTES:
        piece = stream.read(min(READ_AT_A_TIME, MOST_BYTES + 1 - len(content)))
        if not piece:
            break
        content += piece
    return bytes(content)


def _wrong_size(content: bytes) -> str:
    if not content:
        return "It is empty (0 bytes). Fetch the tile again."
    if looks_like_a_web_page(content):
        return "It is a web page, not an elevation tile: a sign-in or error page was saved under the tile's name. Fetch the tile again."
    held = f"more than {MOST_BYTES:,}" if len(content) > MOST_BYTES else f"{len(content):,}"
    sizes = " or ".join(f"{size:,} ({side} x {side} posts)" for size, side in SIDE_OF_BYTES.items())
    return f"It holds {held} bytes; an .hgt tile holds {sizes}. It is cut short or not a tile."


def _damaged(path: Path) -> str:
    with path.open("rb") as stream:
        start = stream.read(512)
    if not start:
        return "It is empty (0 bytes). Fetch the tile again."
    if looks_like_a_web_page(start):
        return "It is a web page, not an archive: a sign-in or error page was saved under the tile's name. Fetch the tile again."
    return "The archive is damaged or cut short and cannot be unpacked. Fetch the tile again."


def looks_like_a_web_page(start: bytes) -> bool:
    """Tell whether a file begins like HTML or XML."""
    return start[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith((b"<!doctype", b"<html", b"<?xml", b"<head", b"<body"))
