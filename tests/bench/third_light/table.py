"""What the disc lies on: wood, cloth, paper, print, or plain stuff, as reflectances."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import Array
from bench.other_light.view import View, through

from .view import TABLE_MM, at_height, corners, noise, px_per_mm

MOST_PX = 2200
WOODS = ((0.62, 0.42, 0.24), (0.75, 0.6, 0.42), (0.35, 0.2, 0.1), (0.2, 0.13, 0.09), (0.8, 0.72, 0.6))


@dataclass(frozen=True)
class _Sheet:
    """A picture of the table: height and width in pixels, pixels per mm, and mm of each pixel."""

    rng: Rng
    height: int
    width: int
    px_mm: float
    x: Array
    y: Array

    def noise(self, cell_mm: float, octaves: int, long_mm: float | None = None) -> Array:
        """Smooth noise of cells this high, and so wide or as long along x."""
        cell = cell_mm * self.px_mm, (long_mm or cell_mm) * self.px_mm
        return noise(self.rng, (self.height, self.width), cell, octaves)


def random_table(rng: Rng, view: View, rim_mm: float) -> tuple[str, Array]:
    """Its kind, and reflectances (height, width, 3) over the photograph."""
    homography = at_height(view, TABLE_MM)
    seen = through(np.linalg.inv(homography), corners(view.width_px, view.height_px))
    low, high = seen.min(0) - 5, seen.max(0) + 5
    px_mm = min(px_per_mm(view, rim_mm), MOST_PX / (high - low).max())
    width, height = np.ceil((high - low) * px_mm).astype(int)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32) / np.float32(px_mm)
    kind = str(rng.choice(["wood", "cloth", "paper", "print", "plain"], p=[0.3, 0.25, 0.12, 0.15, 0.18]))
    draw = {"wood": _wood, "cloth": _cloth, "paper": _paper, "print": _print, "plain": _plain}[kind]
    paint = draw(rng, _Sheet(rng, int(height), int(width), px_mm, x, y)).clip(0.005, 1).astype(np.float32)
    place = homography @ np.array([[1 / px_mm, 0, low[0]], [0, 1 / px_mm, low[1]], [0, 0, 1]])
    size = view.width_px, view.height_px
    seen = cv2.warpPerspective(paint, place, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return kind, seen


def _wood(rng: Rng, sheet: _Sheet) -> Array:
    warp = sheet.noise(25, 2, 180) * 6 + sheet.noise(4, 1, 60) * 0.8
    ring = np.sin((sheet.y + warp * rng.uniform(0.5, 2)) * (2 * np.pi / rng.uniform(4, 14)))
    shade = 1 + rng.uniform(0.05, 0.2) * ring * np.abs(ring)
    shade += 0.06 * sheet.noise(0.5, 1, 14) + 0.07 * sheet.noise(1.6, 2, 50)
    if rng.random() < 0.5:  # boards, with gaps between
        wide, off = rng.uniform(60, 140), sheet.y + 500
        shade *= rng.uniform(0.85, 1.15, 200)[(off / wide).astype(int) % 200]
        shade *= 1 - 0.7 * np.exp(-((off % wide - 1) ** 2) / 0.5)
    colour = np.array(WOODS[rng.integers(len(WOODS))]) * rng.uniform(0.8, 1.1, 3)
    paint = colour * shade.clip(0.15, 1.6)[..., None] ** np.array([0.9, 1.05, 1.2])
    if rng.random() < 0.5:
        paint = np.swapaxes(cv2.resize(paint, (sheet.height, sheet.width)), 0, 1)
    return np.asarray(paint)


def _cloth(rng: Rng, sheet: _Sheet) -> Array:
    """Woven, now and then striped or checked."""
    pitch, jitter = max(rng.uniform(0.5, 2.2), 3 / sheet.px_mm), sheet.noise(12, 2) * 0.25
    weave = np.sin(2 * np.pi * (sheet.x + jitter) / pitch) * np.sin(2 * np.pi * (sheet.y + jitter) / pitch)
    threads = rng.standard_normal((1, sheet.width)) + rng.standard_normal((sheet.height, 1))
    shade = 1 + rng.uniform(0.1, 0.3) * weave + 0.08 * threads + 0.12 * sheet.noise(60, 2)
    shade = (shade + 0.1 * rng.standard_normal(shade.shape)).clip(0.1, 2)[..., None]
    colour = rng.uniform(0.03, 0.8, 3) * 0.6 + rng.uniform(0, 0.3)
    if rng.random() < 0.45:
        wide, share = rng.uniform(8, 50), rng.uniform(0.2, 0.6)
        striped = 0.5 * (sheet.x % wide < share * wide)
        if rng.random() < 0.6:
            striped = striped + 0.5 * (sheet.y % wide < share * wide)
        other = rng.uniform(0.06, 0.8) * rng.uniform(0.55, 1.15, 3)
        colour = colour + striped[..., None] * (other - colour)
    return np.asarray(colour * shade)


def _paper(rng: Rng, sheet: _Sheet) -> Array:
    """White or brown, blank, lined or squared; where it ends, the desk."""
    white = np.array([0.82, 0.82, 0.8]) * rng.uniform(0.75, 1.05) * rng.uniform(0.93, 1.03, 3)
    colour = white if rng.random() < 0.7 else np.array([0.6, 0.45, 0.3]) * rng.uniform(0.7, 1.1)
    paint = colour * (1 + 0.015 * sheet.noise(2, 2) + 0.02 * sheet.noise(80, 2))[..., None]
    if rng.random() < 0.4:
        gap = rng.uniform(5, 9)
        ways = (sheet.y, sheet.x) if rng.random() < 0.5 else (sheet.y,)
        ruled = np.max([0.5 * np.exp(-((way % gap - gap / 2) ** 2) / 0.02) for way in ways], axis=0)
        paint *= 1 - ruled[..., None] * np.array([0.8, 0.5, 0.3])
    if rng.random() < 0.6:
        turn = rng.uniform(0, 2 * np.pi)
        off = np.cos(turn) * (sheet.x - sheet.x.mean()) + np.sin(turn) * (sheet.y - sheet.y.mean())
        beyond = np.clip((off - rng.uniform(50, 110)) * 4 + 0.5, 0, 1)[..., None]
        desk = rng.uniform(0.05, 0.5, 3) * (1 + 0.05 * sheet.noise(3, 2, 20))[..., None]
        paint = paint * (1 - beyond) + beyond * desk
    return np.asarray(paint)


def _words(rng: Rng, count: int) -> str:
    starts, ends = list("bdfklmnprstvw"), list("aeiou")
    words = (range(rng.integers(1, 5)) for _ in range(count))
    return " ".join("".join(f"{rng.choice(starts)}{rng.choice(ends)}" for _ in word) for word in words)


def _print(rng: Rng, sheet: _Sheet) -> Array:
    """Columns of words that mean nothing, with headings and pictures."""
    paint = np.ones((sheet.height, sheet.width, 3), np.float32)
    paint *= (np.array([0.78, 0.77, 0.72]) * rng.uniform(0.85, 1.1)).astype(np.float32)
    ink = np.zeros((sheet.height, sheet.width), np.uint8)
    small, column, scale = rng.uniform(1.6, 3.4), rng.uniform(45, 90), sheet.px_mm
    for x in np.arange(0, sheet.width / scale, column + 5):
        y = rng.uniform(0, 10)
        while y < sheet.height / scale:
            if rng.random() < 0.025:
                high = rng.uniform(20, 60)
                part = paint[int((y + 2) * scale) : int((y + high) * scale), int(x * scale) : int((x + column) * scale)]
                if part.size:
                    blots = noise(rng, part.shape[:2], 15 * scale)
                    part[:] = rng.uniform(0.1, 0.7) * rng.uniform(0.55, 1.2, 3)
                    part *= np.clip(1 + 0.35 * blots, 0.2, 1.8)[..., None]
                y += high + 4
                continue
            heading = rng.random() < 0.04
            size, font = (3 * small, cv2.FONT_HERSHEY_TRIPLEX) if heading else (small, cv2.FONT_HERSHEY_SIMPLEX)
            text = _words(rng, int(column / size / 3))[: int(column / size / 0.72)]
            thick, at = max(1, round(0.16 * size * scale)), (int(x * scale), int((y + size) * scale))
            cv2.putText(ink, text, at, font, size * scale / 22, (255,), thick, cv2.LINE_AA)
            y += size * 1.7
    share = ink[..., None] / np.float32(255)
    paint += share * (rng.uniform(0.03, 0.15, 3).astype(np.float32) - paint)
    return np.asarray(paint * (1 + 0.02 * sheet.noise(1.5, 2))[..., None])


def _plain(rng: Rng, sheet: _Sheet) -> Array:
    """Rough, speckled, or smooth."""
    paint = np.ones((sheet.height, sheet.width, 1)) * rng.uniform(0.02, 0.75) * rng.uniform(0.7, 1.2, 3)
    style = rng.random()
    if style < 0.4:
        paint *= (1 + 0.18 * sheet.noise(1.2, 2))[..., None]
    elif style < 0.6:
        speckled = np.clip(sheet.noise(3, 3) * 2 - 2, 0, 1)[..., None]
        paint = paint * (1 - speckled) + speckled * rng.uniform(0.05, 0.8) * rng.uniform(0.85, 1.1, 3)
    else:
        paint *= (1 + 0.02 * sheet.noise(0.8, 1))[..., None]
    return np.asarray(paint * (1 + 0.04 * sheet.noise(90, 2))[..., None])
