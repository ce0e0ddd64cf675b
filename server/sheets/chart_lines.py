"""The lines and figures of a chart that the browser draws: graticule, lines of equal variation, highest ground. Places in degrees."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from contourpy import LineType, contour_generator

from server.navigation import Position, bearings_and_distances, decimal_year, variations_deg
from server.radio.ground import Ground
from server.sheets import figures
from server.sheets.highest_ground import Quadrangle, quadrangles
from server.units import feet_from_metres

GRATICULE_STEPS_DEG = (0.5, 1.0, 2.0, 5.0, 10.0)
MOST_GRATICULE_LINES = 26
VARIATION_STEPS_DEG = (0.5, 1.0, 2.0, 5.0)
MOST_VARIATION_LINES = 14
LEAST_SPOT_FT = 300.0
SPOTS_APART_NM = 9.0


@dataclass(frozen=True, kw_only=True, slots=True)
class ChartLine:
    """A line through places, each (latitude, longitude) [deg]; longitudes run on across the antimeridian."""

    words: str
    places: tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class ChartFigure:
    """A figure at a place."""

    words: str
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class ChartLines:
    """All of them, for one box and one day."""

    graticule: tuple[ChartLine, ...]
    variation: tuple[ChartLine, ...]
    variation_day: str
    quadrangles: tuple[ChartFigure, ...]
    """The maximum elevation figure of each half degree, in hundreds of feet, in its middle; ground only, none over open sea."""
    spots: tuple[ChartFigure, ...]
    """Spot heights, in feet."""


def chart_lines(ground: Ground, *, south_deg: float, north_deg: float, west_deg: float, east_deg: float, on: date) -> ChartLines:
    """Gather the lines of a box. ``east_deg`` is east of ``west_deg`` and may run beyond 180. [deg]"""
    box = {"south_deg": south_deg, "north_deg": north_deg, "west_deg": west_deg, "east_deg": east_deg}
    found = quadrangles(ground, **box)
    return ChartLines(
        graticule=_graticule(**box),
        variation=_variation(**box, on=on),
        variation_day=on.isoformat(),
        quadrangles=tuple(_figure(each) for each in found if each.figure_ft is not None and each.highest_m),
        spots=_spots(found),
    )


def _steps(lowest: float, highest: float, steps: Sequence[float], most: int) -> np.ndarray:
    step = next((step for step in steps if (highest - lowest) / step <= most), steps[-1])
    return np.arange(math.ceil(lowest / step - 1e-9), math.floor(highest / step + 1e-9) + 1) * step


def _graticule(*, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> tuple[ChartLine, ...]:
    lines = []
    for lat_deg in _steps(south_deg, north_deg, GRATICULE_STEPS_DEG, MOST_GRATICULE_LINES):
        along = np.linspace(west_deg, east_deg, 61)
        lines.append(ChartLine(words=_degrees(lat_deg, "NS"), places=tuple((float(lat_deg), float(lon)) for lon in along)))
    for lon_deg in _steps(west_deg, east_deg, GRATICULE_STEPS_DEG, MOST_GRATICULE_LINES):
        folded = (lon_deg + 180.0) % 360.0 - 180.0
        ends = (float(south_deg), float(north_deg))
        lines.append(ChartLine(words=_degrees(folded, "EW"), places=tuple((lat, float(lon_deg)) for lat in ends)))
    return tuple(lines)


def _degrees(deg: float, letters: str) -> str:
    whole, minutes = divmod(round(abs(deg) * 60.0), 60)
    letter = "" if deg == 0 or abs(deg) == 180.0 else letters[0] if deg > 0 else letters[1]
    return f"{whole}°{minutes:02d}'{letter}" if minutes else f"{whole}°{letter}"


def _variation(*, south_deg: float, north_deg: float, west_deg: float, east_deg: float, on: date) -> tuple[ChartLine, ...]:
    lat_deg, lon_deg = np.linspace(south_deg, north_deg, 25), np.linspace(west_deg, east_deg, 33)
    lon, lat = np.meshgrid(lon_deg, lat_deg)
    folded = (lon.ravel() + 180.0) % 360.0 - 180.0
    values = variations_deg(lat.ravel(), folded, decimal_year=decimal_year(on), altitude_m=np.zeros(lat.size)).reshape(lat.shape)
    if not np.isfinite(values).all() or np.ptp(values) > 90.0:  # near a magnetic pole lines of equal variation say nothing
        return ()
    generator = contour_generator(x=lon_deg, y=lat_deg, z=values, line_type=LineType.Separate)
    lines = []
    for level in _steps(float(values.min()), float(values.max()), VARIATION_STEPS_DEG, MOST_VARIATION_LINES):
        for points in generator.lines(float(level)):
            places = tuple((float(y), float(x)) for x, y in np.asarray(points))
            lines.append(ChartLine(words=_variation_words(float(level)), places=places))
    return tuple(lines)


def _variation_words(east_deg: float) -> str:
    return f"{abs(east_deg):g}°{'E' if east_deg > 0 else 'W' if east_deg < 0 else ''}"


def _figure(quadrangle: Quadrangle) -> ChartFigure:
    return ChartFigure(
        words=f"{(quadrangle.figure_ft or 0) // 100}", lat_deg=quadrangle.south_deg + 0.25, lon_deg=quadrangle.west_deg + 0.25
    )


def _spots(found: Sequence[Quadrangle]) -> tuple[ChartFigure, ...]:
    """The highest place of each quadrangle, the higher ones first; none beside one that is higher."""
    known = [(each.highest_m, each.highest_at) for each in found if each.highest_m is not None and each.highest_at is not None]
    taken: list[tuple[float, Position]] = []
    for highest_m, at in sorted(known, key=lambda pair: -pair[0]):
        if feet_from_metres(highest_m) < LEAST_SPOT_FT:
            continue
        if taken:
            lat_deg, lon_deg = np.array([(other.lat_deg, other.lon_deg) for _, other in taken]).T
            if float(bearings_and_distances(at, lat_deg, lon_deg)[1].min()) < SPOTS_APART_NM:
                continue
        taken.append((highest_m, at))
    return tuple(
        ChartFigure(
            words=figures.elevation(feet_from_metres(m)).removesuffix(" ft").replace(",", ""), lat_deg=at.lat_deg, lon_deg=at.lon_deg
        )
        for m, at in taken
    )
