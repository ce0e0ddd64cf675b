"""What a pilot looks for when the plan ends: where else to go, two beacons when lost, the latest turn back, the light."""

from __future__ import annotations

from dataclasses import dataclass

from server.navigation.aircraft import FuelMeasure
from server.navigation.position_lines import GOOD_CUT_DEG, FixError
from server.planning.diversion import Diversion, DiversionsFrom
from server.planning.field_aids import FieldAid
from server.planning.log import Decider, LogLeg, NavigationLog
from server.planning.log_legs import Sense
from server.planning.lost_strip import LostStrip, PlaceLine, PlaceLines
from server.planning.sun_times import Light, SunEvent, SunTimes
from server.planning.true_height import TOLD_FROM_FT
from server.planning.turn_back import TurnBack, TurnPlace
from server.radio.beacon import ComponentKind
from server.radio.reception import ReceptionState
from server.sheets import figures, words


@dataclass(frozen=True, kw_only=True)
class DiversionRow:
    """One airfield, from one place of a leg."""

    place: str
    """Distance into the leg, and the name of the point there."""
    airfield: str
    heading_magnetic: str
    track_magnetic: str
    distance: str
    time: str
    fuel: str
    aid: str
    """The beacon that leads there: what to tune and set."""


@dataclass(frozen=True, kw_only=True)
class LostLineRow:
    """One beacon to find a place with."""

    ident: str
    frequency: str
    morse: str
    reads: str
    """What it reads at the middle of the leg."""


@dataclass(frozen=True, kw_only=True)
class LostRow:
    """Two beacons for one leg."""

    lines: tuple[LostLineRow, ...]
    words: str


def lost_row(strip: LostStrip) -> LostRow:
    """Put the lost box of a leg in words."""
    return LostRow(lines=tuple(line_row(line) for line in strip.lines), words=_lost_in_words(strip))


def line_row(line: PlaceLine) -> LostLineRow:
    """Put one line of position in a row."""
    return LostLineRow(
        ident=words.station(line.beacon, line.component),
        frequency=figures.frequency(line.beacon),
        morse=words.morse_marks(line.beacon.ident),
        reads=_line_reads(line),
    )


def _line_reads(line: PlaceLine) -> str:
    if line.component is ComponentKind.BEARING:
        reads = f"bearing {figures.course(line.bearing_magnetic_deg)}M to it"
    else:
        reads = f"R-{figures.course(line.radial_deg)}{words.north_word(line.reference)}{' est.' if line.estimated else ''}"
    dme = f", DME {figures.distance(line.dme_nm)}" if line.dme_nm is not None else ""
    return f"{reads}{dme}{', marginal' if line.state is ReceptionState.MARGINAL else ''}"


def _lost_in_words(strip: LostStrip) -> str:
    if not strip.lines:
        return "No beacon is received near the middle of this leg: look out, and call."
    middle = f"Read at {figures.distance_nm(strip.at_nm)}, the middle of the leg"
    if len(strip.lines) == 1:
        return f"{middle}. No second beacon crosses this one well enough here."
    cut = f"{middle}: the two lines cross at {figures.rounded(strip.cut_deg or 0.0)}°"
    good = f", good to {figures.distance_nm(strip.fix.major_nm)}" if strip.fix is not None else ""
    return f"{cut}{good}{'; a weak cut' if strip.weak else ''}."


def place_in_words(place: PlaceLines) -> str:
    """Say how good the best fix at a place is."""
    if not place.lines:
        return "No radial and no bearing is received here: no fix by beacons."
    if place.fix is None or place.cut_deg is None:
        return "One line only: no second one crosses it at 30° or more."
    weak = "; a weak cut" if place.cut_deg < GOOD_CUT_DEG else ""
    return f"The two lines cross at {figures.rounded(place.cut_deg)}°{weak}; {axes_in_words(place.fix)}"


def axes_in_words(fix: FixError) -> str:
    """Say how large the ellipse of a fix is."""
    axes = f"{figures.distance(fix.major_nm)} by {figures.distance_nm(fix.minor_nm)}"
    return f"95 times in a hundred within an ellipse of half axes {axes}."


def diversion_rows(found: DiversionsFrom, measure: FuelMeasure) -> tuple[DiversionRow, ...]:
    """Put the ways out from one place in rows, the nearest first."""
    place = found.place
    where = f"{figures.distance(place.at_nm)} NM{f' {words.plain_line(place.name)}' if place.name else ''}"
    return tuple(way_row(where, way, measure) for way in found.diversions)


def way_row(where: str, way: Diversion, measure: FuelMeasure) -> DiversionRow:
    """Put one way out in a row."""
    name = " ".join(part for part in (words.plain_line(way.airfield.ident), words.plain_line(way.airfield.name)) if part)
    return DiversionRow(
        place=where,
        airfield=f"{name}{' (alternate)' if way.alternate else ''}",
        heading_magnetic=figures.course(way.heading_magnetic_deg),
        track_magnetic=figures.course(way.track_magnetic_deg),
        distance=figures.distance(way.distance_nm),
        time=figures.duration(way.minutes),
        fuel=figures.fuel(way.fuel_l, measure=measure),
        aid=aid_in_words(way.aid) if way.aid is not None else "no beacon leads there: track, time and eye",
    )


