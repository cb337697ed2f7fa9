"""Cracks from the hub or the rim: their paths, and how the broken face leans below the surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from scipy.spatial import cKDTree

THICK_MM = 1.2


@dataclass(frozen=True)
class Crack:
    path_mm: Array
    """(n, 3): points, and the width of the gap there in mm."""
    lean: float
    """How far the face goes aside per depth."""
    shine: float
    """0 to 1: how much of what lies behind the face it hides by mirroring."""
    bend: float
    """Slope by which the disc's face is bent up beside it, down on the other side; none at the tip."""


def _walk(rng: Rng, start: Array, heading: float, long_mm: float, rim_mm: float, gap_mm: float) -> Array:
    """Kinks and straight runs; ends at the disc's edges."""
    count = max(8, int(long_mm / 0.3))
    kinks = rng.normal(0, 0.35, count) * (rng.random(count) < 0.06) + rng.normal(0, 0.025, count)
    angle = heading + np.cumsum(kinks) - 0.4 * np.cumsum(np.cumsum(kinks)) / count
    way = start + np.cumsum(np.stack([np.cos(angle), np.sin(angle)], 1), 0) * 0.3
    radius = np.hypot(*way.T)
    inside = (radius > HOLE_MM + 0.02) & (radius < rim_mm - 0.02)
    inside[:2] = True
    kept = way[: len(way) if inside.all() else int(np.argmin(inside))]
    taper = np.linspace(1, 0, len(kept)) ** 0.6 if len(kept) == len(way) else np.ones(len(kept))
    return np.column_stack([kept, gap_mm * (0.25 + 0.75 * taper)])


def _lean(rng: Rng) -> float:
    return float(rng.choice([-1, 1]) * rng.uniform(0.12, 0.8))


def bent_by(cracks: list[Crack], points_mm: Array) -> Array:
    """Slopes (..., 2) of the face about cracks: what it mirrors breaks there."""
    slope = np.zeros((points_mm[..., 0].size, 2), np.float32)
    every = points_mm.reshape(-1, 2)
    for crack in cracks:
        path = crack.path_mm[:, :2]
        near = np.nonzero(np.linalg.norm(every - path.mean(0), axis=1) < np.ptp(path, 0).max() + 8)[0]
        far, which = cKDTree(path).query(every[near])
        way = np.gradient(path, axis=0)
        across = np.stack([-way[:, 1], way[:, 0]], 1) / np.linalg.norm(way, axis=1, keepdims=True)
        side = np.sign(((every[near] - path[which]) * across[which]).sum(1))
        size = crack.bend * side * np.exp(-far / 4) * (1 - which / len(path))
        slope[near] += (size[:, None] * across[which]).astype(np.float32)
    return slope.reshape(points_mm.shape)


def cracks(rng: Rng, rim_mm: float) -> list[Crack]:
    found: list[Crack] = []
    for _ in range(int(rng.choice([1, 1, 1, 2, 2, 4]))):
        outward = rng.random() < 0.7
        turn = rng.uniform(0, 2 * np.pi)
        at = (HOLE_MM + 0.05 if outward else rim_mm - 0.05) * np.array([np.cos(turn), np.sin(turn)])
        heading = turn + (0 if outward else np.pi) + rng.normal(0, 0.12 if outward else 0.45)
        gap = log_uniform(rng, 0.07, 0.3)
        whole = rng.random() < 0.15
        path = _walk(rng, at, heading, 60.0 if whole else log_uniform(rng, 4, 36), rim_mm, gap)
        shine, bend = rng.uniform(0.5, 1), rng.normal(0, 0.006)
        found.append(Crack(path, _lean(rng), shine, bend))
        if rng.random() < 0.35 and len(path) > 30:
            k = int(rng.uniform(0.25, 0.75) * len(path))
            own = np.arctan2(*(path[k, :2] - path[k - 3, :2])[::-1]) + rng.choice([-1, 1]) * rng.uniform(0.35, 1.1)
            twig = _walk(rng, path[k, :2], own, log_uniform(rng, 3, 20), rim_mm, 0.7 * gap)
            found.append(Crack(twig, _lean(rng), shine, 0.3 * bend))
    return [crack for crack in found if len(crack.path_mm) >= 6]
