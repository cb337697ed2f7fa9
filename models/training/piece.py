"""A piece of a flat disc that is painted on, and how all paint is laid. In cells of the flat grid (0.1 mm)."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

FloatImage = NDArray[np.float32]
FloatArray = NDArray[np.float64]


@dataclass
class Piece:
    """A piece being painted.

    Attributes:
        image: float32 (s, s, 3), 0..255.
        masks: by kind, uint8 (s, s).
        corner: x, y of its first cell's corner from the disc's centre, in cells.
        rim: radius of the disc in cells.
        blur: standard deviation of the photograph's blur, in cells.
    """

    image: FloatImage
    masks: dict[str, NDArray[np.uint8]]
    corner: FloatArray
    rim: float
    blur: float

    @property
    def side(self) -> int:
        return self.image.shape[0]


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def somewhere(piece: Piece, rng: np.random.Generator) -> FloatArray:
    """A place in the piece, from the disc's centre."""
    return piece.corner + rng.uniform(0, piece.side, 2)


def _window(cover: FloatImage, margin: int = 0) -> tuple[slice, slice]:
    """Rows and columns that hold something, with a margin: most marks are small. Empty slices if none does."""
    return _span(np.asarray(cover.any(1)), margin), _span(np.asarray(cover.any(0)), margin)


def _span(holds: NDArray[np.bool_], margin: int) -> slice:
    where = np.flatnonzero(holds)
    return slice(max(int(where[0]) - margin, 0), int(where[-1]) + margin + 1) if len(where) else slice(0)


def softened(cover: FloatImage, blur: float) -> FloatImage:
    """The cover blurred by a Gaussian, `blur` its standard deviation in cells."""
    soft, at = np.zeros_like(cover), _window(cover, int(np.ceil(4 * blur)) + 1)
    if at[0].stop:
        soft[at] = cv2.GaussianBlur(cover[at], (0, 0), blur)
    return soft


def blend(piece: Piece, cover: FloatImage, change: FloatArray) -> None:
    """Adds grey levels by colour where a mark covers a cell."""
    at = _window(cover)
    part = piece.image[at]
    part += cover[at][..., None] * change.astype(np.float32)
    np.clip(part, 0, 255, out=part)


def lay(piece: Piece, cover: FloatImage, colours: FloatArray | FloatImage) -> None:
    """Puts colours, (3,) or (s, s, 1 or 3), in place of what is there, where a mark covers it."""
    piece.image += (cover[..., None] * (colours - piece.image)).astype(np.float32)
    np.clip(piece.image, 0, 255, out=piece.image)


def some_change(piece: Piece, rng: np.random.Generator, low: float, high: float) -> FloatArray:
    """Grey levels by colour, brighter or darker, mostly without colour of its own."""
    size = log_uniform(rng, low, high) * (1 if rng.random() < 0.6 else -1)
    tint = 1 + rng.normal(0, 0.45 if rng.random() < 0.2 else 0.08, 3)
    return np.asarray(size * tint)


def noise(rng: np.random.Generator, side: int, scale: float) -> FloatImage:
    """Smooth noise of unit spread whose bumps are about `scale` cells wide."""
    small = max(int(side / scale) + 3, 4)
    field = cv2.resize(rng.normal(0, 1, (small, small)).astype(np.float32), (side, side), interpolation=cv2.INTER_CUBIC)
    return np.asarray(field / max(float(field.std()), 1e-6), np.float32)


def places(piece: Piece) -> tuple[FloatImage, FloatImage]:
    """x, y of every cell's middle from the disc's centre, in cells."""
    along = np.arange(piece.side, dtype=np.float32) + 0.5
    x, y = np.meshgrid(piece.corner[0] + along, piece.corner[1] + along)
    return x.astype(np.float32), y.astype(np.float32)


def turned(piece: Piece, middle: FloatArray, lean: float) -> tuple[FloatImage, FloatImage]:
    """How far every cell lies from a place along a direction, and across it."""
    x, y = places(piece)
    c, s = np.float32(np.cos(lean)), np.float32(np.sin(lean))
    x, y = x - np.float32(middle[0]), y - np.float32(middle[1])
    return x * c + y * s, y * c - x * s


def blob(piece: Piece, rng: np.random.Generator, centre: FloatArray, size: float, rough: float) -> NDArray[np.uint8]:
    """1 within an outline of about this size, which waves the more the rougher it is."""
    turn = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    radius = np.ones(64)
    for wave in range(2, 8):
        radius += rough * rng.normal() / wave * np.cos(wave * turn + rng.uniform(0, 2 * np.pi))
    stretch, lean = rng.uniform(1, 1.7), rng.uniform(0, np.pi)
    shape = size * np.clip(radius, 0.3, None)[:, None] * np.stack([np.cos(turn) * stretch, np.sin(turn) / stretch], 1)
    c, s = np.cos(lean), np.sin(lean)
    points = centre + shape @ np.array([[c, s], [-s, c]]) - piece.corner
    mask = np.zeros((piece.side, piece.side), np.uint8)
    cv2.fillPoly(mask, [np.round(points * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    return mask
