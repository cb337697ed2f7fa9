"""How sharp the photograph is at the disc, from the edges that every disc has: rim, hole and the rings of its hub."""

from __future__ import annotations

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.records import ByteImage, FloatArray, LocatedDisc

_ANGLES = 360
_SECTOR = 10  # angles whose profiles are averaged: noise and the ground's texture go down, ten degrees stay one edge
_STEP_PX = 0.5
_BANDS_MM = ((-2.0, 1.5), (5.5, 9.0), (14.5, 24.0))
"""Radii to search; the first is counted from the rim."""


def edge_blur_px(bgr: ByteImage, located: LocatedDisc) -> float:
    """Standard deviation in photo pixels of the blur at the disc's sharpest edges, pixel and demosaicing included.

    A step of height h that a Gaussian of standard deviation b has blurred is nowhere steeper than h / (b sqrt(2 pi)).
    Where a band holds several edges h is taken too large; the sharper quantile looks past those.
    """
    back: FloatArray = np.linalg.inv(located.homography_px_to_mm).astype(np.float64)
    rim = located.diameter_mm / 2
    found = []
    for low, high in _BANDS_MM:
        low, high = (rim + low, rim + high) if low < 0 else (low, high)
        found.append(_edge_blurs(_profiles(bgr, back, low, high)))
    blurs = np.concatenate(found)
    if len(blurs) < setting("flatten", "least_edges"):
        return setting("flatten", "blur_without_edges_px")
    return float(np.quantile(blurs, setting("flatten", "sharpest_edges_quantile")))


def _profiles(photo: ByteImage, back: FloatArray, low_mm: float, high_mm: float) -> FloatArray:
    """Grey levels along radii, (sectors that lie whole within the photo, samples), `_STEP_PX` photo pixels apart."""
    turn = np.linspace(0, 2 * np.pi, _ANGLES, endpoint=False)
    way = np.stack([np.cos(turn), np.sin(turn)], -1)
    ends = [cv2.perspectiveTransform((radius * way)[None], back)[0] for radius in (low_mm, high_mm)]
    length = float(np.median(np.hypot(*(ends[1] - ends[0]).T)))
    along = np.linspace(0, 1, max(8, int(length / _STEP_PX)), dtype=np.float32)
    start, way = ends[0].astype(np.float32), (ends[1] - ends[0]).astype(np.float32)
    columns, rows = (start[:, axis, None] + along * way[:, axis, None] for axis in (0, 1))
    sampled = cv2.remap(photo, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    grey = cv2.cvtColor(sampled, cv2.COLOR_BGR2GRAY).reshape(-1, _SECTOR, len(along))
    last = np.array([photo.shape[1] - 1, photo.shape[0] - 1])
    inside = np.all([(end >= 0) & (end <= last) for end in ends], axis=(0, 2)).reshape(-1, _SECTOR).all(axis=1)
    return np.asarray(grey[inside].mean(axis=1, dtype=np.float32))


def _edge_blurs(profiles: FloatArray) -> FloatArray:
    """Blur in pixels at the steepest edge of each profile that has a clear one."""
    height = np.ptp(profiles, axis=1)
    clear = height > setting("flatten", "edge_levels")
    steepest = np.abs(np.gradient(profiles, _STEP_PX, axis=1)).max(axis=1, initial=0.0)
    return np.asarray(height[clear] / np.maximum(steepest[clear], 1e-3) / np.sqrt(2 * np.pi))
