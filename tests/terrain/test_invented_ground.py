"""Invented ground keeps what is asked of it, and one seed always makes the same posts."""

from __future__ import annotations

import hashlib
import math
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from server.errors import InputProblem
from server.settings import PROJECT_ROOT
from server.terrain import InventedLand, TerrainStore, invent
from server.terrain.invented_rivers import cosine, sine
from server.terrain.seeded_noise import lattice_noise, noise

LAND = InventedLand(seed=7, south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0, sea_share=0.35, highest_m=1_650.0)


SOME_SHA256 = "259efa7e35ffe20ca6de0e4840d32cb2322dd97f31f857a4c8b887eaf88b2bab"


def whole(land: InventedLand) -> np.ndarray:
    return np.concatenate(list(invent(land).strips()))


def test_a_seed_makes_these_posts_and_no_others():
    """Our own output: it guards regions that were made earlier, on this and on other machines."""
    some = whole(LAND)[::20, ::20]
    assert np.count_nonzero(some) > 400
    assert hashlib.sha256(some.astype("<i2").tobytes()).hexdigest() == SOME_SHA256


def test_plain_python_makes_the_posts_that_compiled_code_makes():
    """Nothing hangs on what a compiler does with the sums: the rivers are run once without one."""
    land = replace(LAND, north_deg=43.1, east_deg=-36.4)
    done = subprocess.run(
        [sys.executable, "-c", IN_PLAIN_PYTHON],
        cwd=PROJECT_ROOT,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        check=True,
    )
    posts = np.frombuffer(done.stdout, dtype="<i2").reshape(121, 121)
    assert np.array_equal(posts, whole(land)) and posts.max() == 1_650


IN_PLAIN_PYTHON = """
import sys
import numpy as np
from server.terrain.invented import InventedLand, invent
land = InventedLand(seed=7, south_deg=43.0, north_deg=43.1, west_deg=-36.5, east_deg=-36.4, sea_share=0.35, highest_m=1_650.0)
sys.stdout.buffer.write(np.concatenate(list(invent(land).strips())).astype("<i2").tobytes())
"""


def test_other_seeds_give_other_land():
    posts = [whole(replace(LAND, seed=seed)) for seed in (7, 8, 9)]
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert np.mean((posts[one] == 0) != (posts[other] == 0)) > 0.1


@pytest.mark.parametrize(
    ("land", "rows", "columns"),
    [
        (LAND, 601, 601),
        (replace(LAND, spacing_s=9), 201, 201),
        (replace(LAND, west_deg=179.75, east_deg=-179.75), 601, 601),
        (replace(LAND, south_deg=43.1001, north_deg=43.3999), 361, 601),  # out to the next whole post
    ],
)
def test_posts_cover_the_box_edge_to_edge(land, rows, columns):
    lattice = land.lattice
    assert (lattice.rows, lattice.columns) == (rows, columns) == whole(land).shape
    assert lattice.north_lat_deg >= land.north_deg - 1e-9 and lattice.south_lat_deg <= land.south_deg + 1e-9
    assert lattice.step_lat_deg * 3600.0 == pytest.approx(land.spacing_s)


def test_tiles_cut_from_one_box_agree_on_their_common_posts():
    ground, posts = invent(LAND), whole(LAND)
    left, right = ground.posts(np.arange(601), np.arange(0, 301)), ground.posts(np.arange(601), np.arange(300, 601))
    upper, lower = ground.posts(np.arange(0, 301), np.arange(601)), ground.posts(np.arange(300, 601), np.arange(601))
    assert np.array_equal(left[:, -1], right[:, 0]) and np.array_equal(upper[-1], lower[0])
    assert np.array_equal(np.concatenate([left, right[:, 1:]], axis=1), posts)
    assert np.array_equal(np.concatenate([upper, lower[1:]]), posts)


def test_what_is_looked_at_is_what_is_made():
    land = replace(LAND, north_deg=44.5, east_deg=-35.0)
    ground, (lattice, sketch) = invent(land), invent(land).sketch()
    step = ground.sketch_step
    posts = whole(land)[::step, ::step]
    assert step > 1 and lattice.step_lat_deg == pytest.approx(step / 1200.0)
    assert np.array_equal(sketch[: posts.shape[0], : posts.shape[1]], posts)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.25, 0.6, 0.95])
@pytest.mark.parametrize("seed", [1, 20])
def test_share_of_sea_and_highest_ground_are_those_asked_for(share, seed):
    posts = whole(replace(LAND, sea_share=share, seed=seed, highest_m=2_345.0))
    assert np.mean(posts == 0) == pytest.approx(share, abs=0.01)
    assert posts.max() == 2_345
    assert posts.min() == (0 if share else 1)


@pytest.mark.parametrize("highest_m", [10.0, 8_000.0])
def test_the_largest_and_the_smallest_box_keep_both(highest_m):
    small = InventedLand(seed=3, south_deg=10.0, north_deg=10.1, west_deg=20.0, east_deg=20.1, sea_share=0.5, highest_m=highest_m)
    large = InventedLand(seed=3, south_deg=-6, north_deg=6, west_deg=20, east_deg=34, spacing_s=9, sea_share=0.5, highest_m=highest_m)
    for land in (small, large):
        posts = whole(land)
        assert posts.max() == highest_m
        assert np.mean(posts == 0) == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("roughness", [0.0, 1.0])
