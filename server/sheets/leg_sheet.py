"""One leg of the log in words and rounded figures: what is flown, what is checked, the working, and what was found.

Knows the log, the modules of words and figures.py; knows nothing of layout. Every field is text, ready to print, or a tuple of such; what
is not known is MISSING.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation.aircraft import FuelMeasure
from server.planning.cross_checks import CrossCheck
from server.planning.log import BeaconReception, FlightPart, Guidance, LogLeg, LogPoint, NavigationLog, PartKind
from server.planning.true_height import TOLD_FROM_FT
from server.radio.beacon import ComponentKind
from server.sheets import check_words, figures, words
from server.sheets.ways_out import DiversionRow, LostRow, diversion_rows, levels_in_words, lost_row
from server.sheets.working import Derivation, working_of_leg

GAP_NOTE = "guidance-gap"
"""The planner's note of a gap; the sheet tells it as a finding instead, with the heading to hold."""

_LEVEL_FT = 50.0
"""Within this the leg is level."""


@dataclass(frozen=True, kw_only=True)
class TuneRow:
    """What to tune, hear and set for a part of a leg."""

    ident: str
    name: str
    kind: str
    frequency: str
    channel: str
    morse: str
    set_course: str
    """Three digits to set on the OBS; for an NDB MISSING."""
    north: str
    """Empty for magnetic; "true" or "grid" for a station aligned so."""
    estimated: str
    """"est." where the station's alignment is not known, else empty."""
    flag: str
    from_nm: str
    to_nm: str
    words: str
    why: str


@dataclass(frozen=True, kw_only=True)
class ReceptionRow:
    """One beacon along one leg, for a narrow table."""

    station: str
    heard: str
    """Where on the leg, from its start."""
    margin: str
    """Over the line of sight where it is tightest, and of the field where it is weakest."""
    received_from: str
    """The lowest altitude at which all of the leg is received."""
    decides: str
    """The worst of the independent findings."""


@dataclass(frozen=True, kw_only=True)
class PartRow:
    """A part of a leg flown in one way."""

    kind: str
    to_altitude: str
    heading_magnetic: str
    heading_compass: str
    from_nm: str
    to_nm: str
    time: str
    true_airspeed: str
    groundspeed: str
    wind: str
    fuel: str
    words: str
    """How it is flown: "Climb to 9,500 ft: steer 007M (008 compass), 0:13, to 19.4 NM"."""


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """A place of a leg at which something tells how far along one is."""

    at_nm: str
    at_time: str
    name: str
    """Of the point; empty between two points."""
    reads: tuple[str, ...]
    """What to tune and what it reads on track, the best first."""
    quality: tuple[str, ...]
    """How much each of them is worth."""
    picture: str
    """What the beacon that guides shows."""


@dataclass(frozen=True, kw_only=True)
class LegSheet:
    """One leg: first what is flown, then the working, then what was found."""

    number: str
    start: str
    end: str
    start_ident: str
    end_ident: str
    heading_magnetic: str
    heading_compass: str
    altitude: str
    time: str
    arrival: str
    tune: tuple[TuneRow, ...]
    changeover: str
    distance: str
    distance_so_far: str
    track_true: str
    track_magnetic: str
    variation: str
    wind: str
    wind_magnetic: str
    wind_correction: str
    heading_true: str
    true_airspeed: str
    groundspeed: str
    fuel: str
    fuel_remaining: str
    highest_ground: str
    receptions: tuple[ReceptionRow, ...]
    parts: tuple[PartRow, ...]
    """Climb, level flight and descent, each with its own heading; none where the leg is flown in one way."""
    holds: tuple[str, ...]
    """What to hold where nothing guides."""
    checks: tuple[CheckRow, ...]
    passage: tuple[str, ...]
    """What happens over the beacon at the end of the leg."""
    levels: str
    """What the leg asks of its level, and which of it decides."""
    lost: LostRow | None
    diversions: tuple[DiversionRow, ...]
    """Where else to go from the places of the leg."""
    findings: tuple[str, ...]
    notes: tuple[str, ...]
    working: tuple[Derivation, ...]
    """How the numbers come about, in the order in which they are worked out."""


