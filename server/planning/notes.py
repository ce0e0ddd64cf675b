"""The planner's remarks, in words. Reception is told by its own findings; these are about guidance, ground, levels, wind and fuel.

Each note has a stable code; the words may change, the codes are what other programs may rely on.
"""

from __future__ import annotations

import math
from datetime import datetime

from server.errors import ProjectError
from server.navigation import RULE_ABOVE_GROUND_FT, Airfield, AlignmentKind, cruising_level_advice, difference_deg, three_digits
from server.planning.air_notes import air_notes
from server.planning.changeover import SLIM_FT
from server.planning.clearance import MARGIN_FT, MINIMUM_HEIGHT_FT, GroundUnderLeg
from server.planning.compass_notes import compass_notes
from server.planning.guidance import OFF_THE_AIR, gaps, heard_after_nm, off_the_air
from server.planning.interference import one_frequency_notes, same_channel_notes
from server.planning.leg_levels import MINIMUM_RULES, corridor_nm_of, level_rule_of
from server.planning.leg_times import minutes_between
from server.planning.log import BeaconReception, FuelPlan, LogLeg, Note, NoteLevel, ProfilePoint
from server.planning.materials import Materials
from server.planning.ndb_notes import ndb_notes
from server.planning.profile import VerticalProfile
from server.planning.profile_notes import profile_notes, profile_notes_of_leg
from server.planning.slopes import performance_of
from server.planning.station_notes import station_notes, uses_of_guidance
from server.planning.true_height import TOLD_FROM_FT
from server.radio import Cause, ComponentKind, ReceptionState, Stretch, state_apart_from_cone


def note_no_heading(number: int, names: str, problem: ProjectError) -> Note:
    """The wind is too strong for the leg."""
    return _note("no-heading", NoteLevel.STOP, f"Leg {number}, {names}: {problem.message}", number)


def notes_of_leg(
    leg: LogLeg, under: GroundUnderLeg, profile: VerticalProfile, true_points: tuple[ProfilePoint, ...], materials: Materials
) -> tuple[Note, ...]:
    """All remarks on one leg, gravest first."""
    notes = [
        *_guidance_notes(leg),
        *station_notes(leg.number, uses_of_guidance(leg), materials),
        *same_channel_notes(leg, true_points, materials),
        *one_frequency_notes(leg),
        *ndb_notes(leg, materials),
        *_changeover_notes(leg),
        *_ground_notes(leg, under, materials),
        *_minimum_notes(leg, under),
        *_cold_notes(leg),
        *profile_notes_of_leg(leg, profile),
        *_level_notes(leg, under, materials),
        *compass_notes(leg, materials),
    ]
    return gravest_first(notes)


def gravest_first(notes: list[Note]) -> tuple[Note, ...]:
    """Stops, then warnings, then advice; the order within each is kept."""
    order = list(NoteLevel)
    return tuple(sorted(notes, key=lambda note: order.index(note.level)))


def _note(code: str, level: NoteLevel, message: str, leg_number: int | None = None) -> Note:
    return Note(code=code, level=level, message=message, leg_number=leg_number)


