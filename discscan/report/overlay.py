"""The defects' outlines in pixels of the photograph, for a screen that ties marks to rows of the table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from discscan.records import LINE_KINDS
from discscan.report.schema import DiscReport
from discscan.report.styles import NUMBERED


@dataclass(frozen=True)
class Outline:
    """One numbered defect.

    Attributes:
        number: as in the pictures and the table.
        path: the `d` of an SVG path, in pixels of the upright photograph.
    """

    number: int
    path: str


def outlines(disc: DiscReport) -> list[Outline]:
    """Of the defects that have a number, in their order."""
    to_px = np.linalg.inv(np.array(disc.homography_px_to_mm))
    found = []
    for number, defect in enumerate(disc.defects[:NUMBERED], start=1):
        mm = np.array(defect.outline_mm)
        x, y, w = to_px @ np.vstack([mm.T, np.ones(len(mm))])
        points = "L".join(f"{a:.0f} {b:.0f}" for a, b in zip(x / w, y / w, strict=True))
        found.append(Outline(number, f"M{points}{'' if defect.kind in LINE_KINDS else 'Z'}"))
    return found
