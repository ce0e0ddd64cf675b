"""The log in words and rounded figures. Page, PDF and text lay out this one value, so that they say the same.

Knows the log, words.py and figures.py; knows nothing of layout. Every field is text, ready to print; what is not known is MISSING.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation.aircraft import FuelMeasure
from server.planning.log import FuelPlan, LogPoint, NavigationLog, Note, NoteLevel
from server.radio.beacon import Beacon
from server.sheets import cautions, figures, words
from server.sheets.leg_sheet import LegSheet, leg_sheet
from server.sheets.ways_out import sun_rows, turn_back_in_words
from server.sheets.working import Derivation
from server.sheets.working_flight import working_of_flight

TOLD_AT_THE_TOP = ("below-safe-altitude", "low-above-ground", "path-meets-ground", "cold-air")
"""Warnings of a leg that stand above all legs too."""

FINGERPRINT_SHOWN = 12  # characters; enough to tell two grounds apart by eye


@dataclass(frozen=True, kw_only=True)
class PointRow:
    number: str
    name: str
    ident: str
    kind: str
    position: str
    elevation: str
    altitude: str
    definition: str


@dataclass(frozen=True, kw_only=True)
class BeaconCardRow:
    """A beacon to tune on the flight, for a card with a large Morse ident."""

    ident: str
    name: str
    kind: str
    frequency: str
    channel: str
    letters: tuple[tuple[str, str], ...]
    """Each character with its Morse marks."""
    north: str
    used: str
    """On which legs, and what for."""


@dataclass(frozen=True, kw_only=True)
class LogSheet:
    """The whole log, ready to lay out."""

    title: str
    fictional_notice: str
    """Empty for a region that is not invented."""
    region_notice: str
    """What whoever made the region wants said of it, or empty."""
    status: str
    """Whether all data is given; no word on the flight itself."""
    complete: bool
    verdict: str
    """What was found against the flight."""
    region: str
    departure: str
    destination: str
    aircraft: str
    day: str
    off_blocks: str
    off_blocks_local: str
    arrival: str
    arrival_local: str
    remarks: str
    points: tuple[PointRow, ...]
    legs: tuple[LegSheet, ...]
    total_distance: str
    total_time: str
    total_time_words: str
    climb_time: str
    descent_time: str
    fuel_rows: tuple[tuple[str, str], ...]
    fuel_verdict: str
    fuel_working: tuple[Derivation, ...]
    """How the rows of the fuel table come about; titles are their labels."""
    turn_back: tuple[str, ...]
    sun_rows: tuple[tuple[str, str], ...]
    lost_title: str
    lost_steps: tuple[str, ...]
    cards: tuple[BeaconCardRow, ...]
    """Every beacon the log has tuned, in the order in which they are met."""
    notes: tuple[str, ...]
    sources: tuple[tuple[str, str], ...]
    off_flag_title: str
    off_flag_meanings: tuple[str, ...]
    not_checked: str
    caution: str


def log_sheet(log: NavigationLog) -> LogSheet:
    """Put a navigation log in words and rounded figures."""
    measure = log.aircraft.fuel_measure if log.aircraft is not None else FuelMeasure()
    fuel_rows = _fuel_rows(log, measure)
    return LogSheet(
        title=words.plain_line(log.route.name) or f"{_place(log.departure)} to {_place(log.destination)}",
        fictional_notice=cautions.FICTIONAL_NOTICE if log.region_fictional else "",
        region_notice=words.plain_line(log.region_notice),
        status="All data given" if log.complete else "NOT COMPLETE: do not fly this log as it stands",
        complete=log.complete,
        verdict=_verdict(log),
        region=words.plain_line(log.region_name),
        departure=_place(log.departure),
        destination=_place(log.destination),
        aircraft=_aircraft(log),
        day=figures.day_utc(log.departure_utc),
        off_blocks=figures.clock_utc(log.departure_utc),
        off_blocks_local=figures.clock_local(log.departure_utc, time_zone=log.departure.time_zone),
        arrival=figures.clock_utc(log.arrival_utc),
        arrival_local=figures.clock_local(log.arrival_utc, time_zone=log.destination.time_zone),
        remarks=words.plain_line(log.route.remarks),
        points=tuple(_point_row(point) for point in log.points),
        legs=tuple(leg_sheet(log, leg, measure) for leg in log.legs),
        total_distance=figures.distance_nm(log.total_distance_nm),
        total_time=figures.duration(log.total_time_min),
        total_time_words=figures.duration_in_words(log.total_time_min),
        climb_time=figures.duration_in_words(log.climb_min),
        descent_time=figures.duration_in_words(log.descent_min),
        fuel_rows=fuel_rows,
        fuel_working=working_of_flight(log, fuel_rows),
        fuel_verdict=_fuel_verdict(log, measure),
        turn_back=turn_back_in_words(log.turn_back),
        sun_rows=sun_rows(log),
        lost_title=cautions.LOST_TITLE,
        lost_steps=cautions.LOST_STEPS,
        cards=tuple(_card(log, beacon) for beacon in (*beacons_used(log), *_beacons_checked(log))),
        notes=tuple(words.note_in_words(note) for note in (*_stops_of_legs(log), *log.notes)),
        sources=_sources(log),
        off_flag_title=cautions.OFF_FLAG_TITLE,
        off_flag_meanings=cautions.OFF_FLAG_MEANINGS,
        not_checked=cautions.NOT_CHECKED,
        caution=cautions.CAUTION,
    )


def _stops_of_legs(log: NavigationLog) -> tuple[Note, ...]:
    """What forbids a leg, and what warns of its height above the ground: these stand at the top too, so that nobody has to find them."""
    notes = [note for leg in log.legs for note in leg.notes]
    stops = [note for note in notes if note.level is NoteLevel.STOP]
    return (*stops, *(note for note in notes if note.level is NoteLevel.WARNING and note.code in TOLD_AT_THE_TOP))


def _place(airfield) -> str:
    return " ".join(part for part in (words.plain_line(airfield.ident), words.plain_line(airfield.name)) if part)


def _aircraft(log: NavigationLog) -> str:
    if log.aircraft is None:
        return figures.MISSING
    return " ".join(part for part in (words.plain_line(log.aircraft.registration), words.plain_line(log.aircraft.type_name)) if part)


def _point_row(point: LogPoint) -> PointRow:
    return PointRow(
        number=str(point.number),
        name=words.plain_line(point.name),
        ident=words.plain_line(point.ident),
        kind=point.beacon.kind.value if point.beacon is not None else point.kind.value.replace("-", " "),
        position=figures.position(point.position),
        elevation=figures.elevation(point.elevation_ft),
        altitude=figures.altitude(point.altitude_ft),
        definition=words.plain_line(point.definition),
    )


def _fuel_rows(log: NavigationLog, measure: FuelMeasure) -> tuple[tuple[str, str], ...]:
    plan = log.fuel
    if plan is None:
        return ()
    rule = words.plain_line(plan.reserve_rule) or "rule not named"
    return (
        ("Usable fuel on board", figures.fuel(plan.on_board_l, measure=measure)),
        ("Taxi", figures.fuel(plan.taxi_l, measure=measure)),
        ("Trip", figures.fuel(plan.trip_l, measure=measure)),
        ("of which climb", figures.fuel(plan.climb_l, measure=measure)),
        ("of which level", figures.fuel(plan.level_l, measure=measure)),
        ("of which descent", figures.fuel(plan.descent_l, measure=measure)),
        *_alternate_rows(log, plan, measure),
        (f"Reserve, {figures.duration_in_words(plan.reserve_minutes)}: {rule}", figures.fuel(plan.reserve_l, measure=measure)),
        ("Needed in all", figures.fuel(plan.needed_l, measure=measure)),
        ("Left above all that is needed", figures.fuel(plan.margin_l, measure=measure)),
        ("Left on landing", figures.fuel(plan.landing_l, measure=measure)),
        *([("Left at the alternate", figures.fuel(plan.landing_at_alternate_l, measure=measure))] if log.alternate is not None else []),
        ("Endurance", figures.duration_in_words(plan.endurance_min)),
    )


def _alternate_rows(log: NavigationLog, plan: FuelPlan, measure: FuelMeasure) -> list[tuple[str, str]]:
    rows = []
    if log.alternate is not None:
        to = f"{_place(log.alternate.airfield)}, {figures.distance_nm(log.alternate.distance_nm)}"
        steer = f"steer {figures.course(log.alternate.heading_magnetic_deg)}M, {figures.duration_in_words(log.alternate.time_min)}"
        rows.append((f"Alternate: {to}, {steer}", figures.fuel(plan.alternate_l, measure=measure)))
    if plan.extra_l:
        rows.append(("Extra", figures.fuel(plan.extra_l, measure=measure)))
    return rows


def _verdict(log: NavigationLog) -> str:
    """Say what was found against the flight, apart from whether all its data is given."""
    told = []
    if log.stops:
        told.append(f"{log.stops} {'reason' if log.stops == 1 else 'reasons'} not to fly")
    if log.warnings:
        told.append(f"{log.warnings} {'warning' if log.warnings == 1 else 'warnings'} to look at before you fly")
    found = " and ".join(told) if told else "nothing found against it"
    return f"{words.sentence(found)}. The pilot in command decides."


def _fuel_verdict(log: NavigationLog, measure: FuelMeasure) -> str:
    if log.fuel is None:
        return "NO FUEL PLAN: the log is not complete without one."
    if log.fuel.margin_l < 0.0:
        return f"NOT ENOUGH FUEL: short of the reserve by {figures.fuel(-log.fuel.margin_l, measure=measure)}. Do not start."
    return "Fuel covers taxi, trip and reserve."


def _sources(log: NavigationLog) -> tuple[tuple[str, str], ...]:
    model = words.plain_line(log.magnetic_model)
    return (
        ("Magnetic model", model if log.magnetic_model_valid else f"{model}, WARNING: the flight's date lies outside its span"),
        ("Ground", words.plain_line(log.ground_fingerprint)[:FINGERPRINT_SHOWN] or "none loaded"),
        ("Beacon data last confirmed", words.plain_line(log.beacon_data_date) or "not stated"),
    )


def beacons_used(log: NavigationLog) -> tuple[Beacon, ...]:
    """Return the beacons that guide the flight or are points of it, each once, in the order they are met."""
    met: list[Beacon] = []
    for leg in log.legs:
        for beacon in (leg.start.beacon, *(part.beacon for part in leg.guidance), leg.end.beacon):
            if beacon is not None and beacon not in met:
                met.append(beacon)
    return tuple(met)


def _beacons_checked(log: NavigationLog) -> tuple[Beacon, ...]:
    """Return the beacons that are tuned only to check a position, each once."""
    guiding = beacons_used(log)
    checked = [line.beacon for leg in log.legs for check in log.checks_of(leg) for line in check.lines]
    return tuple(beacon for beacon in dict.fromkeys(checked) if beacon not in guiding)


def _card(log: NavigationLog, beacon: Beacon) -> BeaconCardRow:
    ident = words.plain_line(beacon.ident)
    guides = [str(leg.number) for leg in log.legs if any(part.beacon == beacon for part in leg.guidance)]
    checks = [str(leg.number) for leg in log.legs if any(line.beacon == beacon for check in log.checks_of(leg) for line in check.lines)]
    used = [f"{what} on {'leg' if len(on) == 1 else 'legs'} {', '.join(on)}" for what, on in (("guides", guides), ("checks", checks)) if on]
    return BeaconCardRow(
        ident=ident,
        name=words.plain_line(beacon.name),
        kind=beacon.kind.value,
        frequency=figures.frequency(beacon),
        channel=words.plain_line(beacon.channel),
        letters=tuple((letter, words.morse_marks(letter)) for letter in ident),
        north=figures.alignment(beacon.alignment),
        used=words.sentence("; ".join(used) or "passed over"),
    )
