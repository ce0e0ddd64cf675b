"""Reads GeoTIFF elevations in any reference system, metres or feet, and writes posts as one. The only module that brings in rasterio.

What a post is: rasterio's transform speaks of pixel corners for both kinds of raster, "pixel is area" and "pixel is point"; the post stands
at the pixel's centre. Source: OGC 19-008r4, GeoTIFF Standard, requirements on GTRasterTypeGeoKey; GDAL shifts "point" by half a pixel.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import rasterio
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.windows import Window

from server.terrain.hgt import looks_like_a_web_page
from server.terrain.lattice import VOID, Lattice
from server.terrain.sheet import ROWS_AT_A_TIME, FileRefused, Projection, Scale, Sheet, lay_down
from server.terrain.warp import check_place, distance_from_wgs84_deg
from server.units import METRES_PER_FOOT, METRES_PER_US_SURVEY_FOOT

MOST_POSTS_IN_A_FILE = 150_000_000
"""A degree square at a third of a second holds 117 million."""

NEAR_WGS84_DEG = 4.5e-5
"""Datums within 5 m of WGS 84 (NAD 83, ETRS 89) are taken as it: far less than the step of any tile."""

METRES_PER_UNIT = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "international foot", "international feet"), METRES_PER_FOOT),
    **dict.fromkeys(("us survey foot", "us survey feet", "us-ft", "ftus", "foot_us", "us_survey_foot"), METRES_PER_US_SURVEY_FOOT),
}

# No files beside the TIFF change what it means, and the vertical part of a compound reference system is told.
OPENING = {"GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR", "GDAL_PAM_ENABLED": "NO", "GTIFF_REPORT_COMPD_CS": "YES"}


def read_geotiff(path: Path, *, posts_file: Path) -> tuple[Sheet, list[str]]:
    """Read one GeoTIFF into a scratch file; return it with what a person should know about it.

    Raises
    ------
    FileRefused
        With the reason.
    """
    try:
        with warnings.catch_warnings(), rasterio.Env(**OPENING):
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path, driver="GTiff") as source:
                return _read(source, posts_file)
    except RasterioError as error:
        raise FileRefused(_unreadable(path)) from error


def write_geotiff(posts: np.ndarray, lattice: Lattice, file: Path) -> None:
    """Write posts (rows, columns), int16 or float32, unknown -32768 or NaN, which read_geotiff gives back."""
    is_float = posts.dtype.kind == "f"
    west_edge_deg = _edge(lattice.west_lon_deg, 0.5 * lattice.step_lon_deg)
    north_edge_deg = _edge(lattice.north_lat_deg, -0.5 * lattice.step_lat_deg)
    profile = {
        "driver": "GTiff",
        "width": lattice.columns,
        "height": lattice.rows,
        "count": 1,
        "dtype": "float32" if is_float else "int16",
        "crs": "EPSG:4326",
        "transform": rasterio.Affine(lattice.step_lon_deg, 0.0, west_edge_deg, 0.0, -lattice.step_lat_deg, north_edge_deg),
        "nodata": np.nan if is_float else VOID,
        "compress": "deflate",
        "predictor": 3 if is_float else 2,
        "BIGTIFF": "IF_SAFER",
    }
    with warnings.catch_warnings(), rasterio.Env(**OPENING):
        warnings.simplefilter("ignore", PendingDeprecationWarning)  # rasterio and affine disagree about an operator
        with rasterio.open(file, "w", **profile) as target:
            for top in range(0, lattice.rows, ROWS_AT_A_TIME):
                strip = posts[top : top + ROWS_AT_A_TIME]
                target.write(strip, 1, window=Window(0, top, lattice.columns, len(strip)))
            target.units = ("metre",)


def _edge(centre_deg: float, half_step_deg: float) -> float:
    """Return the edge of the first pixel from which half a step leads to its centre, to the last bit where that can be."""
    edge_deg = centre_deg - half_step_deg
    near = (edge_deg, np.nextafter(edge_deg, -np.inf), np.nextafter(edge_deg, np.inf))
    return next((float(one) for one in near if one + half_step_deg == centre_deg), edge_deg)


def _read(source: rasterio.DatasetReader, posts_file: Path) -> tuple[Sheet, list[str]]:
    _check_heights(source)
    crs = _reference_system(source)
    metres_per_unit, notes = _unit(source, crs)
    horizontal = crs.sub_crs_list[0] if crs.is_compound else crs
    lattice, projection, place_notes = _place(source, horizontal)
    scale = Scale(nodata=source.nodata, factor=source.scales[0], offset=source.offsets[0], metres_per_unit=metres_per_unit)
    sheet = lay_down(
        _strips(source),
        lattice=lattice,
        scale=scale,
        integers=np.dtype(source.dtypes[0]).kind in "iu",
        posts_file=posts_file,
        projection=projection,
    )
    return sheet, [f"{note} Highest post: {sheet.highest_m:,.0f} m." for note in notes] + place_notes


def _check_heights(source: rasterio.DatasetReader) -> None:
    """Refuse what is no table of heights, or too large a one, before a single post is read."""
    if source.width * source.height > MOST_POSTS_IN_A_FILE:
        raise FileRefused(
            f"It states {source.width:,} x {source.height:,} posts; one file may hold {MOST_POSTS_IN_A_FILE:,}. Cut it into smaller tiles."
        )
    if source.width < 2 or source.height < 2:
        raise FileRefused(f"It holds {source.width} x {source.height} posts; a surface needs at least 2 x 2.")
    if source.count != 1:
        raise FileRefused(f"It has {source.count} bands; an elevation file has one. It is probably a picture.")
    if source.colorinterp[0] == ColorInterp.palette:
        raise FileRefused("Its numbers stand for colours of a palette, not for heights. It is a picture.")
    dtype = np.dtype(source.dtypes[0])
    if dtype.kind not in "iuf" or dtype.itemsize < 2:
        raise FileRefused(f"It holds numbers of the kind {dtype}, which cannot be heights in metres or feet. It is probably a picture.")


def _reference_system(source: rasterio.DatasetReader) -> CRS:
    if source.crs is None or not source.crs.to_wkt():
        raise FileRefused("It does not state its coordinate reference system, so nobody knows where it lies.")
    try:
        return CRS.from_wkt(source.crs.to_wkt())
    except CRSError as error:
        raise FileRefused("Its coordinate reference system is not one that can be understood.") from error


def _unit(source: rasterio.DatasetReader, crs: CRS) -> tuple[float, list[str]]:
    """Return metres per unit of height, from the band's unit or the vertical reference system, and a note where neither states it."""
    stated: dict[str, float] = {}
    band_unit = (source.units[0] or "").strip()
    if band_unit:
        if band_unit.lower() not in METRES_PER_UNIT:
            raise FileRefused(f"Its height unit {band_unit!r} is not metres or feet. Convert it to metres.")
        stated[band_unit] = METRES_PER_UNIT[band_unit.lower()]
    vertical = [axis for part in (crs.sub_crs_list[1:] if crs.is_compound else []) for axis in part.axis_info]
    for axis in vertical:
        if axis.direction == "down":
            raise FileRefused("Its vertical reference system counts depths, not heights.")
        stated[axis.unit_name] = axis.unit_conversion_factor
    if not crs.is_compound and len(crs.axis_info) == 3:
        raise FileRefused("Its heights count from the ellipsoid, not from sea level; the two differ by up to 100 m. Convert it first.")
    if stated and max(stated.values()) - min(stated.values()) > 1e-5:
        raise FileRefused(f"It states two units of height: {' and '.join(stated)}. Correct the file.")
    if stated:
        return next(iter(stated.values())), []
    if any(axis.unit_conversion_factor not in (1.0, np.pi / 180.0) and crs.is_projected for axis in crs.axis_info):
        return 1.0, ["Its map unit is the foot but no height unit is stated; heights were taken as metres. Check a summit that you know."]
    return 1.0, ["No height unit is stated; heights were taken as metres, the usual meaning."]


