"""What the cross-checks of a flight offer is what asking each place by itself, the long way, would offer."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import Position, difference_deg, inverse
from server.planning import plan
from server.planning.cross_checks import CheckPlace, cross_checks_of_legs
from server.planning.crossing_lines import LineKind
from server.radio import Beacon, BeaconKind, ComponentKind, ReceptionState, ServiceClass, heard_at
from tests.planning.planning_builders import a_part, a_vor, materials_for, ridge

GROUND = ridge(1200.0, -36.6)
somewhere = st.builds(Position, lat_deg=st.floats(42.7, 44.3), lon_deg=st.floats(-37.4, -35.6))
service_class = st.sampled_from([ServiceClass.T, ServiceClass.L, ServiceClass.VL])


@st.composite
def stations(draw) -> tuple[Beacon, ...]:
    made = []
    for name in ("AAA", "BBB", "CCC", "DDD"):
        kinds = (ComponentKind.AZIMUTH, ComponentKind.DISTANCE)
        parts = tuple(a_part(kind, coverage=(), service_class=draw(service_class)) for kind in kinds)
        made.append(a_vor(name, draw(somewhere), kind=BeaconKind.VOR_DME, components=parts))
    return tuple(made)


def long_way(place: CheckPlace, beacons: tuple[Beacon, ...], materials) -> dict[LineKind, str]:
    """The best station of each sort at one place: by single questions, the plane triangle and the errors as they are published."""
    best: dict[LineKind, tuple[tuple[int, float], str]] = {}
    heard = heard_at(
        beacons=beacons,
        position=place.position,
        altitude_ft=place.altitude_ft,
        ground=materials.ground,
        on=materials.on,
        estimated_declination_deg=lambda _: 0.0,
        doubt=materials.doubt,
    )
    for one in heard:
        if one.state not in (ReceptionState.RECEIVED, ReceptionState.MARGINAL):
            continue
        to_station_deg = inverse(place.position, one.beacon.position).initial_true_deg
        angle = math.radians(difference_deg(to_station_deg, place.track_true_deg))
        circle = one.component is ComponentKind.DISTANCE
        sine = abs(math.cos(angle)) if circle else abs(math.sin(angle))
        if sine < math.sin(math.radians(30.0)):
            continue
        height_nm = (place.altitude_ft - 100.0) * 0.3048 / 1852.0
        slant_nm = math.hypot(one.distance_nm, height_nm)
        across_nm = (0.25 + 0.0125 * slant_nm) * slant_nm / one.distance_nm if circle else one.distance_nm * math.tan(math.radians(5.0))
        rank = (int(sine < math.sin(math.radians(45.0))) + int(one.state is ReceptionState.MARGINAL), across_nm / sine)
        kind = LineKind.DISTANCE if circle else LineKind.RADIAL
        if kind not in best or rank < best[kind][0]:
            best[kind] = (rank, one.beacon.ident)
    return {kind: ident for kind, (_, ident) in best.items()}


@settings(max_examples=25, deadline=None)
@given(stations())
def test_the_best_lines_are_those_found_one_place_at_a_time(beacons):
    materials = materials_for(beacons=beacons, ground=GROUND)
    log = plan(materials).log
    for check in cross_checks_of_legs(log.legs, log.profile, materials)[0]:
        assert {line.kind: line.beacon.ident for line in check.lines} == long_way(check.place, beacons, materials)
        assert [line.rank for line in check.lines] == sorted(line.rank for line in check.lines)
