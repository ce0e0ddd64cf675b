"""Cuts a route into north-up pages at a true scale: which part of the plane each page of the strip shows.

Plane and paper only: knows nothing of drawing, of typesetting or of a request.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from server.errors import InputProblem
from server.navigation import ConicProjection, Position, destinations, points_along
from server.planning.log import LogLeg
from server.sheets.log_pdf import PAPERS, PaperName

SCALES = (500_000, 250_000)
UNIT_MM = 0.2
"""A drawing unit on paper: symbols and letters, drawn in units, then have the size of those on printed charts."""
EDGE_MM = 7.0  # common printers do not reach nearer to the edge
HEAD_MM = 6.0
KEY_MM, KEY_NARROW_MM = 13.0, 17.5
WORDS_MM, WORDS_NARROW_MM = 13.0, 17.5
NARROW_BELOW_MM = 230.0
INSET_MM = 11.0
"""The route keeps so far from the edges of the map, but where it runs on to the next page."""
OVERLAP_MM, LONGEST_OVERLAP_MM = 20.0, 45.0
"""So much of the route stands on both pages of a seam; up to the longer, where the page can then begin at a point of the route."""
STEP_NM = 0.25
MOST_STRIP_PAGES = 60
SMALL_DISTANCE_M = 1000.0
LARGEST_CONVERGENCE_DEG, LARGEST_SCALE_ERROR = 20.0, 0.01


@dataclass(frozen=True, kw_only=True)
class StripPaper:
    """A page as it is held, and the room of its map. [mm]"""

    width_mm: float
    height_mm: float

    @property
    def narrow(self) -> bool:
        """Whether the key needs a third row, and the words more lines."""
        return self.width_mm < NARROW_BELOW_MM

    @property
    def key_mm(self) -> float:
        """Height of the key under the map."""
        return KEY_NARROW_MM if self.narrow else KEY_MM

    @property
    def words_mm(self) -> float:
        """Height of the words at the foot."""
        return WORDS_NARROW_MM if self.narrow else WORDS_MM

    @property
    def map_width_mm(self) -> float:
        return self.width_mm - 2.0 * EDGE_MM

    @property
    def map_height_mm(self) -> float:
        return self.height_mm - 2.0 * EDGE_MM - HEAD_MM - self.key_mm - self.words_mm


@dataclass(frozen=True, kw_only=True)
class StripPart:
    """The part of the route that one page is for, and the north-west corner of its map on the plane. [NM], [m]"""

    number: int
    from_nm: float
    to_nm: float
    first_leg: int
    last_leg: int
    west_m: float
    north_m: float


@dataclass(frozen=True, kw_only=True)
class StripCut:
    """A route cut for one scale and paper."""

    scale: int
    paper: StripPaper
    projection: ConicProjection
    fitted: bool
    """Whether the projection is fitted to the route, because the region's own would not be true enough here."""
    parts: tuple[StripPart, ...]

    @property
    def width_m(self) -> float:
        """Width of every map on the plane."""
        return self.paper.map_width_mm * self.scale / 1000.0

    @property
    def height_m(self) -> float:
        """Height of every map on the plane."""
        return self.paper.map_height_mm * self.scale / 1000.0

    @property
    def scale_error(self) -> float:
        """The most by which the projection's own scale factor differs from 1 on these maps, as a share. NaN where none can be told."""
        ends = np.linspace(0.0, 1.0, 5)
        across, down = (values.ravel() for values in np.meshgrid(ends * self.width_m, ends * self.height_m))
        x_m = np.concatenate([part.west_m + across for part in self.parts])
        y_m = np.concatenate([part.north_m - down for part in self.parts])
        return scale_error(self.projection, *self.projection.from_plane_m(x_m, y_m))


def scale_error(projection: ConicProjection, lat_deg: np.ndarray, lon_deg: np.ndarray) -> float:
    """Return the most by which a small distance on the plane differs from the same on the earth, as a share of it.

    Measured over a kilometre northward at each place; the projection is conformal, so every direction there is alike.
    """
    known = np.isfinite(lat_deg) & np.isfinite(lon_deg)
    places = [Position(lat_deg=float(lat), lon_deg=float(lon)) for lat, lon in zip(lat_deg[known], lon_deg[known], strict=True)]
    if not places:
        return math.nan
    factors = [_factor(projection, place) for place in places]
    return float(np.nanmax(np.abs(np.array(factors) - 1.0)))


def _factor(projection: ConicProjection, place: Position) -> float:
    north_lat, north_lon = destinations(place, bearing_true_deg=np.array([0.0]), distance_m=np.array([SMALL_DISTANCE_M]))
    x_m, y_m = projection.to_plane_m(np.array([place.lat_deg, *north_lat]), np.array([place.lon_deg, *north_lon]))
    return math.hypot(x_m[1] - x_m[0], y_m[1] - y_m[0]) / SMALL_DISTANCE_M


@dataclass(frozen=True, eq=False)
class _Track:
    """The route as points close together: place on the plane [m], distance flown [NM], number of the leg; and where route points are."""

    x_m: np.ndarray
    y_m: np.ndarray
    at_nm: np.ndarray
    leg: np.ndarray
    turns: np.ndarray


def cut_strip(legs: tuple[LogLeg, ...], of_region: ConicProjection, *, scale: int, paper: PaperName) -> StripCut:
    """Cut a route into pages, each as long a part of it as its map can hold; the paper lies or stands as fewer pages are needed.

    Raises
    ------
    InputProblem
        The route needs more than MOST_STRIP_PAGES pages.
    """
    cut = _cut(legs, of_region, scale=scale, paper=paper)
    if len(cut.parts) > MOST_STRIP_PAGES:
        raise InputProblem(
            f"At 1:{scale:,} on this paper the route needs {len(cut.parts)} pages; {MOST_STRIP_PAGES} is the most. "
            "Choose the smaller scale, a larger paper, or split the route.",
            code="strip-too-long",
            place="scale",
        )
    return cut


