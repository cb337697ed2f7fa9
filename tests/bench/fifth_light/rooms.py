"""Places where a disc is photographed, each a `Scene`: the user stands at +y, the floor is 0.7 to 0.9 m below.

Measures are those of homes and halls; radiances are such that a white wall is about 1 (common practice, no source).
"""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array

from .cards import Card, Lamp, Scene, painted
from .paint import falling_off, furnished, leaves, outdoors, plain, rafters, shade, skies, window


def place(rng: Rng) -> Scene:
    """A place at random, in the shares in which people photograph (common practice, no source)."""
    places = (by_window, by_lamp, garage, overcast, blue_sky, under_tree, shop, flash)
    shares = [0.27, 0.13, 0.1, 0.13, 0.1, 0.07, 0.12, 0.08]
    return places[int(rng.choice(len(places), p=shares))](rng)


def _box(rng: Rng, scene: Scene, wall: Array, ceiling: Array, half_mm: Array, top_mm: float) -> None:
    """Four walls and a ceiling; half_mm (4,): how far they stand to the right, the front, the left and the user."""
    right, front, left, back = half_mm
    low, high = -800.0, top_mm
    corners = np.array([[right, -front], [-left, -front], [-left, back], [right, back]])
    for number in range(4):
        start, end = corners[number], corners[(number + 1) % 4]
        lit = falling_off(furnished(rng, wall), rng.uniform(0, 1, 2), rng.uniform(0.4, 1.2), rng.uniform(0.3, 0.8))
        along = np.array([*(end - start), 0.0])
        scene.hang(Card(np.array([*start, high]), along, np.array([0, 0, low - high]), painted(lit)))
    across, deep = np.array([right + left, 0.0, 0]), np.array([0, front + back, 0.0])
    lit = falling_off(rafters(rng, ceiling), rng.uniform(0, 1, 2), rng.uniform(0.25, 1.2), rng.uniform(0.2, 0.7))
    scene.hang(Card(np.array([-left, -front, high]), across, deep, painted(lit)), (3, 3))


def _indoors(
    rng: Rng, name: str, level: float, top_mm: tuple[float, float] = (1400, 2000)
) -> tuple[Scene, Array, float]:
    warm = np.exp(rng.normal(0.05, 0.1) * np.array([1, 0.1, -1]))
    scene = Scene(name, level * warm, 0.5 * level * warm)
    half, top = rng.uniform(900, 3600, 4), rng.uniform(*top_mm)
    ceiling = shade(rng, level * rng.uniform(0.5, 1.0), 0.05) * warm
    _box(rng, scene, shade(rng, level * rng.uniform(0.35, 0.9), 0.12) * warm, ceiling, half, top)
    return scene, half, top


def by_window(rng: Rng) -> Scene:
    """A room by day, the disc near one or two windows."""
    scene, half, top = _indoors(rng, "window", log_uniform(rng, 0.35, 1.0))
    sky = np.array([0.85, 1.0, 1.2]) * log_uniform(rng, 4, 16)
    for number in range(1 if rng.random() < 0.75 else 2):
        side = int(rng.choice([0, 1, 2], p=[0.25, 0.5, 0.25]))
        away = min(rng.uniform(350, 1500), half[side] - 20)
        wide, low = rng.uniform(700, 1800), rng.uniform(-150, 150)
        tall, shift = min(rng.uniform(900, 1500), top - low - 50), rng.normal(0, 350)
        glass = window(rng, outdoors(rng, (256, 256), sky, rng.random() < 0.6), shade(rng, 0.4, 0.1))
        turn = [0.0, -np.pi / 2, np.pi][side] + rng.normal(0, 0.2)
        out, along = np.array([np.cos(turn), np.sin(turn), 0]), np.array([-np.sin(turn), np.cos(turn), 0])
        corner = away * (1 + 0.8 * number) * out + (shift - wide / 2) * along + np.array([0, 0, low + tall])
        scene.hang(Card(corner, wide * along, np.array([0, 0, -tall]), painted(glass)), (3, 3))
    if rng.random() < 0.25:
        _pendant(rng, scene, top, 12.0)
    return scene


