"""The bilinear surface: hand values, the rule for voids, and the two ways of computing it."""

from __future__ import annotations

import numpy as np
import pytest

from server.terrain.lattice import Lattice, bilinear, bilinear_lattice

PATCH = np.array([[100, 200], [300, 500]], dtype=np.int16)


def test_a_patch_by_hand():
    """z(u, v) = (1-u)(1-v) 100 + (1-u) v 200 + u (1-v) 300 + u v 500, worked on paper."""
    row, column = np.array([0.0, 0.0, 0.5, 0.5, 0.25, 1.0]), np.array([0.0, 0.5, 0.0, 0.5, 0.75, 1.0])
    assert bilinear(PATCH, row, column).tolist() == [100.0, 150.0, 200.0, 275.0, 243.75, 500.0]


@pytest.mark.parametrize("void", [np.int16(-32768), np.float32(np.nan)])
def test_a_void_counts_only_with_a_weight_above_zero(void):
    posts = PATCH.astype(void.dtype)
    posts[1, 1] = void
    row, column = np.array([0.0, 0.5, 1.0, 0.0, 1e-3, 1.0]), np.array([1.0, 0.0, 0.0, 0.5, 1e-3, 0.5])
    expected = [200.0, 200.0, 300.0, 150.0, np.nan, np.nan]
    assert bilinear(posts, row, column).tolist() == pytest.approx(expected, nan_ok=True)
    for r, c, height_m in zip(row, column, expected, strict=True):
        assert bilinear_lattice(posts, np.array([r]), np.array([c]))[0, 0] == pytest.approx(height_m, nan_ok=True)


def test_by_lattice_equals_place_by_place():
    random = np.random.default_rng(1)
    posts = random.integers(0, 3000, size=(40, 30), dtype=np.int16)
    posts[random.random(posts.shape) < 0.2] = -32768
    row = np.concatenate([random.uniform(-2, 42, 60), np.arange(-1, 41)])
    column = np.concatenate([random.uniform(-2, 32, 60), np.arange(-1, 31)])
    one_by_one = bilinear(posts, *np.meshgrid(row, column, indexing="ij"))
    assert np.isnan(one_by_one).any()
    assert not np.isnan(one_by_one).all()
    assert bilinear_lattice(posts, row, column) == pytest.approx(one_by_one, abs=1e-9, nan_ok=True)


def test_a_place_that_misses_a_post_by_rounding_stands_on_it():
    lattice = Lattice(north_lat_deg=45.0, west_lon_deg=-72.0, step_lat_deg=1 / 1200, step_lon_deg=1 / 1200, rows=1201, columns=1201)
    assert lattice.row_index(np.array([44.0 + 1e-13, 44.7 - 1e-13])).tolist() == [1200.0, 360.0]
    assert lattice.column_index(np.array([-72.0 - 1e-13, 288.0, -71.0 + 1e-13])).tolist() == [0.0, 0.0, 1200.0]
