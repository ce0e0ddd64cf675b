"""Real tiles: known summits, station heights and ground along airways. Needs BEACONRY_OPEN_DATA."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

FOOT_M = 0.3048


@pytest.fixture
def sierra(open_data: Path) -> Path:
    folder = open_data / "sierra_nevada"
    if not folder.is_dir():
        pytest.skip("The open data holds no sierra_nevada")
    return folder


@pytest.fixture
def hgt_tiles(sierra: Path) -> list[Path]:
    return sorted((sierra / "terrain").glob("*.hgt.zip"))


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def test_mount_washington_stands_where_it_should(store, open_data):
    """Summit 44.2706 N 71.3033 W, 1,917 m (US Geological Survey; from memory); the tile's README: 115 to 1,908 m, no void."""
    folder = open_data / "terrain_hgt_native"
    if not folder.is_dir():
        pytest.skip("The open data holds no terrain_hgt_native")
    load = store.load([folder])
    assert load.known_share == 1.0
    ground = store.open(load.fingerprint)
    tile = ground.window(south_deg=44.0, north_deg=45.0, west_deg=-72.0, east_deg=-71.0)
    assert (tile.posts.shape, tile.posts.min(), tile.posts.max()) == ((1201, 1201), 115, 1908)
    row, column = np.unravel_index(np.argmax(tile.posts), tile.posts.shape)
    assert tile.north_lat_deg - row * tile.step_lat_deg == pytest.approx(44.2706, abs=0.002)
    assert tile.west_lon_deg + column * tile.step_lon_deg == pytest.approx(-71.3033, abs=0.002)


def test_twelve_tiles_make_one_ground_with_real_voids(store, hgt_tiles):
    load = store.load(hgt_tiles)
    assert (len(load.taken), load.refused) == (12, ())
    bounds = load.bounds
    assert (bounds.south_lat_deg, bounds.north_lat_deg, bounds.west_lon_deg, bounds.east_lon_deg) == pytest.approx((36, 39, -121, -117))
    assert 0.25 < load.known_share < 0.75
    window = store.open(load.fingerprint).window(south_deg=37, north_deg=38, west_deg=-120, east_deg=-118)
    assert (window.posts > -32768).all()  # its README: N37W119 and N37W120 are full


def test_stations_stand_at_their_published_elevations(store, sierra, hgt_tiles):
    """FAA elevations in beacons.csv; its README gives 64 ft as the largest difference of this terrain (MVA), on a summit."""
    stations = {row["ident"]: row for row in rows(sierra / "beacons.csv") if row["ident"] in ("BIH", "FRA", "HYP", "MVA", "OAL")}
    ground = store.open(store.load(hgt_tiles).fingerprint)
    for ident, row in stations.items():
        ground_m = ground.elevations_m(lat_deg=np.array([float(row["lat"])]), lon_deg=np.array([float(row["lon"])]))[0]
        assert ground_m / FOOT_M == pytest.approx(float(row["dme_elev_ft"]), abs=70), ident


def test_ground_along_the_airways_is_as_computed_elsewhere(store, sierra, hgt_tiles):
    """ground_ft of los_reference.csv: bilinear heights by another program from the same tiles, to whole feet."""
    reference = rows(sierra / "los_reference.csv")
    ground = store.open(store.load(hgt_tiles).fingerprint)
    ground_m = ground.elevations_m(
        lat_deg=np.array([float(row["lat"]) for row in reference]), lon_deg=np.array([float(row["lon"]) for row in reference])
    )
    assert len(reference) > 250
    # positions there are rounded to 0.00001 degree, about 1 m: on a 45 degree slope that is 3 ft
    assert ground_m / FOOT_M == pytest.approx([float(row["ground_ft"]) for row in reference], abs=4)


def test_a_real_geotiff_window_agrees_with_the_tiles_made_from_it(store, sierra, hgt_tiles):
    """The .hgt tiles are a bilinear resampling of the GeoTIFF's grid (README), so heights differ only by that smoothing."""
    tiff = sierra / "terrain" / "srtm90_bishop_window.tif"
    load = store.load([tiff])
    assert load.known_share == 1.0
    assert "No height unit is stated" in load.taken[0].note
    fine, coarse = store.open(load.fingerprint), store.open(store.load(hgt_tiles).fingerprint)
    random = np.random.default_rng(1)
    lat_deg, lon_deg = random.uniform(37.11, 37.88, 2000), random.uniform(-118.89, -118.11, 2000)
    differences_m = fine.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg) - coarse.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    assert np.median(np.abs(differences_m)) < 3
    assert abs(np.mean(differences_m)) < 1


def test_both_lattices_together_are_nowhere_lower_by_window_than_by_place(store, sierra):
    ground = store.open(store.load([sierra / "terrain"]).fingerprint)
    window = ground.window(south_deg=37.8, north_deg=38.0, west_deg=-118.3, east_deg=-118.0)
    assert window.posts.dtype == np.float32
    r, c = np.mgrid[0 : window.posts.shape[0] : 7, 0 : window.posts.shape[1] : 7]
    lat_deg = window.north_lat_deg - window.step_lat_deg * r.ravel()
    lon_deg = window.west_lon_deg + window.step_lon_deg * c.ravel()
    above_m = window.posts[r, c].ravel() - ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    assert np.nanmin(above_m) > -1e-3  # float32
    assert np.nanmedian(above_m) < 2.0 and np.nanmax(above_m) < 15.0  # only by what a patch would cut
    assert not np.isnan(window.posts).any()
