"""The terrain store: a folder of mosaics and manifests, each named by its content, that any number of processes may share.

    <SHA-256 of the posts>.npy     one mosaic: int16, or float32 where the source does not hold whole metres
    <fingerprint>.json             which mosaics make one ground, and where their posts stand

A file appears under its name only when it is whole (scratch folder, fsync, rename) and never changes after that.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import shapely

from server.errors import InputProblem, Problem, TerrainMissing
from server.terrain.below_zero import BelowZero, settle
from server.terrain.crest_store import CrestStore
from server.terrain.ground import Mosaic, Terrain
from server.terrain.join import join
from server.terrain.lattice import VOID, Lattice
from server.terrain.readers import RefusedFile, TakenFile, TerrainProgress, find_files, read_files
from server.terrain.sea import Sea
from server.terrain.sheet import Scale, Sheet, lay_down, start_digest

MANIFEST_VERSION = 1
CRESTS = "crests"
SCRATCH_PREFIX = ".loading-"
SCRATCH_KEPT_S = 24 * 3600
HASHED_AT_A_TIME = 1 << 24


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """Edges of the loaded ground [deg]; east runs beyond 180 where the ground crosses the antimeridian."""

    south_lat_deg: float
    north_lat_deg: float
    west_lon_deg: float
    east_lon_deg: float


@dataclass(frozen=True, kw_only=True)
class TerrainLoad:
    """What became of a load."""

    fingerprint: str
    taken: tuple[TakenFile, ...]
    refused: tuple[RefusedFile, ...]
    bounds: Bounds
    known_share: float
    """Part of the posts inside the mosaics that is known, 0 to 1."""
    void_posts: int = 0
    """Posts of the mosaics that nobody measured."""
    sea_posts: int = 0
    """Posts set to sea level, inside a drawn sea or by the person's word."""
    below_sea_posts: int = 0
    """Posts below zero that stay as land."""

    def in_words(self) -> str:
        """Tell how many posts are not known, how many are sea, and how many land lies below it."""
        told = f"{self.void_posts:,} posts not known, {self.sea_posts:,} taken as sea"
        return f"{told}, {self.below_sea_posts:,} below zero kept as land" if self.below_sea_posts else told


