"""How much of each pixel a line covers: its width there against the pixel's, exact in area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Stroke:
    """The pixels of one line, each once."""

    rows: Array
    columns: Array
    cover: Array
    """(k,) shares of the pixels, 0 to 1."""
    point: Array
    """(k,) which point of the path is next."""
    side: Array
    """(k,) how far to the left of the path the covered part lies: -1 at one border, 1 at the other."""


def overlap(off_px: Array, width_px: Array, way: Array) -> Array:
    """Area that a straight band has in common with a pixel whose middle lies `off_px` from the band's.

    Across the band the pixel is a trapezoid: `half` from its middle to its end, even for the inner `flat` of that.
    Arrays (n,); `way`: unit vectors (n, 2) along the band.
    """
    wide, high = np.abs(way).max(1), np.abs(way).min(1)
    half, flat = (wide + high) / 2, (wide - high) / 2

    def up_to(off: Array) -> Array:
        far = np.abs(off)
        ramp = far.clip(flat, half) - flat
        area = (far.clip(0, flat) + ramp - ramp**2 / 2 / np.maximum(high, 1e-9)) / wide
        return np.asarray(np.sign(off) * area)

    return up_to(off_px + width_px / 2) - up_to(off_px - width_px / 2)


def stroke(path_px: Array, width_px: Array, shape: tuple[int, int]) -> Stroke:
    """`path_px` (n, 2) in steps of at most a pixel, its middle; `width_px` (n,); `shape`: rows, columns."""
    way = np.gradient(path_px, axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True).clip(1e-9)
    reach = int(np.ceil(float(width_px.max()) / 2 + 1.3))
    near = np.arange(-reach, reach + 1)
    middle = np.round(path_px).astype(int)
    columns = (middle[:, 0, None, None] + near[None, None, :] + 0 * near[None, :, None]).ravel()
    rows = (middle[:, 1, None, None] + near[None, :, None] + 0 * near[None, None, :]).ravel()
    point = np.repeat(np.arange(len(path_px)), len(near) ** 2)
    off = np.stack([columns, rows], 1) - path_px[point]
    along = (off * way[point]).sum(1)
    aside = off[:, 1] * way[point, 0] - off[:, 0] * way[point, 1]
    ends = np.where((point == 0) | (point == len(path_px) - 1), 0.5, 0.8)
    inside = (columns >= 0) & (rows >= 0) & (columns < shape[1]) & (rows < shape[0]) & (np.abs(along) <= ends)
    inside &= np.abs(aside) < width_px[point] / 2 + 0.71
    columns, rows, point, aside, along = (values[inside] for values in (columns, rows, point, aside, along))
    order = np.lexsort((np.abs(along), rows * shape[1] + columns))
    _, first = np.unique((rows * shape[1] + columns)[order], return_index=True)
    keep = order[first]
    width = width_px[point[keep]]
    side = (aside[keep] / np.maximum(width / 2, 0.5)).clip(-1, 1)
    return Stroke(
        rows[keep], columns[keep], overlap(aside[keep], width, way[point[keep]]).clip(0, 1), point[keep], side
    )
