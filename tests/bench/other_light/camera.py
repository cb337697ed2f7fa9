"""From light to JPEG, as a phone does it: exposure, lens, sensor, tone curve, denoising, sharpening, chat program."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from .chance import Rng, log_uniform
from .optics import Array, rgb

GAINS = rgb(1.9, 1.0, 1.6)
"""Of red, green and blue of a sensor in daylight, about (from memory)."""


@dataclass(frozen=True)
class Camera:
    """How one photograph was taken."""

    exposure: float
    """How light the picture is, as a share of full."""
    veil: float
    """Share of the light that is spread by the lens."""
    defocus_px: float
    shake_px: float
    shake_deg: float
    vignette: float
    white_balance: tuple[float, float, float]
    noise: float
    """Deviation at full light."""
    contrast: float
    denoise: float
    saturation: float
    sharpen: float
    sharpen_px: float
    jpeg_quality: int
    chroma_half: bool
    chat_scale: float
    """1: not sent through a chat program, which makes pictures smaller."""


def random_camera(rng: Rng) -> Camera:
    warm, green = rng.normal(0, 0.07), rng.normal(0, 0.02)
    return Camera(
        exposure=rng.uniform(0.16, 0.42),
        veil=rng.uniform(0.005, 0.05),
        defocus_px=log_uniform(rng, 0.3, 1.6),
        shake_px=float(rng.exponential(0.6)),
        shake_deg=rng.uniform(0, 180),
        vignette=rng.uniform(0.05, 0.4),
        white_balance=(1 + warm - green / 2, 1 + green, 1 - warm - green / 2),
        noise=log_uniform(rng, 0.004, 0.03),
        contrast=rng.uniform(-0.1, 0.6),
        denoise=rng.uniform(0, 1),
        saturation=rng.uniform(0.9, 1.4),
        sharpen=rng.uniform(0, 1.1),
        sharpen_px=rng.uniform(0.7, 1.6),
        jpeg_quality=int(rng.integers(60, 96)),
        chroma_half=bool(rng.random() < 0.75),
        chat_scale=rng.uniform(0.45, 0.9) if rng.random() < 0.2 else 1.0,
    )


def _lens(light: Array, how: Camera) -> Array:
    height, width = light.shape[:2]
    small = cv2.resize(light, (width // 8, height // 8), interpolation=cv2.INTER_AREA)
    spread = cv2.GaussianBlur(small, (0, 0), 3) + cv2.GaussianBlur(small, (0, 0), width / 160)
    light = light * (1 - how.veil) + how.veil / 2 * cv2.resize(spread, (width, height))
    light = cv2.GaussianBlur(light, (0, 0), how.defocus_px)
    if how.shake_px > 0.5:
        reach = np.linspace(-how.shake_px / 2, how.shake_px / 2, 25)
        half = int(np.ceil(how.shake_px / 2)) + 1
        steps = np.arange(-half, half + 1)
        x, y = reach * np.cos(np.deg2rad(how.shake_deg)), reach * np.sin(np.deg2rad(how.shake_deg))
        hat_x, hat_y = ((1 - np.abs(steps[:, None] - way)).clip(0) for way in (x, y))
        light = cv2.filter2D(light, -1, hat_y @ hat_x.T / len(reach))
    y, x = np.ogrid[0:height, 0:width]
    far = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / (width**2 + height**2) * 4
    return np.asarray(light * (1 - how.vignette * far)[..., None].astype(np.float32) * rgb(*how.white_balance))


def _sensor(rng: Rng, light: Array, how: Camera) -> Array:
    """Red, green, green, blue in squares, with noise, and colours made of them again."""
    raw: Array = np.empty(light.shape[:2], np.float32)
    for row, column, band in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        raw[row::2, column::2] = light[row::2, column::2, band] / GAINS[band]
    raw = raw.clip(0, 1)
    raw = raw + rng.standard_normal(raw.shape, np.float32) * np.sqrt(how.noise**2 * raw + (0.15 * how.noise) ** 2)
    counts = ((0.92 * raw + 0.04).clip(0, 1) * 65535).astype(np.uint16)
    seen = cv2.cvtColor(counts, cv2.COLOR_BayerBG2RGB_EA)  # OpenCV's name for squares that begin with red
    return np.asarray(((seen.astype(np.float32) / 65535 - 0.04) / 0.92 * GAINS).clip(0, 1))


def _developed(light: Array, how: Camera) -> Array:
    # the curve of sRGB (IEC 61966-2-1, from memory), then the maker's own
    tone: Array = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light.clip(1e-6) ** (1 / 2.4) - 0.055)
    tone = tone + how.contrast * (tone * tone * (3 - 2 * tone) - tone)
    parts: Array = cv2.cvtColor(tone.clip(0, 1).astype(np.float32), cv2.COLOR_RGB2YCrCb)
    smooth = cv2.bilateralFilter(parts[..., 0], 5, 3 * how.noise + 0.012, 2)
    parts[..., 0] += how.denoise * (smooth - parts[..., 0])
    parts[..., 1:] = cv2.GaussianBlur(parts[..., 1:], (0, 0), 0.5 + 2 * how.denoise)
    tone = cv2.cvtColor(parts, cv2.COLOR_YCrCb2RGB)
    grey = tone.mean(2, keepdims=True)
    tone = grey + how.saturation * (tone - grey)
    return np.asarray(tone + how.sharpen * (tone - cv2.GaussianBlur(tone, (0, 0), how.sharpen_px)))


def photographed(rng: Rng, light: Array, how: Camera) -> Array:
    """Linear light (height, width, 3) to 8-bit RGB."""
    grey = light[::8, ::8] @ rgb(0.25, 0.6, 0.15)
    level = 0.45 * np.percentile(grey, 62) + 0.2 * grey.mean() + 0.4 * np.percentile(grey, 90)
    light = (light * np.float32(how.exposure / max(float(level), 1e-4))).clip(0, 40)
    tone = _developed(_sensor(rng, _lens(light, how), how), how)
    return (tone.clip(0, 1) * 255 + 0.5).astype(np.uint8)


def save(path: Path, rgb: Array, how: Camera) -> tuple[int, int]:
    """Writes the JPEG; returns its width and height."""
    picture = Image.fromarray(rgb)
    if how.chat_scale < 1:
        before = BytesIO()
        picture.save(before, "JPEG", quality=90)
        size = round(picture.width * how.chat_scale), round(picture.height * how.chat_scale)
        picture = Image.open(before).resize(size, Image.Resampling.LANCZOS)
    picture.save(path, "JPEG", quality=how.jpeg_quality, subsampling=2 if how.chroma_half else 0)
    return picture.size
