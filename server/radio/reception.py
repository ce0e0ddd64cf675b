"""Will a component be received along a leg, and if not, why not."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.navigation.position import Position


class ReceptionState(StrEnum):
    """Ordered from best to worst for a pilot: received, marginal, unknown, not promised, not received.

    "Not promised" stands beyond everything that is published while nothing else is known to be in the way: the station may be heard there,
    and nobody answers for it. It comes after "unknown", for more data would not make it usable.
    """

    RECEIVED = "received"
    MARGINAL = "marginal"
    UNKNOWN = "unknown"
    NOT_PROMISED = "not promised"
    NOT_RECEIVED = "not received"


class Cause(StrEnum):
    """Why a stretch has its state. Each is an independent finding; the worst one rules."""

    TERRAIN = "terrain"  # the ray is blocked by ground (or by the curve of the earth: see Finding.ridge None)
    WEAK_FIELD = "weak-field"  # in sight, but predicted below the minimum field of ICAO Annex 10
    TERRAIN_UNKNOWN = "terrain-unknown"  # the ray crosses ground that no tile covers
    OUTSIDE_VOLUME = "outside-volume"  # beyond the published class or designated coverage
    BELOW_VOLUME = "below-volume"  # under the 1,000 ft floor, where the published curve is not tabulated
    CLASS_UNKNOWN = "class-unknown"  # no class published; the smallest plausible one was assumed
    UNUSABLE_SECTOR = "unusable-sector"
    OUTAGE = "outage"  # notified out of service on that date
    OUT_OF_SERVICE = "out-of-service"  # status of the component
    WITHDRAWN = "withdrawn"
    STATUS_UNKNOWN = "status-unknown"
    RESTRICTED = "restricted"  # parts of its coverage are published as unusable, and which is not entered
    NIGHT = "night"  # an NDB beyond the range in which its bearing is dependable by night
    OVERHEAD_CONE = "overhead-cone"
    NO_SUCH_COMPONENT = "no-such-component"
    NOT_FOR_VOR_RECEIVER = "not-for-vor-receiver"  # TACAN azimuth
    ELEVATION_ESTIMATED = "elevation-estimated"  # station elevation not published, terrain used
    ANTENNA_ASSUMED = "antenna-assumed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Ridge:
    """The post (or point of a patch) that hides the antenna."""

    position: Position
    elevation_m: float
    distance_from_beacon_nm: float
    above_line_ft: float | None = None
    """How far it stands above the straight line, on the bent earth, from the antenna to the aircraft; None where that is not asked. [ft]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One reason, with the numbers that explain it. ``lowest_altitude_ft`` is what would cure it at the worst point, None if no height
    does or none is known."""

    cause: Cause
    state: ReceptionState
    ridge: Ridge | None = None
    lowest_altitude_ft: float | None = None
    band_ft: tuple[float, float] | None = None
    """For terrain: between these altitudes it cannot be told whether the antenna is seen at the worst point. [ft]"""
    margin_db: float | None = None
    """For a weak field: the predicted field at its weakest, above the minimum (so negative). [dB]"""
    detail: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """A part of a leg with one state and one set of causes. Distances from the start of the leg. [NM]"""

    from_nm: float
    to_nm: float
    state: ReceptionState
    findings: tuple[Finding, ...] = ()
    margin_ft: float | None = None
    """How far the aircraft is above the altitude from which the antenna is surely seen, where that is tightest; negative below. None where
    not known, and without a line of sight. [ft]"""
    tightest_nm: float | None = None
    """Where that is. [NM]"""
    margin_db: float | None = None
    """The predicted field above the minimum, at its weakest; None where none is predicted. [dB]"""
    received_from_ft: float | None = None
    """The lowest altitude at which the whole stretch, flown level, is received; None where none is. [ft]"""
    incurable: Cause | None = None
    """The cause that no altitude cures."""

    @property
    def length_nm(self) -> float:
        return self.to_nm - self.from_nm

    def has(self, cause: Cause) -> bool:
        return any(finding.cause is cause for finding in self.findings)
