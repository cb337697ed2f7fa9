"""Scratches, ring arcs, the swirl of a polish, cracks: paths in mm, a point every quarter of a millimetre."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng, log_uniform, wander
from bench.other_light.lines import Groove, longest_between
from bench.other_light.optics import Array

STEP_MM = 0.25


@dataclass(frozen=True)
class Line(Groove):
    """A groove of one width."""

    scatter: float
    """Share of the light that it sends all ways."""


@dataclass(frozen=True)
class Crack:
    path_mm: Array
    width_mm: float
    lean_mm: float
    """How far aside the broken face runs on its way through the clear layer."""
    bright: float


def spot_mm(rng: Rng, rim_mm: float, low_mm: float = 20) -> Array:
    """A place (2,) on the disc, even by area."""
    radius, turn = np.sqrt(rng.uniform(low_mm**2, (rim_mm - 1) ** 2)), rng.uniform(0, 2 * np.pi)
    return np.array([radius * np.cos(turn), radius * np.sin(turn)])


def bent(start: Array, heading: float, long_mm: float, bend_per_mm: float | Array) -> Array:
    """A path (n, 2) that turns by so much, in radians, on each millimetre."""
    turn = heading + np.cumsum(np.broadcast_to(bend_per_mm, points_on(long_mm))) * STEP_MM
    return np.asarray(start + np.cumsum(STEP_MM * np.stack([np.cos(turn), np.sin(turn)], 1), 0))


def points_on(long_mm: float) -> int:
    return max(6, int(long_mm / STEP_MM))


def _width_mm(rng: Rng, median_um: float, spread: float = 0.6, low_um: float = 12, high_um: float = 220) -> float:
    while True:
        width = median_um * np.exp(rng.normal(0, spread))
        if low_um <= width <= high_um:
            return float(width / 1000)


def _depths(rng: Rng, count: int) -> Array:
    """Running out at both ends, uneven; now and then what scratched skipped."""
    along = np.linspace(0, 1, count)
    depths = np.clip(1 + rng.uniform(0, 0.35) * wander(rng, count, max(2, count // 12)), 0.25, 1.3)
    for share in (along, 1 - along):
        depths *= np.clip(share / rng.uniform(0.03, 0.35), 0, 1) ** 0.7
    if rng.random() < 0.25:
        for _ in range(rng.integers(1, 4)):
            depths[np.abs(along - rng.uniform(0.1, 0.9)) < rng.uniform(0.01, 0.06)] = 0
    return np.asarray(depths.clip(0, 1))


def _groove(rng: Rng, rim_mm: float, kind: str, style: str, path_mm: Array, width_mm: float) -> Iterator[Line]:
    """What of a path lies on the disc, unless too short."""
    path = longest_between(path_mm, HOLE_MM + 0.2, rim_mm - 0.15)
    if len(path) * STEP_MM >= 0.8:
        soft = kind == "swirl"
        slope, scatter = rng.uniform(*(0.1, 0.5) if soft else (0.3, 1.5)), 0.05 if soft else rng.uniform(0.04, 0.4)
        yield Line(kind, style, path, width_mm, slope, _depths(rng, len(path)), scatter)


def single(rng: Rng, rim_mm: float, median_um: float) -> Iterator[Line]:
    long_mm = float(np.clip(np.exp(rng.normal(np.log(13), 0.8)), 1.5, 90))
    style = str(rng.choice(["straight", "bent", "wavy"], p=[0.45, 0.4, 0.15]))
    bend: float | Array = rng.normal(0, 0.018 if style == "bent" else 0.001)
    if style == "wavy":
        bend = 0.06 * wander(rng, points_on(long_mm), max(3, int(long_mm / 5)))
    path = bent(spot_mm(rng, rim_mm), rng.uniform(0, 2 * np.pi), long_mm, bend)
    yield from _groove(rng, rim_mm, "scratch", style, path, _width_mm(rng, median_um))


def bunch(rng: Rng, rim_mm: float) -> Iterator[Line]:
    """Side by side."""
    at, heading, long_mm = spot_mm(rng, rim_mm), rng.uniform(0, 2 * np.pi), rng.uniform(4, 35)
    aside = np.array([-np.sin(heading), np.cos(heading)])
    bend, wide, median_um = rng.normal(0, 0.012), rng.uniform(1, 8), rng.uniform(15, 45)
    for _ in range(rng.integers(4, 22)):
        start = at + aside * rng.normal(0, wide / 2) + rng.normal(0, long_mm * 0.1, 2)
        path = bent(start, heading + rng.normal(0, 0.05), long_mm * rng.uniform(0.4, 1.1), bend)
        yield from _groove(rng, rim_mm, "scratch", "bunch", path, _width_mm(rng, median_um, 0.4))


def scuff(rng: Rng, rim_mm: float) -> Iterator[Line]:
    """Many short fine ones."""
    at, heading, size = spot_mm(rng, rim_mm), rng.uniform(0, 2 * np.pi), rng.uniform(2, 9)
    for _ in range(rng.integers(25, 90)):
        start, long_mm = at + rng.normal(0, size / 2.5, 2), rng.uniform(1, size)
        path = bent(start, heading + rng.normal(0, 0.25), long_mm, rng.normal(0, 0.03))
        yield from _groove(rng, rim_mm, "scratch", "scuff", path, _width_mm(rng, 16, 0.3, high_um=60))


def _arc(middle: Array, radius_mm: float, start: float, span: float, wobble_mm: float = 0, phase: float = 0) -> Array:
    turn = np.linspace(start, start + span, max(12, int(radius_mm * span / STEP_MM)))
    radius = radius_mm + wobble_mm * np.sin(turn - phase)
    return np.asarray(middle + np.stack([radius * np.cos(turn), radius * np.sin(turn)], 1))


def arcs(rng: Rng, rim_mm: float) -> Iterator[Line]:
    """About the centre or nearly so, single and in packs."""
    for _ in range(rng.choice([1, 1, 2, 3])):
        about, start = rng.uniform(24.5, rim_mm - 2), rng.uniform(0, 2 * np.pi)
        many = 1 if rng.random() < 0.4 else int(rng.integers(2, 11))
        span, median_um = np.deg2rad(log_uniform(rng, 15, 355)), rng.uniform(40, 150) * (1 if many == 1 else 0.6)
        middle = rng.normal(0, 0.15, 2) * (rng.random() < 0.4)
        for _ in range(many):
            radius = about + rng.normal(0, 0.12 * many) * (many > 1)
            own = span * (rng.uniform(0.5, 1.0) if many > 1 else 1)
            if 24 < radius < rim_mm - 0.6:
                wobble, phase = rng.normal(0, 0.05), rng.uniform(0, 6)
                path = _arc(middle, radius, start + rng.normal(0, 0.1), own, wobble, phase)
                width = _width_mm(rng, median_um, 0.4, low_um=20)
                yield from _groove(rng, rim_mm, "ring_arc", "pack" if many > 1 else "single", path, width)


def swirl(rng: Rng, rim_mm: float) -> Iterator[Line]:
    """What a machine's pad leaves that turns on the turning disc."""
    pad, reach, spread, median_um = rng.uniform([18, 25, 0.8, 2.5], [60, 70, 12, 6])
    for _ in range(rng.integers(250, 700)):
        turn = rng.uniform(0, 2 * np.pi)
        middle = reach * np.array([np.cos(turn), np.sin(turn)])
        path = _arc(middle, abs(pad + rng.normal(0, spread)), rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 1.6))
        yield from _groove(rng, rim_mm, "swirl", "swirl", path, _width_mm(rng, median_um, 0.3, 1, 12))