def aid_in_words(aid: FieldAid) -> str:
    """Say what leads to an airfield: "MSK 113.30 MHz: on the field, set 214 TO"; "ODU 117.10 MHz: R-040, set 040 FROM, to DME 12.3"."""
    name = f"{words.station(aid.beacon, aid.component)} {figures.frequency(aid.beacon)}"
    if aid.component is ComponentKind.BEARING:
        bearing = f"bearing {figures.course(aid.bearing_magnetic_deg)}M to it"
        return f"{name}: {'on the field, ' if aid.on_field else 'over the field '}{bearing}"
    north = words.north_word(aid.reference) + (" est." if aid.estimated else "")
    course = f"set {figures.course(aid.selected_course_deg)}{north} {aid.sense.value if aid.sense is not None else Sense.TO.value}"
    dme = f", to DME {figures.distance(aid.dme_nm)}" if aid.dme_nm is not None and not aid.on_field else ""
    if aid.on_field:
        return f"{name}: on the field, {course}"
    return f"{name}: R-{figures.course(aid.radial_deg)}{north} over the field, {course}{dme}"


def levels_in_words(leg: LogLeg) -> str:
    """Say in one line what the leg asks of its level and which of it decides; nothing where it was not asked."""
    levels = leg.levels
    if levels is None:
        return ""
    within = f"{figures.altitude(leg.highest_ground_ft)} within {figures.distance_nm(levels.corridor_nm)}"
    known = "" if levels.ground_known else ", part of it not known"
    ground = f"Ground {within}{known}"
    if levels.safe_ft is not None:
        cold = ", as the altimeter shows it" if leg.altitude_ft - leg.true_altitude_ft > TOLD_FROM_FT else ""
        ground += f" asks for {figures.altitude_at_least(levels.safe_ft)} ({figures.altitude(levels.margin_ft)} above{cold})"
    asked = [ground]
    if levels.reception_ft is not None:
        asked.append(f"reception for {figures.altitude_at_least(levels.reception_ft)}")
    elif levels.guided:
        asked.append("no altitude gives reception all along")
    line = "; ".join(asked)
    if levels.decides is None or levels.lowest_legal_ft is None:
        return f"{line}."
    who = "the ground" if levels.decides is Decider.GROUND else "reception"
    lowest = f"{line}. Lowest level {figures.altitude(levels.lowest_legal_ft)} ({levels.rule.value}): {who} decides."
    if levels.rule_from_ft is None or max(levels.safe_ft or 0.0, levels.reception_ft or 0.0) > levels.rule_from_ft:
        return lowest
    return f"{lowest} Up to {figures.altitude(levels.rule_from_ft)} the rule asks nothing."


def turn_back_in_words(turn: TurnBack | None) -> tuple[str, ...]:
    """Say up to where one can come back to the departure with the reserve, and from where the destination is nearer in time."""
    if turn is None:
        return ()
    if turn.latest is None:
        sentences = ["Not even at take-off is there fuel to come back with the reserve."]
    elif turn.at_the_end:
        sentences = ["The departure can still be reached from the destination with the reserve left."]
    else:
        sentences = [f"Turn back at the latest {_turn_place(turn.latest)}: later the reserve is broken before the departure is reached."]
    if turn.equal_time is not None:
        sentences.append(f"As long back as on: {_turn_place(turn.equal_time)}.")
    return tuple(sentences)


def _turn_place(place: TurnPlace) -> str:
    clock = f", {figures.clock_utc(place.at_utc)}" if place.at_utc is not None else ""
    after = figures.duration(place.time_min)
    return f"{after} after take-off{clock}, {figures.distance_nm(place.at_nm)} into leg {place.leg_number}"


def sun_rows(log: NavigationLog) -> tuple[tuple[str, str], ...]:
    """Sun and twilight at both ends, UTC and local; none without a date."""
    if log.sun is None:
        return ()
    ends = [("departure", log.sun.departure), ("destination", log.sun.arrival)]
    return tuple((f"{words.sentence(end)}, {name}", told) for end, sun in ends for name, told in _sun_of(sun))


def _sun_of(sun: SunTimes) -> tuple[tuple[str, str], ...]:
    zone = sun.airfield.time_zone
    light = {Light.DAY: "by day", Light.TWILIGHT: "in civil twilight", Light.NIGHT: "by night"}
    there = () if sun.light is None else (("the flight is there", f"{figures.clock_utc(sun.flight_utc)}, {light[sun.light]}"),)
    return (
        ("civil twilight begins", _event(sun.civil_dawn, zone)),
        ("sunrise", _event(sun.sunrise, zone)),
        ("sunset", _event(sun.sunset, zone)),
        ("civil twilight ends", _event(sun.civil_dusk, zone)),
        *there,
    )


def _event(event: SunEvent, time_zone: str) -> str:
    if event.at_utc is None:
        return f"none: {event.stays.value}" if event.stays is not None else figures.MISSING
    return f"{figures.clock_utc(event.at_utc)}, local {figures.clock_local(event.at_utc, time_zone=time_zone)}"
