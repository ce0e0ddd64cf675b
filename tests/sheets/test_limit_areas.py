"""The limits published for a beacon, drawn as GeoJSON, measured with pyproj's geodesics.

Sources: FAA Aeronautical Information Manual 1-1-8, TBL 1-1-1 and 1-1-2, heights above the transmitter; the radio horizon by the textbook
1.23 (root h1 + root h2)."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from pyproj import Geod
from shapely.geometry import Point, shape

from server.navigation import Alignment, AlignmentKind, ConicProjection, Position
from server.persistence import RegionRecord
from server.planning.coverage import BeaconCoverage
from server.radio import (
    Beacon,
    BeaconKind,
    ChosenHeight,
    ComponentKind,
    Coverage,
    CoverageSector,
    ReceptionState,
    ServiceClass,
    UnusableSector,
    coverage_of,
)
from server.sheets import limits_geojson, sector_geojson
from tests.builders import flat_ground, ridge_ground
from tests.planning.planning_builders import quick
from tests.radio.radio_builders import MAST, a_beacon, a_component

DAY = date(2026, 8, 1)
GEOD = Geod(ellps="WGS84")
NM = 1852.0
ANTENNA_FT = 1_000.0
"""A station at 900 ft with its antenna 100 ft above that."""
TURNED_14_W = Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-14.0)


def station(service_class: ServiceClass | None = ServiceClass.L, kind: ComponentKind = ComponentKind.AZIMUTH, **changes) -> Beacon:
    part = {name: changes.pop(name) for name in ("unusable", "coverage") if name in changes}
    component = a_component(kind, service_class=service_class, **{"coverage": (), **part})
    return a_beacon(component, **({"id": 1, "elevation_ft": 900.0, "antenna_height_ft": 100.0, "alignment": TURNED_14_W} | changes))


def an_ndb(service_class: ServiceClass) -> Beacon:
    return replace(station(service_class, ComponentKind.BEARING), kind=BeaconKind.NDB, frequency_khz=373)


def found(beacon: Beacon, *, feet: float, ground=None, estimated_deg: float = -10.0, above_ground: bool = False) -> BeaconCoverage:
    """A coverage of which only height and part matter: nothing of it is in sight."""
    nowhere = np.full((2, 2), np.nan)
    lattice = np.array([1.0, -1.0])
    coverage = Coverage(
        beacon=beacon,
        component=beacon.components[0].kind,
        height=ChosenHeight(feet=feet, above_ground=above_ground),
        range_nm=40.0,
        lat_deg=MAST.lat_deg + lattice,
        lon_deg=MAST.lon_deg - lattice,
        ground_ft=nowhere,
        state=np.zeros((2, 2), dtype=np.int8),
        surely_seen_ft=nowhere,
        received_from_ft=nowhere,
    )
    return as_found(coverage, ground if ground is not None else quick(flat_ground(0.0)), estimated_deg)


def as_found(coverage: Coverage, ground, estimated_deg: float = -10.0, *, fictional: bool = True) -> BeaconCoverage:
    return BeaconCoverage(
        region=RegionRecord(id=1, slug="skerry", name="Skerry", fictional=fictional),
        coverage=coverage,
        projection=ConicProjection(lat_1=42.0, lat_2=44.0, lat_0=43.0, lon_0=-36.0),
        ground=ground,
        on=DAY,
        estimated_declination_deg=estimated_deg,
    )


def features(what: str, beacon: Beacon, *others: Beacon, **changes) -> list[dict]:
    told = json.loads(limits_geojson(found(beacon, **changes), [beacon, *others]))
    assert told["type"] == "FeatureCollection"
    return [each for each in told["features"] if each["properties"]["what"] == what]


def only(listed: list[dict]) -> dict:
    (one,) = listed
    return one


def corners(feature: dict, ring: int = 0, centre: Position = MAST) -> tuple[np.ndarray, np.ndarray]:
    """True directions [deg] and distances [NM] of the corners of a ring from a station."""
    lon_deg, lat_deg = np.array(feature["geometry"]["coordinates"][ring]).T
    size = np.ones(lon_deg.shape)
    bearing_deg, _, away_m = GEOD.inv(centre.lon_deg * size, centre.lat_deg * size, lon_deg, lat_deg)
    return bearing_deg % 360.0, away_m / NM


def area_square_nm(feature: dict) -> float:
    outer, *holes = feature["geometry"]["coordinates"]
    areas = [abs(GEOD.polygon_area_perimeter(*np.array(ring).T)[0]) / NM**2 for ring in (outer, *holes)]
    return areas[0] - sum(areas[1:])


# AIM 1-1-8, TBL 1-1-1: class, height above the transmitter [ft], range [NM]; None where no range is published at that height. DL and DH
# below 12,900 ft are a drawing, beyond it from memory: only the corner is asked.
RANGES = [
    ("T", 1_000, 25), ("T", 12_000, 25), ("T", 12_001, None), ("T", 999, None),
    ("L", 1_000, 40), ("L", 18_000, 40), ("L", 18_001, None),
    ("H", 10_000, 40), ("H", 15_000, 100), ("H", 18_000, 130), ("H", 45_000, 130), ("H", 45_001, 100), ("H", 60_001, None),
    ("VL", 4_999, 40), ("VL", 5_000, 70), ("VL", 17_999, 70), ("VL", 18_000, None),
    ("VH", 4_999, 40), ("VH", 5_000, 70), ("VH", 14_500, 100), ("VH", 18_000, 130), ("VH", 45_001, 100),
    ("DL", 12_900, 130), ("DH", 12_900, 130),
]  # fmt: skip


@pytest.mark.parametrize(("letters", "height_ft", "range_nm"), RANGES)
def test_the_published_ring_agrees_with_aim_table_1_1_1_at_the_altitude(letters, height_ft, range_nm):
    """Heights count from the transmitter, altitudes from the sea."""
    kind = ComponentKind.DISTANCE if letters.startswith("D") else ComponentKind.AZIMUTH
    rings = features("published", station(ServiceClass(letters), kind), feet=height_ft + ANTENNA_FT)
    if range_nm is None:
        assert rings == []
        return
    ring = only(rings)
    bearing_deg, away_nm = corners(ring)
    assert away_nm == pytest.approx(np.full(away_nm.shape, range_nm), abs=0.01)
    assert len(np.unique(bearing_deg.round())) >= 120, "all round"
    assert ring["properties"]["words"] == f"published: class {letters}, {range_nm}.0 NM at this altitude"


@pytest.mark.parametrize(("letters", "radius_nm"), [("locator", 15), ("MH", 25), ("NDB H", 50), ("HH", 75)])
def test_the_ring_of_an_ndb_agrees_with_aim_table_1_1_2_at_every_altitude(letters, radius_nm):
    beacon = an_ndb(ServiceClass(letters))
    for feet in (500.0, 20_000.0):
        _, away_nm = corners(only(features("published", beacon, feet=feet)))
        assert away_nm == pytest.approx(np.full(away_nm.shape, radius_nm), abs=0.01)


def test_a_ring_is_as_large_as_its_circle():
    """40 NM: pi r squared on a sphere, less what 3 degree chords cut off."""
    ring = only(features("published", station(ServiceClass.L), feet=6_000.0))
    assert area_square_nm(ring) == pytest.approx(math.pi * 40.0**2, rel=0.001)


def test_without_a_class_nothing_is_published():
    assert features("published", station(None), feet=6_000.0) == []


def test_above_the_ground_no_one_height_over_the_transmitter_holds_so_no_ring_is_drawn():
    sector = UnusableSector(from_radial_deg=0.0, to_radial_deg=90.0)
    told = json.loads(limits_geojson(found(station(unusable=(sector,)), feet=3_000.0, above_ground=True), []))
    assert told["features"] == []


def test_where_the_height_of_the_transmitter_is_not_known_no_ring_is_drawn():
    nowhere = quick(flat_ground(0.0, south=10.0, north=11.0, west=10.0, east=11.0))
    assert features("published", station(elevation_ft=None), feet=6_000.0, ground=nowhere) == []


def test_designated_coverage_replaces_the_class_within_its_altitudes():
    sectors = (
        CoverageSector(from_radial_deg=0.0, to_radial_deg=360.0, range_nm=60.0, lowest_altitude_ft=5_000.0, highest_altitude_ft=9_000.0),
        CoverageSector(from_radial_deg=0.0, to_radial_deg=90.0, range_nm=30.0, highest_altitude_ft=4_999.0),
    )
    beacon = station(ServiceClass.L, coverage=sectors)
    for feet in (5_000.0, 9_000.0):
        ring = only(features("published", beacon, feet=feet))
        assert corners(ring)[1].max() == pytest.approx(60.0, abs=0.01)
        assert ring["properties"]["words"] == "published: all round, 60.0 NM"
    low = only(features("published", beacon, feet=3_000.0))
    assert corners(low)[1].max() == pytest.approx(30.0, abs=0.01)
    assert "R-360 to R-090" in low["properties"]["words"]
    assert features("published", beacon, feet=9_001.0) == []


ACROSS_NORTH = UnusableSector(from_radial_deg=340.0, to_radial_deg=20.0, beyond_nm=20.0, below_altitude_ft=5_000.0)


def inside(feature: dict, bearing_true_deg: float, away_nm: float) -> bool:
    lon_deg, lat_deg, _ = GEOD.fwd(MAST.lon_deg, MAST.lat_deg, bearing_true_deg, away_nm * NM)
    return shape(feature["geometry"]).contains(Point(lon_deg, lat_deg))


@pytest.mark.parametrize(
    ("alignment", "turned_deg"),
    [
        (TURNED_14_W, -14.0),
        (Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-5.0), -5.0),
        (Alignment(kind=AlignmentKind.TRUE), 0.0),
        (Alignment(kind=AlignmentKind.GRID, declination_deg=25.0), 25.0),
    ],
    ids=["magnetic west", "magnetic less west", "true", "grid"],
)
def test_an_unusable_arc_across_north_lies_where_the_station_reads_it(alignment, turned_deg):
    beacon = station(ServiceClass.L, unusable=(ACROSS_NORTH,), alignment=alignment)
    feature = only(features("unusable", beacon, feet=4_000.0))
    bearing_deg, away_nm = corners(feature)
    reads = (bearing_deg - turned_deg + 180.0) % 360.0 - 180.0
    assert (reads.min(), reads.max()) == (pytest.approx(-20.0, abs=0.01), pytest.approx(20.0, abs=0.01))
    assert (away_nm.min(), away_nm.max()) == (pytest.approx(20.0, abs=0.01), pytest.approx(40.0, abs=0.01))
    assert shape(feature["geometry"]).is_valid
    assert area_square_nm(feature) == pytest.approx(math.pi * (40.0**2 - 20.0**2) * 40.0 / 360.0, rel=0.005)
    for radial, away, within in [(350, 30, True), (10, 30, True), (339, 30, False), (21, 30, False), (0, 19.5, False), (0, 40.5, False)]:
        assert inside(feature, radial + turned_deg, away) is within


def test_a_sector_of_a_station_whose_grid_angle_is_not_known_is_not_drawn():
    beacon = station(ServiceClass.L, unusable=(ACROSS_NORTH,), alignment=Alignment(kind=AlignmentKind.GRID))
    assert features("unusable", beacon, feet=4_000.0) == []
    assert len(features("published", beacon, feet=4_000.0)) == 1, "a full circle needs no radials"


def test_on_an_estimated_alignment_a_forbidden_arc_is_drawn_wider_and_a_promised_one_narrower():
    """The magnetic model stands in for the station's north; the reception check takes the same 5 degrees to the safe side."""
    promised = CoverageSector(from_radial_deg=340.0, to_radial_deg=20.0, range_nm=40.0)
    beacon = station(ServiceClass.L, unusable=(ACROSS_NORTH,), coverage=(promised,), alignment=Alignment(kind=AlignmentKind.UNKNOWN))
    for what, half_deg in (("unusable", 25.0), ("published", 15.0)):
        bearing_deg, away_nm = corners(only(features(what, beacon, feet=4_000.0)))
        reads = (bearing_deg[away_nm > 1.0] + 10.0 + 180.0) % 360.0 - 180.0
        assert (reads.min(), reads.max()) == (pytest.approx(-half_deg, abs=0.01), pytest.approx(half_deg, abs=0.01))


