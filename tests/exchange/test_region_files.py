"""region.toml, aircraft.toml and the sea: good ones are read, hostile ones are refused in words."""

from __future__ import annotations

import json

import pytest

from server.errors import InputProblem
from server.exchange import read_aircraft, read_region, read_sea
from server.navigation import CompassCardEntry, CruiseRow, DescentRow, FuelUnit, SpeedKind, SpeedUnit

REGION = b"""
slug = "skerry-sound"
name = "Skerry Sound"
fictional = true
notice = "Invented. Not for navigation."
south_deg = 42.0
north_deg = 45
west_deg = -38.0
east_deg = -34.0
standard_parallel_1_deg = 42.5
standard_parallel_2_deg = 44.5
central_meridian_deg = -36.0
central_parallel_deg = 43.5
source = "Drawn by a script."
"""
AIRCRAFT = b"""
[[aircraft]]
registration = "X-ABCD"
type_name = "Two-seat trainer"
cruise_speed_kt = 95
cruise_speed_kind = "TAS"
cruise_fuel_l_per_h = 24.0
climb_speed_kt = 65
climb_rate_ft_per_min = 600
climb_fuel_l_per_h = 30
taxi_fuel_l = 4
usable_fuel_l = 90.5
fuel_unit = "US gal"
compass_card = [[0, 2], [90, 89], [180, 178], [270, 271]]
"""
SQUARE = [[-38, 42], [-34, 42], [-34, 45], [-38, 45], [-38, 42]]
HOLE = [[-37, 43], [-37, 44], [-36, 44], [-36, 43], [-37, 43]]


def sea(document) -> object:
    return read_sea(json.dumps(document).encode(), name="sea.geojson")


def polygon(*rings) -> dict:
    return {"type": "Polygon", "coordinates": list(rings)}


def test_a_region_is_read_with_its_box_and_projection():
    region = read_region(REGION, name="region.toml")
    assert (region.slug, region.fictional, region.level_rule) == ("skerry-sound", True, "ICAO")
    assert (region.south_deg, region.north_deg, region.west_deg, region.east_deg) == (42.0, 45.0, -38.0, -34.0)
    assert (region.standard_parallel_1_deg, region.standard_parallel_2_deg) == (42.5, 44.5)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (b'slug = "skerry-sound"', b'slug = "Skerry Sound"', "line 2: slug may hold a to z"),
        (b"fictional = true", b'fictional = "yes"', "line 4: fictional is needed, true or false"),
        (b'notice = "Invented. Not for navigation."', b"", "notice is needed, because the region is fictional"),
        (b"south_deg = 42.0", b"south_deg = 46.0", "line 6: south_deg must be less than north_deg"),
        (b"north_deg = 45", b"north_deg = nan", "line 7: north_deg is nan; it must be a number from -90 to 90"),
        (b"north_deg = 45", b"north_deg = true", "line 7: north_deg is True"),
        (b"west_deg = -38.0", b"west_deg = -400", "line 8: west_deg is -400"),
        (b"east_deg = -34.0\n", b"", "east_deg is needed, a number from -180 to 180"),
        (b"standard_parallel_2_deg = 44.5", b"standard_parallel_2_deg = -42.5", "must not mirror each other across the equator"),
        (b"source", b'level_rule = "night"\nsource', "level_rule can be ICAO or US"),
        (b'name = "Skerry Sound"', b'name = "Skerry', "not usable as TOML: .*line 3"),
        (b"Sound", b"S\xf8und", "line 3: byte 0xF8 is not UTF-8"),
    ],
)
def test_what_is_wrong_in_a_region_file_is_said_with_its_line(old: bytes, new: bytes, message: str):
    assert old in REGION
    with pytest.raises(InputProblem, match=message):
        read_region(REGION.replace(old, new), name="region.toml")


def test_all_problems_of_a_region_file_come_at_once():
    broken = REGION.replace(b"42.0", b"99").replace(b"-38.0", b'"west"')
    with pytest.raises(InputProblem) as caught:
        read_region(broken, name="region.toml")
    assert [problem.place for problem in caught.value.problems] == ["region.toml, line 6", "region.toml, line 8"]


