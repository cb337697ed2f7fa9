"""What is moulded and printed about the hole: rings, the stacking ring, codes in letters and in bars."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng
from bench.other_light.optics import Array

from .disc import Disc
from .room import Room
from .view import Window, circle, px_per_mm

LOW_MM, HIGH_MM, ROWS, COLUMNS = 7.0, 23.5, 900, 4096
ROWS_MM = ROWS / (HIGH_MM - LOW_MM)
COLUMNS_MM = COLUMNS / (2 * np.pi * 20)
"""At 20 mm from the axis."""


def _row(radius_mm: float) -> int:
    return int((radius_mm - LOW_MM) * ROWS_MM)


def _rings(rng: Rng, disc: Disc, room: Room) -> Array:
    """Light (ROWS, COLUMNS) that moulded rings add: one flank to the light, the other from it."""
    off = np.linspace(0, 2 * np.pi, COLUMNS, endpoint=False) - np.arctan2(room.lean[1], room.lean[0])
    radius, added = np.arange(ROWS) / ROWS_MM + LOW_MM, np.zeros((ROWS, COLUMNS), np.float32)

    def ring(radius_mm: float, half_mm: float, power: float, narrow: float) -> None:
        across = (radius - radius_mm) / half_mm
        flanks = np.outer(across * np.exp(-(across**2)), np.cos(off))
        crest = np.outer(np.exp(-2 * across**2), np.clip(np.cos(off), 0, 1) ** narrow)
        added[:] += power * (flanks + crest)

    ring(disc.stack_mm, *rng.uniform([0.25, 0.3, 6], [0.5, 1.2, 40]))
    for _ in range(rng.integers(1, 5)):
        ring(*rng.uniform([8, 0.05, 0.05, 3], [22, 0.2, 0.35, 30]))
    ring(HOLE_MM + 0.1, 0.12, *rng.uniform([0.3, 2], [1.2, 20]))
    return added


def _codes(rng: Rng, disc: Disc) -> Array:
    """Shares (ROWS, COLUMNS) of the light that letters and bars let through."""
    strip = np.zeros((ROWS, COLUMNS), np.uint8)
    low = disc.metal_mm[0] + 0.4
    tops = [top for top in (low, low + 1.6) if top + 1.2 < disc.recorded_mm[0]] or [low - 2.5]
    tall = int(100 * ROWS_MM / COLUMNS_MM)
    for top in tops[: rng.integers(1, 3)]:
        text, size = "".join(rng.choice(list("BDFHKLNPRTVXZ0123456789-  "), rng.integers(8, 22))), rng.uniform(0.7, 1.3)
        band, at = np.zeros((100, COLUMNS), np.uint8), int(rng.uniform(0, COLUMNS / 2))
        thick, scale = max(1, int(0.14 * COLUMNS_MM * size)), size * COLUMNS_MM / 22
        cv2.putText(band, text, (at, 70), cv2.FONT_HERSHEY_SIMPLEX, scale, (255,), thick, cv2.LINE_AA)
        seen = cv2.resize(band[::-1] if rng.random() < 0.7 else band, (COLUMNS, tall), interpolation=cv2.INTER_AREA)
        row = min(max(_row(top) - tall // 5, 0), ROWS - tall)
        strip[row : row + tall] = np.maximum(strip[row : row + tall], seen)
    if rng.random() < 0.4 and disc.recording == "pressed":
        bars = np.repeat(rng.random(int(rng.integers(40, 90))) < 0.55, int(0.28 * COLUMNS_MM))
        at = int(rng.uniform(0, COLUMNS - len(bars)))
        strip[_row(tops[0]) : _row(tops[0] + 0.9), at : at + len(bars)][:, bars] = 255
    return 1 - strip / np.float32(255) * np.float32(rng.uniform(0.25, 0.6))


def paint_hub(rng: Rng, picture: Array, window: Window, disc: Disc, room: Room, radius_mm: Array) -> None:
    """Onto the window's radiance, in place; `radius_mm` (height, width) of the data side at each pixel."""
    height_mm = -disc.clear_mm / 3
    hub = window.px(circle(HIGH_MM + 0.5, 64), height_mm)
    left, top = np.maximum(np.floor(hub.min(0)).astype(int), 0)
    right, bottom = np.minimum(np.ceil(hub.max(0)).astype(int), window.size)
    px_mm = px_per_mm(window.view, disc.rim_mm)
    wide, tall = max(COLUMNS_MM / px_mm / 2, 0.5), max(ROWS_MM / px_mm / 2, 0.3)
    kept = cv2.GaussianBlur(_codes(rng, disc), (0, 0), sigmaX=wide, sigmaY=tall)
    added = cv2.GaussianBlur(_rings(rng, disc, room), (0, 0), sigmaX=0.5, sigmaY=tall)
    turned = rng.uniform(0, 2 * np.pi)
    if right <= left or bottom <= top:
        return
    part = np.s_[top:bottom, left:right]
    x, y = (axis[part] for axis in window.mm(height_mm))
    radius, turn = np.hypot(x, y), np.arctan2(y, x)

    def at_pixels(polar: Array, turn: Array) -> Array:
        columns = (turn % (2 * np.pi) / (2 * np.pi) * COLUMNS).astype(np.float32)
        rows = (radius - LOW_MM) * np.float32(ROWS_MM)
        return cv2.remap(polar, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[..., None]

    on_hub = ((radius_mm[part] > HOLE_MM) & (radius < HIGH_MM - 0.1))[..., None]
    marked = picture[part] * at_pixels(kept, turn + turned) + at_pixels(added, turn) * room.mean * 0.7
    picture[part] = np.maximum(np.where(on_hub, marked, picture[part]), 0.002)
