"""What the stretches of a leg add up to: heard, lost, received throughout; and the best of several beacons."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from server.radio.reception import Cause, Finding, ReceptionState, Stretch

_SEVERITY = {
    ReceptionState.RECEIVED: 0,
    ReceptionState.MARGINAL: 1,
    ReceptionState.UNKNOWN: 2,
    ReceptionState.NOT_PROMISED: 3,
    ReceptionState.NOT_RECEIVED: 4,
}
_HEARD = (ReceptionState.RECEIVED, ReceptionState.MARGINAL)


def severity(state: ReceptionState) -> int:
    """Rank a state: 0 received, 1 marginal, 2 unknown, 3 not promised, 4 not received."""
    return _SEVERITY[state]


def worst_state(findings: Iterable[Finding]) -> ReceptionState:
    """Return the state that independent findings add up to: the worst of them, received when there is none."""
    return max((finding.state for finding in findings), key=severity, default=ReceptionState.RECEIVED)


def state_apart_from_cone(stretch: Stretch) -> ReceptionState:
    """Return the state the stretch would have without the cone overhead, which every flight over a beacon crosses in a moment."""
    if not stretch.has(Cause.OVERHEAD_CONE):
        return stretch.state
    return worst_state(finding for finding in stretch.findings if finding.cause is not Cause.OVERHEAD_CONE)


def leg_received(stretches: tuple[Stretch, ...]) -> bool:
    """Tell whether every stretch is received, overhead cones apart. False for no stretch at all."""
    return bool(stretches) and all(state_apart_from_cone(stretch) is ReceptionState.RECEIVED for stretch in stretches)


def leg_usable(stretches: tuple[Stretch, ...]) -> bool:
    """Tell whether every stretch is received or marginal, overhead cones apart. False for no stretch at all."""
    return bool(stretches) and all(state_apart_from_cone(stretch) in _HEARD for stretch in stretches)


def first_heard_nm(stretches: tuple[Stretch, ...]) -> float | None:
    """Return where the beacon is first received or marginal, None when nowhere. From the start of the leg. [NM]"""
    return next((stretch.from_nm for stretch in stretches if state_apart_from_cone(stretch) in _HEARD), None)


def lost_nm(stretches: tuple[Stretch, ...]) -> float | None:
    """Return where reception first ends after it was had, None when it does not. An overhead cone does not end it. [NM]"""
    heard = False
    for stretch in stretches:
        hears = state_apart_from_cone(stretch) in _HEARD
        if heard and not hears:
            return stretch.from_nm
        heard = hears
    return None


class ChangeKind(StrEnum):
    HEARD = "heard"
    LOST = "lost"
    REGAINED = "regained"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """A beacon comes in or goes on a leg, at a distance from its start. [NM]"""

    kind: ChangeKind
    at_nm: float


def changes_of(stretches: tuple[Stretch, ...]) -> tuple[Change, ...]:
    """List where a beacon is first heard, lost and regained, in order: received or marginal is heard. A cone overhead changes nothing."""
    changes: list[Change] = []
    heard, ever = False, False
    for stretch in stretches:
        hears = state_apart_from_cone(stretch) in _HEARD
        if hears and not heard:
            changes.append(Change(kind=ChangeKind.REGAINED if ever else ChangeKind.HEARD, at_nm=stretch.from_nm))
        if heard and not hears:
            changes.append(Change(kind=ChangeKind.LOST, at_nm=stretch.from_nm))
        heard, ever = hears, ever or hears
    return tuple(changes)


def best_of(*surveys: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
    """Join the stretches of several beacons along one leg: at each point the best of them.

    Parameters
    ----------
    *surveys : tuple of Stretch
        One per beacon, each covering the same leg, the preferred beacon first.

    Returns
    -------
    tuple of Stretch
        Where one is received or marginal, with the findings of that one; elsewhere with the findings of all. Empty for no survey.

    Notes
    -----
    In the cone over a beacon that would otherwise be the best, the beacon is kept and the stretch stays not received by its cone, unless
    another one is just as good there: station passage does not hand the leg to a worse beacon.
    """
    surveys = tuple(survey for survey in surveys if survey)
    if not surveys:
        return ()
    edges_nm = sorted({stretch.from_nm for survey in surveys for stretch in survey} | {survey[-1].to_nm for survey in surveys})
    if len(edges_nm) == 1:  # a leg of no length
        edges_nm *= 2
    pieces = [_best_piece(surveys, edges_nm[k], edges_nm[k + 1]) for k in range(len(edges_nm) - 1)]
    return _joined(pieces)


def combined_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings without repetitions, the worst state first; of those with one cause and one state the worst numbers."""
    kept: dict[tuple, Finding] = {}
    for finding in findings:
        key = (finding.cause, finding.state, finding.detail)
        if key not in kept or _is_worse(finding, kept[key]):
            kept[key] = finding
    return tuple(sorted(kept.values(), key=lambda finding: -severity(finding.state)))


def _is_worse(a: Finding, b: Finding) -> bool:
    if a.lowest_altitude_ft is None or b.lowest_altitude_ft is None:
        return a.lowest_altitude_ft is None and b.lowest_altitude_ft is not None
    return a.lowest_altitude_ft > b.lowest_altitude_ft


def _best_piece(surveys: tuple[tuple[Stretch, ...], ...], from_nm: float, to_nm: float) -> Stretch:
    middle_nm = (from_nm + to_nm) / 2.0
    here = [next((stretch for stretch in survey if middle_nm <= stretch.to_nm), survey[-1]) for survey in surveys]
    best = min(here, key=lambda stretch: (severity(state_apart_from_cone(stretch)), severity(stretch.state)))
    findings = best.findings
    if state_apart_from_cone(best) not in _HEARD:
        findings = tuple(dict.fromkeys(finding for stretch in here for finding in stretch.findings))
    return Stretch(from_nm=from_nm, to_nm=to_nm, state=best.state, findings=findings)


def _joined(pieces: list[Stretch]) -> tuple[Stretch, ...]:
    """Merge neighbours with one state and one set of causes."""
    joined = pieces[:1]
    for piece in pieces[1:]:
        last = joined[-1]
        if last.state is piece.state and {f.cause for f in last.findings} == {f.cause for f in piece.findings}:
            findings = combined_findings(last.findings + piece.findings)
            joined[-1] = Stretch(from_nm=last.from_nm, to_nm=piece.to_nm, state=last.state, findings=findings)
        else:
            joined.append(piece)
    return tuple(joined)