def cracks(rng: Rng, rim_mm: float) -> Iterator[Crack]:
    """From the hole or from the rim, some of them branched."""
    for _ in range(rng.choice([1, 1, 2, 3])):
        turn, from_hole = rng.uniform(0, 2 * np.pi), rng.random() < 0.6
        start = (HOLE_MM if from_hole else rim_mm) * np.array([np.cos(turn), np.sin(turn)])
        heading = turn + (0 if from_hole else np.pi) + rng.normal(0, 0.2)
        branches = [(start, heading, log_uniform(rng, 5, rim_mm - 8))]
        while branches:
            at, heading, long_mm = branches.pop()
            nodes = max(3, int(long_mm / rng.uniform(1.5, 6)))
            bend = 0.12 * wander(rng, points_on(long_mm), nodes) + rng.normal(0, 0.02)
            path = longest_between(bent(at, heading, long_mm, bend), HOLE_MM, rim_mm)
            if len(path) < 8:
                continue
            bright = rng.uniform(0.05, 0.4) if rng.random() < 0.4 else rng.uniform(1.0, 4.0)
            yield Crack(path, rng.uniform(0.04, 0.25), rng.normal(0, 0.45), bright)
            if rng.random() < 0.3 and long_mm > 12:
                fork = path[rng.integers(len(path) // 4, len(path) * 3 // 4)]
                way = heading + rng.choice([-1, 1]) * rng.uniform(0.3, 0.9)
                branches.append((fork, way, long_mm * rng.uniform(0.2, 0.5)))
