"""Print on a disc's light, its wounds, and what the truth tells of them."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from bench.other_light.areas import Area
from bench.other_light.optics import Array
from bench.other_light.truth import Truth
from bench.other_light.view import View

from .cards import Scene
from .label import Label, Wound
from .optics import top_face
from .pen import DARKEST, LUMA
from .pose import to_eye
from .surface import Surface

LABEL_DAMAGE = 7
"""Its label in the picture of labels (REPORT_FORMAT)."""


def print_on(label: Label, view: View, scene: Scene, whole: Surface, rim_mm: float) -> list[float]:
    """Lays the print on, and its wounds; says the contrast of each wound."""
    height, width = whole.radius_mm.shape
    few = np.ascontiguousarray(whole.points_mm[::16, ::16])
    falls = cv2.resize(scene.falls(few, whole.ambient) / np.float32(np.pi), (width, height))
    side = len(label.metal)
    half = rim_mm + 2
    to_mm = np.array([[2 * half / side, 0, half / side - half], [0, 2 * half / side, half / side - half], [0, 0, 1]])
    move = np.array([[1, 0, -whole.corner[0]], [0, 1, -whole.corner[1]], [0, 0, 1.0]])
    inked: Array = np.dstack([label.print_, label.metal]).astype(np.float32)
    inked = np.asarray(cv2.warpPerspective(inked, move @ view.homography @ to_mm, (width, height)))
    sheen = top_face(to_eye(view, np.zeros((1, 2), np.float32))[0, 2:])[0] * label.gloss
    silver = 0.5 * whole.mirrored + 0.25 * falls
    printed = falls * inked[..., :3] * (1 - inked[..., 3:]) + inked[..., 3:] * silver + sheen * whole.mirrored
    pixel_mm = float(np.linalg.norm(view.camera_mm)) / view.focal_px
    over = ((whole.radius_mm - label.bare_mm) / pixel_mm + 0.5).clip(0, 1)
    over = over * ((rim_mm - 0.5 - whole.radius_mm) / pixel_mm + 0.5).clip(0, 1)
    contrasts = []
    masks = [_cover(wound, view, whole) for wound in label.wounds]
    whole.light += over[..., None] * (printed - whole.light)
    for wound, mask in zip(label.wounds, masks, strict=True):
        bare = wound.bright * silver + (1 - wound.bright) * (0.04 * falls + sheen * whole.mirrored)
        before, after = whole.light @ LUMA, bare @ LUMA
        change = np.abs(after - before) / np.maximum(before, DARKEST) * mask
        on = mask > 0.2
        contrasts.append(float(min(1.0, change[on].mean())) if on.any() else 0.0)
        whole.light += mask[..., None] * (bare - whole.light)
    return contrasts


def _cover(wound: Wound, view: View, whole: Surface) -> Array:
    """Its share of each pixel, (h, w): drawn four times as fine as eighths of a pixel go where it is thin."""
    outline = view.px(wound.outline_mm) - np.array(whole.corner)
    height, width = whole.radius_mm.shape
    low = np.floor(outline.min(0)).astype(int).clip(0, [width - 1, height - 1])
    high = (np.ceil(outline.max(0)).astype(int) + 2).clip(low + 1, [width, height])
    size = high - low
    fine = np.zeros((4 * size[1], 4 * size[0]), np.uint8)
    cells = (outline - low + 0.5) * 4 - 0.5
    cv2.fillPoly(fine, [np.round(cells * 16).astype(np.int32)], 255, cv2.LINE_8, 4)
    mask = np.zeros((height, width), np.float32)
    mask[low[1] : high[1], low[0] : high[0]] = cv2.resize(fine, size.tolist(), interpolation=cv2.INTER_AREA) / 255
    return mask


class LabelTruth(Truth):
    """Tells wounds of the print besides what lies on it."""

    def wound(self, wound: Wound, contrast: float) -> None:
        """A wound, and by how much it changes the pixels it covers."""
        mask = self.flat.filled(wound.outline_mm) & self.on_disc
        self.labels[mask] = LABEL_DAMAGE
        area = Area("label_damage", wound.style, wound.outline_mm, abs(wound.bright - 0.5) + 0.5, mask)
        more: dict[str, Any] = {
            "area_mm2": round(float(cv2.contourArea(wound.outline_mm.astype(np.float32))), 4),
            "strength": round(area.strength, 3),
        }
        if wound.width_mm is not None:
            more |= {"width_um": round(1000 * wound.width_mm, 1), "contrast": round(contrast, 4)}
        self._tell(area.kind, area.style, area.outline_mm, **more)
