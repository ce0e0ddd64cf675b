"""VFR cruising levels by the semicircular rules, as advice. They follow the magnetic track, never the heading."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.navigation.bearings import difference_deg, fold_deg


class LevelRule(StrEnum):
    """US: 14 CFR 91.159(a). ICAO: Annex 2, 4.7 and Appendix 3 a) (feet), as in SERA.5005(g)."""

    US = "US 14 CFR 91.159"
    ICAO = "ICAO Annex 2 Appendix 3"


_CEILING_FT = {LevelRule.US: 18_000.0, LevelRule.ICAO: 20_000.0}  # US: (b) begins; ICAO: no VFR above FL 200 (Annex 2, 4.4, from memory)
RULE_ABOVE_GROUND_FT = 3_000.0
_NEAR_BOUNDARY_DEG = 5.0
_SAME_LEVEL_FT = 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class LevelAdvice:
    """What a semicircular rule says of a level cruise.

    ``applies`` is None where it hangs on ground that is not known. ``complies`` looks only at the pattern, whether or not the rule applies.
    ``suggested_ft`` holds the levels next below and next above that comply; empty when nothing needs changing.
    ``near_boundary`` is True within 5 deg of north or south, where a small change of track turns the rule over.
    """

    applies: bool | None
    complies: bool
    suggested_ft: tuple[float, ...]
    near_boundary: bool


def cruising_level_advice(rule: LevelRule, magnetic_track_deg: float, altitude_ft: float, highest_ground_ft: float | None) -> LevelAdvice:
    """Advise on a cruising level: track 000 to 179 magnetic odd thousands + 500 ft, 180 to 359 even thousands + 500 ft.

    Parameters
    ----------
    rule : LevelRule
        Whose rule.
    magnetic_track_deg : float
        Track by local variation. A track between 179 and 180 counts as less than 180. [deg]
    altitude_ft : float
        Planned level. [ft]
    highest_ground_ft : float or None
        Ground to count 3,000 ft from; the rule holds for *more than* 3,000 ft above it. None where not known. [ft]

    References
    ----------
    14 CFR 91.159(a); ICAO Annex 2, tenth edition, 4.7 and Appendix 3.
    """
    track_deg = fold_deg(magnetic_track_deg)
    levels_ft = vfr_levels_ft(rule, magnetic_track_deg)
    applies = _applies(altitude_ft, highest_ground_ft, _CEILING_FT[rule])
    complies = any(abs(altitude_ft - level_ft) <= _SAME_LEVEL_FT for level_ft in levels_ft)
    suggested_ft: tuple[float, ...] = ()
    if applies is not False and not complies:
        usable_ft = [level_ft for level_ft in levels_ft if _applies(level_ft, highest_ground_ft, _CEILING_FT[rule]) is not False]
        below_ft = [level_ft for level_ft in usable_ft if level_ft < altitude_ft][-1:]
        above_ft = [level_ft for level_ft in usable_ft if level_ft > altitude_ft][:1]
        suggested_ft = (*below_ft, *above_ft)
    to_boundary_deg = min(abs(difference_deg(track_deg, 0.0)), abs(difference_deg(track_deg, 180.0)))
    return LevelAdvice(
        applies=applies,
        complies=complies,
        suggested_ft=suggested_ft,
        near_boundary=to_boundary_deg <= _NEAR_BOUNDARY_DEG,
    )


def vfr_levels_ft(rule: LevelRule, magnetic_track_deg: float) -> list[float]:
    """Return the levels that a rule gives a VFR flight on a track, from the lowest up. [ft]"""
    first_ft = 3_500.0 if fold_deg(magnetic_track_deg) < 180.0 else 4_500.0
    return [first_ft + 2_000.0 * step for step in range(12) if first_ft + 2_000.0 * step < _CEILING_FT[rule]]


def _applies(altitude_ft: float, highest_ground_ft: float | None, ceiling_ft: float) -> bool | None:
    if altitude_ft >= ceiling_ft:
        return False
    if highest_ground_ft is None:
        return None
    return altitude_ft - highest_ground_ft > RULE_ABOVE_GROUND_FT
