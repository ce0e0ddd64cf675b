"""How a station's zero radial is turned from true north."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class AlignmentKind(StrEnum):
    MAGNETIC = "magnetic"
    TRUE = "true"
    GRID = "grid"
    UNKNOWN = "unknown"


@dataclass(frozen=True, kw_only=True, slots=True)
class Alignment:
    """The station's own declination: bearing from true north of its zero radial, east positive. [deg]

    A radial is the true bearing at the station less ``declination_deg``. With kind TRUE the declination is 0. With kind GRID it is the
    true bearing of grid north at the station. With kind UNKNOWN it is None; whoever needs a number estimates it from the magnetic model
    and marks the result as an estimate.
    """

    kind: AlignmentKind
    declination_deg: float | None = None
    year: int | None = None
    source: str = ""
