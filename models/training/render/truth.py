"""What a rendered photograph truly shows, as JSON and as label images in the report format. No torch here."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.render import geometry as g
from models.training.render.again import upright
from models.training.render.areas import PX_PER_MM, side_px, to_grid
from models.training.render.disc import Disc
from models.training.render.geometry import FloatArray
from models.training.render.marks import LINES, Mark, border
from models.training.render.scene import Scene

LABELS = {"scratch": 1, "ring_arc": 2, "crack": 3, "delamination": 4, "smudge": 5, "dust": 6, "label_damage": 7}
NOT_MEASURED = 255
EDGE_ANGLES = 720


@dataclass(frozen=True)
class Truth:
    """What is known of a photograph.

    Attributes:
        record: the JSON.
        labels: one report-format label image per disc.
        edges_seen: per disc, bool (2, EDGE_ANGLES): where the edges of rim and hole show, by angle in the disc's plane.
    """

    record: dict[str, Any]
    labels: tuple[NDArray[np.uint8], ...]
    edges_seen: tuple[NDArray[np.bool_], ...]


def closed_outline(mark: Mark) -> FloatArray:
    """Centre line for line kinds; a closed border for the others, around hairs and ink scratches too."""
    if mark.kind in LINES or mark.style not in ("hair", "ink_scratch"):
        return mark.outline_mm
    return border(mark.outline_mm, mark.width_um / 2000)


def _area(outline: FloatArray) -> float:
    x, y = outline.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def present_runs(mark: Mark) -> list[FloatArray]:
    """A line's pieces between its breaks."""
    there = mark.profile > 0
    edges = np.flatnonzero(np.diff(np.concatenate([[0], there.astype(int), [0]])))
    return [mark.outline_mm[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 2]


def thinned(points: FloatArray, *, closed: bool) -> list[list[float]]:
    """The same line with points left out that lie within 0.01 mm of it."""
    kept = cv2.approxPolyDP(points.astype(np.float32), 0.01, closed)[:, 0] if len(points) > 2 else points
    return [[round(float(x), 3), round(float(y), 3)] for x, y in kept]


def defect_record(mark: Mark, contrast: float | None, seen: float) -> dict[str, Any]:
    """One mark; `profile` is the share of width and depth at places that lie evenly along a line's `outline_mm`."""
    outline = closed_outline(mark)
    radius = np.hypot(*outline.T)
    line = mark.kind in LINES
    length = sum(float(np.hypot(*np.diff(run, axis=0).T).sum()) for run in present_runs(mark)) if line else None
    return {
        "kind": mark.kind,
        "style": mark.style,
        "outline_mm": thinned(outline, closed=not line),
        "width_um": round(mark.width_um, 1) if mark.width_um else None,
        "depth_um": round(mark.depth_um, 1) if mark.depth_um else None,
        "strength": round(mark.strength, 3),
        "profile": [round(float(share), 2) for share in mark.profile] if line else None,
        "area_mm2": None if line else round(_area(outline), 4),
        "length_mm": round(length, 3) if length is not None else None,
        "radius_min_mm": round(float(radius.min()), 3),
        "radius_max_mm": round(float(radius.max()), 3),
        "contrast": None if contrast is None else round(contrast, 4),
        "seen_fraction": round(seen, 3),
        "pieces_mm": [thinned(run, closed=False) for run in present_runs(mark)] if line else None,
    }


@functools.lru_cache(maxsize=2)
def _face(diameter_mm: int) -> NDArray[np.bool_]:
    """Cells of the label image that lie on the disc."""
    across = (np.arange(side_px(diameter_mm)) - side_px(diameter_mm) / 2) / PX_PER_MM
    radius = np.hypot(across[:, None], across[None])
    return (radius < diameter_mm / 2) & (radius > g.HOLE_MM)


def label_image(disc: Disc, seen: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Report-format labels: areas first, lines on top, 255 where the photograph does not show the disc."""
    size = side_px(disc.diameter_mm)
    image = np.zeros((size, size), np.uint8)
    order = ("smudge", "delamination", "label_damage", "dust", "scratch", "ring_arc", "crack")
    for mark in sorted((m for m in disc.marks if m.kind in LABELS), key=lambda m: order.index(m.kind)):
        value = (LABELS[mark.kind],)
        if mark.kind in LINES or mark.style in ("hair", "ink_scratch"):
            thick = max(1, round((mark.width_um / 1000 + mark.gap_mm) * PX_PER_MM))
            runs = present_runs(mark)
            cv2.polylines(image, [to_grid(run, disc.diameter_mm) for run in runs], False, value, thick, cv2.LINE_8, 4)
        else:
            cv2.fillPoly(image, [to_grid(mark.outline_mm, disc.diameter_mm)], value, cv2.LINE_8, 4)
    on_disc = _face(disc.diameter_mm)
    image[~on_disc] = 0
    image[on_disc & ~seen] = NOT_MEASURED
    return image


def _owned(
    camera: g.Camera, disc: Disc, points_mm: FloatArray, owner: NDArray[np.int16], number: int
) -> NDArray[np.bool_]:
    pixels = np.round(camera.project(disc.frame.to_world(points_mm))).astype(int)
    inside = (
        (pixels[..., 0] >= 0)
        & (pixels[..., 1] >= 0)
        & (pixels[..., 0] < camera.width_px)
        & (pixels[..., 1] < camera.height_px)
    )
    column, row = np.clip(pixels[..., 0], 0, camera.width_px - 1), np.clip(pixels[..., 1], 0, camera.height_px - 1)
    return inside & (owner[row, column] == number)


def build(
    scene: Scene, owner: NDArray[np.int16], contrasts: list[dict[int, float]], *, scale: float, file: str = ""
) -> Truth:
    """Truth of a rendered scene.

    Args:
        owner: (h, w) number of the disc that each rendered pixel shows, -1 elsewhere.
        contrasts: per disc and mark, relative difference of a line from its surroundings.
        scale: final over rendered picture size.
    """
    camera = scene.camera
    shrink = np.array([[1 / scale, 0, 0.5 / scale - 0.5], [0, 1 / scale, 0.5 / scale - 0.5], [0, 0, 1]])
    discs, labels, edges_seen = [], [], []
    for number, disc in enumerate(map(upright, scene.discs)):
        matrix = g.homography_px_to_mm(camera=camera, frame=disc.frame, radius_mm=disc.radius_mm) @ shrink
        matrix /= matrix[2, 2]
        size = side_px(disc.diameter_mm)
        every_fourth = np.arange(0, size, 4) + 1.5
        cells = (np.stack(np.meshgrid(every_fourth, every_fourth), -1) - size / 2) / PX_PER_MM
        seen = _owned(camera, disc, cells, owner, number)
        radius = np.hypot(cells[..., 0], cells[..., 1])
        face = (radius < disc.radius_mm - 0.3) & (radius > g.HOLE_MM + 0.3)
        turn = np.linspace(0, 2 * np.pi, EDGE_ANGLES, endpoint=False)
        circle = np.stack([np.cos(turn), np.sin(turn)], 1)
        edges = np.stack(
            [
                _owned(camera, disc, radius_mm * circle, owner, number)
                for radius_mm in (disc.radius_mm - 0.4, g.HOLE_MM + 0.4)
            ]
        )
        defects = []
        for index, mark in enumerate(disc.marks):
            if mark.kind in LABELS:
                share = float(_owned(camera, disc, mark.outline_mm * 0.998, owner, number).mean())
                defects.append(defect_record(mark, contrasts[number].get(index), share))
        discs.append(
            {
                "diameter_mm": disc.diameter_mm,
                "homography_px_to_mm": matrix.tolist(),
                "outer_ellipse_px": g.circle_ellipse(homography_px_to_mm=matrix, radius_mm=disc.radius_mm),
                "hole_ellipse_px": g.circle_ellipse(homography_px_to_mm=matrix, radius_mm=g.HOLE_MM),
                "side": disc.side,
                "recording": disc.recording,
                "format": disc.format,
                "condition": disc.condition,
                "recorded_to_mm": round(min(disc.look.recorded_to_mm, disc.look.mirror_end_mm), 2),
                "tilt_deg": round(g.tilt_deg(camera=camera, frame=disc.frame), 3),
                "visible_fraction": round(float(seen[face].mean()), 4),
                "rim_seen_fraction": round(float(edges[0].mean()), 4),
                "polished": any(mark.kind == "swirl" for mark in disc.marks),
                "defects": defects,
            }
        )
        labels.append(label_image(disc, seen.repeat(4, 0).repeat(4, 1)))
        edges_seen.append(edges)
    how = scene.capture
    record = {
        "file": file,
        "width_px": round(camera.width_px * scale),
        "height_px": round(camera.height_px * scale),
        "discs": discs,
        "scene": {
            "seed": scene.seed,
            "kind": scene.kind,
            "background": scene.background,
            "things": [t.kind for t in scene.things],
            "fingers": len(scene.fingers),
            "windows": sum(p.light for p in scene.room.panels),
            "lamps": len(scene.room.lamps),
            "k1": camera.k1,
            "focal_px": camera.focal_px * scale,
            **{k: (round(v, 4) if isinstance(v, float) else v) for k, v in vars(how).items()},
        },
    }
    return Truth(record, tuple(labels), tuple(edges_seen))
