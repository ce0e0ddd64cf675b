"""Unpacks an archive that holds several elevation files, before any of them is read. Nothing in it can be written outside its folder."""

from __future__ import annotations

import re
import zipfile
import zlib
from pathlib import Path

from server.terrain.readers import GEOTIFF_ENDINGS, HGT_ENDINGS, RefusedFile

MOST_ENTRIES = 1_000
MOST_UNPACKED_BYTES = 2_000_000_000
READ_AT_A_TIME = 1 << 20


def unpack_tiles(archive_file: Path, folder: Path) -> tuple[tuple[Path, ...], tuple[RefusedFile, ...]]:
    """Write the elevation files of a .zip into a folder, each in a folder of its own, under their own last names.

    Returns
    -------
    (paths, refused)
        Other files in the archive are passed over. The archive itself is refused, with a reason, where it is damaged, locked, names a place
        outside itself, or holds too much; what was unpacked before that is not given.
    """

    def refused(reason: str) -> tuple[tuple[Path, ...], tuple[RefusedFile, ...]]:
        return (), (RefusedFile(name=archive_file.name, reason=reason),)

    paths, left = [], MOST_UNPACKED_BYTES
    try:
        with zipfile.ZipFile(archive_file) as archive:
            entries = [entry for entry in archive.infolist() if _is_wanted(entry)]
            if len(entries) > MOST_ENTRIES:
                return refused(f"The archive holds {len(entries):,} elevation files; {MOST_ENTRIES:,} is the most.")
            for number, entry in enumerate(entries):
                parts = re.split(r"[/\\]", entry.filename)
                if ".." in parts or parts[0] == "" or ":" in parts[0]:
                    return refused(f"The archive names a tile {entry.filename!r}, a place outside itself.")
                if entry.flag_bits & 0x1:
                    return refused("The archive is locked with a password. Unpack it and send the tiles.")
                target = folder / str(number) / parts[-1]
                target.parent.mkdir(parents=True)
                left -= _unpack(archive, entry, target, most_bytes=left)
                if left < 0:
                    most_mb = MOST_UNPACKED_BYTES // 10**6
                    return refused(f"The archive unpacks to more than {most_mb:,} MB. Use the command line: beaconry load terrain.")
                paths.append(target)
    except (zipfile.BadZipFile, EOFError, zlib.error, NotImplementedError, OSError):
        return refused("The archive is damaged or cut short and cannot be unpacked. Send it again.")
    if not paths:
        return refused("The archive holds no elevation file: none ends in .hgt, .hgt.zip, .hgt.gz, .tif or .tiff.")
    return tuple(paths), ()


def _is_wanted(entry: zipfile.ZipInfo) -> bool:
    last = re.split(r"[/\\]", entry.filename)[-1]
    hidden = last.startswith(".") or entry.filename.startswith("__MACOSX/")
    return not entry.is_dir() and not hidden and last.lower().endswith(HGT_ENDINGS + GEOTIFF_ENDINGS)


def _unpack(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path, *, most_bytes: int) -> int:
    """Write one file, counting what really comes out; stop one piece after too much. Return the bytes."""
    written = 0
    with archive.open(entry) as stream, target.open("wb") as out:
        while written <= most_bytes and (piece := stream.read(READ_AT_A_TIME)):
            written += out.write(piece)
    return written
