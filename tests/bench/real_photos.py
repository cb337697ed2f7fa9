"""Real photographs against what a person wrote down of them in tests/reference/real_photos.toml.

    python tests/bench/real_photos.py FOLDER

FOLDER holds the photographs by the names there, and others named none_*, which show no disc.
"""

from __future__ import annotations

import argparse
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import discscan
from discscan.report import DiscReport

REFERENCE = Path(__file__).parents[1] / "reference" / "real_photos.toml"
NEAR_MM = 1.5
"""A line drawn on a photograph by hand lies so near to where it is."""
STEP_MM = 0.2


def sampled(line_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """The line with a point every STEP_MM."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line_mm, axis=0).T))])
    at = np.arange(0, along[-1], STEP_MM)
    return np.stack([np.interp(at, along, line_mm[:, k]) for k in (0, 1)], 1)


def in_mm(line_px: list[list[float]], disc: DiscReport) -> NDArray[np.float64]:
    points = np.column_stack([np.asarray(line_px, float), np.ones(len(line_px))])
    mapped = points @ np.asarray(disc.homography_px_to_mm).T
    return mapped[:, :2] / mapped[:, 2:]


def line_lengths_mm(disc: DiscReport, known: list[list[list[float]]]) -> tuple[float, float]:
    """Of the lines reported on a disc: all of them, and those near no line that was written down."""
    spots = [sampled(in_mm(line, disc)) for line in known]
    there = np.concatenate([*spots, np.empty((0, 2))])
    length = false = 0.0
    for defect in disc.defects:
        if defect.kind in ("scratch", "ring_arc", "crack"):
            points = sampled(np.asarray(defect.outline_mm, float))
            away = np.full(len(points), np.inf)
            if len(there):
                away = np.hypot(*(points[:, None] - there[None]).transpose(2, 0, 1)).min(axis=1)
            length, false = length + STEP_MM * len(points), false + STEP_MM * float((away > NEAR_MM).sum())
    return length, false


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    known: dict[str, Any] = tomllib.loads(REFERENCE.read_text(encoding="utf-8"))
    asked = found = sides = told = false_cracks = false_layers = cracked = 0
    false_mm = area_cm2 = 0.0
    empty = sorted(folder.glob("none_*"))
    for photo in discscan.scan([p for p in sorted(folder.iterdir()) if p.stem in known]).photos:
        name = Path(photo.file).stem
        truth = known[name]
        asked, found = asked + truth["discs"], found + min(truth["discs"], len(photo.discs))
        for disc in photo.discs:
            told, sides = told + 1, sides + (disc.side == truth["side"])
            false_layers += any(one.kind == "delamination" for one in disc.defects)
            said = any(one.kind == "crack" for one in disc.defects)
            if truth.get("cracked"):
                cracked += said
                print(f"{name:28s} {disc.side:7s} {disc.verdict.action:9s} cracked, {'told' if said else 'not told'}")
                continue
            false_cracks += said
            _, false = line_lengths_mm(disc, truth.get("lines", []) + truth.get("perhaps", []))
            if disc.side != "label":
                radius_mm = disc.diameter_mm / 2 - 2
                area_cm2 += disc.measured_fraction * np.pi * (radius_mm**2 - 24**2) / 100
            false_mm += false
            print(f"{name:28s} {disc.side:7s} {disc.verdict.action:9s} false lines {false:5.1f} mm")
    nothing = discscan.scan(empty).photos
    print(f"discs found {found} of {asked}; side right {sides} of {told}")
    print(f"false lines {false_mm:.0f} mm on {area_cm2:.0f} cm2: {false_mm / max(area_cm2, 1):.2f} mm per cm2")
    asked_cracked = sum(bool(truth.get("cracked")) for truth in known.values())
    print(f"cracked discs told to be {cracked} of {asked_cracked}, others {false_cracks}")
    print(f"discs falsely said to have parted layers {false_layers}")
    print(f"photographs without a disc {len(nothing)}, with one reported {sum(bool(p.discs) for p in nothing)}")


if __name__ == "__main__":
    main()
