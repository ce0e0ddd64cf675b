"""The answer of the planning desk to a route: lines and states for the chart, the section, and the legs in words, in one message."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from server.navigation import PointKind, Position, points_along
from server.planning import NavigationLog, PlannedRoute, route_shelf
from server.planning.guidance import gaps
from server.planning.log import Guidance, LogLeg, NoteLevel
from server.radio import ReceptionState, severity
from server.sheets import LogSheet, figures, log_sheet, section_of, words
from server.sheets.words import STATE_WORDS, joined_by_state
from server.web.draft import draft_of
from server.web.pages import Fragment, Pages
from server.web.route_rows import OVERHEAD, guided_pieces, state_word

LINE_STEP_NM = 6.0
"""A straight line of the chart leaves the geodesic by less than a pixel over so short a way."""


@dataclass(frozen=True, kw_only=True)
class DeskAnswer(Fragment):
    template: ClassVar[str] = "desk_answer.html"
    log: NavigationLog
    sheet: LogSheet
    warnings: tuple[str, ...]
    """What else needs a look: points far from the rest."""
    path: str
    """Address of the route; empty for one that is not kept yet."""


def answer_of(planned: PlannedRoute, pages: Pages, *, path: str) -> dict[str, Any]:
    """Put a planned route into values that become JSON."""
    log = planned.log
    sheet = log_sheet(log)
    view = DeskAnswer(log=log, sheet=sheet, warnings=route_shelf.points_far_away(log.points), path=path)
    return {
        "draft": draft_of(log.route).model_dump(),
        "path": path,
        "stops": [_stop(point) for point in log.points],
        "legs": [_leg(leg) for leg in log.legs],
        "profile": [[round(each.distance_nm, 3), round(each.altitude_ft)] for each in log.profile],
        "panel": pages.write(view),
        "section": section_of(planned),
        "spoken": spoken(log, sheet),
    }


def spoken(log: NavigationLog, sheet: LogSheet) -> str:
    """Say the verdict in a line, for the status line and a screen reader: what forbids the flight first, then the worst of each leg."""
    stops = [note for note in (*log.notes, *(note for leg in log.legs for note in leg.notes)) if note.level is NoteLevel.STOP]
    told = [f"{len(log.legs)} {'leg' if len(log.legs) == 1 else 'legs'}, {sheet.total_distance}"]
    if log.total_time_min is not None:
        told.append(sheet.total_time_words)
    lost = [worst for leg in log.legs if (worst := _worst_of(leg))]
    verdict = f"{', '.join(told)}: {'; '.join(lost)}." if lost else f"{', '.join(told)}: every leg is received."
    warnings = sum(note.level is NoteLevel.WARNING for note in (*log.notes, *(note for leg in log.legs for note in leg.notes)))
    if warnings:
        verdict += f" {warnings} {'warning' if warnings == 1 else 'warnings'}."
    return f"{words.note_in_words(stops[0])} {verdict}" if stops else verdict


def _worst_of(leg: LogLeg) -> str:
    """The worst piece of a leg, of equals the longest, by the beacon that is tuned there. Empty where all is received."""
    if not leg.guidance:
        return f"leg {leg.number} has no beacon"
    bad = [piece for piece in guided_pieces(leg) if piece.word not in (STATE_WORDS[ReceptionState.RECEIVED], OVERHEAD)]
    if not bad:
        unguided = gaps(leg.stretches)
        return f"leg {leg.number} without guidance {_span(*max(unguided, key=lambda gap: gap[1] - gap[0]))}" if unguided else ""
    worst = max(bad, key=lambda piece: (severity(piece.state), piece.to_nm - piece.from_nm))
    return f"leg {leg.number} {worst.word} {_span(worst.from_nm, worst.to_nm)}"


def _span(from_nm: float, to_nm: float) -> str:
    return f"{figures.distance(from_nm)} to {figures.distance_nm(to_nm)}"


def _stop(point) -> dict[str, Any]:
    place = point.position
    return {
        "label": " ".join(part for part in (point.ident, point.name) if part),
        "ident": point.ident or point.name,
        "kind": str(point.kind),
        "lat": place.lat_deg,
        "lon": place.lon_deg,
        "fixed": point.kind in (PointKind.RADIAL_DISTANCE, PointKind.TWO_RADIALS),
    }


def _leg(leg: LogLeg) -> dict[str, Any]:
    stretches = [part for part in joined_by_state(leg.stretches) if part.length_nm > 0.0]
    return {
        "number": leg.number,
        "start_nm": leg.start_nm,
        "length_nm": leg.distance_nm,
        "label": f"{figures.course(leg.track_magnetic_deg)}M {figures.distance_nm(leg.distance_nm)}",
        "line": _line(leg.start.position, leg.end.position, 0.0, leg.distance_nm),
        "stretches": [
            {
                "state": part.state.value.replace(" ", "-"),
                "words": f"{state_word(part)} {figures.distance(part.from_nm)} to {figures.distance_nm(part.to_nm)}",
                "from_nm": part.from_nm,
                "to_nm": part.to_nm,
                "line": _line(leg.start.position, leg.end.position, part.from_nm, min(part.to_nm, leg.distance_nm)),
            }
            for part in stretches
        ],
        "changeover": _spot(leg, leg.changeover_nm),
        "guidance": [_guidance(each) for each in leg.guidance],
    }


def _guidance(guidance: Guidance) -> dict[str, Any]:
    return {
        "beacon": guidance.beacon.id,
        "ident": guidance.beacon.ident,
        "selected_course_deg": guidance.selected_course_deg,
        "words": words.guidance_in_words(guidance),
        "from_nm": guidance.from_nm,
        "to_nm": guidance.to_nm,
    }


def _spot(leg: LogLeg, at_nm: float | None) -> list[float] | None:
    if at_nm is None or not 0.1 < at_nm < leg.distance_nm - 0.1:
        return None
    return _line(leg.start.position, leg.end.position, at_nm, at_nm)[0]


def _line(start: Position, end: Position, from_nm: float, to_nm: float) -> list[list[float]]:
    """Places along a leg, each latitude and longitude. [deg]"""
    steps = max(1, int(np.ceil((to_nm - from_nm) / LINE_STEP_NM)))
    lat_deg, lon_deg = points_along(start, end, np.linspace(from_nm, to_nm, steps + 1))
    return [[round(float(lat), 6), round(float(lon), 6)] for lat, lon in zip(lat_deg, lon_deg, strict=True)]
