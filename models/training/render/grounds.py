"""What lies under the disc: reflectance of table tops, by table coordinates, and tiling noise for all surfaces."""

from __future__ import annotations

import functools
import math

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from models.training.render.sheets import printed_sheet, text_sheet


@functools.lru_cache(maxsize=4)
def _tile(device: str) -> Tensor:
    """A seamless noise picture (1, 1, 512, 512), mean 0, about -1..1."""
    rng = np.random.default_rng(7)
    wave = np.fft.fft2(rng.normal(size=(512, 512)))
    freq = np.hypot(*np.meshgrid(np.fft.fftfreq(512), np.fft.fftfreq(512)))
    soft = np.fft.ifft2(wave * np.exp(-((freq / 0.16) ** 2))).real
    return torch.tensor(soft / (2.2 * soft.std()), dtype=torch.float32, device=device)[None, None]


def noise(x: Tensor, y: Tensor, scale: float, seed: int, octaves: int = 1, gain: float = 0.5) -> Tensor:
    """Smooth noise over a plane; `scale` is the size of its largest blotches, in the unit of x and y."""
    tile = _tile(str(x.device))
    rng = np.random.default_rng(seed)
    flat = x.ndim == 1
    if flat:
        x, y = x[None], y[None]
    total, weight, norm = torch.zeros_like(x), 1.0, 0.0
    for _ in range(octaves):
        turn, shift = rng.uniform(0, 2 * math.pi), rng.uniform(0, 1, 2)
        u = (math.cos(turn) * x - math.sin(turn) * y) / (scale * 80) + shift[0]
        v = (math.sin(turn) * x + math.cos(turn) * y) / (scale * 80) + shift[1]
        grid = torch.stack([u - torch.floor(u), v - torch.floor(v)], -1) * 2 - 1
        total += (
            weight
            * F.grid_sample(tile, grid[None], mode="bilinear", padding_mode="reflection", align_corners=False)[0, 0]
        )
        norm += weight
        weight *= gain
        scale *= 0.5
    total = total / norm
    return total[0] if flat else total


def _colour(values: np.ndarray, like: Tensor) -> Tensor:
    return torch.as_tensor(values, dtype=torch.float32, device=like.device).reshape(3, *[1] * like.ndim)


def picture_at(image: np.ndarray, x: Tensor, y: Tensor, mm_per_px: float) -> Tensor:
    """An RGB uint8 picture laid on the plane about the origin, repeated by mirroring, linear reflectance (3, ...)."""
    source = torch.as_tensor(np.ascontiguousarray(image), device=x.device).permute(2, 0, 1)[None].float() / 255
    height, width = image.shape[:2]
    grid = torch.stack([2 * x / (width * mm_per_px), -2 * y / (height * mm_per_px)], -1)
    return F.grid_sample(source, grid[None], padding_mode="reflection", align_corners=False)[0] ** 2.2


def _pattern(rng: np.random.Generator, seed: int, x: Tensor, y: Tensor, mm_per_px: float) -> Tensor:
    """Checks, stripes, dots or tiles: oilcloth, towels, floors."""
    turn, pitch = rng.uniform(0, math.pi), float(np.exp(rng.uniform(np.log(3), np.log(60))))
    bent = 0.1 * pitch * noise(x, y, 60, seed, 2) * float(rng.random() < 0.6)
    u = (math.cos(turn) * x + math.sin(turn) * y + bent) / pitch
    v = (math.cos(turn) * y - math.sin(turn) * x + bent) / pitch
    edge = max(0.04, mm_per_px / pitch)  # no finer than the photograph: nothing else would be true of it

    def band(t: Tensor, share: float) -> Tensor:
        return torch.sigmoid((share / 2 - (t - torch.round(t)).abs()) / (0.3 * edge))

    kind, share = str(rng.choice(["checks", "stripes", "dots", "tiles"])), float(rng.uniform(0.2, 0.6))
    if kind == "checks":
        ink = 0.5 * (band(u, share) + band(v, share))
    elif kind == "stripes":
        ink = band(u, share)
    elif kind == "dots":
        away = torch.hypot(u - torch.round(u), v - torch.round(v))
        ink = torch.sigmoid((share / 2 - away) / (0.3 * edge))
    else:
        ink = torch.maximum(band(u, 0.12 * share + edge), band(v * float(rng.uniform(0.5, 1)), 0.12 * share + edge))
    one, other = (_colour(level * rng.uniform(0.4, 1.0, 3), x) for level in np.sort(rng.uniform(0.02, 0.95, 3))[::2])
    return (one + (other - one) * ink) * (1 + 0.15 * noise(x, y, 30, seed + 1, 3)).clamp(min=0.2)


def _rough(rng: np.random.Generator, seed: int, x: Tensor, y: Tensor) -> Tensor:
    """Gravel, grass, carpet: bumps of strong contrast, some longer one way."""
    size, along = float(np.exp(rng.uniform(np.log(0.8), np.log(12)))), float(np.exp(rng.uniform(0, 1.6)))
    turn = rng.uniform(0, math.pi)
    u, v = math.cos(turn) * x + math.sin(turn) * y, math.cos(turn) * y - math.sin(turn) * x
    bumps = noise(u / along, v * along, size, seed, 3, 0.7)
    base = _colour(rng.uniform(0.05, 0.6) * rng.uniform(0.35, 1.0, 3), x)
    tone = torch.exp(float(rng.uniform(0.3, 1.1)) * bumps + 0.2 * noise(x, y, 80, seed + 1, 2))
    return base * tone * (1 + _colour(rng.uniform(-0.1, 0.1, 3), x) * noise(x, y, 3 * size, seed + 2)).clamp(min=0.1)


