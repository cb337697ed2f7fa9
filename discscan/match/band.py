"""What a disc is known by: its lines in the polar band from hub to rim, with all that goes round it taken out.

Rings are the same at every angle and rainbows and reflections change slowly with it, so neither tells one turn from
another; what is left are scratches, mould text, bar codes and the edges of stains.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.grids import SCALE, FloatImage
from discscan.match.ridges import ridges_of
from discscan.records import ByteImage, FlatDisc, FloatArray, Sight

ANGLES = 1440
SECTORS = 12
STEP_MM = 0.2
INNER_MM, OUTER_MM = 14.0, 59.4
RINGS_MM = (14.0, 20.0, 24.0, 32.0, 40.0, 48.0, 54.0, 59.4)
"""Borders of the rings that are looked at one by one: hub, mirror band, then the data area."""

Spectrum = NDArray[np.complex64]

_RADII = np.arange(INNER_MM, OUTER_MM, STEP_MM)
RINGS = tuple(
    slice(int(np.searchsorted(_RADII, low)), int(np.searchsorted(_RADII, high))) for low, high in pairwise(RINGS_MM)
)


@dataclass(frozen=True)
class Band:
    """The polar band of one disc, rows by radius and columns by angle from +x towards +y.

    Attributes:
        diameter_mm: 120 or 80.
        lines: float32 (radii, ANGLES), how surely a line passes, less its ring's mean, over what was seen; 0 elsewhere.
        seen: bool of the same shape.
        map: float32 (side, side), the same before, from straight above, the disc's centre at side / 2.
        px_per_mm: of `map`.
    """

    diameter_mm: int
    lines: FloatImage
    seen: NDArray[np.bool_]
    map: FloatImage
    px_per_mm: float

    @cached_property
    def spectrum(self) -> Spectrum:
        """Fourier transform of each row, (radii, ANGLES / 2 + 1)."""
        return np.asarray(np.fft.rfft(self.lines, axis=1), np.complex64)

    @cached_property
    def sector_spectra(self) -> tuple[Spectrum, ...]:
        """The same of each of the SECTORS alone, all else 0."""
        found = []
        for sector in np.split(np.arange(ANGLES), SECTORS):
            alone = np.zeros_like(self.lines)
            alone[:, sector] = self.lines[:, sector]
            found.append(np.asarray(np.fft.rfft(alone, axis=1), np.complex64))
        return tuple(found)

    @cached_property
    def block_energy(self) -> FloatArray:
        """Sum of squares of each block, (SECTORS, rings)."""
        square = (self.lines**2).reshape(len(self.lines), SECTORS, -1).sum(axis=2)
        return np.stack([square[ring].sum(axis=0) for ring in RINGS], axis=1).astype(np.float64)

    @cached_property
    def strongest_mm(self) -> FloatArray:
        """Where the lines stand out most, (n, 2) in mm, n at most 1500."""
        most = int(setting("match", "points"))
        flat = np.argsort(self.lines, axis=None)[-most:]
        row, column = np.unravel_index(flat[self.lines.ravel()[flat] > 0], self.lines.shape)
        angle = 2 * np.pi * column / ANGLES
        return np.asarray(_RADII[row][:, None] * np.stack([np.cos(angle), np.sin(angle)], -1), np.float64)


def band_of(flat: FlatDisc) -> Band:
    """The band of a flat disc."""
    px_per_mm = flat.px_per_mm * SCALE
    soft = np.asarray(cv2.GaussianBlur(ridges_of(flat), (0, 0), setting("match", "blur_mm") * px_per_mm), np.float32)
    seen = _unrolled((flat.sight == Sight.SEEN).astype(np.uint8), flat.px_per_mm, cv2.INTER_NEAREST) > 0
    rows = _unrolled(soft, px_per_mm, cv2.INTER_LINEAR) * seen
    rows = (rows - rows.sum(axis=1, keepdims=True) / np.maximum(seen.sum(axis=1, keepdims=True), 1)) * seen
    rows *= np.sqrt(_RADII)[:, None]  # cells farther out stand for more of the disc
    return Band(flat.diameter_mm, rows.astype(np.float32), seen, soft, px_per_mm)


def _unrolled(image: FloatImage | ByteImage, px_per_mm: float, how: int) -> FloatImage:
    angle = 2 * np.pi * np.arange(ANGLES) / ANGLES
    at = [(_RADII[:, None] * turn[None] * px_per_mm + image.shape[0] / 2).astype(np.float32) for turn in
          (np.cos(angle), np.sin(angle))]  # fmt: skip
    return np.asarray(cv2.remap(image, at[0], at[1], how), np.float32)
