"""Sentences for what the planner found. The only place where a cause, a state or a beacon's guidance is put in words.

Knows the log and the rounding of figures.py; knows nothing of layout.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from itertools import zip_longest

from server.errors import InputProblem
from server.navigation import morse
from server.navigation.alignment import AlignmentKind
from server.planning.guidance import heard_after_nm
from server.planning.leg_times import minutes_at
from server.planning.log import BeaconReception, Guidance, LogLeg, Note, NoteLevel, Sense
from server.radio.beacon import Beacon, ComponentKind
from server.radio.reception import Cause, Finding, ReceptionState, Ridge, Stretch
from server.radio.stretches import ChangeKind
from server.sheets import figures
from server.units import feet_from_metres

STATE_WORDS = {
    ReceptionState.RECEIVED: "received",
    ReceptionState.MARGINAL: "marginal",
    ReceptionState.UNKNOWN: "not known",
    ReceptionState.NOT_PROMISED: "not promised",
    ReceptionState.NOT_RECEIVED: "not received",
}

LEVEL_WORDS = {NoteLevel.STOP: "STOP", NoteLevel.WARNING: "WARNING", NoteLevel.ADVICE: "ADVICE"}

COMPONENT_WORDS = {ComponentKind.AZIMUTH: "", ComponentKind.DISTANCE: " DME", ComponentKind.BEARING: " NDB"}

CAUSE_WORDS = {
    Cause.TERRAIN: "below the radio horizon of the station",
    Cause.WEAK_FIELD: "predicted below the least field of ICAO Annex 10",
    Cause.TERRAIN_UNKNOWN: "the signal crosses ground whose height is not loaded",
    Cause.OUTSIDE_VOLUME: "outside the published service volume",
    Cause.BELOW_VOLUME: "less than 1,000 ft above the station, where nothing is published in figures",
    Cause.CLASS_UNKNOWN: "no service class published, the smallest plausible one assumed",
    Cause.UNUSABLE_SECTOR: "in a sector published as unusable",
    Cause.OUTAGE: "notified out of service on this date",
    Cause.OUT_OF_SERVICE: "out of service",
    Cause.WITHDRAWN: "withdrawn from service",
    Cause.STATUS_UNKNOWN: "not known whether it is on the air",
    Cause.RESTRICTED: "published as restricted, and its unusable sectors are not entered",
    Cause.NIGHT: "an NDB more than 30 NM away",
    Cause.OVERHEAD_CONE: "overhead, in the cone where it gives no bearing",
    Cause.NO_SUCH_COMPONENT: "the station has no such part",
    Cause.NOT_FOR_VOR_RECEIVER: "a TACAN bearing, which a VOR receiver cannot use",
    Cause.ELEVATION_ESTIMATED: "station elevation not published, the ground there used",
    Cause.ANTENNA_ASSUMED: "antenna height not published, one assumed",
}

HIGHEST_CURE_FT = 18_000.0
"""Above this no VFR flight goes; a cure beyond it is no advice."""

_ALL_ALONG = (Cause.ELEVATION_ESTIMATED, Cause.ANTENNA_ASSUMED, Cause.STATUS_UNKNOWN, Cause.RESTRICTED, Cause.CLASS_UNKNOWN)
"""Causes that belong to the station, and so hold for the whole leg wherever they stand."""

_TOLD_BY_DETAIL = (Cause.OUTSIDE_VOLUME, Cause.BELOW_VOLUME, Cause.CLASS_UNKNOWN, Cause.NO_SUCH_COMPONENT, Cause.NOT_FOR_VOR_RECEIVER)
"""Where the planner's detail says the same more exactly."""

_SILENT = (ReceptionState.NOT_RECEIVED, ReceptionState.NOT_PROMISED)
"""States that follow on one another without anything being lost."""

_RIDGE_WORDS = {
    ReceptionState.MARGINAL: "too close to call over",
    ReceptionState.NOT_RECEIVED: "hidden by",
}


def plain_line(text: str) -> str:
    """Fold a user's text to one printable line: no line breaks, control characters, direction overrides or lone surrogates."""
    if text.isascii() and text.isprintable() and "  " not in text and text == text.strip():
        return text
    return _folded(text)