def _guidance_notes(leg: LogLeg) -> list[Note]:
    number, notes = leg.number, []
    if leg.track_true_deg is None:
        text = f"Leg {number} has no length: {leg.start.name} and {leg.end.name} are one place. There is nothing to steer."
        return [_note("leg-without-length", NoteLevel.ADVICE, text, number)]
    silent = [reception for reception in leg.receptions if off_the_air(reception.stretches)]
    for reception in silent:
        ident, why = reception.beacon.ident, _why_off(reception.stretches[0])
        if leg.guidance and not gaps(leg.stretches):
            text = f"{ident} is {why}: fly the whole of leg {number} on {leg.guidance[0].beacon.ident}."
            notes.append(_note("off-the-air", NoteLevel.WARNING, text, number))
        else:
            text = f"Leg {number} needs {ident}, and {ident} is {why}. Choose another beacon, or another day."
            notes.append(_note("off-the-air", NoteLevel.STOP, text, number))
    if not leg.guidance and not silent:
        text = f"No beacon of the route guides leg {number}: it lies on no radial. Fly heading and time, and look out."
        notes.append(_note("no-guidance", NoteLevel.WARNING, text, number))
    for from_nm, to_nm in gaps(leg.stretches):
        minutes = minutes_between(leg, from_nm, to_nm)
        held = f" for {minutes:.0f} min" if minutes is not None and minutes >= 1.0 else ""
        text = f"No guidance from {from_nm:.1f} to {to_nm:.1f} NM of leg {number}: hold the heading{held} and fix your position by eye."
        notes.append(_note("guidance-gap", NoteLevel.WARNING, text, number))
    for guidance in leg.guidance:
        if guidance.reference == "G" and guidance.selected_course_deg is None:
            text = f"{guidance.beacon.ident} is aligned to grid north and its grid angle is not known: there is no course to set."
            notes.append(_note("grid-angle-unknown", NoteLevel.WARNING, text, number))
        elif guidance.estimated and guidance.beacon.alignment.kind is AlignmentKind.UNKNOWN:
            text = (
                f"{guidance.beacon.ident}: its alignment is not published; the radial is estimated from the magnetic model and may be "
                "several degrees out. Take the radial from a current chart."
            )
            notes.append(_note("alignment-estimated", NoteLevel.WARNING, text, number))
        if guidance.reference == "T" and guidance.selected_course_deg is not None:
            course = three_digits(guidance.selected_course_deg)
            text = f"{guidance.beacon.ident} is aligned to true north: set the true course {course}T on the OBS."
            notes.append(_note("true-aligned", NoteLevel.WARNING, text, number))
        if guidance.component is ComponentKind.BEARING:
            text = f"{guidance.beacon.ident} is an NDB: it has no failure flag. Listen to its ident all the time you use it."
            notes.append(_note("ndb-no-flag", NoteLevel.ADVICE, text, number))
    return notes


def _why_off(stretch: Stretch) -> str:
    words = {
        Cause.OUTAGE: "notified out of service on that day",
        Cause.OUT_OF_SERVICE: "out of service",
        Cause.WITHDRAWN: "withdrawn from service",
        Cause.NOT_FOR_VOR_RECEIVER: "no station for a VOR receiver",
        Cause.NO_SUCH_COMPONENT: "a station without the part that guides",
    }
    return next(words[cause] for cause in OFF_THE_AIR if stretch.has(cause))


def _changeover_notes(leg: LogLeg) -> list[Note]:
    if leg.changeover_nm is None:
        return []
    number, (behind, ahead) = leg.number, leg.guidance
    half_way_nm, notes = leg.distance_nm / 2.0, []
    if leg.changeover_chosen:
        notes += _chosen_changeover_notes(leg)
    elif abs(leg.changeover_nm - half_way_nm) > 0.05:
        why = _why_not_half_way(leg, half_way_nm)
        text = f"Change over at {leg.changeover_nm:.1f} NM, not half way at {half_way_nm:.1f} NM: {why}."
        notes.append(_note("changeover-moved", NoteLevel.WARNING, text, number))
    out_deg, in_deg = behind.selected_course_deg, ahead.selected_course_deg
    if out_deg is not None and in_deg is not None and abs(difference_deg(out_deg, in_deg)) >= 0.5:
        text = (
            f"At the changeover the OBS goes from {three_digits(out_deg)} FROM to {three_digits(in_deg)} TO: "
            "each station keeps its own north. The heading stays."
        )
        notes.append(_note("obs-change", NoteLevel.ADVICE, text, number))
    return notes


def _chosen_changeover_notes(leg: LogLeg) -> list[Note]:
    """What the user chose, and where it leaves the leg without the beacon that is tuned."""
    assert leg.changeover_nm is not None, "asked only of a leg with a changeover"
    because = f": {leg.changeover_reason}" if leg.changeover_reason else ", without a reason given"
    text = f"The changeover of leg {leg.number} was chosen at {leg.changeover_nm:.1f} NM{because}."
    notes = [_note("changeover-chosen", NoteLevel.ADVICE, text, leg.number)]
    behind, ahead = leg.receptions[:2]
    for reception, from_nm, to_nm in ((behind, 0.0, leg.changeover_nm), (ahead, leg.changeover_nm, leg.distance_nm)):
        for start_nm, end_nm in gaps(reception.stretches):
            first_nm, last_nm = max(start_nm, from_nm), min(end_nm, to_nm)
            if last_nm - first_nm > 0.05:
                text = (
                    f"With the changeover chosen for leg {leg.number}, {reception.beacon.ident} is tuned from {first_nm:.1f} to "
                    f"{last_nm:.1f} NM and cannot be counted on there."
                )
                notes.append(_note("changeover-not-received", NoteLevel.WARNING, text, leg.number))
    return notes


