"""The camera on a device: rays of a pixel window, where they meet planes, and pictures that lie there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from models.training.render.geometry import Camera, FloatArray, Frame


@dataclass(frozen=True)
class Window:
    """Pixels [top, bottom) x [left, right) of a photograph, each `step` pixels."""

    left: int
    top: int
    right: int
    bottom: int
    step: int = 1

    @property
    def shape(self) -> tuple[int, int]:
        return -(-(self.bottom - self.top) // self.step), -(-(self.right - self.left) // self.step)

    @property
    def slices(self) -> tuple[slice, slice]:
        return slice(self.top, self.bottom), slice(self.left, self.right)


def rays(camera: Camera, window: Window, device: torch.device) -> Tensor:
    """Unit directions (3, h, w) in the world of the window's pixels."""
    x = (
        torch.arange(window.left, window.right, window.step, device=device, dtype=torch.float32) - camera.cx
    ) / camera.focal_px
    y = (
        torch.arange(window.top, window.bottom, window.step, device=device, dtype=torch.float32) - camera.cy
    ) / camera.focal_px
    y, x = torch.meshgrid(y, x, indexing="ij")
    scale = torch.ones_like(x)
    for _ in range(3):  # undo the radial term by fixed-point steps
        scale = 1 / (1 + camera.k1 * (x * x + y * y) * scale * scale)
    local = torch.stack([x * scale, y * scale, torch.ones_like(x)])
    local = local * torch.rsqrt((local * local).sum(0))
    return torch.einsum("ij,jhw->ihw", torch.tensor(camera.axes.T, dtype=torch.float32, device=device), local)


def meet(camera: Camera, directions: Tensor, origin_mm: FloatArray, normal: FloatArray) -> Tensor:
    """World points where rays meet a plane."""
    normal_t = torch.tensor(normal, dtype=torch.float32, device=directions.device)
    reach = float(np.dot(origin_mm - camera.position_mm, normal)) / torch.einsum("i,i...->...", normal_t, directions)
    start = torch.tensor(camera.position_mm, dtype=torch.float32, device=directions.device).reshape(3, 1, 1)
    return start + reach * directions


def in_plane(points: Tensor, frame: Frame) -> tuple[Tensor, Tensor]:
    """Disc-plane coordinates in mm of world points."""
    axes = torch.tensor(np.stack([frame.x_axis, frame.y_axis]), dtype=torch.float32, device=points.device)
    shift = torch.tensor(frame.origin_mm, dtype=torch.float32, device=points.device).reshape(
        3, *[1] * (points.ndim - 1)
    )
    flat = torch.einsum("ij,j...->i...", axes, points - shift)
    return flat[0], flat[1]


def window_of(camera: Camera, points_mm: FloatArray, margin: int) -> Window | None:
    """The pixel window that holds the projected points, None when it lies outside the photograph."""
    pixels = camera.project(points_mm)
    left, top = np.floor(pixels.min(0)).astype(int) - margin
    right, bottom = np.ceil(pixels.max(0)).astype(int) + margin + 1
    left, top, right, bottom = max(left, 0), max(top, 0), min(right, camera.width_px), min(bottom, camera.height_px)
    return Window(int(left), int(top), int(right), int(bottom)) if right - left > 2 and bottom - top > 2 else None


def grid_values(
    image: np.ndarray, x: Tensor, y: Tensor, px_per_mm: float, device: torch.device, mode: str = "bilinear"
) -> Tensor:
    """A picture about the disc's centre at disc-plane points: (c, h, w).

    Args:
        image: uint8 (side, side[, c]), of which 255 is 1; or floats (c, side, side).
    """
    source = torch.as_tensor(np.ascontiguousarray(image), device=device)
    if source.dtype == torch.uint8:
        source = (source[None] if source.ndim == 2 else source.permute(2, 0, 1)).float() / 255
    half = source.shape[-1] / (2 * px_per_mm)
    where = torch.stack([x / half, y / half], -1)[None]
    return F.grid_sample(source[None], where, mode=mode, padding_mode="border", align_corners=False)[0]
