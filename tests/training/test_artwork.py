"""Labels and stickers: what ink hides, and that the truth of a photograph knows of it."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest

from models.training.render import artwork
from models.training.render.ranges import Ranges
from models.training.render.scene import Scene, sample_scene

SEEDS = range(12)


def covered(style: str, seed: int, inner_mm: float = 24.0, outer_mm: float = 58.0) -> float:
    """Share of a face, from lead-in to lead-out, that is under ink."""
    sheet = artwork.label(seed, diameter_mm=120, style=style)
    place = (np.arange(sheet.side) + 0.5 - sheet.side / 2) / artwork.PX_PER_MM
    radius = np.hypot(place[:, None], place)
    return float((sheet.cover[(radius > inner_mm) & (radius < outer_mm)] > 127).mean())


@pytest.mark.parametrize("style", ["art", "inkjet"])
def test_a_full_print_leaves_no_metal(style: str) -> None:
    assert min(covered(style, seed) for seed in SEEDS) == 1.0


def test_a_print_on_a_part_of_the_metal_leaves_some() -> None:
    shares = [covered("part", seed) for seed in SEEDS]
    assert min(shares) > 0.0
    assert 0.2 < np.median(shares) < 0.9


@pytest.mark.parametrize("style", ["metal", "glaze"])
def test_no_label_is_nothing_but_metal(style: str) -> None:
    shares = [covered(style, seed, outer_mm=60.0) for seed in SEEDS]
    assert min(shares) > 0.0
    assert np.median(shares) < 0.6


def test_the_same_seed_gives_the_same_label() -> None:
    one, other = (artwork.label(4, diameter_mm=80, style="part") for _ in range(2))
    assert np.array_equal(one.image, other.image)
    assert np.array_equal(one.cover, other.cover)


def stuck(share: float) -> Scene:
    ranges = Ranges.load().narrowed({"photo.kind": "phone", "photo.side": "data", "disc.sticker": share})
    return sample_scene(np.random.default_rng(3), ranges, width_px=640, height_px=480, seed=3, count=1)


if importlib.util.find_spec("torch"):
    from models.training.render.picture import render

    def test_what_a_price_sticker_hides_is_not_seen() -> None:
        (with_it, its_truth), (without, truth) = render(stuck(1.0)), render(stuck(0.0))
        hidden = (its_truth.labels[0] == 255) & (truth.labels[0] != 255)
        smallest_mm2 = 0.5 * np.pi * 3.5**2  # as `stick` draws them, half of it on the face at least
        assert hidden.sum() / 100 > smallest_mm2
        seen = [t.record["discs"][0]["visible_fraction"] for t in (its_truth, truth)]
        assert seen[0] < seen[1]
        assert np.abs(with_it.astype(int) - without).max() > 30