def _place(source: rasterio.DatasetReader, horizontal: CRS) -> tuple[Lattice, Projection | None, list[str]]:
    """Say where the posts stand: on a lattice of latitude and longitude as they are, or in a projection that is yet to be undone."""
    a, b, c, d, e, f = tuple(source.transform)[:6]
    if a * e - b * d == 0.0 or source.transform.is_identity:
        raise FileRefused("It does not say where its pixels lie on its map. It is not georeferenced.")
    wkt = horizontal.to_wkt()
    is_upright = b == 0.0 and d == 0.0 and a > 0.0 and e < 0.0
    if not is_upright:
        lattice = Lattice(north_lat_deg=0.0, west_lon_deg=0.0, step_lat_deg=1.0, step_lon_deg=1.0, rows=source.height, columns=source.width)
        projection = Projection(crs_wkt=wkt, pixel_axes=(a, b, c + 0.5 * (a + b), d, e, f + 0.5 * (d + e)))
        check_place(lattice, projection)
        return lattice, projection, ["Its raster is turned; it was carried over to latitude and longitude."]
    lattice = Lattice(
        north_lat_deg=f + 0.5 * e, west_lon_deg=c + 0.5 * a, step_lat_deg=-e, step_lon_deg=a, rows=source.height, columns=source.width
    )
    projection = Projection(crs_wkt=wkt)
    check_place(lattice, projection)
    if horizontal.is_geographic and horizontal.axis_info[0].unit_name == "degree":
        if distance_from_wgs84_deg(lattice, projection) <= NEAR_WGS84_DEG:
            return lattice, None, []
        return lattice, projection, [f"Its datum, {horizontal.name}, differs from WGS 84; it was carried over."]
    return lattice, projection, [f"It was carried over from {horizontal.name} to latitude and longitude."]


