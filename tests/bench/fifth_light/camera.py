"""A phone's camera: from radiances to the bytes of a JPEG. All its settings are common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Camera:
    aperture_mm: float
    bias_ev: float
    defocus_px: float
    shake_px: tuple[float, float]
    noise: float
    """Deviation of a mid grey, as a share of white."""
    smear: float
    sharpen: float
    balance: Array
    """(3,)"""
    contrast: float
    saturation: float
    vignette: float
    bloom: float
    quality: int
    chat_quality: int | None
    chroma_halved: bool


def random_camera(rng: Rng, dim: bool) -> Camera:
    """In dim places noisier, slower, and with more smear."""
    warm, green = rng.normal(0, 0.06), rng.normal(0, 0.02)
    turn, shake = rng.uniform(0, np.pi), abs(rng.normal(0, 1.1 if dim else 0.5))
    return Camera(
        aperture_mm=log_uniform(rng, 0.9, 3.4),
        bias_ev=float(rng.normal(0, 0.35)),
        defocus_px=float(rng.choice([0.35, 0.6, 1.0, 2.0], p=[0.35, 0.4, 0.2, 0.05]) * rng.uniform(0.8, 1.3)),
        shake_px=(float(shake * np.cos(turn)), float(shake * np.sin(turn))),
        noise=log_uniform(rng, 0.004, 0.015) * (1.6 if dim else 1.0),
        smear=float(rng.uniform(0.2, 0.95)),
        sharpen=float(rng.uniform(0.0, 1.0)),
        balance=np.exp(np.array([warm, green, -warm])).astype(np.float32),
        contrast=float(rng.uniform(-0.1, 0.35)),
        saturation=float(rng.uniform(0.95, 1.35)),
        vignette=float(rng.uniform(0, 0.3)),
        bloom=log_uniform(rng, 0.003, 0.03),
        quality=int(rng.integers(70, 96)),
        chat_quality=int(rng.integers(55, 82)) if rng.random() < 0.35 else None,
        chroma_halved=bool(rng.random() < 0.75),
    )


def seeing(camera: Camera, falls: Array, share: float) -> Camera:
    """The camera with its white balance set to light of this irradiance (3,), up to the share that it makes good."""
    return replace(camera, balance=(camera.balance * (falls.mean() / falls) ** share).astype(np.float32))


def exposure_for(picture: Array, disc: Array, bias_ev: float) -> float:
    """Metered rather on the disc: its middle tones come to grey, unless too much would be white.

    Args: radiances (H, W, 3) of the photograph without the disc, and (h, w, 3) of the disc's part of it.
    """
    whole, disc = (part[::16, ::16].mean(-1).ravel() for part in (picture, disc))
    middle = np.exp(0.3 * np.log(whole + 1e-3).mean() + 0.7 * np.log(disc + 1e-3).mean())
    bright = 0.4 * np.quantile(whole, 0.96) + 0.6 * np.quantile(disc, 0.96)
    return float(min(0.19 / middle, 1.35 / bright) * 2**bias_ev)


def expose(rng: Rng, light: Array, camera: Camera, exposure: float) -> Array:
    """Radiances (H, W, 3), red first, to eight bits, blue first as OpenCV has it; the radiances are used up."""
    light *= np.float32(exposure) * camera.balance
    height, width = light.shape[:2]
    small = np.minimum(cv2.resize(light, (width // 8, height // 8), interpolation=cv2.INTER_AREA), 60)
    near, far = (cv2.GaussianBlur(small, (0, 0), share * width + 0.5) for share in (0.004, 0.02))
    glare = (np.float32(camera.bloom) * (0.6 * near + 0.4 * far)).astype(np.float32)
    np.minimum(light, 6.0, out=light)
    light += np.asarray(cv2.resize(glare, (width, height), interpolation=cv2.INTER_LINEAR))
    if camera.vignette > 0.02:
        x, y = np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32)
        light *= (1 - np.float32(camera.vignette / 2) * (x[None, :] ** 2 + y[:, None] ** 2))[..., None]
    light = _shaken(np.asarray(cv2.GaussianBlur(light, (0, 0), camera.defocus_px)), camera.shake_px)
    return _finished(_toned(_noisy(rng, light, camera.noise), camera), camera)


def _shaken(light: Array, way_px: tuple[float, float]) -> Array:
    """A straight, even move of the hand."""
    long = float(np.hypot(*way_px))
    if long < 0.4:
        return light
    half = int(np.ceil(long / 2)) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    for share in np.linspace(-0.5, 0.5, 15):
        x, y = half + share * way_px[0], half + share * way_px[1]
        for column in (int(x), int(x) + 1):
            for row in (int(y), int(y) + 1):
                if column <= 2 * half and row <= 2 * half:
                    kernel[row, column] += max(0.0, 1 - abs(x - column)) * max(0.0, 1 - abs(y - row))
    return np.asarray(cv2.filter2D(light, -1, kernel / kernel.sum()))


def _noisy(rng: Rng, light: Array, noise: float) -> Array:
    """Shot and read noise of a Bayer sensor: red and blue are sampled half as finely, so their noise comes in blots."""
    height, width = light.shape[:2]
    fine = rng.standard_normal((height, width), np.float32)
    coarse = rng.standard_normal((height // 2 + 1, width // 2 + 1, 2), np.float32)
    blots = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)
    grain = cv2.merge([0.5 * fine + 1.3 * blots[..., 0], fine, 0.5 * fine + 1.5 * blots[..., 1]])
    deviation = np.float32(5 * noise**2) * light
    np.maximum(deviation, 0, out=deviation)
    deviation += np.float32(0.15 * noise**2)
    np.sqrt(deviation, out=deviation)
    deviation *= grain
    light += deviation
    return light


def _toned(light: Array, camera: Camera) -> Array:
    """To eight bits, blue first: a shoulder to white, sRGB (IEC 61966-2-1, as a power), contrast, saturation."""
    at = np.linspace(0, 4, 4096)
    shoulder = np.where(at < 0.55, at, 0.55 + 0.45 * (1 - np.exp(-(at - 0.55) / 0.5)))
    curve = shoulder.clip(0, 1) ** (1 / 2.2)
    curve = curve + camera.contrast * (curve - 0.5) * (1 - np.abs(2 * curve - 1)) * 0.8
    np.clip(light, 0, 3.999, out=light)
    light *= 1024
    toned = curve.astype(np.float32)[light.astype(np.uint16)]
    grey = np.tile(np.array([0.299, 0.587, 0.114]), (3, 1))
    mixed = (camera.saturation * np.eye(3) + (1 - camera.saturation) * grey)[::-1]
    return np.asarray(cv2.convertScaleAbs(cv2.transform(toned, 255 * mixed).clip(0), alpha=1.0))


def _finished(picture: Array, camera: Camera) -> Array:
    """Noise is smeared where nothing much happens, most of it in the colours; then edges are sharpened."""
    luma, red, blue = cv2.split(cv2.cvtColor(picture, cv2.COLOR_BGR2YCrCb))
    soft = cv2.GaussianBlur(luma, (0, 0), 1.3)
    apart = cv2.absdiff(luma, soft)
    keep = (cv2.blur(apart, (3, 3)).astype(np.float32) / np.float32(4 + 500 * camera.noise)).clip(0, 1)
    away = np.float32(camera.smear) * (1 - keep)
    calm = luma + away * (soft.astype(np.float32) - luma)
    edges = calm - cv2.GaussianBlur(calm, (0, 0), 1.1)
    calm = (calm + np.float32(camera.sharpen) * edges).clip(0, 255).astype(np.uint8)
    red, blue = (cv2.GaussianBlur(part, (0, 0), 0.6 + 2.2 * camera.smear) for part in (red, blue))
    return np.asarray(cv2.cvtColor(cv2.merge([calm, red, blue]), cv2.COLOR_YCrCb2BGR))


def encoded(picture: Array, camera: Camera, size_px: tuple[int, int]) -> bytes:
    """As JPEG; what went through a chat was shrunk to (width, height) and encoded once more."""
    halved = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if camera.chroma_halved else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
    how = [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, halved]
    first = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, camera.quality, *how])[1]
    if camera.chat_quality is None:
        return bytes(first.tobytes())
    again = np.asarray(cv2.imdecode(first, cv2.IMREAD_COLOR))
    if again.shape[1::-1] != size_px:
        again = np.asarray(cv2.resize(again, size_px, interpolation=cv2.INTER_AREA))
    return bytes(cv2.imencode(".jpg", again, [cv2.IMWRITE_JPEG_QUALITY, camera.chat_quality, *how])[1].tobytes())
