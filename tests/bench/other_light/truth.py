"""What is true of a photograph, in the format that models/training/score.py reads: JSON, and a picture of labels."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from .areas import FLAT_PX_MM, HOLE_MM, Area, Flat, Hair
from .lines import Groove, length_mm
from .optics import Array
from .view import View, ellipse_px, through

LABELS = {"scratch": 1, "ring_arc": 2, "crack": 3, "delamination": 4, "smudge": 5, "dust": 6}
HIDDEN = 255
"""Label of what the photograph does not show: cut off, or under a finger."""

UNKNOWN = ("width_um", "depth_um", "strength", "profile", "area_mm2", "length_mm", "contrast", "pieces_mm")
"""Null, unless told."""


@dataclass(frozen=True, kw_only=True)
class Disc:
    """What the truth tells of a disc, whoever draws it; radii in mm."""

    format: str
    recording: str
    condition: str
    rim_mm: float
    recorded_mm: tuple[float, float]
    """Where the tracks begin, and up to where they are written; 0 if nowhere."""
    flat: Flat
    specks: list[tuple[Array, float]]
    hairs: list[Hair]

    @property
    def side(self) -> str:
        """Which one is up."""
        return "data"


class Truth:
    """Gathers the defects of one disc, and the labels of its flat grid."""

    def __init__(self, disc: Disc, px_to_mm: Array, size_px: tuple[int, int], covered: Array) -> None:
        """`covered`: bool (side, side) of the flat grid, what fingers hide."""
        self.disc, self.flat, self.px_to_mm, self.size_px = disc, disc.flat, px_to_mm, size_px
        self.defects: list[dict[str, Any]] = []
        self.labels = np.zeros(covered.shape, np.uint8)
        self.on_disc = disc.flat.on_disc(HOLE_MM, disc.rim_mm)
        x, y = np.broadcast_arrays(*disc.flat.mm())
        px = through(np.linalg.inv(px_to_mm), np.column_stack([x.ravel(), y.ravel()])).reshape(*covered.shape, 2)
        cut = (px < 0).any(2) | (px > np.array(size_px) - 1).any(2)
        self.hidden = (covered | cut) & self.on_disc

    def tell(self, lines: Iterable[tuple[Groove, float]], cracks: Iterable[Array]) -> None:
        """All that befell the disc: lines with their contrasts, and cracks as `crack` takes them."""
        for area in self.flat.areas:
            self.area(area)
        self.dust()
        for line, contrast in lines:
            if line.kind != "swirl":
                self.line(line, contrast)
        for crack in cracks:
            self.crack(crack)

    def write(self, done: Path, view: View, scene: dict[str, Any]) -> Path:
        """The labels, and last of all the truth, which is at `done` only when all is there."""
        record, (width, height) = self.record(view), self.size_px
        cv2.imwrite(str(done.with_name(f"{done.stem}_disc0.png")), self.labels)
        file = done.with_suffix(".jpg").name
        whole = {"file": file, "width_px": width, "height_px": height, "discs": [record], "scene": scene}
        unfinished = done.with_suffix(".part")
        unfinished.write_text(json.dumps(whole), encoding="utf-8")
        return unfinished.rename(done)

    def _seen(self, points_mm: Array) -> float:
        column, row = np.round(self.flat.cells(points_mm)).astype(int).clip(0, self.flat.side - 1).T
        return round(1 - float(self.hidden[row, column].mean()), 3)

    def _tell(self, kind: str, style: str, outline_mm: Array, **more: Any) -> None:
        radius = np.hypot(*outline_mm.T)
        whole: dict[str, Any] = {
            "kind": kind,
            "style": style,
            "outline_mm": np.round(outline_mm, 3).tolist(),
            "radius_min_mm": round(float(radius.min()), 3),
            "radius_max_mm": round(float(radius.max()), 3),
            "seen_fraction": self._seen(outline_mm),
        }
        self.defects.append(whole | dict.fromkeys(UNKNOWN) | more)

    def _draw(self, path_mm: Array, label: int, width_mm: float) -> None:
        cells = np.round(self.flat.cells(path_mm) * 16).astype(np.int32)
        cv2.polylines(self.labels, [cells], False, label, max(1, round(width_mm * FLAT_PX_MM)), cv2.LINE_8, 4)

    def area(self, area: Area) -> None:
        self.labels[area.mask] = LABELS[area.kind]
        size = float(area.mask.sum()) / FLAT_PX_MM**2
        self._tell(area.kind, area.style, area.outline_mm, area_mm2=round(size, 4), strength=round(area.strength, 3))

    def dust(self) -> None:
        for outline, opacity in self.disc.specks:
            self.labels[self.flat.filled(outline)] = LABELS["dust"]
            size = float(cv2.contourArea(outline.astype(np.float32)))
            self._tell("dust", "speck", outline, area_mm2=round(size, 4), strength=round(opacity, 3))
        for hair in self.disc.hairs:
            self._draw(hair.path_mm, LABELS["dust"], hair.width_mm)
            size = hair.width_mm * length_mm(hair.path_mm)
            self._tell(
                "dust", "hair", hair.outline_mm, area_mm2=round(size, 4), width_um=round(1000 * hair.width_mm, 1)
            )

    def line(self, line: Groove, contrast: float) -> None:
        """A groove; where it is shallower than a tenth of its most it counts as broken off."""
        at = np.linspace(0, 1, len(line.depths))
        ends = np.linspace(0, 1, len(line.path_mm))
        path = np.stack([np.interp(at, ends, line.path_mm[:, axis]) for axis in (0, 1)], 1)
        deep = line.depths > 0.1
        runs = np.split(np.arange(len(deep)), 1 + np.nonzero(np.diff(deep))[0])
        pieces = [path[run] for run in runs if deep[run[0]] and len(run) > 2]
        if not pieces:
            return
        for piece in pieces:
            self._draw(piece, LABELS[line.kind], line.width_mm)
        self._tell(
            line.kind,
            line.style,
            path,
            width_um=round(1000 * line.width_mm, 1),
            depth_um=round(500 * line.width_mm * line.slope, 2),
            strength=round(min(1, line.slope), 3),
            profile=np.round(line.depths, 2).tolist(),
            length_mm=round(sum(length_mm(piece) for piece in pieces), 3),
            contrast=round(contrast, 4),
            seen_fraction=self._seen(np.concatenate(pieces)),
            pieces_mm=[np.round(piece, 3).tolist() for piece in pieces],
        )

    def crack(self, path: Array) -> None:
        """(n, 3): points, and the width there in mm."""
        points, wide = path[:, :2], float(np.median(path[:, 2]))
        few = points[:: max(1, len(points) // 50)]
        self._draw(points, LABELS["crack"], wide)
        length = round(length_mm(points), 3)
        self._tell(
            "crack",
            "crack",
            few,
            width_um=round(1000 * wide, 1),
            length_mm=length,
            pieces_mm=[np.round(few, 3).tolist()],
        )

    def record(self, view: View) -> dict[str, Any]:
        """The disc's own record; the labels are whole afterwards."""
        self.labels[~self.on_disc] = 0
        self.labels[self.hidden] = HIDDEN
        disc, to_px = self.disc, np.linalg.inv(self.px_to_mm)
        rim = self.flat.on_disc(disc.rim_mm - 1, disc.rim_mm)
        return {
            "diameter_mm": round(2 * disc.rim_mm),
            "homography_px_to_mm": (self.px_to_mm / self.px_to_mm[2, 2]).tolist(),
            "outer_ellipse_px": ellipse_px(to_px, disc.rim_mm),
            "hole_ellipse_px": ellipse_px(to_px, HOLE_MM),
            "side": disc.side,
            "recording": disc.recording,
            "format": disc.format,
            "condition": disc.condition,
            "recorded_to_mm": round(disc.recorded_mm[1], 2),
            "tilt_deg": round(view.tilt_deg, 3),
            "visible_fraction": round(1 - float(self.hidden.sum() / self.on_disc.sum()), 4),
            "rim_seen_fraction": round(1 - float(self.hidden[rim].mean()), 4),
            "polished": disc.condition == "polished",
            "defects": self.defects,
        }
