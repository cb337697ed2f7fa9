"""A hand at the rim: thumb or fingers over it, and their dim image in the mirror."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, cloud
from bench.other_light.optics import Array
from bench.other_light.view import View


@dataclass(frozen=True)
class Finger:
    outline_mm: Array
    """(n, 2)"""
    nail_mm: Array
    skin: Array
    """(3,), albedo"""


def hand(rng: Rng, view: View, rim_mm: float, held: bool) -> list[Finger]:
    """None, a thumb, or two fingers side by side."""
    if not held and rng.random() > 0.14:
        return []
    skin = np.array([0.60, 0.41, 0.31]) * rng.uniform(0.3, 1.2) * np.exp(rng.normal(0, 0.06, 3))
    many = int(rng.choice([1, 2], p=[0.8, 0.2]))
    turn, deep = rng.uniform(0, 2 * np.pi), rng.uniform(5, 17)
    found = []
    for number in range(many):
        half = rng.uniform(8.5, 11) if many == 1 else rng.uniform(7, 8.5)
        here = turn + (number - many / 2) * 16.5 / rim_mm
        lean = here + (rng.normal(0, 0.35) if many == 1 else rng.normal(0, 0.05) + 0.4 * (turn - here))
        tip = (rim_mm - deep * rng.uniform(0.7, 1.2)) * np.array([np.cos(here), np.sin(here)])
        out = np.array([np.cos(lean), np.sin(lean)])
        found.append(Finger(*_shape(rng, tip, out, half, _reach_mm(view, tip, out)), skin))
    return found


def _reach_mm(view: View, tip: Array, out: Array) -> float:
    """How far from its tip a hand is drawn: it must not come to lie behind the camera."""
    deep = float(view.axes[2] @ (np.array([*tip, 0]) - view.camera_mm))
    nearer = -float(view.axes[2, :2] @ out)
    return min(600.0, 0.6 * deep / nearer) if nearer > 0 else 600.0


def _shape(rng: Rng, tip: Array, out: Array, half_mm: float, reach_mm: float) -> tuple[Array, Array]:
    """Outline and nail of a finger whose tip lies at `tip` and that comes from `out`."""
    side = np.array([-out[1], out[0]])
    round_ = np.linspace(0, np.pi / 2, 24)
    along = np.concatenate([1.15 * half_mm * (1 - np.cos(round_)), np.linspace(1.15 * half_mm + 3, reach_mm, 80)])
    wide = np.concatenate([half_mm * np.sin(round_), np.full(80, half_mm)])
    # the joint is thicker, and behind the second one the hand begins
    knuckle = 1 + 0.1 * np.exp(-(((along - 30) / 8) ** 2)) + 2.2 * np.clip((along - 62) / 60, 0, 1.2) ** 1.5
    bend = rng.normal(0, 0.0012) * np.minimum(along, 70) ** 2
    left = tip + along[:, None] * out + (bend + wide * knuckle)[:, None] * side
    right = tip + along[:, None] * out + (bend - wide * knuckle)[:, None] * side
    turn = np.linspace(0, 2 * np.pi, 40)
    nail = tip + (0.75 * half_mm + 5.5 * np.cos(turn))[:, None] * out
    nail = nail + (rng.normal(0, 0.12) * half_mm + 0.62 * half_mm * np.sin(turn))[:, None] * side
    return np.concatenate([left, right[::-1]]), nail


def show(rng: Rng, picture: Array, view: View, fingers: list[Finger], falls: Array, disc_px: Array) -> None:
    """Draws fingers on radiances (H, W, 3), and their images in the disc, whose share is disc_px (H, W)."""
    scale = float(np.hypot(*(view.px(np.array([[8.0, 0]])) - view.px(np.zeros((1, 2))))[0]) / 8)
    for finger in fingers:
        box = _around(view.px(finger.outline_mm), picture.shape[:2], 8 * scale)
        if box is None:
            continue
        part, on_disc = picture[box], disc_px[box][..., None]
        height, width = part.shape[:2]
        corner = np.array([box[1].start, box[0].start])
        mask = _filled(view.px(finger.outline_mm) - corner, (height, width))
        small = cv2.resize(mask, (max(8, width // 8), max(8, height // 8)), interpolation=cv2.INTER_AREA)

        def fine(coarse: Array, size: tuple[int, int] = (width, height)) -> Array:
            return cv2.resize(coarse.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)[..., None]

        deep_mm = cv2.distanceTransform((small > 0.5).astype(np.uint8), cv2.DIST_L2, 5) * 8 / scale
        bulge = np.sqrt((1 - (1 - deep_mm / 9).clip(0, 1) ** 2).clip(0, 1)).astype(np.float32)
        bulge = 0.4 + 0.6 * cv2.GaussianBlur(bulge, (0, 0), 0.15 * scale + 0.5)
        bulge *= np.exp(0.05 * cloud(rng, small.shape[0], small.shape[1], max(3, scale * 0.5), 3))
        lit = (finger.skin * falls / np.pi).astype(np.float32)
        near = fine(cv2.GaussianBlur(small, (0, 0), scale * 0.3 + 0.5))
        part += 0.75 * near * on_disc * (0.25 * lit - part)
        part *= 1 - 0.35 * near * (1 - on_disc)
        nail = cv2.GaussianBlur(_filled(view.px(finger.nail_mm) - corner, (height, width)), (0, 0), 0.15 * scale + 0.5)
        light = fine(bulge) * lit * (1 + nail[..., None] * np.array([0.25, 0.22, 0.25], np.float32))
        part += mask[..., None] * (light - part)


def _around(outline_px: Array, size: tuple[int, int], margin: float) -> tuple[slice, slice] | None:
    """Rows and columns about an outline, within a picture (height, width)."""
    low = (outline_px.min(0) - margin).clip(0).astype(int)
    high = (outline_px.max(0) + margin).clip(0, [size[1], size[0]]).astype(int)
    return (slice(low[1], high[1]), slice(low[0], high[0])) if (high - low > 8).all() else None


def _filled(outline_px: Array, size: tuple[int, int]) -> Array:
    mask = np.zeros(size, np.uint8)
    cv2.fillPoly(mask, [np.round(outline_px * 16).clip(-(2**24), 2**24).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return mask.astype(np.float32) / 255
