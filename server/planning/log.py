"""The navigation log: the frozen result of planning. Page, sheet, text and JSON are views of this one value.

Nothing here is rounded; the views round, once. Its legs are described in log_legs.py, whose names stand here too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from server.navigation.aircraft import Aircraft
from server.navigation.places import Airfield
from server.navigation.route import Route
from server.planning.alternate import Alternate
from server.planning.cross_checks import CrossCheck
from server.planning.diversion import DiversionsFrom
from server.planning.gaps import Gap
from server.planning.log_legs import (
    BeaconReception,
    Decider,
    FlightPart,
    Guidance,
    LegLevels,
    LegWind,
    LogLeg,
    LogPoint,
    Note,
    NoteLevel,
    PartKind,
    ProfilePoint,
    Sense,
)
from server.planning.lost_strip import LostStrip
from server.planning.passage import Passage
from server.planning.sun_times import FlightSun
from server.planning.turn_back import TurnBack

__all__ = [
    "BeaconReception",
    "Decider",
    "FlightPart",
    "FuelPlan",
    "Guidance",
    "LegLevels",
    "LegWind",
    "LogLeg",
    "LogPoint",
    "NavigationLog",
    "Note",
    "NoteLevel",
    "PartKind",
    "ProfilePoint",
    "Sense",
]


@dataclass(frozen=True, kw_only=True, slots=True)
class FuelPlan:
    """All in litres. ``margin_l`` is what is left above all that is needed; negative means the flight must not start."""

    on_board_l: float
    taxi_l: float
    trip_l: float
    climb_l: float
    level_l: float
    descent_l: float
    """Climb, level flight and descent add up to trip_l."""
    alternate_l: float
    """From the destination to the alternate; 0 where none is chosen."""
    extra_l: float
    reserve_l: float
    reserve_minutes: float
    reserve_rule: str
    margin_l: float
    endurance_min: float
    """Of all but the taxi fuel, at the cruise fuel flow of the last leg."""
    cruise_l_per_h: float
    """That fuel flow."""

    @property
    def needed_l(self) -> float:
        """All that must be on board."""
        return self.taxi_l + self.trip_l + self.alternate_l + self.extra_l + self.reserve_l

    @property
    def landing_l(self) -> float:
        """Left on arrival at the destination."""
        return self.on_board_l - self.taxi_l - self.trip_l

    @property
    def landing_at_alternate_l(self) -> float:
        """Left on arrival at the alternate, where one is chosen."""
        return self.landing_l - self.alternate_l


@dataclass(frozen=True, kw_only=True, slots=True)
class NavigationLog:
    route: Route
    region_name: str
    region_fictional: bool
    region_notice: str
    """What whoever made the region wants said of it."""
    departure: Airfield
    destination: Airfield
    aircraft: Aircraft | None
    points: tuple[LogPoint, ...]
    legs: tuple[LogLeg, ...]
    profile: tuple[ProfilePoint, ...]
    """As the altimeter shows it."""
    true_profile: tuple[ProfilePoint, ...]
    """As it really is above the sea in the air of the day; the same where no temperature is given."""
    total_distance_nm: float
    total_time_min: float | None
    climb_min: float | None
    """Time in climbs, part of the total; None where it is not known."""
    descent_min: float | None
    departure_utc: datetime | None
    arrival_utc: datetime | None
    fuel: FuelPlan | None
    alternate: Alternate | None
    turn_back: TurnBack | None
    """None where it cannot be told from what was given."""
    complete: bool
    """False while anything needed to fly it is missing (wind, aircraft, fuel) or a stop note stands. It says that all data is given, and
    nothing of whether the flight is a good one: see ``stops`` and ``warnings``."""
    magnetic_model: str
    magnetic_model_valid: bool
    ground_fingerprint: str
    beacon_data_date: str
    """Oldest and newest "last confirmed" dates of the beacons used, in words; "not stated" when none is."""
    notes: tuple[Note, ...]
    cross_checks: tuple[tuple[CrossCheck, ...], ...] = ()
    """For each leg, in order along it; empty where they were not asked for."""
    passages: tuple[Passage, ...] = ()
    """Over each beacon that is a turning point, in order."""
    gaps: tuple[tuple[Gap, ...], ...] = ()
    """For each leg, the stretches flown without guidance."""
    diversions: tuple[DiversionsFrom, ...] = ()
    """Where to go instead: from the departure and from each place of the cross-checks, in order."""
    lost: tuple[LostStrip, ...] = ()
    """For each leg, the two beacons that make a place near its middle."""
    sun: FlightSun | None = None
    """Sun and twilight at departure and destination; None without a date."""

    @property
    def all_notes(self) -> tuple[Note, ...]:
        """The notes of the flight and of every leg."""
        return (*self.notes, *(note for leg in self.legs for note in leg.notes))

    @property
    def stops(self) -> int:
        """How many remarks say that the flight must not be flown as it stands."""
        return sum(note.level is NoteLevel.STOP for note in self.all_notes)

    @property
    def warnings(self) -> int:
        """How many remarks warn."""
        return sum(note.level is NoteLevel.WARNING for note in self.all_notes)

    def checks_of(self, leg: LogLeg) -> tuple[CrossCheck, ...]:
        """The cross-checks on a leg."""
        return self.cross_checks[leg.number - 1] if self.cross_checks else ()

    def gaps_on(self, leg: LogLeg) -> tuple[Gap, ...]:
        """The stretches of a leg that are flown without guidance."""
        return self.gaps[leg.number - 1] if self.gaps else ()

    def passage_after(self, leg: LogLeg) -> Passage | None:
        """What happens over the beacon at the end of a leg; None where it ends elsewhere."""
        return next((passage for passage in self.passages if passage.point_number == leg.end.number), None)

    def diversions_on(self, leg: LogLeg) -> tuple[DiversionsFrom, ...]:
        """Where to go instead from the places of a leg: its cross-checks, and before the first leg the departure."""
        return tuple(each for each in self.diversions if each.place.leg_number == leg.number)

    def lost_on(self, leg: LogLeg) -> LostStrip | None:
        """The lost strip of a leg; None where none was asked for."""
        return next((strip for strip in self.lost if strip.leg_number == leg.number), None)
