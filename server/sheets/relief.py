"""Shaded ground for the chart: warm tints by elevation, light from the north-west, pale sea, nothing where the ground is not known.

Pixels in, one small PNG out. The colours are an ink on paper, not an altitude warning.
"""

from __future__ import annotations

import base64
import io
from functools import lru_cache

import numpy as np
from PIL import Image

TINTS = 16
TILE_QUALITY = 70
SHADES = 14
UNKNOWN, OPEN_SEA, SHORE, FIRST_LAND = 0, 1, 2, 3
SEA_WITHIN_M = 0.5
"""Ground this near to 0 is drawn as sea. Tiles hold exactly 0 there, and only where the region says that it is sea."""

TINT_STOPS_M = (0.0, 300.0, 800.0, 1500.0, 2500.0, 4000.0)
TINT_COLOURS = ((243, 235, 217), (233, 219, 188), (219, 197, 158), (199, 168, 124), (170, 134, 100), (140, 108, 84))
SEA_COLOUR, SHORE_COLOUR = (221, 228, 230), (120, 128, 130)

LIGHT_FROM_DEG, LIGHT_HEIGHT_DEG = 315.0, 45.0  # the map-makers' usual light, north-west and half-way up
STEEPNESS = 2.2  # slopes are drawn this much steeper, so that rolling ground shows


def tint_of_m(elevation_m: float) -> tuple[int, int, int]:
    """Return the paper tint of an elevation, without shading."""
    red, green, blue = (round(float(np.interp(elevation_m, TINT_STOPS_M, [colour[band] for colour in TINT_COLOURS]))) for band in range(3))
    return red, green, blue


def relief_png_uri(elevations_m: np.ndarray, *, pixel_m: float) -> str:
    """Draw elevations [m] (rows from the north, NaN unknown, square pixels of ``pixel_m``) as a PNG data address."""
    image = Image.fromarray(_palette_indices(elevations_m, pixel_m)).convert("P")
    image.putpalette(_palette())
    out = io.BytesIO()
    image.save(out, format="PNG", optimize=True, transparency=UNKNOWN)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def relief_tile(elevations_m: np.ndarray, *, pixel_m: float, margin: int) -> bytes:
    """Draw elevations as ``relief_png_uri`` does, as a WebP picture, transparent where not known. ``margin`` pixels round the edge are only
    there to light the others and to find their shore, and are cut off."""
    indices = _palette_indices(elevations_m, pixel_m)[margin:-margin, margin:-margin]
    colours = np.array(_palette(), dtype=np.uint8).reshape(-1, 3)[indices]
    known = indices != UNKNOWN
    if not known.all():
        colours = np.dstack([colours, np.where(known, 255, 0).astype(np.uint8)])
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(colours)).save(out, format="WEBP", quality=TILE_QUALITY, method=0)
    return out.getvalue()


def _palette_indices(elevations_m: np.ndarray, pixel_m: float) -> np.ndarray:
    known = np.isfinite(elevations_m)
    ground_m = np.where(known, elevations_m, 0.0)
    tint = np.interp(ground_m, TINT_STOPS_M, np.linspace(0.0, TINTS - 1, len(TINT_STOPS_M))).round().astype(int)
    shade = (_light(ground_m, pixel_m) * (SHADES - 1)).round().astype(int)
    indices = FIRST_LAND + tint * SHADES + shade
    sea = known & (np.abs(ground_m) < SEA_WITHIN_M)
    indices = np.where(sea, np.where(_touches(sea, known & ~sea), SHORE, OPEN_SEA), indices)
    return np.where(known, indices, UNKNOWN).astype(np.uint8)


def _light(ground_m: np.ndarray, pixel_m: float) -> np.ndarray:
    """Return how brightly each pixel is lit, 0 to 1: Lambert's cosine law on the steepened slope."""
    down, right = np.gradient(ground_m, pixel_m)
    east, north = right * STEEPNESS, -down * STEEPNESS
    azimuth, height = np.radians(LIGHT_FROM_DEG), np.radians(LIGHT_HEIGHT_DEG)
    towards_light = -east * np.sin(azimuth) * np.cos(height) - north * np.cos(azimuth) * np.cos(height) + np.sin(height)
    return np.clip(towards_light / np.sqrt(1.0 + east**2 + north**2), 0.0, 1.0)


def _touches(sea: np.ndarray, land: np.ndarray) -> np.ndarray:
    beside = np.zeros_like(land)
    beside[1:] |= land[:-1]
    beside[:-1] |= land[1:]
    beside[:, 1:] |= land[:, :-1]
    beside[:, :-1] |= land[:, 1:]
    return sea & beside


@lru_cache(maxsize=1)
def _palette() -> list[int]:
    colours: list[tuple[int, ...]] = [(255, 255, 255), SEA_COLOUR, SHORE_COLOUR]
    flat = np.sin(np.radians(LIGHT_HEIGHT_DEG))
    for tint in range(TINTS):
        base = np.array(tint_of_m(float(np.interp(tint, np.linspace(0.0, TINTS - 1, len(TINT_STOPS_M)), TINT_STOPS_M))))
        for shade in range(SHADES):
            lit = 1.0 + 0.62 * (shade / (SHADES - 1) - flat)
            colours.append(tuple(int(value) for value in np.clip(base * lit, 0, 255)))
    return [band for colour in colours for band in colour]
