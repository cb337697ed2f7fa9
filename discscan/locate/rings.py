"""The view of a candidate from above, and where the common centre of its hub's rings falls.

The rim's ellipse alone does not tell where the disc's centre falls under perspective. Every circle moulded into the hub
does: the right centre is the one that makes most of the edges near it run round it.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.conics import apply, centring_motion, to_unit_circle
from discscan.records import ByteImage, Ellipse, FloatArray

VIEW_PX = 440
"""Side of the square view; the rim's circle has radius VIEW_RIM_PX in it."""
VIEW_RIM_PX = 200.0
BIN = 0.0075
"""Width of a radius bin in the search for the centre, in rims."""
SECTORS = 48

Float32 = NDArray[np.float32]


def view_of(bgr: ByteImage, unit_pose: FloatArray) -> ByteImage:
    """The candidate from above, uint8 (VIEW_PX, VIEW_PX, 3), antialiased; black outside the photo."""
    to_view = np.array([[VIEW_RIM_PX, 0, VIEW_PX / 2], [0, VIEW_RIM_PX, VIEW_PX / 2], [0, 0, 1.0]])
    corners = apply(
        np.linalg.inv(to_view @ unit_pose),
        np.array([[0, 0], [VIEW_PX, 0], [VIEW_PX, VIEW_PX], [0, VIEW_PX]], dtype=float),
    )
    height, width = bgr.shape[:2]
    left, top = np.clip(np.floor(corners.min(axis=0)).astype(int) - 2, 0, (width - 1, height - 1))
    right, bottom = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 3, 1, (width, height))
    patch = bgr[top:bottom, left:right]
    shrink = min(1.0, 1.25 * VIEW_PX / max(np.ptp(corners[:, 0]), np.ptp(corners[:, 1]), 1.0))
    if shrink < 0.9:
        patch = np.asarray(cv2.resize(patch, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    else:
        shrink = 1.0
    # INTER_AREA keeps the corners of the pixels in place, not their centres
    sx, sy = patch.shape[1] / (right - left), patch.shape[0] / (bottom - top)
    from_patch = np.array([[1 / sx, 0, left + 0.5 / sx - 0.5], [0, 1 / sy, top + 0.5 / sy - 0.5], [0, 0, 1]])
    return cv2.warpPerspective(patch, to_view @ unit_pose @ from_patch, (VIEW_PX, VIEW_PX), flags=cv2.INTER_LINEAR)  # type: ignore[return-value]


def find_centre(bgr: ByteImage, rim: Ellipse) -> FloatArray:
    """The centre that the hub's circles share: float64 (3, 3), photo pixel to the plane in which the rim is the unit
    circle and that centre the origin."""
    affine = to_unit_circle(rim)
    edge, nx, ny = edge_map(view_of(bgr, affine))
    row, col = np.nonzero(edge)
    points = ((np.stack([col, row], axis=1) - VIEW_PX / 2) / VIEW_RIM_PX).astype(np.float64)
    normals = np.stack([nx[row, col], ny[row, col]], axis=1).astype(np.float64)
    return centring_motion(*_common_centre(points, normals)) @ affine


def _around(points: FloatArray, normals: FloatArray, *, centre: tuple[float, float]) -> NDArray[np.bool_]:
    """Bool (radius bins, SECTORS): is there an edge round `centre`? Each edge counts in the bins beside it."""
    moved = apply(centring_motion(*centre), points)
    radius = np.hypot(moved[:, 0], moved[:, 1])
    outward = moved / np.maximum(radius, 1e-9)[:, None]
    good = (np.abs((outward * normals).sum(axis=1)) > setting("locate", "min_alignment")) & (radius < 1.08)
    place = radius[good] / BIN
    sector = ((np.arctan2(moved[good, 1], moved[good, 0]) / (2 * np.pi) % 1.0) * SECTORS).astype(np.intp) % SECTORS
    table = np.zeros((int(1.1 / BIN) + 2, SECTORS), dtype=bool)
    for offset in (-0.5, 0.5):
        table[np.clip((place + offset).astype(np.intp), 0, table.shape[0] - 1), sector] = True
    return table


def _common_centre(points: FloatArray, normals: FloatArray) -> tuple[float, float]:
    """The centre (in the rim's unit circle) about which the hub's edges run round best, by a search that narrows."""
    hub = np.hypot(points[:, 0], points[:, 1]) < setting("locate", "hub_search_rims")
    points, normals = points[hub], normals[hub]
    best, where = -1.0, (0.0, 0.0)
    for step in (0.04, 0.02, 0.008):
        x0, y0 = where
        reach = 4 if step == 0.04 else 2
        for i in range(-reach, reach + 1):
            for j in range(-reach, reach + 1):
                centre = (x0 + i * step, y0 + j * step)
                # where nothing speaks, the centre stays in the middle
                score = (
                    float((_around(points, normals, centre=centre).mean(axis=1) ** 2).sum())
                    - 0.3 * np.hypot(*centre) ** 2
                )
                if score > best:
                    best, where = score, centre
    return where


def edge_map(bgr: ByteImage) -> tuple[NDArray[np.bool_], Float32, Float32]:
    """Edges of the colour channel with the steepest gradient, thinned and kept by hysteresis [1].

    An edge counts against the contrast around it, not against a fixed level, so that a rim in the dark and a rim on a
    busy cloth are both seen.

    Returns:
        edge bool (h, w), one pixel wide; nx, ny float32 (h, w), the unit gradient.

    References:
        [1] J. Canny, A Computational Approach to Edge Detection, IEEE PAMI 8 (1986) 679 (as in cv2.Canny).
    """
    smooth = cv2.GaussianBlur(bgr, (0, 0), setting("locate", "edge_sigma_px"))
    gx, gy = cv2.Scharr(smooth, cv2.CV_32F, 1, 0), cv2.Scharr(smooth, cv2.CV_32F, 0, 1)
    channels = list(zip(cv2.split(gx), cv2.split(gy), strict=True))
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
    return edge > 0, (bx * inverse).astype(np.float32), (by * inverse).astype(np.float32)