def test_words_of_a_sector_on_an_estimated_alignment_say_so():
    unknown = station(ServiceClass.L, unusable=(ACROSS_NORTH,), alignment=Alignment(kind=AlignmentKind.UNKNOWN))
    known = station(ServiceClass.L, unusable=(ACROSS_NORTH,))
    told, sure = (only(features("unusable", each, feet=4_000.0))["properties"]["words"] for each in (unknown, known))
    assert told == f"{sure}, radials est., 5° to the safe side"
    assert sure == "unusable R-340 to R-020 beyond 20.0 NM below 5,000 ft"


def test_a_sector_below_an_altitude_is_drawn_below_it_and_not_at_it():
    """Below is lower than."""
    beacon = station(ServiceClass.L, unusable=(ACROSS_NORTH,))
    assert len(features("unusable", beacon, feet=4_999.0)) == 1
    assert features("unusable", beacon, feet=5_000.0) == []


def test_a_sector_without_an_altitude_is_drawn_at_every_altitude():
    beacon = station(ServiceClass.L, unusable=(replace(ACROSS_NORTH, below_altitude_ft=None),))
    assert all(len(features("unusable", beacon, feet=feet)) == 1 for feet in (1_500.0, 17_000.0))


def test_a_sector_within_a_distance_reaches_to_the_station():
    sector = UnusableSector(from_radial_deg=80.0, to_radial_deg=170.0, within_nm=12.0)
    feature = only(features("unusable", station(ServiceClass.L, unusable=(sector,)), feet=4_000.0))
    assert corners(feature)[1].max() == pytest.approx(12.0, abs=0.01)
    assert area_square_nm(feature) == pytest.approx(math.pi * 12.0**2 / 4.0, rel=0.005)
    assert feature["properties"]["words"] == "unusable R-080 to R-170 within 12.0 NM"


