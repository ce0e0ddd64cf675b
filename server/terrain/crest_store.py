"""Crest tables on disk: made once for an antenna on its ground, then mapped into memory by any number of processes.

A table's file is named after all that it depends on, so a changed beacon, ground or code asks for another file, and a file never changes.
Whatever is wrong with a file, or with the disk, is nobody's concern: the table is made anew, or kept in memory only.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import threading
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path

import numpy as np

from server.radio import Antenna, Ground
from server.radio.crest_table import HIGHEST_ANTENNA_LATITUDE_DEG, RAYS, REACH_M, TABLE_VERSION, CrestTable, build_table
from server.radio.horizon import STANDARD_K
from server.terrain.readers import TerrainProgress

FILE_MARK = b"beaconry crests 1\n"
SUFFIX = ".crests"
SCRATCH_PREFIX = "making-"
SCRATCH_KEPT_S = 24 * 3600
"""A half-written file this old belongs to a process that was cut off."""

LARGEST_FOLDER_BYTES = 4_000_000_000
"""Beyond this the files that were not opened for longest are removed: about 2,000 tables stay, those of 350 stations with two antennas."""

_FIELDS = (("first_crest", "<i4"), ("distance", "<u2"), ("slope", "<f4"), ("drift", "<i2"), ("unknown_from_m", "<f4"))


class CrestStore:
    """Keeps crest tables in a folder. Safe for threads and for several processes on one folder."""

    def __init__(self, folder: Path, *, largest_folder_bytes: int = LARGEST_FOLDER_BYTES):
        self._folder = folder
        self._largest_folder_bytes = largest_folder_bytes
        self._open: dict[str, CrestTable] = {}
        self._making: dict[str, threading.Lock] = {}
        self._lock = threading.Lock()

    def has(self, antenna: Antenna, ground: Ground, effective_earth_factor: float = STANDARD_K) -> bool:
        """Tell whether there is a file of an antenna's table, or none can be, without opening it."""
        if abs(antenna.position.lat_deg) > HIGHEST_ANTENNA_LATITUDE_DEG:
            return True
        key = table_key(antenna, ground, effective_earth_factor)
        return key in self._open or (self._folder / f"{key}{SUFFIX}").is_file()

    def find(self, antenna: Antenna, ground: Ground, effective_earth_factor: float = STANDARD_K) -> CrestTable | None:
        """Return the table of an antenna if it is at hand, None if it would have to be made."""
        key = table_key(antenna, ground, effective_earth_factor)
        table = self._open.get(key)
        if table is None:
            table = _read(self._folder / f"{key}{SUFFIX}", antenna)
            if table is not None:
                self._open[key] = table
        return table

    def get(self, antenna: Antenna, ground: Ground, effective_earth_factor: float = STANDARD_K) -> CrestTable | None:
        """Return the table of an antenna, made now if it is not at hand; None beyond 80 degrees of latitude, where there are none."""
        if abs(antenna.position.lat_deg) > HIGHEST_ANTENNA_LATITUDE_DEG:
            return None
        key = table_key(antenna, ground, effective_earth_factor)
        with self._lock:
            making = self._making.setdefault(key, threading.Lock())
        with making:  # one thread makes it, others wait; another process may make it too: same file, same bytes
            table = self.find(antenna, ground, effective_earth_factor)
            if table is None:
                table = build_table(antenna=antenna, ground=ground, effective_earth_factor=effective_earth_factor)
                self._open[key] = table
                with contextlib.suppress(OSError):  # a full disk, a folder that may not be written to: the table in memory serves
                    self._keep(key, table)
                    self._open[key] = _read(self._folder / f"{key}{SUFFIX}", antenna) or table
        return self._open[key]

    def build_all(
        self,
        antennas: Iterable[Antenna],
        ground: Ground,
        *,
        effective_earth_factors: Iterable[float] = (STANDARD_K,),
        on_progress: Callable[[TerrainProgress], None] | None = None,
        threads: int | None = None,
    ) -> None:
        """Make the tables of many antennas that are not at hand yet, on all processors or so many threads; tell how far after each."""
        wanted = [(antenna, factor) for antenna in antennas for factor in effective_earth_factors]
        with ThreadPoolExecutor(max_workers=threads or os.cpu_count() or 1, thread_name_prefix="crests") as pool:
            made = [pool.submit(self.get, antenna, ground, factor) for antenna, factor in wanted]
            try:
                for done, one in enumerate(as_completed(made), start=1):
                    one.result()
                    if on_progress is not None:
                        on_progress(TerrainProgress(doing="Looking round each beacon", done=done, total=len(wanted)))
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise

    def _keep(self, key: str, table: CrestTable) -> None:
        """Write a table under its lasting name in one step."""
        self._folder.mkdir(parents=True, exist_ok=True)
        self._make_room()
        handle, name = tempfile.mkstemp(prefix=SCRATCH_PREFIX, dir=self._folder)
        try:
            with open(handle, "wb") as stream:
                for part in _parts(table):
                    stream.write(part)
                stream.flush()
                os.fsync(stream.fileno())
            os.replace(name, self._folder / f"{key}{SUFFIX}")
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(name)
            raise

    def _make_room(self) -> None:
        """Remove what cut-off processes left, and the tables longest unused if the folder has grown too large."""
        for scratch in self._folder.glob(f"{SCRATCH_PREFIX}*"):
            with contextlib.suppress(OSError):
                if time.time() - scratch.stat().st_mtime > SCRATCH_KEPT_S:
                    scratch.unlink()
        kept = []
        for file in self._folder.glob(f"*{SUFFIX}"):
            with contextlib.suppress(OSError):
                kept.append((file.stat().st_mtime, file.stat().st_size, file))
        total = 0
        for _, size, file in sorted(kept, reverse=True):
            total += size
            if total > self._largest_folder_bytes:
                file.unlink(missing_ok=True)


