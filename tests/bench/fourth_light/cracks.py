"""Cracks from hole or rim: where they run, how wide they gape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng, log_uniform, wander
from bench.other_light.optics import Array

from .lines import within


@dataclass(frozen=True)
class Crack:
    """A break through the plastic from hole or rim; its faces lean."""

    path_mm: Array
    """(n, 2), from where it began."""
    width_mm: Array
    """(n,) of the gap, as the truth has it."""
    face_mm: float
    """How wide the broken face shines beside the gap, signed: to which side."""
    lift: float
    """By how much the mirror's slope jumps across it."""


def cracks(rng: Rng, rim_mm: float) -> list[Crack]:
    """One to three from hole or rim, some of which fork."""
    found = []
    for _ in range(int(rng.choice([1, 2, 3], p=[0.55, 0.3, 0.15]))):
        inside = rng.random() < 0.6
        long_mm, turn = log_uniform(rng, 10, 50 if inside else 40), rng.uniform(0, 2 * np.pi)
        begin = (HOLE_MM + 0.02 if inside else rim_mm - 0.02) * np.array([np.cos(turn), np.sin(turn)])
        main = _torn(rng, begin, turn if inside else turn + np.pi, long_mm, rim_mm)
        wide = log_uniform(rng, 0.07, 0.3)
        found.append(_crack(rng, main, wide))
        if rng.random() < 0.45 and len(main) > 30:
            at = int(rng.uniform(0.25, 0.7) * len(main))
            way = np.arctan2(*(main[at + 5] - main[at])[::-1]) + rng.choice([-1, 1]) * rng.uniform(0.35, 0.9)
            found.append(_crack(rng, _torn(rng, main[at], way, long_mm * rng.uniform(0.2, 0.5), rim_mm), wide * 0.7))
    return [crack for crack in found if len(crack.path_mm) > 8]


def _torn(rng: Rng, begin: Array, heading: float, long_mm: float, rim_mm: float) -> Array:
    """A path that turns a little all the time and sharply now and then."""
    count = max(20, int(long_mm / 0.3))
    kinks = (rng.random(count) < 0.02) * rng.normal(0, 0.35, count)
    way = heading + np.cumsum(rng.normal(0, 0.018, count) + kinks - 0.5 * np.roll(kinks, 12))
    path = begin + np.cumsum(np.stack([np.cos(way), np.sin(way)], 1), 0) * long_mm / count
    return within(np.vstack([begin, path]), HOLE_MM, rim_mm)


def _crack(rng: Rng, path: Array, wide_mm: float) -> Crack:
    along = np.linspace(1, 0, len(path)) if len(path) else np.zeros(0)
    width = wide_mm * along**0.6 * np.exp(0.25 * wander(rng, max(len(path), 1), 9)[: len(path)]) + 0.015
    lift = float(rng.choice([-1, 1])) * log_uniform(rng, 0.003, 0.03)
    return Crack(path, width, float(rng.choice([-1, 1])) * log_uniform(rng, 0.25, 0.9), lift)
