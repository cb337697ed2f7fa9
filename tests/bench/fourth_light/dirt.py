"""Fingerprints, wiped grease, drops, dust, hairs and lint."""

from __future__ import annotations

import numpy as np
from bench.other_light.areas import FLAT_PX_MM, Flat, Hair
from bench.other_light.chance import Rng, blob_mm, cloud, log_uniform, ramp, spot_mm, wander
from bench.other_light.optics import Array


def on_data(flat: Flat) -> Array:
    return flat.on_disc(8, flat.rim_mm)


def print_of_finger(rng: Rng, flat: Flat) -> None:
    """Ridges that run round a core and out to the sides, half a millimetre apart (from memory), with bare spots."""
    u, v = flat.turned(spot_mm(rng, flat.rim_mm + 5), rng.uniform(0, 2 * np.pi))
    wide, high = rng.uniform(6, 9), rng.uniform(8, 12)
    kind, side = rng.random(), flat.side
    if kind < 0.45:  # a loop
        phase = np.hypot(u - 0.25 * v, np.where(v > 0, v * 0.9, v * 0.25))
    elif kind < 0.75:  # a whorl
        phase = np.hypot(u, v * 0.7) + 0.08 * np.arctan2(v, u)
    else:  # an arch
        phase = v - 2.2 * np.exp(-((u / 3) ** 2))
    phase = phase / rng.uniform(0.42, 0.55) + 0.45 * cloud(rng, side, side, 25, 2)
    ridges = ramp(-0.35, 0.6, np.sin(2 * np.pi * phase) + 0.4 * cloud(rng, side, side, 2.5, 1))
    touch = ramp(1.05, 0.75, np.hypot(u / wide, v / high) + 0.07 * cloud(rng, side, side, 30, 2))
    touch = touch * ramp(-1.5, 0.2, cloud(rng, side, side, 50, 3))
    strength = log_uniform(rng, 0.18, 0.9)
    flat.lay("grease", strength * touch * (0.15 + 0.85 * ridges))
    flat.tell("smudge", "print", (touch > 0.2) & on_data(flat), strength)


def smear(rng: Rng, flat: Flat) -> None:
    """A thumb or cloth that slid: streaks along an arc about a far pole."""
    place, turn = spot_mm(rng, flat.rim_mm), rng.uniform(0, 2 * np.pi)
    pole = place + log_uniform(rng, 25, 200) * np.array([np.cos(turn), np.sin(turn)])
    x, y = flat.mm()
    x, y = x - pole[0], y - pole[1]
    arm = float(np.hypot(*(place - pole)))
    out = np.hypot(x, y) - arm
    aside = ((np.arctan2(y, x) - turn) % (2 * np.pi) - np.pi) * arm
    wide, long = rng.uniform(4, 14), rng.uniform(10, 40)
    streaks = np.interp(out, np.linspace(-40, 40, 900), cloud(rng, 1, 900, log_uniform(rng, 4, 20), 4)[0])
    uneven = 0.18 * cloud(rng, flat.side, flat.side, 60, 3)
    there = ramp(1.1, 0.5, np.abs(out) / wide + uneven) * ramp(1.1, 0.3, np.abs(aside) / long + uneven)
    strength = log_uniform(rng, 0.1, 0.65)
    flat.lay("grease", strength * there * (0.6 + 0.4 * streaks).clip(0.05))
    flat.tell("smudge", "wiped", (there > 0.25) & on_data(flat), strength)


def drops(rng: Rng, flat: Flat) -> None:
    """Dried water: rims of lime, a faint veil within; several side by side."""
    middle, strength = spot_mm(rng, flat.rim_mm), log_uniform(rng, 0.12, 0.6)
    x, y = flat.mm()
    for _ in range(int(rng.integers(1, 7))):
        centre, radius = middle + rng.normal(0, 6, 2), log_uniform(rng, 0.5, 4)
        bumps = 1 + 0.06 * np.sin(np.arctan2(y - centre[1], x - centre[0]) * rng.integers(2, 6) + rng.uniform(0, 6))
        far = np.hypot(x - centre[0], y - centre[1]) / radius * bumps
        ring = np.exp(-(((far - 0.95) / 0.06) ** 2)) + 0.4 * np.exp(-(((far - 0.7) / 0.05) ** 2)) * rng.random()
        flat.lay("grease", strength * (ring + 0.2 * rng.random() * (far < 0.95)))
        flat.tell("smudge", "water", (far < 1) & on_data(flat), strength)


def specks(rng: Rng, rim_mm: float, count: int) -> list[tuple[Array, float]]:
    """Grains: outlines (k, 2) in mm, and how dense they are."""
    grains = []
    for _ in range(count):
        size = min(0.35, float(np.exp(rng.normal(np.log(0.05), 0.6))))
        outline = blob_mm(rng, spot_mm(rng, rim_mm), size, 0.35, 14)
        if float(np.hypot(*outline.T).max()) < rim_mm - 0.2:
            grains.append((outline, rng.uniform(0.35, 0.95)))
    return grains


def hairs(rng: Rng, rim_mm: float, count: int) -> list[Hair]:
    """Hairs, eyelashes, fibres of cloth."""
    found = []
    for _ in range(count):
        long, heading = log_uniform(rng, 1.5, 30), rng.uniform(0, 2 * np.pi)
        points = max(20, int(long / 0.2))
        curl = rng.normal(0, 0.05) + 0.12 * wander(rng, points, max(3, int(long / 3) + 2))
        way = heading + np.cumsum(curl) * long / points
        path = spot_mm(rng, rim_mm) + np.cumsum(np.stack([np.cos(way), np.sin(way)], 1), 0) * long / points
        radius = np.hypot(*path.T)
        if radius.max() < rim_mm - 0.3 and radius.min() > 9:
            found.append(Hair(path, rng.uniform(0.02, 0.09), rng.uniform(0.5, 1)))
    return found


def soil(rng: Rng, flat: Flat, much: float) -> None:
    """Grease of all sorts, `much` pieces on average."""
    for _ in range(int(rng.poisson(much))):
        (print_of_finger, smear, drops)[int(rng.choice(3, p=[0.5, 0.3, 0.2]))](rng, flat)
    if rng.random() < 0.3 * much:  # a film all over, which is no area of its own
        film = 0.06 * (1 + 0.5 * cloud(rng, flat.side, flat.side, 12 * FLAT_PX_MM, 4)).clip(0)
        flat.lay("grease", film * rng.random())