def test_aircraft_are_read_with_their_compass_cards():
    (aircraft,) = read_aircraft(AIRCRAFT, name="aircraft.toml")
    assert (aircraft.registration, aircraft.cruise_speed_kt, aircraft.usable_fuel_l) == ("X-ABCD", 95.0, 90.5)
    assert (aircraft.cruise_speed_kind, aircraft.fuel_unit) == (SpeedKind.TRUE, FuelUnit.US_GALLON)
    assert aircraft.compass_card[1] == CompassCardEntry(magnetic_deg=90.0, steer_deg=89.0)
    assert aircraft.descent_rate_ft_per_min == 500.0


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (b"usable_fuel_l = 90.5", b"usable_fuel_l = -1", "line 12: aircraft 1, usable_fuel_l is -1"),
        (b"[90, 89]", b"[90]", "line 14: aircraft 1, compass_card must be pairs"),
        (b"[90, 89]", b"[90, 1" + b"0" * 400 + b"]", "compass_card must be pairs"),
        (b'"TAS"', b'"IAS"', "cruise_speed_kind is 'IAS'; it can be TAS, CAS"),
        (b"[[aircraft]]", b"[[plane]]", "has no .*aircraft.* entries"),
    ],
)
def test_what_is_wrong_in_an_aircraft_file_is_said(old: bytes, new: bytes, message: str):
    with pytest.raises(InputProblem, match=message):
        read_aircraft(AIRCRAFT.replace(old, new), name="aircraft.toml")


TABLES = b"""
speed_unit = "mph"
cruise_table = [
  { power = "65 %", pressure_altitude_ft = 6000, isa_deviation_c = 20, tas_kt = 161, fuel_l_per_h = 43.5 },
]
climb_table = [
  { pressure_altitude_ft = 2000, time_min = 3, fuel_l = 4, air_distance_nm = 5 },
  { pressure_altitude_ft = 4000, time_min = 7, fuel_l = 9, air_distance_nm = 11 },
]
descent_table = [{ pressure_altitude_ft = 4000, time_min = 8, fuel_l = 4.5, air_distance_nm = 15 }]
climb_percent_per_warm_c = 1
"""


def test_the_tables_of_an_aircraft_are_read():
    (aircraft,) = read_aircraft(AIRCRAFT + TABLES, name="aircraft.toml")
    assert aircraft.speed_unit is SpeedUnit.MILE_PER_HOUR
    assert aircraft.cruise_table == (
        CruiseRow(power="65 %", pressure_altitude_ft=6000.0, isa_deviation_c=20.0, tas_kt=161.0, fuel_l_per_h=43.5),
    )
    assert [row.time_min for row in aircraft.climb_table] == [3.0, 7.0]
    assert aircraft.descent_table == (DescentRow(pressure_altitude_ft=4000.0, time_min=8.0, fuel_l=4.5, air_distance_nm=15.0),)
    assert (aircraft.climb_percent_per_warm_c, aircraft.fuel_density_kg_per_l) == (1.0, None)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            b"tas_kt = 161",
            b"tas_kt = 1610",
            r"line 17: aircraft 1, cruise_table line 1: tas_kt is 1610; it must be a number from 20",
        ),
        (b"tas_kt = 161", b"tas_mph = 185", r"line 17: aircraft 1, cruise_table line 1: tas_mph is not known; a line has power, "),
        (b", tas_kt = 161", b"", r"cruise_table line 1: tas_kt is needed"),
        (b'power = "65 %"', b"power = 65", r"cruise_table line 1: power must be text of at most 20 characters"),
        (b"time_min = 7", b"time_min = 2", r"line 20: aircraft 1, climb_table line 2: the time at 4,000 ft is not more than at 2,000 ft"),
        (b"descent_table = [{", b"descent_table = [7, {", r"line 24: aircraft 1, descent_table must be a list of lines, each \{ pressure"),
        (b'"mph"', b'"km/h"', r"speed_unit is 'km/h'; it can be kt, mph"),
        (b"warm_c = 1", b"warm_c = -1", r"climb_percent_per_warm_c is -1"),
    ],
)
def test_what_is_wrong_in_a_table_is_said_with_its_line(old: bytes, new: bytes, message: str):
    assert old in TABLES
    with pytest.raises(InputProblem, match=message):
        read_aircraft(AIRCRAFT + TABLES.replace(old, new), name="aircraft.toml")


def test_fuel_in_kilograms_needs_a_density():
    kilograms = AIRCRAFT.replace(b'"US gal"', b'"kg"')
    with pytest.raises(InputProblem, match=r"fuel_density_kg_per_l is needed for fuel in kilograms"):
        read_aircraft(kilograms, name="aircraft.toml")
    (aircraft,) = read_aircraft(kilograms + b"fuel_density_kg_per_l = 0.72\n", name="aircraft.toml")
    assert aircraft.fuel_measure.amount(100.0) == pytest.approx(72.0)


