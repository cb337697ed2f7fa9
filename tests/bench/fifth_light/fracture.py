"""Cracks: from the hub or the rim, or all the way so that the disc lies in pieces held together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng, log_uniform, wander
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Crack:
    """A break through all of the disc."""

    path_mm: Array
    """(n, 3): points from its mouth inwards, and how far it gapes there, mm."""
    lean: float
    """tan of how far its face leans off the upright, to the path's left."""
    through: bool
    """Whether it parts the disc from hub to rim."""

    @property
    def turn(self) -> float:
        """Where about the centre it lies."""
        return float(np.arctan2(*self.path_mm[len(self.path_mm) // 2, 1::-1]))


def _run(rng: Rng, rim_mm: float, from_hub: bool, long_mm: float, turn: float, gape: float, lean: float) -> Crack:
    """A path that kinks: cracks run straight and then turn at once, unlike hairs."""
    count = max(8, int(long_mm / 0.35))
    run = np.linspace(0.0, long_mm, count)
    radius = HOLE_MM + run if from_hub else rim_mm - run
    kinks = np.interp(run, np.sort(rng.uniform(0, long_mm, 5)), rng.normal(0, 0.25, 5))
    off = lean * run + np.cumsum(kinks) * long_mm / count + 0.05 * wander(rng, count, 4 + int(long_mm / 1.5))
    angle = turn + (off - off[0]) / radius.clip(8)
    wide = gape * (1 - 0.85 * run / max(long_mm, 1e-3)) * np.exp(0.1 * wander(rng, count, 6))
    through = from_hub and radius[-1] >= rim_mm - 0.5
    if through:
        wide = gape * np.exp(0.15 * wander(rng, count, 5))
    path = np.stack([radius * np.cos(angle), radius * np.sin(angle), wide], 1)
    return Crack(path, float(rng.normal(0, 0.4)), through)


def cracks(rng: Rng, rim_mm: float, broken: bool) -> list[Crack]:
    """One to four; of a broken disc, two or three go all the way."""
    start = rng.uniform(0, 2 * np.pi)
    if broken:
        many = int(rng.choice([2, 2, 3]))
        turns = start + np.arange(many) * 2 * np.pi / many + rng.normal(0, 0.35, many)
        whole = [
            _run(rng, rim_mm, True, rim_mm - HOLE_MM, turn, log_uniform(rng, 0.05, 0.6), rng.normal(0, 0.1))
            for turn in turns
        ]
        return whole + (cracks(rng, rim_mm, False)[:1] if rng.random() < 0.5 else [])
    from_hub = rng.random() < 0.62
    found = []
    for number in range(int(rng.choice([1, 2, 3, 4], p=[0.5, 0.25, 0.15, 0.1]))):
        long, turn = log_uniform(rng, 5, 42), start + number * rng.uniform(0.3, 2.2)
        gape = log_uniform(rng, 0.02, 0.16)
        found.append(_run(rng, rim_mm, from_hub, long, turn, gape, rng.normal(0, 0.25)))
    return found


def pieces(found: list[Crack], turn: Array, radius: Array) -> Array:
    """Which piece each place is of, int (h, w); 0 all over unless two cracks or more go through."""
    borders = sorted((crack for crack in found if crack.through), key=lambda crack: float(crack.turn % (2 * np.pi)))
    piece = np.zeros(turn.shape, int)
    if len(borders) > 1:
        for crack in borders:
            along = np.hypot(crack.path_mm[:, 0], crack.path_mm[:, 1])
            angle = np.unwrap(np.arctan2(crack.path_mm[:, 1], crack.path_mm[:, 0])) % (2 * np.pi)
            piece += turn % (2 * np.pi) > np.interp(radius, along, angle)
        piece %= len(borders)
    return piece
