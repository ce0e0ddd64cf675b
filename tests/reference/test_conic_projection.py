"""The region's conic chart against the formulas of the EPSG registry, which are first held against EPSG's own worked examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.navigation import ConicProjection, Position, position_along, track

WGS84 = (6378137.0, 1 / 298.257223563)
CLARKE_1866_US_SURVEY_FEET = (6378206.4 * 3937.0 / 1200.0, 1 / 294.97870)
CLARKE_1866_METRES = (6378206.4, 1 / 294.97870)


def epsg_conic(ellipsoid, lat_1, lat_2, lat_0, lon_0, lat, lon):
    """IOGP Guidance Note 7-2, methods 9802 (two parallels) and, with both parallels alike, 9801; in the units of the ellipsoid's axis."""
    axis, flattening = ellipsoid
    e = math.sqrt(flattening * (2.0 - flattening))

    def m(phi):
        return math.cos(phi) / math.sqrt(1.0 - (e * math.sin(phi)) ** 2)

    def t(phi):
        return math.tan(math.pi / 4 - phi / 2) / ((1 - e * math.sin(phi)) / (1 + e * math.sin(phi))) ** (e / 2)

    phi_1, phi_2, phi_0, phi = map(math.radians, (lat_1, lat_2, lat_0, lat))
    n = math.sin(phi_1) if lat_1 == lat_2 else (math.log(m(phi_1)) - math.log(m(phi_2))) / (math.log(t(phi_1)) - math.log(t(phi_2)))
    scale = m(phi_1) / (n * t(phi_1) ** n)
    r, r_0 = axis * scale * t(phi) ** n, axis * scale * t(phi_0) ** n
    theta = n * math.radians(lon - lon_0)
    return r * math.sin(theta), r_0 - r * math.cos(theta), math.degrees(theta)


def test_formulas_agree_with_epsg_9802_example():
    """EPSG registry, method 9802, NAD27 / Texas South Central: 28 30 N 96 00 W gives E 2963503.91, N 254759.80 US survey feet."""
    east, north, theta_deg = epsg_conic(CLARKE_1866_US_SURVEY_FEET, 28 + 23 / 60, 30 + 17 / 60, 27 + 50 / 60, -99.0, 28.5, -96.0)
    assert east + 2_000_000.0 == pytest.approx(2_963_503.91, abs=0.01)
    assert north == pytest.approx(254_759.80, abs=0.01)
    assert math.radians(theta_deg) == pytest.approx(0.02565177, abs=1e-8)


def test_formulas_agree_with_epsg_9801_example():
    """EPSG method 9801, JAD69 / Jamaica National Grid, from memory: 255966.58, 142493.51 m."""
    east, north, _ = epsg_conic(CLARKE_1866_METRES, 18.0, 18.0, 18.0, -77.0, 17 + 55 / 60 + 55.80 / 3600, -(76 + 56 / 60 + 37.26 / 3600))
    assert (east + 250_000.0, north + 150_000.0) == pytest.approx((255_966.58, 142_493.51), abs=0.01)


@pytest.mark.parametrize(
    ("lat_1", "lat_2", "lat_0", "lon_0"),
    [(33 + 1 / 3, 38 + 2 / 3, 36.0, -98.0), (45.0, 45.0, 45.0, 6.0), (-35.0, -33.0, -34.0, 150.0), (51.0, 53.0, 52.0, 179.9)],
)
def test_the_chart_agrees_with_the_epsg_formulas_on_wgs84(lat_1, lat_2, lat_0, lon_0):
    chart = ConicProjection(lat_1=lat_1, lat_2=lat_2, lat_0=lat_0, lon_0=lon_0)
    for north_of, east_of in ((0.0, 0.0), (2.0, -3.0), (-1.5, 2.5)):
        lat, lon = lat_0 + north_of, lon_0 + east_of
        east, north, theta_deg = epsg_conic(WGS84, lat_1, lat_2, lat_0, lon_0, lat, lon)
        x_m, y_m = chart.to_plane_m(np.array([lat]), np.array([Position(lat_deg=lat, lon_deg=lon).lon_deg]))
        assert (x_m[0], y_m[0]) == pytest.approx((east, north), abs=1e-3)
        assert chart.convergence_deg(Position(lat_deg=lat, lon_deg=lon)) == pytest.approx(theta_deg, abs=1e-6)


@pytest.mark.parametrize(
    ("a", "b", "parallels", "lon_0", "course_deg", "length_nm"),
    [
        # Lambert charts at 1:500 000: standard parallels from memory; courses and chart lengths computed beforehand with pyproj.
        ((35.097140, -97.967681), (35.851258, -97.416090), (33 + 1 / 3, 38 + 2 / 3), -98.0, 30.892, 52.593),
        ((47.289935, -101.580978), (48.257639, -101.278028), (41 + 1 / 3, 46 + 2 / 3), -102.0, 11.916, 59.443),
    ],
)
def test_a_straight_line_on_the_chart_is_very_nearly_the_track(a, b, parallels, lon_0, course_deg, length_nm):
    start, end = Position(lat_deg=a[0], lon_deg=a[1]), Position(lat_deg=b[0], lon_deg=b[1])
    chart = ConicProjection(lat_1=parallels[0], lat_2=parallels[1], lat_0=sum(parallels) / 2, lon_0=lon_0)
    x_m, y_m = chart.to_plane_m(np.array([a[0], b[0]]), np.array([a[1], b[1]]))
    grid_deg = math.degrees(math.atan2(x_m[1] - x_m[0], y_m[1] - y_m[0]))
    leg = track(start, end)
    middle = position_along(start, end, leg.distance_nm / 2)
    assert grid_deg + chart.convergence_deg(middle) == pytest.approx(course_deg, abs=0.002)
    assert leg.middle_true_deg == pytest.approx(course_deg, abs=0.002)
    assert math.hypot(x_m[1] - x_m[0], y_m[1] - y_m[0]) / 1852.0 == pytest.approx(length_nm, abs=0.001)
