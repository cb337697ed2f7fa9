"""What is around a disc: a room at home, a hall of a shop, a yard, a dark evening; each a function of direction."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array

from .around import Around, Paint
from .lamps import COOL, NEUTRAL, WARM, disc_lamp, hue, panel, upright, window_pane
from .optics import unit


def _walls(rng: Rng, shade: Array, above: Array) -> Paint:
    """A ceiling over walls with pictures, shelves and doors; not a box but a closed curve of walls."""
    amount, phase = rng.uniform(0.1, 0.5), rng.uniform(0, 6.3)
    reach = rng.uniform(0.45, 1.5)
    things = [
        (rng.uniform(0, 6.3), rng.uniform(0.1, 0.5), rng.uniform(0, 0.5), rng.uniform(0.2, 0.6), rng.uniform(0.05, 1.3))
        for _ in range(int(rng.integers(2, 9)))
    ]
    tints = [hue(rng, 0.4) for _ in things]

    def paint(ways: Array) -> Array:
        turn = np.arctan2(ways[..., 1], ways[..., 0])
        up = ways[..., 2] / np.hypot(ways[..., 0], ways[..., 1]).clip(1e-3)
        edge = reach * (1 + amount * np.abs(np.sin(turn + phase)))
        light = np.where((up > edge)[..., None], above, shade * (0.75 + 0.4 * (up / edge).clip(0, 1))[..., None])
        for (middle, half, low, high, dark), tint in zip(things, tints, strict=True):
            off = (turn - middle + np.pi) % (2 * np.pi) - np.pi
            there = (np.abs(off) < half) & (up > low * edge) & (up < min(low + high, 0.95) * edge)
            light = np.where(there[..., None], shade * dark * tint, light)
        return np.asarray(light)

    return paint


def _home(rng: Rng, day: float) -> Paint:
    wall = log_uniform(rng, 0.12, 0.8) * hue(rng, 0.25 if rng.random() < 0.5 else 0.05)
    base = _walls(rng, wall * (0.08 + day), rng.uniform(0.55, 1.0) * hue(rng, 0.04) * (0.1 + day))
    at = rng.uniform(0, 2 * np.pi)
    count = int(rng.choice([1, 1, 2, 3])) if day > 0.3 else 0
    windows = [
        window_pane(rng, at + number * np.pi / 2, day * log_uniform(rng, 4, 25) * COOL * hue(rng, 0.06))
        for number in range(count)
    ]
    lamps = _home_lamps(rng, int(rng.integers(1, 4))) if day < 0.5 or rng.random() < 0.4 else []

    def paint(ways: Array) -> Array:
        light = base(ways)
        for pane in windows:
            light = pane(ways, light)
        return np.asarray(light + sum(lamp(ways) for lamp in lamps))

    return paint


def _home_lamps(rng: Rng, count: int) -> list[Paint]:
    lamps = []
    for _ in range(count):
        aside, turn = rng.uniform(0, 1.1), rng.uniform(0, 2 * np.pi)
        way = unit(np.array([aside * np.cos(turn), aside * np.sin(turn), 1.0]))
        tint = (WARM, NEUTRAL, COOL)[int(rng.integers(3))]
        if rng.random() < 0.6:
            radius = log_uniform(rng, 0.8, 3.5)
            lamps.append(disc_lamp(rng, way, radius, tint * log_uniform(rng, 250, 1200) / radius**2))
        elif rng.random() < 0.5:  # a shade
            lamps.append(disc_lamp(rng, way, rng.uniform(4, 9), tint * log_uniform(rng, 8, 30)))
        else:
            place = np.append(way[:2] / way[2], 1.0)
            lamps.append(panel(place, rng.normal(0, 1, 2), rng.uniform(0.2, 0.35), 0.012, tint * rng.uniform(60, 160)))
    return lamps


def _hall(rng: Rng) -> Paint:
    """A shop: rows of tubes or panels under a high ceiling."""
    base = _walls(rng, rng.uniform(0.2, 0.6) * hue(rng, 0.2), rng.uniform(0.25, 0.8) * hue(rng, 0.05))
    along = np.array([np.cos(turn := rng.uniform(0, np.pi)), np.sin(turn)])
    across, wide = np.array([-along[1], along[0]]), rng.random() < 0.5
    half_long, half_wide, light = (0.14, 0.14, 14.0) if wide else (rng.uniform(0.2, 0.5), 0.016, 90.0)
    start, gap = rng.uniform(-0.5, 0.5, 2), rng.uniform(0.6, 1.3, 2)
    tint = light * (COOL if rng.random() < 0.6 else NEUTRAL) * hue(rng, 0.05)
    rows = [
        panel(np.append(along * (start[0] + i) * gap[0] + across * (start[1] + j) * gap[1], 1.0), along, *sizes, tint)
        for i in range(-2, 3)
        for j in range(-2, 3)
        for sizes in [(half_long, half_wide)]
        if rng.random() < 0.9
    ]

    def paint(ways: Array) -> Array:
        return np.asarray(base(ways) + sum(lamp(ways) for lamp in rows))

    return paint


def _yard(rng: Rng) -> Paint:
    """Sky with clouds or haze, trees and a gable about it; the sun, or shade."""
    blue = np.array([0.5, 0.72, 1.05]) * rng.uniform(1, 2.2)
    clouded, turn, sunny = rng.uniform(0, 1), rng.uniform(0, 2 * np.pi), rng.random() < 0.45
    noise = cv2.resize(rng.standard_normal((24, 24)).astype(np.float32), (512, 512), interpolation=cv2.INTER_CUBIC)
    noise = noise + 0.5 * cv2.resize(rng.standard_normal((90, 90)).astype(np.float32), (512, 512))
    trees, gable = rng.uniform(0.1, 0.9), rng.uniform(0.3, 1.4)
    steep = rng.uniform(0.35, 1.2)
    sun = disc_lamp(rng, unit(np.array([np.cos(turn), np.sin(turn), steep])), 0.6, rng.uniform(1e4, 2.5e4) * NEUTRAL)
    leaf, wall, at = 0.12 * np.array([0.6, 1, 0.35]), rng.uniform(0.15, 0.9) * hue(rng, 0.2), rng.uniform(0, 6.3)

    def paint(ways: Array) -> Array:
        column, row = (((ways[..., axis] + 1) * 255).astype(int).clip(0, 511) for axis in (0, 1))
        cloud = 1 / (1 + np.exp(-(4 * noise[row, column] + 8 * clouded - 5)))[..., None]
        up = ways[..., 2:]
        sky = (blue * (1 - cloud) + cloud * (1.5 + noise[row, column][..., None] * 0.3)) * (1 + 0.6 * (1 - up))
        azimuth = np.arctan2(ways[..., 1], ways[..., 0])
        tops = trees * (0.5 + 0.25 * np.sin(3 * azimuth + at)) + 0.09 * noise[(azimuth * 80).astype(int) % 512, 3]
        light = np.where(up < tops[..., None], leaf * (1 + 0.8 * noise[row, column][..., None]).clip(0.1), sky)
        aside, high = upright(at, ways)
        house = (np.abs(aside) < 1) & (high < gable * (1.3 - np.abs(aside)))
        light = np.where(house[..., None], wall, light)
        return np.asarray(light + sun(ways) if sunny else light)

    return paint


def random_around(rng: Rng, from_above: Array) -> tuple[str, Around]:
    """A kind of place and all that shines there; `from_above` (3,): where the camera is, whose bearer takes light."""
    kind = str(rng.choice(["home", "evening", "hall", "yard"], p=[0.36, 0.2, 0.24, 0.2]))
    if kind == "yard":
        paint = _yard(rng)
    elif kind == "hall":
        paint = _hall(rng)
    else:
        paint = _home(rng, rng.uniform(0.5, 1.2) if kind == "home" else rng.uniform(0.0, 0.25))
    turn = np.eye(3)
    if rng.random() < 0.15:  # the disc leans on something
        about = np.array([np.cos(angle := rng.uniform(0, 6.3)), np.sin(angle), 0])
        turn, _ = cv2.Rodrigues(about * np.deg2rad(rng.uniform(10, 45)))
    return kind, Around(paint, turn, unit(from_above * np.array([1, 1, 0.7])))
