"""The two small nets: one finds discs on a thumbnail, the other reads what kind of face a posed disc shows.

Both are plain convolutions with batch normalisation, so that they fold into a handful of fast kernels when exported.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional as F

LOCATOR_CHANNELS = 9
"""heat, offset x, offset y, log l11, l21 / l11, log l22, rim centre x, rim centre y, 120-mm logit."""
FACE_OUTPUTS = 7
"""disc, 120 mm, data side, recordable (logits); cd, dvd, bd (softmax)."""


class Block(nn.Module):
    """Two 3x3 convolutions with a shortcut."""

    def __init__(self, inner: int, outer: int, *, stride: int = 1, wrap: bool = False) -> None:
        super().__init__()
        mode = "zeros"
        self.wrap = wrap
        padding = (0, 1) if wrap else 1
        self.first = nn.Conv2d(inner, outer, 3, stride=stride, padding=padding, bias=False, padding_mode=mode)
        self.second = nn.Conv2d(outer, outer, 3, padding=padding, bias=False, padding_mode=mode)
        self.norm1, self.norm2 = nn.BatchNorm2d(outer), nn.BatchNorm2d(outer)
        same = stride == 1 and inner == outer
        self.shortcut = (
            nn.Identity()
            if same
            else nn.Sequential(nn.Conv2d(inner, outer, 1, stride=stride, bias=False), nn.BatchNorm2d(outer))
        )

    def forward(self, x: Tensor) -> Tensor:
        y = F.relu(self.norm1(self.first(self._around(x))))
        y = self.norm2(self.second(self._around(y)))
        return F.relu(y + self.shortcut(x))

    def _around(self, x: Tensor) -> Tensor:
        """The rows are angles: the first follows the last."""
        return torch.cat([x[:, :, -1:], x, x[:, :, :1]], dim=2) if self.wrap else x


class Locator(nn.Module):
    """Image (n, 3, h, w), 0..1, sides multiples of 32 -> (n, LOCATOR_CHANNELS, h / 8, w / 8)."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(nn.Conv2d(3, 16, 3, stride=2, padding=1, bias=False), nn.BatchNorm2d(16), nn.ReLU())
        self.down4 = nn.Sequential(Block(16, 32, stride=2), Block(32, 32))
        self.down8 = nn.Sequential(Block(32, 64, stride=2), Block(64, 64))
        self.down16 = nn.Sequential(Block(64, 96, stride=2), Block(96, 96))
        self.down32 = nn.Sequential(Block(96, 128, stride=2), Block(128, 128), Block(128, 128))
        self.flat32, self.flat16, self.flat8 = nn.Conv2d(128, 64, 1), nn.Conv2d(96, 64, 1), nn.Conv2d(64, 64, 1)
        self.merge16, self.merge8 = Block(64, 64), Block(64, 64)
        self.head = nn.Conv2d(64, LOCATOR_CHANNELS, 1)
        nn.init.constant_(self.head.bias[:1], -4.0)  # few cells hold a centre

    def forward(self, image: Tensor) -> Tensor:
        x8 = self.down8(self.down4(self.stem(image - 0.45)))
        x16 = self.down16(x8)
        x32 = self.down32(x16)
        y16 = self.merge16(self.flat16(x16) + F.interpolate(self.flat32(x32), scale_factor=2.0, mode="nearest"))
        y8 = self.merge8(self.flat8(x8) + F.interpolate(y16, scale_factor=2.0, mode="nearest"))
        return self.head(y8)


class FaceReader(nn.Module):
    """Polar view (n, 3, angles, radii), 0..1 -> (n, FACE_OUTPUTS) logits. A turn of the disc changes nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(Block(3, 24, stride=2, wrap=True), Block(24, 24, wrap=True))
        self.middle = nn.Sequential(Block(24, 48, stride=2, wrap=True), Block(48, 48, wrap=True))
        self.deep = nn.Sequential(Block(48, 96, stride=2, wrap=True), Block(96, 96, wrap=True))
        # rows (angles) are pooled away, columns (radii) are kept: a hub ring means something only at its radius
        self.read = nn.Sequential(nn.Linear(96 * 2 * 12, 96), nn.ReLU(), nn.Dropout(0.2), nn.Linear(96, FACE_OUTPUTS))

    def forward(self, view: Tensor) -> Tensor:
        x = self.deep(self.middle(self.stem(view - 0.45)))
        pooled = torch.cat([x.mean(dim=2), x.amax(dim=2)], dim=1)
        return self.read(pooled.flatten(1))
