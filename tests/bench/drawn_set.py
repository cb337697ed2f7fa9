"""Drawn discs at random with their truth, to measure damage on pictures that no part of the tool was fitted to.

    python tests/bench/drawn_set.py FOLDER --count 28 --seed 78
    discscan scan FOLDER/*.jpg --json > report.json
    python -m models.training.score report.json FOLDER          # and models.training.score_discs

A seventh each of the discs is clean, dirty, ring-scratched, cracked, delaminated; two sevenths are scratched.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

sys.path.append(str(Path(__file__).parents[1]))
from drawn import Camera, Crack, Drawable, Look, RingArc, Scratch, Truth, blob, draw

CONDITIONS = ("clean", "scratched", "scratched", "arcs", "cracked", "delaminated", "dirty")


class Lot:
    """What is drawn on one disc, and its records as the renderer of models/training writes them."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.drawn: list[Drawable] = []
        self.records: list[dict[str, Any]] = []

    def add(self, what: Drawable, points: Any, width_mm: float | None = None) -> None:
        self.drawn.append(what)
        self.records.append(
            {
                "kind": what.kind,
                "outline_mm": np.asarray(points, float).tolist(),
                "width_um": None if width_mm is None else 1000 * width_mm,
                "pieces_mm": None,
                "contrast": None,
                "seen_fraction": 1.0,
            }
        )

    def sign(self) -> float:
        return float(self.rng.choice([-1, 1]))

    def log(self, low: float, high: float) -> float:
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def scratches(self, count: int) -> None:
        for _ in range(count):
            radius, turn, heading = 50 * np.sqrt(self.rng.random()) + 6, *self.rng.uniform(0, 2 * np.pi, 2)
            start, length = radius * np.array([np.cos(turn), np.sin(turn)]), self.log(4, 45)
            way = [
                length * s * np.array([np.cos(heading + 0.1 * s), np.sin(heading + 0.1 * s)])
                for s in np.linspace(0, 1, 8)
            ]
            points = [start + step for step in way if 22 < np.hypot(*(start + step)) < 57]
            if len(points) >= 3:
                width, contrast = self.log(0.05, 0.3), self.sign() * self.log(20, 110)
                twin = (0.5, 0.4) if self.rng.random() < 0.3 else None
                ends = [(float(x), float(y)) for x, y in points]
                self.add(Scratch(ends, width_mm=width, contrast=contrast, double_mm=twin), points, width)

    def arcs(self, count: int) -> None:
        for _ in range(count):
            radius, start, sweep = self.rng.uniform(26, 56), self.rng.uniform(0, 360), self.rng.uniform(15, 200)
            width = self.rng.uniform(0.06, 0.3)
            turn = np.radians(np.linspace(start, start + sweep, 80))
            arc = RingArc(radius, start, sweep, width, self.sign() * self.rng.uniform(30, 100))
            self.add(arc, radius * np.stack([np.cos(turn), np.sin(turn)], 1), width)

    def crack(self, *, from_rim: bool) -> None:
        first = 59.8 if from_rim else 7.6
        last = first + (-1 if from_rim else 1) * self.rng.uniform(6, 32)
        radius = np.linspace(first, last, 14)
        turn = self.rng.uniform(0, 2 * np.pi) + np.cumsum(self.rng.normal(0, 0.03, 14))
        points, width = np.stack([radius * np.cos(turn), radius * np.sin(turn)], 1), self.rng.uniform(0.15, 0.6)
        ends = [(float(x), float(y)) for x, y in points]
        self.add(Crack(ends, width_mm=width, contrast=self.sign() * self.rng.uniform(50, 120)), points, width)

    def patch(self, kind: str, radius_mm: float, size_mm: float, contrast: float) -> None:
        turn = self.rng.uniform(0, 2 * np.pi)
        area = blob(radius_mm * np.cos(turn), radius_mm * np.sin(turn), size_mm, kind=kind, contrast=contrast)
        inside = [tuple(np.array(p) * min(1.0, 59.5 / np.hypot(*p))) for p in area.border_mm]
        self.add(replace(area, border_mm=inside), inside)


def disc(seed: int, number: int) -> tuple[np.ndarray, Truth, str, Sequence[dict[str, Any]]]:
    rng = np.random.default_rng([seed, number])
    condition, lot = CONDITIONS[number % len(CONDITIONS)], Lot(rng)
    if condition not in ("clean", "dirty"):
        lot.scratches(int(rng.integers(3, 14)))
    if condition == "arcs":
        lot.arcs(int(rng.integers(1, 6)))
    elif condition == "cracked":
        lot.crack(from_rim=number % 2 == 0)
    elif condition == "delaminated":
        lot.patch("delamination", 57.0 if number % 2 else 25.0, rng.uniform(4, 12), lot.sign() * rng.uniform(40, 90))
    elif condition == "dirty":
        for _ in range(3):
            lot.patch("smudge", rng.uniform(28, 52), rng.uniform(4, 9), rng.uniform(20, 50))
        for _ in range(20):
            lot.patch("dust", rng.uniform(25, 56), rng.uniform(0.1, 0.3), 90.0)
    grey = rng.uniform(50, 170)
    look = Look(
        window=bool(rng.random() < 0.5),
        wedges_deg=tuple(rng.uniform(0, 360, int(rng.integers(0, 4))).tolist()),
        background=str(rng.choice(["cloth", "wood", "print", "plain"])),
        barcode=bool(rng.random() < 0.5),
        mirror_bgr=(grey, grey * rng.uniform(0.85, 1.1), grey * rng.uniform(0.85, 1.1)),
    )
    camera = Camera(
        tilt_deg=rng.uniform(0, 35),
        azimuth_deg=rng.uniform(0, 360),
        disc_px=rng.uniform(700, 1100),
        blur_px=rng.uniform(0.5, 1.2),
        noise=rng.uniform(0.8, 3),
    )
    bgr, truth = draw(*lot.drawn, look=look, camera=camera, seed=number)
    return bgr, truth, condition, lot.records


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=28)
    parser.add_argument("--seed", type=int, default=78)
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    for number in range(given.count):
        bgr, truth, condition, records = disc(given.seed, number)
        name = f"{number:04d}"
        cv2.imwrite(str(given.folder / f"{name}.jpg"), bgr, [cv2.IMWRITE_JPEG_QUALITY, 90])
        record = {
            "diameter_mm": truth.diameter_mm,
            "homography_px_to_mm": truth.homography_px_to_mm.tolist(),
            "outer_ellipse_px": asdict(truth.rim),
            "side": "data",
            "recording": "pressed",
            "format": "dvd",
            "condition": condition,
            "visible_fraction": 1.0,
            "rim_seen_fraction": 1.0,
            "polished": False,
            "defects": records,
        }
        text = json.dumps({"file": f"{name}.jpg", "discs": [record]})
        (given.folder / f"{name}.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
