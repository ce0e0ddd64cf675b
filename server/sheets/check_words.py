"""Sentences for finding one's place: needle and flag, cross-checks, what happens over a beacon, what to hold without guidance.

Beside words.py, which has the sentences for reception and guidance. Rounds by figures.py alone; knows nothing of layout.
"""

from __future__ import annotations

import math

from server.navigation.indicator import Flag, Indication
from server.planning.cross_checks import CrossCheck
from server.planning.crossing_lines import CrossingLine, LineKind
from server.planning.expected_picture import ExpectedPicture
from server.planning.gaps import HEADING_ERROR_DEG, WIND_ERROR_KT, Gap, HeldHeading
from server.planning.passage import ConeSide, Passage
from server.radio.beacon import ComponentKind
from server.sheets import figures
from server.sheets.words import CAUSE_WORDS, north_word, station

NO_LINE = "Nothing received here crosses the track well enough: check by eye, heading and time."


def needle_in_words(shown: Indication) -> str:
    """Say flag and needle: "FROM, needle 2½ dots left"."""
    flag = f"{shown.flag} (or OFF)" if shown.flag_doubtful and shown.flag is not Flag.OFF else shown.flag.value
    if shown.full:
        return f"{flag}, needle full {shown.side}"
    halves = int(figures.rounded(shown.needle_dots * 2.0))
    if halves == 0:
        return f"{flag}, needle centred"
    whole, half = divmod(halves, 2)
    dots = f"{whole or ''}{'½' if half else ''}"
    return f"{flag}, needle {dots} {'dot' if halves <= 2 else 'dots'} {shown.side}"


def line_in_words(line: CrossingLine) -> str:
    """Say what to tune and what it should read: "R-188 CCC", "AAA DME 30.0 NM", "NNN NDB bearing 098M, 090 from the nose"."""
    name = station(line.beacon, line.component)
    if line.kind is LineKind.DISTANCE:
        turning = "" if line.rising is None else ", rising" if line.rising else ", falling"
        return f"{name} {figures.distance_nm(line.dme_nm)}{turning}"
    if line.kind is LineKind.RADIAL:
        return f"R-{figures.course(line.radial_deg)}{north_word(line.reference)}{' est.' if line.estimated else ''} {name}"
    nose = f", {figures.course(line.relative_bearing_deg)} from the nose" if line.relative_bearing_deg is not None else ""
    return f"{name} bearing {figures.course(line.bearing_magnetic_deg)}M{nose}"


def line_quality_in_words(line: CrossingLine) -> str:
    """Say how much a line is worth: "cuts at 90°, good to 1.8 NM", and what makes it less than sure."""
    words = f"cuts at {figures.rounded(line.cut_deg)}°, good to {_rounded_up_nm(line.along_track_error_nm)} NM"
    if line.weak:
        words += "; a weak cut"
    if line.marginal:
        why = " and ".join(CAUSE_WORDS[cause] for cause in line.causes)
        words += f"; marginal: {why}" if why else "; marginal"
    return words


def not_there_in_words(line: CrossingLine) -> str:
    """Say from which difference on one is not where one believes to be."""
    limit = f"{_rounded_up_nm(line.differs_nm)} NM" if line.differs_nm is not None else f"{math.ceil(line.differs_deg or 0.0)}°"
    return f"If it differs by more than {limit}, you are not there."


def picture_in_words(picture: ExpectedPicture) -> str:
    """Say what the guiding beacon shows: "AAA set 098: FROM, needle centred, DME 30.0"."""
    name = station(picture.beacon, picture.component)
    if picture.overhead:
        return f"{name} overhead: needle and flag mean nothing{_dme(picture)}"
    if not picture.heard:
        return f"{name} not to be counted on here{_dme(picture)}"
    if picture.component is ComponentKind.BEARING:
        nose = f", {figures.course(picture.relative_bearing_deg)} from the nose" if picture.relative_bearing_deg is not None else ""
        return f"{name} bearing {figures.course(picture.bearing_magnetic_deg)}M{nose}"
    if picture.indication is None:
        return f"{name}: no course to set{_dme(picture)}"
    return f"{name} set {figures.course(picture.selected_course_deg)}: {needle_in_words(picture.indication)}{_dme(picture)}"


def cross_check_in_words(check: CrossCheck) -> tuple[str, ...]:
    """Say each line of a cross-check in a sentence, the best first; that there is none where nothing serves."""
    return tuple(f"{line_in_words(line)}: {line_quality_in_words(line)}. {not_there_in_words(line)}" for line in check.lines) or (NO_LINE,)


