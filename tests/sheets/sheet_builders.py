"""A small invented flight for the tests of the sheets: three legs, the second of which loses its beacon behind a ridge."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
from pyproj import Geod

from server.navigation.aircraft import Aircraft, CompassCardEntry
from server.navigation.alignment import Alignment, AlignmentKind
from server.navigation.places import Airfield, Checkpoint
from server.navigation.position import Position
from server.navigation.route import PointKind, Route
from server.planning.gaps import gaps_of_leg
from server.planning.log import (
    BeaconReception,
    FlightPart,
    FuelPlan,
    Guidance,
    LegWind,
    LogLeg,
    LogPoint,
    NavigationLog,
    Note,
    NoteLevel,
    PartKind,
    ProfilePoint,
    Sense,
)
from server.radio.beacon import Beacon, BeaconKind, Component, ComponentKind, ComponentStatus, ServiceClass
from server.radio.reception import Cause, Finding, ReceptionState, Ridge, Stretch

GEOD = Geod(ellps="WGS84")
CRUISE_FT = 6500.0
VARIATION_DEG = -14.2
RIDGE_LON_DEG = -35.86
LEG_2_NM = 52.55


class RidgeGround:
    """Rolling land with one north-south ridge, sea in the south, and nothing known east of 35°W."""

    fingerprint = "ridge-ground-for-tests"

    def elevations_m(self, *, lat_deg, lon_deg):
        lat, lon = np.asarray(lat_deg, float), np.asarray(lon_deg, float)
        rolling = 420.0 + 160.0 * np.sin(lon * 23.0) * np.cos(lat * 31.0) + 70.0 * np.sin(lon * 71.0 + lat * 57.0)
        ridge = 1750.0 * np.exp(-(((lon - RIDGE_LON_DEG - 0.1 * np.sin(lat * 9.0)) / 0.045) ** 2)) * (0.85 + 0.15 * np.sin(lat * 40.0))
        shore = np.clip((lat - 42.72 - 0.05 * np.sin(lon * 11.0)) / 0.12, 0.0, 1.0)
        ground = np.where(shore > 0.0, (rolling + ridge) * shore, 0.0)
        return np.where(lon > -35.0 + 0.04 * np.sin(lat * 30.0), np.nan, ground)

    def window(self, *, south_deg, north_deg, west_deg, east_deg):
        raise NotImplementedError("the sheets sample the ground, they ask for no window")


class FlatGround(RidgeGround):
    """The same height everywhere."""

    def __init__(self, elevation_m=100.0):
        self.elevation_m = elevation_m

    def elevations_m(self, *, lat_deg, lon_deg):
        return np.full(np.shape(lat_deg), self.elevation_m)


def a_beacon(ident="KEV", name="Kevholm", *, lat=43.0, lon=-36.5, kind=BeaconKind.VOR_DME, frequency_khz=113350, **changes):
    azimuth = Component(kind=ComponentKind.AZIMUTH, status=ComponentStatus.OPERATING, service_class=ServiceClass.VL)
    return Beacon(
        **{
            "id": sum(map(ord, ident)),
            "region_id": 1,
            "ident": ident,
            "name": name,
            "kind": kind,
            "frequency_khz": frequency_khz,
            "position": Position(lat_deg=lat, lon_deg=lon),
            "elevation_ft": 1320.0,
            "alignment": Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-10.0, year=1985, source="invented"),
            "components": (azimuth,),
            **changes,
        }
    )


KEV = a_beacon()
TRV = a_beacon(
    "TRV",
    "Torvey",
    lat=43.14,
    lon=-35.32,
    kind=BeaconKind.VORTAC,
    frequency_khz=115700,
    channel="104X",
    alignment=Alignment(kind=AlignmentKind.MAGNETIC, declination_deg=-14.0, year=2021, source="invented"),
)
OSK = a_beacon(
    "OSK", "Oskar Head", lat=42.83, lon=-36.1, kind=BeaconKind.NDB, frequency_khz=373, alignment=Alignment(kind=AlignmentKind.UNKNOWN)
)
YUV = a_beacon(
    "YUV",
    "Yuvik",
    lat=43.32,
    lon=-36.05,
    kind=BeaconKind.VOR,
    frequency_khz=112200,
    alignment=Alignment(kind=AlignmentKind.TRUE, declination_deg=0.0),
)
TAC = a_beacon("BRG", "Bergen Flat", lat=42.95, lon=-35.55, kind=BeaconKind.TACAN, frequency_khz=109200, channel="29X")
DEM = a_beacon("DUM", "Dumol", lat=43.35, lon=-35.6, kind=BeaconKind.DME, frequency_khz=110600, channel="43X")


def an_airfield(ident="XKA", name="Kevholm Meadow", *, lat=42.86, lon=-36.86, **changes):
    return Airfield(
        **{
            "id": 1,
            "region_id": 1,
            "ident": ident,
            "name": name,
            "position": Position(lat_deg=lat, lon_deg=lon),
            "elevation_ft": 1217.0,
            "time_zone": "Etc/GMT+2",
            **changes,
        }
    )


def an_aircraft(**changes):
    return Aircraft(
        **{
            "registration": "XX-BCN",
            "type_name": "two-seat trainer",
            "cruise_speed_kt": 105.0,
            "cruise_fuel_l_per_h": 24.0,
            "climb_speed_kt": 75.0,
            "climb_rate_ft_per_min": 650.0,
            "climb_fuel_l_per_h": 34.0,
            "taxi_fuel_l": 3.0,
            "usable_fuel_l": 98.0,
            "compass_card": (CompassCardEntry(magnetic_deg=0.0, steer_deg=2.0), CompassCardEntry(magnetic_deg=180.0, steer_deg=178.0)),
            **changes,
        }
    )


CHECKPOINTS = (
    Checkpoint(region_id=1, name="Halm Bridge", feature="bridge", position=Position(lat_deg=42.94, lon_deg=-36.66)),
    Checkpoint(region_id=1, name="Lake Orrin", feature="lake", position=Position(lat_deg=43.05, lon_deg=-36.2)),
    Checkpoint(region_id=1, name="Skarn Pass", feature="pass", position=Position(lat_deg=43.09, lon_deg=-35.84)),
)
DEPARTURE = an_airfield()
DESTINATION = an_airfield("XTS", "Torvey South", lat=43.02, lon=-34.86, id=2, elevation_ft=310.0)


def a_point(number, kind, name, ident, position, beacon=None, **changes):
    return LogPoint(
        **{
            "number": number,
            "kind": kind,
            "name": name,
            "ident": ident,
            "position": position,
            "elevation_ft": 1217.0,
            "altitude_ft": CRUISE_FT,
            "beacon": beacon,
            **changes,
        }
    )


def received(from_nm, to_nm):
    return Stretch(from_nm=from_nm, to_nm=to_nm, state=ReceptionState.RECEIVED)


def the_ridge(from_beacon_nm=24.3):
    """The crest of RidgeGround where the second leg crosses it."""
    return Ridge(position=Position(lat_deg=43.0702, lon_deg=-35.9489), elevation_m=1995.0, distance_from_beacon_nm=from_beacon_nm)


def hidden(from_nm, to_nm, *, lowest_altitude_ft=9430.0):
    finding = Finding(cause=Cause.TERRAIN, state=ReceptionState.NOT_RECEIVED, ridge=the_ridge(), lowest_altitude_ft=lowest_altitude_ft)
    return Stretch(from_nm=from_nm, to_nm=to_nm, state=ReceptionState.NOT_RECEIVED, findings=(finding,))


def only_just(from_nm, to_nm):
    finding = Finding(cause=Cause.TERRAIN, state=ReceptionState.MARGINAL, ridge=the_ridge(), lowest_altitude_ft=6710.0)
    return Stretch(from_nm=from_nm, to_nm=to_nm, state=ReceptionState.MARGINAL, findings=(finding,))


def a_reception(beacon, stretches, component=ComponentKind.AZIMUTH):
    return BeaconReception(
        beacon=beacon,
        component=component,
        stretches=tuple(stretches),
        first_heard_nm=0.0,
        lost_nm=None,
        lowest_altitude_whole_leg_ft=9430.0,
    )


def guided(beacon, sense, selected, radial, from_nm, to_nm, **changes):
    return Guidance(
        **{
            "beacon": beacon,
            "component": ComponentKind.AZIMUTH,
            "sense": sense,
            "selected_course_deg": selected,
            "radial_deg": radial,
            "reference": "M",
            "estimated": False,
            "bearing_magnetic_deg": None,
            "from_nm": from_nm,
            "to_nm": to_nm,
            **changes,
        }
    )


def a_leg(number, start, end, *, start_nm=0.0, arrival=datetime(2026, 6, 20, 14, 30, tzinfo=UTC), guidance=(), receptions=(), **changes):
    track, _, metres = GEOD.inv(start.position.lon_deg, start.position.lat_deg, end.position.lon_deg, end.position.lat_deg)
    distance, heading = metres / 1852.0, track % 360 - 6.4
    wind = changes.get("wind", LegWind(from_true_deg=348.0, from_magnetic_deg=2.2, speed_kt=12.4))
    level = FlightPart(
        kind=PartKind.LEVEL,
        from_nm=0.0,
        to_nm=distance,
        from_ft=CRUISE_FT,
        to_ft=CRUISE_FT,
        true_airspeed_kt=111.3,
        wind=wind,
        wind_correction_deg=-6.4,
        heading_true_deg=heading,
        heading_magnetic_deg=heading - VARIATION_DEG,
        heading_compass_deg=heading - VARIATION_DEG + 1.3,
        groundspeed_kt=113.9,
        time_min=distance / 113.9 * 60.0,
        fuel_l=distance / 113.9 * 24.0,
    )
    return LogLeg(
        **{
            "parts": (level,),
            "number": number,
            "start": start,
            "end": end,
            "distance_nm": distance,
            "start_nm": start_nm,
            "track_true_deg": track % 360,
            "track_magnetic_deg": track % 360 - VARIATION_DEG,
            "variation_deg": VARIATION_DEG,
            "altitude_ft": CRUISE_FT,
            "true_altitude_ft": CRUISE_FT,
            "wind": wind,
            "wind_correction_deg": -6.4,
            "heading_true_deg": heading,
            "heading_magnetic_deg": heading - VARIATION_DEG,
            "heading_compass_deg": heading - VARIATION_DEG + 1.3,
            "true_airspeed_kt": 111.3,
            "groundspeed_kt": 113.9,
            "time_min": distance / 113.9 * 60.0,
            "fuel_l": distance / 113.9 * 24.0,
            "fuel_remaining_l": 95.0 - (start_nm + distance) / 113.9 * 24.0,
            "arrival_utc": arrival,
            "highest_ground_ft": 6496.0,
            "ground_known": True,
            "levels": None,
            "guidance": tuple(guidance),
            "changeover_nm": None,
            "changeover_min": None,
            "changeover_chosen": False,
            "changeover_reason": "",
            "stretches": (received(0.0, distance),),
            "receptions": tuple(receptions),
            "notes": (),
            **changes,
        }
    )


def _second_leg(kev, trv, start_nm):
    guidance = (guided(KEV, Sense.FROM, 90.6, 90.6, 0.0, 28.0), guided(TRV, Sense.TO, 95.4, 275.4, 28.0, LEG_2_NM))
    kev_part = a_reception(KEV, (received(0.0, 24.2), only_just(24.2, 25.7), hidden(25.7, LEG_2_NM)))
    trv_part = a_reception(TRV, (hidden(0.0, 30.8, lowest_altitude_ft=8120.0), received(30.8, LEG_2_NM)))
    gap = hidden(25.7, 30.8, lowest_altitude_ft=7010.0)
    return a_leg(
        2,
        kev,
        trv,
        start_nm=start_nm,
        arrival=datetime(2026, 6, 20, 14, 48, tzinfo=UTC),
        guidance=guidance,
        changeover_nm=28.0,
        receptions=(kev_part, trv_part),
        stretches=(received(0.0, 24.2), only_just(24.2, 25.7), gap, received(30.8, LEG_2_NM)),
        notes=(Note(code="gap", level=NoteLevel.WARNING, message="No beacon guides the middle of this leg.", leg_number=2),),
    )


def a_log(**changes) -> NavigationLog:
    """Kevholm Meadow - KEV - TRV - Torvey South at 6,500 ft."""
    dep = a_point(0, PointKind.AIRFIELD, DEPARTURE.name, DEPARTURE.ident, DEPARTURE.position, altitude_ft=1217.0)
    kev = a_point(1, PointKind.BEACON, KEV.name, KEV.ident, KEV.position, KEV)
    trv = a_point(2, PointKind.BEACON, TRV.name, TRV.ident, TRV.position, TRV)
    dest = a_point(3, PointKind.AIRFIELD, DESTINATION.name, DESTINATION.ident, DESTINATION.position, altitude_ft=310.0)
    first = a_leg(1, dep, kev, guidance=(guided(KEV, Sense.TO, 72.7, 252.7, 0.0, 17.9),))
    first = replace(first, receptions=(a_reception(KEV, (received(0.0, first.distance_nm),)),))
    second = _second_leg(kev, trv, first.distance_nm)
    third_start = second.start_nm + second.distance_nm
    unknown = Finding(cause=Cause.TERRAIN_UNKNOWN, state=ReceptionState.UNKNOWN)
    third = a_leg(3, trv, dest, start_nm=third_start, guidance=(guided(TRV, Sense.FROM, 124.6, 124.6, 0.0, 21.5),), ground_known=False)
    stretches = (received(0.0, 14.2), Stretch(from_nm=14.2, to_nm=third.distance_nm, state=ReceptionState.UNKNOWN, findings=(unknown,)))
    third = replace(third, stretches=stretches, receptions=(a_reception(TRV, stretches),))
    total = third_start + third.distance_nm
    departure_utc = datetime(2026, 6, 20, 14, 10, tzinfo=UTC)
    minutes = sum(leg.time_min for leg in (first, second, third)) + 4.2
    profile = tuple(
        ProfilePoint(distance_nm=at, altitude_ft=ft)
        for at, ft in ((0.0, 1217.0), (11.0, CRUISE_FT), (total - 20.0, CRUISE_FT), (total, 310.0))
    )
    return NavigationLog(
        **{
            "route": Route(region_id=1, name="Over the Skarn", departure_airfield_id=1, destination_airfield_id=2, altitude_ft=CRUISE_FT),
            "region_name": "The Norrin Isles",
            "region_fictional": True,
            "region_notice": "",
            "departure": DEPARTURE,
            "destination": DESTINATION,
            "aircraft": an_aircraft(),
            "points": (dep, kev, trv, dest),
            "legs": (first, second, third),
            "profile": profile,
            "true_profile": profile,
            "total_distance_nm": total,
            "total_time_min": minutes,
            "climb_min": 4.2,
            "descent_min": 6.0,
            "departure_utc": departure_utc,
            "arrival_utc": departure_utc + timedelta(minutes=minutes),
            "fuel": FuelPlan(
                on_board_l=98.0,
                taxi_l=3.0,
                trip_l=21.3,
                climb_l=2.4,
                level_l=17.4,
                descent_l=1.5,
                alternate_l=0.0,
                extra_l=0.0,
                cruise_l_per_h=24.0,
                reserve_l=12.0,
                reserve_minutes=30.0,
                reserve_rule="US day VFR, 30 min at normal cruise (14 CFR 91.151)",
                margin_l=61.7,
                endurance_min=237.0,
            ),
            "alternate": None,
            "turn_back": None,
            "complete": True,
            "magnetic_model": "World Magnetic Model 2025",
            "magnetic_model_valid": True,
            "ground_fingerprint": "9f2c51d07ab34e6688",
            "beacon_data_date": "confirmed between 1 Feb 2026 and 14 Mar 2026",
            "notes": (Note(code="airspace", level=NoteLevel.ADVICE, message="Airspace and obstacles are not part of the data."),),
            "gaps": tuple(gaps_of_leg(leg) for leg in (first, second, third)),
            **changes,
        }
    )


def a_long_log(legs=40) -> NavigationLog:
    """The second leg of the sample flight, flown many times over: enough rows for several pages."""
    log = a_log()
    pattern = log.legs[1]
    return replace(log, legs=tuple(replace(pattern, number=number) for number in range(1, legs + 1)), gaps=(log.gaps[1],) * legs)


HOSTILE = '#import "x" <script>alert(1)</script> "quotes" \'and\' $x^2$ \\ & 😀 é ' + "W" * 150


def a_hostile_log() -> NavigationLog:
    """Every text a user can type is hostile: markup of two languages, quotes, an emoji, and very long."""
    log = a_log()
    beacon = replace(KEV, name=HOSTILE, remarks=HOSTILE)
    start = replace(log.legs[0].end, name=HOSTILE, beacon=beacon)
    leg = replace(log.legs[1], start=start, guidance=(replace(log.legs[1].guidance[0], beacon=beacon),))
    return replace(
        log,
        route=replace(log.route, name=HOSTILE, remarks=HOSTILE + "\n#set page(width: 1mm)"),
        region_name=HOSTILE,
        departure=replace(log.departure, name=HOSTILE, time_zone="../../etc/passwd"),
        legs=(leg,),
        gaps=((), log.gaps[1]),
        notes=(Note(code="x", level=NoteLevel.STOP, message=HOSTILE),),
    )