def _pendant(rng: Rng, scene: Scene, top_mm: float, radiance: float, aside_mm: float = 700) -> None:
    """A lamp under the ceiling: a globe, a flat round one, or a bare bulb."""
    kind = rng.random()
    radius = rng.uniform(140, 260) if kind < 0.5 else rng.uniform(25, 70)
    glow = radiance * (200 / radius) ** 1.3 * np.array([1.15, 1.0, rng.uniform(0.5, 0.95)])
    at = np.array([rng.normal(0, aside_mm), rng.normal(-200, aside_mm), top_mm - rng.uniform(30, 500)])
    y, x = np.mgrid[-1:1:96j, -1:1:96j]
    far = np.hypot(x, y)
    disc = (far < 0.97).astype(np.float32)
    paint = painted(glow * (1.0 - 0.35 * far[..., None] ** 2), cv2.GaussianBlur(disc, (0, 0), 1))
    corner = at - np.array([radius, radius, 0])
    scene.cards.append(Card(corner, np.array([2 * radius, 0, 0]), np.array([0, 2 * radius, 0]), paint, True))
    scene.lamps.append(Lamp(at, radius, glow.astype(np.float32)))


def by_lamp(rng: Rng) -> Scene:
    """An evening: one to three warm lamps, the rest dim."""
    scene, _, top = _indoors(rng, "lamp", log_uniform(rng, 0.12, 0.5))
    for _ in range(rng.choice([1, 1, 2, 3])):
        _pendant(rng, scene, top, log_uniform(rng, 12, 40))
    if rng.random() < 0.5:  # one on the table
        turn, far = rng.uniform(np.pi, 2 * np.pi), rng.uniform(250, 600)
        at = np.array([far * np.cos(turn), far * np.sin(turn), rng.uniform(200, 480)])
        glow, wide = log_uniform(rng, 15, 60) * np.array([1.2, 0.95, 0.6], np.float32), rng.uniform(80, 200)
        along = np.array([-np.sin(turn), np.cos(turn), 0]) * wide
        paint = painted(falling_off(plain(glow, (64, 64)), np.array([0.5, 0.5]), 0.5, 0.3))
        scene.hang(Card(at - along / 2, along, np.array([0, 0, -0.7 * wide]), paint), (1, 1))
    return scene


def garage(rng: Rng) -> Scene:
    """Dark within, the door open to the yard on one side."""
    scene, _, top = _indoors(rng, "garage", log_uniform(rng, 0.12, 0.4))
    sky = np.array([0.92, 1.0, 1.1]) * log_uniform(rng, 4, 9)
    yard = outdoors(rng, (256, 384), sky, True)
    turn = rng.choice([0.0, -np.pi / 2, np.pi]) + rng.normal(0, 0.3)
    out, along = np.array([np.cos(turn), np.sin(turn), 0]), np.array([-np.sin(turn), np.cos(turn), 0])
    away, wide = rng.uniform(800, 2500), rng.uniform(2200, 3000)
    corner = away * out + (rng.normal(0, 400) - wide / 2) * along + np.array([0, 0, top * rng.uniform(0.6, 0.95)])
    scene.hang(Card(corner, wide * along, np.array([0, 0, -corner[2] - 700]), painted(yard)), (2, 4))
    if rng.random() < 0.4:
        _tube(rng, scene, top - 100, 25.0)
    return scene


def _tube(rng: Rng, scene: Scene, top_mm: float, radiance: float) -> None:
    """A fluorescent tube."""
    turn, long = rng.uniform(0, np.pi), rng.choice([600, 1200, 1500])
    along = long * np.array([np.cos(turn), np.sin(turn), 0])
    thick = rng.uniform(40, 120) * np.array([-np.sin(turn), np.cos(turn), 0])
    at = np.array([rng.normal(0, 900), rng.normal(-300, 900), top_mm])
    glow = radiance * np.array([0.95, 1.05, rng.uniform(0.8, 1.05)])
    scene.hang(Card(at - along / 2, along, thick, painted(plain(glow, (8, 64)))), (1, 10))


def _open_air(rng: Rng, name: str, sky: Array, picture: Array, ground: float) -> Scene:
    """Half a sphere of sky as a ceiling far up, and a skyline all around."""
    scene = Scene(name, sky, 0.8 * sky)
    wide, high = 60000.0, 12000.0
    corner = np.array([-wide / 2, -wide / 2, high])
    scene.hang(Card(corner, np.array([wide, 0, 0]), np.array([0, wide, 0]), painted(picture)), (5, 5))
    for number in range(4):
        if rng.random() < 0.7:
            turn = number * np.pi / 2 + rng.normal(0, 0.3)
            out, along = np.array([np.cos(turn), np.sin(turn), 0]), np.array([-np.sin(turn), np.cos(turn), 0])
            away = log_uniform(rng, 2500, 12000)
            tall, wall = away * rng.uniform(0.25, 0.9), furnished(rng, shade(rng, ground, 0.25))
            if rng.random() < 0.5:
                wall = leaves(rng, (200, 320), np.asarray(sky))
            height, width = wall.shape[:2]
            edge = height * (0.15 + 0.05 * cloud_line(rng, width))
            cover = (np.arange(height)[:, None] > edge[None, :]).astype(np.float32)
            corner = away * out - 1.3 * away * along + np.array([0, 0, tall])
            scene.hang(Card(corner, 2.6 * away * along, np.array([0, 0, -tall - 900]), painted(wall, cover)))
    return scene


