"""Thin things on pixels: samples along a path, each laid on the four pixels about it, so that what is covered is
length times width however thin the thing is (an area-keeping splat, textbook)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.optics import Array

STEP_PX = 0.45


@dataclass(frozen=True)
class Samples:
    """Places along paths, for all paths of a picture together."""

    at_mm: Array
    """(n, 2)"""
    across: Array
    """(n, 2), unit vectors to the side."""
    width_mm: Array
    """(n,)"""
    step_mm: Array
    """(n,), how much of the path each stands for."""
    owner: Array
    """(n,), int, which path it is of."""


def sampled(paths: list[Array], widths_mm: list[Array], px_per_mm: float) -> Samples:
    """Along each path (k, 2) evenly, with its widths (k',) at even places."""
    parts = []
    for number, (path, wide) in enumerate(zip(paths, widths_mm, strict=True)):
        run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
        count = max(3, int(run[-1] * px_per_mm / STEP_PX))
        at = (np.arange(count) + 0.5) / count * run[-1]
        share = np.interp(at, run, np.linspace(0, 1, len(path)))
        here = np.stack([np.interp(at, run, path[:, axis]) for axis in (0, 1)], 1)
        way = np.gradient(here, axis=0)
        way /= np.linalg.norm(way, axis=1, keepdims=True).clip(1e-9)
        across = np.stack([-way[:, 1], way[:, 0]], 1)
        width = np.interp(share, np.linspace(0, 1, len(wide)), wide)
        parts.append((here, across, width, np.full(count, run[-1] / count), np.full(count, number)))
    return Samples(*(np.concatenate(part) for part in zip(*parts, strict=True)))


def strands(samples: Samples, px_per_mm: float) -> tuple[Array, Array, Array]:
    """Wide things as several strands: places (m, 2), the area of each in mm^2 (m,), and of which sample (m,)."""
    counts = np.maximum(1, np.ceil(samples.width_mm * px_per_mm / 0.7)).astype(int)
    sample = np.repeat(np.arange(len(counts)), counts)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    off = ((np.arange(len(sample)) - first + 0.5) / counts[sample] - 0.5) * samples.width_mm[sample]
    area = samples.width_mm[sample] * samples.step_mm[sample] / counts[sample]
    return samples.at_mm[sample] + off[:, None] * samples.across[sample], area, sample


def splat(at_px: Array, weights: Array, size: tuple[int, int]) -> tuple[Array, Array]:
    """Sums of weights (n, k) at places (n, 2), column and row, on a picture (height, width).

    Returns:
        The pixels that get any, counted row by row, (m,), and the sums there, (m, k).
    """
    height, width = size
    low = np.floor(at_px).astype(np.int32)
    part = at_px - low
    corners = [(right, down) for right in (0, 1) for down in (0, 1)]
    column = np.concatenate([low[:, 0] + right for right, _ in corners])
    row = np.concatenate([low[:, 1] + down for _, down in corners])
    share = np.concatenate([np.abs(1 - r - part[:, 0]) * np.abs(1 - d - part[:, 1]) for r, d in corners])
    inside = np.flatnonzero((column >= 0) & (column < width) & (row >= 0) & (row < height))
    pixel, share = row[inside] * width + column[inside], share[inside]
    place = np.zeros(height * width, np.int32)
    place[pixel] = 1
    touched = np.flatnonzero(place)
    place[touched] = np.arange(len(touched))
    giver, taker = inside % len(at_px), place[pixel]
    sums = [np.bincount(taker, share * channel[giver], len(touched)) for channel in weights.T]
    return touched, np.stack(sums, 1).astype(np.float32)
