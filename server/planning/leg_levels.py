"""What a leg asks of its level: the ground beside it, the beacons that guide it, the rule for cruising levels. Advice; the pilot decides.

The margins over the ground are those that instrument rules ask for, taken here as advice for VFR: terrain posts know no masts and no trees.
"""

from __future__ import annotations

from itertools import pairwise

from server.navigation import RULE_ABOVE_GROUND_FT, LevelRule, vfr_levels_ft
from server.planning.clearance import MINIMUM_HEIGHT_FT
from server.planning.log_legs import BeaconReception, Decider, Guidance, LegLevels
from server.planning.materials import Materials
from server.planning.true_height import TrueHeights
from server.radio import ComponentKind

HIGH_GROUND_FT = 3000.0
"""Ground that rises and falls by more than this within 10 NM is mountainous: ICAO Doc 8168 (from memory)."""

MARGINS_FT = {False: 1000.0, True: 2000.0}
"""Over ordinary and over mountainous ground: 14 CFR 91.177(a)(2); SERA.5015(b) (from memory)."""

MINIMUM_RULES = {LevelRule.US: "14 CFR 91.119(c)", LevelRule.ICAO: "SERA.5005(f)"}
"""Who sets the least height away from built-up areas."""

CORRIDORS_NM = {LevelRule.US: 4.0, LevelRule.ICAO: 4.32}
"""To each side: 4 NM, 14 CFR 91.177; 8 km, SERA.5015(b) (from memory)."""


def level_rule_of(materials: Materials) -> LevelRule:
    """The rule chosen for the flight, else that of its region."""
    return LevelRule.US if (materials.route.level_rule or materials.region.level_rule) == "US" else LevelRule.ICAO


def corridor_nm_of(materials: Materials) -> float:
    """How far to each side ground counts on this flight: as chosen, else by the rule. [NM]"""
    chosen_nm = materials.route.corridor_nm
    return CORRIDORS_NM[level_rule_of(materials)] if chosen_nm is None else chosen_nm


def leg_levels(
    *,
    track_magnetic_deg: float | None,
    highest_ground_ft: float | None,
    ground_known: bool,
    relief_ft: float | None,
    highest_under_ft: float | None,
    lowest_beside_ft: float | None,
    guidance: tuple[Guidance, ...],
    receptions: tuple[BeaconReception, ...],
    heights: TrueHeights,
    distance_nm: float,
    materials: Materials,
) -> LegLevels:
    """Put together what a leg asks of its level. Altitudes are as the altimeter shows them on the day.

    Parameters
    ----------
    relief_ft : float or None
        By how much the ground in the corridor rises and falls within 10 NM, where that is most. [ft]
    highest_under_ft : float or None
        Highest known ground under the track itself. [ft]
    lowest_beside_ft : float or None
        Highest ground of the corridor where that is lowest along the leg: the rule for levels asks from 3,000 ft above it. [ft]
    """
    rule = level_rule_of(materials)
    mountainous = None if relief_ft is None else relief_ft > HIGH_GROUND_FT
    margin_ft = None if mountainous is None else MARGINS_FT[mountainous]
    safe_ft = None if highest_ground_ft is None or margin_ft is None else heights.indicated_ft(highest_ground_ft + margin_ft)
    guides = [each for each in receptions if any((part.beacon, part.component) == (each.beacon, each.component) for part in guidance)]
    reception_ft = _reception_ft(guides, distance_nm)
    asked = {Decider.GROUND: safe_ft, Decider.RECEPTION: reception_ft}
    known = {decider: feet for decider, feet in asked.items() if feet is not None}
    return LegLevels(
        rule=rule,
        corridor_nm=corridor_nm_of(materials),
        mountainous=mountainous,
        margin_ft=margin_ft,
        safe_ft=safe_ft,
        minimum_ft=None if highest_under_ft is None else heights.indicated_ft(highest_under_ft + MINIMUM_HEIGHT_FT),
        ground_known=ground_known,
        reception_ft=reception_ft,
        guided=bool(guides),
        lowest_legal_ft=lowest_legal_ft(rule, track_magnetic_deg, max(known.values())) if known else None,
        rule_from_ft=None if lowest_beside_ft is None else lowest_beside_ft + RULE_ABOVE_GROUND_FT,
        decides=max(known, key=lambda decider: known[decider]) if known else None,
    )


def _reception_ft(guides: list[BeaconReception], distance_nm: float) -> float | None:
    """At each place the beacon that is received from lower down serves; the place that asks for most decides. NDBs ask for nothing. [ft]"""
    if not guides or any(each.component is ComponentKind.BEARING for each in guides):
        return None
    edges_nm = sorted({0.0, distance_nm, *(edge for each in guides for part in each.stretches for edge in (part.from_nm, part.to_nm))})
    highest_ft = -float("inf")
    for from_nm, to_nm in pairwise(edges_nm):
        middle_nm = (from_nm + to_nm) / 2.0
        here = [part.received_from_ft for each in guides for part in each.stretches if part.from_nm <= middle_nm <= part.to_nm]
        received_ft = [feet for feet in here if feet is not None]
        if not received_ft:
            return None
        highest_ft = max(highest_ft, min(received_ft))
    return highest_ft if highest_ft > -float("inf") else None


def lowest_legal_ft(rule: LevelRule, track_magnetic_deg: float | None, floor_ft: float) -> float | None:
    """The lowest level that a rule gives a VFR flight, not below a floor. None above its levels, and where no track tells which. [ft]"""
    if track_magnetic_deg is None:
        return None
    return next((level_ft for level_ft in vfr_levels_ft(rule, track_magnetic_deg) if level_ft >= floor_ft - 1e-6), None)