def cloud_line(rng: Rng, width: int) -> Array:
    """A skyline (width,): ragged, or straight as a roof."""
    steps = np.interp(np.arange(width), np.linspace(0, width, 24), rng.standard_normal(24))
    return np.asarray(steps * (rng.random() < 0.6))


def overcast(rng: Rng) -> Scene:
    """Under clouds, which are brightest overhead (Moon and Spencer's 1:3 by eye)."""
    sky = np.array([0.95, 1.0, 1.07]) * rng.uniform(1.5, 3)
    return _open_air(rng, "overcast", sky, skies(rng, (320, 320), sky, True), 0.3 * float(sky.mean()))


def blue_sky(rng: Rng) -> Scene:
    """Sun, or the shade of a house under the blue."""
    sky = np.array([0.35, 0.6, 1.05]) * rng.uniform(0.6, 1.2)
    scene = _open_air(rng, "blue sky", sky, skies(rng, (320, 320), sky, False), 0.4)
    if rng.random() < 0.65:
        _sun(rng, scene, 6.0)
    return scene


def _sun(rng: Rng, scene: Scene, irradiance: float) -> None:
    """As wide as it is in the sky, 0.27 degrees of radius (textbook)."""
    turn, high = rng.uniform(0, 2 * np.pi), np.deg2rad(rng.uniform(20, 65))
    far, radius = 40000.0, 40000 * np.tan(np.deg2rad(0.2665))
    way = np.array([np.cos(turn) * np.cos(high), np.sin(turn) * np.cos(high), np.sin(high)])
    glow = irradiance / (np.pi * (radius / far) ** 2) * np.array([1.05, 1.0, 0.88])
    scene.lamps.append(Lamp(far * way, radius, glow))
    side, low = np.cross(way, [0, 0, 1.0]), np.cross(way, np.cross(way, [0, 0, 1.0]))
    side, low = (edge / np.linalg.norm(edge) * 2 * radius for edge in (side, low))
    y, x = np.mgrid[-1:1:24j, -1:1:24j]
    paint = painted(plain(glow, (24, 24)), (np.hypot(x, y) < 0.95).astype(np.float32))
    scene.cards.append(Card(far * way - side / 2 - low / 2, side, low, paint, True))


def under_tree(rng: Rng) -> Scene:
    """Its crown is the ceiling."""
    sky = np.array([0.8, 1.0, 1.2]) * rng.uniform(2, 5)
    scene = _open_air(rng, "tree", 0.2 * sky, leaves(rng, (640, 640), sky), 0.3)
    crown = scene.cards[0]
    low = rng.uniform(2500, 6000)
    scene.cards[0] = Card(
        crown.corner_mm * low / 12000, crown.along_mm * low / 12000, crown.down_mm * low / 12000, crown.paint, True
    )
    return scene


def shop(rng: Rng) -> Scene:
    """Rows of tubes or panels under a high ceiling, shelves around."""
    scene, _, top = _indoors(rng, "shop", log_uniform(rng, 0.3, 0.8), (1700, 2800))
    panels, glow = rng.random() < 0.5, log_uniform(rng, 8, 25) * np.array([0.96, 1.04, rng.uniform(0.85, 1.05)])
    wide, long = (
        (rng.uniform(500, 700), rng.uniform(500, 1300)) if panels else (rng.uniform(60, 160), rng.uniform(1100, 2600))
    )
    step_x, step_y = rng.uniform(1100, 2000), long + rng.uniform(200, 1500)
    start = rng.uniform(-0.5, 0.5, 2)
    turned = rng.random() < 0.4
    for column in range(-2, 3):
        for row in range(-2, 2):
            at = np.array([(column + start[0]) * step_x, (row + start[1]) * step_y, top - 25])
            edges = np.array([wide, 0, 0]), np.array([0, long, 0.0])
            if turned:
                at, edges = at[[1, 0, 2]], (edges[0][[1, 0, 2]], edges[1][[1, 0, 2]])
            scene.hang(Card(at, *edges, painted(plain(glow, (48, 16)))), (1, 2) if panels else (6, 1))
    return scene


def flash(rng: Rng) -> Scene:
    """A dim room; the light is at the phone: see `photographer.flashlight`."""
    scene, _, _ = _indoors(rng, "flash", log_uniform(rng, 0.03, 0.15))
    return scene
