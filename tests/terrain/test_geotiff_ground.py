"""GeoTIFF: where the posts stand, units, voids, projections, and pictures that are not ground.

Source: OGC 19-008r4, GeoTIFF Standard 1.1 (from memory): GTRasterTypeGeoKey 1 is PixelIsArea (raster place (0, 0) is the outer corner of
the first pixel) and 2 is PixelIsPoint (it is that pixel's own point); VerticalUnitsGeoKey 9002 is the international foot, 9003 the US
survey foot.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import rasterio
import rasterio.windows

from server.errors import InputProblem
from tests.terrain.files import AREA, GEOGRAPHIC, POINT, PROJECTED, VERTICAL_UNITS_KEY, geotiff_bytes, level_tile, write_tile

FOOT_M = 0.3048  # international yard and pound agreement, 1959
US_SURVEY_FOOT_M = 1200 / 3937
UTM_33_NORTH, UTM_1_NORTH = 32633, 32601
ORDER = np.arange(12, dtype=np.int16).reshape(3, 4)


def at(ground, *places):
    lat_deg, lon_deg = np.array(places, dtype=float).T
    return ground.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)


def load(store, folder: Path, content: bytes, name: str = "ground.tif"):
    (folder / name).write_bytes(content)
    return store.load([folder])


def ground_of(store, folder: Path, content: bytes):
    return store.open(load(store, folder, content).fingerprint)


def test_where_pixels_are_areas_the_post_stands_at_the_centre(store, tiles):
    ground = ground_of(store, tiles, geotiff_bytes(ORDER, tie=(10.0, 50.0), step=0.01, raster_type=AREA))
    assert at(ground, (49.995, 10.005), (49.975, 10.035), (49.985, 10.02)) == pytest.approx([0.0, 11.0, 5.5], abs=1e-5)
    assert np.isnan(at(ground, (49.999, 10.005), (49.995, 10.001))).all()


def test_where_pixels_are_points_the_post_stands_at_the_tie_point(store, tiles):
    ground = ground_of(store, tiles, geotiff_bytes(ORDER, tie=(10.0, 50.0), step=0.01, raster_type=POINT))
    assert at(ground, (50.0, 10.0), (49.98, 10.03), (49.99, 10.015)) == pytest.approx([0.0, 11.0, 5.5], abs=1e-5)


def test_a_geographic_raster_keeps_its_lattice_and_posts(store, tiles):
    ground = ground_of(store, tiles, geotiff_bytes(ORDER, tie=(10.0, 50.0), step=0.01, raster_type=POINT))
    window = ground.window(south_deg=49.0, north_deg=51.0, west_deg=9.0, east_deg=11.0)
    assert (window.posts == ORDER).all()
    assert window.posts.dtype == np.int16
    assert (window.north_lat_deg, window.west_lon_deg, window.step_lat_deg, window.step_lon_deg) == pytest.approx((50.0, 10.0, 0.01, 0.01))


@pytest.mark.parametrize("key", [(VERTICAL_UNITS_KEY, 9002), (VERTICAL_UNITS_KEY, 9003)])
def test_a_raster_in_feet_equals_the_one_in_metres(store, tiles, tmp_path, key):
    metres = np.random.default_rng(1).uniform(0, 4000, (20, 20)).astype(np.float32)
    feet = (metres / (FOOT_M if key[1] == 9002 else US_SURVEY_FOOT_M)).astype(np.float32)
    (tmp_path / "m").mkdir()
    in_metres = ground_of(store, tmp_path / "m", geotiff_bytes(metres, tie=(10.0, 50.0)))
    loaded = load(store, tiles, geotiff_bytes(feet, tie=(10.0, 50.0), extra_keys=(key,)))
    assert loaded.taken[0].note == ""
    random = np.random.default_rng(2)
    lat_deg, lon_deg = random.uniform(49.81, 49.99, 200), random.uniform(10.01, 10.19, 200)
    expected_m = in_metres.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)
    assert not np.isnan(expected_m).any()
    assert store.open(loaded.fingerprint).elevations_m(lat_deg=lat_deg, lon_deg=lon_deg) == pytest.approx(expected_m, abs=0.002)


def _with_rasterio(path: Path, posts: np.ndarray, **options) -> None:
    unit, scale, offset = options.pop("unit", None), options.pop("scale", 1.0), options.pop("offset", 0.0)
    mask, colours = options.pop("mask", None), options.pop("colours", None)
    options = {"crs": "EPSG:4326", "transform": rasterio.Affine(0.01, 0.0, 10.0, 0.0, -0.01, 50.0), "count": 1, **options}
    height, width = posts.shape
    with (
        rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True),
        rasterio.open(path, "w", driver="GTiff", height=height, width=width, dtype=posts.dtype, **options) as file,
    ):
        for band in range(1, options["count"] + 1):
            file.write(posts, band)
        if unit:
            file.units = (unit,)
        file.scales, file.offsets = (scale,) * options["count"], (offset,) * options["count"]
        if mask is not None:
            file.write_mask(mask)
        if colours:
            file.write_colormap(1, colours)


@pytest.mark.parametrize(
    ("unit", "metres"), [("m", 1.0), ("metre", 1.0), ("ft", FOOT_M), ("Foot", FOOT_M), ("US survey foot", US_SURVEY_FOOT_M)]
)
def test_the_unit_of_the_band_is_read(store, tiles, unit, metres):
    _with_rasterio(tiles / "ground.tif", np.full((3, 3), 1000, dtype=np.int16), unit=unit)
    loaded = store.load([tiles])
    assert loaded.taken[0].note == ""
    assert at(store.open(loaded.fingerprint), (49.985, 10.015)) == pytest.approx([1000 * metres], abs=1e-3)


def test_scale_and_offset_of_the_band_are_applied(store, tiles):
    _with_rasterio(tiles / "ground.tif", np.full((3, 3), 5000, dtype=np.int16), scale=0.1, offset=-100.0)
    assert at(store.open(store.load([tiles]).fingerprint), (49.985, 10.015)) == pytest.approx([400.0], abs=1e-3)


def test_where_no_unit_is_stated_metres_are_taken_and_said(store, tiles):
    loaded = load(store, tiles, geotiff_bytes(np.full((3, 3), 1234, dtype=np.int16)))
    assert loaded.taken[0].note == "No height unit is stated; heights were taken as metres, the usual meaning. Highest post: 1,234 m."


def test_a_map_in_feet_without_a_height_unit_asks_to_check_a_summit(store, tiles):
    new_york_long_island_us_feet = 2263
    posts = np.full((10, 10), 50, dtype=np.int16)
    content = geotiff_bytes(posts, model=PROJECTED, epsg=new_york_long_island_us_feet, tie=(1_000_000.0, 200_000.0), step=100.0)
    assert "Check a summit that you know. Highest post: 50 m." in load(store, tiles, content).taken[0].note


@pytest.mark.parametrize("void", [-32768, -32767, -9999, math.nan, -3.4028234663852886e38])
@pytest.mark.parametrize("tagged", [True, False])
def test_voids_are_unknown_with_or_without_a_tag(store, tiles, void, tagged):
    posts = np.full((5, 5), 700.0, dtype=np.float32)
    posts[2, 2] = void
    loaded = load(store, tiles, geotiff_bytes(posts, tie=(10.0, 50.0), raster_type=POINT, nodata=repr(void) if tagged else None))
    assert "taken as void" not in loaded.taken[0].note
    heights_m = at(store.open(loaded.fingerprint), (49.98, 10.02), (49.975, 10.025), (49.98, 10.03), (49.965, 10.035))
    assert heights_m.tolist() == pytest.approx([math.nan, math.nan, 700.0, 700.0], nan_ok=True)


def test_a_void_tag_of_zero_makes_zero_unknown(store, tiles):
    posts = np.full((5, 5), 700, dtype=np.int16)
    posts[2, 2] = 0
    ground = ground_of(store, tiles, geotiff_bytes(posts, tie=(10.0, 50.0), raster_type=POINT, nodata="0"))
    assert np.isnan(at(ground, (49.98, 10.02))).all()


def test_outside_the_raster_is_unknown_not_zero(store, tiles):
    ground = ground_of(store, tiles, geotiff_bytes(ORDER + np.int16(100), tie=(10.0, 50.0)))
    assert np.isnan(at(ground, (51.0, 10.02), (49.985, 11.0), (0.0, 0.0))).all()


def test_blocks_that_a_sparse_file_leaves_out_are_unknown_not_zero(store, tiles):
    posts = np.full((256, 256), 300, dtype=np.int16)
    _with_rasterio(tiles / "ground.tif", np.zeros((512, 512), dtype=np.int16), tiled=True, blockxsize=256, blockysize=256, SPARSE_OK=True)
    with rasterio.open(tiles / "ground.tif", "r+") as file:
        file.write(posts, 1, window=rasterio.windows.Window(256, 0, 256, 256))
    ground = store.open(store.load([tiles]).fingerprint)
    assert at(ground, (49.0, 13.0)) == pytest.approx([300.0])
    assert np.isnan(at(ground, (49.0, 11.0), (46.0, 13.0))).all()


def test_masked_pixels_are_unknown(store, tiles):
    mask = np.full((5, 5), 255, dtype=np.uint8)
    mask[2, 2] = 0
    _with_rasterio(tiles / "ground.tif", np.full((5, 5), 40, dtype=np.int16), mask=mask)
    ground = store.open(store.load([tiles]).fingerprint)
    assert at(ground, (49.975, 10.025), (49.995, 10.005)).tolist() == pytest.approx([math.nan, 40.0], nan_ok=True)


def _krueger_utm_m(lat_deg: np.ndarray, lon_deg: np.ndarray, *, central_lon_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Return UTM easting and northing [m] by Krueger's series to n^3 (C. F. F. Karney, J. Geodesy 85, 2011, eq. 35; from memory)."""
    f = 1 / 298.257223563
    n, e = f / (2 - f), math.sqrt(f * (2 - f))
    radius_m = 6378137.0 / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    alpha = (n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16, 13 * n**2 / 48 - 3 * n**3 / 5, 61 * n**3 / 240)
    sin_lat, east = np.sin(np.radians(lat_deg)), np.radians(lon_deg - central_lon_deg)
    t = np.sinh(np.arctanh(sin_lat) - e * np.arctanh(e * sin_lat))
    xi, eta = np.arctan2(t, np.cos(east)), np.arctanh(np.sin(east) / np.sqrt(1 + t**2))
    northing = xi + sum(a * np.sin(2 * j * xi) * np.cosh(2 * j * eta) for j, a in enumerate(alpha, 1))
    easting = eta + sum(a * np.cos(2 * j * xi) * np.sinh(2 * j * eta) for j, a in enumerate(alpha, 1))
    return 500_000 + 0.9996 * radius_m * easting, 0.9996 * radius_m * northing


