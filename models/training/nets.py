"""The four nets: discs on a thumbnail, edges of rim and hole, which face is up and of what make, damage when flat.

All are plain convolutions with batch normalisation, so that they fold into a handful of fast kernels when exported.
"""

from __future__ import annotations

import math
from itertools import pairwise

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from discscan.locate.reading import ANGLES, FACE

LOCATOR_CHANNELS = 9
"""heat, offset x, offset y, log l11, l21 / l11, log l22, rim centre x, rim centre y, 120-mm logit."""
RING_CELLS = 32
DAMAGE_CHANNELS = ("line", "crack", "layer", "smudge", "dust", "label", "hidden")
EXCLUSIVE = (("line", "crack"), ("layer",), ("smudge",), ("dust",), ("label",), ("hidden",))
"""The same, those together of which a cell holds one at most: the first two, and each of the others by itself."""
PLACE_CHANNELS = 5
"""Of the damage net's second input: radius and distance from the rim, both in 60 mm, the outward direction x, y, and
the side that is up, the same everywhere: print and a mirror full of things look alike in a piece."""


class Block(nn.Module):
    """Two 3x3 convolutions with a shortcut; `dilation` spreads their cells."""

    def __init__(self, inner: int, outer: int, *, stride: int = 1, wrap: bool = False, dilation: int = 1) -> None:
        super().__init__()
        self.wrap = wrap
        padding = (0, 1) if wrap else dilation
        self.first = nn.Conv2d(inner, outer, 3, stride, padding, dilation, bias=False)
        self.second = nn.Conv2d(outer, outer, 3, 1, padding, dilation, bias=False)
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
        nn.init.constant_(self.get_parameter("head.bias")[:1], -4.0)  # few cells hold a centre

    def forward(self, image: Tensor) -> Tensor:
        x8 = self.down8(self.down4(self.stem(image - 0.45)))
        x16 = self.down16(x8)
        x32 = self.down32(x16)
        y16 = self.merge16(self.flat16(x16) + F.interpolate(self.flat32(x32), scale_factor=2.0, mode="nearest"))
        y8 = self.merge8(self.flat8(x8) + F.interpolate(y16, scale_factor=2.0, mode="nearest"))
        return self.head(y8)


class _PolarReader(nn.Module):
    """Polar view, more channels or not (n, channels, ANGLES, radii) -> (n, outputs) logits."""

    def __init__(self, channels: int, outputs: int) -> None:
        super().__init__()
        self.stem = nn.Sequential(Block(channels, 24, stride=2, wrap=True), Block(24, 24, wrap=True))
        self.middle = nn.Sequential(Block(24, 48, stride=2, wrap=True), Block(48, 48, wrap=True))
        self.deep = nn.Sequential(Block(48, 96, stride=2, wrap=True), Block(96, 96, wrap=True))
        # rows (angles) are pooled away, columns (radii) are kept: a hub ring means something only at its radius
        self.read = nn.Sequential(nn.Linear(96 * 2 * 12, 96), nn.ReLU(), nn.Dropout(0.2), nn.Linear(96, outputs))

    def forward(self, view: Tensor) -> Tensor:
        x = self.deep(self.middle(self.stem(view)))
        pooled = torch.cat([x.mean(dim=2), x.amax(dim=2)], dim=1)
        return self.read(pooled.flatten(1))


