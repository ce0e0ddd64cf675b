"""routes.toml: good routes are read, hostile ones are refused in words."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from server.errors import InputProblem
from server.exchange import BeaconName, read_routes
from server.navigation import NorthReference, PointKind, WindLayer
from server.radio import BeaconKind

ROUTES = b"""
[[route]]
name = "North and back"
departure = "qaaa"
destination = "QBBB"
altitude_ft = 7500
departure_utc = 2026-06-16T11:00:00-02:00
aircraft = "X-ABCD"
fuel_on_board_l = 90
reserve_rule = "icao-day"
winds = [{altitude_ft = 5000, from_deg = 250, reference = "M", speed_kt = 16}]
points = [
    {beacon = "ABC", kind = "NDB"},
    {checkpoint = "Old Mill"},
    {airfield = "QCCC"},
    {name = "Turn", beacon = "ABC", radial_deg = 45, distance_nm = 12.5},
    {name = "Gate", beacon = "ABC", radial_deg = 45, second_beacon = "DEF", second_kind = "VOR", second_radial_deg = 310},
]
"""
BARE = b'[[route]]\nname = "Bare"\ndeparture = "QAAA"\ndestination = "QBBB"\n'


def read(content: bytes):
    return read_routes(content, name="routes.toml")


def test_a_route_is_read_with_its_winds_and_points():
    (route,) = read(ROUTES)
    assert (route.name, route.departure, route.destination) == ("North and back", "QAAA", "QBBB")
    assert route.departure_utc == datetime(2026, 6, 16, 13, 0, tzinfo=UTC)
    assert route.winds == (WindLayer(altitude_ft=5000.0, from_deg=250.0, speed_kt=16.0, reference=NorthReference.MAGNETIC),)
    assert [point.kind for point in route.points] == [
        PointKind.BEACON,
        PointKind.CHECKPOINT,
        PointKind.AIRFIELD,
        PointKind.RADIAL_DISTANCE,
        PointKind.TWO_RADIALS,
    ]
    assert route.points[0].beacon == BeaconName(ident="ABC", kind=BeaconKind.NDB)
    assert (route.points[1].place, route.points[2].place) == ("Old Mill", "QCCC")
    assert (route.points[3].radial_deg, route.points[3].distance_nm) == (45.0, 12.5)
    assert route.points[4].second_beacon == BeaconName(ident="DEF", kind=BeaconKind.VOR)


def test_what_a_route_leaves_out_stays_unknown():
    (route,) = read(BARE)
    assert (route.altitude_ft, route.departure_utc, route.isa_deviation_c, route.fuel_on_board_l) == (None, None, None, None)
    assert (route.aircraft, route.reserve_rule, route.winds, route.points) == ("", "", (), ())


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (b'departure = "qaaa"', b"", "route 1, departure is needed"),
        (b"altitude_ft = 7500", b'altitude_ft = "high"', "line 6: route 1, altitude_ft is high; it must be a number"),
        (b"11:00:00-02:00", b"11:00:00", "departure_utc must be a moment with its offset from UTC"),
        (b', reference = "M"', b"", "wind 1, reference is needed, T for true or M for magnetic"),
        (b"from_deg = 250", b"from_deg = 400", "wind 1, from_deg is 400"),
        (b"speed_kt = 16", b"speed_kt = nan", "wind 1, speed_kt is nan"),
        (b'{checkpoint = "Old Mill"}', b'{name = "Nowhere"}', "point 2, points must name a beacon, a checkpoint or an airfield"),
        (b'{checkpoint = "Old Mill"}', b'{checkpoint = "Old Mill", radial_deg = 3}', "point 2, points must name a beacon"),
        (b", distance_nm = 12.5", b"", "point 4, points must name a beacon"),
        (b'kind = "NDB"', b'kind = "lamp"', "point 1, kind is 'lamp'; it can be VOR"),
        (b"[{altitude_ft = 5000", b'["calm", {altitude_ft = 5000', "winds must be a list of tables"),
    ],
)
def test_what_is_wrong_in_a_route_is_said(old: bytes, new: bytes, message: str):
    assert old in ROUTES
    with pytest.raises(InputProblem, match=message):
        read(ROUTES.replace(old, new))


def test_all_problems_are_reported_at_once():
    bad = ROUTES.replace(b'departure = "qaaa"', b"").replace(b"from_deg = 250", b"from_deg = 400")
    with pytest.raises(InputProblem) as raised:
        read(bad)
    assert len(raised.value.problems) == 2


def test_two_routes_of_one_name_are_refused():
    with pytest.raises(InputProblem, match="'Bare' stands there twice"):
        read(BARE + BARE)


def test_a_file_without_routes_is_refused():
    with pytest.raises(InputProblem, match=r"no \[\[route\]\] entries"):
        read(b'title = "empty"\n')
