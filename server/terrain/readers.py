"""Finds elevation files and reads each one, good or bad: a bad file is refused with its reason and the others go on."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from server.errors import InputProblem
from server.terrain.hgt import read_hgt
from server.terrain.sheet import PLAUSIBLE, FileRefused, Sheet
from server.terrain.warp import carry_over

HGT_ENDINGS = (".hgt", ".hgt.zip", ".hgt.gz", ".zip")
GEOTIFF_ENDINGS = (".tif", ".tiff")


@dataclass(frozen=True, kw_only=True)
class TerrainProgress:
    """How far a load has come: what it is doing now, and files done out of all."""

    doing: str
    done: int
    total: int


@dataclass(frozen=True, kw_only=True)
class TakenFile:
    """A file that was loaded; ``note`` says what a person should know about it, or is empty."""

    name: str
    note: str


@dataclass(frozen=True, kw_only=True)
class RefusedFile:
    """A file that was not loaded, and why."""

    name: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class FoundFiles:
    """Elevation files by name, and what was asked for but cannot be one."""

    files: tuple[Path, ...]
    refused: tuple[RefusedFile, ...]


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What reading came to: sheets of latitude and longitude, and the fate of every file."""

    sheets: tuple[Sheet, ...]
    taken: tuple[TakenFile, ...]
    refused: tuple[RefusedFile, ...]


@dataclass(frozen=True, kw_only=True)
class _ReadFile:
    name: str
    note: str
    sheet: Sheet


def find_files(paths: Sequence[Path]) -> FoundFiles:
    """List the elevation files among files and folders. In a folder other files are passed over; a file asked for by name is refused."""
    files: dict[Path, None] = {}
    refused = []
    for path in paths:
        if path.is_dir():
            for folder, _, names in sorted(os.walk(path)):
                files.update(
                    (Path(folder) / name, None) for name in sorted(names) if _is_elevation_file(name) and (Path(folder) / name).is_file()
                )
        elif not path.is_file():
            refused.append(RefusedFile(name=path.name, reason=f"There is no file or folder {path}."))
        elif not _is_elevation_file(path.name):
            reason = "Its name does not end in .hgt, .hgt.zip, .zip, .hgt.gz, .tif or .tiff."
            refused.append(RefusedFile(name=path.name, reason=reason))
        else:
            files[path] = None
    return FoundFiles(files=tuple(files), refused=tuple(refused))


def read_files(
    found: FoundFiles, *, scratch: Path, on_progress: Callable[[TerrainProgress], None] | None, most_posts: int | None = None
) -> Reading:
    """Read every file into sheets in a scratch folder, and carry projected ones over to latitude and longitude.

    Raises InputProblem as soon as the files hold more than ``most_posts``.
    """
    read, refused = [], list(found.refused)
    for number, path in enumerate(found.files):
        if on_progress is not None:
            on_progress(TerrainProgress(doing=f"Reading {path.name}", done=number, total=len(found.files)))
        posts_file = scratch / f"sheet-{number}.npy"
        try:
            sheet, notes = _read(path, posts_file)
        except FileRefused as refusal:
            refused.append(RefusedFile(name=path.name, reason=str(refusal)))
            posts_file.unlink(missing_ok=True)
        except OSError as error:
            refused.append(RefusedFile(name=path.name, reason=f"It cannot be read: {error.strerror or error}."))
            posts_file.unlink(missing_ok=True)
        else:
            read.append(_ReadFile(name=path.name, note=" ".join([*notes, *_implausible_note(sheet)]), sheet=sheet))
            posts = sum(file.sheet.lattice.rows * file.sheet.lattice.columns for file in read)
            if most_posts is not None and posts > most_posts:
                text = f"The elevation files hold more than {most_posts:,} posts, the most that is taken at once."
                raise InputProblem(text, code="terrain-too-large", place="terrain")
    if on_progress is not None and any(file.sheet.projection is not None for file in read):
        on_progress(TerrainProgress(doing="Carrying over to latitude and longitude", done=len(found.files), total=len(found.files)))
    return _carried_over(read, refused, scratch)


def _carried_over(read: list[_ReadFile], refused: list[RefusedFile], scratch: Path) -> Reading:
    """Carry over the files of each projection together; those that come to nothing are refused after all."""
    sheets, lost = [file.sheet for file in read if file.sheet.projection is None], []
    projections = sorted({file.sheet.projection for file in read if file.sheet.projection is not None}, key=repr)
    for number, projection in enumerate(projections):
        same = [file for file in read if file.sheet.projection == projection]
        try:
            sheets += carry_over([file.sheet for file in same], projection, scratch=scratch, name=f"projected-{number}")
        except FileRefused as refusal:
            lost += same
            refused += [RefusedFile(name=file.name, reason=str(refusal)) for file in same]
    taken = [TakenFile(name=file.name, note=file.note) for file in read if file not in lost]
    return Reading(sheets=tuple(sheets), taken=tuple(taken), refused=tuple(refused))


def _read(path: Path, posts_file: Path) -> tuple[Sheet, list[str]]:
    if path.name.lower().endswith(GEOTIFF_ENDINGS):
        from server.terrain.geotiff import read_geotiff  # brings in rasterio, which takes longer to import than all the rest

        return read_geotiff(path, posts_file=posts_file)
    return read_hgt(path, posts_file=posts_file), []


def _implausible_note(sheet: Sheet) -> list[str]:
    notes = []
    if sheet.implausible:
        notes.append(f"{sheet.implausible:,} heights outside {PLAUSIBLE} were taken as void.")
    if sheet.marked_void:
        notes.append(f"{sheet.marked_void:,} posts of -99 or -999 were taken as void, since no height stands next to these.")
    return notes


def _is_elevation_file(name: str) -> bool:
    return not name.startswith(".") and name.lower().endswith(HGT_ENDINGS + GEOTIFF_ENDINGS)
