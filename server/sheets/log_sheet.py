"""The log in words and rounded figures. Page, PDF and text lay out this one value, so that they say the same.

Knows the log, words.py and figures.py; knows nothing of layout. Every field is text, ready to print; what is not known is MISSING.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation.aircraft import FuelMeasure
from server.planning.log import BeaconReception, Guidance, LogLeg, LogPoint, NavigationLog, Note, NoteLevel
from server.radio.beacon import Beacon, ComponentKind
from server.sheets import cautions, figures, words

GAP_NOTE = "guidance-gap"
"""The planner's note of a gap; the sheet tells it as a finding instead, with the heading to hold."""

_LEVEL_FT = 50.0
"""Within this the leg is level."""

FINGERPRINT_SHOWN = 12  # characters; enough to tell two grounds apart by eye


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
    findings: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LogSheet:
    """The whole log, ready to lay out."""

    title: str
    fictional_notice: str
    """Empty for a region that is not invented."""
    status: str
    complete: bool
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
    notes: tuple[str, ...]
    sources: tuple[tuple[str, str], ...]
    off_flag_title: str
    off_flag_meanings: tuple[str, ...]
    not_checked: str
    caution: str


def log_sheet(log: NavigationLog) -> LogSheet:
    """Put a navigation log in words and rounded figures."""
    measure = log.aircraft.fuel_measure if log.aircraft is not None else FuelMeasure()
    return LogSheet(
        title=words.plain_line(log.route.name) or f"{_place(log.departure)} to {_place(log.destination)}",
        fictional_notice=cautions.FICTIONAL_NOTICE if log.region_fictional else "",
        status="Complete" if log.complete else "NOT COMPLETE: do not fly this log as it stands",
        complete=log.complete,
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
        legs=tuple(_leg_sheet(leg, measure, _highest_ft(log, leg)) for leg in log.legs),
        total_distance=figures.distance_nm(log.total_distance_nm),
        total_time=figures.duration(log.total_time_min),
        total_time_words=figures.duration_in_words(log.total_time_min),
        climb_time=figures.duration_in_words(log.climb_min),
        descent_time=figures.duration_in_words(log.descent_min),
        fuel_rows=_fuel_rows(log, measure),
        fuel_verdict=_fuel_verdict(log, measure),
        notes=tuple(words.note_in_words(note) for note in (*_stops_of_legs(log), *log.notes)),
        sources=_sources(log),
        off_flag_title=cautions.OFF_FLAG_TITLE,
        off_flag_meanings=cautions.OFF_FLAG_MEANINGS,
        not_checked=cautions.NOT_CHECKED,
        caution=cautions.CAUTION,
    )


def _stops_of_legs(log: NavigationLog) -> list[Note]:
    """What forbids the flight stands at the top of the log, whichever leg it belongs to."""
    return [note for leg in log.legs for note in leg.notes if note.level is NoteLevel.STOP]


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


def _point_label(point: LogPoint) -> str:
    name, ident = words.plain_line(point.name), words.plain_line(point.ident)
    kind = f" {point.beacon.kind.value}" if point.beacon is not None else ""
    return f"{name} ({ident}{kind})" if ident and ident != name else f"{name or ident}{kind}"


def _leg_sheet(leg: LogLeg, measure: FuelMeasure, highest_ft: float) -> LegSheet:
    return LegSheet(
        number=str(leg.number),
        start=_point_label(leg.start),
        end=_point_label(leg.end),
        start_ident=words.plain_line(leg.start.ident or leg.start.name),
        end_ident=words.plain_line(leg.end.ident or leg.end.name),
        heading_magnetic=figures.course(leg.heading_magnetic_deg),
        heading_compass=figures.course(leg.heading_compass_deg),
        altitude=_altitude(leg, highest_ft),
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
        findings=_findings(leg),
        notes=tuple(words.note_in_words(note) for note in leg.notes if note.code != GAP_NOTE),
    )


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
    return (*words.gaps_in_words(leg), *sentences)


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
        (f"Reserve, {figures.duration_in_words(plan.reserve_minutes)}: {rule}", figures.fuel(plan.reserve_l, measure=measure)),
        ("Left above the reserve", figures.fuel(plan.margin_l, measure=measure)),
        ("Endurance", figures.duration_in_words(plan.endurance_min)),
    )


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
