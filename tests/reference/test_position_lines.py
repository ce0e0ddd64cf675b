"""Errors of lines of position and of fixes, against published figures and against a count of many random errors.

Sources: ICAO Annex 10 volume I, 3.5.3.1.3.2 (2006 text) for the DME. The worst corners of two bands are figures of
common practice, given to two digits.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.errors import OutOfRange
from server.navigation.position_lines import (
    VOR_ERROR_DEG,
    along_track_error_nm,
    dme_error_nm,
    dme_ground_error_nm,
    fix_error,
    major_axis_deg,
    radial_error_nm,
)


def test_agrees_with_annex_10_on_the_error_of_a_dme():
    """0.25 NM + 1.25 % of the distance: 0.75 NM at 40 NM."""
    assert dme_error_nm(40.0) == pytest.approx(0.75, abs=0.001)
    assert dme_error_nm(0.0) == 0.25


@pytest.mark.parametrize(("cut_deg", "corner_nm"), [(90, 4.0), (60, 5.6), (45, 7.3), (30, 11.0), (20, 16.0)])
def test_agrees_with_common_figures_of_the_worst_corner(cut_deg, corner_nm):
    """Two bands of 4 degrees to each side from stations 40 NM away, to two digits."""
    band_nm = radial_error_nm(40.0, 4.0)
    assert band_nm == pytest.approx(2.8, abs=0.01)
    assert fix_error(line_a_nm=band_nm, line_b_nm=band_nm, cut_deg=cut_deg).corner_nm == pytest.approx(corner_nm, rel=0.025)


def test_the_usual_total_error_of_a_vor_is_five_degrees():
    """Common practice; and 4 degrees at 40 NM are 2.8 NM."""
    assert VOR_ERROR_DEG == 5.0
    assert radial_error_nm(40.0, 4.0) == pytest.approx(2.8, abs=0.01)


@pytest.mark.parametrize(("line_a_nm", "line_b_nm", "cut_deg"), [(1.0, 1.0, 90.0), (2.8, 0.6, 70.0), (1.5, 3.0, 35.0)])
def test_the_ellipse_agrees_with_a_count_of_random_errors(line_a_nm, line_b_nm, cut_deg):
    """Two hundred thousand pairs of normal errors across the two lines: the axes of their scatter, and how many the ellipse holds."""
    rng = np.random.default_rng(20260801)
    across = rng.normal(size=(2, 200_000)) * np.array([[line_a_nm], [line_b_nm]]) / 1.96
    cut = math.radians(cut_deg)
    # line a runs along x, so its error is y; line b is turned by the cut, and its normal is (-sin, cos)
    y = across[0]
    x = (y * math.cos(cut) - across[1]) / math.sin(cut)
    scatter = np.cov(x, y)
    axes = np.sqrt(np.linalg.eigvalsh(scatter))
    told = fix_error(line_a_nm=line_a_nm, line_b_nm=line_b_nm, cut_deg=cut_deg)
    assert told.minor_nm / told.major_nm == pytest.approx(axes[0] / axes[1], rel=0.02)
    shape = np.linalg.inv(scatter * (told.major_nm / axes[1]) ** 2)
    held = np.einsum("in,ij,jn->n", np.stack((x, y)), shape, np.stack((x, y))) <= 1.0
    assert held.mean() == pytest.approx(0.95, abs=0.005)


def scatter_of(line_a_nm, line_a_deg, line_b_nm, line_b_deg):
    """Covariance, east and north, of the crossing of two lines: the place p solves n . p = error for the normals n of both lines."""
    turns = np.radians([line_a_deg, line_b_deg])
    normals = np.column_stack((np.cos(turns), -np.sin(turns)))
    back = np.linalg.inv(normals)
    return back @ np.diag([line_a_nm**2, line_b_nm**2]) @ back.T


def test_the_long_axis_lies_along_the_greater_eigenvector_of_the_scatter():
    """Random lines and errors; numpy's eigenvectors. Ellipses that are nearly round have no long axis to speak of."""
    rng = np.random.default_rng(20260802)
    asked = 0
    for a_nm, b_nm, a_deg, b_deg in zip(*rng.uniform(0.2, 6.0, (2, 400)), *rng.uniform(0.0, 360.0, (2, 400)), strict=True):
        values, vectors = np.linalg.eigh(scatter_of(a_nm, a_deg, b_nm, b_deg)) if abs((a_deg - b_deg) % 180.0) > 1.0 else ((1.0, 1.0), None)
        if values[1] < 1.05 * values[0]:
            continue
        east, north = vectors[:, 1]
        told_deg = major_axis_deg(line_a_nm=a_nm, line_a_deg=a_deg, line_b_nm=b_nm, line_b_deg=b_deg)
        assert 0.0 <= told_deg < 180.0
        off_deg = (told_deg - math.degrees(math.atan2(east, north)) + 90.0) % 180.0 - 90.0
        assert off_deg == pytest.approx(0.0, abs=1e-6), (a_nm, a_deg, b_nm, b_deg)
        cut_deg = (a_deg - b_deg) % 180.0
        axes = fix_error(line_a_nm=a_nm, line_b_nm=b_nm, cut_deg=min(cut_deg, 180.0 - cut_deg))
        assert axes.major_nm / axes.minor_nm == pytest.approx(math.sqrt(values[1] / values[0]), rel=1e-6)
        asked += 1
    assert asked > 350