def table_key(antenna: Antenna, ground: Ground, effective_earth_factor: float) -> str:
    """Return the SHA-256 of all that a table depends on."""
    depends = {
        "table": TABLE_VERSION,
        "lat_deg": antenna.position.lat_deg.hex(),
        "lon_deg": antenna.position.lon_deg.hex(),
        "altitude_m": antenna.altitude_m.hex(),
        "ground": ground.fingerprint,
        "effective_earth_factor": float(effective_earth_factor).hex(),
        "rays": RAYS,
        "reach_m": REACH_M,
    }
    return hashlib.sha256(json.dumps(depends, sort_keys=True).encode()).hexdigest()


def _parts(table: CrestTable) -> list[bytes]:
    """Return the file of a table: mark, hash of the rest, length of the description, description as JSON, arrays."""
    arrays = [np.ascontiguousarray(getattr(table, name), dtype) for name, dtype in _FIELDS]
    about = {"effective_radius_m": table.effective_radius_m, "reach_m": table.reach_m, "sizes": [values.size for values in arrays]}
    description = json.dumps(about).encode()
    description += b" " * (-(len(FILE_MARK) + 32 + 4 + len(description)) % 8)  # arrays begin at whole multiples of 8 bytes
    body = [len(description).to_bytes(4, "little"), description]
    for values in arrays:
        body += [values.tobytes(), bytes(-values.nbytes % 8)]
    digest = hashlib.sha256(b"".join(body)).digest()
    return [FILE_MARK, digest, *body]


def _read(file: Path, antenna: Antenna) -> CrestTable | None:
    """Map a table's file into memory; None where there is none or anything is wrong with it."""
    try:
        data = np.memmap(file, dtype=np.uint8, mode="r")
        begin = len(FILE_MARK) + 32
        if (
            data[: len(FILE_MARK)].tobytes() != FILE_MARK
            or hashlib.sha256(data[begin:].data).digest() != data[begin - 32 : begin].tobytes()
        ):
            return None
        length = int.from_bytes(data[begin : begin + 4].tobytes(), "little")
        about = json.loads(data[begin + 4 : begin + 4 + length].tobytes())
    except (OSError, ValueError):
        return None
    with contextlib.suppress(OSError):  # a folder that may only be read keeps no order of use
        os.utime(file)
    at = begin + 4 + length
    arrays = {}
    for (name, dtype), size in zip(_FIELDS, about["sizes"], strict=True):
        end = at + size * np.dtype(dtype).itemsize
        arrays[name] = data[at:end].view(dtype).view(np.ndarray)
        at = end + -end % 8
    return CrestTable(antenna=antenna, effective_radius_m=about["effective_radius_m"], reach_m=about["reach_m"], **arrays)