def _why_not_half_way(leg: LogLeg, half_way_nm: float) -> str:
    behind, ahead = leg.receptions[:2]  # the guiding parts come first, in the order of the guidance
    assert leg.changeover_nm is not None, "asked only of a leg with a changeover"
    on_behind = next((each for each in reversed(behind.stretches) if each.from_nm < half_way_nm), behind.stretches[0])
    on_ahead = next((each for each in ahead.stretches if each.to_nm > half_way_nm), ahead.stretches[-1])
    if leg.changeover_nm > half_way_nm and on_ahead.state is ReceptionState.MARGINAL:
        return f"{ahead.beacon.ident} is only marginal before {leg.changeover_nm:.1f} NM"
    if leg.changeover_nm < half_way_nm and on_behind.state is ReceptionState.MARGINAL:
        return f"{behind.beacon.ident} is only marginal beyond {leg.changeover_nm:.1f} NM"
    if _received_between(ahead, half_way_nm, leg.changeover_nm):
        return f"{ahead.beacon.ident} has less than {SLIM_FT:.0f} ft to spare before {leg.changeover_nm:.1f} NM"
    if _received_between(behind, leg.changeover_nm, half_way_nm):
        return f"{behind.beacon.ident} has less than {SLIM_FT:.0f} ft to spare beyond {leg.changeover_nm:.1f} NM"
    if leg.changeover_nm > half_way_nm:
        heard_nm = heard_after_nm(ahead.stretches, leg.changeover_nm)
        return f"{ahead.beacon.ident} is not heard {f'before {heard_nm:.1f} NM' if heard_nm is not None else 'on this leg'}"
    if leg.changeover_nm > 0.0:
        after = next((stretch for stretch in behind.stretches if stretch.to_nm > leg.changeover_nm + 1e-6), behind.stretches[-1])
        how = "is not known to be heard beyond" if after.state is ReceptionState.UNKNOWN else "is lost at"
        return f"{behind.beacon.ident} {how} {leg.changeover_nm:.1f} NM"
    heard_nm = heard_after_nm(behind.stretches, 0.0)
    return f"{behind.beacon.ident} is not heard {f'before {heard_nm:.1f} NM' if heard_nm is not None else 'on this leg'}"


def _received_between(reception: BeaconReception, from_nm: float, to_nm: float) -> bool:
    """Whether a beacon is received on a part of a leg all along, and yet has little to spare somewhere on it."""
    on_it = [each for each in reception.stretches if each.from_nm < to_nm and each.to_nm > from_nm]
    received = all(state_apart_from_cone(each) is ReceptionState.RECEIVED for each in on_it)
    return from_nm < to_nm and received and any(each.margin_ft is not None and each.margin_ft < SLIM_FT for each in on_it)


def _ground_notes(leg: LogLeg, under: GroundUnderLeg, materials: Materials) -> list[Note]:
    number, aside_nm, notes = leg.number, corridor_nm_of(materials), []
    if under.meets_ground_nm is not None:
        text = (
            f"Leg {number}: the planned path runs into the ground {under.meets_ground_nm:.1f} NM after its start. Fly higher or elsewhere."
        )
        notes.append(_note("path-meets-ground", NoteLevel.STOP, text, number))
    if under.highest_ft is not None and leg.true_altitude_ft < under.highest_ft + MARGIN_FT:
        below = leg.true_altitude_ft <= under.highest_ft
        margin = "is not even as high" if below else f"leaves less than {MARGIN_FT:,.0f} ft above it"
        text = (
            f"The ground within {aside_nm:.1f} NM of leg {number} rises to {under.highest_ft:,.0f} ft: "
            f"{leg.altitude_ft:,.0f} ft {margin}. Obstacles are not known to Beaconry."
        )
        notes.append(_note("low-above-ground", NoteLevel.WARNING, text, number))
    elif under.close_nm is not None and under.meets_ground_nm is None:
        text = (
            f"In the climb or descent leg {number} has less than {MARGIN_FT:,.0f} ft over ground within {aside_nm:.1f} NM, "
            f"first {under.close_nm:.1f} NM after its start. Obstacles are not known to Beaconry."
        )
        notes.append(_note("low-above-ground", NoteLevel.WARNING, text, number))
    if under.under_minimum_nm is not None and under.meets_ground_nm is None:
        text = (
            f"Leg {number}: {under.under_minimum_nm:.1f} NM after its start the path is less than {MINIMUM_HEIGHT_FT:,.0f} ft above "
            f"the ground under it, the least height of {MINIMUM_RULES[level_rule_of(materials)]} away from built-up areas. Fly higher."
        )
        notes.append(_note("below-minimum-height", NoteLevel.WARNING, text, number))
    if not under.all_known:
        text = f"The ground under leg {number} is not wholly known: neither the height above it nor reception over it is checked there."
        notes.append(_note("ground-unknown", NoteLevel.WARNING, text, number))
    return notes


