"""Where to tune from the beacon behind a leg to the one ahead: by what is received, then by what is to spare, then half way."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from server.planning.guidance import GAP_NM, gaps
from server.radio import LegSurvey, ReceptionState, Stretch, state_apart_from_cone

SLIM_FT = 200.0
"""What a pilot may stray from the altitude chosen while tracking a beacon: FAA-S-ACS-6B, VI.B.S7. With less to spare it may be lost."""

_BESIDE_NM = 1e-3  # just before or just after a place

Part = tuple[float, float]
"""A part of a leg, from and to. [NM from its start]"""


def changeover_nm(
    behind: tuple[Stretch, ...], ahead: tuple[Stretch, ...], slim_behind: tuple[Part, ...] = (), slim_ahead: tuple[Part, ...] = ()
) -> float:
    """Choose where to tune from the beacon behind to the one ahead. [NM]

    As little of the leg as can be is left without the beacon that is tuned; then as little as can be is flown on one that is marginal
    while the other is surely received; then on one that has little to spare (``slim``: see slim_parts) while the other has more. Of the
    places that are equal in this, the one nearest half way (14 CFR 95.8001) where both beacons serve; where none do, in a gap between
    them, the first: where the one behind is lost.
    """
    half_nm, end_nm = behind[-1].to_nm / 2.0, ahead[-1].to_nm
    silent = gaps(behind), gaps(ahead)
    marginal = _only_marginal(behind, ahead), _only_marginal(ahead, behind)
    slim = _only_slim(behind, slim_behind, ahead, slim_ahead), _only_slim(ahead, slim_ahead, behind, slim_behind)

    def flown_nm(parts: tuple[tuple[Part, ...], tuple[Part, ...]], at_nm: float) -> float:
        return round(_within_nm(parts[0], 0.0, at_nm) + _within_nm(parts[1], at_nm, end_nm), 6)

    def how_bad(at_nm: float) -> tuple[float, bool, float, float, float]:
        beside_nm = _within_nm(silent[0], at_nm - _BESIDE_NM, at_nm) + _within_nm(silent[1], at_nm, at_nm + _BESIDE_NM)
        place = abs(at_nm - half_nm) if beside_nm == 0.0 else at_nm
        return flown_nm(silent, at_nm), beside_nm > 0.0, flown_nm(marginal, at_nm), flown_nm(slim, at_nm), place

    edges_nm = (edge_nm for of_both in (silent, marginal, slim) for parts in of_both for part in parts for edge_nm in part)
    return min((half_nm, *edges_nm), key=how_bad)


def slim_parts(survey: LegSurvey) -> tuple[Part, ...]:
    """The parts of a leg where the path is less than SLIM_FT above what is surely seen of a beacon. Unknown is not slim."""
    spare_ft, at_nm = survey.spare_ft, survey.sample_nm
    slim = spare_ft < SLIM_FT  # false for NaN
    changes = np.flatnonzero(slim[1:] != slim[:-1])
    edges_nm = [float(_edge_nm(at_nm[k : k + 2], spare_ft[k : k + 2])) for k in changes]
    bounds_nm = [float(at_nm[0]), *edges_nm, float(at_nm[-1])]
    return tuple(part for part, holds in zip(pairwise(bounds_nm), [slim[0], *slim[changes + 1]], strict=True) if holds)


def _edge_nm(at_nm: np.ndarray, spare_ft: np.ndarray) -> float:
    """Where between two samples SLIM_FT is passed; half way where one of them is not known."""
    share = (SLIM_FT - spare_ft[0]) / (spare_ft[1] - spare_ft[0])
    return float(at_nm[0] + (share if np.isfinite(share) else 0.5) * (at_nm[1] - at_nm[0]))


def _only_marginal(stretches: tuple[Stretch, ...], others: tuple[Stretch, ...]) -> tuple[Part, ...]:
    """Where one beacon is marginal and the other is received."""

    def worse(middle_nm: float) -> bool:
        return _state_at(stretches, middle_nm) is ReceptionState.MARGINAL and _state_at(others, middle_nm) is ReceptionState.RECEIVED

    return _where(worse, sorted({edge_nm for each in (*stretches, *others) for edge_nm in (each.from_nm, each.to_nm)}))


def _only_slim(
    stretches: tuple[Stretch, ...], slim: tuple[Part, ...], others: tuple[Stretch, ...], others_slim: tuple[Part, ...]
) -> tuple[Part, ...]:
    """Where both beacons are received, and only this one has little to spare."""

    def worse(middle_nm: float) -> bool:
        both = _state_at(stretches, middle_nm) is _state_at(others, middle_nm) is ReceptionState.RECEIVED
        return both and _holds(slim, middle_nm) and not _holds(others_slim, middle_nm)

    edges_nm = {edge_nm for part in (*slim, *others_slim) for edge_nm in part} | {each.to_nm for each in (*stretches, *others)}
    return _where(worse, sorted(edges_nm))


def _where(holds: Callable[[float], bool], edges_nm: list[float]) -> tuple[Part, ...]:
    """The parts, half a mile or longer, between edges where something holds in the middle."""
    found: list[Part] = []
    for from_nm, to_nm in pairwise(edges_nm):
        if not holds((from_nm + to_nm) / 2.0):
            continue
        if found and found[-1][1] == from_nm:
            found[-1] = (found[-1][0], to_nm)
        else:
            found.append((from_nm, to_nm))
    return tuple(part for part in found if part[1] - part[0] >= GAP_NM)


def _state_at(stretches: tuple[Stretch, ...], at_nm: float) -> ReceptionState:
    return state_apart_from_cone(next((each for each in stretches if at_nm <= each.to_nm), stretches[-1]))


def _holds(parts: tuple[Part, ...], at_nm: float) -> bool:
    return any(from_nm <= at_nm <= to_nm for from_nm, to_nm in parts)


def _within_nm(parts: tuple[Part, ...], from_nm: float, to_nm: float) -> float:
    """How much of a stretch of the leg is covered by some parts of it. [NM]"""
    return sum(max(0.0, min(part_to_nm, to_nm) - max(part_from_nm, from_nm)) for part_from_nm, part_to_nm in parts)
