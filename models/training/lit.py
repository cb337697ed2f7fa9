"""Pictures of discs as light is laid on them: where their cells lie, and numbers and noise at random for each.

Lengths in cells of the flat grid (0.1 mm).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import torch
from torch import Tensor
from torch.nn import functional as F

from discscan.flatten.grid import PX_PER_MM
from discscan.locate.reading import RADII

VIEW_BLUR = 9.0
"""Of discs as angle by radius, whose cells are 6 by up to 20 of the flat grid's."""
NODES = 260
"""A side of the grid of random numbers that all smooth noise is cut from."""
LEVEL = 1 / 255
"""A grey level, of full brightness."""


@dataclass(frozen=True)
class Lit:
    """Some pictures of discs, (m, ...).

    Attributes:
        image: (m, 3, h, w), 0..1.
        x, y: (m, 1, h, w), of each cell from the disc's centre.
        blur: (m, 1, 1, 1), standard deviation of the photograph's blur.
        rim: (m, 1, 1, 1), the disc's radius.
        extent: (m, 1, 1, 1), how wide what it shows is.
    """

    image: Tensor
    x: Tensor
    y: Tensor
    blur: Tensor
    rim: Tensor
    extent: Tensor

    @property
    def radius(self) -> Tensor:
        return torch.hypot(self.x, self.y)

    @property
    def turn(self) -> Tensor:
        return torch.atan2(self.y, self.x)

    def of(self, rows: Tensor) -> Lit:
        return Lit(*(t[rows] for t in (self.image, self.x, self.y, self.blur, self.rim, self.extent)))

    def some(self, low: float | Tensor, high: float | Tensor, channels: int = 1) -> Tensor:
        """Uniform numbers, one a picture (m, channels, 1, 1)."""
        return low + (high - low) * torch.rand(len(self.image), channels, 1, 1, device=self.image.device)

    def normal(self, spread: float, channels: int = 1) -> Tensor:
        return spread * torch.randn(len(self.image), channels, 1, 1, device=self.image.device)

    def log_some(self, low: float | Tensor, high: float | Tensor) -> Tensor:
        """Numbers (m, 1, 1, 1), even in the logarithm."""
        start, end = (torch.as_tensor(t, dtype=torch.float32, device=self.image.device).log() for t in (low, high))
        return torch.exp(self.some(start, end))

    def chance(self, share: float) -> Tensor:
        return self.some(0, 1) < share

    def change(self, low: float, high: float) -> Tensor:
        """What is added by colour (m, 3, 1, 1), from and to in grey levels: up or down, mostly without colour."""
        sign = torch.where(self.chance(0.6), 1.0, -1.0)
        tint = 1 + self.normal(1, 3) * torch.where(self.chance(0.2), 0.45, 0.08)
        return LEVEL * self.log_some(low, high) * sign * tint

    def somewhere(self) -> tuple[Tensor, Tensor]:
        """A place in each picture, from the disc's centre."""
        cell = torch.randint(0, self.x[0].numel(), (len(self.x), 1), device=self.x.device)
        x, y = (t.flatten(1).gather(1, cell)[..., None, None] for t in (self.x, self.y))
        return x, y

    def along(self, place: tuple[Tensor, Tensor], way: Tensor) -> tuple[Tensor, Tensor]:
        """How far every cell lies from a place along a direction, and across it."""
        x, y, c, s = self.x - place[0], self.y - place[1], torch.cos(way), torch.sin(way)
        return x * c + y * s, y * c - x * s

    def noise(self, scale: Tensor | float) -> Tensor:
        """Smooth noise (m, 1, h, w) of unit spread whose bumps are about `scale` cells wide."""
        place = torch.cat([self.x, self.y], 1) - torch.cat(self.somewhere(), 1)
        field = torch.randn(len(place), 1, NODES, NODES, device=place.device)
        smooth = sampled(field, place / torch.minimum(torch.as_tensor(scale, device=place.device), self.extent / 2))
        return smooth / smooth.std((1, 2, 3), keepdim=True).clamp(min=1e-3)

    def steps(self, place: Tensor, knots: Tensor, table: Tensor) -> Tensor:
        """Numbers of a table (m, k) where `place` (m, 1, h, w) goes from 0 to 1 over the first few of them."""
        at = place.clamp(0, 1) * (knots - 1)
        low = at.floor().clamp(max=table.shape[1] - 2)
        index = low.long().flatten(1)
        below, above = (table.gather(1, index + k).view_as(at) for k in (0, 1))
        return torch.lerp(below, above, at - low)

    def mirror(self) -> Tensor:
        """1 where the mirror is, from somewhere about the hub's edge to the rim or a little less."""
        radius = self.radius
        inner, outer = self.some(185, 230), self.rim - self.some(0, 15)
        return border(radius - inner, self.blur) * border(outer - radius, self.blur)

    def ragged(self, inside: Tensor) -> Tensor:
        """How far cells lie within a border (m, 1, h, w), in some pictures within one that wavers or is torn."""
        astray = self.noise(self.log_some(2.5, 40)) * self.log_some(0.5, 5)
        return inside + astray * self.chance(0.4)

    def plus(self, cover: Tensor, change: Tensor) -> Lit:
        return replace(self, image=(self.image + cover * change).clamp(0, 1))


def lit_pieces(image: Tensor, corner: Tensor, blur: Tensor) -> Lit:
    """Pieces (n, 3, s, s), 0..1, their corners and the disc's diameter (n, 3), mm, and the photograph's blur (n,)."""
    cells = torch.arange(image.shape[-1], device=image.device) + 0.5
    corner, blur = corner[..., None, None, None] * PX_PER_MM, blur[:, None, None, None]
    x, y = (corner[:, 0] + cells).expand(-1, 1, len(cells), -1), corner[:, 1] + cells[:, None]
    return Lit(image, x, y.expand_as(x), blur, corner[:, 2] / 2, torch.full_like(blur, len(cells)))


def lit_views(image: Tensor, rim_mm: Tensor) -> Lit:
    """Discs as angle by radius (n, 3, ANGLES, RADII), 0..1, and their radii (n,)."""
    rim = rim_mm[:, None, None, None] * PX_PER_MM
    turn = 2 * math.pi * torch.arange(image.shape[2], device=image.device) / image.shape[2]
    radius = rim * torch.as_tensor(RADII, dtype=torch.float32, device=image.device)
    x, y = radius * torch.cos(turn)[:, None], radius * torch.sin(turn)[:, None]
    return Lit(image, x, y, torch.full_like(rim, VIEW_BLUR), rim, 2 * radius[..., -1:])


def border(inside: Tensor, soft: Tensor) -> Tensor:
    """0 to 1 across a border; `inside` is how far a cell lies within, `soft` the standard deviation of its blur."""
    return 0.5 + 0.5 * torch.tanh(0.85 * inside / soft)


def sampled(field: Tensor, place: Tensor) -> Tensor:
    """Fields (m, c, ...), mirrored at their borders, at places (m, 2, h, w) from the middle, in their columns."""
    grid = (place * 2 / field.shape[-1]).permute(0, 2, 3, 1)
    return F.grid_sample(field, grid, mode="bicubic", padding_mode="reflection", align_corners=False)


def count(low: int, beyond: int) -> int:
    """How often, for a whole batch: few more often than many."""
    return int(torch.empty(()).uniform_(math.log(low), math.log(beyond)).exp())


def around(turn: Tensor) -> Tensor:
    """Angles brought to -pi to pi."""
    return torch.remainder(turn + torch.pi, 2 * torch.pi) - torch.pi
