"""From radiance to a JPEG as a phone makes it: lens, shake, exposure, noise, smoothing, tone, sharpening."""

from __future__ import annotations

import math

import cv2
import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor

from models.training.render.scene import Capture

NEUTRAL = 0.85
"""How far a camera takes out what it holds to be the light's colour: by lamplight pictures stay a little warm."""


def _blur(image: Tensor, sigma: float) -> Tensor:
    """Gaussian, separable; (c, h, w)."""
    if sigma < 0.15:
        return image
    reach = max(1, math.ceil(2.5 * sigma))
    steps = torch.arange(-reach, reach + 1, device=image.device, dtype=torch.float32)
    kernel = torch.exp(-0.5 * (steps / sigma) ** 2)
    weights = (kernel / kernel.sum()).tolist()
    height, width = image.shape[1:]
    padded = F.pad(image[None], (reach, reach, reach, reach), mode="replicate")[0]
    rows = sum(
        weight * padded[:, i : i + height] for i, weight in enumerate(weights)
    )  # shifted sums: far quicker than conv2d here
    return sum(weight * rows[:, :, i : i + width] for i, weight in enumerate(weights))


def _wide_blur(image: Tensor, sigma: float) -> Tensor:
    """A wide gaussian by way of a small picture."""
    shrink = max(1, int(sigma / 3))
    small = F.interpolate(image[None], scale_factor=1 / shrink, mode="area")[0]
    return F.interpolate(
        _blur(small, sigma / shrink)[None], size=image.shape[1:], mode="bilinear", align_corners=False
    )[0]


def _disc_blur(image: Tensor, radius: float, shake: float, shake_deg: float) -> Tensor:
    """Out of focus (round) and shaken (a short line) in one kernel."""
    if radius < 0.3 and shake < 0.3:
        return image
    half = math.ceil(radius + shake / 2 + 0.5)
    if half > 5:  # strong blur: on a smaller picture
        small = F.interpolate(image[None], scale_factor=0.5, mode="area")[0]
        return F.interpolate(
            _disc_blur(small, radius / 2, shake / 2, shake_deg)[None],
            size=image.shape[1:],
            mode="bilinear",
            align_corners=False,
        )[0]
    fine = 8
    span = np.arange(-(half + 0.5) + 0.5 / fine, half + 0.5, 1 / fine)
    x, y = np.meshgrid(span, span)
    turn = math.radians(shake_deg)
    along = x * math.cos(turn) + y * math.sin(turn)
    off = np.clip(np.abs(along) - shake / 2, 0, None)
    across = -x * math.sin(turn) + y * math.cos(turn)
    weight = 1 / (1 + np.exp((np.hypot(off, across) - max(radius, 0.45)) * 6))
    kernel = weight.reshape(2 * half + 1, fine, 2 * half + 1, fine).sum((1, 3))
    kernel /= kernel.sum()
    height, width = image.shape[1:]
    padded = F.pad(image[None], (half,) * 4, mode="replicate")[0]
    blurred = torch.zeros_like(image)
    for row, column in zip(*np.nonzero(kernel > 1e-4), strict=True):
        blurred.add_(padded[:, row : row + height, column : column + width], alpha=float(kernel[row, column]))
    return blurred


