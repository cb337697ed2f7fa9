"""A candidate close up, and rings of it unrolled: what the nets of this room look at."""

from __future__ import annotations

import cv2
import numpy as np

from discscan.records import ByteImage, Ellipse, FloatArray

CLOSE_RIM_PX = 200.0
"""Largest half axis of a rim in a close-up: enough to see every ring of the hub, small enough to be quick."""


def close_up(bgr: ByteImage, rim: Ellipse) -> tuple[ByteImage, FloatArray]:
    """The candidate and a quarter more all around, shrunk so that its rim has CLOSE_RIM_PX at most.

    Returns:
        the picture, uint8 (h, w, 3), and the map float64 (3, 3) from photo pixels to its pixels.
    """
    height, width = bgr.shape[:2]
    reach = 0.625 * rim.axis_major + 4.0
    left, top = int(np.clip(rim.cx - reach, 0, width - 8)), int(np.clip(rim.cy - reach, 0, height - 8))
    right, bottom = int(np.clip(rim.cx + reach, left + 8, width)), int(np.clip(rim.cy + reach, top + 8, height))
    shrink = CLOSE_RIM_PX / (0.5 * rim.axis_major)
    patch = bgr[top:bottom, left:right]
    if shrink < 0.9:
        size = (max(round((right - left) * shrink), 8), max(round((bottom - top) * shrink), 8))
        patch = shrunk(patch, size, picks=2)
    sx, sy = patch.shape[1] / (right - left), patch.shape[0] / (bottom - top)
    # shrinking keeps the corners of the pixels in place, not their centres
    to_patch = np.array([[sx, 0, (0.5 - left) * sx - 0.5], [0, sy, (0.5 - top) * sy - 0.5], [0, 0, 1.0]])
    return patch, to_patch


def shrunk(bgr: ByteImage, size: tuple[int, int], *, picks: int) -> ByteImage:
    """A smaller picture, each of its pixels the mean of those beneath it.

    Args:
        size: width and height.
        picks: of more than so many a side, so many are taken, evenly spread: their mean is as good, and a fraction of
            the time.
    """
    fine = (size[0] * picks, size[1] * picks)
    if fine[0] < bgr.shape[1] and fine[1] < bgr.shape[0]:
        bgr = np.asarray(cv2.resize(bgr, fine, interpolation=cv2.INTER_NEAREST_EXACT), np.uint8)
    return np.asarray(cv2.resize(bgr, size, interpolation=cv2.INTER_AREA), np.uint8)


def unrolled(image: ByteImage, px_to_plane: FloatArray, radii: FloatArray, *, angles: int, finer: int = 2) -> ByteImage:
    """Rings about the origin of a plane, as angle by radius: uint8 (angles, n, 3); black outside the picture.

    Row i is the mean over the angles from (i - 1/2) to (i + 1/2) steps of 360 / angles degrees.

    Args:
        px_to_plane: float64 (3, 3), the picture's pixels to the plane.
        radii: float64 (n,), of the columns.
        finer: samples that are averaged to one angle.
    """
    turn = ((np.arange(angles * finer) + 0.5) / finer - 0.5) * (2 * np.pi / angles)
    to_px = np.linalg.inv(px_to_plane)
    outward = to_px[:, :2] @ np.stack([np.cos(turn), np.sin(turn)])
    x, y, w = outward[:, :, None] * radii + to_px[:, 2, None, None]
    # kept to what OpenCV's fixed-point coordinates hold
    columns, rows = (np.clip(place / w, -9.0, 32000.0).astype(np.float32) for place in (x, y))
    fine = cv2.remap(image, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(0, 0, 0))
    return np.asarray(cv2.resize(fine, (len(radii), angles), interpolation=cv2.INTER_AREA), dtype=np.uint8)