@lru_cache(maxsize=4096)
def _folded(text: str) -> str:
    spaced = "".join(" " if character.isspace() else character for character in text)
    return " ".join("".join(character for character in spaced if _prints(character)).split())


def _prints(character: str) -> bool:
    not_a_character = ord(character) & 0xFFFE == 0xFFFE  # the last two code points of every plane, which XML forbids
    return unicodedata.category(character) not in ("Cc", "Cf", "Cs") and not not_a_character


def sentence(text: str) -> str:
    """Begin with a capital."""
    return text[:1].upper() + text[1:]


def morse_marks(ident: str) -> str:
    """Write an ident in Morse as drawn marks, letters apart: "−·− · ···−". MISSING where a character has no Morse sign."""
    try:
        return morse(ident).replace("-", "−").replace(".", "·") or figures.MISSING
    except InputProblem:
        return figures.MISSING


def station(beacon: Beacon, component: ComponentKind = ComponentKind.AZIMUTH) -> str:
    """Name a beacon, and the part of it when that is not its azimuth: "KEV", "KEV DME"."""
    return plain_line(beacon.ident) + COMPONENT_WORDS[component]


def cause_in_words(finding: Finding) -> str:
    """Say why, with the ridge where one hides the antenna."""
    if finding.cause is Cause.TERRAIN and finding.ridge is not None:
        ridge = finding.ridge
        words = (
            f"{_RIDGE_WORDS.get(finding.state, 'over')} ground of {figures.altitude(feet_from_metres(ridge.elevation_m))} at "
            f"{figures.distance_nm(ridge.distance_from_beacon_nm)} from the station ({figures.position(ridge.position)})"
            f"{_above_the_line(ridge)}{_band_in_words(finding)}"
        )
    elif finding.cause is Cause.TERRAIN:
        words = f"{CAUSE_WORDS[finding.cause]}{_band_in_words(finding)}"
    elif finding.cause is Cause.WEAK_FIELD and finding.margin_db is not None:
        words = f"{CAUSE_WORDS[finding.cause]}, by {-finding.margin_db:.0f} dB at the weakest"
    elif finding.detail and finding.cause in _TOLD_BY_DETAIL:
        return plain_line(finding.detail)
    else:
        words = CAUSE_WORDS[finding.cause]
    return f"{words} ({plain_line(finding.detail)})" if finding.detail else words


def _above_the_line(ridge: Ridge) -> str:
    """By how much a ridge reaches into the line of sight."""
    if ridge.above_line_ft is None or ridge.above_line_ft < 0.5:
        return ""
    return f", {figures.height(ridge.above_line_ft)} into the line of sight"


def _band_in_words(finding: Finding) -> str:
    """Between which altitudes it cannot be told; only where that is what makes the stretch marginal."""
    if finding.band_ft is None or finding.state is not ReceptionState.MARGINAL:
        return ""
    hidden_ft, seen_ft = (figures.altitude_at_least(altitude_ft) for altitude_ft in finding.band_ft)
    return f", sure only from {seen_ft} up and hidden below {hidden_ft}"


def _ruling(stretch: Stretch) -> tuple[Finding, ...]:
    """The findings that make the stretch what it is."""
    return tuple(finding for finding in stretch.findings if finding.state is stretch.state)


def _reason(stretch: Stretch) -> str:
    """All that rules the stretch, and the altitude that would cure all of it, where one does."""
    ruling = _ruling(stretch)
    if not ruling:
        return ""
    words = "; and ".join(dict.fromkeys(cause_in_words(finding) for finding in ruling))
    cures_ft = [finding.lowest_altitude_ft for finding in ruling if finding.lowest_altitude_ft is not None]
    cure = f"; {_cure(max(cures_ft))}" if len(cures_ft) == len(ruling) else ""
    return f": {words}{cure}"


def _cure(needed_ft: float) -> str:
    if needed_ft > HIGHEST_CURE_FT:
        return f"no height up to {figures.altitude(HIGHEST_CURE_FT)} cures it"
    return f"{figures.altitude_at_least(needed_ft)} or higher would cure it"


