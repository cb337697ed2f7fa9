"""The damage net on a flat disc: for each fifth of a millimetre, how likely each kind of damage or dirt is there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.grids import FloatImage
from discscan.records import Face, FlatDisc, Side
from discscan.weights import Net

SIDE_UP: dict[Side, float] = {"label": 0.0, "unknown": 0.5, "data": 1.0}
"""What the net is told of the side that is up."""
_STEP = 32  # the net halves its picture five times


@dataclass(frozen=True)
class DamageMaps:
    """Calibrated probabilities 0..1, each float32 (side, side), the disc's centre at side / 2.

    Attributes:
        px_per_mm: of the maps, half of the flat disc's.
        line: of a scratch or a ring arc, told apart by their shape later.
        crack: of a break through the plastic.
        layer: of parted layers or lost reflector.
        smudge: of grease.
        dust: of dust, hairs and lint.
        label: of damaged print, on a label side.
        covered: bool, where a finger, another disc or a tray's tooth lies over the disc.
    """

    px_per_mm: float
    line: FloatImage
    crack: FloatImage
    layer: FloatImage
    smudge: FloatImage
    dust: FloatImage
    label: FloatImage
    covered: NDArray[np.bool_]


def damage_maps(flat: FlatDisc, face: Face, net: Net) -> DamageMaps:
    """Run the net "damage" on a flat disc of which the side that is up is known, or not."""
    side = flat.bgr.shape[0]
    inner = round(flat.diameter_mm * flat.px_per_mm) // _STEP * _STEP  # the last millimetre at the rim is left out
    cut = (side - inner) // 2
    piece = flat.bgr[cut : cut + inner, cut : cut + inner]
    image = np.empty((1, 3, inner, inner), np.float32)
    for colour, level in zip(cv2.split(piece), image[0], strict=True):  # a plane by itself is read straight on
        np.multiply(colour, np.float32(1 / 255), out=level)
    said = net(image=image, place=_place(inner, flat.px_per_mm, flat.diameter_mm, face.side))[0]
    names = net.manifest["preprocessing"]["channels"]
    cells = slice(cut // 2, cut // 2 + inner // 2)

    def whole(name: str) -> FloatImage:
        level = np.zeros((side // 2, side // 2), np.float32)
        level[cells, cells] = said[names.index(name)]
        return level

    covered = (whole("hidden") > setting("damage", "level.hidden")).astype(np.uint8)
    least = round(setting("damage", "least_cover_mm") * flat.px_per_mm / 2) | 1
    covered = np.asarray(cv2.morphologyEx(covered, cv2.MORPH_OPEN, np.ones((least, least), np.uint8)), np.uint8)
    seen = {name: whole(name) for name in ("line", "crack", "layer", "smudge", "dust", "label")}
    return DamageMaps(flat.px_per_mm / 2, covered=covered > 0, **seen)


@lru_cache(maxsize=4)
def _place(side: int, px_per_mm: float, diameter_mm: int, up: Side) -> FloatImage:
    """Where each cell of the net's second level lies: radius and distance from the rim in 60 mm, the way outward; and
    the side that is up."""
    along = ((np.arange(side // 4, dtype=np.float32) + 0.5) * 4 - side / 2) / px_per_mm
    x, y = np.meshgrid(along, along)
    radius = np.maximum(np.hypot(x, y), 1.0)
    known = np.full_like(radius, SIDE_UP[up])
    return np.stack([radius / 60, (diameter_mm / 2 - radius) / 60, x / radius, y / radius, known])[None]
