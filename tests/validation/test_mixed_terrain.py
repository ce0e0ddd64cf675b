"""The proof for ground of mixed resolutions runs, and finds what it is there to find."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from server.terrain import ground as terrain_ground
from tests.terrain.files import write_tile
from tests.validation import mixed_terrain


def hills(seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    coarse = random.uniform(100.0, 2_500.0, (61, 61))
    at = np.linspace(0.0, 60.0, 1201)
    rows = np.array([np.interp(at, np.arange(61), line) for line in coarse])
    return np.array([np.interp(at, np.arange(61), line) for line in rows.T]).T.astype(np.int16)


def figures(folder, rays=60) -> dict:
    return json.loads(mixed_terrain.run(folder, lambda message: None, rays=rays)[-1])


def test_no_ray_over_ground_of_two_spacings_is_lower_than_the_sampled_truth(tmp_path):
    write_tile(tmp_path, "N44W073", hills(1))
    found = figures(tmp_path)
    assert (found["rays"], found["lower_than_truth"], found["worst_ft"]) == (60, 0, 0.0)
    assert found["rays_over_two_sources"] > 5


def test_it_finds_rays_that_are_too_low(tmp_path, monkeypatch):
    write_tile(tmp_path, "N44W073", hills(2))
    right = terrain_ground.Terrain.window

    def cut(self, **box):
        window = right(self, **box)
        return replace(window, posts=np.asarray(window.posts, dtype=np.float32) - 5.0)

    monkeypatch.setattr(terrain_ground.Terrain, "window", cut)
    found = figures(tmp_path, rays=30)
    assert found["lower_than_truth"] > 20 and found["worst_ft"] > 5.0


def test_over_the_sierra_with_its_two_spacings_no_ray_is_lower(open_data):
    found = figures(open_data / "sierra_nevada", rays=120)
    assert found["lower_than_truth"] == 0 and found["rays_over_two_sources"] > 10


def test_a_folder_without_elevation_files_is_refused_in_words(tmp_path, capsys):
    assert mixed_terrain.main([str(tmp_path)]) == 2
    assert "No elevation file was found" in capsys.readouterr().err