def pages_needed(legs: tuple[LogLeg, ...], of_region: ConicProjection, *, scale: int, paper: PaperName) -> int:
    """Return how many pages a route needs, however many that are."""
    return len(_cut(legs, of_region, scale=scale, paper=paper).parts)


def _cut(legs: tuple[LogLeg, ...], of_region: ConicProjection, *, scale: int, paper: PaperName) -> StripCut:
    projection, fitted = _true_enough(of_region, legs)
    track = _track(legs, projection)
    as_log = PAPERS[paper]
    ways = (
        StripPaper(width_mm=as_log.width_mm, height_mm=as_log.height_mm),
        StripPaper(width_mm=as_log.height_mm, height_mm=as_log.width_mm),
    )
    cuts = [StripCut(scale=scale, paper=way, projection=projection, fitted=fitted, parts=_parts(track, way, scale)) for way in ways]
    return min(cuts, key=lambda cut: len(cut.parts))


def _true_enough(of_region: ConicProjection, legs: tuple[LogLeg, ...]) -> tuple[ConicProjection, bool]:
    """The region's own projection, unless on this route its north or its scale would be too far off: then one fitted to the route."""
    places = [legs[0].start.position, *(leg.end.position for leg in legs)]
    lats, lons = np.array([(place.lat_deg, place.lon_deg) for place in places]).T
    off = scale_error(of_region, lats, lons)
    if off <= LARGEST_SCALE_ERROR and max(abs(of_region.convergence_deg(place)) for place in places) <= LARGEST_CONVERGENCE_DEG:
        return of_region, False
    east_of_first = (lons - lons[0] + 180.0) % 360.0 - 180.0
    west, east = float(lons[0] + east_of_first.min()), float(lons[0] + east_of_first.max())
    return ConicProjection.for_bounds(south=float(lats.min()), north=float(lats.max()), west=west, east=east), True


def _track(legs: tuple[LogLeg, ...], projection: ConicProjection) -> _Track:
    parts = []
    for leg in legs:
        along_nm = np.linspace(0.0, leg.distance_nm, max(2, math.ceil(leg.distance_nm / STEP_NM) + 1))
        lat_deg, lon_deg = points_along(leg.start.position, leg.end.position, along_nm)
        turns = (along_nm == along_nm[0]) | (along_nm == along_nm[-1])
        parts.append((*projection.to_plane_m(lat_deg, lon_deg), leg.start_nm + along_nm, np.full(along_nm.shape, leg.number), turns))
    x_m, y_m, at_nm, number, turns = (np.concatenate(column) for column in zip(*parts, strict=True))
    known = np.isfinite(x_m) & np.isfinite(y_m)
    return _Track(x_m[known], y_m[known], at_nm[known], number[known], turns[known])


def _parts(track: _Track, paper: StripPaper, scale: int) -> tuple[StripPart, ...]:
    metres_per_mm = scale / 1000.0
    width_m, height_m = paper.map_width_mm * metres_per_mm, paper.map_height_mm * metres_per_mm
    inset_m = 2.0 * INSET_MM * metres_per_mm
    parts: list[StripPart] = []
    first, end = 0, len(track.x_m) - 1
    while True:
        last = _reach(track, first, width_m - inset_m, height_m - inset_m)
        x_m, y_m = track.x_m[first : last + 1], track.y_m[first : last + 1]
        parts.append(
            StripPart(
                number=len(parts) + 1,
                from_nm=float(track.at_nm[first]),
                to_nm=float(track.at_nm[last]),
                first_leg=int(track.leg[first]),
                last_leg=int(track.leg[last]),
                west_m=float(x_m.min() + x_m.max() - width_m) / 2.0,
                north_m=float(y_m.min() + y_m.max() + height_m) / 2.0,
            )
        )
        if last == end:
            return tuple(parts)
        first = max(_next_first(track, last, metres_per_mm), first + 1)


def _reach(track: _Track, first: int, width_m: float, height_m: float) -> int:
    """The last point up to which the route, from ``first`` on, fits into a box."""
    x_m, y_m = track.x_m[first:], track.y_m[first:]
    wide = np.maximum.accumulate(x_m) - np.minimum.accumulate(x_m)
    high = np.maximum.accumulate(y_m) - np.minimum.accumulate(y_m)
    beyond = np.flatnonzero((wide > width_m) | (high > height_m))
    return len(track.x_m) - 1 if not beyond.size else first + max(int(beyond[0]) - 1, 1)


def _next_first(track: _Track, last: int, metres_per_mm: float) -> int:
    """Where the page after one that ends at ``last`` begins: a turning point where one is near enough behind, else an overlap back."""
    steps_m = np.hypot(np.diff(track.x_m[: last + 1]), np.diff(track.y_m[: last + 1]))
    back_mm = np.concatenate([np.cumsum(steps_m[::-1])[::-1], [0.0]]) / metres_per_mm
    turning = np.flatnonzero(track.turns[: last + 1] & (back_mm >= OVERLAP_MM) & (back_mm <= LONGEST_OVERLAP_MM))
    if turning.size:
        return int(turning[-1])
    return int(np.flatnonzero(back_mm >= OVERLAP_MM)[-1]) if (back_mm >= OVERLAP_MM).any() else 0