def into_the_leg(leg: LogLeg, at_nm: float) -> str:
    """Say a place on the leg by distance and, where the leg's time is known, by time: "37.1 NM, 0:22 into the leg"."""
    minutes = minutes_at(leg, at_nm)
    return f"{figures.distance_nm(at_nm)}{f', {figures.duration(minutes)}' if minutes is not None else ''} into the leg"


def joined_by_state(stretches: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """Join neighbours of one state that also share what rules them, so that each sentence tells one change."""
    joined: list[Stretch] = []
    for stretch in stretches:
        last = joined[-1] if joined else None
        if last is not None and last.state is stretch.state and _ruling_causes(last) == _ruling_causes(stretch):
            joined[-1] = Stretch(from_nm=last.from_nm, to_nm=stretch.to_nm, state=last.state, findings=_worst_of_both(last, stretch))
        else:
            joined.append(stretch)
    return tuple(joined)


def _ruling_causes(stretch: Stretch) -> frozenset[Cause]:
    if stretch.state is ReceptionState.RECEIVED:
        return frozenset()
    return frozenset(finding.cause for finding in _ruling(stretch))


def _worst_of_both(first: Stretch, second: Stretch) -> tuple[Finding, ...]:
    kept = {finding.cause: finding for finding in first.findings}
    for finding in second.findings:
        known = kept.get(finding.cause)
        if known is None or _needs(finding) > _needs(known):
            kept[finding.cause] = finding
    return tuple(kept.values())


def _needs(finding: Finding) -> float:
    """The altitude that cures it; more than any where none does."""
    return finding.lowest_altitude_ft if finding.lowest_altitude_ft is not None else float("inf")


def reception_in_words(leg: LogLeg, reception: BeaconReception) -> tuple[str, ...]:
    """Tell where on the leg one beacon is heard, lost and regained, and why."""
    name = station(reception.beacon, reception.component)
    stretches = joined_by_state(reception.stretches)
    if len(stretches) == 1:
        only = stretches[0]
        where = "along the whole leg" if only.state is ReceptionState.RECEIVED else "on the whole leg"
        return (f"{name} {STATE_WORDS[only.state]} {where}{_reason_unless_received(only)}.", *_assumptions(name, reception))
    sentences = [_stretch_in_words(leg, name, stretches, index) for index in range(len(stretches))]
    return (*sentences, *_assumptions(name, reception))


def _reason_unless_received(stretch: Stretch) -> str:
    return "" if stretch.state is ReceptionState.RECEIVED else _reason(stretch)


def _stretch_in_words(leg: LogLeg, name: str, stretches: Sequence[Stretch], index: int) -> str:
    stretch = stretches[index]
    span = f"from {figures.distance(stretch.from_nm)} to {figures.distance_nm(stretch.to_nm)}"
    if _ruling_causes(stretch) == {Cause.OVERHEAD_CONE}:
        return f"{name} {span} is overhead, in the cone where it gives no bearing: hold heading."
    if stretch.state is ReceptionState.RECEIVED:
        if index == 0:
            return f"{name} received from the start of the leg to {figures.distance_nm(stretch.to_nm)}."
        return f"{name} {_how_it_comes_in(stretches, index)} {into_the_leg(leg, stretch.from_nm)}."
    if stretch.state is ReceptionState.NOT_PROMISED:
        return f"{name} not promised {span}{_reason(stretch)}. Do not rely on it there."
    if stretch.state is ReceptionState.NOT_RECEIVED:
        if index == 0:
            return f"{name} not received for the first {figures.distance_nm(stretch.to_nm)}{_reason(stretch)}."
        before = stretches[index - 1]
        if before.state in _SILENT and _ruling_causes(before) != {Cause.OVERHEAD_CONE}:
            still = "still " if before.state is stretch.state else ""
            return f"{name} {still}not received {span}{_reason(stretch)}."
        return f"{name} lost at {into_the_leg(leg, stretch.from_nm)}{_reason(stretch)}."
    return f"{name} {STATE_WORDS[stretch.state]} {span}{_reason(stretch)}."


def _how_it_comes_in(stretches: Sequence[Stretch], index: int) -> str:
    before = stretches[index - 1]
    if _ruling_causes(before) == {Cause.OVERHEAD_CONE}:
        return "gives a bearing again from"
    if before.state is ReceptionState.MARGINAL:
        return "received in full from"
    heard_before = any(earlier.state in (ReceptionState.RECEIVED, ReceptionState.MARGINAL) for earlier in stretches[:index])
    return "heard again at" if heard_before else "first heard at"


def _assumptions(name: str, reception: BeaconReception) -> tuple[str, ...]:
    """Findings that changed no state but on which the answer stands, once each."""
    told = dict.fromkeys(
        cause_in_words(finding)
        for stretch in reception.stretches
        for finding in stretch.findings
        if finding.state is not stretch.state and finding.cause in _ALL_ALONG
    )
    return (f"{name}, for the whole leg: {'; '.join(told)}.",) if told else ()


DECIDES_WORDS = {
    Cause.TERRAIN: "the ground",
    Cause.WEAK_FIELD: "field strength",
    Cause.TERRAIN_UNKNOWN: "ground not loaded",
    Cause.OUTSIDE_VOLUME: "published volume",
    Cause.BELOW_VOLUME: "floor of the volume",
    Cause.CLASS_UNKNOWN: "class not published",
    Cause.UNUSABLE_SECTOR: "unusable sector",
    Cause.OUTAGE: "outage",
    Cause.OUT_OF_SERVICE: "out of service",
    Cause.WITHDRAWN: "withdrawn",
    Cause.STATUS_UNKNOWN: "status not known",
    Cause.RESTRICTED: "restrictions not read",
    Cause.NIGHT: "night",
    Cause.NO_SUCH_COMPONENT: "no such part",
    Cause.NOT_FOR_VOR_RECEIVER: "TACAN bearing",
}
"""What decides, in a word or two for a narrow column."""


def decides_in_words(reception: BeaconReception) -> str:
    """Name the worst of the independent findings, or say that there is none."""
    worst = reception.decides
    return "nothing against it" if worst is None else DECIDES_WORDS[worst.cause]


def heard_in_words(reception: BeaconReception, length_nm: float) -> str:
    """Tell where on a leg a beacon is heard: "12.0 to 37.1, 40.2 to 50.8"."""
    ends_nm = [change.at_nm for change in reception.changes if change.kind is ChangeKind.LOST]
    starts_nm = [change.at_nm for change in reception.changes if change.kind is not ChangeKind.LOST]
    if not starts_nm:
        return "not heard"
    if starts_nm == [0.0] and not ends_nm:
        return "all along"
    spans = zip_longest(starts_nm, ends_nm, fillvalue=length_nm)
    return ", ".join(f"{figures.distance(from_nm)} to {figures.distance(to_nm)}" for from_nm, to_nm in spans)


def margin_in_words(reception: BeaconReception) -> str:
    """Tell how far above the line of sight the aircraft is where that is tightest, and the field at its weakest."""
    tightest = reception.tightest
    if tightest is None or tightest.margin_ft is None or tightest.tightest_nm is None:
        return figures.MISSING
    weakest_db = min((stretch.margin_db for stretch in reception.stretches if stretch.margin_db is not None), default=None)
    field = f", field {figures.decibels(weakest_db)}" if weakest_db is not None else ""
    return f"{figures.margin(tightest.margin_ft)} at {figures.distance_nm(tightest.tightest_nm)}{field}"


def received_from_in_words(reception: BeaconReception) -> str:
    """Tell the lowest altitude at which the whole leg is received, or why there is none."""
    if reception.component is ComponentKind.BEARING:
        return "at any height" if reception.decides is None else figures.MISSING
    if reception.received_from_ft is None:
        return f"at no height: {DECIDES_WORDS[reception.incurable]}" if reception.incurable in DECIDES_WORDS else figures.MISSING
    if reception.received_from_ft > HIGHEST_CURE_FT:
        return f"only above {figures.altitude(HIGHEST_CURE_FT)}"
    return f"from {figures.altitude_at_least(reception.received_from_ft)}"


def distance_in_words(reception: BeaconReception) -> str:
    """Tell in one line where a beacon's DME is received, and why not elsewhere; its bearing has told the ridges."""
    name = station(reception.beacon, reception.component)
    heard = _joined_spans(reception.stretches)
    missed = [stretch for stretch in reception.stretches if stretch.state is not ReceptionState.RECEIVED]
    if not missed:
        return f"{name} received along the whole leg."
    causes = [finding.cause for stretch in missed for finding in _ruling(stretch)]
    why = "; ".join(dict.fromkeys("hidden by ground" if cause is Cause.TERRAIN else CAUSE_WORDS[cause] for cause in causes))
    where = " and ".join(f"from {figures.distance(start)} to {figures.distance_nm(end)}" for start, end in heard)
    because = f" ({why})" if why else ""
    return f"{name} received {where} only{because}." if heard else f"{name} not surely received on this leg{because}."


def _joined_spans(stretches: Sequence[Stretch]) -> list[tuple[float, float]]:
    """Where the state is received, neighbours joined."""
    return [(part.from_nm, part.to_nm) for part in joined_by_state(stretches) if part.state is ReceptionState.RECEIVED]


SHORTEST_GUIDANCE_NM = 0.05
"""A beacon tuned for less than this is not tuned."""


def north_word(reference: str) -> str:
    """Say which north a station's radials count from, nothing for the usual magnetic."""
    return {"M": "", "T": " true", "G": " grid"}.get(reference, f" {plain_line(reference)}")


def guidance_in_words(guidance: Guidance) -> str:
    """Say what to set and which flag to expect: "R-090 outbound, set 090, flag FROM"; "course 270 TO (R-090 inbound)"."""
    if guidance.selected_course_deg is None and guidance.component is not ComponentKind.BEARING:
        return "no course to set: which way the station's north points is not known"
    if guidance.selected_course_deg is None:
        bearing = figures.course(guidance.bearing_magnetic_deg)
        return f"bearing to the station {bearing} magnetic, {'ahead' if guidance.sense is Sense.TO else 'behind'}"
    north = north_word(guidance.reference)
    estimated = " est." if guidance.estimated else ""
    radial = f"R-{figures.course(guidance.radial_deg)}{north}{estimated}"
    selected = f"{figures.course(guidance.selected_course_deg)}{north}{estimated}"
    if guidance.sense is Sense.FROM:
        return f"{radial} outbound, set {selected}, flag FROM"
    return f"course {selected} TO ({radial} inbound)"


def why_set_and_steer_differ(leg: LogLeg, guidance: Guidance) -> str:
    """Explain, with its numbers, why the number set on the OBS is not the number steered."""
    if guidance.selected_course_deg is None or leg.heading_magnetic_deg is None:
        return ""
    published = figures.alignment(guidance.beacon.alignment)
    counts = f"its own north ({published})"
    if guidance.beacon.alignment.kind is AlignmentKind.UNKNOWN:
        counts = "an estimated north, its own is not known"
    elif guidance.estimated:
        counts = f"a north that cannot be right ({published})"
    return (
        f"Set {figures.course(guidance.selected_course_deg)}: {station(guidance.beacon)} counts from {counts}. "
        f"Steer {figures.course(leg.heading_magnetic_deg)}: today's variation here ({figures.variation(leg.variation_deg)}) and the wind "
        f"({figures.correction(leg.wind_correction_deg)})."
    )


def changeover_in_words(leg: LogLeg) -> str:
    """Say where to change from the beacon behind to the one ahead, or nothing where the leg has no changeover."""
    if leg.changeover_nm is None:
        return ""
    ahead = leg.guidance[-1]
    heard = next((part for part in leg.receptions if part.beacon is ahead.beacon and part.component is ahead.component), None)
    heard_nm = heard_after_nm(heard.stretches, leg.changeover_nm) if heard is not None else None
    late = f"; it is heard from {figures.distance_nm(heard_nm)}" if heard_nm is not None and heard_nm > leg.changeover_nm + 0.05 else ""
    if leg.changeover_nm < SHORTEST_GUIDANCE_NM:
        return f"Fly the whole leg on {station(ahead.beacon)}{late}."
    return f"Change over to {station(ahead.beacon)} at {into_the_leg(leg, leg.changeover_nm)}{late}."


def note_in_words(note: Note) -> str:
    """Write a note with its level first."""
    return f"{LEVEL_WORDS[note.level]}: {plain_line(note.message)}"
