"""The face net: is it a disc at all, how large, which side, pressed or recordable, which format.

It reads the polar view, in which every ring of the hub is a column at its own radius, every streak of the rainbow a
row, and a turn of the disc a shift. Its logits are calibrated (manifest: `temperature`).
"""

from __future__ import annotations

import numpy as np

from discscan.locate.unroll import unrolled
from discscan.records import ByteImage, FaceReading, FloatArray
from discscan.weights import Net

ANGLES = 192
REACH = 1.03
"""Outermost radius of the polar view, in rims."""
RADII = REACH * (np.arange(96) + 0.5) / 96


def polar_view(image: ByteImage, px_to_unit: FloatArray) -> ByteImage:
    """A disc as angle by radius, uint8 (ANGLES, 96, 3).

    Args:
        image: uint8 (h, w, 3).
        px_to_unit: float64 (3, 3), its pixels to the plane in which the rim is the unit circle about the origin.
    """
    return unrolled(image, px_to_unit, RADII, angles=ANGLES)


def read_face(image: ByteImage, px_to_unit: FloatArray, net: Net) -> FaceReading:
    """Run the face net on a posed disc."""
    view = polar_view(image, px_to_unit)
    said = net(image=np.ascontiguousarray(view.transpose(2, 0, 1)[None], dtype=np.float32) / np.float32(255.0))
    logits = said[0].astype(np.float64)
    temperature = net.manifest["temperature"]
    disc, large, data, recordable = (
        float(1.0 / (1.0 + np.exp(-logits[k] / temperature[name])))
        for k, name in enumerate(("disc", "large", "data", "recordable"))
    )
    share = np.exp((logits[4:7] - logits[4:7].max()) / temperature["format"])
    cd, dvd, bd = (float(v) for v in share / share.sum())
    return FaceReading(disc, large, data, recordable, (cd, dvd, bd))
