"""The sample region holds every case the product handles (DESIGN.md, section 8), and its tables agree with its ground."""

from __future__ import annotations

from collections import Counter
from datetime import date

import numpy as np
import pytest

from sample_region.places import FIELDS, MARKS, STATIONS
from server.navigation import AlignmentKind, cruise_powers, distance_nm, variation
from server.radio import (
    BeaconKind,
    Cause,
    ComponentKind,
    ComponentStatus,
    LegPath,
    ReceptionState,
    ServiceClass,
    is_vor_khz,
    survey_leg,
)
from server.units import feet_from_metres

SUMMER = date(2026, 6, 16)
AZIMUTH, DISTANCE, BEARING = ComponentKind.AZIMUTH, ComponentKind.DISTANCE, ComponentKind.BEARING


def ground_ft(sample, *positions) -> np.ndarray:
    lat_deg, lon_deg = (np.array([getattr(position, axis) for position in positions]) for axis in ("lat_deg", "lon_deg"))
    return feet_from_metres(sample.ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg))


def parts(sample):
    return [(beacon, part) for beacon in sample.beacons for part in beacon.components]


def path_between(start, end, altitude_ft: float) -> LegPath:
    length_nm = distance_nm(start, end)
    return LegPath(start=start, end=end, distance_nm=length_nm, profile=((0.0, altitude_ft), (length_nm, altitude_ft)))


def survey(sample, beacon, component, path, on=SUMMER):
    return survey_leg(
        beacon=beacon,
        component=component,
        path=path,
        ground=sample.ground,
        on=on,
        estimated_declination_deg=variation(beacon.position, on).deg,
    )


# The files


def test_every_row_is_taken(sample):
    load = sample.load
    assert [report.refused for report in (load.beacons, load.airfields, load.checkpoints)] == [(), (), ()]
    assert [report.taken for report in (load.beacons, load.airfields, load.checkpoints)] == [len(STATIONS), len(FIELDS), len(MARKS)]
    assert load.terrain is not None and load.terrain.refused == ()
    assert load.terrain.known_share == 1.0


def test_only_the_dme_that_stands_apart_needs_a_persons_eye(sample):
    load = sample.load
    warnings = [warning.code for report in (load.beacons, load.airfields, load.checkpoints) for warning in report.warnings]
    assert warnings == ["dme-elsewhere"]


def test_the_region_has_about_the_size_asked_for(sample):
    """Issue 2: about 25 beacons, 30 airfields, 40 checkpoints."""
    assert 22 <= len(sample.beacons) <= 28
    assert 27 <= len(sample.airfields) <= 33
    assert 37 <= len(sample.checkpoints) <= 48


def test_the_region_says_that_it_is_invented_and_lies_in_the_open_ocean(sample):
    assert sample.region.fictional
    assert "Not for navigation" in sample.region.notice
    assert (sample.region.south_deg, sample.region.north_deg) == (42.0, 45.0)
    assert (sample.region.west_deg, sample.region.east_deg) == (-38.0, -34.0)


def test_names_of_places_of_one_kind_are_unique(sample):
    for things in (sample.airfields, sample.checkpoints):
        assert max(Counter(thing.name for thing in things).values()) == 1
    assert max(Counter(airfield.ident for airfield in sample.airfields).values()) == 1


def test_two_beacons_share_an_ident_on_purpose_and_no_others_do(sample):
    twice = [ident for ident, count in Counter(beacon.ident for beacon in sample.beacons).items() if count > 1]
    assert twice == ["MSK"]
    assert {beacon.kind for beacon in sample.beacons if beacon.ident == "MSK"} == {BeaconKind.VOR_DME, BeaconKind.NDB}


def test_airfield_idents_begin_with_a_letter_no_country_has(sample):
    """ICAO Doc 7910 gives no location indicator that begins with Q (from memory)."""
    assert all(airfield.ident.startswith("Q") and len(airfield.ident) == 4 for airfield in sample.airfields)


