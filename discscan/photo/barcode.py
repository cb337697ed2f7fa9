"""The barcode of a case, read from its photograph."""

from __future__ import annotations

import cv2

from discscan.barcodes import parse_barcode
from discscan.records import Photo

_SIDES_PX = 1600, 2800, 1000, 700
"""Longer sides at which it is tried: bars of two to six pixels read best, and nobody knows how large they are."""


def read_barcode(photo: Photo) -> str | None:
    """The number of the first barcode whose check digit fits; None where no such number is read.

    One in ten of OpenCV's readings is wrong, and the check digit is what tells (tests/bench/barcodes.py).
    """
    detector = cv2.barcode.BarcodeDetector()
    longer = max(photo.width_px, photo.height_px)
    for side in dict.fromkeys(min(side, longer) for side in _SIDES_PX):
        size = round(photo.width_px * side / longer), round(photo.height_px * side / longer)
        smaller = cv2.resize(photo.bgr, size, interpolation=cv2.INTER_AREA) if side < longer else photo.bgr
        for text in _texts(detector, smaller):
            try:
                return parse_barcode(text)
            except ValueError:
                continue
    return None


def _texts(detector: cv2.barcode.BarcodeDetector, bgr: object) -> tuple[str, ...]:
    found, texts, _, _ = detector.detectAndDecodeWithType(bgr)  # type: ignore[call-overload]
    return tuple(texts) if found else ()
