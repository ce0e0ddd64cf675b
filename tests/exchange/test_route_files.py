"""Routes in GPX, GeoJSON and text: what is read, and what a stranger's file is refused for."""

from __future__ import annotations

import json

import pytest

from server.errors import InputProblem
from server.exchange.geojson_route import read_geojson_route
from server.exchange.gpx_file import read_gpx
from server.exchange.route_shape import MOST_POINTS, ShapeSource
from server.exchange.route_text_file import read_route_text

GPX = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>'
ROUTE = '<rte><name>Out</name><rtept lat="43.1" lon="-36.5"><name>AAA</name></rtept><rtept lat="43.2" lon="-36.1"/></rte>'


def gpx(inside: str) -> bytes:
    return GPX.format(inside).encode()


def places(shape):
    return [(point.name, point.position.lat_deg, point.position.lon_deg) for point in shape.points]


def test_the_first_route_is_read_before_tracks_and_waypoints():
    track = '<trk><trkseg><trkpt lat="1" lon="1"/><trkpt lat="2" lon="2"/></trkseg></trk>'
    shape = read_gpx(gpx(f'<wpt lat="0" lon="0"/>{ROUTE}{track}'), name="a.gpx")
    assert (shape.name, shape.source, places(shape)) == ("Out", ShapeSource.ROUTE, [("AAA", 43.1, -36.5), ("", 43.2, -36.1)])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_encodings_and_the_older_version_are_read(encoding):
    text = f'<?xml version="1.0" encoding="{encoding.removesuffix("-sig")}"?>{GPX.format(ROUTE)}'.replace("GPX/1/1", "GPX/1/0")
    assert len(read_gpx(text.encode(encoding), name="a.gpx").points) == 2


def test_a_track_is_thinned_and_keeps_its_ends_and_its_corner():
    leg = [(43.0, -37.0 + step / 1000.0) for step in range(1000)] + [(43.0 + step / 1000.0, -36.0) for step in range(1000)]
    points = "".join(f'<trkpt lat="{lat}" lon="{lon}"/>' for lat, lon in leg)
    shape = read_gpx(gpx(f"<trk><trkseg>{points}</trkseg></trk>"), name="a.gpx")
    assert shape.source is ShapeSource.TRACK and shape.thinned_from == 2000 and len(shape.points) <= MOST_POINTS
    kept = [(lat, lon) for _, lat, lon in places(shape)]
    assert kept[0] == (43.0, -37.0) and kept[-1] == (43.999, -36.0)
    assert min(abs(lat - 43.0) + abs(lon + 36.0) for lat, lon in kept) < 0.01


BOMB = '<!DOCTYPE g [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>' + GPX.format("<rte><name>&b;</name></rte>")
BAD_GPX = {
    b"": "is empty",
    b"<gpx": "no XML: line 1",
    BOMB.encode(): "declares entities",
    b'<!DOCTYPE g SYSTEM "file:///etc/passwd"><g/>': "declares entities",
    b"<kml/>": "outermost element is not that of GPX",
    gpx(""): "no route, no track and no waypoint",
    gpx('<rte><rtept lat="43" lon="1"/></rte>'): "fewer than two places",
    gpx('<rte><rtept lat="43" lon="1"/><rtept lat="43" lon="1"/></rte>'): "fewer than two places",
    gpx('<rte><rtept lat="91" lon="1"/><rtept lat="1" lon="1"/></rte>'): "route point 1 is at latitude 91",
    gpx('<rte><rtept lat="1" lon="1"/><rtept lat="nan" lon="1"/></rte>'): "nowhere on earth",
    gpx('<rte><rtept lat="1" lon="1"/><rtept lat="north" lon="1"/></rte>'): 'lat "north", which is no number',
    gpx('<rte><rtept lon="1"/><rtept lat="1" lon="1"/></rte>'): "route point 1 has lat",
    gpx("<rte>" + "".join(f'<rtept lat="1" lon="{step / 1000}"/>' for step in range(10_000)) + "</rte>"): "it holds 10000 points",
}


