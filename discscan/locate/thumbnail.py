"""Where on a thumbnail the locator net sees discs, and with which outline."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.locate.conics import apply, centring_motion, ellipse_of_conic, to_unit_circle
from discscan.locate.reading import size_mm
from discscan.locate.unroll import shrunk
from discscan.records import ByteImage, Ellipse, FloatArray
from discscan.weights import Net

STRIDE = 8
"""Pixels of the thumbnail to a cell of the net's answer."""
GREY = 115


@dataclass(frozen=True)
class Sighting:
    """A disc as the net saw it.

    Attributes:
        rim: in photo pixels.
        unit_pose: float64 (3, 3), photo pixel to the plane in which the rim is the unit circle and its centre 0.
        score: 0..1 that a disc's centre is there.
        large: 0..1 that it is a 120 mm disc, not an 80 mm one.
    """

    rim: Ellipse
    unit_pose: FloatArray
    score: float
    large: float

    @property
    def diameter_mm(self) -> int:
        return size_mm(self.large)

    def enlarged(self, times: float) -> Sighting:
        """A disc of 120 mm about this one, whose rim is so many times as large."""
        rim = replace(self.rim, axis_major=times * self.rim.axis_major, axis_minor=times * self.rim.axis_minor)
        return replace(self, rim=rim, unit_pose=np.diag([1 / times, 1 / times, 1.0]) @ self.unit_pose, large=1.0)


def thumbnail(bgr: ByteImage, side_px: int) -> tuple[NDArray[np.float32], float]:
    """The photo with its longer side at `side_px`, padded with grey: float32 (1, 3, h, w) 0..1, sides multiples of 32.

    Returns:
        the net's input, and thumbnail pixels per photo pixel.
    """
    height, width = bgr.shape[:2]
    scale = side_px / max(height, width)
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    small = shrunk(bgr, size, picks=4) if scale < 1.0 else cv2.resize(bgr, size)
    canvas = np.full((-(-size[1] // 32) * 32, -(-size[0] // 32) * 32, 3), GREY, np.uint8)
    canvas[: size[1], : size[0]] = small
    return np.ascontiguousarray(canvas.transpose(2, 0, 1)[None], dtype=np.float32) / np.float32(255.0), scale


def sightings(bgr: ByteImage, net: Net, share: float = 1.0) -> list[Sighting]:
    """Local maxima of the net's heat map above a level, the surest first.

    Args:
        share: of the side that the net's thumbnails had in training.
    """
    image, scale = thumbnail(bgr, round(share * net.manifest["preprocessing"]["side_px"]))
    said = net(image=image)[0].astype(np.float64)
    heat = 1.0 / (1.0 + np.exp(-said[0]))
    peaks = (heat >= cv2.dilate(heat, np.ones((3, 3)))) & (heat > setting("locate", "level.heat"))
    row, col = np.nonzero(peaks)
    found = []
    for y, x in zip(row, col, strict=True):
        here = np.array([x + 0.5, y + 0.5]) * STRIDE
        sighting = _decode(said[:, y, x], here, scale, float(heat[y, x]))
        if sighting is not None:
            found.append(sighting)
    return sorted(found, key=lambda s: -s.score)


def _decode(said: FloatArray, here: FloatArray, scale: float, score: float) -> Sighting | None:
    """One cell's answer in photo pixels; None if it describes no ellipse round its own centre."""
    centre = here + said[1:3] * STRIDE
    l11, l22 = 40.0 * np.exp(np.clip(said[[3, 5]], -4, 4))
    root = np.array([[l11, 0.0], [said[4] * l11, l22]])
    middle = centre + said[6:8] * l11
    inverse = np.linalg.inv(root @ root.T)
    conic = np.block(
        [
            [inverse, -(inverse @ middle)[:, None]],
            [-(inverse @ middle)[None], np.array([[middle @ inverse @ middle - 1.0]])],
        ]
    )
    # thumbnail to photo: pixel centres at whole coordinates, the net counts from the picture's corner
    to_thumbnail = np.array([[scale, 0.0, 0.5 * scale], [0.0, scale, 0.5 * scale], [0.0, 0.0, 1.0]])
    try:
        rim = ellipse_of_conic(to_thumbnail.T @ conic @ to_thumbnail)
        affine = to_unit_circle(rim)
        inner = apply(affine, (centre / scale - 0.5)[None])[0]
        pose = centring_motion(*np.clip(inner, -0.5, 0.5)) @ affine
    except (ValueError, np.linalg.LinAlgError):
        return None
    return Sighting(rim, pose, score, 1.0 / (1.0 + math.exp(-float(said[8]))))
