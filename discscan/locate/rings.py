"""The rings net: where, all around, the edge of a circle lies in its unrolled band, and where it is not seen.

A rim has several edges within two millimetres (border of the metal, bevel, shadow on the ground), and so has a hole.
Which of them is the edge of the disc is a matter of looks, so a net tells them apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discscan.locate.conics import apply
from discscan.locate.unroll import unrolled
from discscan.records import ByteImage, FloatArray
from discscan.weights import Net

ANGLES, SAMPLES = 192, 64
"""Of the unrolled band."""
DIRECTIONS, CELLS = 96, 32
"""Of the net's answer: for each direction one score a cell, and one for "not seen"."""
FINER = 2


@dataclass(frozen=True)
class Ring:
    """The edge of one circle.

    Attributes:
        radius: float64 (DIRECTIONS,), in the plane in which it was looked for.
        points: float64 (DIRECTIONS, 2), in the picture's pixels.
        seen: float64 (DIRECTIONS,), 0..1.
    """

    radius: FloatArray
    points: FloatArray
    seen: FloatArray


def band_radii(radius: float, reach: float) -> FloatArray:
    """Radii of an unrolled band's columns, from radius (1 - reach) to radius (1 + reach)."""
    return np.asarray(radius * (1.0 + reach * ((np.arange(SAMPLES) + 0.5) / (SAMPLES / 2) - 1.0)))


def band(image: ByteImage, px_to_plane: FloatArray, *, radius: float, reach: float) -> ByteImage:
    """The unrolled band about a circle, uint8 (ANGLES, SAMPLES, 3)."""
    return unrolled(image, px_to_plane, band_radii(radius, reach), angles=ANGLES, finer=FINER)


def find_rings(
    image: ByteImage, px_to_plane: FloatArray, *, radii: tuple[float, float], reaches: tuple[float, float], net: Net
) -> tuple[Ring, Ring]:
    """Rim and hole near where a pose expects them.

    Args:
        image: uint8 (h, w, 3).
        px_to_plane: float64 (3, 3).
        radii: of rim and hole in the plane.
        reaches: how far to look, as a share of each radius.
    """
    bands = [band(image, px_to_plane, radius=r, reach=s) for r, s in zip(radii, reaches, strict=True)]
    said = net(image=_input(bands))
    inverse = np.linalg.inv(px_to_plane)
    rim, hole = (
        _ring(np.asarray(scores, np.float64), np.asarray(inverse, np.float64), radius=r, reach=s)
        for scores, r, s in zip(said, radii, reaches, strict=True)
    )
    return rim, hole


def _input(bands: list[ByteImage]) -> NDArray[np.float32]:
    """float32 (2, 4, ANGLES, SAMPLES): three colours 0..1, and which circle it is: 0 rim, 1 hole."""
    image = np.empty((2, 4, ANGLES, SAMPLES), np.float32)
    np.divide(np.stack(bands).transpose(0, 3, 1, 2), np.float32(255.0), out=image[:, :3])
    image[:, 3] = np.arange(2)[:, None, None]
    return image


def _ring(scores: FloatArray, plane_to_px: FloatArray, *, radius: float, reach: float) -> Ring:
    """From scores (DIRECTIONS, CELLS + 1) to the edge's place: the mean cell about the likeliest one."""
    share = np.exp(scores - scores.max(axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    cells = share[:, :CELLS]
    top = cells.argmax(axis=1)
    near = np.abs(np.arange(CELLS)[None] - top[:, None]) <= 2
    weight = np.where(near, cells, 0.0) + 1e-12
    cell = (weight * np.arange(CELLS)).sum(axis=1) / weight.sum(axis=1)
    found = radius * (1.0 + reach * ((cell + 0.5) / (CELLS / 2) - 1.0))
    turn = direction_angles()
    points = apply(plane_to_px, np.stack([found * np.cos(turn), found * np.sin(turn)], axis=1))
    return Ring(found, points, np.where(near, cells, 0.0).sum(axis=1))


def direction_angles() -> FloatArray:
    """Angle of each direction, radians: the middle of the two rows of the band that it stands for."""
    return np.asarray((np.arange(DIRECTIONS) * 2 + 0.5) * (2 * np.pi / ANGLES))
