"""Places a route may start at, end at or be checked against."""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation.position import Position


@dataclass(frozen=True, kw_only=True, slots=True)
class Runway:
    """A landing strip, by the designators of its ends ("09/27")."""

    designator: str
    length_m: float | None = None
    surface: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Airfield:
    """A landing place. ``elevation_ft`` is None where it is not known. ``time_zone`` is an IANA name, or empty."""

    id: int | None = None
    region_id: int
    ident: str
    name: str
    position: Position
    elevation_ft: float | None = None
    runways: tuple[Runway, ...] = ()
    time_zone: str = ""
    closed: bool = False
    remarks: str = ""
    source: str = ""
    external_key: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Checkpoint:
    """A visual feature a pilot can recognise from the air. ``feature`` is a plain word: lake, bridge, pass, village."""

    id: int | None = None
    region_id: int
    name: str
    feature: str
    position: Position
    elevation_ft: float | None = None
    remarks: str = ""
    source: str = ""
    external_key: str = ""
