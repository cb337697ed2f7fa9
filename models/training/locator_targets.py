"""What the locator is asked to say of a thumbnail, and how far it is from saying it."""

from __future__ import annotations

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional as F

STRIDE = 8
MAX_DISCS = 16
TARGET = 9
"""Per disc: centre x, y; rim centre x, y; covariance xx, xy, yy of the rim (its squared half axes); 120 mm?; weight."""


def target_row(
    centre: tuple[float, float], rim: tuple[float, float, float, float, float], diameter_mm: int, weight: float
) -> NDArray[np.float32]:
    """A disc as float32 (TARGET,). `rim` is cx, cy, full major and minor axis, angle in degrees; thumbnail pixels."""
    cx, cy, major, minor, angle = rim
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turn = np.array([[c, -s], [s, c]])
    spread = turn @ np.diag([(major / 2) ** 2, (minor / 2) ** 2]) @ turn.T
    return np.array(
        [*centre, cx, cy, spread[0, 0], spread[0, 1], spread[1, 1], float(diameter_mm == 120), weight], np.float32
    )


def root_of(spread: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Lower triangular root l11, l21, l22 of covariances (..., 3), xx, xy, yy: it carries a circle to the rim."""
    l11 = torch.sqrt(spread[..., 0].clamp(min=1e-3))
    l21 = spread[..., 1] / l11
    return l11, l21, torch.sqrt((spread[..., 2] - l21**2).clamp(min=1e-3))


def support_values(centre: Tensor, l11: Tensor, l21: Tensor, l22: Tensor) -> Tensor:
    """How far ellipses reach along eight directions: tensors (n, 2), (n,) each -> (n, 8). L is the spread's root."""
    t = torch.arange(8, device=centre.device, dtype=centre.dtype) * (torch.pi / 4)
    nx, ny = torch.cos(t), torch.sin(t)
    first = l11[:, None] * nx + l21[:, None] * ny
    second = l22[:, None] * ny
    return centre[:, :1] * nx + centre[:, 1:] * ny + torch.sqrt(first**2 + second**2 + 1e-6)


def locator_loss(output: Tensor, targets: Tensor) -> tuple[Tensor, dict[str, float]]:
    """Focal loss on the heat map, distance of the outlines relative to their size, diameter.

    Args:
        output: (n, 9, h, w) of the net.
        targets: (n, MAX_DISCS, TARGET); weight 1 a disc, 0 no row, -1 a disc too hidden to ask for or to forbid.
    """
    _, _, h, w = output.shape
    device = output.device
    weight = targets[..., 8]
    size = torch.sqrt(torch.clamp(targets[..., 4] + targets[..., 6], min=1.0))
    col, row = targets[..., 0] / STRIDE, targets[..., 1] / STRIDE
    grid_y, grid_x = torch.meshgrid(torch.arange(h, device=device), torch.arange(w, device=device), indexing="ij")
    d2 = (grid_x + 0.5 - col[..., None, None]) ** 2 + (grid_y + 0.5 - row[..., None, None]) ** 2
    sigma = torch.clamp(size / STRIDE * 0.09, 0.7, 2.5)[..., None, None]
    bump = torch.exp(-d2 / (2 * sigma**2))
    wanted = torch.where(weight[..., None, None] > 0, bump, torch.zeros_like(bump)).amax(dim=1)
    ignored = ((weight[..., None, None] < 0) & (d2 < (0.3 * size[..., None, None] / STRIDE) ** 2)).any(dim=1)

    batch, which = torch.nonzero(weight > 0, as_tuple=True)
    good = targets[batch, which]
    gx, gy = (good[:, 0] / STRIDE).long(), (good[:, 1] / STRIDE).long()
    inside = (gx >= 0) & (gx < w) & (gy >= 0) & (gy < h)
    batch, good, gx, gy = batch[inside], good[inside], gx[inside], gy[inside]
    peak = torch.zeros_like(wanted, dtype=torch.bool)
    peak[batch, gy, gx] = True
    logit = output[:, 0]
    p = torch.sigmoid(logit)
    gain = torch.where(peak, (1 - p) ** 2 * F.logsigmoid(logit), p**2 * (1 - wanted) ** 4 * F.logsigmoid(-logit))
    heat = -(gain * ~(ignored & ~peak)).sum() / max(int(peak.sum()), 8)

    if len(batch) == 0:
        return heat, {"heat": float(heat.detach()), "outline": 0.0}
    # the cells round the centre answer as well, so that a heat peak one cell off still knows the outline
    losses, kinds = [], []
    root = root_of(good[:, 4:7])
    scale = torch.sqrt(root[0] * root[2])[:, None]
    true_outline = support_values(good[:, 2:4], *root)
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            x, y = torch.clamp(gx + dx, 0, w - 1), torch.clamp(gy + dy, 0, h - 1)
            said = output[batch, :, y, x].float()
            here = torch.stack([x + 0.5, y + 0.5], dim=1) * STRIDE
            centre, l11, l21, l22, rim_centre = decode(said, here)
            outline = (support_values(rim_centre, l11, l21, l22) - true_outline) / scale
            middle = (centre - good[:, :2]) / scale
            share = 1.0 if dx == 0 and dy == 0 else 0.3
            losses.append(
                share
                * (
                    F.smooth_l1_loss(outline, torch.zeros_like(outline), beta=0.02)
                    + F.smooth_l1_loss(middle, torch.zeros_like(middle), beta=0.02)
                )
            )
            kinds.append(share * F.binary_cross_entropy_with_logits(said[:, 8], good[:, 7]))
    outline_loss, kind_loss = torch.stack(losses).sum() / 3.4, torch.stack(kinds).sum() / 3.4
    total = heat + 10.0 * outline_loss + 0.3 * kind_loss
    return total, {
        k: float(v.detach()) for k, v in (("heat", heat), ("outline", outline_loss), ("diameter", kind_loss))
    }


def decode(said: Tensor, here: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor, Tensor]:
    """Channels (n, 9) at cell centres (n, 2), in pixels -> disc centre, root of the rim's spread, rim centre."""
    centre = here + said[:, 1:3] * STRIDE
    size = 40.0
    l11 = size * torch.exp(torch.clamp(said[:, 3], -4, 4))
    l22 = size * torch.exp(torch.clamp(said[:, 5], -4, 4))
    l21 = said[:, 4] * l11
    rim_centre = centre + said[:, 6:8] * l11[:, None]
    return centre, l11, l21, l22, rim_centre