@pytest.mark.parametrize(("from_deg", "to_deg"), [(0.0, 360.0), (50.0, 50.0)])
def test_equal_ends_are_all_round_with_a_hole_where_it_begins_beyond(from_deg, to_deg):
    sector = UnusableSector(from_radial_deg=from_deg, to_radial_deg=to_deg, beyond_nm=25.0)
    feature = only(features("unusable", station(ServiceClass.L, unusable=(sector,)), feet=4_000.0))
    assert feature["properties"]["words"] == "unusable all round beyond 25.0 NM"
    assert corners(feature, 0)[1] == pytest.approx(np.full(121, 40.0), abs=0.01)
    assert corners(feature, 1)[1] == pytest.approx(np.full(121, 25.0), abs=0.01)
    assert not inside(feature, 200.0, 24.0) and inside(feature, 200.0, 30.0)


def test_a_sector_beyond_the_published_range_leaves_nothing_to_draw():
    sector = UnusableSector(from_radial_deg=0.0, to_radial_deg=90.0, beyond_nm=45.0)
    assert features("unusable", station(ServiceClass.L, unusable=(sector,)), feet=4_000.0) == []


def test_a_single_sector_is_drawn_whatever_its_altitude():
    told = json.loads(sector_geojson(station(ServiceClass.L), ComponentKind.AZIMUTH, ACROSS_NORTH, on=DAY))
    feature = only(told["features"])
    bearing_deg, away_nm = corners(feature)
    reads = (bearing_deg + 14.0 + 180.0) % 360.0 - 180.0
    assert (reads.min(), reads.max()) == (pytest.approx(-20.0, abs=0.01), pytest.approx(20.0, abs=0.01))
    assert away_nm.max() == pytest.approx(40.0, abs=0.01)


