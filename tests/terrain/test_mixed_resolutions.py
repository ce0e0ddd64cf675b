"""Ground of several spacings: what a ray meets is nowhere lower than the finest source that covers it, and seams are closed."""

from __future__ import annotations

import numpy as np
import pytest

from server.navigation import Position
from server.radio import Antenna
from server.radio.sight import lowest_altitudes
from server.terrain import Terrain
from server.terrain.ground import Mosaic
from server.terrain.lattice import Lattice, bilinear

S1, S3 = 1.0 / 3600.0, 1.0 / 1200.0


def a_mosaic(posts, *, north=44.0, west=-37.0, step_lat=S3, step_lon=None) -> Mosaic:
    rows, columns = posts.shape
    lattice = Lattice(
        north_lat_deg=north, west_lon_deg=west, step_lat_deg=step_lat, step_lon_deg=step_lon or step_lat, rows=rows, columns=columns
    )
    return Mosaic(lattice=lattice, posts=posts.astype(np.float32))


def rough(rows, columns, seed):
    return np.random.default_rng(seed).uniform(0.0, 900.0, (rows, columns))


def over_window(window, lat_deg, lon_deg):
    row = (window.north_lat_deg - lat_deg) / window.step_lat_deg
    column = (lon_deg - window.west_lon_deg) / window.step_lon_deg
    return bilinear(window.posts, row, column)


@pytest.mark.parametrize(
    ("step_lat", "step_lon", "shift"),
    [(S1, S1, 0.0), (S1, S1, 0.4), (S3 * 0.97, S3 * 0.97, 0.3), (S1, 1.5 * S1, 0.7), (S3 / 2.0, S3 * 1.4, 0.2)],
    ids=["one second", "out of phase", "almost the same", "of the north", "finer only one way"],
)
def test_no_place_of_a_window_is_lower_than_the_finest_source_that_knows_it(step_lat, step_lon, shift):
    coarse = a_mosaic(rough(61, 61, 1))
    fine = a_mosaic(rough(80, 80, 2), north=43.98 + shift * S3, west=-36.98 + shift * S3, step_lat=step_lat, step_lon=step_lon)
    coarse.posts[10:13, 40:44] = np.nan
    ground = Terrain(fingerprint="mixed", mosaics=[coarse, fine])
    window = ground.window(south_deg=43.95, north_deg=44.0, west_deg=-37.0, east_deg=-36.95)
    random = np.random.default_rng(3)
    lat_deg, lon_deg = random.uniform(43.951, 43.999, 40_000), random.uniform(-36.999, -36.951, 40_000)
    truth_m, met_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg), over_window(window, lat_deg, lon_deg)
    both = ~np.isnan(truth_m) & ~np.isnan(met_m)
    assert both.mean() > 0.9
    assert (met_m[both] - truth_m[both]).min() > -1e-3  # float32
    assert not (np.isnan(truth_m) & ~np.isnan(met_m)).any(), "no ground is invented"


def test_a_ray_that_never_enters_the_finer_tile_is_not_lower_with_the_tile_loaded():
    coarse = a_mosaic(rough(121, 241, 4))
    fine = a_mosaic(rough(40, 40, 5), north=43.92, west=-36.98, step_lat=S1)
    antenna = Antenna(
        position=Position(lat_deg=43.98, lon_deg=-36.99), altitude_m=950.0, ground_m=None, height_assumed=False, elevation_estimated=False
    )
    lat_deg, lon_deg = np.random.default_rng(6).uniform(43.96, 43.999, 500), np.random.default_rng(7).uniform(-36.9, -36.81, 500)
    alone, mixed = (
        lowest_altitudes(
            antenna=antenna, lat_deg=lat_deg, lon_deg=lon_deg, ground=Terrain(fingerprint="x", mosaics=mosaics)
        ).lowest_altitude_m
        for mosaics in ([coarse], [coarse, fine])
    )
    assert (mixed - alone).min() > -0.01


def test_tiles_of_two_spacings_that_leave_a_line_between_them_meet_without_an_unknown_strip():
    # As north of 60 degrees: the northern tile ends one line short of the parallel and is spaced wider from west to east.
    north = a_mosaic(np.full((40, 30), 300.0), north=60.0 + 40 * S1, west=10.0, step_lat=S1, step_lon=1.5 * S1)
    south = a_mosaic(np.full((40, 44), 100.0), north=60.0, west=10.0, step_lat=S1)
    ground = Terrain(fingerprint="sixty", mosaics=[north, south])
    lat_deg = 60.0 + np.linspace(-0.9, 1.9, 57) * S1
    elevation_m = ground.elevations_m(lat_deg=lat_deg, lon_deg=np.full(57, 10.0 + 11.3 * S1))
    assert not np.isnan(elevation_m).any()
    between = (lat_deg > 60.0 + 0.01 * S1) & (lat_deg < 60.0 + 0.99 * S1)
    assert (elevation_m[between] == 300.0).all()  # the higher edge: no gully is invented
    window = ground.window(south_deg=60.0 - 20 * S1, north_deg=60.0 + 20 * S1, west_deg=10.0 + 2 * S1, east_deg=10.0 + 30 * S1)
    assert (window.posts > -32000.0).all()


def test_a_gap_wider_than_one_step_stays_unknown():
    north = a_mosaic(np.full((40, 40), 300.0), north=60.0 + 42 * S1, west=10.0, step_lat=S1)
    south = a_mosaic(np.full((40, 40), 100.0), north=60.0, west=10.0, step_lat=S1 * 1.01)
    ground = Terrain(fingerprint="gap", mosaics=[north, south])
    assert np.isnan(ground.elevations_m(lat_deg=np.array([60.0 + 1.5 * S1]), lon_deg=np.array([10.0 + 5 * S1])))[0]
