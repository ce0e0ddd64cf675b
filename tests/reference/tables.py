"""Reads the tables of published values in tests/reference/data: CSV after a few header lines that begin with #."""

from __future__ import annotations

import csv
from pathlib import Path

_FOLDER = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    """Return the rows of a table as text by column name."""
    with (_FOLDER / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))
