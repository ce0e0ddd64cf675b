"""The table of the route page: what is tuned, which beacon is heard where, and how a point is named."""

from __future__ import annotations

import re

import pytest

from server.navigation import NorthReference, PointKind, Position, RoutePoint, WindLayer


def rows(served, points: tuple[RoutePoint, ...], **changes) -> list[str]:
    """The words of each row of the route table, in order."""
    page = served.page(f"{served.at}/routes/{served.keep_route(points=points, **changes).id}")
    table = re.search(r'<table class="points">.*?<tbody>(.*?)</tbody>', page.html, re.DOTALL)[1]
    shown = [row for row in re.findall(r"<tr.*?</tr>", table, re.DOTALL) if "in-words" not in row]
    return [" ".join(re.sub(r"<[^>]+>", " ", row).split()) for row in shown]


def beacon(served, ident: str) -> RoutePoint:
    return RoutePoint(kind=PointKind.BEACON, place_id=served.small.beacons[ident])


def test_row_names_the_beacon_that_is_tuned_on_the_leg_to_it_also_on_the_last(served):
    told = rows(served, (beacon(served, "KEV"), beacon(served, "PYL")))
    assert "MHz" not in told[0], "no leg leads to the departure"
    assert "KEV 113.35 MHz" in told[1] and "KEV 113.35 MHz" in told[2] and "PYL 115.20 MHz" in told[2]
    assert "PYL 115.20 MHz" in told[3]


def test_row_tells_which_beacon_is_heard_where(served):
    told = rows(served, (beacon(served, "KEV"), beacon(served, "PYL")))
    assert re.search(r"KEV received [\d.]+ to [\d.]+ NM", told[2])
    assert re.search(r"PYL (received|marginal|not received) [\d.]+ to [\d.]+ NM", told[2])


def test_cone_over_a_station_is_called_overhead_and_not_a_loss(served):
    told = rows(served, (beacon(served, "KEV"),))
    assert re.search(r"KEV overhead [\d.]+ to [\d.]+ NM", told[1])
    assert not re.search(r"KEV not received [\d.]+ to 11.3 NM", told[1]), "the leg of 11.3 NM ends over the station"


UNNAMED = {
    "radial and distance": (
        {"kind": PointKind.RADIAL_DISTANCE, "beacon_id": 1, "radial_deg": 45.0, "distance_nm": 12.0},
        "R-045 KEV, 12.0 NM",
    ),
    "two radials": (
        {"kind": PointKind.TWO_RADIALS, "beacon_id": 1, "radial_deg": 90.0, "second_beacon_id": 2, "second_radial_deg": 180.0},
        "R-090 KEV / R-180 DRO",
    ),
    "position": ({"kind": PointKind.POSITION, "position": Position(lat_deg=43.5, lon_deg=-36.5)}, "43°30.00'N 036°30.00'W"),
}


@pytest.mark.parametrize("case", UNNAMED)
def test_point_without_a_name_is_called_by_what_makes_it(served, case):
    fields, name = UNNAMED[case]
    told = rows(served, (RoutePoint(**fields),))
    assert told[1].replace("&#39;", "'").startswith(f"1 {name}")
    assert told[1].count("12.0 NM") <= 1, "not twice"


def test_points_keep_their_names_on_a_route_that_cannot_be_planned(served):
    fields, name = UNNAMED["radial and distance"]
    parting = RoutePoint(kind=PointKind.TWO_RADIALS, beacon_id=1, radial_deg=270.0, second_beacon_id=2, second_radial_deg=95.0)
    told = rows(served, (RoutePoint(**fields), parting))
    assert told[1].startswith(f"1 {name}") and told[2].startswith("2 R-270 KEV / R-095 DRO")


def test_what_stops_a_leg_is_told_above_the_route(served):
    gale = WindLayer(altitude_ft=6000.0, from_deg=180.0, speed_kt=240.0, reference=NorthReference.TRUE)
    page = served.page(f"{served.at}/routes/{served.keep_route(points=(beacon(served, 'KEV'),), winds=(gale,)).id}")
    above = page.html.split("The route, point by point")[0]
    assert re.search(r'<li class="stop">STOP: .*crosswind', above)
