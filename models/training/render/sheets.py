"""Printed and strewn table tops."""

from __future__ import annotations

import functools

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.render.writing import FONTS, WORDS, ByteImage, muted, scenery, text_width, write


def _lay(image: ByteImage, piece: ByteImage, spot: NDArray[np.float64], turn_deg: float, shadow_px: float) -> None:
    """Lays a picture on another, turned about its middle, with a soft shadow."""
    height, width = piece.shape[:2]
    half = int(np.hypot(height, width) / 2 + 5 * shadow_px + 4)
    left, top = (int(max(0, v - half)) for v in spot)
    image = image[top : int(spot[1]) + half, left : int(spot[0]) + half]
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), turn_deg, 1.0)
    matrix[:, 2] += spot - np.array([left, top]) - np.array([width, height]) / 2
    size = (image.shape[1], image.shape[0])
    cover = cv2.warpAffine(np.full((height, width), 255, np.uint8), matrix, size, flags=cv2.INTER_LINEAR)
    if shadow_px:
        low = cv2.GaussianBlur(np.roll(cover, (int(shadow_px), int(shadow_px)), (0, 1)), (0, 0), shadow_px)
        image[:] = cv2.multiply(image, cv2.merge([255 - (low * 0.6).astype(np.uint8)] * 3), scale=1 / 255)
    laid = cv2.warpAffine(piece, matrix, size, flags=cv2.INTER_LINEAR)
    image[cover > 127] = laid[cover > 127]


def _page(rng: np.random.Generator, height: int, width: int) -> ByteImage:
    """A printed page, a book or box cover: ground, a picture, a heading, lines of text."""
    ground = rng.uniform(205, 250) * (1 - rng.uniform(0, 0.1, 3)) if rng.random() < 0.5 else muted(rng)
    page = np.empty((height, width, 3), np.uint8)
    page[:] = ground.astype(np.uint8)
    ink = tuple(int(v) for v in (muted(rng) * 0.3 if ground.mean() > 110 else 255 - muted(rng) * 0.2))
    for _ in range(int(rng.integers(0, 3))):
        h, w = int(height * rng.uniform(0.15, 0.6)), int(width * rng.uniform(0.2, 0.9))
        top, left = int(rng.uniform(0, height - h)), int(rng.uniform(0, width - w))
        page[top : top + h, left : left + w] = scenery(rng, h, w)
    write(
        page,
        " ".join(rng.choice(WORDS, 2)),
        int(width * 0.08),
        int(height * rng.uniform(0.12, 0.9)),
        int(rng.uniform(18, 70)),
        ink,
        FONTS[rng.integers(4)],
        2,
    )
    for _ in range(int(rng.integers(0, 4))):
        tall, left, first = int(rng.uniform(8, 13)), int(width * rng.uniform(0.04, 0.5)), height * rng.uniform(0.1, 0.8)
        for line in range(int(rng.integers(3, 18))):
            write(
                page,
                " ".join(rng.choice(WORDS, int(rng.integers(3, 6)))),
                left,
                int(first + 1.8 * tall * line),
                tall,
                ink,
                FONTS[0],
            )
    return page


@functools.lru_cache(maxsize=4)
def text_sheet(seed: int) -> ByteImage:
    """A page or newspaper set full with lines of text, in columns: RGB, 1400 pixels square."""
    rng = np.random.default_rng(seed)
    size = 1400
    bright = rng.random() < 0.85
    page = np.full((size, size, 3), rng.uniform(195, 252) if bright else rng.uniform(5, 60), np.uint8)
    page[:] = (page * (1 - rng.uniform(0, 0.08, 3))).astype(np.uint8)
    ink = tuple(int(v) for v in (rng.uniform(0, 90, 3) if bright else rng.uniform(160, 250, 3)))
    columns, tall = int(rng.choice([1, 1, 2, 3, 4])), int(rng.uniform(7, 26))
    font, bold = FONTS[rng.integers(4)], float(rng.uniform(0.6, 2.2))
    wide, step = size // columns, tall * rng.uniform(1.4, 2.4)
    letters = "aaabcdeeeefghiiiklmnnooprrssttuuvwyz"
    for column in range(columns):
        fits = int(0.94 * wide / max(text_width("n" * 50, tall, font) / 50, 1))
        for line in range(int(size / step)):
            if rng.random() < 0.04:
                continue
            words, room = [], fits if rng.random() > 0.12 else int(fits * rng.uniform(0.2, 0.9))
            while room > 0:
                words.append("".join(rng.choice(list(letters), int(rng.integers(1, 11)))))
                room -= len(words[-1]) + 1
            write(page, " ".join(words[:-1]), column * wide + 8, int((line + 1) * step), tall, ink, font, bold)
    return page


@functools.lru_cache(maxsize=4)
def printed_sheet(seed: int, *, busy: bool) -> ByteImage:
    """A table covered with print, or (busy) strewn with papers, boxes, pens and lids: RGB, 1800 pixels square."""
    rng = np.random.default_rng(seed)
    size = 1800
    image = _page(rng, size, size) if not busy else np.empty((size, size, 3), np.uint8)
    if busy:
        image[:] = scenery(rng, size, size) // 4 + (0.75 * muted(rng)).astype(np.uint8)
    for _ in range(int(rng.integers(6, 18)) if busy else int(rng.integers(1, 5))):
        piece = _page(rng, int(rng.uniform(200, 800)), int(rng.uniform(200, 700)))
        _lay(
            image,
            piece,
            rng.uniform(0, size, 2),
            float(rng.uniform(0, 360) if busy else rng.normal(0, 3)),
            rng.uniform(3, 14) if busy else 0,
        )
    for _ in range(int(rng.integers(0, 10)) if busy else 0):
        piece = np.empty((int(rng.uniform(16, 30)), int(rng.uniform(250, 480)), 3), np.uint8)
        piece[:] = (muted(rng) * np.sin(np.linspace(0.3, 2.8, len(piece)))[:, None, None]).astype(np.uint8)
        piece[:, -50:] = piece[:, -50:] // 3
        _lay(image, piece, rng.uniform(0, size, 2), float(rng.uniform(0, 360)), 5)
    return np.asarray(cv2.GaussianBlur(image, (0, 0), 0.7), np.uint8)