def test_no_ident_is_that_of_a_published_station(sample, open_data):
    """Against the open world table of OurAirports."""
    published = (open_data / "navaids_world" / "navaids.csv").read_text(encoding="utf-8")
    known = {line.split(",")[2].strip('"') for line in published.splitlines()[1:]}
    assert not {beacon.ident for beacon in sample.beacons} & known


# The ground


def test_published_elevations_are_those_of_the_ground(sample):
    """Published to the foot; posts are whole metres, so a foot and a half is the most that rounding makes."""
    things = [
        thing for shelf in (sample.beacons, sample.airfields, sample.checkpoints) for thing in shelf if thing.elevation_ft is not None
    ]
    below_ft = ground_ft(sample, *(thing.position for thing in things))
    assert np.abs(below_ft - [thing.elevation_ft for thing in things]).max() <= 0.51


def test_no_beacon_and_no_airfield_stands_in_the_sea(sample):
    positions = [thing.position for thing in (*sample.beacons, *sample.airfields)]
    assert ground_ft(sample, *positions).min() > 3.0


def test_runways_lie_on_level_ground(sample):
    for airfield in sample.airfields:
        lat_deg = airfield.position.lat_deg + np.repeat([-0.003, 0.0, 0.003], 3)
        lon_deg = airfield.position.lon_deg + np.tile([-0.004, 0.0, 0.004], 3)
        around_m = sample.ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
        land_m = around_m[around_m > 0.0]
        assert np.ptp(land_m) <= 1.0, airfield.name


def test_lakes_are_level(sample):
    lakes = [checkpoint for checkpoint in sample.checkpoints if checkpoint.feature in ("lake", "reservoir")]
    assert len(lakes) >= 5
    for lake in lakes:
        beside = sample.ground.elevations_m(
            lat_deg=lake.position.lat_deg + np.array([-1.0, 0.0, 1.0]) / 1200.0, lon_deg=np.full(3, lake.position.lon_deg)
        )
        assert np.ptp(beside) == 0.0, lake.name


def test_the_main_range_is_high(sample):
    """Issue 2 and its brief: a main range of 6,500 to 9,500 ft."""
    assert 6_500.0 <= ground_ft(sample, *(c.position for c in sample.checkpoints if c.name == "Korvane Peak"))[0] <= 9_500.0


def test_passes_are_lower_than_the_summits_near_them(sample):
    elevation_ft = {checkpoint.name: checkpoint.elevation_ft for checkpoint in sample.checkpoints}
    assert elevation_ft["Ilvane Pass"] < elevation_ft["Talvane Peak"] - 1_500.0
    assert elevation_ft["Korvane Pass"] < elevation_ft["Korvane Peak"] - 1_500.0


def test_an_airfield_lies_on_a_plateau(sample):
    """High, and with little relief for miles around."""
    field = sample.airfield("QORD")
    assert 4_500.0 <= field.elevation_ft <= 5_500.0
    lat_deg, lon_deg = np.meshgrid(
        field.position.lat_deg + np.linspace(-0.033, 0.033, 21), field.position.lon_deg + np.linspace(-0.046, 0.046, 21)
    )
    around_m = sample.ground.elevations_m(lat_deg=lat_deg.ravel(), lon_deg=lon_deg.ravel())
    assert np.ptp(around_m) < 200.0


def test_lighthouses_and_headlands_stand_beside_the_sea(sample):
    for checkpoint in sample.checkpoints:
        if checkpoint.feature in ("lighthouse", "headland"):
            turn = np.radians(np.arange(0.0, 360.0, 10.0))
            around_m = sample.ground.elevations_m(
                lat_deg=checkpoint.position.lat_deg + 0.01 * np.cos(turn), lon_deg=checkpoint.position.lon_deg + 0.014 * np.sin(turn)
            )
            assert (around_m == 0.0).any(), checkpoint.name


