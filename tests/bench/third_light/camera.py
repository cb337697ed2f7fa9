"""From light to the eight bits of a photograph, as a phone makes them."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array

from .surface import LUMA

BLACK, WHITE = 600, 60000
"""Of the sensor's sixteen bits: where no light is, and how much more where it is full."""


@dataclass(frozen=True)
class Shot:
    rgb: Array
    """uint8 (height, width, 3)"""
    exposure: float
    """What radiance was multiplied by; 1 is white."""
    blur_px: float
    jpeg_quality: int


def photographed(rng: Rng, light: Array, on_disc: Array) -> Shot:
    """Of radiance (height, width, 3); `on_disc`: brightnesses (n,) of the disc's pixels."""
    exposure, blur_px = _exposure(rng, light[::7, ::7] @ LUMA.astype(np.float32), on_disc), log_uniform(rng, 0.45, 1.5)
    seen = _lens(rng, np.minimum(light * np.float32(exposure), 6, dtype=np.float32), blur_px)
    eight = _sharpened(rng, _curve(rng, _sensor(rng, seen)))
    return Shot(eight, exposure, blur_px, int(rng.integers(65, 96)))


def _exposure(rng: Rng, grey: Array, on_disc: Array) -> float:
    """By the middle of the picture; most people see to it that the disc is not burnt out."""
    high, wide = grey.shape
    centre = grey[high // 5 : -(high // 5), wide // 5 : -(wide // 5)]
    level = 0.5 * np.minimum(centre, np.quantile(centre, 0.9)).mean() + 0.5 * np.median(grey)
    least = [rng.uniform(0.2, 0.42) / level, 0.95 / np.quantile(centre, rng.uniform(0.8, 0.95))]
    if rng.random() < 0.85:
        least.append(0.85 / np.quantile(on_disc, rng.uniform(0.4, 0.95)))
    return float(min(least))


def _lens(rng: Rng, seen: Array, blur_px: float) -> Array:
    """Shaking, blur, flare, corners that are darker."""
    height, width = seen.shape[:2]
    if rng.random() < 0.12:
        half, turn = int(rng.integers(3, 8)), rng.uniform(0, np.pi)
        kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
        way = np.array([np.cos(turn), np.sin(turn)]) * half / 2
        start, end = (np.round(half + sign * way).astype(int).tolist() for sign in (-1, 1))
        cv2.line(kernel, start, end, (1.0,), 1, cv2.LINE_AA)
        seen = cv2.filter2D(seen, -1, kernel / kernel.sum())
    seen = cv2.GaussianBlur(seen, (0, 0), blur_px)
    if rng.random() < 0.6:
        few = cv2.resize(seen, (width // 16 + 1, height // 16 + 1), interpolation=cv2.INTER_AREA)
        glow = cv2.GaussianBlur(np.maximum(few - 1, 0), (0, 0), rng.uniform(6, 26)) * np.float32(
            rng.uniform(0.05, 0.25)
        )
        seen = (
            seen + cv2.resize(glow, (width, height), interpolation=cv2.INTER_LINEAR) + np.float32(rng.uniform(0, 0.012))
        )
    x, y = (np.linspace(-1, 1, size, dtype=np.float32) ** 2 for size in (width, height))
    return np.asarray(seen * (1 - np.float32(rng.uniform(0, 0.35)) * ((x + y[:, None]) / 2) ** 1.3)[..., None])


def _sensor(rng: Rng, seen: Array) -> Array:
    """One colour a pixel, noise of the light and of the reading, the colours filled in again."""
    balance = np.array([rng.uniform(0.5, 0.7), 1, rng.uniform(0.5, 0.7)], np.float32)
    raw = seen[..., 1].copy()
    raw[0::2, 0::2] = seen[0::2, 0::2, 0] * balance[0]
    raw[1::2, 1::2] = seen[1::2, 1::2, 2] * balance[2]
    full, read = np.float32(log_uniform(rng, 600, 12000)), np.float32(rng.uniform(0.0008, 0.004))
    raw += rng.standard_normal(raw.shape, dtype=np.float32) * np.sqrt(raw.clip(0) / full + read**2)
    bits = np.clip(raw * WHITE + BLACK, 0, WHITE + BLACK).astype(np.uint16)
    rgb = (cv2.cvtColor(bits, cv2.COLOR_BayerRGGB2RGB_EA).astype(np.float32) - BLACK) / WHITE
    cast = np.array([rng.normal(1, 0.06), 1, rng.normal(1, 0.07)], np.float32)
    return np.asarray((rgb / balance * cast).clip(0, 1))


def _curve(rng: Rng, rgb: Array) -> Array:
    """More colour, the curve of sRGB (IEC 61966-2-1), then more contrast and lifted blacks."""
    grey = (rgb @ LUMA.astype(np.float32))[..., None]
    rgb = np.clip(grey + (rgb - grey) * np.float32(rng.uniform(0.95, 1.3)), 0, 1)
    linear = np.linspace(0, 1, 4096)
    shown = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    contrast, lift = rng.uniform(0.1, 0.95), rng.uniform(0.0, 0.04)
    shown += contrast * (shown**2 * (3 - 2 * shown) - shown)
    eight = np.round(255 * (lift + (1 - lift) * shown)).astype(np.uint8)
    return np.asarray(eight[(rgb * 4095).astype(np.int32)])


def _sharpened(rng: Rng, eight: Array) -> Array:
    """Denoising, which smears what is faint, then sharpening; each now and then."""
    if rng.random() < 0.6:
        smooth = cv2.bilateralFilter(eight, 5, rng.uniform(6, 22), 2.0)
        if rng.random() < 0.4:
            parts = cv2.cvtColor(smooth, cv2.COLOR_RGB2YCrCb)
            parts[..., 1:] = cv2.GaussianBlur(parts[..., 1:], (0, 0), 2.0)
            smooth = cv2.cvtColor(parts, cv2.COLOR_YCrCb2RGB)
        eight = cv2.addWeighted(smooth, 0.9, eight, 0.1, 0)
    if rng.random() < 0.75:
        radius, gain = rng.uniform([0.8, 0.15], [2.0, 1.1])
        eight = cv2.addWeighted(eight, 1 + gain, cv2.GaussianBlur(eight, (0, 0), radius), -gain, 0)
    return eight