def test_a_sector_of_a_part_that_is_not_there_is_not_drawn():
    assert json.loads(sector_geojson(station(), ComponentKind.BEARING, ACROSS_NORTH, on=DAY))["features"] == []


def rival(**changes) -> Beacon:
    values = {"id": 2, "ident": "RVL", "position": Position(lat_deg=43.0, lon_deg=-34.5), "elevation_ft": 400.0, "antenna_height_ft": 100.0}
    return station(ServiceClass.L, **(values | changes))


@pytest.mark.parametrize("feet", [3_000.0, 5_500.0, 9_500.0])
def test_the_ring_of_a_station_on_the_channel_is_the_horizon_of_both_heights(feet):
    """1.23 (root h1 + root h2) with the antenna at 500 ft, 0.2 NM for its rounding."""
    other = rival()
    ring = only(features("same channel", station(), other, feet=feet))
    _, away_nm = corners(ring, centre=other.position)
    horizon_nm = 1.23 * (math.sqrt(feet) + math.sqrt(500.0))
    assert away_nm == pytest.approx(np.full(away_nm.shape, horizon_nm), abs=0.2)
    assert ring["properties"]["words"].startswith("RVL is on the same channel; over a smooth earth it reaches ")


def test_a_station_on_another_channel_has_no_ring_and_neither_has_the_station_itself():
    own = station()
    assert features("same channel", own, rival(frequency_khz=113_050), feet=5_500.0) == []
    assert features("same channel", own, feet=5_500.0) == []