def leg_sheet(log: NavigationLog, leg: LogLeg, measure: FuelMeasure) -> LegSheet:
    """Put one leg in words and rounded figures."""
    passage = log.passage_after(leg)
    return LegSheet(
        number=str(leg.number),
        start=_point_label(leg.start),
        end=_point_label(leg.end),
        start_ident=words.plain_line(leg.start.ident or leg.start.name),
        end_ident=words.plain_line(leg.end.ident or leg.end.name),
        heading_magnetic=figures.course(leg.heading_magnetic_deg),
        heading_compass=figures.course(leg.heading_compass_deg),
        altitude=_altitude(leg, _highest_ft(log, leg)) + _really(leg),
        time=figures.duration(leg.time_min),
        arrival=figures.clock_utc(leg.arrival_utc),
        tune=tuple(_tune_row(leg, guidance) for guidance in leg.guidance if _is_tuned(guidance, leg)),
        changeover=words.changeover_in_words(leg),
        distance=figures.distance(leg.distance_nm),
        distance_so_far=figures.distance(leg.start_nm + leg.distance_nm),
        track_true=figures.course(leg.track_true_deg),
        track_magnetic=figures.course(leg.track_magnetic_deg),
        variation=figures.variation(leg.variation_deg),
        wind=figures.wind(leg.wind),
        wind_magnetic=figures.wind_magnetic(leg.wind),
        wind_correction=figures.correction(leg.wind_correction_deg),
        heading_true=figures.course(leg.heading_true_deg),
        true_airspeed=figures.speed(leg.true_airspeed_kt),
        groundspeed=figures.speed(leg.groundspeed_kt),
        fuel=figures.fuel(leg.fuel_l, measure=measure),
        fuel_remaining=figures.fuel(leg.fuel_remaining_l, measure=measure),
        highest_ground=_highest_ground(leg),
        receptions=tuple(_reception_row(leg, reception) for reception in leg.receptions),
        parts=tuple(_part_row(part, measure) for part in leg.parts) if len(leg.parts) > 1 else (),
        holds=tuple(check_words.gap_in_words(gap) for gap in log.gaps_on(leg)),
        checks=tuple(_check_row(check) for check in log.checks_of(leg)),
        passage=check_words.passage_in_words(passage) if passage is not None else (),
        levels=levels_in_words(leg),
        lost=next((lost_row(strip) for strip in log.lost if strip.leg_number == leg.number), None),
        diversions=tuple(row for found in log.diversions_on(leg) for row in diversion_rows(found, measure)),
        findings=_findings(leg),
        notes=tuple(words.note_in_words(note) for note in leg.notes if note.code != GAP_NOTE),
        working=working_of_leg(log, leg),
    )


def _part_in_words(part: FlightPart) -> str:
    """How a part is flown. Rounded as its row."""
    kind = f"{part.kind.value.capitalize()} {'at' if part.kind is PartKind.LEVEL else 'to'} {figures.altitude(part.to_ft)}"
    if part.heading_magnetic_deg is None:
        return f"{kind}, to {figures.distance_nm(part.to_nm)}"
    compass = f" ({figures.course(part.heading_compass_deg)} compass)" if part.heading_compass_deg is not None else ""
    steer = f"steer {figures.course(part.heading_magnetic_deg)}M{compass}"
    return f"{kind}: {steer}, {figures.duration(part.time_min)}, to {figures.distance_nm(part.to_nm)}"


def _part_row(part: FlightPart, measure: FuelMeasure) -> PartRow:
    return PartRow(
        kind=part.kind.value,
        to_altitude=figures.altitude(part.to_ft),
        heading_magnetic=figures.course(part.heading_magnetic_deg),
        heading_compass=figures.course(part.heading_compass_deg),
        from_nm=figures.distance(part.from_nm),
        to_nm=figures.distance(part.to_nm),
        time=figures.duration(part.time_min),
        true_airspeed=figures.speed(part.true_airspeed_kt),
        groundspeed=figures.speed(part.groundspeed_kt),
        wind=figures.wind(part.wind),
        fuel=figures.fuel(part.fuel_l, measure=measure),
        words=_part_in_words(part),
    )


