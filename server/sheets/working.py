"""How each number of a leg comes about: the values put in, step by step, in the order in which a student would do it by hand.

Steps show one decimal more than the log prints; the sums are made with all of them, so a last shown digit may differ by one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.navigation import Air, declination_used, difference_deg, fold_deg, inverse, wind_at
from server.navigation.aircraft import CruiseRow, FuelMeasure, SpeedKind
from server.navigation.compass import compass_correction_deg
from server.navigation.performance_table import Step, TableAxis
from server.planning.log import FlightPart, Guidance, LogLeg, LogPoint, NavigationLog, PartKind, Sense
from server.planning.slopes import performance_on
from server.radio.beacon import ComponentKind
from server.sheets import figures, words
from server.sheets.figures import MISSING, rounded


@dataclass(frozen=True, kw_only=True, slots=True)
class Derivation:
    """Where one printed number comes from. ``key`` is unique in its leg; ``result`` is the number as the log prints it."""

    key: str
    title: str
    result: str
    steps: tuple[str, ...]


def working_of_leg(log: NavigationLog, leg: LogLeg) -> tuple[Derivation, ...]:
    """Derive the numbers of a leg, those that are known."""
    measure = log.aircraft.fuel_measure if log.aircraft is not None else FuelMeasure()
    derived = (
        _distance(leg),
        _track_true(leg),
        _variation(log, leg),
        _track_magnetic(leg),
        _true_airspeed(log, leg),
        _wind(log, leg),
        _wind_magnetic(leg),
        _wind_correction(leg),
        _heading_true(leg),
        _heading_magnetic(leg),
        _heading_compass(log, leg),
        _groundspeed(leg),
        _time(leg),
        _arrival(log, leg),
        _fuel(leg, measure),
        _fuel_remaining(log, leg, measure),
        *(_selected_course(log, leg, number, guidance) for number, guidance in enumerate(leg.guidance)),
        _changeover(leg),
        _highest_ground(leg),
    )
    return tuple(each for each in derived if each is not None and each.result != MISSING)


def tenth(value: float) -> str:
    """Write a number to a tenth, with a true minus."""
    return f"{rounded(value, decimals=1)}".replace("-", "−")


def hundredth(value: float) -> str:
    """Write a number to a hundredth, with a true minus."""
    return f"{rounded(value, decimals=2)}".replace("-", "−")


def direction(value_deg: float) -> str:
    """Write a direction to a tenth: "007.4", "360.0"."""
    tenths = rounded(fold_deg(value_deg), decimals=1)
    return f"{tenths % 360 or 360:05.1f}"


def _name(point: LogPoint) -> str:
    return words.plain_line(point.ident) or words.plain_line(point.name) or f"point {point.number}"


def _distance(leg: LogLeg) -> Derivation:
    before = f"{tenth(leg.start_nm)} + {tenth(leg.distance_nm)} = {tenth(leg.start_nm + leg.distance_nm)} NM flown at its end."
    return Derivation(
        key="distance",
        title="Distance",
        result=figures.distance(leg.distance_nm),
        steps=(
            f"{_name(leg.start)} is at {figures.position(leg.start.position)}, {_name(leg.end)} at {figures.position(leg.end.position)}.",
            f"The shortest line between them on the WGS 84 ellipsoid is {hundredth(leg.distance_nm)} NM long.",
            before,
        ),
    )


def _track_true(leg: LogLeg) -> Derivation | None:
    if leg.track_true_deg is None:
        return None
    ends = inverse(leg.start.position, leg.end.position)
    steps = [f"At its middle the line from {_name(leg.start)} to {_name(leg.end)} runs {direction(leg.track_true_deg)}° from true north."]
    if ends.initial_true_deg is not None and ends.final_true_deg is not None:
        steps.append(
            f"It begins with {direction(ends.initial_true_deg)}° and ends with {direction(ends.final_true_deg)}°: meridians close up."
        )
    return Derivation(key="track-true", title="True track", result=figures.course(leg.track_true_deg), steps=tuple(steps))


def _variation(log: NavigationLog, leg: LogLeg) -> Derivation:
    on = f" on {figures.day_utc(log.departure_utc)}" if log.departure_utc is not None else ""
    steps = [f"{words.plain_line(log.magnetic_model)} gives {_east_or_west(leg.variation_deg)} at the middle of the leg{on}."]
    if not log.magnetic_model_valid:
        steps.append("The day lies outside the years of the model: check it against a current chart.")
    return Derivation(key="variation", title="Variation", result=figures.variation(leg.variation_deg), steps=tuple(steps))


def _east_or_west(east_deg: float) -> str:
    return f"{tenth(abs(east_deg))}° {'E' if east_deg >= 0.0 else 'W'}"


def _turned(from_deg: float, right_deg: float) -> str:
    """A direction turned to the right (left where negative) as a sum: "004.8 − 10.6 = −5.8, which is 354.2°"."""
    sum_deg = from_deg + right_deg
    shown = f"{direction(from_deg)} {'−' if right_deg < 0.0 else '+'} {tenth(abs(right_deg))} = "
    if 0.05 <= sum_deg < 360.05:
        return f"{shown}{direction(sum_deg)}°"
    return f"{shown}{tenth(sum_deg)}, which is {direction(sum_deg)}°"


def _track_magnetic(leg: LogLeg) -> Derivation | None:
    if leg.track_true_deg is None or leg.track_magnetic_deg is None:
        return None
    return Derivation(
        key="track-magnetic",
        title="Magnetic track",
        result=figures.course(leg.track_magnetic_deg),
        steps=(
            "Variation east is taken from the true track, west is added to it.",
            _turned(leg.track_true_deg, -leg.variation_deg) + " magnetic.",
        ),
    )


def _true_airspeed(log: NavigationLog, leg: LogLeg) -> Derivation | None:
    part = main_part_of(leg)
    if part is None or log.aircraft is None or leg.true_airspeed_kt is None:
        return None
    steps: tuple[str, ...]
    if part.kind is not PartKind.LEVEL:
        steps = (f"No part of the leg is level: the mean true airspeed of its {part.kind.value} is {tenth(part.true_airspeed_kt)} kt.",)
    else:
        steps = airspeed_steps(log, part)
    return Derivation(key="true-airspeed", title="True airspeed", result=figures.speed(leg.true_airspeed_kt), steps=steps)


def airspeed_steps(log: NavigationLog, part: FlightPart) -> tuple[str, ...]:
    """Tell where the true airspeed of level flight comes from: the figure given, or the lines of the cruise table and what lies between."""
    performance = performance_on(log.aircraft, log.route)
    assert performance is not None, "asked only of a flight with an aircraft"
    aircraft, altitude_ft = performance.aircraft, part.to_ft
    registration = words.plain_line(aircraft.registration)
    air, cruise = performance.air(altitude_ft), performance.cruise(altitude_ft)
    steps = []
    if aircraft.cruise_table or aircraft.cruise_speed_kind is SpeedKind.CALIBRATED:
        steps += _air_steps(log, air)
    if not aircraft.cruise_table:
        steps.append(f"{registration} cruises at {tenth(aircraft.cruise_speed_kt)} kt {aircraft.cruise_speed_kind.value.upper()}.")
        if aircraft.cruise_speed_kind is SpeedKind.CALIBRATED:
            steps.append(
                f"In that air it is {tenth(part.true_airspeed_kt)} kt through it, by the compressible formula of the ICAO atmosphere."
            )
        return tuple(steps)
    if cruise is not None:
        power = f", {words.plain_line(cruise.power)}" if cruise.power else ""
        steps.append(f"The cruise table of {registration}{power}, is read:")
        steps += [_table_step(step) for step in cruise.steps]
        steps.append(f"{tenth(cruise.tas_kt)} kt true airspeed{', outside the table' if cruise.beyond else ''}.")
    return tuple(steps)


def _air_steps(log: NavigationLog, air: Air) -> list[str]:
    """The pressure altitude and the temperature a table is entered with."""
    if air.standard_pressure_assumed:
        steps = [f"No QNH is given: {figures.altitude(air.altitude_ft)} is taken as pressure altitude."]
    else:
        difference_ft = air.pressure_altitude_ft - air.altitude_ft
        sign = "−" if difference_ft < 0.0 else "+"
        steps = [
            f"QNH {tenth(log.route.qnh_hpa or 0.0)} hPa: pressure altitude {rounded(air.altitude_ft)} {sign} {rounded(abs(difference_ft))}"
            f" = {rounded(air.pressure_altitude_ft)} ft."
        ]
    if air.temperature_c is not None and air.isa_deviation_c is not None:
        steps.append(f"Temperature there {signed(air.temperature_c)} °C, {signed(air.isa_deviation_c)} °C against standard.")
    return steps


def _table_step(step: Step[CruiseRow]) -> str:
    """One reading between two lines, with the values put in."""
    name, unit = ("pressure altitude", "ft") if step.axis is TableAxis.PRESSURE_ALTITUDE else ("deviation", "°C")
    low, high, result = step.lower, step.upper, step.result
    at = [rounded(getattr(line, step.axis.value)) for line in (low, high)]
    return (
        f"Between {name} {at[0]} and {at[1]} {unit}, at {rounded(step.asked)}: {tenth(low.tas_kt)} kt and {tenth(high.tas_kt)} kt, "
        f"{rounded(step.share, decimals=2)} of the way, give {tenth(result.tas_kt)} kt."
    )


def main_part_of(leg: LogLeg) -> FlightPart | None:
    """The part whose wind and headings the leg shows: the level one, else the longest."""
    if not leg.parts:
        return None
    return max(leg.parts, key=lambda part: (part.kind is PartKind.LEVEL, part.to_nm - part.from_nm))


def _wind(log: NavigationLog, leg: LogLeg) -> Derivation | None:
    part = main_part_of(leg)
    if leg.wind is None or part is None:
        return None
    middle_ft = (part.from_ft + part.to_ft) / 2.0
    steps = []
    for layer in sorted(log.route.winds, key=lambda each: each.altitude_ft):
        letter = layer.reference.value
        at = wind_at((layer,), layer.altitude_ft, variation_deg=leg.variation_deg)
        turned = "" if letter == "T" or layer.speed_kt == 0.0 else f", from true north {direction(at.from_true_deg)}"
        told = "calm" if layer.speed_kt == 0.0 else f"{direction(layer.from_deg)}° {letter}, {tenth(layer.speed_kt)} kt{turned}"
        steps.append(f"Given at {figures.altitude(layer.altitude_ft)}: {told}.")
    steps += _wind_between(log, leg, middle_ft)
    result = f"At {figures.altitude(middle_ft)}: {direction(leg.wind.from_true_deg)}° true, {tenth(leg.wind.speed_kt)} kt"
    steps.append(result + _between_heights(log, middle_ft))
    return Derivation(key="wind", title="Wind", result=figures.wind(leg.wind), steps=tuple(steps))


def _wind_between(log: NavigationLog, leg: LogLeg, altitude_ft: float) -> list[str]:
    """The wind between two given heights by its parts from north and from east; nothing where it is taken as given."""
    layers = sorted(log.route.winds, key=lambda each: each.altitude_ft)
    below = [layer for layer in layers if layer.altitude_ft < altitude_ft]
    above = [layer for layer in layers if layer.altitude_ft > altitude_ft]
    if not below or not above or any(layer.altitude_ft == altitude_ft for layer in layers):
        return []
    share = (altitude_ft - below[-1].altitude_ft) / (above[0].altitude_ft - below[-1].altitude_ft)
    parts, steps = [], []
    for layer in (below[-1], above[0]):
        wind = wind_at((layer,), layer.altitude_ft, variation_deg=leg.variation_deg)
        angle = math.radians(wind.from_true_deg)
        north_kt, east_kt = wind.speed_kt * math.cos(angle), wind.speed_kt * math.sin(angle)
        parts.append((north_kt, east_kt))
        speed, from_deg = tenth(wind.speed_kt), direction(wind.from_true_deg)
        north = f"from north {speed} × cos {from_deg}° = {tenth(north_kt)} kt"
        steps.append(f"At {figures.altitude(layer.altitude_ft)} {north}, from east {speed} × sin {from_deg}° = {tenth(east_kt)} kt.")
    north_kt, east_kt = (low + share * (high - low) for low, high in zip(*parts, strict=True))
    between = f"{rounded(share, decimals=2)} of the way up: {tenth(north_kt)} from north, {tenth(east_kt)} from east"
    return [*steps, f"{between}; together {tenth(math.hypot(north_kt, east_kt))} kt."]


def _between_heights(log: NavigationLog, altitude_ft: float) -> str:
    heights_ft = [layer.altitude_ft for layer in log.route.winds]
    if not heights_ft or altitude_ft in heights_ft:
        return ", as given."
    if min(heights_ft) < altitude_ft < max(heights_ft):
        return ", read between the two heights by north and east parts."
    return ", kept from the nearest height given."


def _wind_magnetic(leg: LogLeg) -> Derivation | None:
    if leg.wind is None or leg.wind.speed_kt == 0.0:
        return None
    return Derivation(
        key="wind-magnetic",
        title="Wind from magnetic north",
        result=figures.wind_magnetic(leg.wind),
        steps=(_turned(leg.wind.from_true_deg, -leg.variation_deg) + " magnetic.",),
    )


def _wind_correction(leg: LogLeg) -> Derivation | None:
    if leg.wind is None or leg.wind_correction_deg is None or leg.track_true_deg is None or not leg.true_airspeed_kt:
        return None
    angle_deg = difference_deg(leg.wind.from_true_deg, leg.track_true_deg)
    across_kt = leg.wind.speed_kt * math.sin(math.radians(angle_deg))
    sine = across_kt / leg.true_airspeed_kt
    side = "right" if across_kt >= 0.0 else "left"
    return Derivation(
        key="wind-correction",
        title="Wind correction",
        result=figures.correction(leg.wind_correction_deg),
        steps=(
            f"Wind − track: {_wind_less_track(leg.wind.from_true_deg, leg.track_true_deg)}, from the {side}.",
            f"Across the track: {tenth(leg.wind.speed_kt)} × sin {tenth(angle_deg)}° = {tenth(across_kt)} kt.",
            f"sin(correction) = {tenth(across_kt)} / {tenth(leg.true_airspeed_kt)} = {rounded(sine, decimals=3)}".replace("-", "−")
            + f", so the correction is {tenth(leg.wind_correction_deg)}°, into the wind.",
        ),
    )


def _wind_less_track(wind_from_true_deg: float, track_true_deg: float) -> str:
    plain_deg, angle_deg = wind_from_true_deg - track_true_deg, difference_deg(wind_from_true_deg, track_true_deg)
    shown = f"{direction(wind_from_true_deg)} − {direction(track_true_deg)} = {tenth(plain_deg)}"
    return f"{shown}°" if abs(plain_deg - angle_deg) < 1.0 else f"{shown}, which is {tenth(angle_deg)}°"


def _heading_true(leg: LogLeg) -> Derivation | None:
    if leg.heading_true_deg is None or leg.track_true_deg is None or leg.wind_correction_deg is None:
        return None
    return Derivation(
        key="heading-true",
        title="True heading",
        result=figures.course(leg.heading_true_deg),
        steps=(f"Track and correction: {_turned(leg.track_true_deg, leg.wind_correction_deg)}.",),
    )


def _heading_magnetic(leg: LogLeg) -> Derivation | None:
    if leg.heading_true_deg is None or leg.heading_magnetic_deg is None:
        return None
    return Derivation(
        key="heading-magnetic",
        title="Magnetic heading",
        result=figures.course(leg.heading_magnetic_deg),
        steps=(_turned(leg.heading_true_deg, -leg.variation_deg) + " magnetic.",),
    )


def _heading_compass(log: NavigationLog, leg: LogLeg) -> Derivation | None:
    if leg.heading_magnetic_deg is None or leg.heading_compass_deg is None or log.aircraft is None or not log.aircraft.compass_card:
        return None
    heading_deg = leg.heading_magnetic_deg
    lines = sorted(log.aircraft.compass_card, key=lambda line: fold_deg(line.magnetic_deg - heading_deg))
    after, before = lines[0], lines[-1]
    neighbours = (after,) if after is before or fold_deg(after.magnetic_deg - heading_deg) < 0.05 else (before, after)
    card = "; ".join(
        f"for {figures.course(line.magnetic_deg)} steer {figures.course(line.steer_deg)} ({signed(compass_correction_deg(line))}°)"
        for line in neighbours
    )
    correction_deg = difference_deg(leg.heading_compass_deg, heading_deg)
    return Derivation(
        key="heading-compass",
        title="Compass heading",
        result=figures.course(leg.heading_compass_deg),
        steps=(f"The card: {card}.", f"Between its lines: {_turned(heading_deg, correction_deg)}."),
    )


def signed(value: float) -> str:
    """Write a number to a tenth with its sign, a zero as "0.0"."""
    shown = tenth(value)
    return f"+{shown}" if value > 0.0 and shown != "0.0" else shown


def _groundspeed(leg: LogLeg) -> Derivation | None:
    part = main_part_of(leg)
    if None in (leg.groundspeed_kt, leg.wind, leg.wind_correction_deg, leg.track_true_deg, leg.true_airspeed_kt) or part is None:
        return None
    assert leg.wind and leg.true_airspeed_kt and leg.wind_correction_deg is not None and leg.groundspeed_kt is not None
    angle_deg = difference_deg(leg.wind.from_true_deg, leg.track_true_deg)
    head_kt = leg.wind.speed_kt * math.cos(math.radians(angle_deg))
    along_kt = leg.true_airspeed_kt * math.cos(math.radians(leg.wind_correction_deg))
    steps = [
        f"Along the track through the air: {tenth(leg.true_airspeed_kt)} × cos {tenth(leg.wind_correction_deg)}° = {tenth(along_kt)} kt.",
        f"Wind along the track: {tenth(leg.wind.speed_kt)} × cos {tenth(angle_deg)}° = {tenth(head_kt)} kt"
        f" {'against' if head_kt >= 0.0 else 'from behind'}.",
    ]
    if part.kind is PartKind.LEVEL:
        sign = "−" if head_kt >= 0.0 else "+"
        steps.append(f"{tenth(along_kt)} {sign} {tenth(abs(head_kt))} = {tenth(leg.groundspeed_kt)} kt over the ground.")
    else:
        steps.append(f"The wind changes with height: the mean over the {part.kind.value} is {tenth(leg.groundspeed_kt)} kt.")
    return Derivation(key="groundspeed", title="Groundspeed", result=figures.speed(leg.groundspeed_kt), steps=tuple(steps))


def _part_words(part: FlightPart) -> str:
    if part.kind is PartKind.LEVEL:
        return f"Level at {figures.altitude(part.to_ft)}"
    kind = "Climb" if part.kind is PartKind.CLIMB else "Descent"
    return f"{kind} from {figures.altitude(part.from_ft)} to {figures.altitude(part.to_ft)}"


def _time(leg: LogLeg) -> Derivation | None:
    if leg.time_min is None or not leg.parts:
        return None
    steps = []
    for part in leg.parts:
        if part.time_min is None or part.groundspeed_kt is None:
            return None
        length_nm = part.to_nm - part.from_nm
        steps.append(
            f"{_part_words(part)}: {hundredth(length_nm)} NM / {tenth(part.groundspeed_kt)} kt × 60 = {tenth(part.time_min)} min"
            + ("." if part.kind is PartKind.LEVEL else ", in steps of 500 ft with the wind at each.")
        )
    if len(leg.parts) > 1:
        steps.append(f"{' + '.join(tenth(part.time_min or 0.0) for part in leg.parts)} = {tenth(leg.time_min)} min.")
    return Derivation(key="time", title="Time", result=figures.duration(leg.time_min), steps=tuple(steps))


def _arrival(log: NavigationLog, leg: LogLeg) -> Derivation | None:
    if leg.arrival_utc is None or log.departure_utc is None or leg.time_min is None:
        return None
    flown_min = (leg.arrival_utc - log.departure_utc).total_seconds() / 60.0
    steps = (
        f"Take-off {figures.clock_utc(log.departure_utc)}, and {tenth(flown_min - leg.time_min)} + {tenth(leg.time_min)}"
        f" = {tenth(flown_min)} min in the air: {figures.clock_utc(leg.arrival_utc)}.",
    )
    return Derivation(key="arrival", title="Arrival", result=figures.clock_utc(leg.arrival_utc), steps=steps)


def _fuel(leg: LogLeg, measure: FuelMeasure) -> Derivation | None:
    if leg.fuel_l is None or not leg.parts or any(part.fuel_l is None for part in leg.parts):
        return None
    unit = measure.unit.value
    steps = []
    for part in leg.parts:
        fuel, minutes = measure.amount(part.fuel_l or 0.0), part.time_min
        if part.kind is PartKind.LEVEL and minutes:
            flow = fuel / minutes * 60.0
            steps.append(f"{_part_words(part)}: {tenth(minutes)} min / 60 × {hundredth(flow)} {unit} an hour = {hundredth(fuel)} {unit}.")
        else:
            steps.append(f"{_part_words(part)}: {hundredth(fuel)} {unit}.")
    if len(leg.parts) > 1:
        total = hundredth(measure.amount(leg.fuel_l))
        steps.append(f"{' + '.join(hundredth(measure.amount(part.fuel_l or 0.0)) for part in leg.parts)} = {total} {unit}.")
    return Derivation(key="fuel", title="Fuel", result=figures.fuel(leg.fuel_l, measure=measure), steps=tuple(steps))


def _fuel_remaining(log: NavigationLog, leg: LogLeg, measure: FuelMeasure) -> Derivation | None:
    if leg.fuel_remaining_l is None or leg.fuel_l is None:
        return None
    before = measure.amount(leg.fuel_remaining_l + leg.fuel_l)
    where = "After taxi" if leg.number == 1 else f"At {_name(leg.start)}"
    left = f"{hundredth(before)} − {hundredth(measure.amount(leg.fuel_l))} = {hundredth(measure.amount(leg.fuel_remaining_l))}"
    return Derivation(
        key="fuel-remaining",
        title="Fuel left",
        result=figures.fuel(leg.fuel_remaining_l, measure=measure),
        steps=(f"{where} {hundredth(before)} {measure.unit.value} are left; less this leg: {left} {measure.unit.value}.",),
    )


def _selected_course(log: NavigationLog, leg: LogLeg, number: int, guidance: Guidance) -> Derivation | None:
    if guidance.radial_deg is None or guidance.selected_course_deg is None or guidance.component is not ComponentKind.AZIMUTH:
        return None
    beacon, outbound = guidance.beacon, guidance.sense is Sense.FROM
    far = leg.end if outbound else leg.start
    bearing_deg = inverse(beacon.position, far.position).initial_true_deg
    if bearing_deg is None:
        return None
    ident = words.plain_line(beacon.ident)
    east_deg = bearing_deg - guidance.radial_deg
    declination_deg = difference_deg(east_deg, 0.0)
    if guidance.estimated:
        own = f"{ident}'s own north is not known; the magnetic model stands in for it, {_east_or_west(declination_deg)}"
    else:
        used = declination_used(beacon.alignment, None)
        own = f"{ident} counts from its own north: {figures.alignment(beacon.alignment)}"
        declination_deg = used.declination_deg
    steps = [
        f"At {ident} the line to {_name(far)} runs {direction(bearing_deg)}° true.",
        f"{own}. {_turned(bearing_deg, -declination_deg)}: R-{figures.course(guidance.radial_deg)}.",
    ]
    if outbound:
        steps.append(f"Flying away from it, the course set is the radial: {figures.course(guidance.selected_course_deg)}, flag FROM.")
    else:
        steps.append(
            f"Flying to it, the course set is the radial turned round: {direction(guidance.radial_deg)} "
            f"{'−' if guidance.radial_deg >= 180.0 else '+'} 180.0 = {direction(guidance.selected_course_deg)}°, flag TO."
        )
    key = f"course-{number + 1}"
    return Derivation(key=key, title=f"Course set on {ident}", result=figures.course(guidance.selected_course_deg), steps=tuple(steps))


def _changeover(leg: LogLeg) -> Derivation | None:
    if leg.changeover_nm is None:
        return None
    half = f"Half way is {tenth(leg.distance_nm)} / 2 = {tenth(leg.distance_nm / 2.0)} NM (14 CFR 95.8001)."
    behind, ahead = (words.plain_line(leg.guidance[at].beacon.ident) for at in (0, -1))
    steps = [half, f"The place chosen leaves the least of the leg without the beacon that is tuned: {behind} before it, {ahead} after it."]
    for reception in leg.receptions:
        heard = words.heard_in_words(reception, leg.distance_nm)
        if reception.component is not ComponentKind.DISTANCE:
            steps.append(f"{words.station(reception.beacon, reception.component)} is heard: {heard}.")
    return Derivation(key="changeover", title="Changeover", result=figures.distance_nm(leg.changeover_nm), steps=tuple(steps))


def _highest_ground(leg: LogLeg) -> Derivation | None:
    if leg.highest_ground_ft is None:
        return None
    steps = (
        f"The highest terrain post beside the track: {figures.altitude(leg.highest_ground_ft)}. Trees, masts and summits stand higher.",
    )
    return Derivation(key="highest-ground", title="Highest ground", result=figures.altitude(leg.highest_ground_ft), steps=steps)