def _cold_notes(leg: LogLeg) -> list[Note]:
    """Tell by how much cold air leaves the aircraft lower than its altimeter shows."""
    lower_ft = leg.altitude_ft - leg.true_altitude_ft
    if lower_ft <= TOLD_FROM_FT:
        return []
    text = (
        f"In the cold air of the day {leg.altitude_ft:,.0f} ft on the altimeter is really {leg.true_altitude_ft:,.0f} ft on leg "
        f"{leg.number}, {lower_ft:,.0f} ft lower. Ground and reception are judged there; minimum altitudes are told as the altimeter "
        "must show them."
    )
    return [_note("cold-air", NoteLevel.WARNING, text, leg.number)]


def _minimum_notes(leg: LogLeg, under: GroundUnderLeg) -> list[Note]:
    """Warn of a level below what the sheet itself says that the ground asks for."""
    levels = leg.levels
    if levels is None or levels.safe_ft is None or under.highest_ft is None or leg.altitude_ft >= levels.safe_ft:
        return []
    if leg.true_altitude_ft < under.highest_ft + MARGIN_FT:
        return []  # worse, and told by low-above-ground
    text = (
        f"Leg {leg.number} is planned at {leg.altitude_ft:,.0f} ft, and its ground asks for {up_to_hundred(levels.safe_ft):,.0f} ft: "
        f"{levels.margin_ft:,.0f} ft above the highest within {levels.corridor_nm:.1f} NM. Fly higher, or keep clear of it by eye."
    )
    return [_note("below-safe-altitude", NoteLevel.WARNING, text, leg.number)]


def up_to_hundred(altitude_ft: float) -> int:
    """An altitude that must be reached, up to the next hundred feet. [ft]"""
    return math.ceil(altitude_ft / 100.0 - 1e-9) * 100


def _level_notes(leg: LogLeg, under: GroundUnderLeg, materials: Materials) -> list[Note]:
    if leg.track_magnetic_deg is None:
        return []
    rule = level_rule_of(materials)
    advice = cruising_level_advice(rule, leg.track_magnetic_deg, leg.altitude_ft, under.lowest_beside_ft)
    notes = []
    magnetic = f"Magnetic track {three_digits(leg.track_magnetic_deg)} on leg {leg.number}"
    if advice.applies and advice.suggested_ft:
        levels = " or ".join(f"{level_ft:,.0f}" for level_ft in advice.suggested_ft)
        text = f"{magnetic} asks for a cruising level such as {levels} ft ({rule.value}){_where_it_asks(leg, under)}."
        notes.append(_note("cruising-level", NoteLevel.ADVICE, text, leg.number))
    if advice.applies and advice.near_boundary:
        text = f"{magnetic} is within 5° of the line between the two sets of levels."
        notes.append(_note("level-boundary", NoteLevel.ADVICE, text, leg.number))
    return notes


def _where_it_asks(leg: LogLeg, under: GroundUnderLeg) -> str:
    """Over which parts of the leg the rule asks, where that is not all of it: those flown more than 3,000 ft above the ground."""
    pieces = list(zip(under.along_nm, under.along_nm[1:], under.highest_along_ft, strict=False))
    asks = [ground_ft is None or leg.altitude_ft - ground_ft > RULE_ABOVE_GROUND_FT for _, _, ground_ft in pieces]
    if all(asks) or not any(asks):
        return ""
    spans: list[list[float]] = []
    for (from_nm, to_nm, _), asked in zip(pieces, asks, strict=True):
        if asked and spans and spans[-1][1] == from_nm:
            spans[-1][1] = to_nm
        elif asked:
            spans.append([from_nm, to_nm])
    where = " and ".join(f"{from_nm:.0f} to {to_nm:.0f} NM" for from_nm, to_nm in spans)
    return f", from {where} of it, where it is flown more than 3,000 ft above the ground"


