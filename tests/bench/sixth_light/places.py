"""Where photographs of discs are taken, in kinds; radiances are shares of what a lit white wall sends."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from bench.other_light.chance import Rng, colour, log_uniform, ramp
from bench.other_light.optics import Array

from .panorama import Panorama
from .sketch import CEILING, Sketch, Wall

WARM, COLD = np.array([1.0, 0.72, 0.42]), np.array([0.92, 1.0, 0.97])


def _room(rng: Rng, level: float, near: float, far: float, high: tuple[float, float]) -> tuple[Sketch, list[Wall]]:
    sketch = Sketch(rng, np.full(3, 0.5 * level))
    faces = sketch.box(rng.uniform(near, far, 4), rng.uniform(*high), rng.uniform(0, np.pi / 2))
    sketch.papered(faces, level * colour(rng, 0.35, 0.95, 0.1), level * colour(rng, 0.6, 1.0, 0.05))
    for face in faces[:CEILING]:
        sketch.furniture(face, level, int(rng.integers(1, 5)))
    return sketch, faces


def _lamp(sketch: Sketch, face: Wall, tint: Array, bright: float, radius_mm: float) -> None:
    rng = sketch.rng
    sketch.lay_on(face, sketch.round(face, rng.normal(0, 900), rng.normal(0, 900), radius_mm), bright * tint)


def kitchen(rng: Rng) -> Sketch:
    sketch, faces = _room(rng, log_uniform(rng, 0.3, 0.9), 900, 2600, (1500, 1800))
    for _ in range(rng.integers(3, 9)):  # spots
        _lamp(sketch, faces[CEILING], np.array([1, 0.85, 0.65]), log_uniform(rng, 30, 120), rng.uniform(25, 50))
    sketch.window(faces[0], rng.normal(0, 500), rng.uniform(600, 1400), 150, rng.uniform(900, 1300), rng.uniform(3, 12))
    hood = faces[1]
    sketch.lay_on(hood, sketch.panel(hood, (-900, 900), (450, 1250)), colour(rng, 0.2, 0.9, 0.3))
    sketch.lay_on(hood, sketch.panel(hood, (-600, 600), (435, 452), 4), log_uniform(rng, 4, 20) * COLD)
    return sketch


def living_room(rng: Rng) -> Sketch:
    sketch, faces = _room(rng, log_uniform(rng, 0.25, 0.7), 1200, 4000, (1700, 2100))
    bright = log_uniform(rng, 4, 16)
    for face in faces[: rng.integers(1, 3)]:
        for middle in np.linspace(-1200, 1200, int(rng.integers(1, 4))) + rng.normal(0, 300):
            sketch.window(face, middle, rng.uniform(700, 1500), rng.uniform(-300, 300), rng.uniform(1300, 1600), bright)
    if rng.random() < 0.4:
        _lamp(sketch, faces[CEILING], WARM, log_uniform(rng, 6, 30), rng.uniform(120, 260))
    return sketch


def evening(rng: Rng) -> Sketch:
    """A room lit by a shade or two, dark panes."""
    sketch, faces = _room(rng, log_uniform(rng, 0.15, 0.35), 1200, 3500, (1600, 2000))
    sketch.light *= (WARM**0.6).astype(np.float32)
    for _ in range(rng.integers(1, 3)):
        _lamp(sketch, faces[CEILING], WARM, log_uniform(rng, 8, 60), log_uniform(rng, 50, 220))
    aside, up = rng.uniform(-1200, 1200), rng.uniform(200, 800)
    sketch.lay_on(
        faces[1], sketch.panel(faces[1], (aside, aside + 320), (up, up + 260), 40), log_uniform(rng, 4, 14) * WARM
    )
    sketch.lay_on(faces[2], sketch.panel(faces[2], (-900, 900), (100, 1300)), np.array([0.01, 0.012, 0.02]))
    return sketch


def office(rng: Rng) -> Sketch:
    sketch, faces = _room(rng, log_uniform(rng, 0.5, 0.9), 1800, 6000, (1700, 2300))
    top = faces[CEILING]
    tile, start = 600.0, rng.uniform(0, 600, 2)
    u, v = (top.aside_mm + start[0]) / tile, (top.up_mm + start[1]) / tile
    seams = np.maximum(np.abs(u % 1 - 0.5), np.abs(v % 1 - 0.5)) > 0.48
    sketch.lay_on(top, 0.5 * seams, np.full(3, 0.3))
    every = int(rng.integers(2, 5))
    lit = (np.floor(u) % every == 0) & (np.floor(v) % int(rng.integers(2, 4)) == 0) & ~seams
    sketch.lay_on(top, lit, log_uniform(rng, 5, 18) * COLD)
    if rng.random() < 0.5:
        sketch.window(faces[3], 0, rng.uniform(1500, 4000), 100, 1400, rng.uniform(3, 10))
    sketch.lay_on(
        faces[0], sketch.panel(faces[0], (-320, 280), (60, 420)), log_uniform(rng, 0.3, 3) * np.array([0.7, 0.85, 1.0])
    )
    return sketch


def shop_hall(rng: Rng) -> Sketch:
    sketch, faces = _room(rng, log_uniform(rng, 0.35, 0.8), 1500, 9000, (2200, 4500))
    sketch.light[faces[CEILING].cells] *= np.float32(rng.uniform(0.15, 0.9))
    sketch.tubes(faces[CEILING], log_uniform(rng, 10, 40), 4, rng.uniform(900, 2400), rng.uniform(40, 220), 1500)
    for face in faces[:CEILING]:
        sketch.furniture(face, 0.7, 5)
    return sketch


def garage(rng: Rng) -> Sketch:
    sketch, faces = _room(rng, log_uniform(rng, 0.08, 0.25), 1000, 3200, (1500, 2200))
    for face in faces[1:CEILING]:
        sketch.furniture(face, 0.2, 5)
    if rng.random() < 0.6:  # the gate stands open
        sketch.window(faces[0], 0, 2400, -900, 1200, log_uniform(rng, 2, 10))
    sketch.tubes(faces[CEILING], log_uniform(rng, 8, 30), 1, 1500, rng.uniform(30, 60), 1200)
    beams = np.abs(faces[CEILING].up_mm % 800 - 400) < 45
    sketch.lay_on(faces[CEILING], 0.9 * beams, colour(rng, 0.03, 0.12, 0.2))
    return sketch


def _sun(sketch: Sketch, most: float) -> None:
    """As wide as it is (a radius of 0.0047), dimmed by thin clouds; where a mirror seldom shows it."""
    turn, height = sketch.rng.uniform(0, 2 * np.pi), sketch.rng.uniform(0.45, 0.93)
    way = height * np.array([np.cos(turn), np.sin(turn)])
    sketch.glow(way, 0.0047, log_uniform(sketch.rng, 0.03, 1) * most * np.array([1.0, 0.93, 0.8]))


def garden(rng: Rng) -> Sketch:
    sketch = Sketch(rng, np.ones(3))
    clouds = rng.uniform(0, 1.1)
    sketch.lay(np.ones_like(sketch.up), sketch.sky(rng.uniform(0.8, 1.6), clouds))
    for _ in range(rng.integers(1, 4)):  # trees, a hedge or houses
        middle, half = rng.uniform(-np.pi, np.pi), rng.uniform(0.3, 1.4)
        off = np.abs((sketch.turn - middle + np.pi) % (2 * np.pi) - np.pi) / half
        top = rng.uniform(0.25, 0.8) * np.sqrt((1 - off**2).clip(0))
        leaves = rng.random() < 0.75
        edge = top + (0.06 * sketch.cloud(40, 5) if leaves else 0)
        paint = colour(rng, 0.04, 0.2, 0.2) * (np.array([0.75, 1.0, 0.4]) if leaves else np.array([2.5, 2.2, 2.0]))
        holes = ramp(1.6, 1.2, sketch.cloud(14, 3)) if leaves else 1.0
        uneven = (1 + (0.45 if leaves else 0.05) * sketch.cloud(9, 2))[..., None].clip(0.15)
        sketch.lay(ramp(-0.01, 0.01, edge - sketch.up) * holes, paint * uneven)
    if clouds < 0.85:
        _sun(sketch, 9e4)
    return sketch


def car_boot(rng: Rng) -> Sketch:
    """The gate overhead, seats on one side, the open on the other."""
    sketch = garden(rng)
    faces = sketch.box(np.array([500, 600, 5e4, 600]) * rng.uniform(0.8, 1.3), rng.uniform(500, 900), rng.uniform(0, 6))
    dark = colour(rng, 0.02, 0.09, 0.1)
    for face in (faces[0], faces[1], faces[3]):
        sketch.lay_on(face, np.ones_like(face.up_mm), dark * (0.6 + 0.8 * ramp(0, 500, face.up_mm))[:, None])
    sketch.lay_on(faces[0], sketch.panel(faces[0], (-400, 400), (250, 420), 15), np.full(3, rng.uniform(0.2, 0.8)))
    gate = faces[CEILING]
    sketch.lay_on(gate, gate.aside_mm > -700, 2 * dark)
    glass = sketch.panel(gate, (-500, -100), (-420, 420), 20)
    sketch.lay_on(gate, 0.8 * glass, np.full(3, rng.uniform(0.3, 0.9)))
    return sketch


def desk_at_night(rng: Rng) -> Sketch:
    """One lamp close by; little else."""
    sketch, faces = _room(rng, log_uniform(rng, 0.03, 0.15), 800, 2500, (1500, 1900))
    tint = WARM if rng.random() < 0.6 else COLD
    turn, side = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 0.85)
    way, radius = side * np.array([np.cos(turn), np.sin(turn)]), log_uniform(rng, 0.012, 0.07)
    shade = np.hypot(sketch.x - way[0], sketch.y - way[1]) < 2.2 * radius
    sketch.lay(shade * 1.0, colour(rng, 0.05, 0.5, 0.3))
    sketch.glow(way, radius, tint * 1.6 / radius**2 * rng.uniform(0.3, 1))
    sketch.lay_on(
        faces[0], sketch.panel(faces[0], (-260, 260), (40, 330)), log_uniform(rng, 0.2, 2) * np.array([0.6, 0.8, 1.0])
    )
    return sketch


def in_the_dark(rng: Rng) -> Sketch:
    """For the phone's own light."""
    return _room(rng, log_uniform(rng, 0.015, 0.12), 900, 3000, (1500, 2200))[0]


PLACES: dict[str, tuple[Callable[[Rng], Sketch], float, float]] = {
    "kitchen": (kitchen, 1500, 0.12),
    "living room": (living_room, 2500, 0.18),
    "evening": (evening, 2000, 0.11),
    "office": (office, 2800, 0.13),
    "shop hall": (shop_hall, 4500, 0.10),
    "garage": (garage, 2000, 0.07),
    "garden": (garden, 9000, 0.10),
    "car boot": (car_boot, 900, 0.06),
    "desk at night": (desk_at_night, 700, 0.07),
    "flash": (in_the_dark, 1500, 0.06),
}
"""Of each: who paints it, how far away its things are taken to be in mm, and its share."""


def place(rng: Rng) -> Panorama:
    name = str(rng.choice(list(PLACES), p=[share for _, _, share in PLACES.values()]))
    paint, far_mm, _ = PLACES[name]
    return Panorama(name, paint(rng).light, far_mm, name in ("garden", "car boot"))