def test_the_second_aircraft_is_named_with_its_own_line():
    with pytest.raises(InputProblem, match="line 25: aircraft 2, taxi_fuel_l"):
        read_aircraft(AIRCRAFT + AIRCRAFT.replace(b"taxi_fuel_l = 4", b'taxi_fuel_l = "x"').replace(b"ABCD", b"EFGH"), name="a.toml")


def test_one_registration_twice_is_refused():
    with pytest.raises(InputProblem, match="X-ABCD stands there twice"):
        read_aircraft(AIRCRAFT + AIRCRAFT, name="aircraft.toml")


@pytest.mark.parametrize(
    "document",
    [
        polygon(SQUARE, HOLE),
        {"type": "Feature", "properties": None, "geometry": polygon(SQUARE, HOLE)},
        {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": polygon(SQUARE, HOLE)}]},
        {"type": "GeometryCollection", "geometries": [polygon(SQUARE, HOLE)]},
        {"type": "MultiPolygon", "coordinates": [[SQUARE, HOLE]]},
        polygon([[*point, 12.5] for point in SQUARE], HOLE),
        {**polygon(SQUARE, HOLE), "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}},
    ],
)
def test_polygons_are_found_wherever_geojson_puts_them(document: dict):
    geometry = sea(document)
    assert geometry.geom_type == "MultiPolygon"
    assert geometry.area == pytest.approx(4 * 3 - 1)  # square degrees, by hand
    assert not geometry.has_z


def test_polygons_that_touch_are_joined():
    east = [[-34, 42], [-30, 42], [-30, 45], [-34, 45], [-34, 42]]
    assert sea({"type": "MultiPolygon", "coordinates": [[SQUARE], [east]]}).area == pytest.approx(24)


@pytest.mark.parametrize(
    ("document", "message"),
    [
        (None, "the file is null"),
        ([], "the file is null or no GeoJSON object"),
        ({"type": "Feature", "geometry": None}, "the geometry of the file is null"),
        ({"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": None}]}, "the geometry of feature 1 is null"),
        ({"type": "FeatureCollection", "features": []}, "holds no polygon"),
        ({"type": "FeatureCollection"}, "holds no list"),
        ({"type": "LineString", "coordinates": SQUARE}, "of the type 'LineString', not polygons"),
        ({"type": "Point", "coordinates": [1, 2]}, "not polygons"),
        (polygon(), "has no rings"),
        (polygon(SQUARE[:3]), "has 3 points; a closed ring has at least four"),
        (polygon(SQUARE[:4]), "is not closed"),
        (polygon([[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]), "crosses itself"),
        (polygon([[-38, "x"], *SQUARE[1:]]), "point 1 of ring 1 .* not an ordinary number"),
        (polygon([[-38], *SQUARE[1:]]), "is not longitude, latitude"),
        (polygon([[-38, 42, 1, 2], *SQUARE[1:]]), "is not longitude, latitude"),
        (polygon([[42, -138], [42, -134], [45, -134], [45, -138], [42, -138]]), "were longitude and latitude swapped"),
        (polygon([[179, 1], [-179, 1], [-179, 2], [179, 2], [179, 1]]), "crosses 180 degrees"),
        ({**polygon(SQUARE), "crs": {"properties": {"name": "EPSG:3857"}}}, "another coordinate system"),
    ],
)
def test_a_sea_that_cannot_be_used_is_refused_in_words(document, message: str):
    with pytest.raises(InputProblem, match=message):
        sea(document)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "line 1"),
        (b"{", "line 1"),
        (b'{"type": "Polygon", "coordinates": [[[NaN, 1]]]}', "NaN is not a number"),
        (b'{"type": "Polygon", "coordinates": [[[1e999, 1], [1, 1], [2, 2], [1e999, 1]]]}', "not an ordinary number"),
        (b'{"type": "Polygon", "coordinates": [[[' + b"9" * 5_000 + b", 1]]]}", "not usable as GeoJSON"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"type":"GeometryCollection","geometries":[' * 400 + b"]}" * 400, "nested too deeply|holds no polygon"),
        (b"\xff\xfe{}", "byte 0xFF at 0 is not UTF-8"),
    ],
)
def test_hostile_json_is_refused_in_words(content: bytes, message: str):
    with pytest.raises(InputProblem, match=message):
        read_sea(content, name="sea.geojson")


def test_more_than_a_million_points_are_refused():
    ring = b"[0,0]," * 1_000_001 + b"[0,0]"
    with pytest.raises(InputProblem, match="more than 1,000,000 points"):
        read_sea(b'{"type": "Polygon", "coordinates": [[' + ring + b"]]}", name="sea.geojson")
