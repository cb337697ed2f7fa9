"""The face net: is it a disc at all, how large, which side, recordable or not, which format?

It reads the polar view, in which every ring of the hub is a column at its own radius, every streak of the rainbow a
row, and a turn of the disc a shift. It is told where the camera looks from, too: colours depend on that as much as on
the format.
"""

from __future__ import annotations

import math

import numpy as np

from discscan.locate.conics import towards_camera
from discscan.locate.unroll import unrolled
from discscan.records import ByteImage, FaceReading, FloatArray
from discscan.weights import Net

ANGLES = 192
REACH = 1.03
"""Outermost radius of the polar view, in rims."""
RADII = REACH * (np.arange(96) + 0.5) / 96
FACE = ("disc", "large", "data", "recordable", "format", "format", "format")
"""What each output of the net is asked."""


def polar_view(image: ByteImage, px_to_unit: FloatArray) -> ByteImage:
    """A disc as angle by radius, uint8 (ANGLES, 96, 3).

    Args:
        image: uint8 (h, w, 3).
        px_to_unit: float64 (3, 3), its pixels to the plane in which the rim is the unit circle about the origin.
    """
    return unrolled(image, px_to_unit, RADII, angles=ANGLES)


def read_face(image: ByteImage, px_to_unit: FloatArray, net: Net) -> FaceReading:
    """Run the net on a posed disc; what it says is calibrated."""
    view = np.ascontiguousarray(polar_view(image, px_to_unit).transpose(2, 0, 1)[None], np.float32) / np.float32(255.0)
    eye = towards_camera(px_to_unit)[None].astype(np.float32)
    disc, large, data, recordable, *formats = net(image=view, eye=eye)[0].tolist()
    share = np.exp(np.array(formats) - max(formats))
    cd, dvd, bd = (float(v) for v in share / share.sum())
    return FaceReading(_chance(disc), _chance(large), _chance(data), _chance(recordable), (cd, dvd, bd))


def size_mm(large: float) -> int:
    """The diameter of a disc that is so likely, 0..1, a large one."""
    return 120 if large > 0.5 else 80


def _chance(logit: float) -> float:
    return 1.0 / (1.0 + math.exp(-logit))
