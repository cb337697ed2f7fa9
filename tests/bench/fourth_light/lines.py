"""Scratches, ring arcs and swirl: where they run and how wide they are.

Things that slide over grit leave arcs about one common pole, near or far. No measured widths were found: 10 to 300 um,
most fine, is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.chance import Rng, log_uniform, spot_mm, wander
from bench.other_light.lines import Groove, length_mm
from bench.other_light.optics import Array

LEAST_MM = 1.2
"""Shorter scratches are not drawn."""


@dataclass(frozen=True)
class Line(Groove):
    """A groove as it is drawn; it is as deep as wide by its slope, so that its width goes with its depth."""

    rough: float
    """Share of its light that its torn faces send all ways."""
    lean: float
    """How much steeper one wall is than the other, -1 to 1."""


def even(path_mm: Array, step_mm: float) -> tuple[Array, Array]:
    """The path (n, 2) in even steps of at most `step_mm`, and how far along each is, 0 to 1."""
    far = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path_mm, axis=0).T))])
    at = np.linspace(0, far[-1], max(3, int(np.ceil(far[-1] / step_mm)) + 1))
    return np.stack([np.interp(at, far, path_mm[:, axis]) for axis in (0, 1)], 1), at / max(far[-1], 1e-9)


def across(path_mm: Array) -> Array:
    """Unit vectors (n, 2) to the left of a path."""
    way = np.gradient(path_mm, axis=0)
    way = way / np.linalg.norm(way, axis=1, keepdims=True).clip(1e-9)
    return np.stack([-way[:, 1], way[:, 0]], 1)


def within(path_mm: Array, low_mm: float, high_mm: float) -> Array:
    """The first run of a path that lies between two radii."""
    radius = np.hypot(*path_mm.T)
    good = (radius > low_mm) & (radius < high_mm)
    if not good.any():
        return path_mm[:0]
    first = int(np.argmax(good))
    rest = good[first:]
    return path_mm[first : first + (len(rest) if rest.all() else int(np.argmin(rest)))]


def about_pole(middle: Array, pole: Array, long_mm: float, rng: Rng, wobble_mm: float = 0.0) -> Array:
    """An arc through `middle` about a pole."""
    arm = middle - pole
    radius, turn = float(np.hypot(*arm)), float(np.arctan2(arm[1], arm[0]))
    count = max(12, int(long_mm / 0.4))
    angle = turn + np.linspace(-0.5, 0.5, count) * long_mm / max(radius, 1)
    own = radius + wobble_mm * wander(rng, count, max(3, int(long_mm / 4) + 2))
    return np.asarray(pole + own[:, None] * np.stack([np.cos(angle), np.sin(angle)], 1))


def _depths(rng: Rng, long_mm: float, skips: float) -> Array:
    """From touch-down to lift-off, with the pressure that changes and, by the chance `skips`, leaps."""
    count = max(12, int(long_mm / 0.2))
    at = np.linspace(0, 1, count)
    pressed = np.sin(np.pi * at ** log_uniform(rng, 0.4, 2.5)) ** log_uniform(rng, 0.15, 0.9)
    pressed = pressed * np.exp(0.22 * wander(rng, count, max(4, int(long_mm / 2.5) + 2)))
    if rng.random() < skips:
        leaps = wander(rng, count, max(4, int(long_mm / log_uniform(rng, 0.8, 6)) + 2)) + rng.uniform(-0.4, 1.0)
        pressed = pressed * np.clip(leaps * 3 + 1, 0, 1)
    return np.asarray(pressed / max(float(pressed.max()), 1e-6))


def _line(rng: Rng, kind: str, style: str, path_mm: Array, width_mm: float, skips: float = 0.35) -> Line:
    slope, rough = log_uniform(rng, 0.15, 1.3), rng.beta(1.8, 1.5)
    depths = _depths(rng, length_mm(path_mm), skips)
    return Line(
        kind, style, path_mm, float(np.clip(width_mm, 0.008, 0.3)), slope, depths, rough, rng.uniform(-0.6, 0.6)
    )


def scratches(rng: Rng, rim_mm: float, count: int, fine_mm: float = 0.042) -> list[Line]:
    """Groups of lines, each of one event, until there are `count`; `fine_mm`: the middle of their widths."""
    lines: list[Line] = []
    for _ in range(40 * count):
        event = str(rng.choice(["drag", "slide", "scuff", "sleeve", "gouge"], p=[0.4, 0.22, 0.16, 0.12, 0.1]))
        many = {"slide": int(rng.integers(2, 12)), "scuff": int(rng.integers(5, 25)), "sleeve": int(rng.integers(1, 5))}
        place, fine = spot_mm(rng, rim_mm), float(np.exp(rng.normal(np.log(fine_mm), 0.6)))
        angle = rng.uniform(0, 2 * np.pi) if event != "sleeve" else np.arctan2(place[1], place[0]) + np.pi / 2
        pole = place + log_uniform(rng, 15, 900) * np.array([np.cos(angle), np.sin(angle)])
        for _ in range(min(many.get(event, 1), count - len(lines))):
            line = _of_event(rng, event, place, pole, fine, rim_mm)
            if line is not None:
                lines.append(line)
        if len(lines) >= count:
            break
    return lines


def _of_event(rng: Rng, event: str, place: Array, pole: Array, fine_mm: float, rim_mm: float) -> Line | None:
    middle, wobble, long_mm, width = place, 0.0, log_uniform(rng, 3, 45), fine_mm
    if event == "slide":
        middle, width = place + rng.normal(0, 4, 2), fine_mm * np.exp(rng.normal(-0.3, 0.4))
    elif event == "scuff":
        middle, width, long_mm = place + rng.normal(0, 3.5, 2), 0.018 * np.exp(rng.normal(0, 0.4)), rng.uniform(1.3, 7)
        pole = middle + 40 * unit_at(rng, np.arctan2(*(pole - place)[::-1]), 0.35)
    elif event == "sleeve":
        middle, pole = place + rng.normal(0, 6, 2), pole + rng.normal(0, 2, 2)
    elif event == "gouge":
        width, long_mm, wobble = log_uniform(rng, 0.09, 0.3), log_uniform(rng, 1.5, 14), 0.08
    else:
        wobble = float(rng.choice([0, 0.05, 0.25]))
    low = 20.0 if rng.random() < 0.85 else 9.0
    path = within(about_pole(middle, pole, long_mm, rng, wobble), low, rim_mm - 0.35)
    if len(path) < 5 or length_mm(path) < LEAST_MM:
        return None
    return _line(rng, "scratch", event, path, width)


def unit_at(rng: Rng, angle: float, spread: float) -> Array:
    turned = angle + rng.normal(0, spread)
    return np.array([np.cos(turned), np.sin(turned)])


def ring_arcs(rng: Rng, rim_mm: float, packs: int) -> list[Line]:
    """Exactly about the centre: where something touched the disc as it spun; single or side by side."""
    lines = []
    for _ in range(packs):
        many = 1 if rng.random() < 0.5 else int(rng.integers(2, 8))
        radius, start = rng.uniform(25, rim_mm - 3), rng.uniform(0, 2 * np.pi)
        span, gap = np.deg2rad(log_uniform(rng, 20, 300)), log_uniform(rng, 0.06, 0.9)
        for number in range(many):
            own = radius + gap * (number + rng.uniform(-0.3, 0.3)) * (many > 1)
            if own > rim_mm - 1.5:
                break
            turns = start + rng.normal(0, 0.12) + np.linspace(0, span * rng.uniform(0.6, 1), max(20, int(span * own)))
            path = own * np.stack([np.cos(turns), np.sin(turns)], 1)
            lines.append(_line(rng, "ring_arc", "pack" if many > 1 else "single", path, log_uniform(rng, 0.015, 0.22)))
    return lines


def swirl(rng: Rng, rim_mm: float) -> list[Line]:
    """What a polisher's pad leaves: hairlines about poles that travel round the disc."""
    lines: list[Line] = []
    arm, width, slope = rng.uniform(18, 60), log_uniform(rng, 0.003, 0.012), log_uniform(rng, 0.06, 0.4)
    for _ in range(int(rng.integers(120, 340))):
        pole = arm * unit_at(rng, 0, 9) * rng.normal(1, 0.06)
        path = within(about_pole(spot_mm(rng, rim_mm), pole, log_uniform(rng, 6, 50), rng), 21, rim_mm - 0.4)
        if len(path) > 5:
            own = width * float(np.exp(rng.normal(0, 0.3)))
            lines.append(Line("swirl", "swirl", path, own, slope, _depths(rng, length_mm(path), 0.1), 0.1, 0.0))
    return lines
