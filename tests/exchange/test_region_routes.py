"""routes.toml: good routes are read, hostile ones are refused in words."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from server.errors import InputProblem
from server.exchange import BeaconName, read_routes
from server.navigation import LegChoice, NorthReference, PointKind, WindLayer
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
CHOSEN = b"""
[[route]]
name = "Chosen"
departure = "QAAA"
destination = "QBBB"
altitude_ft = 7500
changeover_nm = 20
changeover_reason = "ridge"
qnh_hpa = 1009
cruise_power = "65 %"
alternate = "qddd"
extra_fuel_l = 10
level_rule = "US"
corridor_nm = 5
winds_source = "forecast of 06Z"
winds_from_utc = 2026-06-16T12:00:00Z
winds_to_utc = 2026-06-16T15:00:00-03:00
winds = [{altitude_ft = 5000, from_deg = 250, reference = "T", speed_kt = 16, temperature_c = -3}]
points = [
    {beacon = "ABC", altitude_ft = 9500, changeover_nm = 12.5, changeover_reason = "weak behind"},
    {checkpoint = "Old Mill"},
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


def test_what_was_chosen_for_the_flight_and_its_legs_is_read():
    (route,) = read(CHOSEN)
    assert route.onward == LegChoice(changeover_nm=20.0, changeover_reason="ridge")
    assert [point.onward for point in route.points] == [
        LegChoice(altitude_ft=9500.0, changeover_nm=12.5, changeover_reason="weak behind"),
        LegChoice(),
    ]
    assert (route.qnh_hpa, route.cruise_power, route.alternate, route.extra_fuel_l) == (1009.0, "65 %", "QDDD", 10.0)
    assert (route.level_rule, route.corridor_nm, route.winds_source) == ("US", 5.0, "forecast of 06Z")
    assert route.winds_from_utc == datetime(2026, 6, 16, 12, 0, tzinfo=UTC)
    assert route.winds_to_utc == datetime(2026, 6, 16, 18, 0, tzinfo=UTC)
    assert route.winds[0].temperature_c == -3.0


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (b"qnh_hpa = 1009", b"qnh_hpa = 29.8", "line 9: route 1, qnh_hpa is 29.8; it must be a number from 850 to 1100"),
        (b'level_rule = "US"', b'level_rule = "UK"', "level_rule can be ICAO or US"),
        (b"corridor_nm = 5", b"corridor_nm = -1", "corridor_nm is -1"),
        (b"extra_fuel_l = 10", b'extra_fuel_l = "some"', "extra_fuel_l is some"),
        (b"15:00:00-03:00", b"15:00:00+03:00", "winds_to_utc must be later than winds_from_utc"),
        (b"temperature_c = -3", b"temperature_c = -300", "wind 1, temperature_c is -300"),
        (b"altitude_ft = 9500", b"altitude_ft = 95000", "point 1, altitude_ft is 95000"),
        (b"changeover_nm = 12.5", b"changeover_nm = -2", "point 1, changeover_nm is -2"),
    ],
)
def test_what_is_wrong_in_a_choice_is_said(old: bytes, new: bytes, message: str):
    assert old in CHOSEN
    with pytest.raises(InputProblem, match=message):
        read(CHOSEN.replace(old, new))


def test_what_a_route_leaves_out_stays_unknown():
    (route,) = read(BARE)
    assert (route.altitude_ft, route.departure_utc, route.isa_deviation_c, route.fuel_on_board_l) == (None, None, None, None)
    assert (route.aircraft, route.reserve_rule, route.winds, route.points) == ("", "", (), ())
    assert (route.qnh_hpa, route.extra_fuel_l, route.corridor_nm, route.winds_from_utc, route.winds_to_utc) == (None,) * 5
    assert (route.onward, route.alternate, route.cruise_power, route.level_rule) == (LegChoice(), "", "", "")


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
