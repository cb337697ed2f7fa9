"""The damage net: from the flat disc to a probability map for each class of damage and dirt."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from discscan.records import FlatDisc
from discscan.weights import Net

FloatImage = NDArray[np.float32]
_STEP = 32  # the net halves its picture five times


@dataclass(frozen=True)
class DamageMaps:
    """Calibrated probabilities 0..1, each float32 (side, side), the disc's centre at side / 2.

    Attributes:
        px_per_mm: of the maps, half of the flat disc's.
        line: of a scratch or a ring arc.
        crack: of a crack.
        layer: of a separated layer or a lost reflector.
        smudge: of grease.
        dust: of dust, hairs and lint.
        label: of print scratched or flaked off a label side.
        hidden: of a finger, another disc or a tray's tooth over the disc.
    """

    px_per_mm: float
    line: FloatImage
    crack: FloatImage
    layer: FloatImage
    smudge: FloatImage
    dust: FloatImage
    label: FloatImage
    hidden: FloatImage


def damage_maps(flat: FlatDisc, net: Net) -> DamageMaps:
    """Run the net "damage" on a flat disc."""
    side = flat.bgr.shape[0]
    inner = side // _STEP * _STEP  # what is cut off lies beyond the rim
    cut = (side - inner) // 2
    piece = flat.bgr[cut : cut + inner, cut : cut + inner]
    image = np.empty((1, 3, inner, inner), np.float32)
    np.multiply(piece.transpose(2, 0, 1), np.float32(1 / 255), out=image[0], casting="unsafe")
    said = net(image=image, place=_place(inner, flat.px_per_mm, flat.diameter_mm))[0]
    names = net.manifest["preprocessing"]["channels"]
    maps = np.zeros((len(names), side // 2, side // 2), np.float32)
    cells = slice(cut // 2, cut // 2 + inner // 2)
    maps[:, cells, cells] = said
    return DamageMaps(flat.px_per_mm / 2, **dict(zip(names, maps, strict=True)))


@lru_cache(maxsize=2)
def _place(side: int, px_per_mm: float, diameter_mm: int) -> FloatImage:
    """Where each cell of the net's second level lies: radius and distance from the rim in 60 mm, the way outward."""
    along = ((np.arange(side // 4, dtype=np.float32) + 0.5) * 4 - side / 2) / px_per_mm
    x, y = np.meshgrid(along, along)
    radius = np.maximum(np.hypot(x, y), 1.0)
    return np.stack([radius / 60, (diameter_mm / 2 - radius) / 60, x / radius, y / radius])[None].astype(np.float32)
