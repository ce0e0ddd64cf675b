"""How many beacons are received where: against asking each cell by itself, and against geometry by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from server.navigation import Position, bearings_and_distances, destination
from server.radio import BeaconKind, ChosenHeight, ComponentKind, ReceptionState, ServiceClass, fix_cover_of, heard_at
from server.radio.band import NO_DOUBT
from tests.builders import flat_ground, ridge_ground
from tests.radio.radio_builders import DAY, EVERYWHERE, MAST, a_beacon, a_component, strong

DME = a_component(ComponentKind.DISTANCE)


def station(ident: str, bearing_deg: float, distance_nm: float, *parts, kind: BeaconKind = BeaconKind.VOR, range_nm: float = 40.0):
    """A station some way from the mast, with a designated coverage of so many miles all round."""
    position = destination(MAST, bearing_true_deg=bearing_deg, distance_nm=distance_nm)
    near = (replace(EVERYWHERE[0], range_nm=range_nm),)
    parts = tuple(replace(part, coverage=near) for part in parts or (a_component(),))
    return strong(a_beacon(*parts, ident=ident, position=position, kind=kind))


STATIONS = (
    station("AAA", 250.0, 30.0),
    station("BBB", 80.0, 25.0, a_component(), DME, kind=BeaconKind.VOR_DME),
    station("CCC", 185.0, 40.0, range_nm=60.0),
    station("TAC", 10.0, 10.0, a_component(), DME, kind=BeaconKind.TACAN),
)
LAT, LON = np.linspace(43.6, 42.4, 7), np.linspace(-37.0, -35.0, 9)


def covered(stations, ground, feet: float = 3000.0, **how):
    how = {"height": ChosenHeight(feet=feet, above_ground=False), "on": DAY, "doubt": NO_DOUBT} | how
    return fix_cover_of(beacons=stations, lat_deg=LAT, lon_deg=LON, ground=ground, estimated_declination_deg=lambda _: -8.0, **how)


def test_every_cell_says_what_asking_at_its_centre_says():
    ground = ridge_ground(0.0, 700.0, ridge_lon_deg=-36.0)
    found = covered(STATIONS, ground)
    for row, column in np.ndindex(found.bearings.shape):
        here = Position(lat_deg=float(LAT[row]), lon_deg=float(LON[column]))
        parts = heard_at(
            beacons=STATIONS,
            position=here,
            altitude_ft=3000.0,
            ground=ground,
            on=DAY,
            estimated_declination_deg=lambda _: -8.0,
            doubt=NO_DOUBT,
        )
        good = {(part.beacon.ident, part.component) for part in parts if part.state is ReceptionState.RECEIVED}
        azimuths = [
            part for part in parts if (part.beacon.ident, ComponentKind.AZIMUTH) in good and part.component is ComponentKind.AZIMUTH
        ]
        azimuths = [part for part in azimuths if part.beacon.guides_vor_receiver]
        assert found.bearings[row, column] == len(azimuths)
        cuts = [abs((a.bearing_true_deg - b.bearing_true_deg + 90.0) % 180.0 - 90.0) for a, b in combinations(azimuths, 2)]
        assert found.crossing[row, column] == any(cut >= 30.0 for cut in cuts)
        both = any((part.beacon.ident, ComponentKind.DISTANCE) in good for part in azimuths)
        assert found.with_distance[row, column] == both
    assert {0, 1, 2, 3} <= set(found.bearings.ravel().tolist())  # every case is there


def test_two_stations_in_line_make_no_fix_and_a_distance_does():
    # West of the mast two stations east of it on its parallel are seen under one bearing, nearly.
    east, far_east = station("EEE", 90.0, 20.0, range_nm=90.0), station("FFF", 90.0, 10.0, range_nm=90.0)
    found = covered((east, far_east), flat_ground(0.0), feet=9000.0)
    row, west = 3, slice(0, 5)
    assert found.bearings[row, west].tolist() == [2] * 5
    assert not found.crossing[row, west].any() and not found.fix[row, west].any()
    with_dme = station("EEE", 90.0, 20.0, a_component(), DME, kind=BeaconKind.VOR_DME, range_nm=90.0)
    assert covered((with_dme, far_east), flat_ground(0.0), feet=9000.0).fix[row, west].all()


def test_the_count_ends_at_the_published_range_of_each_class():
    # AIM TBL 1-1-1: class T 25 NM, class L 40 NM from 1,000 ft above the transmitter up.
    for service_class, range_nm in ((ServiceClass.T, 25.0), (ServiceClass.L, 40.0)):
        beacon = strong(a_beacon(a_component(service_class=service_class, coverage=())))
        found = covered((beacon,), flat_ground(0.0), feet=5000.0)
        lat, lon = (grid.ravel() for grid in np.meshgrid(LAT, LON, indexing="ij"))
        away_nm = bearings_and_distances(MAST, lat, lon)[1]
        in_cone = away_nm < 1.2
        assert (found.bearings.ravel() == ((away_nm <= range_nm) & ~in_cone)).all()


def test_nothing_is_counted_below_the_ground_or_where_the_ground_is_not_known():
    found = covered(STATIONS, flat_ground(1000.0), feet=3000.0)  # 914 m
    assert not found.flyable.any() and found.bearings.sum() == 0
    unknown = covered(STATIONS, flat_ground(0.0, south=43.0), feet=1500.0, height=ChosenHeight(feet=1500.0, above_ground=True))
    assert not unknown.flyable[LAT < 42.9].any()


@pytest.mark.parametrize(
    "bearings", [(0.0, 29.0), (350.0, 18.0), (170.0, 358.0), (10.0, 25.0, 38.0), (100.0, 260.0), (95.0, 275.0), (5.0, 65.0, 125.0)]
)
def test_the_spread_of_bearings_tells_what_comparing_every_pair_tells(bearings):
    first = bearings[0]
    spread = [(bearing - first + 90.0) % 180.0 - 90.0 for bearing in bearings]
    slow = any(abs((a - b + 90.0) % 180.0 - 90.0) >= 30.0 for a, b in combinations(bearings, 2))
    assert (max(spread) - min(spread) >= 30.0) == slow