def _slope_m(easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
    return 800.0 + 0.05 * (easting_m - 600_000.0) - 0.03 * (northing_m - 5_200_000.0)


def _utm_slope(west_m: float, north_m: float, side: int) -> bytes:
    step_m = 30.0
    easting_m = west_m + step_m * (np.arange(side) + 0.5)
    northing_m = north_m - step_m * (np.arange(side) + 0.5)
    posts = _slope_m(*np.meshgrid(easting_m, northing_m)).astype(np.float32)
    return geotiff_bytes(posts, model=PROJECTED, epsg=UTM_33_NORTH, tie=(west_m, north_m), step=step_m)


def test_a_slope_in_utm_is_the_same_slope_in_latitude_and_longitude(store, tiles):
    (tiles / "west.tif").write_bytes(_utm_slope(594_000.0, 5_206_000.0, 200))
    (tiles / "east.tif").write_bytes(_utm_slope(600_000.0, 5_206_000.0, 200))
    loaded = store.load([tiles])
    assert all("carried over from WGS 84 / UTM zone 33N" in file.note for file in loaded.taken)
    ground = store.open(loaded.fingerprint)
    random = np.random.default_rng(3)
    lat_deg, lon_deg = random.uniform(46.91, 46.98, 5000), random.uniform(16.24, 16.39, 5000)
    easting_m, northing_m = _krueger_utm_m(lat_deg, lon_deg, central_lon_deg=15.0)
    inside = (easting_m > 594_100) & (easting_m < 605_900) & (northing_m > 5_200_100) & (northing_m < 5_205_900)
    assert (inside & (np.abs(easting_m - 600_000) < 15)).sum() > 5  # some stand on the seam between the two files
    heights_m = ground.elevations_m(lat_deg=lat_deg[inside], lon_deg=lon_deg[inside])
    assert heights_m == pytest.approx(_slope_m(easting_m, northing_m)[inside], abs=0.01)


def test_a_utm_raster_across_the_antimeridian_is_one_piece(store, tiles):
    posts = np.full((60, 60), 90, dtype=np.int16)
    easting_m, northing_m = _krueger_utm_m(np.array([-17.0]), np.array([-180.0]), central_lon_deg=-177.0)
    tie = (easting_m[0] - 3000.0, northing_m[0] + 10_000_000.0 + 3000.0)
    ground = ground_of(store, tiles, geotiff_bytes(posts, model=PROJECTED, epsg=UTM_1_NORTH + 100, tie=tie, step=100.0))
    assert at(ground, (-17.0, 179.99), (-17.0, -179.99), (-17.0, 180.0)) == pytest.approx([90.0, 90.0, 90.0])


def test_a_turned_raster_is_turned_back(store, tiles):
    turn = math.radians(30.0)
    a, d = 0.01 * math.cos(turn), 0.01 * math.sin(turn)
    axes = (a, d, 10.0, d, -a, 50.0)
    rows, columns = np.mgrid[0:60, 0:60]
    lon_deg = 10.0 + a * (columns + 0.5) + d * (rows + 0.5)
    lat_deg = 50.0 + d * (columns + 0.5) - a * (rows + 0.5)
    posts = (500.0 + 100.0 * (lon_deg - 10.0) - 200.0 * (lat_deg - 50.0)).astype(np.float32)
    loaded = load(store, tiles, geotiff_bytes(posts, axes=axes))
    assert "turned" in loaded.taken[0].note
    ground = store.open(loaded.fingerprint)
    assert at(ground, (49.9, 10.4), (50.0, 10.3)) == pytest.approx([560.0, 530.0], abs=0.01)
    assert np.isnan(at(ground, (50.2, 10.05))).all()


def test_a_datum_near_wgs84_keeps_its_posts_and_a_distant_one_is_carried_over(store, tiles, tmp_path):
    nad83, nad27 = 4269, 4267
    near = load(store, tiles, geotiff_bytes(ORDER, tie=(-100.0, 40.0), epsg=nad83))
    assert "carried" not in near.taken[0].note
    (tmp_path / "far").mkdir()
    far = load(store, tmp_path / "far", geotiff_bytes(ORDER, tie=(-100.0, 40.0), epsg=nad27))
    assert "Its datum, NAD27, differs from WGS 84; it was carried over." in far.taken[0].note


def _refused(folder: Path) -> dict[str, tuple[bytes, str]]:
    tall = np.full((4, 4), 12000, dtype=np.int16)
    small = np.full((2, 2), 5, dtype=np.int16)
    polar = {"model": PROJECTED, "epsg": 3413, "tie": (-20_000.0, 20_000.0), "step": 10_000.0}
    return {
        "empty.tif": (b"", "empty"),
        "seventy.tif": (b"x" * 70, "not a GeoTIFF that can be read"),
        "page.tiff": (b"<html>sign in</html>", "web page"),
        "short.TIF": (geotiff_bytes(np.zeros((500, 500), np.int16))[:2000], "not a GeoTIFF that can be read"),
        "vast.tif": (geotiff_bytes(ORDER, stated_size=(200_000, 200_000)), "states 200,000 x 200,000 posts"),
        "nowhere.tif": (geotiff_bytes(ORDER, model=None), "does not state its coordinate reference system"),
        "bytes.tif": (geotiff_bytes(ORDER.astype(np.uint8)), "probably a picture"),
        "void.tif": (geotiff_bytes(np.full((3, 3), np.nan, np.float32)), "Every post in it is void"),
        "unwritten.tif": (geotiff_bytes(ORDER, written=False), "Every post in it is void"),
        "tall.tif": (geotiff_bytes(tall), "lie outside -12,000 to 9,000 m"),
        "ellipsoid.tif": (geotiff_bytes(ORDER, model=GEOGRAPHIC, epsg=4979), "count from the ellipsoid"),
        "off.tif": (geotiff_bytes(ORDER, tie=(0.0, 120.0)), "do not lie on the earth"),
        "off-utm.tif": (geotiff_bytes(ORDER, model=PROJECTED, epsg=UTM_33_NORTH, tie=(5e9, 5e6), step=30.0), "do not lie on the earth"),
        "pole.tif": (geotiff_bytes(ORDER, **polar), "round a pole"),
        "tiny.tif": (geotiff_bytes(small, model=PROJECTED, epsg=UTM_33_NORTH, tie=(5e5, 5e6), step=30.0), "too small"),
        "line.tif": (geotiff_bytes(ORDER[:1]), "at least 2 x 2"),
    }


def test_what_is_no_ground_is_refused_one_by_one_and_the_rest_loads(store, tiles):
    expected = _refused(tiles)
    for name, (content, _) in expected.items():
        (tiles / name).write_bytes(content)
    _with_rasterio(tiles / "colour.tif", np.zeros((3, 3), dtype=np.int16), count=3)
    _with_rasterio(tiles / "palette.tif", np.zeros((3, 3), dtype=np.uint8), photometric="palette", colours={0: (1, 2, 3, 255)})
    _with_rasterio(tiles / "fathoms.tif", np.full((3, 3), 9, dtype=np.int16), unit="fathom")
    expected |= {
        "colour.tif": (b"", "It has 3 bands"),
        "palette.tif": (b"", "colours of a palette"),
        "fathoms.tif": (b"", "unit 'fathom' is not metres or feet"),
    }
    write_tile(tiles, "N44W072", level_tile(10))
    loaded = store.load([tiles])
    assert [file.name for file in loaded.taken] == ["N44W072.hgt"]
    reasons = {file.name: file.reason for file in loaded.refused}
    assert reasons.keys() == expected.keys()
    for name, (_, words) in expected.items():
        assert words in reasons[name], name


def test_two_units_that_contradict_each_other_are_refused(store, tiles):
    _with_rasterio(tiles / "ground.tif", np.full((3, 3), 9, dtype=np.int16), unit="ft", crs="EPSG:4326+5773")
    with pytest.raises(InputProblem, match="states two units of height: ft and metre"):
        store.load([tiles])


def test_a_file_of_another_format_under_a_tiff_name_is_not_opened(store, tiles):
    """A virtual raster is text that names other files; it must not reach them."""
    write_tile(tiles / "aside", "N44W072", level_tile(10))
    text = f'<VRTDataset rasterXSize="2" rasterYSize="2"><SourceFilename>{tiles}/aside/N44W072.hgt</SourceFilename></VRTDataset>'
    (tiles / "virtual.tif").write_text(text)
    with pytest.raises(InputProblem, match="not a GeoTIFF that can be read"):
        store.load([tiles / "virtual.tif"])
