"""Antennas on their ground, single rays and tables of points over synthetic ground."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from server.errors import OutOfRange
from server.navigation.position import Position
from server.radio.sight import CLEAR_DISC_M, lowest_altitudes, place_antenna, sight_line
from tests.builders import GridGround, flat_ground, ridge_ground

HERE = Position(lat_deg=43.5, lon_deg=-36.0)
WGS84 = Geod(ellps="WGS84")


def antenna_on(ground, *, position=HERE, height_ft=30.0, published_elevation_ft=None):
    return place_antenna(position=position, published_elevation_ft=published_elevation_ft, antenna_height_ft=height_ft, ground=ground)


def points(bearing_true_deg, distance_m, start=HERE):
    distance_m = np.atleast_1d(np.asarray(distance_m, dtype=float))
    same = np.ones_like(distance_m)
    lon_deg, lat_deg, _ = WGS84.fwd(start.lon_deg * same, start.lat_deg * same, bearing_true_deg * same, distance_m)
    return {"lat_deg": np.asarray(lat_deg), "lon_deg": np.asarray(lon_deg)}


class TestPlaceAntenna:
    def test_stands_on_the_higher_of_published_elevation_and_terrain(self):
        ground = flat_ground(100.0)
        assert antenna_on(ground, published_elevation_ft=1000.0).altitude_m == pytest.approx(304.8 + 9.144)
        assert antenna_on(ground, published_elevation_ft=10.0).altitude_m == pytest.approx(100.0 + 9.144)

    def test_tells_that_the_elevation_is_estimated_when_only_terrain_is_known(self):
        antenna = antenna_on(flat_ground(100.0))
        assert antenna.elevation_estimated
        assert antenna.ground_m == pytest.approx(100.0)
        assert not antenna_on(flat_ground(100.0), published_elevation_ft=0.0).elevation_estimated

    def test_assumes_eight_metres_and_says_so(self):
        antenna = antenna_on(flat_ground(100.0), height_ft=None)
        assert antenna.altitude_m == pytest.approx(108.0)
        assert antenna.height_assumed
        assert not antenna_on(flat_ground(100.0), height_ft=0.0).height_assumed

    def test_uses_the_published_elevation_where_the_terrain_is_unknown(self):
        antenna = antenna_on(flat_ground(np.nan), published_elevation_ft=1000.0)
        assert antenna.altitude_m == pytest.approx(304.8 + 9.144)
        assert antenna.ground_m is None
        assert not antenna.elevation_estimated

    def test_is_nowhere_when_neither_is_known(self):
        assert antenna_on(flat_ground(np.nan)) is None


class TestRidge:
    def test_hides_what_lies_low_behind_it_and_is_named(self):
        ground = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [20_000.0, 60_000.0]))
        assert table.lowest_altitude_m[0] < 10.0
        assert table.lowest_altitude_m[1] > 1400.0
        assert np.isnan(table.ridge_distance_m[0])
        assert table.ridge_elevation_m[1] == pytest.approx(1000.0)
        assert table.ridge_lon_deg[1] == pytest.approx(-35.5, abs=1e-4)
        _, _, distance_m = WGS84.inv(HERE.lon_deg, HERE.lat_deg, table.ridge_lon_deg[1], table.ridge_lat_deg[1])
        assert table.ridge_distance_m[1] == pytest.approx(distance_m, abs=0.01)

    def test_is_none_over_the_sea_where_the_curve_of_the_earth_rules(self):
        ground = flat_ground(0.0)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [100_000.0]))
        assert table.lowest_altitude_m[0] > 400.0
        assert np.isnan(table.ridge_distance_m[0]) and np.isnan(table.ridge_elevation_m[0]) and np.isnan(table.ridge_lat_deg[0])

    def test_is_none_over_a_high_plain_too(self):
        ground = flat_ground(1500.0)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [100_000.0]))
        assert table.lowest_altitude_m[0] > 1900.0
        assert np.isnan(table.ridge_distance_m[0])

    def test_is_the_brow_of_the_antennas_own_hill_for_a_point_in_the_valley(self):
        ground = flat_ground(0.0, step_deg=1 / 1200, south=43.4, north=43.6, west=-36.1, east=-35.8)
        row, column = round((43.6 - 43.5) * 1200), round(0.1 * 1200)
        ground.posts[row - 12 : row + 13, column - 12 : column + 13] = 600.0
        ground = GridGround(ground.posts, 43.6, -36.1, 1 / 1200, 1 / 1200)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [8_000.0]))
        assert table.ridge_elevation_m[0] == pytest.approx(600.0)
        assert table.ridge_distance_m[0] == pytest.approx(12 / 1200 * 80_800.0, rel=0.01)  # one degree of longitude here: 80.8 km

    def test_is_none_when_only_the_ground_at_the_point_itself_rises(self):
        ground = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, lat_deg=np.array([43.5]), lon_deg=np.array([-35.5]))
        assert table.lowest_altitude_m[0] == pytest.approx(1000.0, abs=0.5)
        assert np.isnan(table.ridge_distance_m[0])


class TestClearDisc:
    def test_nothing_within_it_hides_the_antenna(self):
        ground = flat_ground(0.0, step_deg=1 / 1200, south=43.45, north=43.55, west=-36.05, east=-35.95)
        row, column = round(0.05 * 1200), round(0.05 * 1200)
        ground.posts[:, column + 1] = 500.0  # 67 m east of the antenna; the wall falls to sea level by 135 m
        ground = GridGround(ground.posts, 43.55, -36.05, 1 / 1200, 1 / 1200)
        assert ground.posts[row, column] == 0.0
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [2_000.0]))
        assert table.lowest_altitude_m[0] == pytest.approx(0.0, abs=1.0)

    def test_a_point_within_it_has_nothing_in_the_way(self):
        ground = flat_ground(np.nan)
        antenna = antenna_on(ground, published_elevation_ft=100.0)
        table = lowest_altitudes(antenna=antenna, ground=ground, **points(90.0, [0.0, 150.0]))
        assert (table.lowest_altitude_m == -np.inf).all()
        assert (table.unknown_from_m == np.inf).all()


class TestUnknownGround:
    def test_begins_at_the_first_unknown_patch_and_leaves_a_lower_bound(self):
        ground = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        ground.posts[:, round(2.75 * 120)] = np.nan  # 35.25 W
        antenna = antenna_on(ground)
        table = lowest_altitudes(antenna=antenna, ground=ground, **points(90.0, [40_000.0, 80_000.0]))
        known = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        expected = lowest_altitudes(antenna=antenna, ground=known, **points(90.0, [40_000.0, 80_000.0]))
        assert table.unknown_from_m[0] == np.inf
        assert 59_000.0 < table.unknown_from_m[1] < 60_600.0
        np.testing.assert_allclose(table.lowest_altitude_m, expected.lowest_altitude_m)

    def test_a_ridge_beyond_it_still_counts(self):
        ground = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        ground.posts[:, round(2.25 * 120)] = np.nan  # 35.75 W, before the ridge
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [80_000.0]))
        assert table.unknown_from_m[0] < 21_000.0
        assert table.ridge_elevation_m[0] == pytest.approx(1000.0)

    def test_outside_the_window_is_unknown(self):
        ground = flat_ground(0.0)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [200_000.0]))
        _, _, to_edge_m = WGS84.inv(-36.0, 43.5, -34.0, 43.49)
        assert table.unknown_from_m[0] == pytest.approx(to_edge_m, abs=50.0)

    def test_no_window_at_all_is_unknown_from_the_disc_on(self):
        far = Position(lat_deg=-10.0, lon_deg=100.0)
        ground = flat_ground(0.0)
        antenna = antenna_on(ground, position=far, published_elevation_ft=500.0)
        table = lowest_altitudes(antenna=antenna, ground=ground, **points(90.0, [50_000.0], far))
        assert table.unknown_from_m[0] == CLEAR_DISC_M
        assert table.lowest_altitude_m[0] == -np.inf
        line = sight_line(antenna=antenna, bearing_true_deg=90.0, length_m=50_000.0, ground=ground)
        assert line.unknown_from_m == CLEAR_DISC_M
        assert line.crest_before(50_000.0) is None
        assert line.lowest_altitude_m([50_000.0])[0] == -np.inf


class TestPlacesOnTheGlobe:
    @pytest.mark.parametrize("lon_deg", [179.9, -179.9])
    def test_the_antimeridian_changes_nothing(self, lon_deg):
        straddling = ridge_ground(0.0, 800.0, ridge_lat_deg=43.8, west=178.0, east=182.0)
        plain = ridge_ground(0.0, 800.0, ridge_lat_deg=43.8)
        start = Position(lat_deg=43.5, lon_deg=lon_deg)
        east_of_west_edge = (lon_deg - 178.0) % 360.0
        same = Position(lat_deg=43.5, lon_deg=-38.0 + east_of_west_edge)
        for bearing_true_deg in (30.0, 330.0):
            over = lowest_altitudes(
                antenna=antenna_on(straddling, position=start), ground=straddling, **points(bearing_true_deg, [50_000.0, 90_000.0], start)
            )
            expected = lowest_altitudes(
                antenna=antenna_on(plain, position=same), ground=plain, **points(bearing_true_deg, [50_000.0, 90_000.0], same)
            )
            np.testing.assert_allclose(over.lowest_altitude_m, expected.lowest_altitude_m, atol=1e-3)
            np.testing.assert_array_equal(over.unknown_from_m, expected.unknown_from_m)

    def test_ground_stored_one_turn_away_is_found(self):
        ground = ridge_ground(0.0, 800.0, ridge_lat_deg=43.8, west=322.0, east=326.0)  # the same place, written east of Greenwich
        antenna = antenna_on(ground, height_ft=30.0, published_elevation_ft=0.0)
        table = lowest_altitudes(antenna=antenna, ground=ground, **points(0.0, [60_000.0]))
        assert table.unknown_from_m[0] == np.inf
        assert table.ridge_elevation_m[0] == pytest.approx(800.0)

    def test_ground_within_a_degree_of_a_pole_is_unknown(self):
        ground = flat_ground(0.0, south=87.0, north=90.0, west=-180.0, east=180.0, step_deg=0.05)
        start = Position(lat_deg=88.5, lon_deg=10.0)
        antenna = antenna_on(ground, position=start)
        table = lowest_altitudes(antenna=antenna, ground=ground, lat_deg=np.array([88.5, 90.0, 88.0]), lon_deg=np.array([190.0, 0.0, 20.0]))
        assert (table.unknown_from_m[:2] < 57_000.0).all()  # half a degree of latitude is 55.8 km here
        assert (table.unknown_from_m[:2] > 50_000.0).all()
        assert table.unknown_from_m[2] == np.inf

    def test_an_antenna_at_the_pole_sees_only_unknown_ground(self):
        pole = Position(lat_deg=90.0, lon_deg=0.0)
        ground = flat_ground(0.0)
        antenna = antenna_on(ground, position=pole, published_elevation_ft=0.0)
        table = lowest_altitudes(antenna=antenna, ground=ground, lat_deg=np.array([89.5]), lon_deg=np.array([0.0]))
        assert table.unknown_from_m[0] == CLEAR_DISC_M


class TestTable:
    def test_has_no_rows_for_no_points(self):
        ground = flat_ground(0.0)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, lat_deg=np.array([]), lon_deg=np.array([]))
        assert table.lowest_altitude_m.shape == table.ridge_distance_m.shape == (0,)

    def test_holds_nan_where_a_point_is_no_point_or_too_far(self):
        ground = flat_ground(0.0)
        table = lowest_altitudes(
            antenna=antenna_on(ground), ground=ground, lat_deg=np.array([np.nan, 0.0, 43.6]), lon_deg=np.array([-36.0, 120.0, -36.0])
        )
        np.testing.assert_array_equal(np.isnan(table.lowest_altitude_m), [True, True, False])
        np.testing.assert_array_equal(table.unknown_from_m, [0.0, 0.0, np.inf])

    @pytest.mark.parametrize("dtype", [np.int16, np.float32])
    def test_takes_whole_metres_and_floats_alike(self, dtype):
        ridge = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        ground = GridGround(ridge.posts.astype(dtype), ridge.north_lat_deg, ridge.west_lon_deg, ridge.step_lat_deg, ridge.step_lon_deg)
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [60_000.0]))
        expected = lowest_altitudes(antenna=antenna_on(ridge), ground=ridge, **points(90.0, [60_000.0]))
        assert table.lowest_altitude_m[0] == expected.lowest_altitude_m[0]

    def test_reads_posts_that_may_not_be_written(self):
        ground = flat_ground(0.0)
        ground.posts.flags.writeable = False
        table = lowest_altitudes(antenna=antenna_on(ground), ground=ground, **points(90.0, [20_000.0]))
        assert np.isfinite(table.lowest_altitude_m).all()

    def test_a_flatter_effective_earth_shows_more(self):
        ground = flat_ground(0.0)
        low, high = (
            lowest_altitudes(antenna=antenna_on(ground), ground=ground, effective_earth_factor=k, **points(90.0, [100_000.0]))
            for k in (1.2, 1.5)
        )
        assert high.lowest_altitude_m[0] < low.lowest_altitude_m[0]


class TestSightLine:
    def test_names_the_crest_that_rules_at_a_distance(self):
        ground = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        line = sight_line(antenna=antenna_on(ground), bearing_true_deg=90.0, length_m=100_000.0, ground=ground)
        index = line.crest_before(60_000.0)
        assert line.crest_elevation_m[index] == pytest.approx(1000.0)
        assert line.crest_position(index).lon_deg == pytest.approx(-35.5, abs=1e-4)
        assert line.crest_before(30_000.0) == index - 1  # the tangent of the sea before the ridge
        assert line.crest_before(100.0) is None

    def test_crests_rise_ever_steeper_with_distance(self):
        random = np.random.default_rng(4)
        ground = GridGround(random.uniform(0.0, 900.0, (361, 481)).astype(np.float32), 45.0, -38.0, 1 / 120, 1 / 120)
        line = sight_line(antenna=antenna_on(ground, height_ft=3000.0), bearing_true_deg=75.0, length_m=150_000.0, ground=ground)
        assert line.crest_distance_m.size > 2
        assert (np.diff(line.crest_distance_m) > 0.0).all()
        assert (np.diff(line.crest_slope) > 0.0).all()

    def test_gives_ground_along_itself_and_nothing_beyond_its_ends(self):
        ground = ridge_ground(0.0, 1000.0, ridge_lon_deg=-35.5)
        line = sight_line(antenna=antenna_on(ground), bearing_true_deg=90.0, length_m=60_000.0, ground=ground)
        assert line.ground_m([10_000.0])[0] == 0.0
        assert line.ground_m(line.crest_distance_m[-1:])[0] == pytest.approx(1000.0)
        assert np.isnan(line.ground_m([-1.0, 60_001.0])).all()
        assert np.isnan(line.lowest_altitude_m([-1.0, 60_001.0])).all()

    @pytest.mark.parametrize("length_m", [0.0, -5.0, np.nan, 2_000_000.0])
    def test_refuses_a_length_that_is_none(self, length_m):
        ground = flat_ground(0.0)
        with pytest.raises(OutOfRange, match="Ask for more than 0 and at most 1000 km"):
            sight_line(antenna=antenna_on(ground), bearing_true_deg=0.0, length_m=length_m, ground=ground)
