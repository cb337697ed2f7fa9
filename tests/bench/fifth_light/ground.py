"""What the disc lies on, as albedos (n, n, 3) of a square: wood, cloth, cardboard, grass, concrete, paper."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from bench.other_light.chance import Rng, cloud, log_uniform, ramp
from bench.other_light.optics import Array

from .paint import shade


def _stretched(rng: Rng, side: int, cell: float, times: float, octaves: int = 4) -> Array:
    """Noise whose cells are `times` as long as wide, along the columns."""
    return np.asarray(cv2.resize(cloud(rng, side, max(8, int(side / times)), cell, octaves), (side, side)))


def wood(rng: Rng, side: int, texel_mm: float) -> Array:
    """Boards with grain, of one tree's colours."""
    colour = shade(rng, log_uniform(rng, 0.35, 1.7), 0.06) * np.array([0.42, 0.27, 0.15], np.float32)
    grain = _stretched(rng, side, 1.6 / texel_mm + 1, 26, 5) + 0.5 * _stretched(rng, side, 9 / texel_mm, 12)
    rows = np.arange(side, dtype=np.float32)[:, None] * texel_mm
    rings = np.sin(rows / rng.uniform(1.5, 7) + 2.5 * _stretched(rng, side, 60 / texel_mm, 7, 2))
    value = 0.16 * grain + rng.uniform(0.03, 0.14) * rings
    board = rng.uniform(50, 220)
    number = (rows // board).astype(int)
    value = value + 0.14 * rng.standard_normal(64).astype(np.float32)[number % 64]
    seam = ramp(0.9, 0.2, np.abs(rows % board - board / 2) * -1 + board / 2) * float(rng.choice([0, 0.5, 0.9]))
    picture = colour * np.exp(value)[..., None] * (1 - seam[..., None])
    return picture if rng.random() < 0.5 else np.swapaxes(picture, 0, 1)


def cloth(rng: Rng, side: int, texel_mm: float) -> Array:
    """Woven threads, folds, now and then stripes."""
    colour = shade(rng, log_uniform(rng, 0.04, 0.6), 0.5)
    x, y = np.meshgrid(*[np.arange(side, dtype=np.float32) * np.float32(texel_mm)] * 2)
    pitch = max(log_uniform(rng, 0.4, 1.6), 2.2 * texel_mm)
    bend = 0.8 * cloud(rng, side, side, 60 / texel_mm, 2)
    weave = np.sin(2 * np.pi * (x + bend) / pitch) * np.sin(2 * np.pi * (y + bend) / pitch)
    folds = cloud(rng, side, side, rng.uniform(40, 160) / texel_mm, 3)
    value = rng.uniform(0.05, 0.25) * weave + rng.uniform(0.03, 0.25) * folds + 0.08 * cloud(rng, side, side, 2, 1)
    picture = colour * np.exp(value)[..., None]
    if rng.random() < 0.35:
        other, step = shade(rng, log_uniform(rng, 0.05, 0.6), 0.5), rng.uniform(12, 60)
        stripes = ((x + bend) % step < step * rng.uniform(0.1, 0.5)).astype(float)
        if rng.random() < 0.4:
            stripes = np.maximum(stripes, (y + bend) % step < step * 0.3)
        picture = picture + 0.8 * stripes[..., None] * (other * np.exp(value)[..., None] - picture)
    return np.asarray(picture)


def cardboard(rng: Rng, side: int, texel_mm: float) -> Array:
    """With the flutes showing, and flecks."""
    colour = np.array([0.42, 0.31, 0.20], np.float32) * rng.uniform(0.7, 1.3)
    rows = np.arange(side, dtype=np.float32)[:, None] * texel_mm
    flutes = 0.04 * np.sin(2 * np.pi * rows / max(rng.uniform(3, 8), 3 * texel_mm))
    value = flutes + 0.05 * cloud(rng, side, side, 3, 2) + 0.06 * cloud(rng, side, side, 80 / texel_mm, 3)
    flecks = cloud(rng, side, side, 2.5, 1) > 2.4
    return np.asarray(colour * np.exp(value)[..., None] * (1 - 0.4 * flecks[..., None]))


def grass(rng: Rng, side: int, texel_mm: float) -> Array:
    """Blades: many short strokes, lighter ones on top."""
    base = np.array([0.06, 0.10, 0.025]) * rng.uniform(0.5, 1.3)
    picture = np.zeros((side, side, 3), np.float32) + base.astype(np.float32) * 0.5
    count = 7000
    at = rng.integers(0, side, (count, 2))
    turn, long = rng.normal(0, 0.8, count), rng.uniform(12, 60, count) / texel_mm
    bend = turn + rng.normal(0, 0.35, count)
    middle = at + np.stack([np.sin(turn), -np.cos(turn)], 1) * long[:, None] / 2
    end = middle + np.stack([np.sin(bend), -np.cos(bend)], 1) * long[:, None] / 2
    tints = (
        base * (0.35 + 1.8 * np.linspace(0, 1, count)[:, None] ** 1.5) * np.exp(0.3 * rng.standard_normal((count, 1)))
    )
    tints[rng.random(count) < 0.08] *= np.array([2.6, 1.5, 2.4])  # dry ones
    wide = np.maximum(1, np.round(rng.uniform(0.6, 2.4, count) / texel_mm)).astype(int)
    blades = np.round(np.stack([at, middle, end], 1)).astype(np.int32)
    for blade, tint, thick in zip(blades, tints, wide, strict=True):
        cv2.polylines(picture, [blade], False, tint.tolist(), int(thick))
        if thick > 2:  # each is lit on one side
            cv2.polylines(picture, [blade + np.array([1, 0], np.int32)], False, (1.35 * tint).tolist(), int(thick) // 3)
    return np.asarray(picture * np.exp(0.15 * cloud(rng, side, side, 50 / texel_mm, 3))[..., None])


def concrete(rng: Rng, side: int, texel_mm: float) -> Array:
    """Concrete, asphalt, or stone with grains."""
    colour = shade(rng, log_uniform(rng, 0.08, 0.5), 0.06)
    value = 0.12 * cloud(rng, side, side, 60 / texel_mm, 5) + 0.2 * cloud(rng, side, side, 2 / texel_mm + 1.5, 2)
    pores = ramp(1.6, 2.2, cloud(rng, side, side, rng.uniform(2, 6) / texel_mm + 1, 2))
    return np.asarray(colour * np.exp(value * rng.uniform(0.4, 1.3))[..., None] * (1 - 0.5 * pores[..., None]))


def paper(rng: Rng, side: int, texel_mm: float) -> Array:
    """White or coloured, blank, ruled, or with lines of print."""
    colour = shade(rng, rng.uniform(0.5, 0.82), 0.06) if rng.random() < 0.7 else shade(rng, rng.uniform(0.1, 0.5), 0.5)
    picture = colour * np.exp(0.02 * cloud(rng, side, side, 40 / texel_mm, 4))[..., None]
    if rng.random() < 0.3:
        printed(rng, picture, texel_mm)
    return np.asarray(picture)


def printed(rng: Rng, picture: Array, texel_mm: float) -> None:
    """Rows of words such as print leaves at a glance, on a picture (h, w, 3): paragraphs, some pages with margins."""
    height, width = picture.shape[:2]
    pitch, ink, letter = rng.uniform(3.5, 8) / texel_mm, rng.uniform(0.3, 0.75), rng.uniform(0.8, 1.4) / texel_mm
    margin = int(rng.uniform(0, 0.25) * width)
    for row in np.arange(pitch, height - pitch, pitch):
        if rng.random() < 0.12:
            continue
        end = width - margin if rng.random() < 0.85 else int(rng.uniform(margin, width))
        at = float(margin)
        while at < end:
            long = letter * rng.integers(2, 11)
            ends = slice(int(at), int(min(at + long, end)))
            grey = ink + (1 - ink) * 0.6 * rng.random((max(1, int(pitch * 0.22)), ends.stop - ends.start))
            picture[int(row) : int(row) + len(grey), ends] *= grey[..., None]
            at += long + 1.2 * letter


def tiles(rng: Rng, side: int, texel_mm: float) -> Array:
    """Square ones, with joints."""
    colour, gap = shade(rng, log_uniform(rng, 0.15, 0.75), 0.1), rng.uniform(1.5, 4)
    size = rng.uniform(60, 320)
    x, y = np.meshgrid(*[np.arange(side, dtype=np.float32) * np.float32(texel_mm)] * 2)
    joint = np.minimum(np.abs(x % size - size / 2) * -1 + size / 2, np.abs(y % size - size / 2) * -1 + size / 2) < gap
    value = 0.06 * cloud(rng, side, side, 70 / texel_mm, 5)
    return np.asarray(np.where(joint[..., None], shade(rng, 0.3, 0.05), colour * np.exp(value)[..., None]))


def smooth(rng: Rng, side: int, texel_mm: float) -> Array:
    """A desk's laminate, plastic, leather."""
    colour = shade(rng, log_uniform(rng, 0.02, 0.75), 0.15)
    value = 0.03 * cloud(rng, side, side, 90 / texel_mm, 3) + rng.uniform(0, 0.08) * cloud(rng, side, side, 1.6, 2)
    return np.asarray(colour * np.exp(value)[..., None])


MATERIALS: dict[str, tuple[Callable[[Rng, int, float], Array], float, float]] = {
    # how often it is met, and how much of Fresnel's share it mirrors at most
    "wood": (wood, 0.24, 0.9),
    "cloth": (cloth, 0.2, 0.0),
    "smooth": (smooth, 0.18, 1.0),
    "paper": (paper, 0.12, 0.1),
    "cardboard": (cardboard, 0.08, 0.0),
    "concrete": (concrete, 0.08, 0.0),
    "tiles": (tiles, 0.06, 1.0),
    "grass": (grass, 0.04, 0.0),
}


def material(rng: Rng, open_air: bool) -> str:
    """One at random; grass and stone rather out of doors."""
    shares = np.array([share for _, share, _ in MATERIALS.values()])
    outside = np.array([name in ("grass", "concrete") for name in MATERIALS])
    shares = shares * np.where(outside, 4.0 if open_air else 0.25, 1.0)
    return str(rng.choice(list(MATERIALS), p=shares / shares.sum()))
