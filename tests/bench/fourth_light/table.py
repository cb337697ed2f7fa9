"""What a disc lies on: wood, cloth, checks, print, paper, stone, carpet, glass; and its shadow there."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng, cloud, colour, log_uniform, ramp
from bench.other_light.optics import Array
from bench.other_light.view import View

from .around import Around
from .clutter import strewn
from .view import lower

THICK_MM = 1.2
"""Of a disc (ECMA-267, 10.1; the same on CD)."""
CELLS = 2200


def _wood(rng: Rng, side: int, per_mm: float) -> Array:
    base = np.array([0.42, 0.24, 0.12]) * log_uniform(rng, 0.35, 1.7) * rng.normal(1, 0.06, 3)
    long, fine = cloud(rng, 60, side, 9 * per_mm, 4), cloud(rng, 500, side, 0.6 * per_mm, 2)
    grain = cv2.resize(long, (side, side), interpolation=cv2.INTER_CUBIC)
    rings = np.sin(grain * rng.uniform(1.5, 6) + np.linspace(0, side / per_mm / rng.uniform(4, 14), side)[None, :])
    pores = cv2.resize(fine, (side, side))
    plank = max(2, int(rng.uniform(50, 150) * per_mm))
    boards = np.arange(side)[None, :] // plank
    shade = 1 + 0.12 * rng.standard_normal(side // plank + 1)[boards]
    gaps = 1 - 0.6 * (np.arange(side)[None, :] % plank < 0.7 * per_mm) * (rng.random() < 0.6)
    return np.asarray(base * ((1 + 0.14 * rings + 0.1 * pores) * shade * gaps).clip(0.1)[..., None])


def _cloth(rng: Rng, side: int, per_mm: float) -> Array:
    one, other = colour(rng, 0.05, 0.75, 0.4), colour(rng, 0.05, 0.8, 0.25)
    axis = np.arange(side) / per_mm
    share = np.zeros((side, side))
    if rng.random() < 0.45:  # checks or stripes
        period = log_uniform(rng, 6, 60)
        band = (axis / period % 1 < 0.5).astype(float)
        share = (band[:, None] + band[None, :] * (rng.random() < 0.7)) / 2
    elif rng.random() < 0.4:  # printed spots
        share = ramp(0.5, 0.8, cloud(rng, side, side, log_uniform(rng, 6, 40) * per_mm, 1))
    thread = rng.uniform(0.5, 1.4)
    weave = np.sin(2 * np.pi * axis / thread)[:, None] * np.sin(2 * np.pi * axis / thread)[None, :]
    folds = cloud(rng, side, side, 70 * per_mm, 2)
    rough = cloud(rng, side, side, 0.7 * per_mm, 1) + cloud(rng, side, side, 2.0, 1)
    light = 1 + 0.1 * weave + 0.1 * rough + 0.1 * folds
    return np.asarray((one * (1 - share[..., None]) + other * share[..., None]) * light.clip(0.2)[..., None])


def _speckled(rng: Rng, side: int, per_mm: float) -> Array:
    """Stone, concrete, a worktop of grains."""
    base = colour(rng, 0.08, 0.7, 0.15)
    grain, large = cloud(rng, side, side, log_uniform(rng, 0.4, 4) * per_mm, 3), cloud(rng, side, side, 60 * per_mm, 4)
    amount = log_uniform(rng, 0.04, 0.35)
    return np.asarray(base * np.exp(amount * grain + 0.12 * large)[..., None])


def _carpet(rng: Rng, side: int, per_mm: float) -> Array:
    tufts = cloud(rng, side, side, rng.uniform(1.5, 3.5) * per_mm, 3) + 0.9 * cloud(rng, side, side, 0.5 * per_mm, 2)
    patches = ramp(-0.2, 0.2, cloud(rng, side, side, 40 * per_mm, 2)) * rng.integers(0, 2)
    one, other = colour(rng, 0.04, 0.5, 0.25), colour(rng, 0.04, 0.5, 0.25)
    whole = one * (1 - patches[..., None]) + other * patches[..., None]
    return np.asarray(whole * np.exp(0.35 * tufts)[..., None])


def _plain(rng: Rng, side: int, per_mm: float) -> Array:
    """Paper, lacquer, plastic, leather."""
    base = colour(rng, 0.03, 0.9, 0.12 if rng.random() < 0.7 else 0.6)
    return np.asarray(base * (1 + 0.015 * cloud(rng, side, side, 3 * per_mm, 3))[..., None])


KINDS = {"wood": _wood, "cloth": _cloth, "speckled": _speckled, "carpet": _carpet, "plain": _plain}


def random_table(rng: Rng, view: View, rim_mm: float) -> tuple[str, Array]:
    """A kind, and its albedo (height, width, 3) at every pixel of the photograph, with things that lie about."""
    kind = str(rng.choice(list(KINDS), p=[0.34, 0.24, 0.14, 0.1, 0.18]))
    down = lower(view, -THICK_MM)
    corners = np.array([[0, 0], [view.width_px, 0], [0, view.height_px], [view.width_px, view.height_px]], np.float64)
    spread = cv2.perspectiveTransform(corners[None], np.linalg.inv(down))[0]
    half = min(float(np.abs(spread).max()) * 1.02, 420.0)
    per_mm = CELLS / 2 / half
    albedo = KINDS[kind](rng, CELLS, per_mm).clip(0.01, 0.95).astype(np.float32)
    if rng.random() < 0.5:
        strewn(rng, albedo, per_mm, rim_mm)
    lie = rng.uniform(0, 2 * np.pi) if rng.random() < 0.5 else rng.normal(0, 0.15)
    cosine, sine = np.cos(lie) / per_mm, np.sin(lie) / per_mm
    to_mm = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]]) @ np.array(
        [[1, 0, -(CELLS - 1) / 2], [0, 1, -(CELLS - 1) / 2], [0, 0, 1]]
    )
    size = (view.width_px, view.height_px)
    seen = cv2.warpPerspective(albedo, down @ to_mm, size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REFLECT_101)
    fine = cloud(rng, view.height_px, view.width_px, max(1.5, 0.25 * view.focal_px / float(view.camera_mm[2])), 2)
    rough = np.float32(log_uniform(rng, 0.02, 0.1) * (0.4 if kind == "plain" else 1.0))
    return kind, seen * np.exp(rough * fine)[..., None]


def lit(rng: Rng, albedo: Array, view: View, around: Around, rim_mm: float) -> Array:
    """The table's light, darker below and beside the disc, whose side it shows at the near edge."""
    height, width = albedo.shape[:2]
    soft = 4 if width > 1600 else 2
    small = (width // soft + 1, height // soft + 1)
    shrink = np.diag([1 / soft, 1 / soft, 1.0])
    shift = -around.main[:2] / max(float(around.main[2]), 0.3) * THICK_MM
    angle = np.linspace(0, 2 * np.pi, 240)
    ring = rim_mm * np.stack([np.cos(angle), np.sin(angle)], 1)
    shade = np.zeros(small[::-1], np.float32)
    per_mm = view.focal_px / float(np.linalg.norm(view.camera_mm)) / soft
    for offset, blur_mm, dark in ((0.4 * shift, 0.7, 0.45), (1.0 * shift, 2.5, 0.35)):
        there = cv2.perspectiveTransform((ring + offset)[None], shrink @ lower(view, -THICK_MM))
        mask = np.zeros(small[::-1], np.float32)
        cv2.fillPoly(mask, [np.round(there[0] * 16).astype(np.int32)], 1.0, cv2.LINE_8, 4)
        shade += dark * cv2.GaussianBlur(mask, (0, 0), max(0.5, blur_mm * per_mm))
    falls = (around.falls / np.pi).astype(np.float32)
    tilt = rng.normal(0, 0.12, 2)
    slope = 1 + tilt[0] * np.linspace(-1, 1, width)[None, :] + tilt[1] * np.linspace(-1, 1, height)[:, None]
    shade = cv2.resize(shade, (small[0] * soft, small[1] * soft))[:height, :width]
    lighted = albedo * falls * (slope * (1 - shade)).astype(np.float32)[..., None]
    side = cv2.perspectiveTransform(ring[None], lower(view, -THICK_MM))
    mask = np.zeros((height, width), np.uint8)
    cv2.fillPoly(mask, [np.round(side[0] * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    edge = np.float32(rng.uniform(0.25, 0.8)) * (mask / np.float32(255))[..., None]
    return np.asarray(lighted * (1 - edge * 0.6) + edge * 0.35 * falls * np.float32(rng.uniform(0.2, 1.3)))
