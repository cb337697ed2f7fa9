"""How often the barcode of a case is read, and how often wrongly, on drawn photographs.

    python tests/bench/barcodes.py [COUNT]

The codes are drawn by another library (zxing-cpp); 12 megapixels, turned, blurred, noisy, in uneven light.
"""

from __future__ import annotations

import argparse

import cv2
import numpy as np
import zxingcpp

from discscan.photo import read_barcode
from discscan.records import Photo

WIDTH, HEIGHT = 4000, 3000


def drawn(rng: np.random.Generator) -> tuple[Photo, str]:
    kind = zxingcpp.BarcodeFormat.EAN13 if rng.random() < 0.5 else zxingcpp.BarcodeFormat.UPCA
    digits = "".join(map(str, rng.integers(0, 10, 12 if kind == zxingcpp.BarcodeFormat.EAN13 else 11)))
    code = zxingcpp.create_barcode(digits, kind)
    bars = np.asarray(code.to_image(scale=int(rng.integers(4, 13)), add_quiet_zones=True))
    corners = np.array([(0, 0), (bars.shape[1], 0), bars.shape[::-1], (0, bars.shape[0])], np.float32)
    turn = np.radians(rng.choice([0, 90, 180, 270]) + rng.uniform(-30, 30))
    turned = (corners - corners.mean(0)) @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    seen = turned + np.array([WIDTH, HEIGHT]) / 2 + rng.normal(0, 0.02 * bars.shape[0], (4, 2))
    matrix = cv2.getPerspectiveTransform(corners, seen.astype(np.float32))
    light = cv2.resize(rng.uniform(0.7, 1.0, (3, 4)), (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    grey = cv2.warpPerspective((25 + bars // 255 * 205).astype(np.float32), matrix, (WIDTH, HEIGHT), borderValue=110)
    grey = cv2.GaussianBlur(grey * light, (0, 0), rng.uniform(0.5, 4)) + rng.normal(0, rng.uniform(1, 9), grey.shape)
    return Photo("case.jpg", "", np.dstack([np.clip(grey, 0, 255).astype(np.uint8)] * 3)), code.text.rjust(13, "0")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int, nargs="?", default=200, metavar="COUNT")
    count = parser.parse_args().count
    rng = np.random.default_rng(1)
    readings = [(read_barcode(photo), number) for photo, number in (drawn(rng) for _ in range(count))]
    right = sum(read == number for read, number in readings)
    wrong = sum(read not in (number, None) for read, number in readings)
    print(f"{len(readings)} photos: {right} read, {wrong} read wrongly")
