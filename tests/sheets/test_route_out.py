"""Routes out: read back by gpxpy, by GDAL's ogrinfo, by a csv reader, and by Beaconry itself."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path

import gpxpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.exchange.geojson_route import read_geojson_route
from server.exchange.gpx_file import read_gpx
from server.exchange.route_text_file import read_route_text
from server.navigation import Position, distance_nm
from server.planning.log import LogPoint, NavigationLog
from server.sheets import log_as_csv, log_as_geojson, log_as_gpx, log_sheet, route_as_text
from tests.sheets.sheet_builders import HOSTILE, a_hostile_log, a_log

METRES_PER_NM = 1852.0


def test_gpx_is_read_by_another_library_as_what_was_flown():
    log = a_log()
    (route,) = gpxpy.parse(log_as_gpx(log).decode()).routes
    assert route.name == "Over the Skarn" and [point.name for point in route.points] == ["XKA", "KEV", "TRV", "XTS"]
    for read, point in zip(route.points, log.points, strict=True):
        assert (read.latitude, read.longitude) == (pytest.approx(point.position.lat_deg), pytest.approx(point.position.lon_deg))
        assert read.elevation == pytest.approx(point.elevation_ft * 0.3048, abs=0.05)  # the international foot


# The order that the schema of GPX 1.1 gives (wptType, metadataType, rteType), as far as we use it; from memory.
ORDER = {"wpt": ["ele", "name", "desc", "type"], "rte": ["name", "rtept"], "metadata": ["name", "desc"], "gpx": ["metadata", "rte"]}


def test_gpx_elements_stand_in_the_order_of_the_schema():
    for element in ElementTree.fromstring(log_as_gpx(a_log())).iter():
        kind = element.tag.split("}")[1].replace("rtept", "wpt")
        children = [child.tag.split("}")[1] for child in element]
        if children:
            assert children == sorted(children, key=ORDER[kind].index)


@pytest.mark.parametrize(("writer", "ending", "layers"), [(log_as_gpx, "gpx", "routes"), (log_as_geojson, "geojson", "")])
def test_gdal_reads_what_is_written(tmp_path: Path, writer, ending: str, layers: str):
    ogrinfo = shutil.which("ogrinfo")
    if ogrinfo is None:
        pytest.skip("GDAL's ogrinfo (Debian gdal-bin) is not here")
    file = tmp_path / f"log.{ending}"
    content = writer(a_log())
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    told = subprocess.run([ogrinfo, "-al", str(file), *([layers] if layers else [])], capture_output=True, text=True, check=True)
    assert "ERROR" not in told.stderr and "Over the Skarn" in told.stdout
    assert "-36.86" in told.stdout and "LINESTRING" in told.stdout


def test_hostile_names_survive_every_form():
    log = a_hostile_log()
    assert HOSTILE[:60] in gpxpy.parse(log_as_gpx(log).decode()).routes[0].name
    assert json.loads(log_as_geojson(log))["name"].startswith(HOSTILE[:60])
    assert HOSTILE[:60] in route_as_text(log)
    controlled = replace(log, route=replace(log.route, name="a\x00b\x0bc\ufffe"))
    assert gpxpy.parse(log_as_gpx(controlled).decode()).routes[0].name


def test_geojson_is_cut_at_180_degrees_and_joined_again():
    """RFC 7946, 3.1.9. On a parallel the geodesic between 179 E and 179 W bows north by symmetry to its highest at 180."""
    log = over([Position(lat_deg=50.0, lon_deg=179.0), Position(lat_deg=50.0, lon_deg=-179.0)])
    line = json.loads(log_as_geojson(log))["features"][0]["geometry"]
    assert line["type"] == "MultiLineString"
    (first, cut), (again, last) = line["coordinates"]
    assert (first[0], cut[0], again[0], last[0]) == (179.0, 180.0, -180.0, -179.0)
    assert cut[1] == again[1] and 50.0 < cut[1] < 50.01


def test_the_table_has_a_row_a_leg_and_holds_no_formula():
    log = a_log(legs=(replace(a_log().legs[0], start=replace(a_log().legs[0].start, name="=1+1", ident="")), *a_log().legs[1:]))
    rows = list(csv.DictReader(io.StringIO(log_as_csv(log))))
    assert [row["leg"] for row in rows] == ["1", "2", "3"]
    assert rows[0]["from"] == "'=1+1"
    for row, leg in zip(rows, log_sheet(log).legs, strict=True):
        assert (row["heading_magnetic_deg"], row["time_h_min"], row["fuel"]) == (leg.heading_magnetic, leg.time, leg.fuel)
        assert not any(cell.startswith(("=", "+", "@")) for cell in row.values())
    assert log_as_csv(log).count("\r\n") == 4  # RFC 4180, 2.1


def over(places: list[Position]) -> NavigationLog:
    """A log over these places, with legs between them."""
    log = a_log()
    points = tuple(
        replace(log.points[1], number=number, position=position, beacon=None, ident="", name=f"P{number}")
        for number, position in enumerate(places)
    )
    legs = tuple(replace(log.legs[0], number=n + 1, start=points[n], end=points[n + 1]) for n in range(len(points) - 1))
    return replace(log, points=points, legs=legs)


def apart(points: tuple[LogPoint, ...], shape) -> float:
    """The greatest distance between a point and what was read of it. [m]"""
    return max(distance_nm(one.position, other.position) * METRES_PER_NM for one, other in zip(points, shape.points, strict=True))


positions = st.builds(Position, lat_deg=st.floats(-89.0, 89.0), lon_deg=st.floats(-180.0, 179.999))


@settings(max_examples=60, deadline=None)
@given(st.lists(positions, min_size=2, max_size=8, unique_by=lambda at: (round(at.lat_deg, 2), round(at.lon_deg, 2))))
def test_what_goes_out_comes_in_again_at_the_same_places(places):
    log = over(places)
    assert apart(log.points, read_gpx(log_as_gpx(log), name="x")) < 0.1
    assert apart(log.points, read_route_text(route_as_text(log).encode(), name="x")) < 2.0
    points_only = json.loads(log_as_geojson(log))
    points_only["features"] = [each for each in points_only["features"] if each["geometry"]["type"] == "Point"]
    assert apart(log.points, read_geojson_route(json.dumps(points_only).encode(), name="x")) < 0.1
