"""Scratches as grooves in the top face: where they run, how wide and steep they are, and their surfaces piece by piece.

No publication with measured widths and depths of scratches on discs was found: the ranges have no source, and their
strength was set once so that a plain line filter (`ridge_filter.py`) comes to an F1 of 0.4 to 0.5.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .chance import Rng, log_uniform, ramp, spot_mm, wander
from .optics import Array


@dataclass(frozen=True)
class Groove:
    """What the truth tells of a line, whoever draws it."""

    kind: str
    """scratch, ring_arc; or swirl, a hairline of a polish, which is no damage."""
    style: str
    path_mm: Array
    """(n, 2)"""
    width_mm: float
    slope: float
    """Of the walls."""
    depths: Array
    """Depth along the path as shares of the most, at even places."""


@dataclass(frozen=True)
class Line(Groove):
    """Two walls that meet in the middle, and a raised lip on either side; its width goes with its depth."""

    lip: float
    """Width of the lips as a share of the groove's."""
    rough: float
    """Share of the light that is scattered, not mirrored or refracted."""


def length_mm(path_mm: Array) -> float:
    return float(np.hypot(*np.diff(path_mm, axis=0).T).sum())


def resampled(path_mm: Array, step_mm: float) -> Array:
    """The path (n, 2) with even steps of about step_mm, at least two."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path_mm, axis=0).T))])
    at = np.linspace(0, along[-1], max(3, int(along[-1] / step_mm) + 1))
    return np.stack([np.interp(at, along, path_mm[:, axis]) for axis in (0, 1)], 1)


def sideways_of(path_mm: Array) -> Array:
    """Unit vectors (n, 2) across a path."""
    along = np.gradient(path_mm, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True).clip(1e-9)
    return np.stack([-along[:, 1], along[:, 0]], 1)


def bent(rng: Rng, middle: Array, heading: float, long_mm: float, bend_per_mm: float, wobble: float) -> Array:
    """A path (n, 2) through `middle` that bends evenly and wobbles."""
    count = max(6, int(long_mm / 0.6))
    along = np.linspace(-long_mm / 2, long_mm / 2, count)
    angle = heading + bend_per_mm * along + wobble * wander(rng, count, max(3, int(long_mm / 5) + 2))
    way = np.cumsum(np.stack([np.cos(angle), np.sin(angle)], 1), 0) * long_mm / (count - 1)
    return np.asarray(way - way[count // 2] + middle)


def longest_between(path_mm: Array, low_mm: float, high_mm: float) -> Array:
    """The longest run of a path between two radii."""
    radius = np.hypot(*path_mm.T)
    runs = np.split(np.arange(len(path_mm)), 1 + np.nonzero(np.diff((radius > low_mm) & (radius < high_mm)))[0])
    runs = [run for run in runs if low_mm < radius[run[0]] < high_mm]
    return path_mm[max(runs, key=len)] if runs else path_mm[:0]


def _depths(rng: Rng, long_mm: float, broken: float = 0.4) -> Array:
    """Deepest somewhere, running out at both ends, with gaps at the chance `broken`."""
    at, nodes = np.linspace(0, 1, max(8, int(long_mm / 0.25))), max(3, int(long_mm / 4) + 2)
    depths = np.interp(at, np.linspace(0, 1, nodes), rng.uniform(0.45, 1, nodes))
    for share in (at, 1 - at):
        depths = depths * np.minimum(1, share / log_uniform(rng, 0.02, 0.4)) ** 0.6
    if rng.random() < broken:
        depths = depths * ramp(-1.1, -0.8, wander(rng, len(at), max(4, int(long_mm / rng.uniform(1, 6)) + 2)))
    return np.asarray(depths / depths.max().clip(1e-6))


def _groove(rng: Rng, kind: str, style: str, path_mm: Array, width_mm: float, broken: float = 0.4) -> Line:
    slope, lip = log_uniform(rng, 0.08, 1.0), log_uniform(rng, 0.05, 0.5)
    rough = min(0.95, rng.uniform(0.1, 1.2))
    return Line(kind, style, path_mm, width_mm, slope, _depths(rng, length_mm(path_mm), broken), lip, rough)


def scratches(rng: Rng, rim_mm: float, count: int) -> list[Line]:
    """Single ones, bunches side by side, and scuffs of many short ones."""
    lines: list[Line] = []
    tried = 0
    while len(lines) < count and tried < 20 * count:
        which = rng.random()
        scuff, many = (
            which >= 0.8,
            1 if which < 0.45 else int(rng.integers(3, 10) if which < 0.8 else rng.integers(6, 18)),
        )
        middle, heading, spread = spot_mm(rng, rim_mm), rng.uniform(0, np.pi), rng.uniform(0.5, 6)
        long_mm = log_uniform(rng, 1.5, 8) if scuff else log_uniform(rng, 2, 60)
        bend = rng.normal(0, 0.012)
        for _ in range(min(many, count - len(lines))):
            tried += 1
            path = bent(
                rng,
                middle + rng.normal(0, spread, 2) * (many > 1),
                heading + rng.normal(0, 0.18 if scuff else 0.06),
                long_mm * np.exp(rng.normal(0, 0.3)),
                bend + rng.normal(0, 0.004),
                float(rng.choice([0, 0.02, 0.06])),
            )
            path = longest_between(path, 19.5 if rng.random() < 0.8 else 8, rim_mm - 0.4)
            width = max(0.01, log_uniform(rng, 0.01, 0.25) * (0.7 if many > 1 else 1))
            if len(path) >= 4 and length_mm(path) >= 1.2:
                lines.append(_groove(rng, "scratch", "scuff" if scuff else "groove", path, width))
    return lines


def ring_arcs(rng: Rng, rim_mm: float, count: int) -> list[Line]:
    """Arcs about the centre, single and in packs."""
    lines: list[Line] = []
    while len(lines) < count:
        many = int(rng.integers(3, 9)) if rng.random() < 0.4 else 1
        radius, start, gap = rng.uniform(24, rim_mm - 3), rng.uniform(0, 2 * np.pi), log_uniform(rng, 0.1, 1.2)
        spans = np.deg2rad(log_uniform(rng, 8, 330)) * np.exp(rng.normal(0, 0.25, many))
        for number in range(min(many, count - len(lines))):
            own = min(radius + number * gap * np.exp(rng.normal(0, 0.3)), rim_mm - 1.2)
            span = float(np.clip(spans[number], 3.5 / own, 2 * np.pi * 0.995))
            turn = start + rng.normal(0, 0.15) + np.linspace(0, span, max(8, int(span * own / 0.5)))
            off = own + rng.uniform(-0.02, 0.02) * np.sin(turn + rng.uniform(0, 6))
            path = np.stack([off * np.cos(turn), off * np.sin(turn)], 1)
            style = "pack" if many > 1 else "single"
            lines.append(_groove(rng, "ring_arc", style, path, log_uniform(rng, 0.015, 0.25), 0.5))
    return lines


def swirl(rng: Rng, rim_mm: float, count: int) -> list[Line]:
    """Hairlines that a polish left, about the centre, about another place, or all one way."""
    lines = []
    about, heading = rng.choice([0, 1]) * rng.normal(0, 40, 2), rng.uniform(0, np.pi)
    straight = rng.random() < 1 / 3
    for _ in range(count):
        middle, long_mm = spot_mm(rng, rim_mm), log_uniform(rng, 5, 40)
        off = middle - about
        angle = heading if straight else np.arctan2(off[1], off[0]) + np.pi / 2
        bend = rng.normal(0, 0.04) if straight else 1 / max(float(np.hypot(*off)), 15)
        path = longest_between(bent(rng, middle, angle + rng.normal(0, 0.05), long_mm, bend, 0), 22, rim_mm - 0.5)
        if len(path) >= 4:
            slope, depths = log_uniform(rng, 0.05, 0.25), _depths(rng, long_mm, 0.2)
            width, rough = log_uniform(rng, 0.002, 0.008), rng.uniform(0.02, 0.3)
            lines.append(Line("swirl", "swirl", path, width, slope, depths, 0.1, rough))
    return lines


@dataclass(frozen=True)
class Facets:
    """The surfaces of a line, cut into small flat pieces."""

    points_mm: Array
    """(n, 2)"""
    normals: Array
    """(n, 3)"""
    areas_mm2: Array
    """(n,) as seen from above."""
    along: Array
    """(n,) which point of the path each belongs to."""
    path_mm: Array
    """(m, 2)"""
    depths: Array
    """(m,)"""
    step_mm: float


def facets(rng: Rng, line: Line, px_mm: float) -> Facets:
    """Pieces of about half a pixel of the photograph."""
    path = resampled(line.path_mm, max(0.55 * px_mm, 0.03))
    count, across = len(path), sideways_of(path)
    long_mm, lip_mm = length_mm(path), line.lip * line.width_mm / 2
    step, nodes = long_mm / (count - 1), max(4, int(long_mm / 0.35))
    depths = np.interp(np.linspace(0, 1, count), np.linspace(0, 1, len(line.depths)), line.depths)
    uneven = np.exp(0.35 * rng.standard_normal())
    half = line.width_mm / 2
    points, normals, areas = [], [], []
    for offset, wide, sign in (
        (-half - lip_mm / 2, lip_mm, -0.5),
        (-half / 2, half, 1.0),
        (half / 2, half, -1.0),
        (half + lip_mm / 2, lip_mm, 0.5),
    ):
        steep = line.slope * sign * (uneven if sign > 0 else 1 / uneven)
        steep = steep * (1 + 0.35 * wander(rng, count, nodes)) * depths.clip(0.3)
        strips = max(1, int(np.ceil(wide / px_mm * 1.4)))
        for strip in range(strips):
            off = (offset + wide * ((strip + 0.5) / strips - 0.5)) * depths
            rise = steep + (0.04 + 0.25 * line.slope) * rng.standard_normal(count)
            normal = np.column_stack([across * rise[:, None], np.ones(count)])
            points.append(path + across * off[:, None])
            normals.append(normal / np.linalg.norm(normal, axis=1, keepdims=True))
            areas.append(wide / strips * step * depths * (depths > 0.04))
    along = np.tile(np.arange(count), len(points))
    return Facets(
        np.concatenate(points).astype(np.float32),
        np.concatenate(normals).astype(np.float32),
        np.concatenate(areas).astype(np.float32),
        along,
        path,
        depths,
        step,
    )


def crack_paths(rng: Rng, rim_mm: float, hole_mm: float) -> list[Array]:
    """One to three cracks from the hole or from the rim."""
    paths = []
    from_hole = rng.random() < 0.65
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        long_mm = log_uniform(rng, 3, 30)
        count = max(6, int(long_mm / 0.4))
        run = np.linspace(0.02, long_mm, count)
        radius = hole_mm + run if from_hole else rim_mm - run
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(
            rng.normal(rng.normal(0, 0.006), 0.02, count) * np.minimum(1, 12 / radius)
        )
        paths.append(np.stack([radius * np.cos(turn), radius * np.sin(turn)], 1))
    return paths