def notes_of_flight(
    *,
    materials: Materials,
    profile: VerticalProfile,
    levels_ft: tuple[float, ...],
    arrival_utc: datetime | None,
    fuel: FuelPlan | None,
    model_valid: bool,
) -> tuple[Note, ...]:
    """Remarks on the flight as a whole: what is missing, the airfields, fuel, profile, magnetic model."""
    notes = [
        *_missing_notes(materials, profile),
        *_airfield_notes(materials, levels_ft),
        *profile_notes(levels_ft, profile),
        *_fuel_notes(materials, fuel),
        *air_notes(materials, levels_ft, arrival_utc),
    ]
    if not model_valid:
        text = "The date lies outside the magnetic model's years: variation is extrapolated."
        notes.append(_note("magnetic-model-date", NoteLevel.WARNING, text))
    notes.append(_note("not-checked", NoteLevel.ADVICE, "Airspace, obstacles, weather and today's notices are not checked."))
    return gravest_first(notes)


def _missing_notes(materials: Materials, profile: VerticalProfile) -> list[Note]:
    route, notes = materials.route, []
    if route.departure_utc is None:
        text = f"No date and time given: variation and outages are those of {materials.on.isoformat()}."
        notes.append(_note("no-date", NoteLevel.WARNING, text))
    if materials.aircraft is None:
        text = (
            "No aircraft chosen: there is no heading, time or fuel, and no climb or descent. "
            "Reception near the airfields is told for the planned altitude, which the flight does not have there."
        )
        notes.append(_note("no-aircraft", NoteLevel.WARNING, text))
    elif not profile.modelled and not _no_power(materials):
        text = "The aircraft's speed is a CAS, or its tables need a temperature: give the difference from standard temperature."
        notes.append(_note("no-temperature", NoteLevel.WARNING, text))
    if not route.winds:
        text = "No wind given: there is no heading, time or fuel. For still air, enter a wind of 0 kt."
        notes.append(_note("no-wind", NoteLevel.WARNING, text))
    return notes


def _no_power(materials: Materials) -> bool:
    performance = performance_of(materials)
    return performance is not None and performance.power_missing


def _ends(materials: Materials) -> tuple[tuple[str, Airfield], ...]:
    route = materials.route
    return (
        ("departure", materials.airfields[route.departure_airfield_id]),
        ("destination", materials.airfields[route.destination_airfield_id]),
    )


def _airfield_notes(materials: Materials, levels_ft: tuple[float, ...]) -> list[Note]:
    notes = []
    for (end, airfield), altitude_ft in zip(_ends(materials), (levels_ft[0], levels_ft[-1]), strict=True):
        if airfield.closed:
            text = f"The {end} {airfield.name} is marked as closed. Choose another airfield."
            notes.append(_note("airfield-closed", NoteLevel.STOP, text))
        elevation_ft = airfield.elevation_ft
        if elevation_ft is not None and altitude_ft < elevation_ft:
            text = f"The planned {altitude_ft:,.0f} ft is below the {end} {airfield.name} at {elevation_ft:,.0f} ft. Fly higher."
            notes.append(_note("altitude-below-airfield", NoteLevel.STOP, text))
    return notes


def _fuel_notes(materials: Materials, fuel: FuelPlan | None) -> list[Note]:
    aircraft, route, notes = materials.aircraft, materials.route, []
    if aircraft is None:
        return []
    if route.fuel_on_board_l is None or not route.reserve_rule:
        text = "Fuel on board or the reserve rule is not given: without a fuel plan this log is not complete."
        notes.append(_note("no-fuel", NoteLevel.STOP, text))
    if route.fuel_on_board_l is not None and route.fuel_on_board_l > aircraft.usable_fuel_l + 0.05:
        text = "The fuel on board is more than the aircraft's usable fuel. Plan on usable fuel only."
        notes.append(_note("more-than-usable", NoteLevel.STOP, text))
    if fuel is not None and fuel.margin_l < 0.0:
        short_min = -fuel.margin_l / (fuel.cruise_l_per_h / 60.0)
        hours, minutes = divmod(round(short_min), 60)
        short = f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"
        text = f"Not enough fuel: {short} short of the reserve ({fuel.reserve_rule}). Take more, or land on the way."
        notes.append(_note("fuel-short", NoteLevel.STOP, text))
    return notes