def test_an_ndb_shares_no_channel_here():
    ndb = an_ndb(ServiceClass.HH)
    assert features("same channel", ndb, replace(ndb, id=2, ident="NDX"), feet=5_500.0) == []


def test_a_rival_whose_height_is_not_known_is_taken_as_the_sea_and_the_words_say_so():
    nowhere = quick(flat_ground(0.0, south=10.0, north=11.0, west=10.0, east=11.0))
    ring = only(features("same channel", station(), rival(elevation_ft=None), feet=5_500.0, ground=nowhere))
    assert corners(ring, centre=rival().position)[1].max() == pytest.approx(1.23 * math.sqrt(5_500.0), abs=0.2)
    assert "its height not known and taken as the sea" in ring["properties"]["words"]


def test_the_area_in_sight_ends_at_the_ridge_that_hides_the_antenna():
    """A ridge of 1,500 m along 35.6 W: at 4,000 ft the antenna is in sight before it and hidden right behind it."""
    beacon = station(ServiceClass.L, elevation_ft=0.0)
    ground = quick(ridge_ground(0.0, 1_500.0, ridge_lon_deg=-35.6, half_width_deg=0.02))
    coverage = coverage_of(
        beacon=beacon,
        component=ComponentKind.AZIMUTH,
        height=ChosenHeight(feet=4_000.0, above_ground=False),
        ground=ground,
        on=DAY,
        estimated_declination_deg=None,
        cells=60,
    )
    told = json.loads(limits_geojson(as_found(coverage, ground), [beacon]))["features"]
    seen = only([each for each in told if each["properties"]["what"] == ReceptionState.RECEIVED.value])
    area = shape(seen["geometry"])
    assert area.contains(Point(-36.3, 43.0)) and area.contains(Point(-35.75, 43.0))
    assert not area.contains(Point(-35.45, 43.0)) and not area.contains(Point(-35.2, 43.0))


@pytest.mark.parametrize("fictional", [True, False])
def test_the_file_says_when_the_region_is_fictional_and_carries_the_caution(fictional):
    about = as_found(found(station(), feet=6_000.0).coverage, quick(flat_ground(0.0)), fictional=fictional)
    notice = json.loads(limits_geojson(about, []))["notice"]
    assert ("FICTIONAL" in notice) is fictional
    assert "The pilot in command and the local rules decide" in notice
