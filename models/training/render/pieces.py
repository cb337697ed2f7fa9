"""A disc in pieces: breaks from hole to rim, gaps between the pieces, and each piece lying a little askew."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.render.areas import PX_PER_MM, side_px, to_grid
from models.training.render.geometry import HOLE_MM, FloatArray
from models.training.render.marks import Mark, cracked, fracture
from models.training.render.ranges import Ranges

LEAST_PX = 400
"""Area of a piece; what is smaller, between two lines, is no piece of its own."""


def shattered(rng: np.random.Generator, ranges: Ranges, outer_mm: float) -> list[Mark]:
    """Breaks right through, some joined across, with splinters beside them."""
    count = max(ranges.count(rng, "pieces.count"), 2)
    spread = rng.uniform(0.15, 1.0)  # from all on one side to all round
    turns = (
        rng.uniform(0, 2 * np.pi) + 2 * np.pi * spread * (np.arange(count) + rng.uniform(-0.35, 0.35, count)) / count
    )
    breaks = []
    for turn in turns:
        start = (HOLE_MM + 0.02) * np.array([np.cos(turn), np.sin(turn)])
        line = fracture(rng, start, turn + rng.normal(0, 0.12), 1.5 * outer_mm, outer_mm - 0.02)
        if len(line) > 20:
            breaks.append(line)
    lines = list(breaks)
    for line, following in zip(breaks, breaks[1:] + breaks[:1], strict=True):
        if ranges.whether(rng, "pieces.joined"):
            start = line[int(rng.uniform(0.3, 0.9) * len(line))]
            end = following[int(rng.uniform(0.3, 0.9) * len(following))]
            if 2 < np.hypot(*(end - start)) < outer_mm:
                lines.append(_between(rng, start, end))
    marks = [cracked(rng, ranges, line, gap_mm=ranges.draw(rng, "pieces.gap_mm")) for line in lines]
    for line in lines:
        for _ in range(ranges.count(rng, "pieces.splinters")):
            at = int(rng.uniform(0.1, 0.95) * (len(line) - 2))
            along = line[at + 1] - line[at]
            lean = rng.choice([-1, 1]) * rng.uniform(0.15, 0.9)
            splinter = fracture(rng, line[at], np.arctan2(along[1], along[0]) + lean, rng.uniform(1.5, 12), outer_mm)
            if len(splinter) >= 4:
                marks.append(cracked(rng, ranges, splinter))
    return marks


def _between(rng: np.random.Generator, start: FloatArray, end: FloatArray) -> FloatArray:
    """A kinked line from one place to another."""
    share = np.linspace(0, 1, max(int(np.hypot(*(end - start)) / 0.4), 4))
    wander = np.cumsum(rng.normal(0, 0.12, len(share)))
    wander -= wander[0] + (wander[-1] - wander[0]) * share
    across = np.array([start[1] - end[1], end[0] - start[0]]) / np.hypot(*(end - start))
    return np.asarray(start + share[:, None] * (end - start) + wander[:, None] * across)


def leans(marks: tuple[Mark, ...], diameter_mm: int, *, lean_rad: float, seed: int) -> NDArray[np.float32] | None:
    """How each piece lies: the slope of its face along x and y, on the grid of `areas`; None of a whole disc.

    Args:
        lean_rad: sd of the slopes.

    Returns:
        float32 (2, side, side), radians.
    """
    lines = [to_grid(mark.outline_mm, diameter_mm) for mark in marks if mark.kind == "crack"]
    if not lines:
        return None
    size = side_px(diameter_mm)
    middle, radius_px = (size // 2, size // 2), PX_PER_MM * diameter_mm // 2
    face = np.zeros((size, size), np.uint8)
    cv2.circle(face, middle, radius_px, (1,), -1)
    cv2.circle(face, middle, round(HOLE_MM * PX_PER_MM), (0,), -1)
    cv2.polylines(face, lines, False, (0,), 3, cv2.LINE_8, 4)
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(face, connectivity=4)
    large = [n for n in range(1, count) if stats[n, cv2.CC_STAT_AREA] >= LEAST_PX]
    if len(large) < 2:
        return None
    own = np.random.default_rng([seed, 9])
    slope = np.zeros((count, 2), np.float32)
    slope[large] = lean_rad * own.normal(0, 1, (len(large), 2))
    # what the lines cover belongs to the nearest piece
    of_piece = np.isin(pieces, large)
    beside = np.where(of_piece, 0, 1).astype(np.uint8)
    _, nearest = cv2.distanceTransformWithLabels(beside, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    number = np.zeros(nearest.max() + 1, np.int32)
    number[nearest[of_piece]] = pieces[of_piece]
    return np.ascontiguousarray(slope[number[nearest]].transpose(2, 0, 1))
