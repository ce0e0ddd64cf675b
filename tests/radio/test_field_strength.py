"""Field strength at points and along legs: what is sent, what arrives, what is unknown, and the profile against slow marching."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from pyproj import Geod

from server.errors import OutOfRange, TerrainMissing
from server.navigation import Position
from server.radio import BeaconKind, ComponentKind, ServiceClass, place_antenna
from server.radio.diffraction import LAND, Polarisation, delta_bullington
from server.radio.field_strength import Emission, emission_of, margins_along, predicted
from tests.builders import GridGround, flat_ground, ridge_ground
from tests.radio.radio_builders import MAST, a_beacon, a_component

WGS84 = Geod(ellps="WGS84")
RADIUS_M = 6_371_008.8 * 4.0 / 3.0
VOR_SIGNAL = {"frequency_mhz": 113.0, "polarisation": Polarisation.HORIZONTAL, "eirp_w": 100.0, "minimum_dbw_m2": -107.0}
EMISSION = Emission(power_assumed=False, **VOR_SIGNAL)


def an_antenna(ground, position=MAST, height_ft=100.0, published_elevation_ft=0.0):
    return place_antenna(position=position, published_elevation_ft=published_elevation_ft, antenna_height_ft=height_ft, ground=ground)


def east(distance_m, position=MAST):
    lon_deg, lat_deg, _ = WGS84.fwd(position.lon_deg, position.lat_deg, 90.0, distance_m)
    return Position(lat_deg=lat_deg, lon_deg=lon_deg)


def margins_east(ground, distances_m, altitude_m, antenna=None, **changes):
    places = [east(distance_m, MAST if antenna is None else antenna.position) for distance_m in distances_m]
    return margins_along(
        antenna=antenna or an_antenna(ground),
        lat_deg=np.array([place.lat_deg for place in places]),
        lon_deg=np.array([place.lon_deg for place in places]),
        altitude_m=np.broadcast_to(np.asarray(altitude_m, dtype=float), (len(places),)),
        ground=ground,
        **(VOR_SIGNAL | changes),
    )


# ---- what a beacon sends -----------------------------------------------------------------------------------------------------------------


def test_vor_is_sent_on_its_own_frequency_horizontally():
    emission = emission_of(a_beacon(a_component(service_class=ServiceClass.H, power_w=150.0)), ComponentKind.AZIMUTH)
    assert emission == Emission(
        frequency_mhz=113.0, polarisation=Polarisation.HORIZONTAL, eirp_w=150.0, power_assumed=False, minimum_dbw_m2=-107.0
    )


def test_dme_is_answered_on_the_reply_frequency_of_its_channel_vertically():
    """113.00 MHz, 77X: reply 1164 MHz (14 CFR 171.311 Table 1b, radio_navigation.md 2.3). -89 dBW/m2: Annex 10 Vol I 3.5.4.1.5.2."""
    beacon = a_beacon(a_component(), a_component(ComponentKind.DISTANCE))
    emission = emission_of(beacon, ComponentKind.DISTANCE)
    assert (emission.frequency_mhz, emission.polarisation, emission.minimum_dbw_m2) == (1164.0, Polarisation.VERTICAL, -89.0)
    by_channel = emission_of(replace(beacon, frequency_khz=None, channel="17Y"), ComponentKind.DISTANCE)
    assert by_channel.frequency_mhz == 1104.0


def test_azimuth_of_a_tacan_is_sent_as_its_dme_is():
    beacon = a_beacon(a_component(), a_component(ComponentKind.DISTANCE), kind=BeaconKind.TACAN)
    assert emission_of(beacon, ComponentKind.AZIMUTH) == emission_of(beacon, ComponentKind.DISTANCE)


@pytest.mark.parametrize(
    ("kind", "service_class", "eirp_w"),
    [
        (ComponentKind.AZIMUTH, ServiceClass.T, 25.0),
        (ComponentKind.AZIMUTH, None, 25.0),
        (ComponentKind.AZIMUTH, ServiceClass.VL, 100.0),
        (ComponentKind.AZIMUTH, ServiceClass.H, 100.0),
        (ComponentKind.DISTANCE, ServiceClass.T, 398.1),
        (ComponentKind.DISTANCE, ServiceClass.DH, 3981.1),
    ],
)
def test_power_not_published_is_assumed_by_class_and_marked(kind, service_class, eirp_w):
    """Common practice: VOR 25 to 50 W terminal, else 100 W; DME 100 W and 1 kW peak, 6 dB of antenna."""
    emission = emission_of(a_beacon(a_component(kind, service_class=service_class)), kind)
    assert emission.power_assumed
    assert emission.eirp_w == pytest.approx(eirp_w, abs=0.1)


def test_what_sends_no_vhf_or_is_not_there_has_no_emission():
    ndb = a_beacon(a_component(ComponentKind.BEARING), a_component(ComponentKind.DISTANCE), kind=BeaconKind.NDB_DME, frequency_khz=365)
    assert emission_of(ndb, ComponentKind.BEARING) is None
    assert emission_of(ndb, ComponentKind.DISTANCE) is None  # no channel given, and an NDB's frequency has none
    assert emission_of(a_beacon(), ComponentKind.DISTANCE) is None
    assert emission_of(a_beacon(frequency_khz=None), ComponentKind.AZIMUTH) is None
    unpaired = a_beacon(a_component(ComponentKind.DISTANCE), kind=BeaconKind.DME, frequency_khz=None)
    assert emission_of(unpaired, ComponentKind.DISTANCE) is None


@pytest.mark.parametrize("power_w", [0.0, -5.0, 2e6, math.nan])
def test_impossible_power_is_refused_in_words(power_w):
    with pytest.raises(OutOfRange, match=r"MST, azimuth part: a power of .* W cannot be. Give more than 0 and at most 100,000 W"):
        emission_of(a_beacon(a_component(power_w=power_w)), ComponentKind.AZIMUTH)


# ---- what arrives ------------------------------------------------------------------------------------------------------------------------


def test_a_clear_path_arrives_as_in_free_space():
    """100 W reach 90 microvolt/m at 608.6 km in free space (radio_navigation.md 3.2): at 30.43 km 26.02 dB more."""
    sea = flat_ground(0.0)
    place = east(30_430.0)
    field = predicted(antenna=an_antenna(sea), emission=EMISSION, position=place, altitude_m=3000.0, ground=sea)
    straight_m = math.hypot(30_430.0, 3000.0 - 30.48)
    farther_db = 20.0 * math.log10(straight_m / 30_430.0)
    assert field.diffraction_loss_db == 0.0
    assert field.field_dbuv_m == pytest.approx(39.08 + 26.02 - farther_db, abs=0.01)
    assert field.power_density_dbw_m2 == pytest.approx(-106.68 + 26.02 - farther_db, abs=0.01)
    assert field.margin_db == pytest.approx(field.power_density_dbw_m2 + 107.0)
    assert field.power_assumed is False


def test_twice_the_distance_costs_six_decibels_of_margin_while_the_path_is_clear():
    sea = flat_ground(0.0)
    margins = margins_east(sea, [10_000.0, 20_000.0, 40_000.0], 5000.0)
    assert margins.diffraction_loss_db.tolist() == [0.0, 0.0, 0.0]
    straight_m = np.hypot([10_000.0, 20_000.0, 40_000.0], 5000.0 - 30.48)
    assert np.diff(margins.margin_db) == pytest.approx(-20.0 * np.log10(straight_m[1:] / straight_m[:-1]), abs=0.02)


@pytest.mark.parametrize(("altitude_m", "loss_db"), [(300.0, 24.433), (150.0, 34.467), (1000.0, 8.183)])
def test_agrees_with_radio_navigation_3_4_over_a_flat_sea(altitude_m, loss_db):
    """P3a, P3b and P3c: 80 km, antenna 10 m. They are for 8,500 km of earth; 4/3 of the mean radius is 8,494.7: 0.06 % of up to 40 dB."""
    sea = flat_ground(0.0)
    margins = margins_east(sea, [80_000.0], altitude_m, antenna=an_antenna(sea, height_ft=10.0 / 0.3048))
    assert margins.diffraction_loss_db[0] == pytest.approx(loss_db, abs=0.06)


def test_a_ridge_costs_what_lies_behind_it():
    ridge = ridge_ground(0.0, 800.0, ridge_lon_deg=-35.5)
    ridge_m = WGS84.inv(-36.0, 43.0, -35.5, 43.0)[2]
    margins = margins_east(ridge, [ridge_m - 5_000.0, ridge_m + 5_000.0, ridge_m + 30_000.0], 700.0)
    assert margins.diffraction_loss_db[0] == 0.0
    assert (margins.diffraction_loss_db[1:] > 15.0).all()
    assert not margins.unknown.any()
    higher = margins_east(ridge, [ridge_m + 5_000.0], 4000.0)
    assert higher.diffraction_loss_db[0] == 0.0


def rough_ground(seed=5):
    random = np.random.default_rng(seed)
    return GridGround(random.normal(400.0, 150.0, (241, 241)).astype(np.int16), 43.1, -36.1, 1 / 1200, 1 / 1200)


@pytest.mark.parametrize("polarisation", list(Polarisation))
def test_the_profile_agrees_with_slow_marching(polarisation):
    """Every 5 m along the geodesic, by the ground's own bilinear elevations. The walk has the crests that the marching misses and the
    marching the middles of patches that the walk leaves straight: on ground this rough (150 m from post to post) 0.3 dB."""
    ground = rough_ground()
    antenna = an_antenna(ground, published_elevation_ft=3000.0)
    distances_m, altitude_m = [1500.0, 4000.0, 7000.0], 900.0
    margins = margins_east(ground, distances_m, altitude_m, antenna=antenna, polarisation=polarisation)
    for k, distance_m in enumerate(distances_m):
        along_m = np.concatenate(([0.0], np.arange(200.0, distance_m, 5.0), [distance_m]))
        lon_deg, lat_deg, _ = WGS84.fwd(np.full(along_m.size, -36.0), np.full(along_m.size, 43.0), np.full(along_m.size, 90.0), along_m)
        slow = delta_bullington(
            distance_m=along_m,
            elevation_m=ground.elevations_m(lat_deg=np.array(lat_deg), lon_deg=np.array(lon_deg)),
            transmitter_m=antenna.altitude_m,
            receiver_m=altitude_m,
            frequency_mhz=113.0,
            polarisation=polarisation,
            effective_earth_radius_m=RADIUS_M,
            constants=LAND,
        )
        assert margins.diffraction_loss_db[k] == pytest.approx(slow.total_db, abs=0.3)


def test_across_the_antimeridian_is_as_anywhere():
    here, there = ridge_ground(0.0, 800.0, ridge_lon_deg=-35.5), ridge_ground(0.0, 800.0, ridge_lon_deg=180.1, west=178.0, east=182.0)
    mast = Position(lat_deg=43.0, lon_deg=179.6)
    mine = margins_east(there, [30_000.0, 60_000.0], 1000.0, antenna=an_antenna(there, mast))
    other = margins_east(here, [30_000.0, 60_000.0], 1000.0)
    assert mine.margin_db == pytest.approx(other.margin_db, abs=1e-6)
    assert not mine.unknown.any()


def test_a_thicker_atmosphere_bends_more_and_costs_less():
    sea = flat_ground(0.0)
    thin, usual, thick = (
        margins_east(sea, [90_000.0], 400.0, effective_earth_factor=k).diffraction_loss_db[0] for k in (1.2, 4.0 / 3.0, 1.5)
    )
    assert thin > usual > thick > 0.0


# ---- what is not known -------------------------------------------------------------------------------------------------------------------


def test_a_void_on_the_profile_is_unknown_from_there_on():
    ground = flat_ground(0.0)
    column = round((-35.7 + 38.0) * 120)
    ground.posts[:, column] = -32768.0
    void_m = WGS84.inv(-36.0, 43.0, -35.7, 43.0)[2]
    margins = margins_east(ground, [void_m - 3_000.0, void_m + 3_000.0, void_m + 20_000.0], 2000.0)
    assert margins.unknown.tolist() == [False, True, True]
    assert np.isnan(margins.margin_db).tolist() == [False, True, True]
    assert np.isnan(margins.diffraction_loss_db).tolist() == [False, True, True]


def test_no_terrain_at_all_is_unknown_and_so_is_a_foot_not_known():
    nowhere = flat_ground(0.0, south=10.0, north=11.0)
    antenna = place_antenna(position=MAST, published_elevation_ft=0.0, antenna_height_ft=100.0, ground=nowhere)
    assert margins_east(nowhere, [20_000.0], 2000.0, antenna=antenna).unknown.tolist() == [True]
    known_but_at_the_foot = margins_east(flat_ground(0.0), [20_000.0], 2000.0, antenna=antenna)
    assert known_but_at_the_foot.unknown.tolist() == [True]
    assert math.isnan(known_but_at_the_foot.margin_db[0])


def test_in_the_ground_at_the_antenna_and_too_far_have_no_field_but_are_not_unknown():
    hill = flat_ground(500.0)
    margins = margins_east(hill, [20_000.0, 1_100_000.0], [499.0, 9000.0])
    assert np.isnan(margins.margin_db).all()
    assert not margins.unknown.any()
    antenna = an_antenna(hill)
    at_antenna = margins_east(hill, [0.0], antenna.altitude_m, antenna=antenna)
    assert np.isnan(at_antenna.margin_db).all()
    assert np.isnan(at_antenna.diffraction_loss_db).all()


def test_over_the_antenna_nothing_is_in_the_way():
    hill = flat_ground(500.0)
    margins = margins_east(hill, [0.0, 150.0], 1000.0)
    assert margins.diffraction_loss_db.tolist() == [0.0, 0.0]
    assert (margins.margin_db > 50.0).all()


def test_one_point_that_cannot_be_told_is_refused_in_words():
    ground = flat_ground(500.0)
    ground.posts[:, 250:] = -32768.0
    with pytest.raises(TerrainMissing, match="Ground between the beacon and the point is not known"):
        predicted(antenna=an_antenna(ground), emission=EMISSION, position=east(60_000.0), altitude_m=3000.0, ground=ground)
    with pytest.raises(OutOfRange, match="No field can be told at 100 m there: the point is in the ground"):
        predicted(antenna=an_antenna(ground), emission=EMISSION, position=east(5_000.0), altitude_m=100.0, ground=ground)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"frequency_mhz": 0.365}, "0.365 MHz was given. Field strength is worked out from 10 MHz up"),
        ({"eirp_w": 0.0}, "radiated power of 0 W was given"),
        ({"eirp_w": math.inf}, "radiated power of inf W was given"),
        ({"effective_earth_factor": 0.0}, "effective earth factor of 0 was given"),
    ],
)
def test_a_signal_that_cannot_be_is_refused_in_words(changes, words):
    with pytest.raises(OutOfRange, match=words):
        margins_east(flat_ground(0.0), [20_000.0], 2000.0, **changes)