def develop(radiance: Tensor, white: Tensor, how: Capture, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Radiance (3, h, w) RGB to the camera's uint8 BGR picture, before compression; (3,) is that of white paper."""
    device = radiance.device
    height, width = radiance.shape[1:]
    image = _disc_blur(radiance, how.defocus_px, how.shake_px, how.shake_deg)
    image = (
        image
        + how.glare_veil * (_wide_blur(image.clamp(max=60), width / 25) - image)
        + 0.02 * _wide_blur((image - 3).clamp(0, 60), width / 160)
    )
    y, x = torch.meshgrid(
        torch.linspace(-1, 1, height, device=device), torch.linspace(-1, 1, width, device=device), indexing="ij"
    )
    image = image * (1 - how.vignette * (x * x + y * y) / 2)
    bright = image.mean(0).flatten()[:: max(1, height * width // 40000)]
    middle = float(torch.exp(torch.log(bright.clamp(min=0.003)).mean()))
    high = float(torch.quantile(bright, 0.93))
    limit = 0.75 / max(high, 0.003)
    gain = 2**how.exposure_ev * min(
        (0.2 / middle) ** 0.35 * limit**0.65, 1.4 * limit
    )  # between mean metering and highlight metering
    balance = torch.tensor(
        [math.exp(how.white_balance / 2), math.exp(how.tint), math.exp(-how.white_balance / 2)], device=device
    ).reshape(3, 1, 1)
    image = (image * gain * balance * _own_balance(image, white, how.grey_world)).clamp(0, 4)
    generator = torch.Generator(device=device).manual_seed(int(rng.integers(2**31)))
    sigma = how.noise * torch.sqrt(image.clamp(0, 1) * 0.8 + 0.04)
    grain = torch.randn(image.shape, generator=generator, device=device)
    grain = 0.7 * grain + 0.9 * _blur(grain, 0.8)  # demosaicing ties neighbours together
    image = (image + sigma * grain).clamp(0, 1.6)
    image = torch.where(image > 0.8, 0.8 + 0.2 * torch.tanh((image - 0.8) / 0.2), image)  # highlight shoulder
    image = torch.where(image > 0.0031308, 1.055 * image.clamp(min=1e-6) ** (1 / 2.4) - 0.055, 12.92 * image)
    if how.denoise > 0.05:
        image = _denoise(image, how)
    image = image + how.contrast * (image - 0.5) * (1 - (2 * image - 1) ** 2).clamp(min=0) * 0.9
    grey_ = image.mean(0, keepdim=True)
    image = grey_ + how.saturation * (image - grey_)
    if how.sharpen > 0.05:
        image = image + how.sharpen * (image - _blur(image, max(0.9, 0.7 * width / 1600)))
    rgb = (image.clamp(0, 1) * 255 + 0.5).to(torch.uint8).permute(1, 2, 0).cpu().numpy()
    return np.ascontiguousarray(rgb[..., ::-1])


def _own_balance(image: Tensor, white: Tensor, grey_world: float) -> Tensor:
    """Gains (3, 1, 1) of the automatic balance, which takes the light's colour for one between `white` and the mean."""
    seen, true = image.clamp(max=4).mean((1, 2)).clamp(min=1e-4), white.clamp(min=1e-4)
    light = (seen / seen.mean()) ** grey_world * (true / true.mean()) ** (1 - grey_world)
    return (light**-NEUTRAL).reshape(3, 1, 1)


def _denoise(image: Tensor, how: Capture) -> Tensor:
    """Local Wiener smoothing: flat parts are smeared, strong edges stay; colour is smeared more."""
    mean = F.avg_pool2d(F.pad(image[None], (2,) * 4, mode="replicate"), 5, 1)[0]
    square = F.avg_pool2d(F.pad(image[None] ** 2, (2,) * 4, mode="replicate"), 5, 1)[0]
    variance = (square - mean**2).clamp(min=0)
    floor = (how.denoise * (1.6 * how.noise + 0.004)) ** 2
    image = mean + (image - mean) * (variance - floor).clamp(min=0) / variance.clamp(min=1e-8)
    grey = image.mean(0, keepdim=True)
    return grey + (1 - 0.8 * how.denoise) * (image - grey) + 0.8 * how.denoise * _blur(image - grey, 1.5)


def compress(bgr: NDArray[np.uint8], how: Capture) -> tuple[bytes, float]:
    """The JPEG's bytes and how much smaller the picture was made."""
    sampling = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if how.chroma_half else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444

    def encode(image: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
        return cv2.imencode(
            ".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, sampling]
        )[1]

    data = encode(bgr, how.jpeg_quality)
    if how.chat_scale < 1:
        size = (round(bgr.shape[1] * how.chat_scale), round(bgr.shape[0] * how.chat_scale))
        decoded = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)
        data = encode(
            np.asarray(cv2.resize(decoded, size, interpolation=cv2.INTER_AREA), np.uint8),
            how.chat_quality,
        )
    return data.tobytes(), how.chat_scale
