"""Lines painted on pieces of flat discs: how they go, how plainly they show along their way, what is asked of them."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.piece import FloatArray, FloatImage, Piece, blend, softened

FAINT_LEVELS = 1.5
"""Grey levels: a line that stands out by less on its blurred crest is neither asked for nor forbidden."""


def path(
    rng: np.random.Generator,
    start: FloatArray,
    heading: float,
    length: float,
    bend: float,
    kink: float,
    step: float = 4.0,
) -> FloatArray:
    """A path of points `step` apart; `bend` turns it steadily, `kink` at random, radians a step."""
    count = max(int(length / step), 3)
    jitter = rng.normal(0, kink, count)
    for k in range(1, count):
        jitter[k] += 0.8 * jitter[k - 1]
    way = heading + bend * np.arange(count) + jitter
    steps = step * np.stack([np.cos(way), np.sin(way)], 1)
    return np.asarray(start + np.concatenate([np.zeros((1, 2)), np.cumsum(steps, 0)]))


def line_profile(rng: np.random.Generator, count: int) -> FloatArray:
    """How plainly a line shows along its way, 0..1: it tapers, wavers and breaks."""
    place = np.linspace(0, 1, count)
    taper = np.clip(np.minimum(place, 1 - place) / rng.uniform(0.02, 0.3), 0, 1) ** 0.6
    knots = max(int(count / rng.uniform(3, 20)), 2)
    smooth = rng.random() < 0.5  # as even as a lamp's streak: what tells the two is where they point
    waver = 1 - (0 if smooth else rng.uniform(0, 0.6)) * uneven(rng, place, knots)
    if rng.random() < 0.3:
        waver = waver * (uneven(rng, place, knots) > rng.uniform(0.1, 0.45))
    return np.asarray(taper * waver)


def uneven(rng: np.random.Generator, place: FloatArray, knots: int) -> FloatArray:
    """0..1 along a line, in as many random steps."""
    return np.asarray(np.interp(place, np.linspace(0, 1, knots), rng.random(knots)))


def stroke(piece: Piece, points: FloatArray, profile: FloatArray, width: float) -> FloatImage:
    """How much of each cell a line covers before blur: thinner than a cell, it keeps its share."""
    cover = np.zeros((piece.side, piece.side), np.uint8)
    cells = np.round((points - piece.corner) * 16).astype(np.int32)
    thick = max(1, round(width))
    share = min(1.0, width / thick)
    for a, b, level in zip(cells, cells[1:], profile, strict=False):
        if level > 0.05:
            cv2.line(cover, a.tolist(), b.tolist(), int(255 * share * level), thick, cv2.LINE_AA, 4)
    return np.asarray(cover.astype(np.float32) / 255, np.float32)


def add_line(
    piece: Piece,
    rng: np.random.Generator,
    points: FloatArray,
    width: float,
    change: FloatArray,
    kind: str,
    profile: FloatArray,
) -> None:
    """One line of a kind (of MASKS), its mirror image at times, and where each shows."""
    sharp = stroke(piece, points, profile, width)
    cover = softened(sharp, piece.blur)
    blend(piece, cover, change)
    if rng.random() < 0.15:  # a lip or a halo of the other sign beside it
        wide = softened(sharp, 2.2 * piece.blur + 0.7)
        blend(piece, np.asarray(np.clip(wide - 0.6 * cover, 0, 1), np.float32), -0.6 * change)
    thick = max(3, round(width) + 1) if kind != "dust" else max(2, round(width))
    crest = float(np.abs(change).max()) * min(1.0, width / (2.5 * piece.blur))
    if kind == "line" and rng.random() < 0.3:  # its image in the mirror: seen, but no second scratch
        shift = rng.normal(0, 5, 2)
        twin = softened(stroke(piece, points + shift, profile, width), piece.blur)
        blend(piece, twin, change * rng.uniform(0.2, 0.7))
        mark(piece.masks["faint"], points + shift - piece.corner, profile > 0.05, thick)
    shows = profile > (0.05 if kind == "dust" else FAINT_LEVELS / crest)
    mark(piece.masks[kind], points - piece.corner, shows, thick)
    mark(piece.masks["faint"], points - piece.corner, (profile > 0.05) & ~shows, thick)


def mark(mask: NDArray[np.uint8], cells: FloatArray, where: NDArray[np.bool_], thick: int) -> None:
    """Draws the steps of a path that begin `where`, in cells."""
    fine = np.round(cells * 16).astype(np.int32)
    for a, b, here in zip(fine, fine[1:], where, strict=False):
        if here:
            cv2.line(mask, a.tolist(), b.tolist(), 1, thick, cv2.LINE_8, 4)
