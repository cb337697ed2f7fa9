"""The barcode of a case, read from its photograph."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import cv2

from discscan.barcodes import parse_barcode
from discscan.records import ByteImage, Photo

_TRIES = ((1600, 0), (1600, 12), (2800, 0), (2800, 12), (1000, 0), (1000, 12))
"""Longer side in pixels and turn in degrees: how well OpenCV reads depends on both."""


def read_barcode(photo: Photo) -> str | None:
    """The number of a barcode, read twice and with the check digit that fits; None where there is no such number.

    One in ten of OpenCV's readings is wrong; most of them the check digit tells, and one in ten of them passes it by
    luck, which does not happen twice with the same number.
    """
    once: set[str] = set()
    for view in _views(photo):
        for text in _texts(view):
            try:
                number = parse_barcode(text)
            except ValueError:
                continue
            if number in once:
                return number
            once.add(number)
    return None


def _views(photo: Photo) -> Iterator[ByteImage]:
    longer = max(photo.width_px, photo.height_px)
    for side, turn_deg in _TRIES:
        scale = min(1.0, side / longer)
        size = round(photo.width_px * scale), round(photo.height_px * scale)
        bgr: Any = cv2.resize(photo.bgr, size, interpolation=cv2.INTER_AREA)
        if turn_deg:
            matrix = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), turn_deg, 1)
            bgr = cv2.warpAffine(bgr, matrix, size, borderMode=cv2.BORDER_REPLICATE)
        yield bgr


def _texts(bgr: ByteImage) -> tuple[str, ...]:
    found, texts, _, _ = cv2.barcode.BarcodeDetector().detectAndDecodeWithType(bgr)
    return tuple(texts) if found else ()
