"""The face net, is it a disc at all, how large; and the make net, which format; which side, recordable or not, both.

They read the polar view, in which every ring of the hub is a column at its own radius, every streak of the rainbow a
row, and a turn of the disc a shift. The make net is told where the camera looks from, too: colours depend on that as
much as on the format. Their logits are calibrated (manifest: `temperature`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discscan.locate.conics import towards_camera
from discscan.locate.unroll import unrolled
from discscan.records import ByteImage, FaceReading, FloatArray
from discscan.weights import Net

ANGLES = 192
REACH = 1.03
"""Outermost radius of the polar view, in rims."""
RADII = REACH * (np.arange(96) + 0.5) / 96
FACE = ("disc", "large", "data", "recordable")
MAKE = ("data", "recordable", "format", "format", "format")
"""What each output of the nets is asked."""


def polar_view(image: ByteImage, px_to_unit: FloatArray) -> ByteImage:
    """A disc as angle by radius, uint8 (ANGLES, 96, 3).

    Args:
        image: uint8 (h, w, 3).
        px_to_unit: float64 (3, 3), its pixels to the plane in which the rim is the unit circle about the origin.
    """
    return unrolled(image, px_to_unit, RADII, angles=ANGLES)


@dataclass(frozen=True)
class Readers:
    """The nets "face" and "make"."""

    face: Net
    make: Net


def read_face(image: ByteImage, px_to_unit: FloatArray, readers: Readers) -> FaceReading:
    """Run both nets on a posed disc."""
    view = _view(image, px_to_unit)
    eye = towards_camera(px_to_unit)[None].astype(np.float32)
    disc, large, one_data, one_recordable = _logits(readers.face, FACE, image=view)
    other_data, other_recordable, *formats = _logits(readers.make, MAKE, image=view, eye=eye)
    share = np.exp(np.array(formats) - max(formats))
    cd, dvd, bd = (float(v) for v in share / share.sum())
    # a sticker or a stain makes the face net take a data side for a label, and the make net knows better. Not so the
    # other way round: to the make net a real recordable that looks nearly silver is a label
    data = other_data if one_data < 0 < other_data else one_data
    # each errs where the other does not: their mean is right more often than either
    recordable = (one_recordable + other_recordable) / 2
    return FaceReading(_chance(disc), _chance(large), _chance(data), _chance(recordable), (cd, dvd, bd))


def read_large(image: ByteImage, px_to_unit: FloatArray, readers: Readers) -> float:
    """0..1 that a disc is a large one, by the net that tells it."""
    _, large, *_ = _logits(readers.face, FACE, image=_view(image, px_to_unit))
    return _chance(large)


def _view(image: ByteImage, px_to_unit: FloatArray) -> NDArray[np.float32]:
    """float32 (1, 3, ANGLES, 96): the polar view, 0..1."""
    view = polar_view(image, px_to_unit).transpose(2, 0, 1)[None]
    return np.ascontiguousarray(view, np.float32) / np.float32(255.0)


def _logits(net: Net, asked: tuple[str, ...], **inputs: NDArray[np.float32]) -> tuple[float, ...]:
    """What a net says, calibrated; of each of its outputs, what it is asked there."""
    temperature = net.manifest["temperature"]
    return tuple(float(logit) / temperature[name] for name, logit in zip(asked, net(**inputs)[0].tolist(), strict=True))


def _chance(logit: float) -> float:
    return 1.0 / (1.0 + math.exp(-logit))