def obs_in_words(passage: Passage) -> str:
    """Say what to do with the OBS over a beacon: "OBS CHANGE to 115", "no change (115)", "tune TSY, set 114"; or nothing."""
    guidance = passage.after.guidance
    if guidance is None:
        return ""
    selected = figures.course(guidance.selected_course_deg) + north_word(guidance.reference)
    if not passage.guides_on:
        tune = f"tune {station(guidance.beacon, guidance.component)}"
        return tune if guidance.selected_course_deg is None else f"{tune}, set {selected}"
    if guidance.selected_course_deg is None:
        return ""
    return f"no change ({selected})" if passage.changes_course is False else f"OBS CHANGE to {selected}"


def passage_in_words(passage: Passage) -> tuple[str, ...]:
    """Say what happens over a beacon, a sentence each: how long to hold, what to set, what is shown, what is shown by mistake."""
    name = station(passage.beacon, passage.component)
    sentences = [_hold_through_cone(passage, name)] if passage.before.reach_nm is not None else []
    obs = obs_in_words(passage)
    if obs:
        sentences.append(f"{obs[0].upper()}{obs[1:]}.")
    if passage.component is ComponentKind.BEARING:
        sentences.append("You are past it when the pointer has gone through the wing-tip.")
    elif passage.before.shown is not None and passage.after.shown is not None:
        sentences.append(f"Flag {passage.before.shown.flag}, then OFF, then {passage.after.shown.flag}: past at the first steady change.")
    if passage.changes_course and passage.guides_on and passage.shown_if_not_changed is not None:
        left = f"With the old course left set: {needle_in_words(passage.shown_if_not_changed)}"
        sentences.append(f"{left}{', and the needle points the wrong way' if passage.reversed_if_not_changed else ''}.")
    if passage.dme_overhead_nm is not None:
        sentences.append(f"The DME comes down to {figures.distance_nm(passage.dme_overhead_nm)}.")
    return tuple(sentences)


def gap_in_words(gap: Gap) -> str:
    """Say which heading to hold without guidance, for how long, and how far off one may be then."""
    span = (
        f"{'NO GUIDANCE' if gap.certain else 'GUIDANCE NOT KNOWN'} from {figures.distance(gap.from_nm)} to {figures.distance_nm(gap.to_nm)}"
    )
    hold = ", then ".join(_held(part) for part in gap.hold)
    if gap.off_at_end_nm is None:
        return f"{span}: hold {hold}."
    assumed = f"a heading {HEADING_ERROR_DEG:.0f}° out, a wind {WIND_ERROR_KT:.0f} kt out"
    return f"{span}: hold {hold}. After it you may be {_rounded_up_nm(gap.off_at_end_nm)} NM off ({assumed})."


def _held(part: HeldHeading) -> str:
    heading = f"heading {figures.course(part.heading_magnetic_deg)}M" if part.heading_magnetic_deg is not None else "your heading"
    return heading if part.minutes is None else f"{heading} for {figures.rounded(part.minutes, decimals=1)} min"


def _hold_through_cone(passage: Passage, name: str) -> str:
    before, after = passage.before, passage.after
    headings = [figures.course(side.heading_magnetic_deg) for side in (before, after)]
    cone = f"{name}: the needle means nothing {_edge(before)} before and {_edge(after)} after."
    if figures.MISSING in headings or headings[0] == headings[1]:
        heading = f" {headings[0]}M" if headings[0] != figures.MISSING else ""
        return f"{cone} Hold heading{heading}{_about_s(passage.minutes_in_cone)}."
    then = f"turn to {headings[1]}M and hold it{_about_s(after.minutes)}"
    return f"{cone} Hold heading {headings[0]}M{_about_s(before.minutes)}; past the beacon {then}."


def _about_s(minutes: float | None) -> str:
    return f" for about {int(figures.rounded(minutes * 6.0)) * 10} s" if minutes is not None else ""


def _edge(side: ConeSide) -> str:
    return figures.distance_nm(side.reach_nm)


def _dme(picture: ExpectedPicture) -> str:
    return f", DME {figures.distance(picture.dme_nm)}" if picture.dme_nm is not None else ""


def _rounded_up_nm(value_nm: float) -> str:
    """A tenth of a mile, never less than the error."""
    return figures.distance(math.ceil(round(value_nm * 10.0, figures.NOISE_DECIMALS)) / 10.0)
