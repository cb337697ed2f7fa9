"""From light to eight bits: lens, shake, sensor of a colour mosaic, denoising, sharpening, tones, shrinking."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array

from .optics import LUMA


@dataclass(frozen=True)
class Shot:
    rgb: Array
    """uint8 (height, width, 3)."""
    exposure: float
    """What light is multiplied by; 1 is white."""
    blur_px: float
    jpeg: list[int]


def exposure_of(rng: Rng, picture: Array) -> float:
    """By a phone's meter: the middle to a mid grey, unless too much would be white."""
    height, width = picture.shape[:2]
    luma = picture[::7, ::7] @ LUMA
    middle = picture[height // 6 : -height // 6 : 7, width // 6 : -width // 6 : 7] @ LUMA
    grey = 0.24 / float(np.exp(np.log(middle.clip(1e-4)).mean()))
    return float(min(grey, 1.5 / float(np.quantile(luma, 0.93))) * np.exp(rng.normal(0, 0.25)))


def _lens(rng: Rng, light: Array, scale: float) -> tuple[Array, float]:
    """Blur of focus, a shake now and then, flare, darker corners; `scale`: long side over 2000."""
    blur = log_uniform(rng, 0.45, 1.3) * max(0.7, scale)
    if rng.random() < 0.15:
        blur *= rng.uniform(1.3, 2.2)
    light = cv2.GaussianBlur(light, (0, 0), blur)
    if rng.random() < 0.25:
        long, way = rng.uniform(1, 5) * max(0.6, scale), rng.uniform(0, np.pi)
        reach = int(np.ceil(long)) + 1
        kernel = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
        for at in np.linspace(-long / 2, long / 2, 25):
            column, row = reach + at * np.cos(way), reach + at * np.sin(way)
            left, top = int(column), int(row)
            for dx, dy in ((0, 0), (1, 0), (0, 1), (1, 1)):
                kernel[top + dy, left + dx] += abs(1 - dx - (column - left)) * abs(1 - dy - (row - top))
        light = cv2.filter2D(light, -1, kernel / kernel.sum(), borderType=cv2.BORDER_REPLICATE)
    height, width = light.shape[:2]
    small = cv2.resize(light.clip(0, 8), (width // 8 + 1, height // 8 + 1), interpolation=cv2.INTER_AREA)
    veil = cv2.GaussianBlur(small, (0, 0), max(width, height) / 8 * 0.03)
    light = light + rng.uniform(0.004, 0.03) * cv2.resize(veil, (width, height))
    x, y = np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32)
    fall = 1 - np.float32(rng.uniform(0.03, 0.28)) * (x[None, :] ** 2 + y[:, None] ** 2) / 2
    return np.asarray(light * fall[..., None]), blur


def _sensed(rng: Rng, light: Array, noise: float, balance: Array) -> Array:
    """Through a mosaic of red, green, green, blue with shot and read noise, and put together again; white is 1.

    The picture is lined up so that no channel moves.
    """
    height, width = light.shape[0] // 2 * 2, light.shape[1] // 2 * 2
    mosaic = np.empty((height, width), np.float32)
    for row, column, band in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        mosaic[row::2, column::2] = light[row:height:2, column:width:2, band] / balance[band]
    mosaic = mosaic.clip(0, 1)
    mosaic += noise * np.sqrt(mosaic + 0.003) * rng.standard_normal(mosaic.shape, np.float32)
    raw = (mosaic.clip(0, 1) * 60000 + 2000).astype(np.uint16)
    rgb = cv2.cvtColor(raw, cv2.COLOR_BayerRGGB2RGB_EA if rng.random() < 0.6 else cv2.COLOR_BayerRGGB2RGB)
    whole = (rgb.astype(np.float32) - 2000) / 60000 * balance.astype(np.float32)
    bottom, right = light.shape[0] - height, light.shape[1] - width
    return cv2.copyMakeBorder(whole, 0, bottom, 0, right, cv2.BORDER_REPLICATE)


def _developed(rng: Rng, linear: Array, noise: float) -> Array:
    """Tones, then the smear of denoising and the halos of sharpening; 0..1."""
    shown = np.where(
        linear < 0.0031308, 12.92 * linear, 1.055 * linear.clip(1e-6) ** (1 / 2.4) - 0.055
    )  # IEC 61966-2-1
    shown = shown.clip(0, 1).astype(np.float32)
    bow = np.float32(rng.uniform(0, 0.55))
    shown = shown * (1 - bow) + bow * shown * shown * (3 - 2 * shown)
    ycc = cv2.cvtColor(shown, cv2.COLOR_RGB2YCrCb)
    luma, strong = ycc[..., 0], min(1.0, noise * 12) * rng.uniform(0.4, 1.2)
    smooth = cv2.bilateralFilter(np.ascontiguousarray(luma), 5, 0.02 + 1.8 * noise, 1.6)
    luma = luma + np.float32(min(1.0, strong)) * (smooth - luma)
    if rng.random() < 0.8:
        radius, much = rng.uniform(0.7, 1.8), rng.uniform(0.15, 1.1)
        luma = luma + np.float32(much) * (luma - cv2.GaussianBlur(luma, (0, 0), radius)).clip(-0.15, 0.15)
    chroma = cv2.GaussianBlur(ycc[..., 1:], (0, 0), rng.uniform(0.6, 2.2)) - 0.5
    chroma = chroma * np.float32(rng.uniform(0.85, 1.35)) + 0.5
    return np.asarray(cv2.cvtColor(np.dstack([luma, chroma]), cv2.COLOR_YCrCb2RGB).clip(0, 1))


def photographed(rng: Rng, picture: Array, size_px: tuple[int, int], falls: Array) -> Shot:
    """A photograph (width, height) of `size_px` of light (rows, columns, 3) that has as many pixels, or more.

    The white balance follows the light's own colour, `falls` (3,), in part, and is off by a little.
    """
    exposure = exposure_of(rng, picture)
    light, blur = _lens(rng, picture * np.float32(exposure), max(picture.shape) / 2000)
    cast = np.exp(rng.normal(0, 0.06, 3))
    adapted = (falls.mean() / falls) ** rng.uniform(0.5, 1.0)
    light = light * (cast / cast[1] * adapted / adapted[1]).astype(np.float32)
    noise = log_uniform(rng, 0.004, 0.05) * (1.4 if exposure > 3 else 1.0)
    rgb = _developed(rng, _sensed(rng, light, noise, np.array([1.9, 1.0, 1.6]) ** rng.uniform(0, 0.3)), noise)
    if rgb.shape[1::-1] != size_px:
        rgb = cv2.resize(rgb, size_px, interpolation=cv2.INTER_AREA)
    sampling = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if rng.random() < 0.8 else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
    quality = int(rng.integers(60, 96))
    jpeg = [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, sampling]
    return Shot((rgb * 255 + 0.5).astype(np.uint8), exposure, blur, jpeg)
