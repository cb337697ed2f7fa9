"""Other light, other cameras, other places in the picture: what training adds to rendered photographs."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as F

from models.training.locator_targets import root_of

SOFTER = (-1.5, 1.0)
"""How far pixels go towards the mean of their neighbours, or away from it, which is what phones do to sharpen."""


def jitter(image: Tensor, *, noise: float = 0.04, saturation: tuple[float, float] = (0.0, 1.8)) -> Tensor:
    """Other exposure, white balance, contrast, saturation, noise and softness than renders have. (n, 3, h, w) 0..1.

    Args:
        noise: the most that is added, sd; fine scratches drown in more than a hundredth.
        saturation: factor from and to; where colour tells something it must not go.
    """
    n, device = len(image), image.device

    def some(low: float, high: float, *shape: int) -> Tensor:
        return torch.empty(n, *shape, 1, 1, device=device).uniform_(low, high)

    image = image * some(0.6, 1.5, 1) * some(0.85, 1.15, 3)
    grey = image.mean(1, keepdim=True)
    image = grey + (image - grey) * some(*saturation, 1)
    image = (image - 0.5) * some(0.7, 1.3, 1) + 0.5 + some(-0.08, 0.08, 1)
    image = image.clamp(0.0, 1.0) ** some(0.7, 1.4, 1)
    image = _softer_or_sharper(image)
    image = image + torch.randn_like(image) * some(0.0, noise, 1) * some(0.0, 1.0, 1)
    return image.clamp(0.0, 1.0)


def _softer_or_sharper(image: Tensor) -> Tensor:
    """Every second picture, as far as SOFTER says."""
    soft = F.avg_pool2d(F.pad(image, (1, 1, 1, 1), mode="replicate"), 3, 1)
    chance, softer = torch.rand(2, len(image), 1, 1, 1, device=image.device)
    low, high = SOFTER
    return image + (chance < 0.5) * (low + (high - low) * softer) * (soft - image)


def moved(canvas: Tensor, target: Tensor) -> tuple[Tensor, Tensor]:
    """Turned by quarter turns, mirrored, scaled and shifted: canvas (n, 3, s, s), targets to match."""
    n, _, side, _ = canvas.shape
    device = canvas.device
    scale = torch.exp(torch.empty(n, device=device).uniform_(math.log(0.55), math.log(1.5)))
    turn = torch.randint(0, 4, (n,), device=device) * (math.pi / 2) + torch.randn(n, device=device) * 0.15
    flip = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    c, s = torch.cos(turn) * scale, torch.sin(turn) * scale
    linear = torch.stack([torch.stack([c * flip, -s], 1), torch.stack([s * flip, c], 1)], 1)
    middle = side / 2
    shift = torch.empty(n, 2, device=device).uniform_(-0.22, 0.22) * side
    offset = middle + shift - (linear @ torch.full((n, 2, 1), middle, device=device))[..., 0]
    inverse = torch.linalg.inv(linear)
    # grid_sample wants, for each output place, the input place, both in -1..1
    theta = torch.cat([inverse, ((inverse @ (middle - offset)[..., None])[..., 0] - middle)[..., None] / middle], dim=2)
    grid = F.affine_grid(theta, list(canvas.shape), align_corners=False)
    image = F.grid_sample(canvas - 0.451, grid, mode="bilinear", align_corners=False) + 0.451
    new = target.clone()
    for k in (0, 2):
        new[..., k : k + 2] = target[..., k : k + 2] @ linear.transpose(1, 2) + offset[:, None]
    spread = torch.stack([target[..., 4], target[..., 5], target[..., 5], target[..., 6]], -1).reshape(
        *target.shape[:2], 2, 2
    )
    spread = linear[:, None] @ spread @ linear[:, None].transpose(-1, -2)
    new[..., 4], new[..., 5], new[..., 6] = spread[..., 0, 0], spread[..., 0, 1], spread[..., 1, 1]
    # a rim pushed out of the picture may neither be asked for nor forbidden
    l11, l21, l22 = root_of(new[..., 4:7])
    t = torch.arange(24, device=device) * (2 * math.pi / 24)
    x = new[..., 2:3] + l11[..., None] * torch.cos(t)
    y = new[..., 3:4] + l21[..., None] * torch.cos(t) + l22[..., None] * torch.sin(t)
    seen = ((x > 0) & (x < side) & (y > 0) & (y < side)).float().mean(-1)
    small = torch.sqrt(l11 * l22) < 10.0
    hidden = (seen < 0.55) | small
    new[..., 8] = torch.where((target[..., 8] != 0) & hidden, torch.full_like(seen, -1.0), target[..., 8])
    return image, new


def covered(image: Tensor) -> Tensor:
    """A quarter of the pictures get a plain patch over a random corner of their rows and columns."""
    n, _, h, w = image.shape
    device = image.device
    y0, x0 = torch.rand(n, 1, 1, device=device) * h, torch.rand(n, 1, 1, device=device) * w
    half_h, half_w = torch.rand(n, 1, 1, device=device) * h * 0.15, torch.rand(n, 1, 1, device=device) * w * 0.3
    row, col = torch.arange(h, device=device)[None, :, None], torch.arange(w, device=device)[None, None]
    inside = ((row - y0).abs() < half_h) & ((col - x0).abs() < half_w) & (torch.rand(n, 1, 1, device=device) < 0.25)
    return torch.where(inside[:, None], torch.rand(n, 3, 1, 1, device=device), image)


def coarsened(image: Tensor) -> Tensor:
    """A third of the batches as a photograph of fewer pixels would show them: shrunk and enlarged again.

    What sharpens there leaves halos as wide as its pixels.
    """
    if torch.rand(()) > 0.35:
        return image
    share = float(torch.empty(()).uniform_(0.3, 0.9))
    small = F.interpolate(image, scale_factor=share, mode="bilinear", antialias=True)
    small = _softer_or_sharper(small)
    return F.interpolate(small, size=image.shape[-2:], mode="bicubic").clamp(0.0, 1.0)


def with_another_hub(image: Tensor, alike: Tensor, small: Tensor) -> Tensor:
    """A third of polar views with the hub of another disc: what lies inside of the mirror tells no format and no dye.

    Args:
        image: (n, 3, angles, radii), radii from 0 to a little over the rim's.
        alike: (n, k), what must be the same of both discs.
        small: (n,), true of discs of 80 mm, of which the hub takes half as much again.
    """
    n, _, _, radii = image.shape
    device = image.device
    reach = torch.empty(n, device=device).uniform_(0.28, 0.37) * radii * (1 + 0.5 * small.float())
    other = torch.roll(torch.arange(n, device=device), 1)
    swapped = (torch.rand(n, device=device) < 0.33) & (alike == alike[other]).all(1)
    inside = torch.arange(radii, device=device)[None] < reach[:, None]
    return torch.where((inside & swapped[:, None])[:, None, None], image[other], image)
