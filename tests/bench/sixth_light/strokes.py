"""Scratches, scuffs, ring arcs and the traces of a polish: where they run, how wide and steep they are.

Lengths, widths and slopes have no source: no measured ones were found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.chance import Rng, log_uniform, ramp, wander
from bench.other_light.lines import Groove, length_mm
from bench.other_light.optics import Array

INNER_MM = 9.0
LEAST_MM = 1.0


@dataclass(frozen=True)
class Stroke(Groove):
    """A V with lips; it gets narrower as it gets shallower."""

    lip: float
    """Width of each lip as a share of the whole."""
    torn: float
    """Share of the light that its faces scatter all ways."""


def clipped(path_mm: Array, rim_mm: float) -> Array:
    """The longest run of a path (n, 2) that lies on the disc."""
    radius = np.hypot(*path_mm.T)
    there = (radius > INNER_MM) & (radius < rim_mm - 0.3)
    edges = np.nonzero(np.diff(np.concatenate([[0], there.astype(int), [0]])))[0].reshape(-1, 2)
    if not len(edges):
        return path_mm[:0]
    first, last = edges[np.argmax(edges[:, 1] - edges[:, 0])]
    return path_mm[first:last]


def by_hand(rng: Rng, start: Array, heading: float, long_mm: float, style: str) -> Array:
    """A path (n, 2) as something that is dragged leaves it: its curvature wanders, a hook turns at its end."""
    count = max(8, int(long_mm / 0.4))
    along = np.linspace(0, 1, count)
    bend = {"straight": 0.0, "curved": rng.normal(0, 0.9), "wavering": rng.normal(0, 0.4), "hook": rng.normal(0, 0.3)}
    angle = heading + bend[style] * along + rng.normal(0, 0.01)
    if style == "wavering":
        angle = angle + 0.3 * wander(rng, count, max(3, int(long_mm / 3)))
    if style == "hook":
        angle = angle + rng.choice([-1, 1]) * rng.uniform(1.2, 3) * ramp(rng.uniform(0.5, 0.85), 1, along)
    step = long_mm / (count - 1)
    way = np.cumsum(np.stack([np.cos(angle), np.sin(angle)], 1), 0) * step
    return np.asarray(start + way - way[count // 2])


def depths_along(rng: Rng, long_mm: float, torn_off: float) -> Array:
    """Shares of the most: pressed in at one end, running out at the other, skipping now and then."""
    count = max(10, int(long_mm / 0.25))
    at = np.linspace(0, 1, count)
    depth = 0.8 + 0.22 * wander(rng, count, max(3, int(long_mm / 2.5)))
    enter, leave = log_uniform(rng, 0.01, 0.15), log_uniform(rng, 0.03, 0.6)
    if rng.random() < 0.5:
        enter, leave = leave, enter
    depth = depth.clip(0.25) * ramp(0, enter, at) ** 0.7 * ramp(1, 1 - leave, at) ** 0.7
    if rng.random() < torn_off:
        skips = wander(rng, count, max(5, int(long_mm / log_uniform(rng, 0.6, 5))))
        depth = depth * ramp(-1.2, -0.8, skips)
    return np.asarray(depth / depth.max().clip(1e-6))


def _stroke(rng: Rng, kind: str, style: str, path: Array, width_mm: float, torn_off: float) -> Stroke:
    slope = log_uniform(rng, 0.35 if kind == "ring_arc" else 0.2, 1.2)
    return Stroke(
        kind=kind,
        style=style,
        path_mm=path,
        width_mm=float(np.clip(width_mm, 0.02, 0.25)),
        slope=slope,
        depths=depths_along(rng, length_mm(path), torn_off),
        lip=rng.uniform(0.05, 0.35),
        torn=float(np.clip(rng.beta(2, 2) + 0.15 * (width_mm > 0.08), 0.1, 0.95)),
    )


def _somewhere(rng: Rng, rim_mm: float) -> Array:
    turn, radius = rng.uniform(0, 2 * np.pi), np.sqrt(rng.uniform(14**2, (rim_mm + 1) ** 2))
    return np.array([radius * np.cos(turn), radius * np.sin(turn)])


def _bunch(rng: Rng, rim_mm: float, most: int) -> list[tuple[str, Array, float]]:
    """One go: a single scratch, some side by side, a fan of them, a scuff; style, path and width."""
    heading, middle, which = rng.uniform(0, 2 * np.pi), _somewhere(rng, rim_mm), rng.random()
    form = str(rng.choice(["straight", "curved", "wavering", "hook"], p=[0.35, 0.35, 0.2, 0.1]))
    if which < 0.65 or most < 3:
        return [(form, by_hand(rng, middle, heading, log_uniform(rng, 2, 70), form), log_uniform(rng, 0.025, 0.25))]
    found = []
    scuff = which > 0.85
    long_mm = log_uniform(rng, 1.5, 7) if scuff else log_uniform(rng, 5, 50)
    spread, fan = log_uniform(rng, 0.6, 5), rng.uniform(0.02, 0.35)
    for _ in range(int(rng.integers(3, min(most, 24 if scuff else 8) + 1))):
        off = rng.normal(0, spread, 2)
        path = by_hand(rng, middle + off, heading + rng.normal(0, fan), long_mm * np.exp(rng.normal(0, 0.35)), form)
        width = log_uniform(rng, 0.02, 0.09) if scuff else log_uniform(rng, 0.025, 0.16)
        found.append(("scuff" if scuff else "bunch", path, width))
    return found


def scratches(rng: Rng, rim_mm: float, count: int) -> list[Stroke]:
    lines: list[Stroke] = []
    while len(lines) < count:
        for style, path, width in _bunch(rng, rim_mm, count - len(lines)):
            kept = clipped(path, rim_mm)
            if len(kept) >= 5 and length_mm(kept) >= LEAST_MM:
                lines.append(_stroke(rng, "scratch", style, kept, width, 0.35))
    return lines


def ring_arcs(rng: Rng, rim_mm: float, goes: int) -> list[Stroke]:
    """What a drive cuts while the disc spins: about the centre, whole or in parts, alone or in a pack."""
    lines = []
    for _ in range(goes):
        radius, start = rng.uniform(22.5, rim_mm - 2), rng.uniform(0, 2 * np.pi)
        span = np.deg2rad(log_uniform(rng, 6, 355))
        many = 1 if rng.random() < 0.55 else int(rng.integers(2, 9))
        gap, drift = log_uniform(rng, 0.08, 0.8), rng.normal(0, 0.015)
        for k in range(many):
            own = radius + gap * k * rng.uniform(0.7, 1.3)
            if own > rim_mm - 0.8:
                break
            turn = start + rng.normal(0, 0.08) + np.linspace(0, max(span * rng.uniform(0.6, 1), 3 / own), 400)
            size = own + drift * np.sin(turn - start)
            path = np.stack([size * np.cos(turn), size * np.sin(turn)], 1)
            style = "single" if many == 1 else "pack"
            lines.append(_stroke(rng, "ring_arc", style, path, log_uniform(rng, 0.04, 0.25), 0.5))
    return lines


def polish(rng: Rng, rim_mm: float) -> list[Stroke]:
    """Hairlines of a pad that turned beside the centre; they are no damage."""
    lines = []
    pad_mm = np.array([rng.uniform(0, 35), 0.0])
    slope = log_uniform(rng, 0.03, 0.15)
    for _ in range(int(log_uniform(rng, 120, 500) * (rim_mm / 60) ** 2)):
        middle = _somewhere(rng, rim_mm)
        turn = rng.uniform(0, 2 * np.pi)
        about = pad_mm[0] * np.array([np.cos(turn), np.sin(turn)]) if rng.random() < 0.7 else np.zeros(2)
        arm = middle - about
        sweep = np.linspace(-0.5, 0.5, 40) * log_uniform(rng, 4, 30) / max(8.0, float(np.hypot(*arm)))
        c, s = np.cos(sweep), np.sin(sweep)
        path = clipped(about + np.stack([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]], 1), rim_mm)
        if len(path) >= 5:
            depths = depths_along(rng, length_mm(path), 0.2)
            own, width = slope * np.exp(rng.normal(0, 0.2)), log_uniform(rng, 0.003, 0.009)
            lines.append(Stroke("swirl", "swirl", path, width, own, depths, 0.1, rng.uniform(0.02, 0.2)))
    return lines
