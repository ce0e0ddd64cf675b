"""The chart's projection as the browser computes it: against PROJ, the worked examples of EPSG 9802 and 9801, and geodesics."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyproj import Geod, Transformer

PARALLELS = {
    "north": {"lat1": 42.5, "lat2": 44.5, "lat0": 43.5, "lon0": -36.5},
    "south": {"lat1": -60.0, "lat2": -58.0, "lat0": -59.0, "lon0": 10.0},
    "antimeridian": {"lat1": 60.0, "lat2": 62.0, "lat0": 61.0, "lon0": 179.5},
    "one parallel": {"lat1": 30.0, "lat2": 30.0, "lat0": 30.0, "lon0": 0.0},
}
CLARKE_1866 = {"a": 6378206.4, "inverse_flattening": 294.97870}
US_FOOT_M = 1200.0 / 3937.0

TO_AND_BACK = """async ([told, ellipsoid, places]) => {
    const { conic } = await import("/static/conic.js");
    const projection = ellipsoid ? conic(told, ellipsoid) : conic(told);
    return places.map(([lat, lon]) => {
        const at = projection.toPlane(lat, lon), back = projection.fromPlane(at.x, at.y);
        return [at.x, at.y, back.lat, back.lon];
    });
}"""
FROM_PLANE = """async ([told, spots]) => {
    const { conic } = await import("/static/conic.js");
    return spots.map(([x, y]) => { const at = conic(told).fromPlane(x, y); return [at.lat, at.lon]; });
}"""


def to_and_back(page, told, places, ellipsoid=None) -> np.ndarray:
    page.goto("/")
    given = None
    if ellipsoid is not None:
        f = 1.0 / ellipsoid["inverse_flattening"]
        given = {"a": ellipsoid["a"], "eSquared": f * (2.0 - f)}
    return np.array(page.evaluate(TO_AND_BACK, [told, given, [[float(a), float(b)] for a, b in places]]))


@pytest.mark.parametrize("name", PARALLELS)
def test_agrees_with_proj_on_a_grid(page, name):
    """EPSG method 9802 as PROJ computes it, on a grid of 5 by 5 degrees round the origin: 1 mm there, 1e-9 degrees back."""
    told = PARALLELS[name]
    lat, lon = (grid.ravel() for grid in np.meshgrid(told["lat0"] + np.linspace(-5, 5, 11), told["lon0"] + np.linspace(-5, 5, 11)))
    lon = (lon + 180.0) % 360.0 - 180.0
    proj = Transformer.from_pipeline(
        f"+proj=lcc +lat_1={told['lat1']} +lat_2={told['lat2']} +lat_0={told['lat0']} +lon_0={told['lon0']} +ellps=WGS84"
    )
    x_m, y_m = proj.transform(lon, lat)
    ours = to_and_back(page, told, zip(lat, lon, strict=True))
    assert np.abs(ours[:, 0] - x_m).max() < 1e-3 and np.abs(ours[:, 1] - y_m).max() < 1e-3
    assert np.abs(ours[:, 2] - lat).max() < 1e-9
    assert np.abs((ours[:, 3] - lon + 180.0) % 360.0 - 180.0).max() < 1e-9


def test_agrees_with_epsg_9802_worked_example(page):
    """IOGP Guidance Note 7-2, Lambert conic conformal (2SP): 28°30'N 96°00'W is 2,963,503.91 E, 254,759.80 N in US survey feet."""
    told = {"lat1": 28 + 23 / 60, "lat2": 30 + 17 / 60, "lat0": 27 + 50 / 60, "lon0": -99.0}
    [(x_m, y_m, lat, lon)] = to_and_back(page, told, [(28.5, -96.0)], CLARKE_1866)
    assert x_m / US_FOOT_M + 2_000_000.0 == pytest.approx(2_963_503.91, abs=0.01)
    assert y_m / US_FOOT_M == pytest.approx(254_759.80, abs=0.01)
    assert (lat, lon) == pytest.approx((28.5, -96.0), abs=1e-8)


def test_agrees_with_epsg_9801_worked_example(page):
    """One standard parallel, Clarke 1866: 17°55'55.80"N 76°56'37.26"W is 255,966.58 E, 142,493.51 N (from memory, and PROJ agrees)."""
    told = {"lat1": 18.0, "lat2": 18.0, "lat0": 18.0, "lon0": -77.0}
    place = (17 + 55 / 60 + 55.80 / 3600, -(76 + 56 / 60 + 37.26 / 3600))
    [(x_m, y_m, _, _)] = to_and_back(page, told, [place], CLARKE_1866)
    assert (x_m + 250_000.0, y_m + 150_000.0) == pytest.approx((255_966.58, 142_493.51), abs=0.01)


# Ends, parallels, course at the middle of the straight chart line, its length: computed with pyproj for legs between four US stations.
CHART_LINES = {
    "A": ((35.097140, -97.967681), (35.851258, -97.416090), (33 + 20 / 60, 38 + 40 / 60), 30.892, 52.593),
    "B": ((47.289935, -101.580978), (48.257639, -101.278028), (41 + 20 / 60, 46 + 40 / 60), 11.916, 59.443),
}


@pytest.mark.parametrize("leg", CHART_LINES)
def test_a_straight_line_on_the_chart_is_very_nearly_the_track(page, leg):
    """The standard parallels are those of US charts (from memory). The geodesic's own course at its middle is 30.892 and 11.915."""
    start, end, (lat1, lat2), course_deg, length_nm = CHART_LINES[leg]
    told = {"lat1": lat1, "lat2": lat2, "lat0": (lat1 + lat2) / 2.0, "lon0": -98.0}
    (x1, y1, *_), (x2, y2, *_) = to_and_back(page, told, [start, end])
    assert math.hypot(x2 - x1, y2 - y1) / 1852.0 == pytest.approx(length_nm, abs=0.001)
    middle = np.array([(x1 + x2) / 2.0, (y1 + y2) / 2.0])
    along = np.array([x2 - x1, y2 - y1]) / math.hypot(x2 - x1, y2 - y1) * 50.0
    (lat_a, lon_a), (lat_b, lon_b) = page.evaluate(FROM_PLANE, [told, [list(map(float, middle - along)), list(map(float, middle + along))]])
    azimuth_deg, _, _ = Geod(ellps="WGS84").inv(lon_a, lat_a, lon_b, lat_b)
    assert azimuth_deg % 360.0 == pytest.approx(course_deg, abs=0.0015)
    middle_deg, _, whole_m = Geod(ellps="WGS84").inv(start[1], start[0], end[1], end[0])
    lon_m, lat_m, _ = Geod(ellps="WGS84").fwd(start[1], start[0], middle_deg, whole_m / 2.0)
    geodesic_deg, _, _ = Geod(ellps="WGS84").inv(lon_m, lat_m, end[1], end[0])
    assert azimuth_deg % 360.0 == pytest.approx(geodesic_deg % 360.0, abs=0.002)