def _strips(source: rasterio.DatasetReader) -> Iterator[np.ndarray]:
    """Yield the numbers strip by strip; masked and never-written pixels as NaN."""
    block_rows, _ = source.block_shapes[0]
    rows_at_a_time = max(1, ROWS_AT_A_TIME // block_rows) * block_rows
    has_mask = MaskFlags.per_dataset in source.mask_flag_enums[0]
    unwritten = _unwritten_blocks(source) if source.nodata is None else []
    for top in range(0, source.height, rows_at_a_time):
        window = Window(0, top, source.width, min(rows_at_a_time, source.height - top))
        numbers = source.read(1, window=window)
        if has_mask:
            numbers = np.where(source.read_masks(1, window=window) > 0, numbers, np.nan)
        holes = [hole for hole in unwritten if top <= hole.row_off < top + rows_at_a_time]
        if holes:
            numbers = numbers.astype(np.float64)
            for hole in holes:
                numbers[hole.row_off - top : hole.row_off - top + hole.height, hole.col_off : hole.col_off + hole.width] = np.nan
        yield numbers


def _unwritten_blocks(source: rasterio.DatasetReader) -> list[Window]:
    """List the blocks that a sparse TIFF leaves out: without a void number they would read as 0, which is sea level."""
    return [
        window
        for (row, column), window in source.block_windows(1)
        if source.get_tag_item(f"BLOCK_OFFSET_{column}_{row}", "TIFF", bidx=1) is None
    ]


def _unreadable(path: Path) -> str:
    with path.open("rb") as stream:
        start = stream.read(512)
    if not start:
        return "It is empty (0 bytes). Fetch the file again."
    if looks_like_a_web_page(start):
        return "It is a web page, not a GeoTIFF: a sign-in or error page was saved under the file's name. Fetch the file again."
    return "It is not a GeoTIFF that can be read: damaged, cut short or of another format. Fetch the file again."
