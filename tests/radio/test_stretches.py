"""What stretches add up to. Cases set up by hand."""

from __future__ import annotations

import pytest

from server.radio import (
    Cause,
    Finding,
    ReceptionState,
    Stretch,
    best_of,
    first_heard_nm,
    leg_received,
    leg_usable,
    lost_nm,
    state_apart_from_cone,
    worst_state,
)
from tests.radio.radio_builders import a_stretch

RECEIVED, MARGINAL = ReceptionState.RECEIVED, ReceptionState.MARGINAL
UNKNOWN, NOT_RECEIVED = ReceptionState.UNKNOWN, ReceptionState.NOT_RECEIVED
HIDDEN = (NOT_RECEIVED, Cause.TERRAIN)
CONE = (NOT_RECEIVED, Cause.OVERHEAD_CONE)


def spans(stretches) -> list[tuple[float, float, ReceptionState]]:
    return [(stretch.from_nm, stretch.to_nm, stretch.state) for stretch in stretches]


def test_the_worst_finding_rules_and_none_at_all_is_received():
    findings = [Finding(cause=Cause.TERRAIN, state=state) for state in (MARGINAL, UNKNOWN, RECEIVED)]
    assert worst_state(findings) is UNKNOWN
    assert worst_state([*findings, Finding(cause=Cause.OUTAGE, state=NOT_RECEIVED)]) is NOT_RECEIVED
    assert worst_state([]) is RECEIVED


def test_a_beacon_is_heard_where_it_is_first_received_or_marginal_and_lost_where_that_ends():
    leg = (
        a_stretch(0, 10, *HIDDEN),
        a_stretch(10, 20, MARGINAL, Cause.BELOW_VOLUME),
        a_stretch(20, 40, RECEIVED),
        a_stretch(40, 50, UNKNOWN, Cause.TERRAIN_UNKNOWN),
        a_stretch(50, 60, RECEIVED),
    )
    assert first_heard_nm(leg) == 10
    assert lost_nm(leg) == 40
    assert first_heard_nm(leg[:1]) is None and lost_nm(leg[:1]) is None
    assert lost_nm(leg[:3]) is None


def test_a_cone_is_neither_a_loss_nor_a_late_start():
    leg = (a_stretch(0, 1, *CONE), a_stretch(1, 20, RECEIVED), a_stretch(20, 22, *CONE), a_stretch(22, 30, RECEIVED))
    assert first_heard_nm(leg) == 0
    assert lost_nm(leg) is None
    assert leg_received(leg) and leg_usable(leg)


def test_a_cone_does_not_excuse_another_finding():
    both = a_stretch(0, 1, NOT_RECEIVED, Cause.OVERHEAD_CONE, Cause.OUTAGE)
    assert state_apart_from_cone(both) is NOT_RECEIVED
    assert not leg_usable((both, a_stretch(1, 20, RECEIVED)))


def test_usable_allows_marginal_but_not_unknown():
    marginal = (a_stretch(0, 10, RECEIVED), a_stretch(10, 20, MARGINAL, Cause.STATUS_UNKNOWN))
    assert leg_usable(marginal) and not leg_received(marginal)
    assert not leg_usable((*marginal, a_stretch(20, 21, UNKNOWN, Cause.TERRAIN_UNKNOWN)))
    assert not leg_received(()) and not leg_usable(())


def test_two_beacons_share_a_leg_and_the_gap_between_them_tells_of_both():
    behind = (a_stretch(0, 37, RECEIVED), a_stretch(37, 80, *HIDDEN))
    ahead = (a_stretch(0, 42, NOT_RECEIVED, Cause.OUTSIDE_VOLUME), a_stretch(42, 80, RECEIVED))
    best = best_of(behind, ahead)
    assert spans(best) == [(0, 37, RECEIVED), (37, 42, NOT_RECEIVED), (42, 80, RECEIVED)]
    assert {finding.cause for finding in best[1].findings} == {Cause.TERRAIN, Cause.OUTSIDE_VOLUME}
    assert best[0].findings == () and not leg_received(best)


def test_overlapping_beacons_make_one_received_stretch():
    behind = (a_stretch(0, 50, RECEIVED), a_stretch(50, 80, *HIDDEN))
    ahead = (a_stretch(0, 30, *HIDDEN), a_stretch(30, 80, RECEIVED))
    assert spans(best_of(behind, ahead)) == [(0, 80, RECEIVED)]


def test_a_marginal_beacon_is_better_than_one_that_is_unknown():
    unsure = (a_stretch(0, 80, MARGINAL, Cause.CLASS_UNKNOWN),)
    unknown = (a_stretch(0, 80, UNKNOWN, Cause.TERRAIN_UNKNOWN),)
    (only,) = best_of(unknown, unsure)
    assert only.state is MARGINAL and [finding.cause for finding in only.findings] == [Cause.CLASS_UNKNOWN]


@pytest.mark.parametrize("other", [MARGINAL, UNKNOWN, NOT_RECEIVED])
def test_over_a_beacon_its_cone_is_kept_rather_than_a_worse_beacon(other):
    over = (a_stretch(0, 1, *CONE), a_stretch(1, 30, RECEIVED))
    far = (a_stretch(0, 30, other, Cause.CLASS_UNKNOWN),)
    best = best_of(over, far)
    assert best[0].has(Cause.OVERHEAD_CONE) and not best[0].has(Cause.CLASS_UNKNOWN)
    assert leg_received(best)


def test_over_a_beacon_another_that_is_received_bridges_the_cone():
    over = (a_stretch(0, 1, *CONE), a_stretch(1, 30, RECEIVED))
    assert spans(best_of(over, (a_stretch(0, 30, RECEIVED),))) == [(0, 30, RECEIVED)]


def test_no_survey_has_no_best_and_a_single_one_is_its_own():
    leg = (a_stretch(0, 37, RECEIVED), a_stretch(37, 80, *HIDDEN))
    assert best_of() == () and best_of((), ()) == ()
    assert best_of(leg) == leg


def test_a_leg_of_no_length_keeps_its_state():
    point = Stretch(from_nm=0.0, to_nm=0.0, state=RECEIVED)
    assert best_of((point,), (a_stretch(0.0, 0.0, *HIDDEN),)) == (point,)
