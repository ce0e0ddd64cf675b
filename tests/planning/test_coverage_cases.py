"""Where a beacon is received and what is heard at a place, asked of a region on a real database."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.errors import InputProblem, NotFound
from server.navigation import Position
from server.persistence import Library
from server.planning.coverage import beacon_coverage
from server.planning.probe import probe
from server.radio import ComponentKind, Outage, ReceptionState
from server.terrain import TerrainStore
from tests.web.web_builders import SmallRegion, build_small_region

HERE = Position(lat_deg=43.42, lon_deg=-36.5)
NOON = datetime(2026, 4, 11, 12, 0, tzinfo=UTC)


@pytest.fixture
def region(shelf: Library, tmp_path: Path) -> tuple[Library, TerrainStore, SmallRegion]:
    store = TerrainStore(tmp_path / "terrain")
    return shelf, store, build_small_region(shelf, store, tmp_path / "tile")


def asked(region, ident: str = "KEV", *, altitude_ft: float = 6500.0, above_ground: bool = False, slug: str = "brinna"):
    library, store, small = region
    return beacon_coverage(
        library, store, slug, small.beacons[ident], altitude_ft=altitude_ft, above_ground=above_ground, clock=lambda: NOON
    )


def test_a_vor_is_drawn_by_its_azimuth_and_an_ndb_by_its_bearing(region):
    assert asked(region).coverage.component is ComponentKind.AZIMUTH
    assert asked(region, "NB").coverage.component is ComponentKind.BEARING


def test_an_outage_on_the_day_leaves_nothing_received(region):
    library, _, small = region
    with library.begin() as work:
        beacon = work.beacons.get(small.beacons["KEV"])
        off = tuple(replace(part, outages=(Outage(first_day=NOON.date()),)) for part in beacon.components)
        work.beacons.update(replace(beacon, components=off))
    assert asked(region).coverage.holds(ReceptionState.NOT_RECEIVED).all()


@pytest.mark.parametrize(("altitude_ft", "above_ground"), [(60_001.0, False), (-1501.0, False), (-1.0, True), (float("nan"), False)])
def test_an_impossible_height_is_refused(region, altitude_ft, above_ground):
    with pytest.raises(InputProblem, match="is not a height to ask for") as refused:
        asked(region, altitude_ft=altitude_ft, above_ground=above_ground)
    assert (refused.value.code, refused.value.place) == ("altitude", "altitude_ft")


def test_a_beacon_without_parts_has_nothing_to_draw(region):
    library, _, small = region
    with library.begin() as work:
        work.beacons.update(replace(work.beacons.get(small.beacons["KEV"]), components=()))
    with pytest.raises(InputProblem, match="KEV has no part that sends anything"):
        asked(region)


def test_a_region_that_is_not_there_is_not_found(region):
    with pytest.raises(NotFound):
        asked(region, slug="elsewhere")


def test_best_heard_comes_first_with_every_part_of_each_beacon(region):
    library, store, _ = region
    heard = probe(library, store, "brinna", position=HERE, altitude_ft=6500.0, clock=lambda: NOON)
    assert heard.parts[0].state is ReceptionState.RECEIVED
    assert {(part.beacon.ident, part.component) for part in heard.parts} >= {
        ("KEV", ComponentKind.AZIMUTH),
        ("KEV", ComponentKind.DISTANCE),
        ("NB", ComponentKind.BEARING),
    }


def test_a_place_below_the_ground_is_refused(region):
    library, store, _ = region
    with pytest.raises(InputProblem, match="is below the ground there, which stands at") as refused:
        probe(library, store, "brinna", position=HERE, altitude_ft=-1000.0, clock=lambda: NOON)
    assert refused.value.code == "below-ground"


def test_where_the_ground_is_not_known_it_is_said(region):
    library, store, _ = region
    heard = probe(library, store, "brinna", position=Position(lat_deg=42.5, lon_deg=-36.5), altitude_ft=6500.0, clock=lambda: NOON)
    assert heard.ground_ft is None
    assert ReceptionState.RECEIVED not in {part.state for part in heard.parts if part.component is not ComponentKind.BEARING}