class FaceReader(nn.Module):
    """Polar view (n, 3, ANGLES, radii), 0..1, and eye (n, 2) -> logits (n, 3, 7), of three readers.

    They are: disc; 120 mm; data side; recordable; cd, dvd, bd (softmax).
    The eye is the part along the disc of the direction to the camera. Two readers see the view alone. The third
    is told in each row how much of the eye lies along the radius and along the track there: which colours are seen is
    the format's doing, and the camera's. A turn of the disc, and of the eye with it, changes nothing.
    """

    def __init__(self) -> None:
        super().__init__()
        self.plain = nn.ModuleList(_PolarReader(3, len(FACE)) for _ in range(2))
        self.told = _PolarReader(5, len(FACE))
        turn = torch.arange(ANGLES) * (2 * math.pi / ANGLES)
        self.register_buffer("outward", torch.stack([torch.cos(turn), torch.sin(turn)]))

    def forward(self, view: Tensor, eye: Tensor) -> Tensor:
        outward = self.get_buffer("outward")
        radial = eye @ outward
        along = eye @ torch.stack([-outward[1], outward[0]])
        towards = torch.stack([radial, along], 1)[..., None].expand(-1, -1, -1, view.shape[3])
        view = view - 0.45
        told = self.told(torch.cat([view, towards.to(view.dtype)], dim=1))
        return torch.stack([*(reader(view) for reader in self.plain), told], dim=1)


class OneVoice(nn.Module):
    """A `FaceReader` saying one calibrated logit for each output (n, 7). What is exported."""

    def __init__(self, net: FaceReader, of_readers: Tensor, of_all: Tensor) -> None:
        """Temperatures of each reader's outputs (3, 7), and of what all say (7,)."""
        super().__init__()
        self.net = net
        self.register_buffer("of_readers", of_readers)
        self.register_buffer("of_all", of_all)

    def forward(self, view: Tensor, eye: Tensor) -> Tensor:
        return as_one(self.net(view, eye) / self.get_buffer("of_readers")) / self.get_buffer("of_all")


def as_one(said: Tensor) -> Tensor:
    """What the readers say, (n, 3, 7), as one: the mean; of a disc and a data side that of the two surest of it.

    A sticker or a stain, or a mirror that shows nothing or is nearly silver, makes one or another see no disc, or take
    a data side for a label, hardly ever two of them.
    """
    mean, surest = said.mean(1), said.topk(2, dim=1).values.mean(1)
    return torch.cat([surest[:, :1], mean[:, 1:2], surest[:, 2:3], mean[:, 3:]], dim=1)