@pytest.mark.parametrize(
    ("line_a", "line_b", "axis_deg"),
    [
        ((1.0, 0.0), (1.0, 60.0), 30.0),  # equal errors: along the bisector of the acute cut
        ((1.0, 350.0), (1.0, 30.0), 10.0),
        ((1.0, 90.0), (3.0, 180.0), 90.0),  # square: along the better line
        ((3.0, 90.0), (1.0, 180.0), 0.0),
    ],
)
def test_the_long_axis_of_plain_cases_is_told_by_hand(line_a, line_b, axis_deg):
    told_deg = major_axis_deg(line_a_nm=line_a[0], line_a_deg=line_a[1], line_b_nm=line_b[0], line_b_deg=line_b[1])
    assert (told_deg - axis_deg + 90.0) % 180.0 - 90.0 == pytest.approx(0.0, abs=1e-9)


def test_a_crossing_radial_errs_along_the_track_by_its_error_over_the_sine_of_the_cut():
    """By hand: 30 NM x tan 5 = 2.625 NM; at 90 degrees that, at 30 degrees twice that."""
    across_nm = radial_error_nm(30.0)
    assert across_nm == pytest.approx(2.625, abs=0.001)
    assert along_track_error_nm(across_nm, 90.0) == pytest.approx(across_nm)
    assert along_track_error_nm(across_nm, 30.0) == pytest.approx(2.0 * across_nm)


def test_a_dme_overhead_tells_no_place_on_the_ground():
    assert dme_ground_error_nm(ground_nm=0.0, indicated_nm=1.0) == math.inf
    assert dme_ground_error_nm(ground_nm=1.0, indicated_nm=math.sqrt(2.0)) == pytest.approx(dme_error_nm(math.sqrt(2.0)) * math.sqrt(2.0))


@pytest.mark.parametrize("cut_deg", [0.0, -10.0, 91.0, float("nan")])
def test_lines_that_do_not_cross_make_no_fix(cut_deg):
    with pytest.raises(OutOfRange, match=r"more than 0 and at most 90 degrees. Choose another beacon") as refusal:
        fix_error(line_a_nm=1.0, line_b_nm=1.0, cut_deg=cut_deg)
    assert refusal.value.code == "no-cut"
    with pytest.raises(OutOfRange, match="Choose another beacon"):
        along_track_error_nm(1.0, cut_deg)
    assert np.isnan(along_track_error_nm(np.array([1.0]), cut_deg)[0])