@pytest.mark.parametrize("content", BAD_GPX, ids=[words[:24] for words in BAD_GPX.values()])
def test_a_gpx_file_that_cannot_be_is_refused_by_name(content):
    with pytest.raises(InputProblem) as refused:
        read_gpx(content, name="my.gpx")
    assert BAD_GPX[content] in refused.value.message and refused.value.message.startswith("my.gpx")


LINE = {"type": "LineString", "coordinates": [[-36.5, 43.1, 200.0], [-36.1, 43.2]]}


def collection(*features) -> bytes:
    told = [{"type": "Feature", "geometry": geometry, "properties": properties} for geometry, properties in features]
    return json.dumps({"type": "FeatureCollection", "name": "Out", "features": told}).encode()


def test_lines_are_joined_and_points_name_their_places():
    """RFC 7946, 3.1.1: longitude comes first; 3.1.9: a line cut at 180 degrees is one line."""
    more = {"type": "MultiLineString", "coordinates": [[[-36.1, 43.2], [-35.0, 43.3]]]}
    point = {"type": "Point", "coordinates": [-36.1, 43.2]}
    shape = read_geojson_route(collection((LINE, {}), (more, None), (point, {"ident": "BBB"})), name="a.json")
    assert shape.name == "Out" and places(shape) == [("", 43.1, -36.5), ("BBB", 43.2, -36.1), ("", 43.3, -35.0)]


def test_points_alone_make_a_route_in_their_order():
    points = [({"type": "Point", "coordinates": [lon, 43.0]}, {"name": name}) for name, lon in (("one", -36.0), ("two", -35.0))]
    assert places(read_geojson_route(collection(*points), name="a.json")) == [("one", 43.0, -36.0), ("two", 43.0, -35.0)]


BAD_JSON = {
    b" ": "is empty",
    b"{": "line 1 is no JSON",
    b"\xff\xfe{\x00": "not UTF-8",
    b'{"type": "Point", "coordinates": [NaN, 1]}': "NaN is no number",
    b"[" * 100_000: "nested too deeply",
    b'{"type": "FeatureCollection"}': "no list of features",
    b"[1]": "no GeoJSON geometry",
    json.dumps({"type": "LineString", "coordinates": [[1, 91], [1, 1]]}).encode(): "place 1 of the file is at latitude 91",
    json.dumps({"type": "LineString", "coordinates": [[1], [1, 1]]}).encode(): "no pair of longitude and latitude",
    json.dumps({"type": "LineString", "coordinates": [[True, 1], [1, 1]]}).encode(): "no pair of longitude and latitude",
    collection(({"type": "Polygon", "coordinates": []}, {})): "feature 1 of the file is a Polygon",
}


@pytest.mark.parametrize("content", BAD_JSON, ids=[words[:24] for words in BAD_JSON.values()])
def test_a_geojson_file_that_cannot_be_is_refused_by_name(content):
    with pytest.raises(InputProblem) as refused:
        read_geojson_route(content, name="my.json")
    assert BAD_JSON[content] in refused.value.message


def test_collections_in_collections_are_walked():
    inner = {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": LINE, "properties": {}}]}
    told = json.dumps({"type": "FeatureCollection", "features": [inner]}).encode()
    assert len(read_geojson_route(told, name="a.json").points) == 2


def test_route_text_is_read_line_by_line():
    text = "ROUTE Out and in\n\nFIELD QMAR 43 23.700N 036 33.200W\nBEACON ILV:VOR/DME 43 46.400N 036 30.600W\n"
    text += "POINT 43 10.500S 036 20.200E the mill\n"
    shape = read_route_text(text.encode(), name="a.txt")
    assert shape.name == "Out and in" and [name for name, *_ in places(shape)] == ["QMAR", "ILV", "the mill"]
    assert places(shape)[2][1:] == (pytest.approx(-43.175), pytest.approx(36.0 + 20.2 / 60.0))


@pytest.mark.parametrize(
    ("text", "told"),
    [("GO NORTH", "line 1"), ("POINT 43 99.000N 036 20.200W\nPOINT 1 1.0N 1 1.0E", "line 1"), ("ROUTE x", "fewer than two")],
)
def test_a_text_that_cannot_be_is_refused_by_its_line(text, told):
    with pytest.raises(InputProblem) as refused:
        read_route_text(text.encode(), name="my.txt")
    assert told in refused.value.message
