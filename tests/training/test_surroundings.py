"""The surroundings of rendered discs: painted walls, the sky and its sun, grease wiped off."""

from __future__ import annotations

import importlib.util

import cv2
import numpy as np
import pytest
from skimage.feature import structure_tensor, structure_tensor_eigenvalues

from models.training.render.areas import wiped
from models.training.render.geometry import FloatArray
from models.training.render.ranges import Ranges
from models.training.render.room import SUN_MM, SUN_RAD, Lamp, Panel, Room, sample_room
from models.training.render.scene import sample_scene

RANGES = Ranges.load()
CAMERA = sample_scene(
    np.random.default_rng(1), RANGES, width_px=1600, height_px=1200, seed=1, count=1, kind="phone"
).camera


def test_walls_are_painted_as_far_from_white_as_the_range_says_and_no_darker() -> None:
    def walls(sd: float) -> FloatArray:
        drawn = RANGES.narrowed({"room.paint": [sd, sd]})
        return np.array([sample_room(np.random.default_rng(k), drawn, CAMERA).wall for k in range(200)])

    colour = walls(0.3) / walls(0.0)  # all else of a room stays
    assert colour.mean(axis=1) == pytest.approx(1.0)
    # the difference of two independent logarithms spreads by the root of two times each: any statistics handbook
    assert np.std(np.log(colour[:, 0] / colour[:, 1])) == pytest.approx(0.3 * 2**0.5, rel=0.15)


def test_outdoors_a_disc_mirrors_as_much_cloud_as_the_sky_is_covered_with_and_no_window() -> None:
    always = RANGES.narrowed({"room.outdoors": 1.0})
    rooms = [sample_room(np.random.default_rng(seed), always, CAMERA) for seed in range(12)]
    covers = []
    for room in rooms:
        assert room.sky is not None and not any(panel.light for panel in room.panels) and len(room.lamps) <= 1
        covers.append(abs(float((room.sky.outlines < room.sky.cover).mean()) - room.sky.cover))
    assert max(covers) < 1e-3


def test_a_bare_room_has_but_its_ceiling_and_a_tiled_one_as_many_tiles_as_go_into_it() -> None:
    drawn = RANGES.narrowed({"room.outdoors": 0.0, "room.bare": 1.0, "room.tiled": 1.0, "room.tile_mm": [500.0, 500.0]})
    for seed in range(12):
        room = sample_room(np.random.default_rng(seed), drawn, CAMERA)
        (ceiling,) = (panel for panel in room.panels if not panel.light)
        assert ceiling.bars == tuple(max(1, round(2 * half / 500)) for half in ceiling.half_mm)


def test_wiped_grease_runs_in_streaks_as_fingerprints_and_noise_do_not() -> None:
    """How much one direction prevails, 0 to 1, by the eigenvalues of scikit-image's structure tensor."""

    def coherence(picture: FloatArray) -> float:
        large, small = structure_tensor_eigenvalues(structure_tensor(picture, sigma=6))[:, 30:-30, 30:-30]
        return float((((large - small) / (large + small + 1e-9)) ** 2).mean())

    pictures = [wiped(np.random.default_rng(seed), (260, 320)) for seed in range(6)]
    assert all(streaks.std() == pytest.approx(1, rel=1e-3) for streaks in pictures)
    assert min(coherence(streaks) for streaks in pictures) > 0.6
    grain = cv2.GaussianBlur(np.random.default_rng(1).normal(0, 1, (260, 320)), (0, 0), 2)
    assert coherence(grain) < 0.3


if importlib.util.find_spec("torch"):  # what is seen of them is tried only where torch happens to be

    def test_the_sun_is_as_large_as_any_handbook_has_it() -> None:
        """32 minutes of arc across."""
        import torch

        from models.training.render.light import Light

        lamp = Lamp(SUN_MM * np.array([0, 0.6, 0.8]), SUN_MM * SUN_RAD, np.ones(3))
        below = Panel(np.array([0, 0, -900.0]), np.eye(3)[0], np.eye(3)[1], (1.0, 1.0), np.zeros(3))
        dark = Room(*[np.zeros(3)] * 3, panels=(below,), lamps=(lamp,), people=(), softness_rad=1e-6)
        off_rad = torch.linspace(0, 0.02, 2001)
        height = float(np.arctan2(0.8, 0.6)) + off_rad
        rays = torch.stack([0 * height, torch.cos(height), torch.sin(height)])
        seen = Light(dark, torch.device("cpu")).seen(torch.zeros(3, 2001), rays)[0]
        radius_rad = float(off_rad[int((seen > np.exp(-1)).sum())])  # a lamp's light falls to 1 / e there
        assert np.degrees(2 * radius_rad) * 60 == pytest.approx(32, abs=2)
