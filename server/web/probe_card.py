"""The card of one place: ground, variation, what the indicator shows, the best fix, what is heard, the airfields to go to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from server.navigation import Position, destinations
from server.navigation.aircraft import FuelMeasure
from server.navigation.position_lines import FixError
from server.planning.diversion import Diversion
from server.planning.probe import Probe
from server.radio import ComponentKind
from server.sheets import figures, indicator_svg, place_in_words, words
from server.sheets.check_words import needle_in_words
from server.sheets.ways_out import DiversionRow, LostLineRow, axes_in_words, line_row, way_row
from server.units import metres_from_nautical_miles
from server.web.heard_rows import HeardRow, heard_rows
from server.web.pages import Fragment, Pages

ELLIPSE_CORNERS = 36


@dataclass(frozen=True, kw_only=True)
class ProbeCard(Fragment):
    template: ClassVar[str] = "probe_card.html"
    position: str
    altitude: str
    ground: str
    height: str
    """Above the ground; MISSING where that is not known."""
    variation: str
    tuned: str
    """What is tuned and set, and what the indicator shows, in words; empty where nothing is."""
    picture: str
    """The indicator as SVG; empty where there is none to draw."""
    lines: tuple[LostLineRow, ...]
    fix: str
    """How good the fix by two lines is, in words."""
    station: LostLineRow | None
    station_fix: str
    """The best radial with the DME of the same station, and how good that is; None and empty where there is none."""
    station_first: bool
    """Whether that is the better of the two."""
    outside: bool
    """Whether the place lies outside the region's box."""
    rows: tuple[HeardRow, ...]
    dme: dict[int | None, str]
    """What a DME reads here, by the number of its beacon."""
    ways: tuple[DiversionRow, ...]
    beacons: str
    """Address of the region's beacons."""


def probe_card(found: Probe, *, slug: str) -> ProbeCard:
    """Put what is known at a place in words."""
    aircraft = found.materials.aircraft
    measure = aircraft.fuel_measure if aircraft is not None else FuelMeasure()
    return ProbeCard(
        position=figures.position(found.position),
        altitude=figures.altitude(found.altitude_ft),
        ground=figures.elevation(found.ground_ft),
        height=figures.height(None if found.ground_ft is None else found.altitude_ft - found.ground_ft),
        variation=figures.variation(found.variation.deg) + ("" if found.variation.model_valid else ", the magnetic model has run out"),
        tuned=_tuned(found),
        picture=indicator_svg(found.indication, found.selected_course_deg) if found.indication is not None else "",
        lines=tuple(line_row(line) for line in found.place.lines),
        fix=place_in_words(found.place),
        station=line_row(found.one_station.line) if found.one_station is not None else None,
        station_fix=axes_in_words(found.one_station.fix) if found.one_station is not None else "",
        station_first=_station_first(found),
        outside=found.outside,
        rows=heard_rows(found.parts, position=found.position, on=found.on),
        dme={number: figures.distance(reads_nm) for number, reads_nm in found.dme_nm.items()},
        ways=tuple(_way(way, measure) for way in found.ways),
        beacons=f"/regions/{slug}/beacons",
    )


def probe_answer(found: Probe, pages: Pages, *, slug: str) -> dict[str, Any]:
    """Return the card as HTML, and what the chart shows of it: the lines of the fix and its ellipse. [deg]"""
    by_station = found.one_station if _station_first(found) else None
    lines = found.place.lines if by_station is None else (by_station.line,)
    stations = [line.beacon.component_position(line.component) for line in lines]
    fix, axis_deg = found.place.fix, found.place.major_axis_true_deg
    if by_station is not None:
        fix, axis_deg = by_station.fix, by_station.major_axis_true_deg
    return {
        "ground_ft": None if found.ground_ft is None else round(found.ground_ft),
        "position": figures.position(found.position),
        "card": pages.write(probe_card(found, slug=slug)),
        "lines": [[[at.lat_deg, at.lon_deg], [found.position.lat_deg, found.position.lon_deg]] for at in stations],
        "ellipse": error_ellipse(found.position, fix, axis_deg),
    }


def _station_first(found: Probe) -> bool:
    """Whether one station with its DME places the aircraft better than the best two lines."""
    if found.one_station is None:
        return False
    return found.place.fix is None or found.one_station.fix.corner_nm < found.place.fix.corner_nm


def error_ellipse(position: Position, fix: FixError | None, axis_deg: float | None) -> list[list[float]]:
    """Return corners of the ellipse that holds the aircraft 95 times in a hundred; none without a fix. [deg]"""
    if fix is None or axis_deg is None:
        return []
    turn = np.linspace(0.0, 2.0 * np.pi, ELLIPSE_CORNERS, endpoint=False)
    along_nm, across_nm = fix.major_nm * np.cos(turn), fix.minor_nm * np.sin(turn)
    bearing_deg = axis_deg + np.degrees(np.arctan2(across_nm, along_nm))
    away_m = metres_from_nautical_miles(np.hypot(along_nm, across_nm))
    lat_deg, lon_deg = destinations(position, bearing_true_deg=bearing_deg, distance_m=away_m)
    return [[float(lat), float(lon)] for lat, lon in zip(lat_deg, lon_deg, strict=True)]


def _tuned(found: Probe) -> str:
    beacon = found.tuned
    if beacon is None:
        return ""
    heard = [part for part in found.parts if part.beacon == beacon and part.component is not ComponentKind.DISTANCE]
    name = f"{words.station(beacon)} {figures.frequency(beacon)}"
    if not heard:
        return f"{name}: not within range here."
    state = words.STATE_WORDS[heard[0].state]
    if found.overhead:
        return f"{name}: overhead, needle and flag mean nothing here."
    if found.indication is None or found.selected_course_deg is None:
        return f"{name}: {state}."
    needle = needle_in_words(found.indication)
    return f"{name}, {state}: with {figures.course(found.selected_course_deg)} set {needle}."


def _way(way: Diversion, measure: FuelMeasure) -> DiversionRow:
    return way_row("", way, measure)
