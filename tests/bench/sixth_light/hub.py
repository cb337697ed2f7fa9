"""What is written and moulded about the hub, as a picture unrolled: a row for each radius, a column for each turn."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng
from bench.other_light.optics import Array

from .makes import Disc
from .panorama import sampled

ROWS_PER_MM = 14
TO_MM = 25.0
COLUMNS = 3072
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


@dataclass(frozen=True)
class Hub:
    ink: Array
    """Cover of codes and bars that are burned into the mirror."""
    slope: Array
    """(rows, columns, 2): of moulded letters, outwards and along the turn."""

    def at(self, radius_mm: Array, turn: Array) -> tuple[Array, Array]:
        column = turn / (2 * np.pi) % 1 * COLUMNS
        row = (radius_mm - HOLE_MM) * ROWS_PER_MM
        inside = radius_mm < TO_MM - 0.2
        return sampled(self.ink, column, row) * inside, sampled(self.slope, column, row) * inside[..., None]


def _text(rng: Rng, picture: Array, middle_mm: float, high_mm: float, count: int, start: int) -> int:
    """Writes letters at random; returns the column where they end."""
    letters = "".join(rng.choice(list(LETTERS + "  -"), count))
    scale = high_mm * ROWS_PER_MM / 22
    wider = COLUMNS / (2 * np.pi * middle_mm * ROWS_PER_MM)  # columns lie denser than rows
    (wide, high), _ = cv2.getTextSize(letters, cv2.FONT_HERSHEY_SIMPLEX, scale, 1)
    page: Array = np.zeros((high + 8, wide + 8), np.uint8)
    cv2.putText(page, letters, (4, high + 3), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, 1, cv2.LINE_AA)
    page = np.asarray(
        cv2.resize(page, (max(1, round(wide * wider)), len(page)), interpolation=cv2.INTER_AREA), np.uint8
    )
    if rng.random() < 0.4:
        page = page[:, ::-1]
    if rng.random() < 0.3:
        page = page[::-1]
    first = int((middle_mm - HOLE_MM) * ROWS_PER_MM) - len(page) // 2
    columns = (start + np.arange(page.shape[1])) % COLUMNS
    picture[first : first + len(page), columns] = np.maximum(picture[first : first + len(page), columns], page / 255)
    return start + int(page.shape[1])


def _bars(rng: Rng, picture: Array, low_mm: float, high_mm: float, start: int, end: int) -> None:
    edges = start + np.cumsum(rng.integers(4, 22, max(2, (end - start) // 13)))
    rows = slice(int((low_mm - HOLE_MM) * ROWS_PER_MM), int((high_mm - HOLE_MM) * ROWS_PER_MM))
    for left, right in zip(edges[::2], edges[1::2], strict=False):
        picture[rows, np.arange(left, right) % COLUMNS] = 1


def hub_of(disc: Disc) -> Hub:
    rng = np.random.default_rng(disc.codes)
    rows = int((TO_MM - HOLE_MM) * ROWS_PER_MM)
    ink, relief = np.zeros((rows, COLUMNS), np.float32), np.zeros((rows, COLUMNS), np.float32)
    metal, start = disc.metal_mm[0], int(rng.integers(COLUMNS))
    band = disc.tracks_mm - metal
    if band > 1.2:
        middle, high = metal + 0.55 * band, min(1.3, 0.5 * band)
        end = _text(rng, ink, middle, high, int(rng.integers(8, 20)), start)
        if rng.random() < 0.7:
            _bars(rng, ink, middle - high / 2, middle + high / 2, end + 60, end + int(rng.integers(300, 800)))
    elif rng.random() < 0.5:
        _text(rng, ink, 20.5, 0.9, int(rng.integers(8, 16)), start)
    if disc.format != "cd" and rng.random() < 0.35:  # the bar code ring (ECMA-267, annex H; BD-ROM, 15)
        low = 22.3 if disc.format == "dvd" else 21.0
        _bars(rng, ink, low, low + 1.1, start, start + int(rng.integers(500, 2600)))
    if rng.random() < 0.7:
        end = _text(rng, relief, rng.uniform(10, 14), rng.uniform(0.9, 1.8), int(rng.integers(4, 14)), start + 900)
        if rng.random() < 0.4:
            _text(rng, relief, rng.uniform(10, 14), 1.2, 5, end + 700)
    smooth = cv2.GaussianBlur(relief, (0, 0), 1.2)
    slope = np.stack([cv2.Sobel(smooth, cv2.CV_32F, 0, 1), cv2.Sobel(smooth, cv2.CV_32F, 1, 0)], -1)
    return Hub(cv2.GaussianBlur(ink, (0, 0), 0.7), 0.25 * slope)
