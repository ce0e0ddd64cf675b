"""What the check of a region finds: each finding with its level, its subject, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.navigation import Airfield, Checkpoint
from server.persistence import RegionRecord
from server.planning.load_report import label_of
from server.radio import Beacon


class FindingLevel(StrEnum):
    """How much it matters: a warning is wrong or will be in the way of a flight, advice wants a look."""

    WARNING = "warning"
    ADVICE = "advice"


TITLE_OF_CODE = {
    "terrain-none": "No terrain at all",
    "ground-below-zero": "Ground below zero: sea floor, or land?",
    "frequency-out-of-band": "No frequency of its kind",
    "frequency-unknown": "Nothing to tune",
    "frequency-of-localizer": "On a localizer channel",
    "frequency-beyond-vor": "Beyond what a VOR receiver tunes",
    "frequency-unusual-for-ndb": "Unusual frequency for an NDB",
    "channel-not-paired": "Channel and frequency do not belong together",
    "channel-missing": "DME channel not given",
    "same-channel-near": "Two stations on one channel, too near to each other",
    "ident-twice": "One ident, two stations",
    "ident-not-usable": "No ident a station can send",
    "ident-of-four": "Ident of four characters",
    "ident-normalised": "Ident written oddly",
    "same-place": "One station listed twice",
    "alignment-far-from-variation": "Alignment far from today's variation",
    "alignment-old": "Alignment some degrees from today's variation",
    "alignment-unknown": "Alignment not known",
    "alignment-without-year": "Alignment without a year",
    "elevation-against-terrain": "Elevation does not fit the terrain",
    "antenna-below-ground": "Antenna below the ground",
    "elevation-unknown": "Elevation not known",
    "terrain-unknown": "No terrain there",
    "outside-region": "Outside the region",
    "parts-of-kind": "Parts that do not fit the kind",
    "class-unknown": "Class not published",
    "status-unknown": "Status not known",
    "never-confirmed": "Never confirmed",
    "confirmed-long-ago": "Confirmed long ago",
    "out-of-service": "Out of service today",
    "withdrawn": "Withdrawn",
}
"""What the findings of one code have in common, in words."""


class SubjectKind(StrEnum):
    REGION = "region"
    BEACON = "beacon"
    AIRFIELD = "airfield"
    CHECKPOINT = "checkpoint"


@dataclass(frozen=True, kw_only=True, slots=True)
class Subject:
    """What a finding speaks of. ``number`` is None for what is not stored, and for the region itself."""

    label: str
    kind: SubjectKind
    number: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class RegionFinding:
    """One finding. ``others`` are the other stations it speaks of, as the second of two with one ident."""

    level: FindingLevel
    code: str
    subject: Subject
    words: str
    what_to_do: str
    others: tuple[Subject, ...] = ()


def subject_of(thing: Beacon | Airfield | Checkpoint | RegionRecord) -> Subject:
    """Name a thing as findings do."""
    if isinstance(thing, RegionRecord):
        return Subject(label=thing.name, kind=SubjectKind.REGION)
    kind = {Beacon: SubjectKind.BEACON, Airfield: SubjectKind.AIRFIELD, Checkpoint: SubjectKind.CHECKPOINT}[type(thing)]
    return Subject(label=label_of(thing), kind=kind, number=thing.id)


def warning(code: str, about: Beacon | Airfield | Checkpoint | RegionRecord, words: str, what_to_do: str) -> RegionFinding:
    """Make a warning."""
    return RegionFinding(level=FindingLevel.WARNING, code=code, subject=subject_of(about), words=words, what_to_do=what_to_do)


def advice(code: str, about: Beacon | Airfield | Checkpoint | RegionRecord, words: str, what_to_do: str) -> RegionFinding:
    """Make a piece of advice."""
    return RegionFinding(level=FindingLevel.ADVICE, code=code, subject=subject_of(about), words=words, what_to_do=what_to_do)
