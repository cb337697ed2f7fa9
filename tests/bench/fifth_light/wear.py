"""Scratches, arcs and traces of polishing: where they run, how wide, deep and matt they are.

No measured widths of scratches on discs were found in an open source (FACTS, 5.3): all ranges are common practice, no
source. A groove's walls lean by about `slope`; `matt` is the share of light that its torn ground scatters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.chance import Rng, log_uniform, ramp, spot_mm, wander
from bench.other_light.lines import Groove, length_mm
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Line(Groove):
    """A groove in the plastic's face."""

    matt: float


def curve(rng: Rng, start: Array, heading: float, long_mm: float, bow: float, hook: float, shake: float) -> Array:
    """A path (n, 2) from `start`: it bows by `bow` radians in all, hooks at its end by `hook`, shakes by `shake`."""
    count = max(8, int(long_mm / 0.4))
    along = np.linspace(0, 1, count)
    turn = heading + bow * (along - 0.5) + hook * ramp(0.82, 1.0, along)
    turn = turn + shake * wander(rng, count, 3 + int(long_mm / 3))
    steps = np.stack([np.cos(turn), np.sin(turn)], 1) * long_mm / (count - 1)
    return np.asarray(start + np.cumsum(steps, 0))


def press(rng: Rng, long_mm: float, gaps: float) -> Array:
    """How deep along the way, (k,) of at most 1: an attack, a belly, a run-out; skips with the chance `gaps`."""
    count = max(10, int(long_mm / 0.3))
    along = np.linspace(0, 1, count)
    attack, out = log_uniform(rng, 0.01, 0.3), log_uniform(rng, 0.03, 0.7)
    deep = np.minimum(1, along / attack) ** 0.7 * np.minimum(1, (1 - along) / out)
    deep = deep * np.exp(0.25 * wander(rng, count, 3 + int(long_mm / 2)))
    if rng.random() < gaps:
        deep = deep * ramp(-1.4, -0.2, wander(rng, count, 4 + int(long_mm / rng.uniform(1.5, 8))))
    return np.asarray((deep / deep.max().clip(1e-6)).clip(0, 1))


def width_mm(rng: Rng, least: float = 0.010, fine: float = 0.028, spread: float = 0.7) -> float:
    """Most are fine, a few are gouges of up to 0.4 mm: lognormal with a tail."""
    if rng.random() < 0.07:
        return log_uniform(rng, 0.1, 0.4)
    return float(np.clip(fine * np.exp(spread * rng.standard_normal()), least, 0.4))


def kept_on(path: Array, rim_mm: float, from_mm: float) -> Array:
    """The first long run of a path that lies on the disc."""
    radius = np.hypot(*path.T)
    on = (radius > from_mm) & (radius < rim_mm - 0.2)
    runs = [run for run in np.split(np.arange(len(on)), 1 + np.nonzero(np.diff(on))[0]) if on[run[0]]]
    return path[max(runs, key=len)] if runs else path[:0]


def groove(rng: Rng, kind: str, style: str, path: Array, wide: float, gaps: float = 0.25) -> Line:
    """A line along a path (n, 2), so many mm wide; wider ones are a little steeper."""
    slope = float(np.clip(log_uniform(rng, 0.1, 0.9) * (wide / 0.03) ** 0.15, 0.06, 1.1))
    return Line(kind, style, path, wide, slope, press(rng, length_mm(path), gaps), float(rng.beta(1.3, 3.0)))


