"""From radiance to a JPEG: lens, hand, sensor, and what a phone makes of it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array

GREY = np.array([0.2126, 0.7152, 0.0722], np.float32)


@dataclass(frozen=True)
class Camera:
    bias_ev: float
    defocus_px: float
    shake_px: float
    shake_turn: float
    glow: float
    corners: float
    noise: float
    """Deviation of a dark pixel, as a share of white."""
    smear: float
    sharpened: float
    contrast: float
    saturation: float
    balance: tuple[float, float]
    """Gains of red and blue that are left over."""
    quality: int
    halved_colour: bool
    chat_scale: float
    """1: sent as it is."""


def random_camera(rng: Rng, dim: bool) -> Camera:
    blurry = rng.random() < 0.2
    return Camera(
        bias_ev=float(rng.normal(0, 0.4)),
        defocus_px=float(rng.uniform(1, 2.6) if blurry else rng.uniform(0.2, 0.9)),
        shake_px=float(log_uniform(rng, 1.5, 6) if rng.random() < (0.3 if dim else 0.1) else 0),
        shake_turn=float(rng.uniform(0, np.pi)),
        glow=float(rng.choice([0.0, 0.02, 0.08]) * rng.random()),
        corners=float(rng.uniform(0, 0.35)),
        noise=log_uniform(rng, 0.003, 0.016) if dim else log_uniform(rng, 0.001, 0.008),
        smear=float(rng.uniform(0, 1)),
        sharpened=float(rng.choice([0, 0.4, 0.8, 1.6]) * rng.random()),
        contrast=float(rng.uniform(0.0, 0.8)),
        saturation=float(rng.uniform(0.9, 1.35)),
        balance=(float(np.exp(rng.normal(0, 0.07))), float(np.exp(rng.normal(0, 0.09)))),
        quality=int(rng.integers(60, 96)),
        halved_colour=bool(rng.random() < 0.8),
        chat_scale=float(rng.uniform(0.5, 0.85)) if rng.random() < 0.2 else 1.0,
    )


def exposure_for(picture: Array, disc: Array, bias_ev: float) -> float:
    """Metered over the whole and the disc; lamps count little."""
    bright = [np.median(part[::5, ::5] @ GREY) for part in (picture, disc)]
    mean = np.minimum(picture[::4, ::4] @ GREY, 4 * max(bright)).mean()
    return float(0.27 / max(1e-5, 0.4 * bright[0] + 0.4 * bright[1] + 0.2 * mean) * 2**bias_ev)


def grey_world(picture: Array, white: Array) -> Array:
    """Gains (3,) of a phone's white balance: most of the way to the lamps' colour."""
    seen = 0.75 * white.mean((0, 1)) + 0.25 * picture[::8, ::8].mean((0, 1)) * white.mean() / picture[::8, ::8].mean()
    gain = (seen[1] / seen) ** 0.8
    return np.asarray(gain / gain.min(), np.float32)


def _kernel(camera: Camera) -> Array:
    """The hand's line through the lens's small round blot."""
    half = int(np.ceil(camera.defocus_px + camera.shake_px / 2)) + 1
    axis = np.arange(-half, half + 1)
    x, y = np.meshgrid(axis, axis)
    kernel = np.zeros(x.shape)
    for t in np.linspace(-0.5, 0.5, 9) if camera.shake_px else (0.0,):
        off = t * camera.shake_px * np.array([np.cos(camera.shake_turn), np.sin(camera.shake_turn)])
        kernel += (camera.defocus_px + 0.5 - np.hypot(x - off[0], y - off[1])).clip(0, 1)
    return np.asarray(kernel / kernel.sum(), np.float32)


def _developed(rng: Rng, picture: Array, camera: Camera) -> Array:
    """Through a mosaic of colours with noise, and back to three colours, denoised."""
    height, width = picture.shape[:2]
    raw = np.empty((height, width), np.float32)
    for row, column, part in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        raw[row::2, column::2] = picture[row::2, column::2, part]
    noise = rng.standard_normal(raw.shape, np.float32)
    raw += noise * np.sqrt(camera.noise**2 + 0.35 * camera.noise * raw.clip(0) * 0.2)
    sensor = (raw.clip(0, 1) * 60000).astype(np.uint16)
    colours = cv2.cvtColor(sensor, cv2.COLOR_BayerBG2RGB).astype(np.float32) / 60000
    root = np.sqrt(colours)
    if camera.smear > 0.2:
        soft = cv2.bilateralFilter(root, 5, float(0.02 + 3 * camera.noise), 2.0)
        root = root + camera.smear * (soft - root)
    luma = root @ GREY
    chroma = cv2.blur(root - luma[..., None], (3, 3) if camera.noise < 0.006 else (7, 7))
    return np.asarray((luma[..., None] + chroma).clip(0, 1) ** 2)


def photographed(rng: Rng, picture: Array, camera: Camera, exposure: float, gains: Array) -> Array:
    """Eight bits, blue first."""
    seen = np.minimum(picture * np.float32(exposure / gains[1]), 40)
    seen = cv2.filter2D(seen, -1, _kernel(camera), borderType=cv2.BORDER_REPLICATE)
    if camera.glow:
        small = cv2.resize(seen, None, fx=1 / 16, fy=1 / 16, interpolation=cv2.INTER_AREA)
        halo = cv2.GaussianBlur(small, (0, 0), max(1.0, 0.03 * max(small.shape[:2])))
        seen = seen + camera.glow * cv2.resize(halo, seen.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    height, width = seen.shape[:2]
    x, y = np.linspace(-1, 1, width)[None, :], np.linspace(-1, 1, height)[:, None]
    seen = seen * (1 - camera.corners * (x**2 + y**2) / 2)[..., None].astype(np.float32)
    seen = _developed(rng, seen, camera) * gains * np.array([camera.balance[0], 1, camera.balance[1]], np.float32)
    seen = seen.clip(0, 1)
    grey = (seen @ GREY)[..., None]
    seen = (grey + camera.saturation * (seen - grey)).clip(0, 1)
    tone = np.where(seen < 0.0031308, 12.92 * seen, 1.055 * np.maximum(seen, 1e-6) ** (1 / 2.4) - 0.055)
    tone = tone + camera.contrast * (tone * tone * (3 - 2 * tone) - tone)
    tone = tone.astype(np.float32)
    if camera.sharpened:
        tone = tone + camera.sharpened * (tone - cv2.GaussianBlur(tone, (0, 0), 1.3))
    eight = (255 * tone[..., ::-1]).clip(0, 255).round().astype(np.uint8)
    if camera.chat_scale < 1:
        size = (round(width * camera.chat_scale), round(height * camera.chat_scale))
        eight = cv2.resize(eight, size, interpolation=cv2.INTER_AREA)
    return np.asarray(eight)


def encoded(eight: Array, camera: Camera) -> bytes:
    sampling = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if camera.halved_colour else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
    kept = [cv2.IMWRITE_JPEG_QUALITY, camera.quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, sampling]
    return cv2.imencode(".jpg", eight, kept)[1].tobytes()
