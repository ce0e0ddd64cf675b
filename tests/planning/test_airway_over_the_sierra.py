"""The airway V230 from Friant (FRA) to Mina (MVA), planned from the published tables over real ground.

Sources: FAA NASR of 22 January 2026 (public domain); NASA SRTM 3 arc-second (public domain); minimum en-route altitude 14,300 ft: FAA CIFP.
The notes beside the terrain tell where the crest hides FRA: from about 37 NM on. Class L reaches 40 NM, VH 70 NM at this height above MVA
(FAA AIM TBL 1-1-1).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from server.navigation import Airfield, PointKind, Route, RoutePoint
from server.persistence import Library
from server.planning import PlannedRoute, plan_route
from server.planning.load import load_beacons
from server.planning.load_region import load_terrain
from server.planning.region_book import add_region
from server.radio import Cause
from server.sheets import log_as_text
from server.terrain import TerrainStore
from tests.planning.planning_builders import words

MEA_FT = 14_300.0


@pytest.fixture
def v230(open_data: Path, shelf: Library, tmp_path: Path) -> PlannedRoute:
    """The route over both stations, begun and ended at invented fields that stand beside them."""
    table, terrain = open_data / "navaids_us_nasr" / "NAV_BASE.csv", open_data / "sierra_nevada" / "terrain"
    if not (table.is_file() and terrain.is_dir()):
        pytest.skip("the open data has no NASR table or no terrain of the Sierra Nevada")
    store = TerrainStore(tmp_path / "terrain")
    region = add_region(shelf, slug="sierra", name="Sierra Nevada", level_rule="US")
    load_beacons(shelf, region_id=region.id, content=table.read_bytes(), source_name=table.name, dry_run=False)
    load_terrain(shelf, store, region_slug="sierra", paths=sorted(terrain.glob("*.hgt.zip")))
    with shelf.begin() as work:
        stations = [work.beacons.find_by_ident(region.id, ident)[0] for ident in ("FRA", "MVA")]
        fields = [
            work.airfields.add(Airfield(region_id=region.id, ident=f"X{station.ident}", name=station.name, position=station.position))
            for station in stations
        ]
        route = work.routes.add(
            Route(
                region_id=region.id,
                name="V230",
                departure_airfield_id=fields[0].id,
                destination_airfield_id=fields[1].id,
                points=tuple(RoutePoint(kind=PointKind.BEACON, place_id=station.id) for station in stations),
                altitude_ft=MEA_FT,
            )
        )
    return plan_route(shelf, store, route.id)


def test_friant_is_lost_behind_the_crest_and_the_changeover_is_not_half_way(v230: PlannedRoute):
    leg = v230.log.legs[1]
    friant, mina = leg.receptions[:2]
    assert (friant.beacon.ident, mina.beacon.ident) == ("FRA", "MVA")
    assert friant.lost_nm == pytest.approx(36.5, abs=1.0)
    assert leg.changeover_nm == pytest.approx(friant.lost_nm)
    assert leg.changeover_nm < leg.distance_nm / 2.0 - 15.0
    assert re.search(
        r"Change over at 36\.\d NM, not half way at 57\.\d NM: FRA is lost at 36\.\d NM\.", words(v230.log, "changeover-moved")
    )


def test_mina_is_in_sight_before_friant_is_lost_and_promised_from_70_nm(v230: PlannedRoute):
    leg = v230.log.legs[1]
    mina = leg.receptions[1]
    in_sight = next(stretch.from_nm for stretch in mina.stretches if not stretch.has(Cause.TERRAIN))
    assert in_sight < leg.receptions[0].lost_nm
    assert mina.first_heard_nm == pytest.approx(leg.distance_nm - 70.0, abs=0.05)


def test_the_text_of_the_log_says_where_friant_is_lost_and_mina_is_heard(v230: PlannedRoute):
    text = " ".join(log_as_text(v230.log).split())
    assert re.search(r"FRA lost at 36\.\d NM into the leg: hidden by ground of [67],\d{3} ft at 14\.\d NM from the station", text)
    assert re.search(r"MVA marginal from 44\.\d to 1\d\d\.\d NM: published as restricted", text)  # the FAA lists it as restricted
    assert re.search(r"Change over to MVA at 36\.\d NM into the leg", text)
    assert re.search(r"NO GUIDANCE from 36\.\d to 44\.\d NM", text)