def scratches(rng: Rng, rim_mm: float, amount: float) -> list[Line]:
    """About `amount` scratches in all, in events: one slip, a bunch from handling, a scuff, a pull from a sleeve."""
    lines: list[Line] = []
    while len(lines) < amount:
        event = rng.choice(["slip", "bunch", "scuff", "pull", "hook"], p=[0.36, 0.24, 0.14, 0.16, 0.10])
        at, heading = spot_mm(rng, rim_mm), rng.uniform(0, 2 * np.pi)
        least, most = {"slip": (1, 2), "hook": (1, 2), "bunch": (3, 12), "scuff": (8, 30), "pull": (2, 6)}[event]
        many = int(rng.integers(least, most))
        long = {"slip": (2, 40), "hook": (4, 25), "bunch": (2, 22), "scuff": (0.8, 5), "pull": (15, 100)}[event]
        base, bow = log_uniform(rng, *long), rng.normal(0, {"slip": 0.25, "bunch": 0.35, "pull": 0.1}.get(event, 0.5))
        fine, apart = 0.02 + 0.02 * rng.random(), rng.uniform(0.4, 5) * (2 if event == "pull" else 1)
        for _ in range(many):
            own = base * np.exp(rng.normal(0, 0.3))
            start = at + apart * rng.standard_normal(2) * (many > 1)
            lean = heading + rng.normal(0, {"scuff": 0.35, "bunch": 0.12}.get(event, 0.04))
            hook = rng.normal(0, 1.6) if event == "hook" else 0.0
            path = curve(rng, start, lean, own, bow + rng.normal(0, 0.05), hook, rng.choice([0, 0.01, 0.05]))
            path = kept_on(path, rim_mm, 9 if rng.random() < 0.15 else 20)
            if len(path) > 5 and length_mm(path) > 0.8:
                lines.append(groove(rng, "scratch", event, path, width_mm(rng, fine=fine)))
    return lines


def arcs(rng: Rng, rim_mm: float, events: int) -> list[Line]:
    """Arcs about the centre to hundredths of a millimetre, as a drive leaves them: single or in packs."""
    lines: list[Line] = []
    for _ in range(events):
        many = int(rng.integers(3, 10)) if rng.random() < 0.5 else 1
        radius, begin = rng.uniform(23.5, rim_mm - 2.5), rng.uniform(0, 2 * np.pi)
        span, pitch = np.deg2rad(log_uniform(rng, 12, 340)), log_uniform(rng, 0.06, 0.8)
        for _ in range(many):
            own_span = float(np.clip(span * np.exp(rng.normal(0, 0.25)), 4 / radius, 6.25))
            turn = begin + rng.normal(0, 0.08) + np.linspace(0, own_span, max(12, int(own_span * radius / 0.5)))
            off = radius + 0.015 * np.sin(turn - begin + rng.uniform(0, 6))
            path = np.stack([off * np.cos(turn), off * np.sin(turn)], 1)
            style = "pack" if many > 1 else "single"
            lines.append(groove(rng, "ring_arc", style, path, width_mm(rng, fine=0.035), 0.45))
            radius = min(radius + pitch * rng.uniform(0.4, 1.6), rim_mm - 1.5)
    return lines


def polish(rng: Rng, rim_mm: float) -> list[Line]:
    """What a repair machine leaves: very fine hairs in spirals or flat arcs about another centre, torn and faint."""
    lines = []
    wheel = rng.choice([0.0, 1.0]) * rng.normal(0, 60, 2)
    lean, torn = rng.normal(0, 0.25), rng.uniform(0.2, 0.9)
    for _ in range(int(rng.integers(70, 220))):
        at, long = spot_mm(rng, rim_mm), log_uniform(rng, 6, 60)
        off = at - wheel
        heading = np.arctan2(off[1], off[0]) + np.pi / 2 + lean + rng.normal(0, 0.02)
        path = curve(rng, at, float(heading), long, long / max(float(np.hypot(*off)), 20), 0.0, 0.0)
        path = kept_on(path, rim_mm, 21.5)
        if len(path) > 5:
            wide, slope = log_uniform(rng, 0.005, 0.022), log_uniform(rng, 0.06, 0.35)
            lines.append(Line("swirl", "swirl", path, wide, slope, press(rng, long, torn), 0.15 * rng.random()))
    return lines