def reflectance(kind: str, seed: int, x: Tensor, y: Tensor, mm_per_px: float) -> Tensor:
    """Diffuse reflectance (3, h, w) of a table top at table coordinates in mm."""
    rng = np.random.default_rng(seed)
    reach = float(max(x.abs().max(), y.abs().max()))
    if kind == "cloth":
        pitch = float(rng.uniform(0.35, 1.1))
        wobble = 0.4 * pitch * noise(x, y, 12, seed)
        show = min(1.0, pitch / (2.5 * mm_per_px))
        weave = torch.sin(2 * math.pi * (x + wobble) / pitch) * torch.sin(2 * math.pi * (y - wobble) / pitch)
        folds = noise(x, y, float(rng.uniform(40, 160)), seed + 1, 2)
        base = _colour(rng.uniform(0.03, 0.55) * rng.uniform(0.25, 1.0, 3), x)
        return base * (1 + 0.35 * show * weave + 0.3 * folds + 0.25 * noise(x, y, 1.2, seed + 2, 2)).clamp(min=0.1)
    if kind == "wood":
        turn = rng.uniform(0, math.pi)
        along, across = math.cos(turn) * x + math.sin(turn) * y, -math.sin(turn) * x + math.cos(turn) * y
        plank = float(rng.uniform(70, 220))
        gap = torch.exp(-(((across / plank - torch.round(across / plank)) * plank / 0.8) ** 2)) * 0.8
        board = torch.round(across / plank) + 0.0
        rings = noise(along / 22 + 37 * board, across, float(rng.uniform(9, 30)), seed, 2)
        pores = noise(along / 30, across, 0.7, seed + 1, 2) * float(rng.uniform(0.3, 1))
        lines = float(rng.uniform(3, 9))
        base = _colour(np.array([0.42, 0.25, 0.13]) * rng.uniform(0.25, 1.5) * rng.uniform(0.85, 1.15, 3), x)
        tone = (
            1
            + float(rng.uniform(0.05, 0.22)) * torch.sin(lines * rings)
            + 0.2 * pores
            + 0.12 * torch.sin(board * 2.3)
            + 0.12 * noise(x, y, 60, seed + 2)
        ).clamp(min=0.15)
        return base * tone ** _colour(np.array([0.8, 1.0, 1.25]), x) * (1 - gap)
    if kind in ("print", "clutter"):
        sheet = printed_sheet(seed, busy=kind == "clutter")
        return picture_at(sheet, x, y, max(0.32, 2.2 * reach / 1800)) * (1 + 0.06 * noise(x, y, 60, seed)) * 0.85 + 0.01
    if kind == "text":
        sheet = text_sheet(seed)
        return picture_at(sheet, x, y, float(rng.uniform(0.15, 0.45))) * (1 + 0.06 * noise(x, y, 60, seed)) * 0.9 + 0.01
    if kind == "pattern":
        return _pattern(rng, seed, x, y, mm_per_px)
    if kind == "rough":
        return _rough(rng, seed, x, y)
    if kind == "plain":
        base = _colour(rng.uniform(0.15, 0.85) * (1 + rng.uniform(-0.15, 0.15, 3)), x)
        return base * (1 + 0.08 * noise(x, y, 90, seed, 2) + 0.05 * noise(x, y, 0.7, seed + 1))
    if kind == "tray":
        base = _colour(rng.choice([0.02, 0.05, 0.3, 0.55]) * (1 + rng.uniform(-0.1, 0.1, 3)), x)
        radius = torch.hypot(x, y)
        rings = sum(
            s * torch.exp(-(((radius - r) / w) ** 2))
            for r, w, s in ((61.5, 0.7, -0.6), (62.8, 0.6, 1.2), (41, 0.5, 0.6), (66, 2.0, -0.3), (17, 0.6, 0.5))
        ) + torch.zeros_like(x)
        teeth = (
            0.8
            * ((torch.cos(torch.atan2(y, x) * 6) * 2.2 + 5.0) > radius).float()
            * torch.exp(-(((radius - 4.5) / 2.2) ** 2))
        )
        return base * (1 + rings + teeth + 0.15 * noise(x, y, 0.8, seed)).clamp(min=0.1)
    if kind == "dark":
        return _colour(rng.uniform(0.004, 0.03) * rng.uniform(0.6, 1.3, 3), x) * (
            1 + 0.3 * noise(x, y, 30, seed, 3)
        ).clamp(min=0.2)
    if kind == "lid":
        return _colour(np.full(3, rng.choice([0.75, 0.85, 0.25])), x) * (1 + 0.015 * noise(x, y, 2, seed))
    # hand: an out-of-focus room far below
    return picture_at(printed_sheet(seed, busy=True), x, y, 3.0 * reach / 1800) * float(rng.uniform(0.2, 0.9)) + 0.01
