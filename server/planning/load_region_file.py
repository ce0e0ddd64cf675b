"""Load a whole region from one file that came from elsewhere: all of it, as a new region, or nothing."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import BinaryIO

from server.errors import InputProblem
from server.exchange import unpack_archive
from server.persistence import Library
from server.planning.load_region import Progress, RegionLoad, load_region
from server.planning.region_book import SLUG
from server.terrain import BelowZero, TerrainStore

MOST_POSTS = 1_500_000_000
"""Of the ground in one file: 3 GB of int16, twenty by fifty degrees at 3 seconds."""


def load_region_file(
    library: Library,
    terrain_store: TerrainStore,
    stream: BinaryIO,
    *,
    name: str,
    slug: str = "",
    on_progress: Progress | None = None,
) -> RegionLoad:
    """Load a region file as a new region.

    Parameters
    ----------
    stream : a file open for reading, which can seek
    name : str
        What the person calls the file.
    slug : str
        Another short name than the file's, or empty.

    Raises
    ------
    InputProblem
        The file is damaged, changed, too large, or something in it cannot be used; the short name cannot be one (code region-name).
    Conflict
        There is a region of this short name (code region-exists).

    After any of these the library is as it was.
    """
    if slug and not re.fullmatch(SLUG, slug):
        text = f'"{slug}" cannot be a short name: use up to 40 small letters, digits and hyphens, such as north-coast.'
        raise InputProblem(text, code="region-name", place="slug")
    with tempfile.TemporaryDirectory(prefix="beaconry-") as scratch:
        folder = Path(scratch) / (re.sub(r"[^A-Za-z0-9._ -]", "_", name)[:80].strip(". ") or "region")
        folder.mkdir()
        unpack_archive(stream, folder, name=name)
        # what lies below zero was decided where the region was made, and its ground must come out the same
        return load_region(
            library,
            terrain_store,
            folder,
            only_new=True,
            slug=slug,
            most_posts=MOST_POSTS,
            below_zero=BelowZero.LAND,
            on_progress=on_progress,
        )