class TerrainStore:
    """Loads elevation files into a folder and opens what was loaded."""

    def __init__(self, folder: Path):
        self._folder = folder
        self.crests = CrestStore(folder / CRESTS)
        """The crest tables of antennas on this ground."""
        self._open: dict[str, Terrain] = {}

    def load(
        self,
        paths: Sequence[Path],
        *,
        sea: shapely.Geometry | None = None,
        below_zero: BelowZero = BelowZero.ASK,
        on_progress: Callable[[TerrainProgress], None] | None = None,
        most_posts: int | None = None,
    ) -> TerrainLoad:
        """Load elevation files, or all those in folders, as one ground.

        Parameters
        ----------
        paths : files or folders
            .hgt, .hgt.zip, .zip with one .hgt, .hgt.gz, .tif, .tiff in any case; folders are searched with their subfolders.
        sea : shapely Polygon or MultiPolygon, optional
            Longitude and latitude [deg]. Posts inside that are void, absent or below zero become 0 m.
        below_zero : BelowZero
            What connected ground below zero outside the drawn sea is, where that is in doubt (server/terrain/below_zero.py).
        on_progress : callable, optional
            Told before each file and before the joining.
        most_posts : int, optional
            Of all files together, for files that nobody vouches for.

        Returns
        -------
        TerrainLoad
            Files that cannot be used are refused one by one with a reason; the rest is loaded. The fingerprint depends on posts, lattices
            and sea, not on the names, order or packing of files. Loading the same again changes nothing.

        Raises
        ------
        TerrainMissing
            There was no elevation file at all.
        InputProblem
            Every file was refused (each with its reason), the sea is not usable, the ground is too large, or nobody has said whether
            ground below zero is sea (code below-zero).
        """
        drawn_sea = None if sea is None or sea.is_empty else Sea(sea)
        found = find_files(paths)
        if not found.files and not found.refused:
            raise TerrainMissing(
                "No elevation file was found. Give .hgt, .hgt.zip, .hgt.gz or .tif files, or a folder that holds some.", place="terrain"
            )
        self._folder.mkdir(parents=True, exist_ok=True)
        self._sweep()
        with tempfile.TemporaryDirectory(prefix=SCRATCH_PREFIX, dir=self._folder) as scratch_name:
            scratch = Path(scratch_name)
            reading = read_files(found, scratch=scratch, on_progress=on_progress, most_posts=most_posts)
            if not reading.sheets:
                raise _nothing_taken(reading.refused)
            if on_progress is not None:
                on_progress(TerrainProgress(doing="Joining the tiles", done=len(found.files), total=len(found.files)))
            joined = join(reading.sheets, scratch=scratch, name="mosaic", sea=drawn_sea)
            joined, lifted, low = settle(joined, below_zero, scratch=scratch)
            fingerprint = self._keep(joined, scratch)
        return TerrainLoad(
            fingerprint=fingerprint,
            taken=reading.taken,
            refused=reading.refused,
            bounds=_bounds([mosaic.lattice for mosaic in joined]),
            known_share=sum(m.known for m in joined) / sum(m.lattice.rows * m.lattice.columns for m in joined),
            void_posts=sum(m.lattice.rows * m.lattice.columns - m.known for m in joined),
            sea_posts=sum(m.sea for m in joined) + lifted,
            below_sea_posts=low,
        )

    def keep(self, strips: Iterable[np.ndarray], *, lattice: Lattice) -> str:
        """Keep posts that were made here [m, int16], strips of rows from the north, as one ground; return its fingerprint."""
        self._folder.mkdir(parents=True, exist_ok=True)
        self._sweep()
        with tempfile.TemporaryDirectory(prefix=SCRATCH_PREFIX, dir=self._folder) as scratch_name:
            scratch = Path(scratch_name)
            sheet = lay_down(strips, lattice=lattice, scale=Scale(nodata=VOID), integers=True, posts_file=scratch / "made.npy")
            return self._keep(join([sheet], scratch=scratch, name="mosaic"), scratch)

    def open(self, fingerprint: str) -> Terrain:
        """Open a loaded ground; its posts are mapped into memory, read-only, and checked against their hash once per process.

        Raises
        ------
        TerrainMissing
            Nothing with this fingerprint is in the store, or its files are damaged.
        """
        if fingerprint not in self._open:
            self._open[fingerprint] = Terrain(fingerprint=fingerprint, mosaics=self._mosaics(fingerprint))
        return self._open[fingerprint]

    def _mosaics(self, fingerprint: str) -> list[Mosaic]:
        manifest_file = self._folder / f"{fingerprint}.json"
        if not (fingerprint.isalnum() and manifest_file.is_file()):
            raise TerrainMissing(
                f"The terrain store holds no ground {fingerprint[:12]!r}. Load the region's elevation files again.", place="terrain"
            )
        manifest = manifest_file.read_bytes()
        if hashlib.sha256(manifest).hexdigest() != fingerprint:
            raise _damaged(manifest_file)
        mosaics = []
        for entry in json.loads(manifest)["mosaics"]:
            posts = _mapped(self._folder / f"{entry['posts']}.npy", entry["posts"])
            mosaics.append(Mosaic(lattice=Lattice(**entry["lattice"]), posts=posts))
        return mosaics

    def _keep(self, joined: list[Sheet], scratch: Path) -> str:
        """Move mosaics and their manifest to their lasting names; return the fingerprint."""
        entries = []
        for mosaic in joined:
            _settle(mosaic.posts_file, self._folder / f"{mosaic.digest}.npy")
            entries.append({"posts": mosaic.digest, "lattice": asdict(mosaic.lattice)})
        entries.sort(key=lambda entry: json.dumps(entry, sort_keys=True))
        manifest = json.dumps({"version": MANIFEST_VERSION, "mosaics": entries}, sort_keys=True, indent=1).encode()
        fingerprint = hashlib.sha256(manifest).hexdigest()
        manifest_file = scratch / "manifest.json"
        manifest_file.write_bytes(manifest)
        _settle(manifest_file, self._folder / f"{fingerprint}.json")
        return fingerprint

    def _sweep(self) -> None:
        """Remove scratch folders that a load which was cut off left a day or more ago."""
        for folder in self._folder.glob(f"{SCRATCH_PREFIX}*"):
            with contextlib.suppress(FileNotFoundError):
                if time.time() - folder.stat().st_mtime > SCRATCH_KEPT_S:
                    shutil.rmtree(folder, ignore_errors=True)


def _settle(source: Path, target: Path) -> None:
    """Put a finished file under its lasting name in one step, safe against a power cut."""
    with source.open("rb") as stream:
        os.fsync(stream.fileno())
    os.replace(source, target)
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _mapped(posts_file: Path, posts_hash: str) -> np.ndarray:
    try:
        posts = np.load(posts_file, mmap_mode="r", allow_pickle=False)
    except (OSError, ValueError, EOFError) as error:
        raise _damaged(posts_file) from error
    if posts.ndim != 2 or _posts_hash(posts) != posts_hash:
        raise _damaged(posts_file)
    return posts


def _posts_hash(posts: np.ndarray) -> str:
    digest = start_digest(posts.dtype, posts.shape)
    rows_at_a_time = max(1, HASHED_AT_A_TIME // (posts.shape[1] * posts.itemsize))
    for top in range(0, posts.shape[0], rows_at_a_time):
        digest.update(posts[top : top + rows_at_a_time].tobytes())
    return digest.hexdigest()


def _damaged(file: Path) -> TerrainMissing:
    return TerrainMissing(
        f"The terrain store's file {file.name} is missing or damaged. Load the region's elevation files again; that repairs it.",
        code="terrain-damaged",
        place="terrain",
    )


def _nothing_taken(refused: tuple[RefusedFile, ...]) -> InputProblem:
    problems = tuple(Problem(place=file.name, message=file.reason, code="file-refused") for file in refused)
    first = refused[0]
    more = f" and {len(refused) - 1} more" if len(refused) > 1 else ""
    return InputProblem(
        f"None of the elevation files could be used: {first.name}{more}. {first.name}: {first.reason}",
        code="no-usable-terrain",
        place="terrain",
        problems=problems,
    )


def _bounds(lattices: list[Lattice]) -> Bounds:
    return Bounds(
        south_lat_deg=min(lattice.south_lat_deg for lattice in lattices),
        north_lat_deg=max(lattice.north_lat_deg for lattice in lattices),
        west_lon_deg=min(lattice.west_lon_deg for lattice in lattices),
        east_lon_deg=max(lattice.east_lon_deg for lattice in lattices),
    )
