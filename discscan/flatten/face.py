"""What is up: is it a disc's face at all, which side, pressed or recordable, and which format.

A small net reads the polar view, in which every ring of the hub is a column at its own radius, every streak of the
rainbow a row, and a turn of the disc a shift. Its logits are calibrated (manifest: `temperature`), so that "possible"
below means a probability.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from discscan.doubts import Doubt
from discscan.records import ByteImage, Face, FlatDisc, FloatArray, FormatName, Recording, Side
from discscan.weights import Net

POLAR_ANGLES = 192
POLAR_RADII = 96
POLAR_REACH = 1.03
"""Outermost radius of the polar view, in rims."""
FORMATS: tuple[FormatName, FormatName, FormatName] = ("cd", "dvd", "bd")


@dataclass(frozen=True)
class FaceReading:
    """The net's calibrated probabilities.

    Attributes:
        disc: that this is a disc, posed right.
        large: that it is 120 mm across, not 80 mm.
        data: that the data side is up.
        recordable: given a data side.
        formats: float64 (3,), cd, dvd, bd, given a data side; they add up to 1.
    """

    disc: float
    large: float
    data: float
    recordable: float
    formats: FloatArray


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
        square_bgr = cv2.resize(square_bgr, (small, small), interpolation=cv2.INTER_AREA)
        rim_px *= small / side
        side = small
    twice = cv2.warpPolar(
        square_bgr, (2 * POLAR_RADII, 2 * POLAR_ANGLES), (side / 2, side / 2), POLAR_REACH * rim_px, cv2.INTER_LINEAR
    )
    return np.asarray(cv2.resize(twice, (POLAR_RADII, POLAR_ANGLES), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def read_face(flat: FlatDisc, net: Net) -> FaceReading:
    """Run the face net on a flat disc."""
    view = polar_view(flat.bgr, rim_px=0.5 * flat.diameter_mm * flat.px_per_mm)
    image = np.ascontiguousarray(view.transpose(2, 0, 1)[None], dtype=np.float32) / np.float32(255.0)
    logits = net(image)[0].astype(np.float64)
    temperature = net.manifest["temperature"]
    disc, large, data, recordable = (
        float(1.0 / (1.0 + np.exp(-logits[k] / temperature[name])))
        for k, name in enumerate(("disc", "large", "data", "recordable"))
    )
    scaled = logits[4:7] / temperature["format"]
    formats = np.exp(scaled - scaled.max())
    return FaceReading(disc, large, data, recordable, formats / formats.sum())


def face_of(reading: FaceReading, net: Net, *, given: FormatName | None) -> Face:
    """From probabilities to what may be said: a format is named only when the others are improbable.

    Args:
        given: the format that the person states; it is taken as it is.
    """
    sure = net.threshold("side_sure")
    side: Side = "data" if reading.data >= sure else "label" if reading.data <= 1.0 - sure else "unknown"
    doubts = [Doubt.SIDE_UNCLEAR] if side == "unknown" else []
    recording: Recording = "unknown"
    formats: tuple[FormatName, ...] = FORMATS
    if side == "data":
        if max(reading.recordable, 1.0 - reading.recordable) >= net.threshold("recording_sure"):
            recording = "recordable" if reading.recordable > 0.5 else "pressed"
        possible = tuple(f for f, p in zip(FORMATS, reading.formats, strict=True) if p >= net.threshold("format_possible"))
        formats = possible or FORMATS
    if given is not None:
        formats = (given,)
    elif side == "data":
        doubts.append(Doubt.FORMAT_GUESSED if len(formats) == 1 else Doubt.FORMAT_UNKNOWN)
    return Face(
        side=side,
        side_confidence=max(reading.data, 1.0 - reading.data),
        recording=recording,
        format=formats[0] if len(formats) == 1 else "unknown",
        format_source="given" if given is not None else "guessed",
        formats=formats,
        doubts=tuple(doubts),
    )
