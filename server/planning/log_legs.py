"""The legs of a navigation log and what they are made of: points, parts flown, guidance, reception, notes.

Nothing here is rounded; the views round, once.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from server.navigation.levels import LevelRule
from server.navigation.position import Position
from server.navigation.route import PointKind
from server.radio.beacon import Beacon, ComponentKind
from server.radio.reception import Cause, Finding, ReceptionState, Stretch
from server.radio.stretches import Change, severity


class Sense(StrEnum):
    TO = "TO"
    FROM = "FROM"


class NoteLevel(StrEnum):
    STOP = "stop"
    """The log must not be flown as it stands."""
    WARNING = "warning"
    ADVICE = "advice"


@dataclass(frozen=True, kw_only=True, slots=True)
class Note:
    """A remark of the planner in words. ``code`` is stable; ``leg_number`` is None for the whole flight."""

    code: str
    level: NoteLevel
    message: str
    leg_number: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class LogPoint:
    """A point of the flight. ``altitude_ft`` is the planned altitude there."""

    number: int
    kind: PointKind
    name: str
    ident: str
    position: Position
    elevation_ft: float | None
    altitude_ft: float
    beacon: Beacon | None = None
    definition: str = ""
    """How a fix is made, in words: "R-045 ALD, 12.0 NM"."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Guidance:
    """What guides a part of a leg: a beacon, what to set and which flag to expect.

    ``selected_course_deg`` and ``radial_deg`` are as the station reads them (``reference`` M, T or G); ``estimated`` when the
    station's alignment is not known and the magnetic model stood in for it. For an NDB both are None and ``bearing_magnetic_deg`` is the
    magnetic bearing to it along the leg.
    """

    beacon: Beacon
    component: ComponentKind
    sense: Sense
    selected_course_deg: float | None
    radial_deg: float | None
    reference: str
    estimated: bool
    bearing_magnetic_deg: float | None
    from_nm: float
    to_nm: float


@dataclass(frozen=True, kw_only=True, slots=True)
class BeaconReception:
    """One beacon's reception along the whole leg, best for guidance first."""

    beacon: Beacon
    component: ComponentKind
    stretches: tuple[Stretch, ...]
    first_heard_nm: float | None
    lost_nm: float | None
    """Where reception first ends for good or for a while, None when it does not."""
    lowest_altitude_whole_leg_ft: float | None
    """The lowest altitude at which terrain hides no point of the leg (outside the cone), None where not known."""
    changes: tuple[Change, ...] = ()
    """First heard, lost, regained, in order."""
    received_from_ft: float | None = None
    """The lowest altitude at which the whole leg, flown level, is received, whatever the reason it is not now; None where none is."""
    incurable: Cause | None = None
    """The cause that no altitude cures."""

    @property
    def decides(self) -> Finding | None:
        """The worst finding on the leg, the cone overhead apart; of equals the one over the longest stretch. None where all is received."""
        ruling = [
            (severity(finding.state), stretch.length_nm, finding)
            for stretch in self.stretches
            for finding in stretch.findings
            if finding.state is not ReceptionState.RECEIVED and finding.cause is not Cause.OVERHEAD_CONE
        ]
        return max(ruling, key=lambda each: each[:2])[2] if ruling else None

    @property
    def tightest(self) -> Stretch | None:
        """The stretch with the least margin over the line of sight; None where no margin is known."""
        known = [stretch for stretch in self.stretches if stretch.margin_ft is not None]
        return min(known, key=lambda stretch: stretch.margin_ft or 0.0, default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class LegWind:
    from_true_deg: float
    from_magnetic_deg: float
    speed_kt: float


class PartKind(StrEnum):
    CLIMB = "climb"
    LEVEL = "level"
    DESCENT = "descent"


@dataclass(frozen=True, kw_only=True, slots=True)
class FlightPart:
    """A part of a leg flown in one way: a climb, level flight or a descent. Distances from the start of the leg.

    Airspeed and groundspeed are the means over the part, the wind is that at its middle altitude; what is None cannot be computed from
    what was given.
    """

    kind: PartKind
    from_nm: float
    to_nm: float
    from_ft: float
    to_ft: float
    true_airspeed_kt: float
    wind: LegWind | None
    wind_correction_deg: float | None
    heading_true_deg: float | None
    heading_magnetic_deg: float | None
    heading_compass_deg: float | None
    groundspeed_kt: float | None
    time_min: float | None
    fuel_l: float | None


class Decider(StrEnum):
    """What asks for the highest altitude."""

    GROUND = "ground"
    RECEPTION = "reception"


@dataclass(frozen=True, kw_only=True, slots=True)
class LegLevels:
    """What a leg asks of its level. What is None is not known or, for ``reception_ft``, is received at no altitude."""

    rule: LevelRule
    corridor_nm: float
    mountainous: bool | None
    margin_ft: float | None
    safe_ft: float | None
    """Highest known ground in the corridor and the margin. [ft]"""
    minimum_ft: float | None
    """Highest known ground under the track and the least height of the rules of the air away from built-up areas. [ft]"""
    ground_known: bool
    reception_ft: float | None
    """From here up the beacons that guide are received between them on every part of the leg. None too where nothing guides. [ft]"""
    guided: bool
    lowest_legal_ft: float | None
    """The lowest level that the rule gives a VFR flight and that is not below either. [ft]"""
    rule_from_ft: float | None
    """Up to here the rule asks nothing anywhere on the leg: 3,000 ft above its lowest ground. None where some is not known. [ft]"""
    decides: Decider | None


@dataclass(frozen=True, kw_only=True, slots=True)
class LogLeg:
    """One leg. Tracks and variation at its middle; what is None cannot be computed from what was given, and a note says why.

    Wind, airspeed, groundspeed and headings are those of its level part; of the longest part where none is level.
    """

    number: int
    start: LogPoint
    end: LogPoint
    distance_nm: float
    start_nm: float
    """Distance flown from the departure to the start of the leg."""
    track_true_deg: float | None
    track_magnetic_deg: float | None
    variation_deg: float
    altitude_ft: float
    """Planned altitude of the leg's level part, as the altimeter shows it."""
    true_altitude_ft: float
    """Where that really is above the sea in the air of the day; never higher than planned, since warm air is not leaned on. [ft]"""
    wind: LegWind | None
    wind_correction_deg: float | None
    heading_true_deg: float | None
    heading_magnetic_deg: float | None
    heading_compass_deg: float | None
    true_airspeed_kt: float | None
    groundspeed_kt: float | None
    time_min: float | None
    fuel_l: float | None
    fuel_remaining_l: float | None
    arrival_utc: datetime | None
    parts: tuple[FlightPart, ...]
    """Climb, level flight and descent on this leg, in order; none where no figures tell how it is flown."""
    highest_ground_ft: float | None
    """In the corridor beside the leg."""
    ground_known: bool
    levels: LegLevels | None
    """What the leg asks of its level; None in a log that was not asked."""
    guidance: tuple[Guidance, ...]
    changeover_nm: float | None
    """Where guidance passes from the beacon behind to the beacon ahead, from the start of the leg."""
    changeover_min: float | None
    """When that is, from the start of the leg; None where the time is not known."""
    changeover_chosen: bool
    """By the user, for the reason below; else by reception."""
    changeover_reason: str
    stretches: tuple[Stretch, ...]
    """The best of the guiding beacons at each point."""
    receptions: tuple[BeaconReception, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class ProfilePoint:
    """A vertex of the planned vertical profile, distance from departure."""

    distance_nm: float
    altitude_ft: float
