"""Edges of a thumbnail, chained into smooth arcs of one bend.

An edge counts against the contrast around it, not against a fixed level, so that a rim in the dark and a rim on a busy
cloth are both seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.records import ByteImage

Float32 = NDArray[np.float32]


@dataclass(frozen=True)
class EdgeMap:
    """Thin edges with their normals.

    Attributes:
        edge: bool (h, w), one pixel wide.
        nx, ny: float32 (h, w), unit gradient (towards the brighter side), everywhere.
        strength: float32 (h, w), grey levels per pixel, of the colour channel that changes most.
    """

    edge: NDArray[np.bool_]
    nx: Float32
    ny: Float32
    strength: Float32


@dataclass(frozen=True)
class Arc:
    """A chain of edge pixels that bends one way.

    Attributes:
        points: float32 (n, 2), x and y, in order.
        turn_deg: by how much its normal turns from end to end, without sign.
    """

    points: Float32
    turn_deg: float


def edge_map(bgr: ByteImage) -> EdgeMap:
    """Edges of the colour channel with the steepest gradient, thinned and kept by hysteresis [1].

    References:
        [1] J. Canny, A Computational Approach to Edge Detection, IEEE PAMI 8 (1986) 679 (as in cv2.Canny).
    """
    smooth = cv2.GaussianBlur(bgr, (0, 0), setting("locate", "edge_sigma_px"))
    gx, gy = cv2.Scharr(smooth, cv2.CV_32F, 1, 0), cv2.Scharr(smooth, cv2.CV_32F, 0, 1)
    channels = [(cv2.split(gx)[k], cv2.split(gy)[k]) for k in range(3)]
    (bx, by), best = channels[0], cv2.magnitude(*channels[0])
    for cx, cy in channels[1:]:
        magnitude = cv2.magnitude(cx, cy)
        steeper = magnitude > best
        np.copyto(bx, cx, where=steeper)
        np.copyto(by, cy, where=steeper)
        np.maximum(best, magnitude, out=best)
    strength = best * np.float32(1.0 / 32.0)  # the Scharr kernel's weights sum to 32 per unit step
    window = int(setting("locate", "contrast_window_px"))
    around = cv2.blur(strength, (window, window)) * np.float32(setting("locate", "contrast_factor"))
    np.maximum(around, np.float32(setting("locate", "min_edge_levels")), out=around)
    scale = np.float32(100.0 / 32.0) / around
    low = setting("locate", "hysteresis_low")
    edge = cv2.Canny(
        np.clip(bx * scale, -16000, 16000).astype(np.int16),
        np.clip(by * scale, -16000, 16000).astype(np.int16),
        100.0 * low,
        100.0,
        L2gradient=True,
    )
    inverse = np.float32(1.0) / np.maximum(best, np.float32(1e-6))
    return EdgeMap(edge > 0, bx * inverse, by * inverse, strength)


def without_stairs(edge: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Take the corner out of every L of three edge pixels, so that a slanted edge has two neighbours a pixel."""
    thin = np.pad(edge, 1)
    inner = thin[1:-1, 1:-1]
    up, down, left, right = thin[:-2, 1:-1], thin[2:, 1:-1], thin[1:-1, :-2], thin[1:-1, 2:]
    for vertical, horizontal, far_vertical, far_horizontal in (
        (up, right, down, left),
        (down, left, up, right),
        (up, left, down, right),
        (down, right, up, left),
    ):
        inner &= ~(vertical & horizontal & ~far_vertical & ~far_horizontal)
    return inner


def chains(edge: NDArray[np.bool_], *, min_length_px: int) -> list[NDArray[np.int32]]:
    """Edge pixels in order, int32 (n, 2) each, broken where edges meet."""
    pixels = without_stairs(edge).astype(np.uint8)
    neighbours = cv2.filter2D(pixels, cv2.CV_8U, np.ones((3, 3), np.float32), borderType=cv2.BORDER_CONSTANT) - 1
    junction = (pixels > 0) & (neighbours > 2) & (neighbours < 255)
    pixels[junction] = 0
    ends = cv2.filter2D(pixels, cv2.CV_8U, np.ones((3, 3), np.float32), borderType=cv2.BORDER_CONSTANT)
    found: list[NDArray[np.int32]] = []
    contours, _ = cv2.findContours(pixels, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    for contour in contours:
        if len(contour) < 2 * min_length_px - 2:
            continue
        walk = contour[:, 0, :]
        at_end = np.flatnonzero(ends[walk[:, 1], walk[:, 0]] == 2)
        if len(at_end) == 0:
            found.append(walk)
            continue
        # the border of an open line runs along it and back: keep one way, from an end to the other
        walk = np.roll(walk, -at_end[0], axis=0)
        half = np.flatnonzero(ends[walk[1:, 1], walk[1:, 0]] == 2)
        stop = int(half[0]) + 2 if len(half) else len(walk)
        if stop >= min_length_px:
            found.append(walk[:stop])
    return found


def arcs_of(edges: EdgeMap) -> list[Arc]:
    """Split the chains at corners and where the bend changes its sense; straight pieces are dropped."""
    min_length = int(setting("locate", "min_arc_px"))
    reach = int(setting("locate", "bend_reach_px"))
    max_bend = 1.0 / setting("locate", "min_arc_radius_px")
    min_turn = np.radians(setting("locate", "min_arc_turn_deg"))
    straight = 1.0 / setting("locate", "max_arc_radius_px")
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    found: list[Arc] = []
    for chain in chains(edges.edge, min_length_px=min_length):
        x, y = chain[:, 0], chain[:, 1]
        angle = np.unwrap(np.arctan2(edges.ny[y, x].astype(np.float64), edges.nx[y, x]))
        smooth = np.convolve(np.pad(angle, reach, mode="edge"), kernel, mode="valid")
        bend = np.zeros(len(chain))
        bend[reach:-reach] = (smooth[2 * reach :] - smooth[: -2 * reach]) / (2 * reach)
        cut = np.abs(bend) > max_bend
        sense = np.sign(np.where(np.abs(bend) < straight, 0.0, bend))
        bent = np.flatnonzero(sense)
        # a straight stretch goes with the bend before it
        sense = sense[bent[np.maximum(np.searchsorted(bent, np.arange(len(chain)), side="right") - 1, 0)]] if len(bent) else sense
        breaks = np.flatnonzero(cut[1:] | (sense[1:] != sense[:-1])) + 1
        for start, stop in pairwise((0, *breaks.tolist(), len(chain))):
            turn = abs(float(smooth[stop - 1] - smooth[start]))
            if stop - start >= min_length and turn >= min_turn:
                found.append(Arc(chain[start:stop].astype(np.float32), float(np.degrees(turn))))
    return found
