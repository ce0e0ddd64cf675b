"""How far apart aids may stand, where to change over, and the 22 NM of a MOCA, against the rules that other parts of the trade rest on.

Sources: FAA Aeronautical Information Manual 5-1-8 c3 (editions of 2016 to 2021) and 5-3-6; FAA Order JO 7400.2, 20-3-2 and 20-4-1;
14 CFR 95.1(e) and 95.8001; service volumes of AIM TBL 1-1-1. The stations are invented.
"""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position, destination
from server.planning import plan
from server.planning.changeover import changeover_nm
from server.planning.guidance import gaps
from server.planning.log import Sense
from server.radio import ComponentKind, LegPath, ReceptionState, ServiceClass, radio_horizon_nm, volume_range_nm, volume_state
from server.units import METRES_PER_STATUTE_MILE, nautical_miles_from_metres
from tests.builders import flat_ground
from tests.planning.planning_builders import a_part, a_vor, at, materials_for, over
from tests.radio.radio_builders import MAST, a_beacon, a_component, a_path, a_survey

MOCA_RECEPTION_NM = 22.0  # 14 CFR 95.1(e)
OBSTACLE_CLEARANCE_FT = 1000.0  # least height of a MOCA over the ground, 2,000 ft in mountains (FAA TERPS, from memory)


def neither_covers_nm(letters: str, height_ft: float, apart_nm: float) -> np.ndarray:
    """Places [NM] on the straight line between two stations of a class that lie in the volume of neither."""
    along_nm = np.linspace(0.0, apart_nm, 2001)
    heights_ft = np.full(along_nm.shape, height_ft)
    inside = [
        volume_state(service_class=ServiceClass(letters), height_ft=heights_ft, distance_nm=distance).inside
        for distance in (along_nm, apart_nm - along_nm)
    ]
    return along_nm[~(inside[0] | inside[1])]


# (class, lowest and highest height above the transmitters of the rule [ft], greatest spacing [NM])
SPACINGS = [
    ("R1, R5: below 18,000 ft", "L", 1000.0, 17_999.0, 80.0),
    ("R2: 14,500 to 17,999 ft, conterminous states", "H", 14_501.0, 17_999.0, 200.0),  # at 14,500 itself two lines of the table meet
    ("R3, R6: 18,000 ft to flight level 450", "H", 18_000.0, 45_000.0, 260.0),
    ("R4: above flight level 450", "H", 45_001.0, 60_000.0, 200.0),
]


@pytest.mark.parametrize(("rule", "letters", "lowest_ft", "highest_ft", "apart_nm"), SPACINGS)
def test_agrees_with_aim_5_1_8_that_volumes_meet_at_the_greatest_spacing_and_no_further(rule, letters, lowest_ft, highest_ft, apart_nm):
    for height_ft in np.linspace(lowest_ft, highest_ft, 40):
        assert neither_covers_nm(letters, height_ft, apart_nm).size == 0, rule
        assert 2.0 * volume_range_nm(ServiceClass(letters), height_ft) == apart_nm, rule
        open_nm = neither_covers_nm(letters, height_ft, apart_nm + 2.0)
        assert (open_nm.min(), open_nm.max()) == (pytest.approx(apart_nm / 2.0, abs=0.2), pytest.approx(apart_nm / 2.0 + 2.0, abs=0.2))


@pytest.mark.parametrize("altitude_ft", [1500.0, 4500.0, 9500.0, 17_500.0])
def test_agrees_with_aim_5_1_8_that_two_class_l_stations_80_nm_apart_serve_the_whole_leg(altitude_ft):
    # Over smooth earth terrain takes nothing away at these heights: the horizon of 1,500 ft alone is 47 NM.
    assert radio_horizon_nm(1400.0) > 40.0
    station = a_component(coverage=(), service_class=ServiceClass.L)
    end = destination(MAST, bearing_true_deg=0.0, distance_nm=79.999)
    path = a_path(MAST, end, altitude_ft)
    ground = flat_ground(0.0)
    behind, ahead = (a_survey(path, ground, a_beacon(station, position=position)).stretches for position in (MAST, end))
    silent_nm = [gap for stretches in (behind, ahead) for gap in gaps(stretches)]
    assert silent_nm == [(pytest.approx(40.0, abs=0.02), pytest.approx(80.0, abs=0.02)), (0.0, pytest.approx(40.0, abs=0.02))]
    assert changeover_nm(behind, ahead) == pytest.approx(40.0, abs=0.02)  # 14 CFR 95.8001: midway


