"""What is written as TOML is read back by our readers, and by the standard library's, without loss."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from server.exchange import (
    BeaconName,
    PointDescription,
    RegionDescription,
    RouteDescription,
    read_aircraft,
    read_region,
    read_routes,
    write_aircraft,
    write_region,
    write_routes,
)
from server.exchange.toml_writing import toml_lines
from server.navigation import (
    Aircraft,
    ClimbRow,
    CruiseRow,
    DescentRow,
    FuelUnit,
    LegChoice,
    NorthReference,
    PointKind,
    Position,
    SpeedKind,
    SpeedUnit,
    WindLayer,
)
from server.navigation.aircraft import CompassCardEntry
from server.radio import BeaconKind

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**14), 10**14)


@given(st.dictionaries(st.from_regex("[a-z_]{1,12}", fullmatch=True), TEXT | NUMBERS | st.booleans() | st.lists(NUMBERS, max_size=60)))
def test_any_text_and_number_is_read_back_by_the_standard_library(values):
    assert tomllib.loads(toml_lines(values)) == values


def test_a_region_without_box_and_projection_is_read_back():
    bare = dict.fromkeys(("south_deg", "north_deg", "west_deg", "east_deg", "central_meridian_deg", "central_parallel_deg"))
    bare |= dict.fromkeys(("standard_parallel_1_deg", "standard_parallel_2_deg"))
    description = RegionDescription(slug="north", name='The "North"', fictional=False, notice="", level_rule="US", source="", **bare)
    assert read_region(write_region(description), name="region.toml") == description


def test_an_aircraft_with_everything_is_read_back():
    rows = {"pressure_altitude_ft": 4000.0, "time_min": 7.25, "fuel_l": 5.1, "air_distance_nm": 10.0}
    full = Aircraft(
        registration="X-ABCD",
        type_name='Tourer "long"',
        cruise_speed_kt=110.1,
        cruise_speed_kind=SpeedKind.CALIBRATED,
        cruise_fuel_l_per_h=34.07,
        climb_speed_kt=70.0,
        climb_rate_ft_per_min=600.0,
        climb_fuel_l_per_h=45.0,
        descent_rate_ft_per_min=450.0,
        taxi_fuel_l=0.0,
        usable_fuel_l=189.3,
        speed_unit=SpeedUnit.MILE_PER_HOUR,
        fuel_unit=FuelUnit.KILOGRAM,
        fuel_density_kg_per_l=0.72,
        cruise_table=(CruiseRow(power="65 %", pressure_altitude_ft=0.0, isa_deviation_c=-20.0, tas_kt=108.0, fuel_l_per_h=34.0),),
        climb_table=(ClimbRow(**rows),),
        descent_table=(DescentRow(**rows),),
        climb_percent_per_warm_c=0.0,
        compass_card=(CompassCardEntry(magnetic_deg=0.0, steer_deg=2.0), CompassCardEntry(magnetic_deg=90.0, steer_deg=89.5)),
        remarks="Two lines,\nand a \\ in it.",
    )
    plain = Aircraft(
        registration="X-E",
        cruise_speed_kt=80.0,
        cruise_fuel_l_per_h=17.0,
        climb_speed_kt=60.0,
        climb_rate_ft_per_min=500.0,
        climb_fuel_l_per_h=22.0,
        taxi_fuel_l=2.0,
        usable_fuel_l=70.0,
    )
    assert read_aircraft(write_aircraft((full, plain)), name="aircraft.toml") == (full, plain)


def test_a_route_with_every_kind_of_point_and_every_choice_is_read_back():
    skr, twin = BeaconName(ident="SKR"), BeaconName(ident="MUL", kind=BeaconKind.NDB, key="own:NDB|MUL|2")
    onward = LegChoice(altitude_ft=5500.0, changeover_nm=12.5, changeover_reason='a "ridge"')
    points = (
        PointDescription(kind=PointKind.BEACON, beacon=skr, onward=onward),
        PointDescription(kind=PointKind.BEACON, beacon=twin),
        PointDescription(kind=PointKind.CHECKPOINT, place="Long Lake", place_key="own:Long Lake|2"),
        PointDescription(kind=PointKind.AIRFIELD, place="XNOR"),
        PointDescription(kind=PointKind.RADIAL_DISTANCE, name="bend", beacon=skr, radial_deg=45.0, distance_nm=12.0),
        PointDescription(
            kind=PointKind.TWO_RADIALS, beacon=skr, radial_deg=0.0, second_beacon=twin, second_radial_deg=310.5, onward=onward
        ),
        PointDescription(kind=PointKind.POSITION, name="the bridge", position=Position(lat_deg=43.1234567, lon_deg=-36.5)),
        PointDescription(kind=PointKind.POSITION, position=Position(lat_deg=0.0, lon_deg=180.0)),
    )
    route = RouteDescription(
        name="North and back",
        departure="XNOR",
        destination="XSOU",
        departure_key="own:XNOR",
        points=points,
        altitude_ft=4500.0,
        departure_utc=datetime(2026, 6, 16, 13, 5, tzinfo=UTC),
        aircraft="X-ABCD",
        winds=(
            WindLayer(altitude_ft=2000.0, from_deg=230.0, speed_kt=0.0, reference=NorthReference.MAGNETIC),
            WindLayer(altitude_ft=5000.0, from_deg=245.0, speed_kt=15.0, reference=NorthReference.TRUE, temperature_c=-3.0),
        ),
        isa_deviation_c=0.0,
        fuel_on_board_l=120.0,
        reserve_rule="icao-day",
        remarks="one\ntwo",
        onward=LegChoice(changeover_nm=3.0),
        qnh_hpa=1013.0,
        cruise_power="65 %",
        alternate="XALT",
        alternate_key="own:XALT",
        extra_fuel_l=10.0,
        level_rule="US",
        corridor_nm=4.0,
        winds_source="invented",
        winds_from_utc=datetime(2026, 6, 16, 12, tzinfo=UTC),
        winds_to_utc=datetime(2026, 6, 16, 18, tzinfo=UTC),
    )
    bare = RouteDescription(
        name="Bare",
        departure="XNOR",
        destination="XSOU",
        points=(),
        altitude_ft=None,
        departure_utc=None,
        aircraft="",
        winds=(),
        isa_deviation_c=None,
        fuel_on_board_l=None,
        reserve_rule="",
        remarks="",
    )
    assert read_routes(write_routes((route, bare)), name="routes.toml") == (route, bare)