# The beacons


def test_every_kind_of_beacon_is_there(sample):
    assert {beacon.kind for beacon in sample.beacons} == set(BeaconKind)


@pytest.mark.parametrize(
    ("component", "classes"),
    [
        (AZIMUTH, {ServiceClass.T, ServiceClass.L, ServiceClass.H, ServiceClass.VL, ServiceClass.VH}),
        (DISTANCE, {ServiceClass.T, ServiceClass.L, ServiceClass.H, ServiceClass.DL, ServiceClass.DH}),
        (BEARING, {ServiceClass.LOCATOR, ServiceClass.MH, ServiceClass.NDB_H, ServiceClass.HH}),
    ],
)
def test_every_class_is_there(sample, component, classes):
    assert classes <= {part.service_class for _, part in parts(sample) if part.kind is component}


def test_vor_frequencies_are_vor_channels(sample):
    """ICAO Annex 10 Vol I 3.3.2: below 112 MHz even tenths only."""
    for beacon in sample.beacons:
        if beacon.guides_vor_receiver:
            assert beacon.frequency_khz is not None and is_vor_khz(beacon.frequency_khz), beacon.ident


def test_an_unknown_class_and_a_designated_coverage_are_there(sample):
    without = {beacon.ident for beacon, part in parts(sample) if part.service_class is None and not part.coverage}
    assert without == {"PLR"}
    assert {beacon.ident for beacon, part in parts(sample) if part.coverage} == {"TLI"}
    assert any(sector.from_radial_deg > sector.to_radial_deg for _, part in parts(sample) for sector in part.coverage)


def test_an_unusable_sector_crosses_north(sample):
    crossing = [
        (beacon.ident, part.kind)
        for beacon, part in parts(sample)
        for sector in part.unusable
        if sector.from_radial_deg > sector.to_radial_deg and sector.beyond_nm and sector.below_altitude_ft
    ]
    assert crossing == [("HLU", AZIMUTH), ("HLU", DISTANCE)]


def test_one_alignment_is_four_degrees_off_and_the_others_are_not(sample):
    apart_deg = {
        beacon.ident: abs(beacon.alignment.declination_deg - variation(beacon.position, SUMMER).deg)
        for beacon in sample.beacons
        if beacon.alignment.kind is AlignmentKind.MAGNETIC
    }
    assert apart_deg.pop("HLU") == pytest.approx(4.0, abs=0.5)
    assert max(apart_deg.values()) < 2.0


def test_every_kind_of_alignment_is_there(sample):
    kinds = {beacon.alignment.kind: beacon.ident for beacon in sample.beacons if beacon.component(AZIMUTH)}
    assert set(kinds) == set(AlignmentKind)
    assert kinds[AlignmentKind.TRUE] == "QSL"
    assert kinds[AlignmentKind.UNKNOWN] == "BSS"


def test_local_variation_is_sizeable(sample):
    """DESIGN.md section 8: real and sizeable variation."""
    assert all(-14.0 < variation(beacon.position, SUMMER).deg < -9.0 for beacon in sample.beacons)


def test_a_beacon_is_out_of_service_between_two_dates(sample):
    beacon = sample.beacon("ZRV")
    (outage,) = beacon.component(AZIMUTH).outages
    assert (outage.first_day, outage.last_day) == (date(2026, 7, 6), date(2026, 7, 19))
    path = path_between(beacon.position, sample.beacon("TSY").position, 6_500.0)
    days = (date(2026, 7, 5), date(2026, 7, 6), date(2026, 7, 19), date(2026, 7, 20))
    off = [any(stretch.has(Cause.OUTAGE) for stretch in survey(sample, beacon, AZIMUTH, path, on).stretches) for on in days]
    assert off == [False, True, True, False]


