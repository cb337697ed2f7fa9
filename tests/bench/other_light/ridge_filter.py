"""A plain line filter, given the true pose, scored on the photographs of this folder: what a tool must beat.

    python tests/bench/other_light/ridge_filter.py FOLDER [--workers 2]

The filter is scikit-image's `sato` at two scales, bright and dark, on the flattened disc; what exceeds a threshold is
thinned to lines. They are scored by length at 0.6 mm against scratches and ring arcs, 22.5 mm from the centre to 1.5 mm
from the rim. To take the best threshold of those printed is kind to the filter: it is chosen on what it is scored on.
"""

from __future__ import annotations

import argparse
import json
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from skimage.filters import sato
from skimage.morphology import remove_small_objects, skeletonize

PX_MM = 10
SCALES_PX = (1.0, 2.0)
THRESHOLDS = (0.005, 0.007, 0.009, 0.011, 0.0135, 0.016, 0.02, 0.027)
TOLERANCE_MM = 0.6
LEAST_PX = 12
FROM_MM, TO_RIM_MM = 22.5, 1.5
HIDDEN = 255
Mask = NDArray[np.bool_]


def near(points: Mask, others: Mask) -> int:
    """How many points lie within the tolerance of one of the others."""
    if not others.any():
        return 0
    return int((distance_transform_edt(~others)[points] <= TOLERANCE_MM * PX_MM).sum())


def true_lines(disc: dict[str, Any], side: int) -> Mask:
    drawn = np.zeros((side, side), np.uint8)
    for defect in disc["defects"]:
        if defect["kind"] in ("scratch", "ring_arc"):
            for piece in defect["pieces_mm"]:
                cells = np.array(piece) * PX_MM + side / 2 - 0.5
                cv2.polylines(drawn, [np.round(cells * 16).astype(np.int32)], False, 1, 1, cv2.LINE_8, 4)
    return np.asarray(skeletonize(drawn > 0) > 0)


def counts(truth: Path) -> NDArray[np.int64]:
    """For each threshold: cells of true lines, of them found, cells of lines found, of them true; (thresholds, 4)."""
    cv2.setNumThreads(1)
    disc = json.loads(truth.read_text(encoding="utf-8"))["discs"][0]
    photo = cv2.imread(str(truth.with_suffix(".jpg")), cv2.IMREAD_GRAYSCALE)
    labels = cv2.imread(str(truth.with_name(f"{truth.stem}_disc0.png")), cv2.IMREAD_UNCHANGED)
    assert photo is not None and labels is not None
    side = len(labels)
    to_cells = np.array([[PX_MM, 0, side / 2 - 0.5], [0, PX_MM, side / 2 - 0.5], [0, 0, 1]])
    flat = cv2.warpPerspective(photo / np.float32(255), to_cells @ disc["homography_px_to_mm"], (side, side))
    axis_mm = (np.arange(side) - (side - 1) / 2) / PX_MM
    radius_mm = np.hypot(axis_mm[None], axis_mm[:, None])
    asked = (radius_mm > FROM_MM) & (radius_mm < disc["diameter_mm"] / 2 - TO_RIM_MM) & (labels != HIDDEN)
    ridges = np.max([sato(flat, sigmas=[s], black_ridges=dark) for s in SCALES_PX for dark in (True, False)], axis=0)
    true, rows = true_lines(disc, side) & asked, []
    for threshold in THRESHOLDS:
        found = skeletonize(remove_small_objects((ridges > threshold) & asked, max_size=LEAST_PX - 1))
        rows.append((true.sum(), near(true, found), found.sum(), near(found, true)))
    return np.array(rows, np.int64)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    with Pool(given.workers) as pool:
        total = sum(pool.imap_unordered(counts, sorted(given.folder.glob("*.json"))), np.zeros((len(THRESHOLDS), 4)))
    print("threshold  recall  precision  F1")
    for threshold, (true, of_true, found, of_found) in zip(THRESHOLDS, total, strict=True):
        recall, precision = of_true / max(true, 1), of_found / max(found, 1)
        both = 2 * recall * precision / max(recall + precision, 1e-9)
        print(f"{threshold:9.4f}  {recall:6.3f}  {precision:9.3f}  {both:.3f}")


if __name__ == "__main__":
    main()
