"""The face net: is it a disc at all, how large, which side, pressed or recordable, which format.

It reads the polar view, in which every ring of the hub is a column at its own radius, every streak of the rainbow a
row, and a turn of the disc a shift. Its logits are calibrated (manifest: `temperature`).
"""

from __future__ import annotations

import cv2
import numpy as np

from discscan.records import ByteImage, FaceReading
from discscan.weights import Net

POLAR_ANGLES = 192
POLAR_RADII = 96
POLAR_REACH = 1.03
"""Outermost radius of the polar view, in rims."""


def polar_view(square_bgr: ByteImage, *, rim_px: float) -> ByteImage:
    """A top-down view as angle x radius, uint8 (POLAR_ANGLES, POLAR_RADII, 3).

    Args:
        square_bgr: uint8 (side, side, 3), disc's centre at side / 2.
        rim_px: radius of the rim in it.
    """
    side = square_bgr.shape[0]
    shrink = (2.2 * POLAR_RADII / POLAR_REACH) / rim_px
    if shrink < 1.0:
        small = round(side * shrink)
        square_bgr = np.asarray(cv2.resize(square_bgr, (small, small), interpolation=cv2.INTER_AREA), dtype=np.uint8)
        rim_px *= small / side
        side = small
    twice = cv2.warpPolar(
        square_bgr, (2 * POLAR_RADII, 2 * POLAR_ANGLES), (side / 2, side / 2), POLAR_REACH * rim_px, cv2.INTER_LINEAR
    )
    return np.asarray(cv2.resize(twice, (POLAR_RADII, POLAR_ANGLES), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def read_view(square_bgr: ByteImage, net: Net, *, rim_px: float) -> FaceReading:
    """Run the face net on a top-down view, uint8 (side, side, 3) with the disc's centre at side / 2."""
    view = polar_view(square_bgr, rim_px=rim_px)
    image = np.ascontiguousarray(view.transpose(2, 0, 1)[None], dtype=np.float32) / np.float32(255.0)
    logits = net(image)[0].astype(np.float64)
    temperature = net.manifest["temperature"]
    disc, large, data, recordable = (
        float(1.0 / (1.0 + np.exp(-logits[k] / temperature[name])))
        for k, name in enumerate(("disc", "large", "data", "recordable"))
    )
    share = np.exp((logits[4:7] - logits[4:7].max()) / temperature["format"])
    cd, dvd, bd = (float(v) for v in share / share.sum())
    return FaceReading(disc, large, data, recordable, (cd, dvd, bd))