def test_a_beacon_is_withdrawn_and_another_keeps_only_its_dme(sample):
    assert [part.status for part in sample.beacon("FNE").components] == [ComponentStatus.WITHDRAWN]
    kept = sample.beacon("YLM")
    assert kept.component(AZIMUTH).status is ComponentStatus.WITHDRAWN
    assert kept.component(DISTANCE).status is ComponentStatus.OPERATING


def test_one_dme_stands_apart_from_its_vor(sample):
    apart_nm = {
        beacon.ident: distance_nm(beacon.position, beacon.component_position(DISTANCE))
        for beacon in sample.beacons
        if beacon.component(DISTANCE)
    }
    assert apart_nm.pop("MSK") == pytest.approx(0.4, abs=0.03)
    assert max(apart_nm.values()) == 0.0


def test_one_elevation_is_not_published(sample):
    assert [beacon.ident for beacon in sample.beacons if beacon.elevation_ft is None] == ["TLI"]


def test_two_stations_on_one_frequency_are_both_in_sight_of_one_leg(sample):
    vhf = [beacon for beacon in sample.beacons if beacon.guides_vor_receiver]
    (frequency_khz,) = [khz for khz, count in Counter(beacon.frequency_khz for beacon in vhf).items() if count > 1]
    first, second = (beacon for beacon in vhf if beacon.frequency_khz == frequency_khz)
    assert distance_nm(first.position, second.position) > 100.0
    path = path_between(sample.beacon("TSY").position, sample.beacon("ULR").position, 9_500.0)
    for beacon in (first, second):
        in_sight = [stretch for stretch in survey(sample, beacon, AZIMUTH, path).stretches if not stretch.has(Cause.TERRAIN)]
        assert in_sight, beacon.ident


def test_one_station_stands_on_a_summit(sample):
    """Nothing within three miles is higher."""
    station = sample.beacon("DSU")
    turn, away_nm = np.meshgrid(np.radians(np.arange(0.0, 360.0, 15.0)), np.linspace(0.3, 3.0, 10))
    lat_deg = station.position.lat_deg + (away_nm / 60.0 * np.cos(turn)).ravel()
    lon_deg = station.position.lon_deg + (away_nm / 60.0 / np.cos(np.radians(station.position.lat_deg)) * np.sin(turn)).ravel()
    assert feet_from_metres(sample.ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)).max() < station.elevation_ft


def test_the_far_islands_hear_no_azimuth_of_the_others_at_a_low_altitude(sample):
    """Seen over the sea at 2,500 ft, the ground within 61 NM is above the 4/3-earth horizon; the stations stand farther or behind hills."""
    path = path_between(sample.airfield("QZEL").position, sample.airfield("QZES").position, 2_500.0)
    for beacon in sample.beacons:
        if beacon.guides_vor_receiver:
            states = {stretch.state for stretch in survey(sample, beacon, AZIMUTH, path).stretches}
            assert states <= {ReceptionState.NOT_RECEIVED, ReceptionState.NOT_PROMISED, ReceptionState.UNKNOWN}, beacon.ident
    heard = survey(sample, sample.beacon("ZLI"), BEARING, path)
    assert {stretch.state for stretch in heard.stretches} == {ReceptionState.RECEIVED}


def test_last_confirmed_dates_lie_in_2026(sample):
    assert {part.last_confirmed.year for _, part in parts(sample)} == {2026}


def test_the_aircraft_differ_as_aircraft_do(sample):
    with sample.library.read() as work:
        slow, fast = sorted(work.aircraft.list(), key=lambda aircraft: aircraft.cruise_speed_kt)
    assert slow.fuel_unit != fast.fuel_unit
    assert fast.compass_card and not slow.compass_card
    assert fast.cruise_table and fast.climb_table and fast.descent_table and fast.climb_percent_per_warm_c
    assert not (slow.cruise_table or slow.climb_table or slow.descent_table)
    assert cruise_powers(fast) == ("65 %", "75 %")
