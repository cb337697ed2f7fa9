"""What the disc lies on: a square picture of reflectances about the origin, as light as painted things are."""

from __future__ import annotations

import cv2
import numpy as np

from .chance import Rng, cloud, colour, log_uniform
from .optics import Array, rgb

KINDS = ("plain", "white", "black", "wood", "wood", "cloth", "cloth", "clutter", "clutter")
WORDS = (
    "HARBOUR",
    "quay street",
    "lesson four",
    "the long tide",
    "A Year of Rain",
    "PUZZLE",
    "night ferry",
    "side two",
)


def random_table(rng: Rng, half_mm: float, px_mm: float) -> tuple[str, Array, float]:
    """Its kind; reflectances (side, side, 3); the share that it mirrors dully."""
    kind = str(rng.choice(KINDS))
    side = min(3200, int(2 * half_mm / px_mm))
    mm = side / (2 * half_mm)
    paint = np.ones((side, side, 3), np.float32) * colour(rng, 0.05, 0.7, 0.3)
    if kind == "white":
        paint[:] = rng.uniform(0.75, 0.9)
    elif kind == "black":
        paint[:] = rng.uniform(0.01, 0.04)
    elif kind == "wood":
        paint = _wood(rng, side, mm)
    elif kind == "cloth":
        paint *= _weave(rng, side, mm)[..., None]
    elif kind == "clutter":
        paint = _clutter(rng, side, mm)
    grain = (
        1 + 0.03 * cloud(rng, side, side, max(1.0, 30 * mm), 3) + 0.02 * cloud(rng, side, side, max(1.0, 0.8 * mm), 2)
    )
    gloss = float(rng.choice([0, 0.04])) if kind in ("plain", "black", "wood") else 0.0
    return kind, (paint * grain[..., None]).clip(0.005, 0.95).astype(np.float32), gloss


def _wood(rng: Rng, side: int, mm: float) -> Array:
    fibres = cv2.resize(cloud(rng, max(8, side // 30), side, max(1.0, 1.2 * mm), 4), (side, side))
    slow = cv2.resize(cloud(rng, max(8, side // 24), side, 12 * mm), (side, side), interpolation=cv2.INTER_CUBIC)
    rings = np.sin((np.arange(side)[None] / mm / 6 + 1.6 * slow) * 2 * np.pi)
    paint = rgb(0.45, 0.27, 0.13) * rng.uniform(0.35, 1.4) * (1 + 0.16 * fibres + 0.15 * rings)[..., None]
    if rng.random() < 0.6:
        board = int(rng.uniform(60, 140) * mm)
        for left in range(int(rng.integers(0, board)), side, board):
            paint[:, left : left + board] *= rng.uniform(0.75, 1.2)
            paint[:, left : left + 2] *= 0.3
    return np.rot90(paint) if rng.random() < 0.5 else paint


def _weave(rng: Rng, side: int, mm: float) -> Array:
    """Threads, and stripes now and then."""
    pitch = max(rng.uniform(0.5, 2.2) * mm, 2.6)
    axis = np.arange(side, dtype=np.float32) * 2 * np.pi / pitch
    x, y = (way + 12 / pitch * cloud(rng, side, side, 8 * mm, 2) for way in (axis[None], axis[:, None]))
    weave = 1 + 0.11 * np.sin(x) * np.sin(y) + 0.07 * np.sin(x + y)
    if rng.random() < 0.3:
        stripes = np.sin(np.arange(side)[None] / mm / rng.uniform(2, 8)) > rng.uniform(-0.5, 0.6)
        weave = weave * np.where(stripes, rng.uniform(0.3, 1.6), 1)
    return np.asarray(weave)


def _clutter(rng: Rng, side: int, mm: float) -> Array:
    """Cards, coins, strings, words."""
    paint = np.full((side, side, 3), 255 * colour(rng, 0.05, 0.7, 0.3), np.uint8)
    for _ in range(rng.integers(25, 80)):
        x, y = (int(v) for v in rng.uniform(0, side, 2))
        tint, which = (255 * colour(rng, 0.03, 0.6, 0.6)).tolist(), rng.random()
        thick = int(rng.uniform(0.5, 5) * mm) + 1
        if which < 0.4:
            size = rng.uniform(8, 130) * mm, rng.uniform(5, 90) * mm
            card = np.round(cv2.boxPoints(((x, y), size, rng.uniform(0, 180)))).astype(np.int32)
            cv2.fillPoly(paint, [card + int(1.5 * mm)], (paint[y, x] // 2).tolist())
            cv2.fillPoly(paint, [card], tint, cv2.LINE_AA)
        elif which < 0.6:
            cv2.circle(paint, (x, y), int(rng.uniform(3, 50) * mm), tint, int(rng.choice([-1, thick])), cv2.LINE_AA)
        elif which < 0.85:
            way = np.cumsum(rng.normal(0, 4 * mm, (40, 2)), 0) + np.array([x, y])
            cv2.polylines(paint, [np.round(way).astype(np.int32)], False, tint, thick, cv2.LINE_AA)
        else:
            scale, word = log_uniform(rng, 0.1, 0.5) * mm, str(rng.choice(WORDS))
            cv2.putText(paint, word, (x, y), cv2.FONT_HERSHEY_DUPLEX, scale, tint, thick // 2 + 1, cv2.LINE_AA)
    return paint / np.float32(255)