def test_the_lowest_volume_of_class_l_reaches_a_mile_beyond_the_horizon_of_an_antenna_on_the_ground():
    # 1.23 sqrt(1000) = 38.9 NM: at 1,000 ft the 40 NM need an antenna about 1 ft up
    assert radio_horizon_nm(1000.0) == pytest.approx(38.9, abs=0.05)
    assert volume_range_nm(ServiceClass.L, 1000.0) == 40.0 < radio_horizon_nm(1000.0, 1.0)


@pytest.mark.parametrize("apart_nm", [30.0, 60.0, 79.9])
def test_agrees_with_14_cfr_95_8001_that_the_changeover_is_midway(apart_nm):
    low = (a_part(ComponentKind.AZIMUTH, coverage=(), service_class=ServiceClass.L),)
    start = Position(lat_deg=43.5, lon_deg=-36.8)
    stations = [
        a_vor("AAA", start, components=low),
        a_vor("BBB", destination(start, bearing_true_deg=80.0, distance_nm=apart_nm), components=low),
    ]
    materials = materials_for(
        *map(over, stations), beacons=stations, start=destination(start, bearing_true_deg=270.0, distance_nm=10.0), altitude_ft=4500.0
    )
    assert plan(materials).log.legs[1].changeover_nm == pytest.approx(apart_nm / 2.0, abs=0.05)


def test_agrees_with_aim_5_3_6_that_on_a_dogleg_the_changeover_is_at_the_bend():
    bend = Position(lat_deg=43.5, lon_deg=-36.5)
    behind = a_vor("AAA", destination(bend, bearing_true_deg=250.0, distance_nm=15.0))
    ahead = a_vor("BBB", destination(bend, bearing_true_deg=120.0, distance_nm=30.0))  # half way would be 7.5 NM beyond the bend
    materials = materials_for(over(behind), at(bend, "Bend"), over(ahead), beacons=(behind, ahead))
    to_bend, from_bend = plan(materials).log.legs[1:3]
    assert (to_bend.changeover_nm, from_bend.changeover_nm) == (None, None)
    assert [(each.beacon.ident, each.sense) for each in to_bend.guidance] == [("AAA", Sense.FROM)]
    assert [(each.beacon.ident, each.sense) for each in from_bend.guidance] == [("BBB", Sense.TO)]


def moca_leg(distance_nm: float) -> LegPath:
    return a_path(MAST, destination(MAST, bearing_true_deg=45.0, distance_nm=distance_nm), OBSTACLE_CLEARANCE_FT + 30.0)


@pytest.mark.parametrize("letters", ["T", "L", "H", "VL", "VH"])
def test_agrees_with_14_cfr_95_1_that_a_moca_gives_reception_within_22_nm_of_a_vor_of_any_class(letters):
    # A MOCA clears the ground by 1,000 ft; 22 NM see down to (22 / 1.23)^2 = 320 ft over smooth earth, and class T reaches 25 NM.
    assert radio_horizon_nm(320.0) == pytest.approx(MOCA_RECEPTION_NM, abs=0.05)
    station = a_beacon(a_component(coverage=(), service_class=ServiceClass(letters)), antenna_height_ft=26.0)
    survey = a_survey(moca_leg(MOCA_RECEPTION_NM), flat_ground(0.0), station)
    assert gaps(survey.stretches) == ()
    assert survey.states[-1] is ReceptionState.RECEIVED


def test_a_moca_promises_nothing_beyond_22_nm_where_a_terminal_station_ends_at_25():
    station = a_beacon(a_component(coverage=(), service_class=ServiceClass.T), antenna_height_ft=26.0)
    survey = a_survey(moca_leg(30.0), flat_ground(0.0), station)
    assert gaps(survey.stretches) == ((pytest.approx(25.0, abs=0.01), pytest.approx(30.0, abs=0.01)),)


def test_the_glossary_s_25_statute_miles_are_the_22_nm_of_the_rule_rounded():  # FAA Pilot/Controller Glossary, MOCA
    reception_nm = nautical_miles_from_metres(25.0 * METRES_PER_STATUTE_MILE)
    assert (round(reception_nm, 1), round(reception_nm)) == (21.7, MOCA_RECEPTION_NM)
