"""What lies on the face: prints of fingers, smears, dried drops, dust and hairs."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import FLAT_PX_MM, HOLE_MM, Flat, Hair
from bench.other_light.chance import Rng, blob_mm, cloud, log_uniform, ramp, spot_mm, wander
from bench.other_light.optics import Array

RIDGES_MM = (0.4, 0.6)
"""From ridge to ridge of an adult's finger (from memory)."""


def _ridges(rng: Rng, x: Array, y: Array) -> Array:
    """A length whose levels run along the ridges: a loop about a slanting ray, a whorl, or an arch."""
    which = rng.random()
    if which < 0.6:
        slant = rng.normal(0, 0.35)
        along = np.maximum(0, x * np.sin(slant) + y * np.cos(slant))
        return np.asarray(np.hypot(x - along * np.sin(slant), y - along * np.cos(slant)))
    if which < 0.85:
        return np.asarray(np.hypot(x * 1.15, y * 0.85))
    return np.asarray(y + rng.uniform(2, 5) * np.exp(-((x / 4.5) ** 2)))


def fingerprint(rng: Rng, flat: Flat, at: Array | None = None) -> None:
    place = at if at is not None else spot_mm(rng, flat.rim_mm + 3)
    x, y = flat.turned(place, rng.uniform(0, 2 * np.pi))
    side = flat.side
    oval = np.hypot(x / rng.uniform(6, 9), y / rng.uniform(8, 12.5))
    box = oval < 1.4
    warp = cloud(rng, side, side, 3.5 * FLAT_PX_MM, 2)
    level = _ridges(rng, x + 0.35 * warp, y - 0.35 * warp)
    pitch = rng.uniform(*RIDGES_MM)
    ridge = np.cos(2 * np.pi * level / pitch) + 0.5 * cloud(rng, side, side, 2.5, 1) + rng.uniform(-0.5, 0.3)
    press = ramp(-1.3, 0.6, cloud(rng, side, side, 5 * FLAT_PX_MM, 3) + 0.6)
    press = press * ramp(1.1, 0.75, oval + 0.08 * warp)
    if rng.random() < 0.25:  # slipped: the ridges run into each other
        ridge = np.asarray(cv2.blur(ridge.astype(np.float32), (1, int(rng.integers(5, 25)))))
    strength = log_uniform(rng, 0.12, 0.6)
    flat.lay("grease", strength * ramp(-0.4, 0.5, ridge) * press * box)
    flat.tell("smudge", "print", (press > 0.15) & flat.on_disc(HOLE_MM, flat.rim_mm), strength)


def smear(rng: Rng, flat: Flat) -> None:
    """Wiped along a bow, with streaks as of a cloth or a thumb."""
    side, bow = flat.side, rng.normal(0, 0.02)
    x, y = flat.turned(spot_mm(rng, flat.rim_mm), rng.uniform(0, 2 * np.pi))
    across = y - bow * x * x
    wide, long, strength = log_uniform(rng, 3, 14), log_uniform(rng, 12, 60), log_uniform(rng, 0.08, 0.5)
    streaks = 0.55 + 0.3 * np.interp(across, np.linspace(-2 * wide, 2 * wide, 400), wander(rng, 400, int(wide * 9)))
    there = ramp(1, 0.45, np.abs(across) / wide + 0.12 * cloud(rng, side, side, 40, 2))
    there = there * ramp(1, 0.3, np.abs(x) / long + 0.1 * cloud(rng, side, side, 70, 2))
    flat.lay("grease", strength * streaks.clip(0.05, 1) * there)
    flat.tell("smudge", "wiped", (there > 0.25) & flat.on_disc(HOLE_MM, flat.rim_mm), strength)


def dried_drops(rng: Rng, flat: Flat) -> None:
    """A splash: drops about a place, each with a bright border where its lime dried."""
    middle, spread = spot_mm(rng, flat.rim_mm), rng.uniform(4, 25)
    for _ in range(int(rng.integers(1, 14))):
        size, strength = log_uniform(rng, 0.5, 4), log_uniform(rng, 0.15, 0.6)
        mask = flat.filled(blob_mm(rng, middle + rng.normal(0, spread, 2), size, 0.12))
        mask &= flat.on_disc(HOLE_MM, flat.rim_mm)
        deep = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) / FLAT_PX_MM
        border = np.exp(-deep / (0.08 + 0.05 * size)) + rng.uniform(0.02, 0.3)
        flat.lay("lime", strength * border * mask)
        flat.tell("smudge", "water", mask, strength)


def dust(rng: Rng, rim_mm: float, count: int) -> list[tuple[Array, float]]:
    """Outlines of specks and of bits of fluff, with their opacity."""
    found = []
    for _ in range(count):
        size = log_uniform(rng, 0.03, 0.3)
        place = spot_mm(rng, rim_mm) if rng.random() < 0.85 else spot_mm(rng, rim_mm) * rng.uniform(0.4, 1)
        if np.hypot(*place) > HOLE_MM + 1:
            found.append((blob_mm(rng, place, size, 0.45, 12), rng.uniform(0.35, 1)))
    return found


def fibres(rng: Rng, rim_mm: float, count: int) -> list[Hair]:
    """Hairs, and fluff of cloth, which is short and curls."""
    found = []
    for _ in range(count):
        fluff = rng.random() < 0.6
        long_mm = log_uniform(rng, 0.8, 5) if fluff else log_uniform(rng, 4, 40)
        curl = (0.5 if fluff else 0.08) * rng.standard_normal()
        n = max(8, int(long_mm / 0.2))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum((curl + (0.8 if fluff else 0.1) * wander(rng, n, 6)) * long_mm / n)
        path = spot_mm(rng, rim_mm) + np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1), 0) * long_mm / n
        radius = np.hypot(*path.T)
        path = path[(radius < rim_mm) & (radius > HOLE_MM)]
        if len(path) > 5 and np.hypot(*np.diff(path, axis=0).T).max() < 1:
            found.append(Hair(path, log_uniform(rng, 0.015, 0.09), rng.uniform(0.45, 1)))
    return found
