"""Laws of reception that hold for any leg, ridge and altitude."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import destination
from server.radio import (
    Cause,
    ComponentKind,
    ReceptionState,
    ServiceClass,
    Stretch,
    UnusableSector,
    best_of,
    in_arc,
    severity,
    state_apart_from_cone,
    unusable_at,
    volume_range_nm,
)
from tests.builders import flat_ground, ridge_ground
from tests.radio.radio_builders import MAST, a_beacon, a_component, a_path, a_stretch, a_survey

GROUNDS = [
    flat_ground(0.0),
    ridge_ground(0.0, 1200.0, ridge_lat_deg=43.3),
    ridge_ground(200.0, 2400.0, ridge_lon_deg=-35.7),
    ridge_ground(0.0, 900.0, ridge_lat_deg=43.5, north=43.8),
]
bearings = st.floats(0.0, 360.0)
altitudes = st.floats(200.0, 14000.0)
classes = st.sampled_from([None, ServiceClass.T, ServiceClass.L, ServiceClass.VH])


def state_at(stretches: tuple[Stretch, ...], along_nm: float) -> ReceptionState:
    return next(stretch.state for stretch in stretches if along_nm <= stretch.to_nm)


def is_tiled(stretches: tuple[Stretch, ...], length_nm: float) -> bool:
    edges = [(a.to_nm, b.from_nm) for a, b in pairwise(stretches)]
    return stretches[0].from_nm == 0.0 and stretches[-1].to_nm == length_nm and all(a == b for a, b in edges)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(GROUNDS), bearings, st.floats(0.0, 30.0), bearings, st.floats(1.0, 60.0), altitudes, altitudes, classes)
def test_stretches_tile_the_leg_and_each_differs_from_the_next(ground, side, aside_nm, heading, length_nm, low_ft, high_ft, letters):
    start = destination(MAST, bearing_true_deg=side, distance_nm=aside_nm)
    path = a_path(start, destination(start, bearing_true_deg=heading, distance_nm=length_nm), low_ft, high_ft)
    beacon = a_beacon(a_component(coverage=(), service_class=letters))
    survey = a_survey(path, ground, beacon)
    assert is_tiled(survey.stretches, path.distance_nm)
    assert all(stretch.length_nm > 0.0 for stretch in survey.stretches)
    for stretch, following in pairwise(survey.stretches):
        assert {(f.cause, f.state) for f in stretch.findings} != {(f.cause, f.state) for f in following.findings}
    for stretch in survey.stretches:
        assert stretch.state is max((f.state for f in stretch.findings), key=severity, default=ReceptionState.RECEIVED)
    assert len(survey.states) == survey.sample_nm.size == survey.lowest_altitude_ft.size


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(GROUNDS), bearings, st.floats(0.0, 30.0), bearings, st.floats(5.0, 60.0), altitudes, st.floats(0.0, 5000.0))
def test_reception_never_improves_by_flying_lower(ground, side, aside_nm, heading, length_nm, altitude_ft, drop_ft):
    start = destination(MAST, bearing_true_deg=side, distance_nm=aside_nm)
    end = destination(start, bearing_true_deg=heading, distance_nm=length_nm)
    beacon = a_beacon(a_component(ComponentKind.DISTANCE))  # coverage everywhere, no cone: terrain alone decides
    high, low = (
        a_survey(a_path(start, end, feet), ground, beacon, ComponentKind.DISTANCE) for feet in (altitude_ft, altitude_ft - drop_ft)
    )
    for k in range(1, 50):
        along_nm = length_nm * k / 50.0
        near_an_edge = any(abs(along_nm - stretch.to_nm) < 0.05 for survey in (high, low) for stretch in survey.stretches)
        assert near_an_edge or severity(state_at(low.stretches, along_nm)) >= severity(state_at(high.stretches, along_nm))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(GROUNDS[:3]), bearings, st.floats(5.0, 60.0), st.floats(1000.0, 9000.0))
def test_the_two_directions_of_a_leg_see_the_same(ground, heading, length_nm, altitude_ft):
    end = destination(MAST, bearing_true_deg=heading, distance_nm=length_nm)
    out, back = a_survey(a_path(MAST, end, altitude_ft), ground), a_survey(a_path(end, MAST, altitude_ft), ground)
    assert [s.state for s in out.stretches] == [s.state for s in reversed(back.stretches)]
    for forth, home in zip(out.stretches, reversed(back.stretches), strict=True):
        assert abs(forth.to_nm - (length_nm - home.from_nm)) < 0.01


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(GROUNDS[:3]), bearings, st.floats(10.0, 60.0), st.floats(1000.0, 9000.0))
def test_a_beacon_beside_the_end_sees_what_one_on_the_end_sees(ground, heading, length_nm, altitude_ft):
    # two methods: one ray for the whole leg, and a ray to every point. The leg begins 0.06 NM off the mast, just too far for one ray.
    end = destination(MAST, bearing_true_deg=heading, distance_nm=length_nm)
    start = destination(MAST, bearing_true_deg=heading, distance_nm=0.06)
    beacon = a_beacon(a_component(ComponentKind.DISTANCE))
    one_ray = a_survey(a_path(MAST, end, altitude_ft), ground, beacon, ComponentKind.DISTANCE)
    many_rays = a_survey(a_path(start, end, altitude_ft), ground, beacon, ComponentKind.DISTANCE)
    for k in range(1, 40):
        along_nm = 0.3 + (length_nm - 0.3) * k / 40.0
        near_an_edge = any(abs(along_nm - stretch.to_nm) < 0.25 for stretch in one_ray.stretches)
        assert near_an_edge or state_at(one_ray.stretches, along_nm) is state_at(many_rays.stretches, along_nm - 0.06)


_pieces = st.lists(
    st.tuples(
        st.integers(1, 99),
        st.sampled_from(list(ReceptionState)),
        st.sampled_from([Cause.TERRAIN, Cause.CLASS_UNKNOWN, Cause.OVERHEAD_CONE]),
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda piece: piece[0],
)


@st.composite
def surveys(draw) -> tuple[Stretch, ...]:
    """Any tiling of a leg of 100 NM; a cone is always not received."""
    pieces = sorted(draw(_pieces))
    edges = [0, *(edge for edge, _, _ in pieces[1:]), 100]
    return tuple(
        a_stretch(float(a), float(b), ReceptionState.NOT_RECEIVED if cause is Cause.OVERHEAD_CONE else state, cause)
        for a, b, (_, state, cause) in zip(edges, edges[1:], pieces, strict=False)
    )


def _stretch_at(stretches, along_nm):
    return next(stretch for stretch in stretches if along_nm < stretch.to_nm)


@given(surveys(), surveys())
def test_the_best_of_two_is_no_worse_than_either_and_their_order_does_not_change_the_state(first, second):
    best, turned = best_of(first, second), best_of(second, first)
    assert is_tiled(best, 100.0)
    for along_nm in (k + 0.5 for k in range(100)):
        here = _stretch_at(best, along_nm)
        for survey in (first, second):
            own = _stretch_at(survey, along_nm)
            assert severity(state_apart_from_cone(here)) <= severity(state_apart_from_cone(own))
            if not here.has(Cause.OVERHEAD_CONE):
                assert severity(here.state) <= severity(own.state)
        assert here.state is _stretch_at(turned, along_nm).state


@given(surveys())
def test_the_best_of_a_survey_with_itself_has_its_states(survey):
    best = best_of(survey, survey)
    assert all(_stretch_at(best, k + 0.5).state is _stretch_at(survey, k + 0.5).state for k in range(100))


@given(st.integers(0, 359), st.integers(1, 359), st.integers(0, 359), st.integers(-720, 720))
def test_membership_of_a_sector_does_not_change_when_everything_is_turned(from_deg, span_deg, radial_deg, turn_deg):
    plain = in_arc(radial_deg, from_radial_deg=from_deg, to_radial_deg=(from_deg + span_deg) % 360)
    turned = in_arc(
        (radial_deg + turn_deg) % 360,
        from_radial_deg=(from_deg + turn_deg) % 360,
        to_radial_deg=(from_deg + span_deg + turn_deg) % 360,
    )
    assert bool(plain) == bool(turned) == ((radial_deg - from_deg) % 360 <= span_deg)


@given(st.floats(0.0, 360.0), st.floats(0.1, 60.0), st.floats(0.0, 20000.0))
def test_a_sector_and_the_rest_of_the_circle_leave_nothing_out(radial_deg, distance_nm, altitude_ft):
    where = {"radial_deg": radial_deg, "distance_nm": distance_nm, "altitude_ft": altitude_ft}
    arc, rest = UnusableSector(from_radial_deg=340.0, to_radial_deg=75.0), UnusableSector(from_radial_deg=75.0, to_radial_deg=340.0)
    assert unusable_at(arc, **where) or unusable_at(rest, **where)


@given(st.sampled_from([ServiceClass.DL, ServiceClass.DH]), st.floats(0.0, 12900.0), st.floats(0.0, 12900.0))
def test_the_dme_curve_rises_with_height(service_class, a_ft, b_ft):
    low_ft, high_ft = sorted((a_ft, b_ft))
    assert volume_range_nm(service_class, low_ft) <= volume_range_nm(service_class, high_ft)
