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


def hand(rng: Rng, rim_mm: float, held: bool) -> list[Finger]:
    """None, a thumb, or two to four fingers side by side."""
    if not held and rng.random() > 0.14:
        return []
    skin = np.array([0.52, 0.33, 0.24]) * rng.uniform(0.25, 1.25) * np.exp(rng.normal(0, 0.06, 3))
    many = int(rng.choice([1, 2, 3, 4], p=[0.6, 0.15, 0.15, 0.1]))
    turn, deep = rng.uniform(0, 2 * np.pi), rng.uniform(5, 17)
    found = []
    for number in range(many):
        half = rng.uniform(8.5, 11) if many == 1 else rng.uniform(7, 8.5)
        here = turn + (number - many / 2) * 16.5 / rim_mm
        lean = here + (rng.normal(0, 0.35) if many == 1 else rng.normal(0, 0.05) + 0.4 * (turn - here))
        tip = (rim_mm - deep * rng.uniform(0.7, 1.2)) * np.array([np.cos(here), np.sin(here)])
        out = np.array([np.cos(lean), np.sin(lean)])
        found.append(Finger(*_shape(rng, tip, out, half), skin))
    return found


def _shape(rng: Rng, tip: Array, out: Array, half_mm: float) -> tuple[Array, Array]:
    """Outline and nail of a finger whose tip lies at `tip` and that comes from `out`."""
    side = np.array([-out[1], out[0]])
    along = np.concatenate([half_mm * (1 - np.cos(np.linspace(0, np.pi / 2, 20))), np.linspace(half_mm + 3, 95, 16)])
    wide = np.concatenate([half_mm * np.sin(np.linspace(0, np.pi / 2, 20)), np.full(16, half_mm)])
    knuckle = 1 + 0.09 * np.exp(-(((along - 29) / 7) ** 2)) + 0.1 * (along / 95)
    bend = rng.normal(0, 0.0012) * along**2
    left = tip + along[:, None] * out + (bend + wide * knuckle)[:, None] * side
    right = tip + along[:, None] * out + (bend - wide * knuckle)[:, None] * side
    turn = np.linspace(0, 2 * np.pi, 40)
    nail = tip + (0.75 * half_mm + 5.5 * np.cos(turn))[:, None] * out
    nail = nail + (rng.normal(0, 0.12) * half_mm + 0.62 * half_mm * np.sin(turn))[:, None] * side
    return np.concatenate([left, right[::-1]]), nail


def show(rng: Rng, picture: Array, view: View, fingers: list[Finger], falls: Array, disc_px: Array) -> None:
    """Draws fingers on radiances (H, W, 3), and their images in the disc, whose share is disc_px (H, W)."""
    height, width = picture.shape[:2]
    for finger in fingers:
        mask = _filled(view.px(finger.outline_mm), (height, width))
        small = cv2.resize(mask, (max(8, width // 8), max(8, height // 8)), interpolation=cv2.INTER_AREA)
        scale = float(np.hypot(*(view.px(np.array([[8.0, 0]])) - view.px(np.zeros((1, 2))))[0]) / 8)
        deep = cv2.distanceTransform((small > 0.5).astype(np.uint8), cv2.DIST_L2, 5) / scale
        round_ = np.sqrt((1 - (1 - deep / 1.05).clip(0, 1) ** 2).clip(0, 1))
        round_ = 0.35 + 0.65 * cv2.GaussianBlur(round_.astype(np.float32), (0, 0), 1.0 + scale / 5)
        round_ *= np.exp(0.08 * cloud(rng, *small.shape, max(3, scale * 0.6), 3))
        light = (
            cv2.resize(round_, (width, height), interpolation=cv2.INTER_CUBIC)[..., None] * finger.skin * falls / np.pi
        )
        near = cv2.GaussianBlur(small, (0, 0), scale * 0.45 + 0.5)
        near = cv2.resize(near, (width, height), interpolation=cv2.INTER_LINEAR)[..., None]
        image = (0.75 * near * disc_px[..., None]).astype(np.float32)
        picture += image * (0.18 * finger.skin * falls / np.pi - picture).astype(np.float32)
        picture *= 1 - 0.35 * near * (1 - disc_px[..., None])
        nail = cv2.GaussianBlur(_filled(view.px(finger.nail_mm), (height, width)), (0, 0), 0.15 * scale * 8 / 8 + 0.8)
        light = light * (1 + nail[..., None] * np.array([0.25, 0.22, 0.25]))
        picture += mask[..., None] * (light - picture).astype(np.float32)


def _filled(outline_px: Array, size: tuple[int, int]) -> Array:
    mask = np.zeros(size, np.uint8)
    cv2.fillPoly(mask, [np.round(outline_px * 16).clip(-(2**24), 2**24).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return mask.astype(np.float32) / 255
