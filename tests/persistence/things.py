"""Small valid things to store, and Hypothesis strategies for all that can be stored."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from server.navigation.aircraft import Aircraft, ClimbRow, CompassCardEntry, CruiseRow, DescentRow, FuelUnit, SpeedKind, SpeedUnit
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.places import Airfield, Checkpoint, Runway
from server.navigation.position import Position
from server.navigation.route import LegChoice, NorthReference, PointKind, Route, RoutePoint, WindLayer
from server.radio.beacon import (
    Beacon,
    BeaconKind,
    Component,
    ComponentKind,
    ComponentStatus,
    CoverageSector,
    Outage,
    ServiceClass,
    UnusableSector,
)


def a_beacon(region_id: int, ident: str = "AAA", **other: Any) -> Beacon:
    plain = {
        "name": "Alpha Hill",
        "kind": BeaconKind.VOR,
        "frequency_khz": 113_400,
        "position": Position(lat_deg=43.0, lon_deg=-36.0),
        "alignment": Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-11.0, year=2020),
        "components": (Component(kind=ComponentKind.AZIMUTH, status=ComponentStatus.OPERATING, outages=(Outage(reason="mast"),)),),
    }
    return Beacon(region_id=region_id, ident=ident, **{**plain, **other})


def an_airfield(region_id: int, ident: str = "XAAA", **other: Any) -> Airfield:
    plain = {"name": "Alpha Field", "position": Position(lat_deg=43.1, lon_deg=-36.1), "runways": (Runway(designator="09/27"),)}
    return Airfield(region_id=region_id, ident=ident, **{**plain, **other})


def a_checkpoint(region_id: int, name: str = "Long Lake", **other: Any) -> Checkpoint:
    plain = {"feature": "lake", "position": Position(lat_deg=43.2, lon_deg=-36.2)}
    return Checkpoint(region_id=region_id, name=name, **{**plain, **other})


def an_aircraft(registration: str = "X-ABCD", **other: Any) -> Aircraft:
    plain = {
        "cruise_speed_kt": 100.0,
        "cruise_fuel_l_per_h": 30.0,
        "climb_speed_kt": 70.0,
        "climb_rate_ft_per_min": 600.0,
        "climb_fuel_l_per_h": 40.0,
        "taxi_fuel_l": 4.0,
        "usable_fuel_l": 150.0,
    }
    return Aircraft(registration=registration, **{**plain, **other})


def a_route(region_id: int, departure: int, destination: int, name: str = "Round the lake", **other: Any) -> Route:
    return Route(region_id=region_id, name=name, departure_airfield_id=departure, destination_airfield_id=destination, **other)


# Strategies. Text holds quotes, newlines and every script, but neither a zero character nor half a surrogate pair.
words = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=20)
numbers = st.floats(allow_nan=False, allow_infinity=False)
maybe = st.none() | numbers
days = st.none() | st.dates()
positions = st.builds(
    Position, lat_deg=st.floats(-90.0, 90.0, allow_nan=False), lon_deg=st.floats(-180.0, 180.0, exclude_max=True, allow_nan=False)
)
moments = st.datetimes(
    datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=st.sampled_from([UTC, timezone(timedelta(hours=-9, minutes=-30))])
)


def _few(part: st.SearchStrategy) -> st.SearchStrategy:
    return st.lists(part, max_size=3).map(tuple)


components = st.builds(
    Component,
    kind=st.sampled_from(ComponentKind),
    status=st.sampled_from(ComponentStatus),
    service_class=st.none() | st.sampled_from(ServiceClass),
    position=st.none() | positions,
    elevation_ft=maybe,
    coverage=_few(
        st.builds(
            CoverageSector,
            from_radial_deg=numbers,
            to_radial_deg=numbers,
            range_nm=numbers,
            lowest_altitude_ft=maybe,
            highest_altitude_ft=maybe,
        )
    ),
    unusable=_few(
        st.builds(
            UnusableSector,
            from_radial_deg=numbers,
            to_radial_deg=numbers,
            beyond_nm=maybe,
            within_nm=maybe,
            below_altitude_ft=maybe,
            source=words,
        )
    ),
    outages=_few(st.builds(Outage, first_day=days, last_day=days, reason=words)),
    power_w=maybe,
    last_confirmed=days,
    source=words,
)


def beacons(region_id: int) -> st.SearchStrategy[Beacon]:
    return st.builds(
        Beacon,
        region_id=st.just(region_id),
        ident=words,
        name=words,
        kind=st.sampled_from(BeaconKind),
        frequency_khz=st.none() | st.integers(0, 2**31 - 1),
        channel=words,
        position=positions,
        elevation_ft=maybe,
        antenna_height_ft=maybe,
        alignment=st.builds(
            Alignment,
            kind=st.sampled_from(AlignmentKind),
            declination_deg=maybe,
            year=st.none() | st.integers(1900, 2100),
            source=words,
        ),
        components=_few(components),
        voice=st.none() | st.booleans(),
        remarks=words,
        source=words,
    )


def airfields(region_id: int) -> st.SearchStrategy[Airfield]:
    return st.builds(
        Airfield,
        region_id=st.just(region_id),
        ident=words,
        name=words,
        position=positions,
        elevation_ft=maybe,
        runways=_few(st.builds(Runway, designator=words, length_m=maybe, surface=words)),
        time_zone=words,
        closed=st.booleans(),
        remarks=words,
        source=words,
    )


def checkpoints(region_id: int) -> st.SearchStrategy[Checkpoint]:
    return st.builds(
        Checkpoint,
        region_id=st.just(region_id),
        name=words,
        feature=words,
        position=positions,
        elevation_ft=maybe,
        remarks=words,
        source=words,
    )


aircraft = st.builds(
    Aircraft,
    registration=words,
    type_name=words,
    cruise_speed_kt=numbers,
    cruise_speed_kind=st.sampled_from(SpeedKind),
    cruise_fuel_l_per_h=numbers,
    climb_speed_kt=numbers,
    climb_rate_ft_per_min=numbers,
    climb_fuel_l_per_h=numbers,
    descent_rate_ft_per_min=numbers,
    taxi_fuel_l=numbers,
    usable_fuel_l=numbers,
    speed_unit=st.sampled_from(SpeedUnit),
    fuel_unit=st.sampled_from(FuelUnit),
    fuel_density_kg_per_l=numbers,
    cruise_table=_few(
        st.builds(CruiseRow, power=words, pressure_altitude_ft=numbers, isa_deviation_c=numbers, tas_kt=numbers, fuel_l_per_h=numbers)
    ),
    climb_table=_few(st.builds(ClimbRow, pressure_altitude_ft=numbers, time_min=numbers, fuel_l=numbers, air_distance_nm=numbers)),
    descent_table=_few(st.builds(DescentRow, pressure_altitude_ft=numbers, time_min=numbers, fuel_l=numbers, air_distance_nm=numbers)),
    climb_percent_per_warm_c=maybe,
    compass_card=_few(st.builds(CompassCardEntry, magnetic_deg=numbers, steer_deg=numbers)),
    remarks=words,
)


def routes(region_id: int, *, airfield_id: int, beacon_id: int, checkpoint_id: int, aircraft_id: int) -> st.SearchStrategy[Route]:
    """Routes over one airfield, beacon, checkpoint and aircraft, with points of every kind."""
    at_beacon, at_airfield = st.just(beacon_id), st.just(airfield_id)
    kind = {each: st.just(each) for each in PointKind}
    choices = st.builds(LegChoice, altitude_ft=maybe, changeover_nm=maybe, changeover_reason=words)
    points = st.one_of(
        st.builds(RoutePoint, kind=kind[PointKind.AIRFIELD], name=words, place_id=at_airfield, onward=choices),
        st.builds(RoutePoint, kind=kind[PointKind.BEACON], name=words, place_id=at_beacon, onward=choices),
        st.builds(RoutePoint, kind=kind[PointKind.CHECKPOINT], name=words, place_id=st.just(checkpoint_id), onward=choices),
        st.builds(
            RoutePoint, kind=kind[PointKind.RADIAL_DISTANCE], name=words, beacon_id=at_beacon, radial_deg=numbers, distance_nm=numbers
        ),
        st.builds(
            RoutePoint,
            kind=kind[PointKind.TWO_RADIALS],
            name=words,
            beacon_id=at_beacon,
            radial_deg=numbers,
            second_beacon_id=at_beacon,
            second_radial_deg=numbers,
        ),
        st.builds(RoutePoint, kind=kind[PointKind.POSITION], name=words, position=positions),
    )
    winds = st.builds(
        WindLayer,
        altitude_ft=numbers,
        from_deg=numbers,
        speed_kt=numbers,
        reference=st.sampled_from(NorthReference),
        temperature_c=maybe,
    )
    return st.builds(
        Route,
        region_id=st.just(region_id),
        name=words,
        departure_airfield_id=at_airfield,
        destination_airfield_id=at_airfield,
        points=_few(points),
        altitude_ft=maybe,
        departure_utc=st.none() | moments,
        aircraft_id=st.none() | st.just(aircraft_id),
        winds=_few(winds),
        isa_deviation_c=maybe,
        fuel_on_board_l=maybe,
        reserve_rule=words,
        remarks=words,
        onward=choices,
        qnh_hpa=maybe,
        winds_source=words,
        winds_from_utc=st.none() | moments,
        winds_to_utc=st.none() | moments,
        cruise_power=words,
        alternate_airfield_id=st.none() | at_airfield,
        extra_fuel_l=maybe,
        level_rule=words,
        corridor_nm=maybe,
    )
