"""A ground radio aid and its parts, each with its own status, class, place and limits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from server.navigation.alignment import Alignment
from server.navigation.position import Position


class BeaconKind(StrEnum):
    VOR = "VOR"
    VOR_DME = "VOR/DME"
    VORTAC = "VORTAC"
    TACAN = "TACAN"
    DME = "DME"
    NDB = "NDB"
    NDB_DME = "NDB/DME"


class ComponentKind(StrEnum):
    AZIMUTH = "azimuth"
    DISTANCE = "distance"
    BEARING = "bearing"


class ComponentStatus(StrEnum):
    OPERATING = "operating"
    OUT_OF_SERVICE = "out of service"
    WITHDRAWN = "withdrawn"
    UNKNOWN = "unknown"


class ServiceClass(StrEnum):
    """Published service volumes: T L H VL VH for VOR, T L H DL DH for DME, and the four NDB classes."""

    T = "T"
    L = "L"
    H = "H"
    VL = "VL"
    VH = "VH"
    DL = "DL"
    DH = "DH"
    LOCATOR = "locator"
    MH = "MH"
    NDB_H = "NDB H"
    HH = "HH"


@dataclass(frozen=True, kw_only=True, slots=True)
class CoverageSector:
    """One sector of a designated coverage: clockwise radials [deg] (0 to 360 is all round), range [NM] and heights [ft MSL]."""

    from_radial_deg: float
    to_radial_deg: float
    range_nm: float
    lowest_altitude_ft: float | None = None
    highest_altitude_ft: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class UnusableSector:
    """Where a component must not be used: clockwise from the first radial to the second, it may cross 360.

    ``beyond_nm`` and ``below_altitude_ft`` (MSL), when given, both must hold. ``within_nm`` limits outward.
    """

    from_radial_deg: float
    to_radial_deg: float
    beyond_nm: float | None = None
    within_nm: float | None = None
    below_altitude_ft: float | None = None
    source: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Outage:
    """Out of service from the first day to the last, both included; an open end is None."""

    first_day: date | None = None
    last_day: date | None = None
    reason: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Component:
    """One part of a beacon. ``position`` is None when it stands where the beacon does."""

    kind: ComponentKind
    status: ComponentStatus = ComponentStatus.UNKNOWN
    service_class: ServiceClass | None = None
    position: Position | None = None
    elevation_ft: float | None = None
    coverage: tuple[CoverageSector, ...] = ()
    unusable: tuple[UnusableSector, ...] = ()
    outages: tuple[Outage, ...] = ()
    power_w: float | None = None
    restrictions: str | None = None
    """None where none are published; empty where some are and nobody has read them; else why none of them matters in this region."""
    last_confirmed: date | None = None
    source: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Beacon:
    """A station. ``frequency_khz`` is kHz for every kind; for TACAN and DME it is the paired VHF frequency a pilot tunes.

    ``elevation_ft`` is the ground (or antenna base) above sea level; None where not known. ``antenna_height_ft`` is the antenna above
    that; None lets the reception model assume one and say so.
    """

    id: int | None = None
    region_id: int
    ident: str
    name: str
    kind: BeaconKind
    frequency_khz: int | None
    channel: str = ""
    position: Position
    elevation_ft: float | None = None
    antenna_height_ft: float | None = None
    alignment: Alignment
    components: tuple[Component, ...] = ()
    voice: bool | None = None
    remarks: str = ""
    source: str = ""
    external_key: str = ""

    def component(self, kind: ComponentKind) -> Component | None:
        """Return the part of this kind, or None when the station has none."""
        return next((part for part in self.components if part.kind is kind), None)

    def component_position(self, kind: ComponentKind) -> Position:
        """Return where the part of this kind stands: its own position, else the station's."""
        part = self.component(kind)
        return part.position if part is not None and part.position is not None else self.position

    @property
    def guides_vor_receiver(self) -> bool:
        """Whether a civil VOR receiver gets azimuth from it: a VOR, VOR/DME or VORTAC with an azimuth part."""
        return self.kind in (BeaconKind.VOR, BeaconKind.VOR_DME, BeaconKind.VORTAC) and (self.component(ComponentKind.AZIMUTH) is not None)
