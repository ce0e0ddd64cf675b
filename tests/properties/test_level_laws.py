"""Laws of a flight whose legs each have their own level: by tables or simple figures, in any wind, its parts join without gap or jump."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.navigation import LegChoice, NorthReference, Position, RoutePoint, WindLayer, position_along
from server.planning import plan
from server.planning.log import NavigationLog, PartKind
from server.planning.profile import CIRCUIT_HEIGHT_FT, altitude_at
from tests.planning.planning_builders import a_tourer, at, materials_for
from tests.planning.test_flown_by_tables import STANDARD, TABLES

START, END = Position(lat_deg=43.0, lon_deg=-37.0), Position(lat_deg=43.6, lon_deg=-35.2)
LENGTH_NM = 80.0  # a little less than the whole way
levels_ft = st.lists(st.floats(1500.0, 12_000.0), min_size=2, max_size=5)
elevations_ft = st.floats(0.0, 1400.0)
winds = st.lists(
    st.builds(
        WindLayer,
        altitude_ft=st.sampled_from([0.0, 3000.0, 9000.0]),
        from_deg=st.floats(0.0, 360.0),
        speed_kt=st.floats(0.0, 40.0),
        reference=st.just(NorthReference.TRUE),
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda layer: layer.altitude_ft,
)


def a_point(share: float, level_ft: float) -> RoutePoint:
    point = at(position_along(START, END, share * LENGTH_NM))
    return RoutePoint(kind=point.kind, position=point.position, name=point.name, onward=LegChoice(altitude_ft=level_ft))


def flown(levels: list[float], tables: bool, from_ft: float, to_ft: float, layers: list[WindLayer]) -> NavigationLog:
    points = [a_point((k + 1) / len(levels), level_ft) for k, level_ft in enumerate(levels[1:])]
    return plan(
        materials_for(
            *points,
            start=START,
            end=END,
            altitude_ft=levels[0],
            aircraft=a_tourer(**(TABLES if tables else {})),
            winds=tuple(layers),
            departure={"elevation_ft": from_ft},
            arrival={"elevation_ft": to_ft},
            **STANDARD,
        ),
        checks=False,
    ).log


@settings(max_examples=40, deadline=None)
@given(levels=levels_ft, tables=st.booleans(), from_ft=elevations_ft, to_ft=elevations_ft, layers=winds)
def test_the_parts_of_all_legs_join_and_lie_on_the_profile(levels, tables, from_ft, to_ft, layers):
    log = flown(levels, tables, from_ft, to_ft, layers)
    ends = [(leg.start_nm + part.from_nm, leg.start_nm + part.to_nm, part.from_ft, part.to_ft) for leg in log.legs for part in leg.parts]
    assert ends[0][0] == pytest.approx(0.0, abs=1e-6) and ends[-1][1] == pytest.approx(log.total_distance_nm, abs=1e-6)
    for (_, to_nm, _, end_ft), (from_nm, _, start_ft, _) in pairwise(ends):
        assert from_nm == pytest.approx(to_nm, abs=1e-6) and start_ft == pytest.approx(end_ft, abs=0.05)
    lowest_ft, highest_ft = min(from_ft, to_ft + CIRCUIT_HEIGHT_FT, *levels), max(from_ft, *levels)
    for from_nm, to_nm, start_ft, end_ft in ends:
        assert altitude_at(log.profile, to_nm) == pytest.approx(end_ft, abs=0.5) or to_nm - from_nm < 1e-6
        assert lowest_ft - 1.0 <= min(start_ft, end_ft) and max(start_ft, end_ft) <= highest_ft + 1.0


@settings(max_examples=40, deadline=None)
@given(levels=levels_ft, tables=st.booleans(), from_ft=elevations_ft, to_ft=elevations_ft, layers=winds)
def test_level_parts_are_flown_at_the_level_of_their_leg_and_times_add_up(levels, tables, from_ft, to_ft, layers):
    log = flown(levels, tables, from_ft, to_ft, layers)
    for leg, level_ft in zip(log.legs, levels, strict=True):
        assert leg.altitude_ft == level_ft
        assert all(part.from_ft == part.to_ft == pytest.approx(level_ft) for part in leg.parts if part.kind is PartKind.LEVEL)
        assert leg.time_min == pytest.approx(sum(part.time_min for part in leg.parts)) and leg.time_min > 0.0
        assert leg.fuel_l == pytest.approx(sum(part.fuel_l for part in leg.parts)) and leg.fuel_l > 0.0
    assert log.fuel.climb_l + log.fuel.level_l + log.fuel.descent_l == pytest.approx(log.fuel.trip_l)
