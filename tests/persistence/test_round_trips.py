"""Whatever goes in comes out equal, from SQLite and from PostgreSQL."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.errors import InputProblem
from server.navigation.position import Position
from server.persistence import Library, LoadRecord, RegionRecord
from tests.persistence import things

# One database serves all examples of a test: each example adds its own rows.
many_times = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _stored(library: Library, repository: str, value, changed):
    """Add a value, then put another in its place; return both as another transaction reads them."""
    with library.begin() as work:
        number = getattr(work, repository).add(value).id
    with library.read() as work:
        first = getattr(work, repository).get(number)
    with library.begin() as work:
        getattr(work, repository).update(replace(changed, id=number))
    with library.read() as work:
        second = getattr(work, repository).get(number)
    return replace(first, id=None), replace(second, id=None)


@many_times
@given(data=st.data())
def test_a_beacon_comes_back_as_it_was_added_and_as_it_was_changed(library: Library, region: RegionRecord, data):
    value, changed = data.draw(things.beacons(region.id)), data.draw(things.beacons(region.id))
    assert _stored(library, "beacons", value, changed) == (value, changed)


@many_times
@given(data=st.data())
def test_an_airfield_comes_back_as_it_was_added_and_as_it_was_changed(library: Library, region: RegionRecord, data):
    value, changed = data.draw(things.airfields(region.id)), data.draw(things.airfields(region.id))
    assert _stored(library, "airfields", value, changed) == (value, changed)


@many_times
@given(data=st.data())
def test_a_checkpoint_comes_back_as_it_was_added_and_as_it_was_changed(library: Library, region: RegionRecord, data):
    value, changed = data.draw(things.checkpoints(region.id)), data.draw(things.checkpoints(region.id))
    assert _stored(library, "checkpoints", value, changed) == (value, changed)


@many_times
@given(value=things.aircraft, changed=things.aircraft)
def test_an_aircraft_comes_back_as_it_was_added_and_as_it_was_changed(library: Library, value, changed):
    assert _stored(library, "aircraft", value, changed) == (value, changed)


@many_times
@given(data=st.data())
def test_a_route_comes_back_as_it_was_added_and_as_it_was_changed(library: Library, region: RegionRecord, data):
    with library.begin() as work:
        places = {
            "airfield_id": work.airfields.add(things.an_airfield(region.id)).id,
            "beacon_id": work.beacons.add(things.a_beacon(region.id)).id,
            "checkpoint_id": work.checkpoints.add(things.a_checkpoint(region.id)).id,
            "aircraft_id": work.aircraft.add(things.an_aircraft()).id,
        }
    value, changed = data.draw(things.routes(region.id, **places)), data.draw(things.routes(region.id, **places))
    assert _stored(library, "routes", value, changed) == (value, replace(changed, version=2))


def test_a_region_comes_back_with_every_field(library: Library):
    full = RegionRecord(
        slug="west",
        name='The "West"\nand its isles',
        fictional=True,
        notice="Invented.",
        ground_fingerprint="ab12",
        south_deg=-17.5,
        north_deg=-12.25,
        west_deg=176.0,
        east_deg=-179.1,
        standard_parallel_1_deg=-13.0,
        standard_parallel_2_deg=-16.5,
        central_meridian_deg=178.45,
        central_parallel_deg=-15.0,
        sea_geojson='{"type": "Polygon", "coordinates": []}',
        level_rule="US",
        source="made up",
    )
    with library.begin() as work:
        added = work.regions.add(full)
        bare = work.regions.add(RegionRecord(slug="bare", name="Bare", fictional=False))
    with library.read() as work:
        assert work.regions.get(added.id) == added == replace(full, id=added.id)
        assert work.regions.by_slug("west") == added
        assert work.regions.list() == (bare, added)
    with library.begin() as work:
        work.regions.update(replace(bare, level_rule="US"))
    with library.read() as work:
        assert work.regions.by_slug("bare").level_rule == "US"


def test_a_load_comes_back_in_utc_and_the_latest_stands_first(library: Library, region: RegionRecord):
    noon = datetime(2026, 11, 25, 12, 0, 0, 123456, tzinfo=UTC)
    load = LoadRecord(
        region_id=region.id,
        what="beacons",
        source_name="table.csv",
        content_sha256="00" * 32,
        loaded_at_utc=noon,
        taken=10,
        refused=2,
        added=7,
        changed=3,
        gone=1,
    )
    later = replace(load, loaded_at_utc=(noon + timedelta(hours=1)).astimezone(timezone(timedelta(hours=14))))
    with library.begin() as work:
        work.loads.add(load)
        work.loads.add(later)
    with library.read() as work:
        found = work.loads.list(region.id)
    assert [replace(each, id=None) for each in found] == [later, load]
    assert all(each.loaded_at_utc.tzinfo is UTC for each in found)


# NEEDS B22: idents that spreadsheets and YAML turn into numbers, truth values and dates.
@pytest.mark.parametrize("ident", ["NAN", "ON", "NO", "OFF", "N", "1E5", "TRUE", "NULL", "MAR", "007", "", "А", "O'N\"\n,;"])
def test_an_ident_stays_the_text_it_is(library: Library, region: RegionRecord, ident: str):
    with library.begin() as work:
        work.beacons.add(things.a_beacon(region.id, ident))
        work.airfields.add(things.an_airfield(region.id, ident))
    with library.read() as work:
        assert [beacon.ident for beacon in work.beacons.find_by_ident(region.id, ident)] == [ident]
        assert [airfield.ident for airfield in work.airfields.find_by_ident(region.id, ident)] == [ident]


# IEEE 754 doubles: neighbours of round numbers, the smallest steps, and the edges of the globe.
@pytest.mark.parametrize(
    ("lat_deg", "lon_deg"),
    [(0.1 + 0.2, -36.00000000000001), (-89.99999999999999, 179.9999999999999), (5e-324, -180.0), (90.0, 1 / 3), (47.123456789012345, 0.0)],
)
def test_a_position_is_kept_to_the_last_bit(library: Library, region: RegionRecord, lat_deg: float, lon_deg: float):
    with library.begin() as work:
        number = work.beacons.add(things.a_beacon(region.id, position=Position(lat_deg=lat_deg, lon_deg=lon_deg))).id
    with library.read() as work:
        kept = work.beacons.get(number).position
    assert (kept.lat_deg.hex(), kept.lon_deg.hex()) == (lat_deg.hex(), lon_deg.hex())


def test_parts_keep_their_order(library: Library, region: RegionRecord):
    names = ("c", "a", "d", "b")
    with library.begin() as work:
        number = work.checkpoints.add(things.a_checkpoint(region.id)).id
        field = work.airfields.add(things.an_airfield(region.id)).id
        points = tuple(things.RoutePoint(kind=things.PointKind.CHECKPOINT, place_id=number, name=name) for name in names)
        route = work.routes.add(things.a_route(region.id, field, field, points=points))
        work.routes.update(replace(route, points=points[::-1]))
    with library.read() as work:
        assert tuple(point.name for point in work.routes.get(route.id).points) == names[::-1]


@pytest.mark.parametrize("elevation_ft", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_none_is_refused_and_not_kept_as_unknown(library: Library, region: RegionRecord, elevation_ft: float):
    with (
        library.begin() as work,
        pytest.raises(InputProblem, match=r"elevation_ft is .*, which is not an ordinary number. Leave it empty if it is not known"),
    ):
        work.beacons.add(things.a_beacon(region.id, elevation_ft=elevation_ft))


def test_everything_that_cannot_be_kept_is_told_at_once(library: Library, region: RegionRecord):
    part = things.Component(kind=things.ComponentKind.DISTANCE, power_w=float("nan"), source="\ud800")
    with library.begin() as work, pytest.raises(InputProblem) as refusal:
        work.beacons.add(things.a_beacon(region.id, name="Zero\x00", frequency_khz=2**31, components=(part,)))
    assert [problem.place for problem in refusal.value.problems] == [
        "name",
        "frequency_khz",
        "components 1: power_w",
        "components 1: source",
    ]


def test_a_departure_time_without_a_zone_is_refused(library: Library, region: RegionRecord):
    with (
        library.begin() as work,
        pytest.raises(InputProblem, match=r"departure_utc is 2026-05-17 13:00 without a time zone. Give it in UTC"),
    ):
        work.routes.add(things.a_route(region.id, 1, 1, departure_utc=datetime(2026, 5, 17, 13, 0)))