class RingReader(nn.Module):
    """Unrolled bands (n, 4, angles, 64) -> (n, angles / 2, RING_CELLS + 1) scores: the edge's cell, or not seen."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(Block(4, 24, stride=2, wrap=True), Block(24, 24, wrap=True))
        self.middle = nn.Sequential(Block(24, 40, stride=2, wrap=True), Block(40, 40, wrap=True))
        self.deep = nn.Sequential(
            Block(40, 64, stride=2, wrap=True),
            Block(64, 64, wrap=True),
            Block(64, 64, wrap=True),
            Block(64, 64, wrap=True),
        )
        self.lift_deep, self.lift_middle = nn.Conv2d(64, 40, 1), nn.Conv2d(40, 24, 1)
        self.merge_middle, self.merge_top = Block(40, 40, wrap=True), Block(24, 24, wrap=True)
        self.head = nn.Conv2d(24, 2, 1)

    def forward(self, band: Tensor) -> Tensor:
        top = self.stem(band - 0.45)
        middle = self.middle(top)
        deep = self.deep(middle)
        middle = self.merge_middle(middle + F.interpolate(self.lift_deep(deep), scale_factor=2.0, mode="nearest"))
        top = self.merge_top(top + F.interpolate(self.lift_middle(middle), scale_factor=2.0, mode="nearest"))
        said = self.head(top)
        return torch.cat([said[:, 0], said[:, 1].mean(dim=2, keepdim=True)], dim=2)


def _layer(inner: int, outer: int, size: int = 3, stride: int = 1) -> nn.Sequential:
    return nn.Sequential(nn.Conv2d(inner, outer, size, stride, size // 2, bias=False), nn.BatchNorm2d(outer), nn.ReLU())


class DamageNet(nn.Module):
    """Flat disc (n, 3, h, w) 0..1, sides multiples of 32, and place (n, PLACE_CHANNELS, h / 4, w / 4)
    -> logits (n, 7, h / 2, w / 2) of DAMAGE_CHANNELS.

    A plain U-Net whose first step halves the picture: a scratch is wider there than a cell, and all costs a quarter.
    At its bottom, where a cell is 3.2 mm, it looks about widely: a parted layer may be larger than what surrounds it.
    It thinks longest in cells of 0.8 mm, down and back: as deep anywhere finer would cost more time.
    """

    WIDTHS = (16, 32, 64, 96, 128)
    REACHES = (1, 2, 3)
    LONGER = 2
    """The level of cells of 0.8 mm."""

    def __init__(self) -> None:
        super().__init__()
        w = self.WIDTHS
        self.stem = nn.Sequential(_layer(3, w[0], 5, 2), _layer(w[0], w[0]))
        self.down = nn.ModuleList(_layer(a, b, 3, 2) for a, b in pairwise(w))
        self.place = nn.Conv2d(PLACE_CHANNELS, w[1], 1)

        def longer(level: int) -> list[Block]:
            return [Block(w[level], w[level])] if level == self.LONGER else []

        self.body = nn.ModuleList(
            nn.Sequential(_layer(b, b), _layer(b, b), *longer(level)) for level, b in enumerate(w[1:], 1)
        )
        self.around = nn.Sequential(*(Block(w[-1], w[-1], dilation=reach) for reach in self.REACHES))
        self.lift = nn.ModuleList(nn.Conv2d(b, a, 1) for a, b in pairwise(w))
        self.merge = nn.ModuleList(nn.Sequential(*_layer(a, a), *longer(level)) for level, a in enumerate(w[:-1]))
        self.head = nn.Conv2d(w[0], len(DAMAGE_CHANNELS), 1)
        nn.init.constant_(self.get_parameter("head.bias"), -3.0)  # most cells hold nothing
        for block in self.modules():
            if isinstance(block, Block):
                nn.init.zeros_(block.get_parameter("norm2.weight"))  # at first as if it were not there

    def forward(self, image: Tensor, place: Tensor) -> Tensor:
        levels = [self.stem(image)]
        for k, (down, body) in enumerate(zip(self.down, self.body, strict=True)):
            x = down(levels[-1])
            levels.append(body(x + self.place(place) if k == 0 else x))
        y = self.around(levels[-1])
        for k in reversed(range(len(self.merge))):
            y = self.merge[k](levels[k] + F.interpolate(self.lift[k](y), scale_factor=2.0, mode="nearest"))
        return self.head(y)


def grouped(channels: Tensor) -> tuple[Tensor, ...]:
    """The damage net's channels (n, 7, ...), those of each group of `EXCLUSIVE` together."""
    return channels.split([len(group) for group in EXCLUSIVE], dim=1)


def with_none(logits: Tensor) -> Tensor:
    """Logits (n, k, ...) of kinds that exclude each other, with that of none of them, which is 0, before them."""
    return torch.cat([torch.zeros_like(logits[:, :1]), logits], dim=1)


class Probabilities(nn.Module):
    """A damage net whose logits are calibrated, saying probabilities: what is exported."""

    def __init__(self, net: nn.Module) -> None:
        super().__init__()
        self.net = net

    def forward(self, image: Tensor, place: Tensor) -> Tensor:
        # parted before the sigmoids: behind a convolution ONNX Runtime takes them of its padding, too
        pair, others = self.net(image, place).split(
            [len(EXCLUSIVE[0]), len(DAMAGE_CHANNELS) - len(EXCLUSIVE[0])], dim=1
        )
        return torch.cat([instead_of(torch.sigmoid(pair)), torch.sigmoid(others)], dim=1)


def instead_of(pair: Tensor) -> Tensor:
    """The softmax of two logits and 0 from the sigmoid of each, (n, 2, ...): ONNX Runtime takes long for a softmax."""
    other = pair.flip(1)
    return pair * (1 - other) / (1 - pair * other).clamp(min=1e-6)