def _check_row(check: CrossCheck) -> CheckRow:
    place = check.place
    return CheckRow(
        at_nm=figures.distance(place.at_nm),
        at_time=figures.duration(place.minutes),
        name=words.plain_line(place.name),
        reads=tuple(f"{check_words.line_in_words(line)} ({figures.frequency(line.beacon)})" for line in check.lines)
        or (check_words.NO_LINE,),
        quality=tuple(check_words.line_quality_in_words(line) for line in check.lines),
        picture=check_words.picture_in_words(check.picture) if check.picture is not None else "",
    )


def _point_label(point: LogPoint) -> str:
    name, ident = words.plain_line(point.name), words.plain_line(point.ident)
    kind = f" {point.beacon.kind.value}" if point.beacon is not None else ""
    return f"{name} ({ident}{kind})" if ident and ident != name else f"{name or ident}{kind}"


def _highest_ft(log: NavigationLog, leg: LogLeg) -> float:
    """The highest altitude the profile reaches on the leg. [ft]"""
    end_nm = leg.start_nm + leg.distance_nm
    inside = [vertex.altitude_ft for vertex in log.profile if leg.start_nm <= vertex.distance_nm <= end_nm]
    return max(leg.start.altitude_ft, leg.end.altitude_ft, *inside)


def _altitude(leg: LogLeg, highest_ft: float) -> str:
    """What the altimeter shows along the leg: one altitude when level, arrows where it climbs or descends."""
    start_ft, end_ft = leg.start.altitude_ft, leg.end.altitude_ft
    climbs, descends = highest_ft - start_ft > _LEVEL_FT, highest_ft - end_ft > _LEVEL_FT
    if climbs:
        shown = f"↑ {figures.altitude(highest_ft)}"
        return f"{shown} ↓ {figures.altitude(end_ft)}" if descends else shown
    return f"{figures.altitude(start_ft)} ↓ {figures.altitude(end_ft)}" if descends else figures.altitude(highest_ft)


def _really(leg: LogLeg) -> str:
    """Beside the altitude of the altimeter the true one, where cold air makes a difference that is told."""
    if leg.altitude_ft - leg.true_altitude_ft <= TOLD_FROM_FT:
        return ""
    return f" (true {figures.altitude(leg.true_altitude_ft)})"


def _highest_ground(leg: LogLeg) -> str:
    highest = figures.altitude(leg.highest_ground_ft)
    return highest if leg.ground_known else f"{highest} (part of the ground is not known)"


def _reception_row(leg: LogLeg, reception: BeaconReception) -> ReceptionRow:
    return ReceptionRow(
        station=words.station(reception.beacon, reception.component),
        heard=words.heard_in_words(reception, leg.distance_nm),
        margin=words.margin_in_words(reception),
        received_from=words.received_from_in_words(reception),
        decides=words.decides_in_words(reception),
    )


def _findings(leg: LogLeg) -> tuple[str, ...]:
    sentences: list[str] = []
    for reception in leg.receptions:
        if reception.component is ComponentKind.DISTANCE:
            sentences.append(words.distance_in_words(reception))
        else:
            sentences += words.reception_in_words(leg, reception)
    return tuple(sentences)


def _is_tuned(guidance: Guidance, leg: LogLeg) -> bool:
    return guidance.to_nm - guidance.from_nm >= words.SHORTEST_GUIDANCE_NM or len(leg.guidance) == 1


def _tune_row(leg: LogLeg, guidance: Guidance) -> TuneRow:
    beacon = guidance.beacon
    return TuneRow(
        ident=words.plain_line(beacon.ident),
        name=words.plain_line(beacon.name),
        kind=beacon.kind.value,
        frequency=figures.frequency(beacon),
        channel=words.plain_line(beacon.channel),
        morse=words.morse_marks(beacon.ident),
        set_course=figures.course(guidance.selected_course_deg),
        north=words.north_word(guidance.reference).strip(),
        estimated="est." if guidance.estimated else "",
        flag=guidance.sense.value if guidance.component is ComponentKind.AZIMUTH else figures.MISSING,
        from_nm=figures.distance(guidance.from_nm),
        to_nm=figures.distance(guidance.to_nm),
        words=words.guidance_in_words(guidance),
        why=words.why_set_and_steer_differ(leg, guidance),
    )
