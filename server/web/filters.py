"""How values are written on pages: the rounding and the words of server.sheets, under short names for the templates."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from markupsafe import Markup

from server.navigation import Aircraft, SpeedUnit
from server.radio import Beacon, BeaconKind
from server.sheets import beacon_symbol, figures, words
from server.units import miles_per_hour_from_knots
from server.web.class_words import class_words, part_words
from server.web.forms import number_text
from server.web.picking import beacon_label, numbered
from server.web.route_rows import heard_parts, strip_parts, tuned


def pairs(words: Iterable[str]) -> list[tuple[str, str]]:
    """Pairs of value and words for a list to choose from, where the value is its own word."""
    return [(str(word), str(word)) for word in words]


def beacon_choice(beacon: Beacon) -> str:
    """What a button sends to choose this beacon and no other."""
    return numbered(beacon_label(beacon), beacon)


def yes_no(value: bool | None) -> str:
    """Say yes, no or not known."""
    return {True: "yes", False: "no", None: "not known"}[value]


def metres(length_m: float) -> str:
    """Write a length to the metre: "1,450 m"."""
    return f"{int(figures.rounded(length_m)):,} m"


def speed_in(knots: float, unit: SpeedUnit) -> str:
    """Write a speed whole in the owner's unit, with the unit, and in knots too where that is another: "185 mph (161 kt)"."""
    told = f"{figures.speed(knots)} kt"
    return told if unit is SpeedUnit.KNOT else f"{figures.speed(miles_per_hour_from_knots(knots))} mph ({told})"


def tables_kept(aircraft: Aircraft) -> str:
    """Name the tables an aircraft has: "cruise, climb"."""
    kept = {"cruise": aircraft.cruise_table, "climb": aircraft.climb_table, "descent": aircraft.descent_table}
    return ", ".join(name for name, rows in kept.items() if rows) or "none"


def zone(name: str) -> str:
    """Write a time zone as a log does: its own name, or for a fixed one its distance from UTC. "Etc/GMT+2" counts the other way round."""
    fixed = re.fullmatch(r"Etc/GMT(?P<sign>[+-])(?P<hours>[0-9]{1,2})", name)
    if fixed is None:
        return name
    return f"UTC{'-' if fixed['sign'] == '+' else '+'}{int(fixed['hours']):02d}"


def drawing(svg: str) -> Markup:
    """Let an SVG of server.sheets stand in the page: every text in it is escaped where it is drawn."""
    return Markup(svg)


def symbol(kind: BeaconKind) -> Markup:
    """Draw the chart symbol of a kind of beacon, by itself."""
    return Markup(f'<svg class="symbol" viewBox="-22 -22 44 44" role="img" aria-label="Chart symbol: {kind}">{beacon_symbol(kind)}</svg>')


FILTERS: dict[str, Any] = {
    "alignment": figures.alignment,
    "altitude": figures.altitude,
    "beacon_choice": beacon_choice,
    "class_words": class_words,
    "clock_utc": figures.clock_utc,
    "course": figures.course,
    "day_utc": figures.day_utc,
    "distance": figures.distance,
    "distance_nm": figures.distance_nm,
    "drawing": drawing,
    "elevation": figures.elevation,
    "frequency": figures.frequency,
    "fuel": figures.fuel,
    "heard_parts": heard_parts,
    "metres": metres,
    "morse": words.morse_marks,
    "pairs": pairs,
    "part_words": part_words,
    "plain": number_text,
    "position": figures.position,
    "radial": figures.course,
    "speed": figures.speed,
    "speed_in": speed_in,
    "strip_parts": strip_parts,
    "symbol": symbol,
    "tables_kept": tables_kept,
    "tuned": tuned,
    "variation": figures.variation,
    "yes_no": yes_no,
    "zone": zone,
}
