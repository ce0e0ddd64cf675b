"""A flight asked for in words: what is read, and what is refused with the right way to write it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from server.errors import InputProblem, NotFound
from server.navigation import NorthReference, PointKind, Position
from server.persistence import Library
from server.planning.flight_request import FlightRequest, fuel_litres, moment_utc, route_from_request, wind_from_words
from tests.planning.planning_builders import FROM, TO, Shelved, a_tourer, a_vor, an_airfield, an_ndb, shelve

ALD, BRN = Position(lat_deg=43.5, lon_deg=-36.8), Position(lat_deg=43.7, lon_deg=-36.2)


@pytest.fixture
def shelved(shelf: Library) -> Shelved:
    """Two airfields, two VORs, an NDB that shares the ident of one, and two NDBs that share another."""
    return shelve(
        shelf,
        beacons=(a_vor("ALD", ALD), an_ndb("ALD", ALD), a_vor("BRN", BRN), an_ndb("TWO", ALD), an_ndb("TWO", BRN, name="Second Hill")),
        airfields=(an_airfield(1, "QFRO", FROM), an_airfield(2, "QTOO", TO), an_airfield(3, "QDUP", ALD), an_airfield(4, "QDUP", BRN)),
        aircraft=a_tourer(),
    )


def asked(library: Library, **words):
    return route_from_request(
        library, FlightRequest(**{"region": "skerry", "departure": "QFRO", "destination": "QTOO", "altitude": "6500", **words})
    )


def test_every_word_of_a_full_request_is_read(shelf: Library, shelved: Shelved):
    route = asked(
        shelf,
        via=("brn", "ALD-045@12.5", "ALD-045+BRN-250", "43 30N 036 30W"),
        depart_at="2026-05-01T09:00Z",
        aircraft="qv-one",
        winds=("250T/15@6000", "010m/5@2000"),
        isa_deviation="+5",
        fuel="24gal",
        reserve="us-day",
    )
    assert route.name == "QFRO to QTOO"
    assert [point.kind for point in route.points] == [
        PointKind.BEACON,
        PointKind.RADIAL_DISTANCE,
        PointKind.TWO_RADIALS,
        PointKind.POSITION,
    ]
    beacon, fix, cross, place = route.points
    assert beacon.place_id == shelved.beacons["BRN"]
    assert (fix.radial_deg, fix.distance_nm) == (45.0, 12.5)
    assert (cross.radial_deg, cross.second_beacon_id, cross.second_radial_deg) == (45.0, shelved.beacons["BRN"], 250.0)
    assert place.position == Position(lat_deg=43.5, lon_deg=-36.5)
    assert (route.departure_utc, route.aircraft_id) == (datetime(2026, 5, 1, 9, 0, tzinfo=UTC), shelved.aircraft)
    assert [(wind.from_deg, wind.speed_kt, wind.altitude_ft, wind.reference) for wind in route.winds] == [
        (250.0, 15.0, 6000.0, NorthReference.TRUE),
        (10.0, 5.0, 2000.0, NorthReference.MAGNETIC),
    ]
    assert (route.isa_deviation_c, route.reserve_rule, route.altitude_ft) == (5.0, "us-day", 6500.0)
    assert route.fuel_on_board_l == pytest.approx(24 * 3.785411784)  # 231 cubic inches


def test_what_is_not_given_stays_unknown(shelf: Library, shelved: Shelved):
    route = asked(shelf)
    assert (route.points, route.departure_utc, route.aircraft_id, route.winds) == ((), None, None, ())
    assert (route.isa_deviation_c, route.fuel_on_board_l, route.reserve_rule) == (None, None, "")


def test_of_one_ident_the_beacon_that_guides_a_vor_receiver_is_meant_and_the_kind_asks_for_another(shelf: Library, shelved: Shelved):
    with shelf.read() as work:
        by_kind = {beacon.kind.value: beacon.id for beacon in work.beacons.find_by_ident(shelved.region.id, "ALD")}
    assert asked(shelf, via=("ALD",)).points[0].place_id == by_kind["VOR"]
    assert asked(shelf, via=("ALD:ndb",)).points[0].place_id == by_kind["NDB"]
    assert asked(shelf, via=("ALD:NDB-045@12",)).points[0].beacon_id == by_kind["NDB"]


@pytest.mark.parametrize(
    ("words", "error", "text"),
    [
        ({"region": "nowhere"}, NotFound, 'no region called "nowhere"'),
        ({"departure": "XXXX"}, NotFound, 'Skerry has no airfield "XXXX".*beaconry list airfields --region skerry'),
        ({"destination": "'; DROP TABLE"}, NotFound, "has no airfield"),
        ({"destination": "QDUP"}, InputProblem, r"\"QDUP\" fits several airfields: Qdup Field \(43"),
        ({"aircraft": "N1"}, NotFound, 'no aircraft "N1". Known: QV-ONE'),
        ({"via": ("ZZZ",)}, NotFound, 'Skerry has no beacon "ZZZ"'),
        ({"via": ("ALD:DME",)}, NotFound, 'Skerry has no beacon "ALD:DME"'),
        ({"via": ("TWO",)}, InputProblem, r"fits several beacons: TWO:NDB \(Second Hill, 43.*\), TWO:NDB \(Two Hill, 43.*\)"),
        ({"via": ("ALD-400@12",)}, InputProblem, '"ALD-400@12": there is no radial 400. Give 000 to 360'),
        ({"via": ("ALD-045@x",)}, NotFound, "has no beacon"),
        ({"via": ("99 99N 036 30W",)}, InputProblem, "latitude"),
        ({"altitude": "six thousand"}, InputProblem, '--altitude "six thousand" cannot be read: give feet above sea level'),
        ({"altitude": "nan"}, InputProblem, '--altitude "nan" cannot be read'),
        ({"altitude": ""}, InputProblem, "--altitude"),
        ({"isa_deviation": "warm"}, InputProblem, '--isa "warm" cannot be read: give degrees Celsius'),
        ({"reserve": "never"}, InputProblem, 'no reserve rule "never". Choose one of: us-day'),
    ],
)
def test_a_word_that_cannot_be_used_is_refused_with_what_is_allowed(shelf: Library, shelved: Shelved, words: dict, error: type, text: str):
    with pytest.raises(error, match=text):
        asked(shelf, **words)


@pytest.mark.parametrize(
    "word", ["250/15@6000", "250T15@6000", "250T/15", "361T/15@6000", "T/15@6000", "250T/-5@6000", "250T/15@6000ft", "", "²50T/15@6000"]
)
def test_a_wind_that_does_not_say_what_it_counts_from_is_refused(word: str):
    with pytest.raises(InputProblem, match=r"is not a wind. Write direction with T \(true\) or M \(magnetic\)"):
        wind_from_words(word)


@pytest.mark.parametrize("word", ["90", "90 litres", "gal", "-5L", "1.2.3L", "nanL", "1e3L", "٣L"])
def test_fuel_without_a_unit_or_amount_is_refused(word: str):
    with pytest.raises(InputProblem, match=r"is not an amount of fuel. Write the unit"):
        fuel_litres(word)


def test_fuel_is_read_in_either_unit():
    assert (fuel_litres("90L"), fuel_litres("90 l")) == (90.0, 90.0)
    assert fuel_litres("10 GAL") == pytest.approx(37.85411784)


@pytest.mark.parametrize(
    "word", ["2026-05-01T09:00", "2026-05-01", "09:00Z", "2026-05-01T24:00Z", "2026-13-01T09:00Z", "tomorrow", "", "0001-01-01T00:00+05:00"]
)
def test_a_moment_that_is_not_certainly_utc_is_refused(word: str):
    with pytest.raises(InputProblem, match=r"is not a moment in UTC. Write it with Z"):
        moment_utc(word)


def test_a_moment_with_another_offset_is_turned_to_utc():
    assert moment_utc("2026-05-01t09:00z") == datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
    assert moment_utc("2026-05-01T23:30-02:00") == datetime(2026, 5, 2, 1, 30, tzinfo=UTC)


def test_the_rest_of_a_flight_is_read_too(shelf: Library, shelved: Shelved):
    route = asked(
        shelf,
        altitude="6,500",
        winds_aloft="3000 270T/14 +5; 6000 280T/22 -1",
        qnh="29.92",
        power="65 %",
        alternate="qfro",
        extra_fuel="5gal",
        level_rule="US",
    )
    assert route.altitude_ft == 6500.0
    assert [(wind.altitude_ft, wind.temperature_c) for wind in route.winds] == [(3000.0, 5.0), (6000.0, -1.0)]
    assert route.qnh_hpa == pytest.approx(1013.2, abs=0.1) and route.cruise_power == "65 %" and route.level_rule == "US"
    assert route.alternate_airfield_id == route.departure_airfield_id
    assert route.extra_fuel_l == pytest.approx(5 * 3.785411784)  # a US gallon is 231 cubic inches (NIST SP 811)


@pytest.mark.parametrize(("word", "code"), [("12", "qnh-impossible"), ("QNH1013", "number-bad"), ("2000", "qnh-impossible")])
def test_a_qnh_that_cannot_be_is_refused(shelf: Library, shelved: Shelved, word: str, code: str):
    with pytest.raises(InputProblem) as refused:
        asked(shelf, qnh=word)
    assert refused.value.code == code