def test_slopes_stay_below_those_of_a_rock_face(roughness):
    """A step from post to post of 90 m rises less than 60 degrees: land, not noise."""
    posts = whole(replace(LAND, roughness=roughness)).astype(float)
    step_m = 3.0 / 3600.0 * 60.0 * 1852.0
    rise_m = max(np.abs(np.diff(posts, axis=0)).max(), np.abs(np.diff(posts, axis=1)).max() / math.cos(math.radians(43.25)))
    assert 0.0 < rise_m < step_m * math.tan(math.radians(60.0))


def mean_slope(posts: np.ndarray) -> float:
    return float(np.abs(np.diff(posts.astype(float), axis=1)).mean())


def test_rougher_land_is_steeper():
    slopes = [mean_slope(whole(replace(LAND, roughness=roughness))) for roughness in (0.0, 0.5, 1.0)]
    assert slopes == sorted(slopes) and slopes[2] > 1.2 * slopes[0]


def test_ridges_run_the_way_they_are_asked_to():
    """Ground changes less along a ridge than across it, over a few miles, on the mean of several seeds."""

    def change(posts: np.ndarray, axis: int) -> float:
        coarse = posts[::40, ::55].astype(float)  # 2 NM both ways
        return float(np.abs(np.diff(coarse, axis=axis)).mean())

    box = {"north_deg": 44.5, "east_deg": -34.5, "spacing_s": 3, "sea_share": 0.1}
    ratios = {}
    for ridges_true_deg in (0.0, 90.0):
        posts = [whole(replace(LAND, seed=seed, ridges_true_deg=ridges_true_deg, **box)) for seed in (1, 2, 3)]
        ratios[ridges_true_deg] = sum(change(one, 0) for one in posts) / sum(change(one, 1) for one in posts)
    assert ratios[0.0] < 0.9 and ratios[90.0] > 1.1


def test_a_direction_and_its_reverse_make_ridges_of_one_kind():
    with pytest.raises(InputProblem, match="Ridges run towards"):
        replace(LAND, ridges_true_deg=360.5)
    assert sine(30.0) == pytest.approx(0.5, abs=1e-15) and cosine(60.0) == pytest.approx(0.5, abs=1e-15)
    for angle_deg in range(-360, 721, 15):
        assert cosine(angle_deg) == pytest.approx(math.cos(math.radians(angle_deg)), abs=1e-14)
        assert sine(angle_deg) == pytest.approx(math.sin(math.radians(angle_deg)), abs=1e-14)


def test_noise_on_a_lattice_is_the_noise_of_its_places_bit_for_bit():
    x, y = np.linspace(-3.7, 9.2, 83), np.linspace(5.5, -4.1, 61)
    assert np.array_equal(lattice_noise(x, y, seed=5), noise(*np.meshgrid(x, y), seed=5))


def test_too_many_posts_are_refused_with_their_number_and_the_most():
    with pytest.raises(
        InputProblem, match=r"10 by 12 degrees with posts 3 seconds apart holds 172,\d{3},\d{3} posts; 30,000,000 is the most"
    ) as told:
        replace(LAND, north_deg=53.0, east_deg=-24.5)
    assert "posts 9 seconds apart" in told.value.message and told.value.problems[0].place == "spacing_s"
    assert replace(LAND, north_deg=53.0, east_deg=-24.5, spacing_s=9).lattice.rows == 4001


def test_everything_wrong_is_told_at_once():
    with pytest.raises(InputProblem) as told:
        replace(LAND, seed=-1, sea_share=1.0, highest_m=9_500.0, roughness=2.0, spacing_s=5)
    assert {problem.place for problem in told.value.problems} == {"seed", "sea_share", "highest_m", "roughness", "spacing_s"}


def test_the_store_gives_back_every_post_under_one_name(tmp_path):
    store = TerrainStore(tmp_path)
    ground, lattice = invent(LAND), LAND.lattice
    fingerprint = store.keep(ground.strips(), lattice=lattice)
    assert store.keep(ground.strips(), lattice=lattice) == fingerprint
    window = store.open(fingerprint).window(south_deg=43.0, north_deg=43.5, west_deg=-36.5, east_deg=-36.0)
    assert np.array_equal(window.posts, whole(LAND))


def test_ground_across_180_degrees_is_known_on_both_sides(tmp_path):
    store, land = TerrainStore(tmp_path), replace(LAND, west_deg=179.75, east_deg=-179.75)
    terrain = store.open(store.keep(invent(land).strips(), lattice=land.lattice))
    lat_deg, lon_deg = np.full(5, 43.25), np.array([179.75, 179.9, 180.0, -179.9, -179.75])
    assert np.isfinite(terrain.elevations_m(lat_deg=lat_deg, lon_deg=lon_deg)).all()
    assert np.isnan(terrain.elevations_m(lat_deg=lat_deg[:2], lon_deg=np.array([179.7, -179.7]))).all()
