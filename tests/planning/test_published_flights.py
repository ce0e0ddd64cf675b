"""Whole flights from published examples, planned and compared line by line.

Sources: climb and descent items of the FAA's commercial pilot question bank and of a civil authority's bank modelled on it, with their
official answers as public copies give them; FAA-H-8083-25, Pilot's Handbook of Aeronautical Knowledge, navigation chapter; 14 CFR 91.151.
Where the answer is rounded to what a mechanical computer shows, the exact value beside it follows from the item's own numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from server.navigation import NorthReference, Position, WindLayer
from server.planning import plan
from server.planning.log import PartKind
from server.planning.profile import CIRCUIT_HEIGHT_FT
from server.units import litres_from_us_gallons, us_gallons_from_litres
from tests.planning.planning_builders import a_tourer, card_of, codes, leg_centred, level, materials_for

EVEN = {"taxi_fuel_l": 0.0, "usable_fuel_l": 10_000.0}


def wind(from_deg: float, speed_kt: float) -> tuple[WindLayer, ...]:
    return (WindLayer(altitude_ft=0.0, from_deg=from_deg, speed_kt=speed_kt, reference=NorthReference.TRUE),)


@dataclass(frozen=True)
class Slope:
    """A climb or descent: from and to [ft], rate, TAS, true course, wind, variation (east +), printed deviation, gal/h; then min, compass
    heading, NM, gal as the official answer gives them and as they come out exactly."""

    start_ft: float
    end_ft: float
    rate: float
    tas_kt: float
    track: float
    wind: tuple[float, float]
    variation: float
    deviation: float
    gal_per_h: float
    answer: tuple[float, float, float, float]
    exact: tuple[float, float, float, float]


SLOPES = {
    "commercial 35": Slope(2300, 10500, 600, 130, 305, (260, 25), 4, 3, 13, (14, 296, 25, 3.0), (13.67, 296.2, 25.31, 2.96)),
    "commercial 36": Slope(900, 8500, 500, 130, 220, (300, 30), -3, -2, 14, (15, 234, 31, 3.5), (15.20, 234.1, 30.75, 3.55)),
    "commercial 40": Slope(1500, 9500, 500, 140, 135, (70, 20), 5, -3, 12, (16, 120, 35, 3.2), (16.00, 119.6, 34.77, 3.20)),
    "climb from 1,000": Slope(1000, 9500, 500, 135, 215, (290, 20), -3, -2, 13, (17, 224, 36, 3.7), (17.00, 224.2, 36.39, 3.68)),
    "climb from 1,500": Slope(1500, 9500, 500, 160, 145, (80, 15), 5, -3, 14, (16, 132, 41, 3.7), (16.00, 132.1, 40.82, 3.73)),
    "descent to 800 over 700": Slope(6500, 1500, 500, 110, 335, (60, 15), -3, 2, 8.5, (10, 348, 18, 1.4), (10.00, 347.8, 17.95, 1.42)),
    "descent to 800 over 1,300": Slope(7500, 2100, 300, 120, 165, (240, 20), 4, -2, 9.6, (18, 168, 34, 2.9), (18.00, 168.3, 33.98, 2.88)),
    "descent to 1,000 over 1,700": Slope(
        10500, 2700, 600, 135, 263, (330, 30), 7, 3, 11.5, (13, 271, 26, 2.5), (13.00, 270.8, 26.09, 2.49)
    ),
}


@pytest.mark.parametrize("name", SLOPES)
def test_agrees_with_faa_knowledge_items_on_time_heading_distance_and_fuel_of_a_climb_or_descent(name: str):
    # The leg is as long as the slope, flown at one speed and flow, so its time and fuel are those of the slope.
    slope = SLOPES[name]
    climbing = slope.end_ft > slope.start_ft
    flow = litres_from_us_gallons(slope.gal_per_h)
    aircraft = a_tourer(
        cruise_speed_kt=slope.tas_kt,
        climb_speed_kt=slope.tas_kt,
        cruise_fuel_l_per_h=flow,
        climb_fuel_l_per_h=flow,
        climb_rate_ft_per_min=slope.rate,
        descent_rate_ft_per_min=slope.rate,
        compass_card=card_of(slope.deviation),
        **EVEN,
    )
    start, end = leg_centred(slope.track, slope.exact[2])
    elevations = {"departure": {"elevation_ft": slope.start_ft if climbing else None}}
    elevations |= {"arrival": {"elevation_ft": None if climbing else slope.end_ft - CIRCUIT_HEIGHT_FT}}
    log = plan(
        materials_for(
            start=start,
            end=end,
            altitude_ft=max(slope.start_ft, slope.end_ft),
            winds=wind(*slope.wind),
            aircraft=aircraft,
            variation_deg=slope.variation,
            ground=level(-300.0),
            **elevations,
        )
    ).log
    leg = log.legs[0]
    figures = (leg.time_min, leg.heading_compass_deg, leg.groundspeed_kt * leg.time_min / 60.0, us_gallons_from_litres(leg.fuel_l))
    for figure, exact, unit in zip(figures, slope.exact, (0.01, 0.1, 0.01, 0.01), strict=True):
        assert figure == pytest.approx(exact, abs=0.6 * unit)
    for figure, answer, tolerance in zip(figures, slope.answer, (0.5, 1.0, 0.5, 0.1), strict=True):
        assert figure == pytest.approx(answer, abs=tolerance)
    flown = {part.kind for part in leg.parts if part.to_nm - part.from_nm > 0.01}  # the exact length is rounded to 0.01 NM
    assert flown == {PartKind.CLIMB if climbing else PartKind.DESCENT}


@pytest.mark.parametrize("name", SLOPES)
def test_a_climb_or_descent_on_a_longer_leg_takes_the_time_distance_and_fuel_of_the_faa_items(name: str):
    slope = SLOPES[name]
    climbing = slope.end_ft > slope.start_ft
    flow = litres_from_us_gallons(slope.gal_per_h)
    aircraft = a_tourer(
        cruise_speed_kt=slope.tas_kt,
        climb_speed_kt=slope.tas_kt,
        cruise_fuel_l_per_h=flow,
        climb_fuel_l_per_h=flow,
        climb_rate_ft_per_min=slope.rate,
        descent_rate_ft_per_min=slope.rate,
        **EVEN,
    )
    start, end = leg_centred(slope.track, 200.0)
    log = plan(
        materials_for(
            start=start,
            end=end,
            altitude_ft=max(slope.start_ft, slope.end_ft),
            winds=wind(*slope.wind),
            aircraft=aircraft,
            variation_deg=slope.variation,
            ground=level(-300.0),
            departure={"elevation_ft": slope.start_ft if climbing else None},
            arrival={"elevation_ft": None if climbing else slope.end_ft - CIRCUIT_HEIGHT_FT},
        )
    ).log
    part = log.legs[0].parts[0 if climbing else -1]
    assert part.kind is (PartKind.CLIMB if climbing else PartKind.DESCENT)
    assert (part.from_ft, part.to_ft) == (pytest.approx(slope.start_ft), pytest.approx(slope.end_ft))
    figures = (part.time_min, part.to_nm - part.from_nm, us_gallons_from_litres(part.fuel_l))
    for figure, exact in zip(figures, (slope.exact[0], *slope.exact[2:]), strict=True):
        assert figure == pytest.approx(exact, abs=0.006)


# Chickasha and Guthrie, Oklahoma: airport reference points of the open airport list of the Python package airportsdata.
CHICKASHA, GUTHRIE = Position(lat_deg=35.09714, lon_deg=-97.967681), Position(lat_deg=35.851258, lon_deg=-97.41609)


def test_agrees_with_faa_h_8083_25_planning_log_chickasha_to_guthrie():
    aircraft = a_tourer(cruise_speed_kt=115.0, cruise_fuel_l_per_h=litres_from_us_gallons(8.0), compass_card=card_of(2.0), **EVEN)
    log = plan(
        materials_for(
            start=CHICKASHA,
            end=GUTHRIE,
            altitude_ft=5500.0,
            winds=wind(360, 10),
            aircraft=aircraft,
            variation_deg=7.0,  # printed; the handbook's chart is old
            departure={"elevation_ft": None},  # cruise only: the handbook adds 5 minutes for the climb by rule
            arrival={"elevation_ft": None},
            fuel_on_board_l=litres_from_us_gallons(38.0),
            ground=level(350.0, south=34.5, north=36.5, west=-99.0, east=-96.0),
        )
    ).log
    leg = log.legs[0]
    assert (leg.track_true_deg, leg.distance_nm) == (pytest.approx(30.89, abs=0.01), pytest.approx(52.647, abs=0.001))
    assert leg.track_true_deg == pytest.approx(31.0, abs=1.0)
    assert leg.distance_nm == pytest.approx(53.0, abs=1.0)
    assert leg.wind_correction_deg == pytest.approx(-3.0, abs=1.0)
    assert leg.heading_true_deg == pytest.approx(28.0, abs=1.0)
    assert leg.heading_magnetic_deg == pytest.approx(21.0, abs=1.0)
    assert leg.heading_compass_deg == pytest.approx(23.0, abs=1.0)
    assert leg.groundspeed_kt == pytest.approx(106.0, abs=1.0)
    assert leg.time_min == pytest.approx(30.0, abs=0.5)
    assert us_gallons_from_litres(leg.fuel_l) + 8.0 * 5.0 / 60.0 == pytest.approx(4.7, abs=0.1)  # with its 5 minutes of climb
    assert log.fuel.endurance_min == pytest.approx(4 * 60 + 45)


ITEMS = {  # wind, NM, course, TAS, flow, minutes, fuel, official fuel, in the unit of the flow
    "135 NM against 175/20": (wind(175, 20), 135, 75, 80, 105, 99.99, 174.98, 175),
    "460 NM at 180 kt": (wind(0, 0), 460, 90, 180, 80, 153.33, 204.44, 205),
    "450 NM at 173 kt": (wind(0, 0), 450, 90, 173, 95, 156.07, 247.11, 248),
    "435 NM at 145 kt": (wind(0, 0), 435, 90, 145, 12.5, 180.0, 37.50, 38),
    "560 NM at 167 kt": (wind(0, 0), 560, 90, 167, 14.8, 201.20, 49.63, 50),
    "490 NM at 135 kt": (wind(0, 0), 490, 90, 135, 9.5, 217.78, 34.48, 34),
}


@pytest.mark.parametrize("name", ITEMS)
def test_agrees_with_faa_knowledge_items_on_time_and_fuel(name: str):
    winds, length_nm, track, tas_kt, flow, minutes, fuel, official = ITEMS[name]
    start, end = leg_centred(track, length_nm)
    aircraft = a_tourer(cruise_speed_kt=tas_kt, cruise_fuel_l_per_h=flow, **EVEN)
    unknown = {"elevation_ft": None}
    log = plan(materials_for(start=start, end=end, winds=winds, aircraft=aircraft, departure=unknown, arrival=unknown)).log
    assert log.total_time_min == pytest.approx(minutes, abs=0.01)
    assert log.legs[0].fuel_l == pytest.approx(fuel, abs=0.01)
    assert log.legs[0].fuel_l == pytest.approx(official, abs=1.0)


def flown_for(minutes: float, **changes):
    """A flight in still air at 120 kt that takes so many minutes, on 8 US gal/h."""
    start, end = leg_centred(90.0, 2.0 * minutes)
    aircraft = a_tourer(cruise_speed_kt=120.0, cruise_fuel_l_per_h=litres_from_us_gallons(8.0), **EVEN)
    unknown = {"elevation_ft": None}
    return materials_for(start=start, end=end, aircraft=aircraft, departure=unknown, arrival=unknown, **changes)


def test_38_gallons_at_8_an_hour_leave_4_h_10_after_35_minutes():  # 14 CFR 91.151 with the figures of FAA-H-8083-25
    log = plan(flown_for(35.0, fuel_on_board_l=litres_from_us_gallons(38.0))).log
    assert us_gallons_from_litres(log.legs[0].fuel_remaining_l) / 8.0 * 60.0 == pytest.approx(4 * 60 + 10, abs=1e-6)
    assert us_gallons_from_litres(log.fuel.reserve_l) == pytest.approx(4.0)
    assert us_gallons_from_litres(log.fuel.margin_l) / 8.0 * 60.0 == pytest.approx(3 * 60 + 40, abs=1e-6)
    assert log.complete


@pytest.mark.parametrize(("rule", "gallons"), [("us-day", 4.0), ("us-night", 6.0)])
def test_exactly_the_reserve_left_is_legal_and_a_second_less_is_not(rule: str, gallons: float):  # "at least", 14 CFR 91.151(a)
    trip_gal = 8.0 * 35.0 / 60.0
    log = plan(flown_for(35.0, fuel_on_board_l=litres_from_us_gallons(trip_gal + gallons), reserve_rule=rule)).log
    assert (log.fuel.margin_l >= 0.0, "fuel-short" in codes(log), log.complete) == (True, False, True)
    short = plan(flown_for(35.0, fuel_on_board_l=litres_from_us_gallons(trip_gal + gallons - 8.0 / 3600.0), reserve_rule=rule)).log
    assert (short.fuel.margin_l < 0.0, "fuel-short" in codes(short), short.complete) == (True, True, False)
