"""Beacons, legs and stretches for tests of the radio models: small, valid, overridable. All invented."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

from server.navigation import Alignment, AlignmentKind, Position, distance_nm
from server.radio import (
    Beacon,
    BeaconKind,
    Cause,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Finding,
    LegPath,
    LegSurvey,
    ReceptionState,
    Stretch,
    survey_leg,
)
from server.radio.band import NO_DOUBT

DAY = date(2026, 8, 1)
MAST = Position(lat_deg=43.0, lon_deg=-36.0)
STRONG_W = 100_000.0
"""A power that leaves the field out of account, wherever the antenna is seen."""
EVERYWHERE = (CoverageSector(from_radial_deg=0.0, to_radial_deg=360.0, range_nm=500.0),)
"""A designated coverage that leaves only terrain to decide."""


def a_component(kind: ComponentKind = ComponentKind.AZIMUTH, **changes) -> Component:
    values = {"status": ComponentStatus.OPERATING, "coverage": EVERYWHERE} | changes
    return Component(kind=kind, **values)


def a_beacon(*components: Component, **changes) -> Beacon:
    """A VOR/DME on the mast, 0 ft, antenna 100 ft above that, aligned 8 degrees west."""
    values = {
        "region_id": 1,
        "ident": "MST",
        "name": "Mast Hill",
        "kind": BeaconKind.VOR_DME,
        "frequency_khz": 113_000,
        "position": MAST,
        "elevation_ft": 0.0,
        "antenna_height_ft": 100.0,
        "alignment": Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-8.0),
    } | changes
    return Beacon(components=components or (a_component(),), **values)


def a_path(start: Position, end: Position, *altitudes_ft: float) -> LegPath:
    """A leg with one altitude, or with altitudes evenly spaced along it."""
    length_nm = distance_nm(start, end)
    if len(altitudes_ft) == 1:
        altitudes_ft *= 2
    steps = len(altitudes_ft) - 1
    profile = tuple((length_nm * k / steps, altitude_ft) for k, altitude_ft in enumerate(altitudes_ft))
    return LegPath(start=start, end=end, distance_nm=length_nm, profile=profile)


def a_survey(path: LegPath, ground, beacon: Beacon | None = None, component: ComponentKind = ComponentKind.AZIMUTH, **changes) -> LegSurvey:
    """A survey with nothing in doubt and power to spare, so that the geometry decides."""
    values = {"on": DAY, "estimated_declination_deg": None, "doubt": NO_DOUBT} | changes
    return survey_leg(beacon=strong(beacon or a_beacon()), component=component, path=path, ground=ground, **values)


def strong(beacon: Beacon) -> Beacon:
    """The beacon with power to spare where none is given."""
    return replace(beacon, components=tuple(replace(part, power_w=part.power_w or STRONG_W) for part in beacon.components))


def a_stretch(from_nm: float, to_nm: float, state: ReceptionState, *causes: Cause) -> Stretch:
    """A stretch whose causes all have its state."""
    findings = tuple(Finding(cause=cause, state=state) for cause in causes)
    return Stretch(from_nm=from_nm, to_nm=to_nm, state=state, findings=findings)


def meridian_arc_m(south_deg: float, north_deg: float) -> float:
    """Length of a short meridian arc on WGS 84 [m]: degree length 111132.954 - 559.822 cos 2p + 1.175 cos 4p at the middle latitude p.

    Textbook series (from memory), good to a metre over one degree.
    """
    p = math.radians((south_deg + north_deg) / 2.0)
    return (north_deg - south_deg) * (111132.954 - 559.822 * math.cos(2 * p) + 1.175 * math.cos(4 * p))
